package coach

import (
	"math"
	"time"

	"volar/internal/hand"
)

// The fit of a way finds where it ends if readings follow the joints in
// proportion. Near a closed hand they do not: they reach their greatest value
// early and may even fall again while the hand still closes. But whatever they
// read, they stand still when the hand does. So the edge of a hold is where
// the joints, all together, begin to leave the values that they had within the
// hold. Those are the ones that the movement is measured by, and where that is one
// joint by itself the rest of its finger, which goes along.

// frame holds the readings of one sample, channel by channel.
type frame struct {
	at time.Duration
	v  [hand.NumChannels]float64
	ok [hand.NumChannels]bool
}

const (
	// stillSpan of a hold is looked at for each of its edges, and the middle
	// of that between these shares tells the values held.
	stillSpan          = 2500 * time.Millisecond
	stillFrom, stillTo = 0.35, 0.65
	stillLeast         = 4
	// stayShare of its way a joint may be off while it stays where it is held:
	// three times what single readings of a bent joint scatter by, and reached
	// within the first third of the time of a way.
	stayShare = 0.15
	// smoothHalf is half the time over which frames are averaged.
	smoothHalf = 50 * time.Millisecond
	// leaveTimes is how many times the scatter of the distance, on top of
	// leaveDeg, the joints must be away from the values held.
	leaveTimes = 4
	leaveDeg   = 1
	// What is left of the way when the joints have come so near is added by how
	// movements end: the last 3 % of one of minimum jerk take the seventh part of
	// its time. More than that, because readings that run flat near the end pose
	// make the way look shorter than it is: with 1.2 times 234 of the 263 cells that
	// testdata/matrix.md had were met, with 1.4 and 1.1 times 230 and 229. It is tailMost of
	// the way at most.
	tailShare, tailMost = 1.2, 0.3
	// One joint that bends by itself runs flat sooner. Chosen on the clips of
	// testdata/matrix.md: with these some 14 more of its cells are met. On seven hands
	// of other shapes 42 of 110 holds are over 0.2 s off, and with 1.8 and 0.6, 2 and
	// 0.6, 2.2 and 0.7 still 40, 38, 35.
	loneShare, loneMost = 1.6, 0.5
	// steadyShare of the way is what the joints may move before it is noticed;
	// where readings are too restless for that the fit of the way is better.
	steadyShare = 0.25
)

// keep stores a frame, at most as long as the trail.
func (c *Coach) keep(s *hand.Sample) {
	if len(c.frames) == trailCap {
		c.frames = c.frames[:copy(c.frames, c.frames[trailCap/2:])]
	}
	f := frame{at: s.Time}
	for ch := range f.v {
		m := s.Channel(hand.Channel(ch))
		f.v[ch], f.ok[ch] = m.RawDeg, judged(&m)
	}
	c.frames = append(c.frames, f)
}

// held is what the joints read while the hand stood still.
type held struct {
	value, weight [hand.NumChannels]float64
	// usual is the usual distance from value, and leave the one at which the
	// hand is no longer still.
	usual, leave float64
}

// smooth averages the frames around one; ok has the joints that all of them
// show.
func smooth(frames []frame, i int) frame {
	at := frames[i].at
	lo, hi := i, i
	for lo > 0 && at-frames[lo-1].at <= smoothHalf {
		lo--
	}
	for hi+1 < len(frames) && frames[hi+1].at-at <= smoothHalf {
		hi++
	}
	out := frames[i]
	for j := range out.v {
		var sum float64
		for k := lo; k <= hi; k++ {
			sum += frames[k].v[j]
			out.ok[j] = out.ok[j] && frames[k].ok[j]
		}
		out.v[j] = sum / float64(hi-lo+1)
	}
	return out
}

// distance in degrees from the values held, over the joints that the frame
// shows.
func (h *held) distance(f *frame) (d float64, ok bool) {
	var sum, w float64
	for j := range f.v {
		if f.ok[j] && h.weight[j] > 0 {
			x := f.v[j] - h.value[j]
			sum += h.weight[j] * x * x
			w += h.weight[j]
		}
	}
	if w == 0 {
		return 0, false
	}
	return math.Sqrt(sum / w), true
}

// stands is true for what stands still in a hold of the movement.
func (c *closing) stands(ch hand.Channel) bool {
	if c.weight[ch] != 0 {
		return true
	}
	f, ok := ch.Finger()
	_, joint := ch.Joint()
	return ok && c.lone && f == c.loneFinger && (joint || ch.Pinch())
}

