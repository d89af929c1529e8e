package review

import (
	"math"
	"testing"
	"time"

	"github.com/stretchr/testify/assert"
	"pgregory.net/rapid"

	"volar/internal/coach"
	"volar/internal/hand"
	"volar/internal/session"
)

func someTimes(t *rapid.T, name string, end time.Duration) []time.Duration {
	return rapid.SliceOfN(rapid.Custom(func(t *rapid.T) time.Duration { return time.Duration(rapid.Int64Range(0, int64(end)).Draw(t, "at")) }), 0, 60).Draw(t, name)
}

// Whatever is done, the place stays in the session; a step on and a step back
// end where they began; the moments are walked in order and each only once.
func TestScrubber(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		end := time.Duration(rapid.Int64Range(0, int64(20*time.Minute)).Draw(t, "end"))
		s := NewScrubber(someTimes(t, "pictures", end), someTimes(t, "moments", end), end)
		t.Repeat(map[string]func(*rapid.T){
			"seek": func(t *rapid.T) { s.Seek(time.Duration(rapid.Int64().Draw(t, "to"))) },
			"by":   func(t *rapid.T) { s.By(time.Duration(rapid.Int64Range(-1e11, 1e11).Draw(t, "by"))) },
			"step": func(t *rapid.T) {
				n := rapid.IntRange(-3, 3).Draw(t, "n")
				before, at := s.Picture(), s.At()
				s.Step(n)
				after := s.Picture()
				if len(s.pictures) == 0 || n == 0 {
					assert.Equal(t, at, s.At())
					return
				}
				assert.Equal(t, s.pictures[after], s.At(), "a step ends on a picture")
				if n > 0 {
					assert.Equal(t, min(before+n, len(s.pictures)-1), after)
				} else {
					assert.LessOrEqual(t, after, max(before, 0))
					assert.LessOrEqual(t, s.At(), max(at, s.pictures[0]))
				}
			},
			"there and back": func(t *rapid.T) {
				s.Step(1)
				i := s.Picture()
				if i < len(s.pictures)-1 && i >= 0 {
					at := s.At()
					s.Step(1)
					s.Step(-1)
					assert.Equal(t, at, s.At())
				}
			},
			"next": func(t *rapid.T) {
				at := s.At()
				if s.Next() {
					assert.Greater(t, s.At(), at)
					assert.Contains(t, s.moments, s.At())
				} else {
					assert.Equal(t, at, s.At())
				}
			},
			"previous": func(t *rapid.T) {
				at := s.At()
				if s.Previous() {
					assert.Less(t, s.At(), at)
				}
			},
			"": func(t *rapid.T) {
				assert.GreaterOrEqual(t, s.At(), time.Duration(0))
				assert.LessOrEqual(t, s.At(), s.End())
				if i := s.Picture(); i >= 0 {
					assert.LessOrEqual(t, s.pictures[i], s.At())
					if i+1 < len(s.pictures) {
						assert.Greater(t, s.pictures[i+1], s.At())
					}
				}
			},
		})
		s.Seek(0)
		n := 0
		for s.Next() {
			n++
		}
		want := len(s.moments)
		if want > 0 && s.moments[0] == 0 {
			want--
		}
		assert.Equal(t, want, n, "every moment once")
	})
}

// A time and where it is drawn belong together, and what is drawn always holds
// the present place.
func TestLens(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		end := time.Duration(rapid.Int64Range(int64(2*time.Second), int64(30*time.Minute)).Draw(t, "end"))
		l := Lens{End: end}
		l.Zoom(time.Duration(rapid.Int64Range(1, int64(end)).Draw(t, "span")), time.Duration(rapid.Int64Range(0, int64(end)).Draw(t, "round")))
		for range 5 {
			at := time.Duration(rapid.Int64Range(0, int64(end)).Draw(t, "at"))
			l.Follow(at)
			assert.GreaterOrEqual(t, l.From, time.Duration(0))
			assert.LessOrEqual(t, l.From+l.Span, end)
			x := l.Share(at)
			assert.GreaterOrEqual(t, x, 0.0)
			assert.LessOrEqual(t, x, 1.0)
			assert.InDelta(t, float64(at), float64(l.Time(x)), 1e3)
			assert.False(t, l.Follow(at), "it stays where it is")
		}
	})
}

