package review

import (
	"slices"
	"sort"
	"time"

	"volar/internal/hand"
	"volar/internal/session"
)

// Scrubber is a place in a session's time that is moved by pictures, by
// stretches of time, and from one moment to the next. The place never leaves
// the session.
type Scrubber struct {
	pictures []time.Duration
	moments  []time.Duration
	end, at  time.Duration
}

// NewScrubber starts at the beginning. Pictures and moments are times in any
// order; end is the session's last time.
func NewScrubber(pictures, moments []time.Duration, end time.Duration) *Scrubber {
	s := &Scrubber{pictures: sorted(pictures), moments: sorted(moments), end: max(end, 0)}
	if n := len(s.pictures); n > 0 {
		s.end = max(s.end, s.pictures[n-1])
	}
	return s
}

func sorted(t []time.Duration) []time.Duration {
	t = slices.Clone(t)
	slices.Sort(t)
	return slices.Compact(t)
}

// At is the present place, End the last one.
func (s *Scrubber) At() time.Duration  { return s.at }
func (s *Scrubber) End() time.Duration { return s.end }

// Seek goes to a time, or to the nearest one within the session.
func (s *Scrubber) Seek(t time.Duration) { s.at = max(0, min(t, s.end)) }

// By goes on by a stretch of time, back where it is negative.
func (s *Scrubber) By(d time.Duration) { s.Seek(s.at + d) }

// Picture is the number of the picture that shows at the present place: the last
// one that is not later; -1 before the first.
func (s *Scrubber) Picture() int {
	return sort.Search(len(s.pictures), func(i int) bool { return s.pictures[i] > s.at }) - 1
}

// Step goes n pictures on, back where n is negative: to the first or the last
// one at most. Between two pictures one back is the one that shows.
func (s *Scrubber) Step(n int) {
	if len(s.pictures) == 0 || n == 0 {
		return
	}
	i := s.Picture()
	if n < 0 && i >= 0 && s.pictures[i] < s.at {
		i++
	}
	s.Seek(s.pictures[max(0, min(i+n, len(s.pictures)-1))])
}

// Next goes to the next moment, and Previous to the one before; false where
// there is none.
func (s *Scrubber) Next() bool {
	i := sort.Search(len(s.moments), func(i int) bool { return s.moments[i] > s.at })
	if i == len(s.moments) {
		return false
	}
	s.Seek(s.moments[i])
	return true
}

// Previous goes to the moment before.
func (s *Scrubber) Previous() bool {
	i := sort.Search(len(s.moments), func(i int) bool { return s.moments[i] >= s.at }) - 1
	if i < 0 {
		return false
	}
	s.Seek(s.moments[i])
	return true
}

// Lens is the stretch of a session that is drawn: Span long, or all of it where
// that is shorter.
type Lens struct{ From, Span, End time.Duration }

// least is the shortest stretch that a Lens shows.
const least = time.Second

// Zoom shows another span round a time.
func (l *Lens) Zoom(span, at time.Duration) {
	l.Span = max(least, min(span, max(l.End, least)))
	l.centre(at)
}

func (l *Lens) centre(at time.Duration) {
	l.From = max(0, min(at-l.Span/2, l.End-l.Span))
}

// Follow moves the stretch where a time comes near its edge or lies outside, and
// leaves it alone otherwise, so that a place that moves on slowly does not move
// all that is drawn.
func (l *Lens) Follow(at time.Duration) (moved bool) {
	from := l.From
	if edge := l.Span / 10; at < l.From+edge || at > l.From+l.Span-edge {
		l.centre(at)
	}
	return l.From != from
}

// Share is where a time lies, 0 at the left edge and 1 at the right one; Time is
// the inverse.
func (l Lens) Share(t time.Duration) float64 {
	if l.Span <= 0 {
		return 0
	}
	return float64(t-l.From) / float64(l.Span)
}

// Time is the time at a share of the stretch.
func (l Lens) Time(share float64) time.Duration {
	return l.From + time.Duration(share*float64(l.Span))
}

// SampleAt is the last sample of a hand that is not later than a time, and no
// more than half a second older; nil where there is none. An unknown side is
// any hand.
func SampleAt(s *session.Session, at time.Duration, side hand.Side) *session.Sample {
	i := sort.Search(len(s.Samples), func(i int) bool { return s.Samples[i].Time > at }) - 1
	for ; i >= 0 && at-s.Samples[i].Time <= 500*time.Millisecond; i-- {
		if x := &s.Samples[i]; ofSide(x, side) {
			return x
		}
	}
	return nil
}

// ofSide is false for a sample of the other hand.
func ofSide(x *session.Sample, side hand.Side) bool {
	return sameHand(x.Side, side)
}

// ExerciseAt is the exercise that a time belongs to: the last that began by
// then; nil before the first.
func ExerciseAt(s *session.Session, at time.Duration) *session.Exercise {
	var last *session.Exercise
	for i := range s.Exercises {
		if e := &s.Exercises[i]; e.Start <= at && (last == nil || e.Start >= last.Start) {
			last = e
		}
	}
	return last
}
