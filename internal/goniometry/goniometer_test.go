package goniometry

import (
	"math"
	"testing"
	"time"

	"github.com/stretchr/testify/require"

	"volar/internal/hand"
)

const frame30 = time.Second / 30

// stream feeds the goniometer a hand for n frames and returns the last sample.
func stream(g *Goniometer, from time.Duration, n int, at func(i int) hand.Observation) hand.Sample {
	var s hand.Sample
	for i := range n {
		o := at(i)
		o.Time = from + time.Duration(i)*frame30
		s = g.Measure(o)
	}
	return s
}

func straightAt(x float64) hand.Observation {
	return seen(synthetic([hand.NumJoints]float64{}, turn{yaw: 80, side: hand.Right, palm: 100, x: x, y: 200}), hand.Right)
}

func bentAt(deg float64) hand.Observation {
	return seen(synthetic(pips(deg), turn{yaw: 80, side: hand.Right, palm: 100, x: 200, y: 200}), hand.Right)
}

func TestMeasureKeepsWhatThePictureSaysBesideTheFilteredAngle(t *testing.T) {
	g := New(Options{})
	first := g.Measure(straightAt(200))
	for j, m := range first.Joints {
		require.Equal(t, m.RawDeg, m.FlexionDeg, "%v: the first picture is all there is", hand.Joint(j))
	}
	o := bentAt(60)
	o.Time = frame30
	s := g.Measure(o)
	still := New(Options{}).MeasureStill(o)
	require.Equal(t, still.Joints[hand.IndexPIP].RawDeg, s.Joints[hand.IndexPIP].RawDeg, "raw is not filtered")
	raw, shown, before := s.Joints[hand.IndexPIP].RawDeg, s.Joints[hand.IndexPIP].FlexionDeg, first.Joints[hand.IndexPIP].RawDeg
	require.Greater(t, raw, before+20)
	require.Greater(t, shown, before)
	require.Less(t, shown, raw)
}

func TestMeasureStartsAfresh(t *testing.T) {
	for _, c := range []struct {
		name  string
		gap   time.Duration
		track int
		fresh bool
	}{
		{"the next picture", frame30, 1, false},
		{"a few pictures dropped", 450 * time.Millisecond, 1, false},
		{"after a gap", 600 * time.Millisecond, 1, true},
		{"another track", frame30, 2, true},
		{"an earlier time", -time.Second, 1, true},
	} {
		t.Run(c.name, func(t *testing.T) {
			g := New(Options{})
			from := 10 * time.Second
			stream(g, from, 10, func(int) hand.Observation { o := straightAt(200); o.Track = 1; return o })
			o := bentAt(70)
			o.Time, o.Track = from+9*frame30+c.gap, c.track
			m := g.Measure(o).Joints[hand.IndexPIP]
			require.Equal(t, c.fresh, m.FlexionDeg == m.RawDeg)
		})
	}
}

func TestResetForgets(t *testing.T) {
	g := New(Options{})
	stream(g, 0, 10, func(int) hand.Observation { return straightAt(200) })
	g.Reset()
	o := bentAt(70)
	o.Time = 10 * frame30
	m := g.Measure(o).Joints[hand.IndexPIP]
	require.Equal(t, m.RawDeg, m.FlexionDeg)
}

func TestMeasureStillLeavesTheStreamAlone(t *testing.T) {
	a, b := New(Options{}), New(Options{})
	at := func(i int) hand.Observation { return bentAt(float64(3 * i)) }
	stream(a, 0, 10, at)
	stream(b, 0, 10, at)
	b.MeasureStill(bentAt(90))
	next := func(int) hand.Observation { return bentAt(40) }
	require.Equal(t, stream(a, 10*frame30, 1, next).Joints, stream(b, 10*frame30, 1, next).Joints)
}

func TestLost(t *testing.T) {
	g := New(Options{})
	o := straightAt(200)
	o.Track = 4
	g.Measure(o)
	s := g.Lost(time.Second)
	require.False(t, s.Found)
	require.Equal(t, time.Second, s.Time)
	require.Equal(t, 4, s.Track)
	for _, m := range s.Joints {
		require.False(t, m.Judged)
		require.False(t, m.ExtensionJudged)
		require.Equal(t, hand.NoHand, m.Why)
		require.Equal(t, hand.NoHand, m.ExtensionWhy)
	}
	for _, a := range s.AbductionDeg {
		require.True(t, math.IsNaN(a))
	}
}

func TestSpeed(t *testing.T) {
	// Three palm lengths a second to the right.
	s := stream(New(Options{}), 0, 30, func(i int) hand.Observation { return straightAt(100 + 10*float64(i)) })
	require.InDelta(t, 3, s.SpeedPalms, 0.01)
	require.NotEqual(t, hand.TooFast, s.Joints[hand.IndexMCP].Why)
	s = stream(New(Options{}), 0, 30, func(i int) hand.Observation { return straightAt(100 + 20*float64(i)) })
	require.InDelta(t, 6, s.SpeedPalms, 0.01)
	for j, m := range s.Joints {
		require.Equal(t, hand.TooFast, m.Why, "%v", hand.Joint(j))
	}
	s = stream(New(Options{}), 0, 30, func(int) hand.Observation { return straightAt(100) })
	require.Zero(t, s.SpeedPalms)
}

// The palm's length in pixels does not shrink when the hand tilts.
func TestPalmPixelsAreNotForeshortened(t *testing.T) {
	for _, pitch := range []float64{0, 30, -50} {
		o := seen(synthetic([hand.NumJoints]float64{}, turn{pitch: pitch, side: hand.Right, palm: 100}), hand.Right)
		require.InDelta(t, 100, New(Options{}).MeasureStill(o).PalmPixels, 1e-6)
	}
}

func TestAbduction(t *testing.T) {
	o := seen(synthetic([hand.NumJoints]float64{}, turn{side: hand.Right, palm: 100}), hand.Right)
	p, _ := postureOf(&o)
	var flat [hand.NumJoints]float64
	for _, a := range p.abduction(&flat) {
		require.InDelta(t, 0, a, 1e-6, "parallel fingers")
	}
	// Spread the index finger by 20 degrees towards the thumb.
	f := p.imageF
	for i := hand.Index.PIP(); i <= hand.Index.Tip(); i++ {
		m := p.image[hand.Index.MCP()]
		p.image[i] = m.Add(rotate(p.image[i].Sub(m), f.palmar, -20))
	}
	a := p.abduction(&flat)
	require.InDelta(t, 20, a[0], 1e-6)
	require.InDelta(t, 0, a[1], 1e-6)

	folded := flat
	folded[hand.MiddleMCP] = 80
	a = p.abduction(&folded)
	require.True(t, math.IsNaN(a[0]) && math.IsNaN(a[1]))
	require.InDelta(t, 0, a[2], 1e-6)
}

func TestUnreadablePoints(t *testing.T) {
	g := New(Options{})
	g.Measure(straightAt(200))
	for _, o := range []hand.Observation{{Side: hand.Left, Time: time.Second}, {Side: hand.Left, Time: 2 * time.Second, Image: hand.Points{3: {X: math.NaN()}}}} {
		s := g.Measure(o)
		require.True(t, s.Found)
		require.Equal(t, hand.Left, s.Side)
		for _, m := range s.Joints {
			require.False(t, m.Judged)
			require.Equal(t, hand.Unsure, m.Why)
		}
	}
}

func BenchmarkMeasure(b *testing.B) {
	g := New(Options{})
	o := bentAt(50)
	b.ReportAllocs()
	for b.Loop() {
		o.Time += frame30
		g.Measure(o)
	}
}