func TestSampleAt(t *testing.T) {
	s := &session.Session{Ended: 4 * time.Second}
	for i := range 20 {
		s.Samples = append(s.Samples, session.Sample{Sample: hand.Sample{Time: time.Duration(i) * 100 * time.Millisecond, Side: []hand.Side{hand.Left, hand.Right}[i%2]}})
	}
	assert.Nil(t, SampleAt(s, -1, hand.UnknownSide))
	assert.Equal(t, 500*time.Millisecond, SampleAt(s, 550*time.Millisecond, hand.UnknownSide).Time)
	assert.Equal(t, 400*time.Millisecond, SampleAt(s, 550*time.Millisecond, hand.Left).Time)
	assert.Nil(t, SampleAt(s, 3*time.Second, hand.UnknownSide), "what is long past does not show")
}

func TestPoseOf(t *testing.T) {
	x := &session.Sample{Sample: hand.Sample{Found: true, AbductionDeg: [3]float64{12, math.NaN(), 8}, Palm: hand.Point{X: 320, Y: 240}}}
	x.Joints[hand.IndexPIP] = hand.Measurement{FlexionDeg: -14, Judged: true}
	x.Joints[hand.RingDIP] = hand.Measurement{FlexionDeg: math.NaN()}
	x.Joints[hand.LittleMCP] = hand.Measurement{FlexionDeg: 30}
	for i := range x.Points {
		x.Points[i] = [2]float64{0.5, 0.5}
	}
	p, judged := PoseOf(x)
	assert.InDelta(t, -14, p.Fingers[0].PIP, 1e-9)
	assert.InDelta(t, 0, p.Fingers[2].DIP, 1e-9)
	assert.InDelta(t, 30, p.Fingers[3].MCP, 1e-9)
	assert.InDelta(t, 12, p.Fingers[0].Abduction, 1e-9)
	assert.InDelta(t, 8, p.Fingers[3].Abduction, 1e-9)
	assert.True(t, judged[hand.IndexPIP])
	assert.False(t, judged[hand.LittleMCP])
	w, h, ok := FrameSize(x)
	assert.True(t, ok)
	assert.InDelta(t, 640, w, 1e-9)
	assert.InDelta(t, 480, h, 1e-9)
	_, _, ok = FrameSize(&session.Sample{})
	assert.False(t, ok)
}

func TestSpans(t *testing.T) {
	second := func(n float64) map[string]float64 { return map[string]float64{"start_s": n, "end_s": n + 2} }
	s := &session.Session{Ended: 20 * time.Second, Events: []session.Event{
		{Exercise: 1, Kind: session.RepetitionCounted, Repetition: 1, Numbers: second(1), Words: map[string]string{"verdict": string(coach.Counted)}},
		{Exercise: 1, Kind: session.RepetitionPartial, Repetition: 2, Numbers: second(4), Words: map[string]string{"verdict": string(coach.Partial)}},
		{Exercise: 1, Kind: session.RepetitionPartial, Repetition: 3, Numbers: second(7), Words: map[string]string{"verdict": string(coach.Unjudged)}},
		{Exercise: 1, Kind: session.HoldEnded, Repetition: 1, Numbers: second(9), Words: map[string]string{"result": "met"}},
		{Exercise: 1, Kind: session.HoldEnded, Repetition: 2, Numbers: second(12), Words: map[string]string{"result": "short"}},
		{Exercise: 1, Kind: session.HoldEnded, Repetition: 3, Numbers: second(19), Words: map[string]string{"result": "unsure"}},
		{Exercise: 1, Kind: session.HoldEnded, Repetition: 3},
		{Exercise: 1, Kind: session.Cue},
	}}
	var kinds []SpanKind
	for _, x := range Spans(s) {
		kinds = append(kinds, x.Kind)
	}
	assert.Equal(t, []SpanKind{Repetition, FellShort, NotJudged, HoldMet, HoldShort, HoldUnsure}, kinds)
	assert.Equal(t, 20*time.Second, Spans(s)[5].End, "no further than the session")
}

func TestLooking(t *testing.T) {
	var l Looking
	at := start
	assert.Zero(t, l.Take(at))
	l.Act(at.Add(20 * time.Second))
	l.Act(at.Add(10 * time.Minute)) // a minute of this counts
	assert.Equal(t, 85, l.Take(at.Add(10*time.Minute+5500*time.Millisecond)))
	assert.Equal(t, 1, l.Take(at.Add(10*time.Minute+6*time.Second)), "half a second was left over")
	l.Act(at) // a clock that was set back takes nothing away
	assert.Equal(t, 0, l.Take(at))
}