// stillness learns the values held between two times.
func (c *Coach) stillness(from, to time.Duration) (h held, ok bool) {
	frames := c.frames
	var in []int
	for i := range frames {
		if frames[i].at >= from && frames[i].at <= to {
			in = append(in, i)
		}
	}
	if len(in) < stillLeast {
		return h, false
	}
	var v []float64
	for j := range h.value {
		if !c.closing.stands(hand.Channel(j)) {
			continue
		}
		v = v[:0]
		for _, i := range in {
			if frames[i].ok[j] {
				v = append(v, frames[i].v[j])
			}
		}
		if len(v)*2 < len(in) {
			continue
		}
		h.value[j] = median(v)
		var sq float64
		for _, x := range v {
			sq += (x - h.value[j]) * (x - h.value[j])
		}
		// A joint that reads restlessly counts less; none counts more than
		// half a degree of noise warrants.
		h.weight[j] = 1 / (sq/float64(len(v)) + 0.25)
	}
	v = v[:0]
	for _, i := range in {
		f := smooth(frames, i)
		if d, ok := h.distance(&f); ok {
			v = append(v, d)
		}
	}
	if len(v) < stillLeast {
		return h, false
	}
	h.usual = median(v)
	for i := range v {
		v[i] = math.Abs(v[i] - h.usual)
	}
	// 1.48 times the median deviation estimates the standard deviation.
	h.leave = h.usual + leaveTimes*1.48*median(v) + leaveDeg
	return h, true
}

// stays is true where a finger that holds the end pose is judged in part only, as
// a knuckle that comes and goes behind another, and what is judged of it stays
// where it is held: then the hold goes on, instead of the clock standing still.
func (c *Coach) stays(s *hand.Sample) bool {
	st := c.cycle.stay
	if st == nil || c.steps != nil || !s.Found || c.cycle.phase != InEndZone {
		return false
	}
	any := false
	var v []float64
	for ch := hand.Channel(0); ch < hand.NumChannels; ch++ {
		m := s.Channel(ch)
		if c.closing.weight[ch] == 0 || !judged(&m) {
			continue
		}
		v = v[:0]
		for i := len(c.frames) - 1; i >= 0 && c.frames[i].at >= st.entry; i-- {
			if f := &c.frames[i]; f.ok[ch] {
				v = append(v, f.v[ch])
			}
		}
		if len(v) < stillLeast {
			continue
		}
		if math.Abs(m.RawDeg-median(v)) > stayShare*math.Abs(c.closing.travel[ch]) {
			return false
		}
		any = true
	}
	return any
}

// stillEdge works out where a hold begins, or ends if later is true, by
// stillness; it lies between entry and last by the measure, and long is what
// the way there or back took. ok is false where the hold was too short, or the
// edge not seen.
func (c *Coach) stillEdge(entry, last time.Duration, r *ramp, later bool) (edge time.Duration, ok bool) {
	span := min(last-entry, stillSpan)
	part := func(share float64) time.Duration { return time.Duration(share * float64(span)) }
	from, to := entry+part(stillFrom), entry+part(stillTo)
	step := -1
	if later {
		from, to = last-part(stillTo), last-part(stillFrom)
		step = 1
	}
	h, ok := c.stillness(from, to)
	if !ok {
		return 0, false
	}
	frames := c.frames
	i := 0
	for i < len(frames)-1 && frames[i].at < (from+to)/2 {
		i++
	}
	// Outwards until the joints have left and do not come back, and further
	// for the whole way.
	out, way := -1, 0.0
	var inner, outer float64
	var innerAt time.Duration
	for ; i >= 0 && i < len(frames); i += step {
		if frames[i].at < entry-r.long || frames[i].at > last+r.long {
			break
		}
		f := smooth(frames, i)
		d, seen := h.distance(&f)
		if !seen {
			continue
		}
		way = max(way, d)
		switch {
		case d <= h.leave:
			out, inner, innerAt = -1, d, f.at
		case out < 0:
			out, outer = i, d
		}
	}
	if out < 0 || innerAt == 0 || way < 2*h.leave {
		return 0, false
	}
	// Where the distance passed the level, between two frames.
	t := (h.leave - inner) / (outer - inner)
	edge = innerAt + time.Duration(t*float64(frames[out].at-innerAt))
	away := math.Sqrt(max(h.leave*h.leave-h.usual*h.usual, 0))
	if away > steadyShare*way {
		return 0, false
	}
	share, most := tailShare, tailMost
	if c.closing.lone {
		share, most = loneShare, loneMost
	}
	tail := min(time.Duration(share*float64(r.tail(away/way))), time.Duration(most*float64(r.long)))
	if later {
		return edge - tail, true
	}
	return edge + tail, true
}
