package demonstration

import (
	"math"
	"testing"
	"time"

	"github.com/stretchr/testify/require"

	"volar/internal/exercise"
	"volar/internal/hand"
	"volar/internal/handrender"
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
			for i, h := range p.Holds {
				require.InDelta(t, 2, (h.End - h.Start).Seconds(), 1e-6)
				end := reached.EndPose()
				switch m.Kind {
				case exercise.Sequence:
					end = m.Poses[m.Steps[i%len(m.Steps)].To]
				case exercise.Unmeasured:
					end = m.Poses[m.Phases[0].To]
				}
				require.Equal(t, end, p.PoseAt((h.Start+h.End)/2))
			}
			if m.Kind == exercise.Sequence {
				require.Len(t, p.Steps, 3*len(m.Steps))
				for i, s := range p.Steps {
					require.Equal(t, i%len(m.Steps), s.Step)
					require.True(t, s.Full)
				}
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
	reached, err := m.With("")
	require.NoError(t, err)
	whole := func(f Fault) *Performance {
		f.Kind, f.Repetition = Incomplete, 1
		p, err := New(Plan{Movement: m, Repetitions: 3, Hold: time.Second, Faults: []Fault{f}})
		require.NoError(t, err)
		return p
	}
	p := whole(Fault{})
	require.Len(t, p.Repetitions, 2)
	require.Len(t, p.Partial, 1)
	mid := p.PoseAt((p.Partial[0].Start + p.Partial[0].End) / 2)
	require.Less(t, mid.CompositeDeg(hand.Index), 0.7*reached.EndPose().CompositeDeg(hand.Index))

	// One finger left behind is a fault of a repetition that counts.
	p = whole(Fault{Finger: hand.Little})
	require.Len(t, p.Repetitions, 3)
	require.Len(t, p.Holds, 3)
	require.Empty(t, p.Partial)
	mid = p.PoseAt((p.Holds[1].Start + p.Holds[1].End) / 2)
	require.Less(t, mid.CompositeDeg(hand.Little), 0.7*reached.EndPose().CompositeDeg(hand.Little))
	require.InDelta(t, reached.EndPose().CompositeDeg(hand.Index), mid.CompositeDeg(hand.Index), 1e-9)

	// Where the least finger counts it is none.
	p, err = New(Plan{Movement: movement(t, "straight-finger-hold"), Hold: time.Second, Faults: []Fault{{Kind: Incomplete, Finger: hand.Ring}}})
	require.NoError(t, err)
	require.Len(t, p.Partial, 1)
}

// In a sequence a joint passes straight where the named step has it straight.
func TestPastStraightInAStep(t *testing.T) {
	p, err := New(Plan{Movement: movement(t, "tendon-glide-sequence"), Hold: 2 * time.Second,
		Faults: []Fault{{Kind: PastStraight, Step: 2, Joints: []hand.Joint{hand.IndexPIP}, Deg: 15}}})
	require.NoError(t, err)
	x, table := p.Excursions[0], p.Holds[2]
	require.True(t, x.Start > table.Start && x.End < table.End)
	require.InDelta(t, -15, p.PoseAt((x.Start + x.End) / 2).Fingers[0].PIP, 1e-9)
	// A full fist has none straight, so that it happens in the straight hand.
	p, err = New(Plan{Movement: movement(t, "tendon-glide-sequence"), Hold: 2 * time.Second,
		Faults: []Fault{{Kind: PastStraight, Step: 1, Joints: []hand.Joint{hand.IndexPIP}, Deg: 15}}})
	require.NoError(t, err)
	require.Greater(t, p.Excursions[0].Start, p.Holds[3].End)
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

// What the catalogue states of channels beyond the joints is what the rendered
// hand does in those poses: spreads and the thumb's abduction to 3 degrees, the
// wrist's tilt and the hand's turn to 6 (the hand stands beside the middle of
// the picture), distances of fingertips to 10 % of the palm's length.
func TestChannelsAreThoseOfTheRenderedHand(t *testing.T) {
	h, err := handrender.Default()
	require.NoError(t, err)
	r := handrender.NewRenderer(h, handrender.Options{})
	all, err := exercise.Catalogue()
	require.NoError(t, err)
	stated := 0
	for _, m := range all {
		for _, side := range []hand.Side{hand.Right, hand.Left} {
			n := m.For(side)
			p, err := New(Plan{Movement: m, Side: side, Hold: time.Second})
			require.NoError(t, err)
			seen := func(pose string, c hand.Channel, near float64) float64 {
				for i := range p.keys {
					if k := &p.keys[i]; k.Name == pose && (i+1 == len(p.keys) || p.keys[i+1].Name == pose) {
						s := Scene(side, m.View.Best)
						s.Camera = handrender.Camera{Distance: 0.5}
						s.View.Pitch = 0
						p.Dress(&s, k.At)
						truth := r.Locate(s, 640, 480)
						if c == hand.HandTurn {
							// A full turn more or less is the same view.
							return near + math.Remainder(truth.Channel(c)-near, 360)
						}
						return truth.Channel(c)
					}
				}
				t.Fatalf("%s: the hand never rests in pose %s", m.ID, pose)
				return 0
			}
			measures := []*exercise.Measure{&n.Measure}
			for i := range n.Steps {
				measures = append(measures, &n.Steps[i].Measure)
			}
			for _, k := range measures {
				for c, w := range k.Ways {
					tolerance := 3.0
					switch {
					case c.Pinch():
						tolerance = 10
					case c == hand.HandTilt || c == hand.HandTurn:
						tolerance = 6
					}
					require.InDelta(t, w.From, seen(k.From, c, w.From), tolerance, "%s %v: %v at %s", m.ID, side, c, k.From)
					require.InDelta(t, w.To, seen(k.To, c, w.To), tolerance, "%s %v: %v at %s", m.ID, side, c, k.To)
					stated++
				}
			}
		}
	}
	require.Greater(t, stated, 20)
}

// In opposition the rendered thumb meets the finger that it is to meet, within
// a tenth of the palm's length from tip to tip, and stays off the others.
func TestOppositionMeets(t *testing.T) {
	h, err := handrender.Default()
	require.NoError(t, err)
	r := handrender.NewRenderer(h, handrender.Options{})
	m := movement(t, "thumb-opposition")
	for i, s := range m.Steps {
		truth := r.Locate(handrender.Scene{Pose: m.Poses[s.To]}, 640, 480)
		for k, f := range hand.Fingers {
			c, _ := hand.PinchOf(f)
			if k == i {
				require.Less(t, truth.Channel(c), 10.0, "%s touches", f)
			} else {
				require.Greater(t, truth.Channel(c), 40.0, "%s in the pose of %s", f, s.Name)
			}
		}
	}
}

func TestStrayPartWobble(t *testing.T) {
	hook := movement(t, "hook-fist")
	p, err := New(Plan{Movement: hook, Hold: 2 * time.Second, Faults: []Fault{{Kind: Stray, Joints: []hand.Joint{hand.IndexMCP}, Deg: 60}}})
	require.NoError(t, err)
	mid := p.Holds[0].Start + time.Second
	require.InDelta(t, 60, p.PoseAt(mid).Fingers[0].MCP, 1e-9)
	require.InDelta(t, hook.EndPose().Fingers[1].MCP, p.PoseAt(mid).Fingers[1].MCP, 1e-9)
	require.InDelta(t, hook.EndPose().Fingers[0].MCP, p.PoseAt(p.Holds[0].Start).Fingers[0].MCP, 1e-9)

	together := movement(t, "straight-finger-hold")
	for pair := range 3 {
		p, err = New(Plan{Movement: together, Hold: 2 * time.Second, Faults: []Fault{{Kind: Part, Pair: pair, Deg: 22}}})
		require.NoError(t, err)
		r := handrender.NewRenderer(rendered(t), handrender.Options{})
		truth := r.Locate(handrender.Scene{Pose: p.PoseAt(p.Holds[0].Start + time.Second)}, 640, 480)
		for i, f := range hand.Fingers[:3] {
			c, _ := hand.SpreadAfter(f)
			require.InDelta(t, map[bool]float64{true: 22, false: 0}[i == pair], truth.Channel(c), 1e-9, "pair %d", i)
		}
	}

	p, err = New(Plan{Movement: movement(t, "grip-hold"), Hold: 4 * time.Second, Faults: []Fault{{Kind: Wobble, Deg: 15}}})
	require.NoError(t, err)
	least, most := 1e9, -1e9
	for at := p.Holds[0].Start; at < p.Holds[0].End; at += 20 * time.Millisecond {
		least, most = min(least, p.PoseAt(at).Fingers[1].PIP), max(most, p.PoseAt(at).Fingers[1].PIP)
	}
	require.InDelta(t, 30, most-least, 1)
}

func TestTheHandMovesAndLeaves(t *testing.T) {
	p, err := New(Plan{Movement: movement(t, "cloth-gather"), Repetitions: 2, Hold: 2 * time.Second,
		Faults: []Fault{{Kind: ArmMoves, Repetition: 1, Palms: 1.5}, {Kind: Leaves, Start: 500 * time.Millisecond, Duration: 800 * time.Millisecond}}})
	require.NoError(t, err)
	require.Zero(t, p.At(0).Shift)
	require.InDelta(t, 7, p.At(p.Holds[0].Start+time.Second).Shift, 1e-9)
	require.InDelta(t, 1.5, p.At(p.Holds[1].Start+time.Second).Shift, 1e-9)
	require.Zero(t, p.At(p.Duration).Shift)
	for _, side := range []hand.Side{hand.Right, hand.Left} {
		s := Scene(side, exercise.View{})
		p.Dress(&s, p.Holds[0].Start+time.Second)
		r := handrender.NewRenderer(rendered(t), handrender.Options{})
		for i, q := range r.Locate(s, 320, 240).Image {
			require.True(t, q.X < 0 || q.X > 320, "point %d of a %v hand is still in the picture", i, side)
		}
	}
}

func TestOutOfOrderAndCutSteps(t *testing.T) {
	for _, id := range []string{"tendon-glide-sequence", "cloth-gather-in-order"} {
		m := movement(t, id)
		p, err := New(Plan{Movement: m, Repetitions: 2, Hold: time.Second, Faults: []Fault{{Kind: OutOfOrder, Repetition: 1, Step: 1}}})
		require.NoError(t, err)
		var order []int
		for _, s := range p.Steps {
			order = append(order, s.Step)
		}
		require.Equal(t, []int{0, 1, 2, 3, 0, 2, 1, 3}, order, id)
		require.Len(t, p.Repetitions, 2, "an exchanged step is flagged, and the repetition counts")
		require.Empty(t, p.Partial)
		require.Equal(t, m.StartPose(), p.PoseAt(p.Duration))
	}
	m := movement(t, "tendon-glide-sequence")
	p, err := New(Plan{Movement: m, Hold: time.Second, Faults: []Fault{{Kind: Incomplete, Step: 2, Share: 0.5}}})
	require.NoError(t, err)
	var full []bool
	for _, s := range p.Steps {
		full = append(full, s.Full)
	}
	require.Equal(t, []bool{true, true, false, true}, full)
	half := p.PoseAt((p.Steps[2].Start + p.Steps[2].End) / 2)
	require.InDelta(t, (m.StartPose().Fingers[0].MCP+m.Poses["table"].Fingers[0].MCP)/2, half.Fingers[0].MCP, 1e-6)
}

// Wringing: the hands turn against each other; alternating, one after the
// other.
func TestTwoHands(t *testing.T) {
	perform := func(id string, side hand.Side) *Performance {
		p, err := New(Plan{Movement: movement(t, id), Side: side, Repetitions: 2, Hold: time.Second})
		require.NoError(t, err)
		return p
	}
	r, l := perform("wringing-together", hand.Right), perform("wringing-together", hand.Left)
	require.Equal(t, r.Duration, l.Duration)
	turned := false
	for at := time.Duration(0); at < r.Duration; at += 50 * time.Millisecond {
		require.InDelta(t, -r.At(at).TurnDeg, l.At(at).TurnDeg, 1e-9)
		turned = turned || r.At(at).TurnDeg < -25
	}
	require.True(t, turned)

	r, l = perform("wringing-alternating", hand.Right), perform("wringing-alternating", hand.Left)
	require.Equal(t, r.Duration, l.Duration)
	for i, a := range r.Repetitions {
		b := l.Repetitions[i]
		require.LessOrEqual(t, a.End, b.Start, "the left hand waits for the right")
		require.InDelta(t, 0, l.At((a.Start+a.End)/2).TurnDeg, 1e-9)
	}
}

func rendered(t *testing.T) *handrender.Hand {
	t.Helper()
	h, err := handrender.Default()
	require.NoError(t, err)
	return h
}

func TestRefusals(t *testing.T) {
	m := movement(t, "hook-fist")
	for name, plan := range map[string]Plan{
		"no movement":      {},
		"unknown object":   {Movement: movement(t, "whole-hand-grip"), Object: "anvil"},
		"fault after end":  {Movement: m, Repetitions: 2, Faults: []Fault{{Kind: ShortHold, Repetition: 2}}},
		"fault before one": {Movement: m, Faults: []Fault{{Kind: ShortHold, Repetition: -1}}},
		"unknown fault":    {Movement: m, Faults: []Fault{{Kind: "yawn"}}},
		"no joints":        {Movement: m, Faults: []Fault{{Kind: Stray, Deg: 60}}},
		"no such pair":     {Movement: m, Faults: []Fault{{Kind: Part, Pair: 3}}},
		"no steps":         {Movement: m, Faults: []Fault{{Kind: OutOfOrder}}},
		"no such step":     {Movement: movement(t, "thumb-opposition"), Faults: []Fault{{Kind: Incomplete, Step: 4}}},
	} {
		_, err := New(plan)
		require.Error(t, err, name)
	}
}
