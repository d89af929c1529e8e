package demonstration

import (
	"testing"
	"time"

	"github.com/stretchr/testify/require"

	"volar/internal/exercise"
	"volar/internal/hand"
)

func movement(t *testing.T, id string) *exercise.Movement {
	t.Helper()
	m, err := exercise.Find(id)
	require.NoError(t, err)
	return m
}

func TestEveryMovementPerforms(t *testing.T) {
	all, err := exercise.Catalogue()
	require.NoError(t, err)
	for _, m := range all {
		t.Run(m.ID, func(t *testing.T) {
			p, err := New(Plan{Movement: m, Repetitions: 3, Hold: 2 * time.Second})
			require.NoError(t, err)
			require.Len(t, p.Repetitions, 3)
			start := m.StartPose()
			require.Equal(t, start, p.PoseAt(0))
			require.Equal(t, start, p.PoseAt(p.Duration))
			reached, err := m.With("")
			require.NoError(t, err)
			for _, h := range p.Holds {
				require.Equal(t, 2*time.Second, h.End-h.Start)
				require.Equal(t, reached.EndPose(), p.PoseAt((h.Start+h.End)/2))
			}
			// No joint may jump: 12 degrees in 10 ms would be 1200 degrees a
			// second, faster than fingers close (about 1000, from memory).
			for at := time.Duration(0); at < p.Duration; at += 10 * time.Millisecond {
				a, b := p.PoseAt(at).Flexion(), p.PoseAt(at+10*time.Millisecond).Flexion()
				for j := range a {
					require.InDelta(t, a[j], b[j], 12, "%v at %v", hand.Joint(j), at)
				}
			}
		})
	}
}

func TestPastStraightGoesWhereItIsSaid(t *testing.T) {
	p, err := New(Plan{Movement: movement(t, "straight-finger-hold"), Repetitions: 2, Hold: 4 * time.Second,
		Faults: []Fault{{Kind: PastStraight, Repetition: 1, Joints: []hand.Joint{hand.IndexPIP}, Deg: 18, Start: time.Second, Duration: 800 * time.Millisecond}}})
	require.NoError(t, err)
	require.Len(t, p.Excursions, 1)
	x := p.Excursions[0]
	require.Equal(t, p.Holds[1].Start+time.Second, x.Start)
	require.Equal(t, 800*time.Millisecond, x.End-x.Start)
	mid := p.PoseAt((x.Start + x.End) / 2)
	require.InDelta(t, -18, mid.Fingers[0].PIP, 1e-9)
	require.Greater(t, mid.Fingers[0].DIP, 5.0, "the end joint bends with it")
	require.GreaterOrEqual(t, mid.Fingers[1].PIP, 0.0, "the neighbour does not")
	require.GreaterOrEqual(t, p.PoseAt(p.Holds[0].Start + time.Second).Fingers[0].PIP, 0.0, "the first repetition is sound")
}

func TestGripBendsBackInTheOpenHand(t *testing.T) {
	p, err := New(Plan{Movement: movement(t, "whole-hand-grip"), Repetitions: 1, Hold: time.Second,
		Faults: []Fault{{Kind: PastStraight, Joints: []hand.Joint{hand.IndexPIP}, Deg: 15}}})
	require.NoError(t, err)
	require.Greater(t, p.Excursions[0].Start, p.Holds[0].End, "a closed finger cannot bend back")
}

func TestIncompleteIsPartial(t *testing.T) {
	m := movement(t, "whole-hand-grip")
	p, err := New(Plan{Movement: m, Repetitions: 3, Hold: time.Second, Faults: []Fault{{Kind: Incomplete, Repetition: 1, Finger: hand.Little}}})
	require.NoError(t, err)
	require.Len(t, p.Repetitions, 2)
	require.Len(t, p.Partial, 1)
	mid := p.PoseAt((p.Partial[0].Start + p.Partial[0].End) / 2)
	reached, err := m.With("")
	require.NoError(t, err)
	require.Less(t, mid.CompositeDeg(hand.Little), 0.7*reached.EndPose().CompositeDeg(hand.Little))
	require.InDelta(t, reached.EndPose().CompositeDeg(hand.Index), mid.CompositeDeg(hand.Index), 1e-9)
}

func TestShortAndFast(t *testing.T) {
	m := movement(t, "hook-fist")
	slow, err := New(Plan{Movement: m, Hold: 3 * time.Second})
	require.NoError(t, err)
	short, err := New(Plan{Movement: m, Hold: 3 * time.Second, Faults: []Fault{{Kind: ShortHold}}})
	require.NoError(t, err)
	require.InDelta(t, 1.2, (short.Holds[0].End - short.Holds[0].Start).Seconds(), 0.001)
	fast, err := New(Plan{Movement: m, Hold: 3 * time.Second, Faults: []Fault{{Kind: TooFast}}})
	require.NoError(t, err)
	require.Less(t, fast.Duration, slow.Duration)
	require.Equal(t, fast.Holds[0].End-fast.Holds[0].Start, slow.Holds[0].End-slow.Holds[0].Start)
}

func TestRefusals(t *testing.T) {
	m := movement(t, "hook-fist")
	for name, plan := range map[string]Plan{
		"no movement":      {},
		"unknown object":   {Movement: movement(t, "whole-hand-grip"), Object: "anvil"},
		"fault after end":  {Movement: m, Repetitions: 2, Faults: []Fault{{Kind: ShortHold, Repetition: 2}}},
		"fault before one": {Movement: m, Faults: []Fault{{Kind: ShortHold, Repetition: -1}}},
	} {
		_, err := New(plan)
		require.Error(t, err, name)
	}
}
