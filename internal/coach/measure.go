package coach

import (
	"math"
	"time"

	"volar/internal/exercise"
	"volar/internal/hand"
)

const (
	// leastSeen is the share of the measure's whole way that judged channels
	// must cover. One finger of four is a little less than a quarter. Of a way of
	// one finger it is digitSeen.
	leastSeen = 0.18
	// digitSeen is the share of a digit's own way that must be judged: more than
	// half, or a middle knuckle that comes and goes makes the finger jump.
	digitSeen = 0.6
	// leastOwnTravel is the least way, in degrees, of a joint in the client's
	// own range that still tells the poses apart.
	leastOwnTravel = 10
	// surestSE is the standard error, in degrees, up to which a finger may
	// decide by itself that the pose is not reached, where the least finger
	// counts.
	surestSE = 9
	// cap on a finger's share where the least finger counts: a finger past
	// straight is no straighter.
	shareCap = 1.1
	// groups are the five digits and the hand as a whole.
	groups = 6
	// wholeHand is the group of what belongs to no digit.
	wholeHand = 5
)

// closing turns the channels into the share of the way from the start pose to
// the end pose.
type closing struct {
	combine exercise.Combine
	start   [hand.NumChannels]float64
	// travel is the signed way of each channel that takes part, else 0.
	travel [hand.NumChannels]float64
	weight [hand.NumChannels]float64
	// whole is the weighted way of all channels together.
	whole float64
	// parts lists those that take part, by digit.
	parts [groups][]hand.Channel
	// lone is true where one joint of a long finger is all that takes part.
	lone       bool
	loneFinger hand.Finger
}

// newClosing follows one measure of a movement, the whole movement's or a
// step's. Where from is not empty the way begins at that pose instead of the
// measure's own.
func newClosing(m *exercise.Movement, k exercise.Measure, from string, own map[hand.Joint]Range) *closing {
	if from != "" {
		k.From = from
	}
	c := &closing{combine: k.Combine}
	for ch := hand.Channel(0); ch < hand.NumChannels; ch++ {
		w := k.Weights[ch]
		if w == 0 {
			continue
		}
		way := m.Way(&k, ch)
		a, b := way.From, way.To
		if j, ok := ch.Joint(); ok {
			if r, ok := own[j]; ok {
				a, b = r.Start, r.End
				if math.Abs(b-a) < leastOwnTravel {
					continue
				}
			}
		}
		if a == b {
			continue
		}
		c.start[ch], c.travel[ch], c.weight[ch] = a, b-a, w
		c.whole += w * math.Abs(b-a)
		g := groupOf(ch)
		c.parts[g] = append(c.parts[g], ch)
	}
	c.loneFinger, c.lone = c.single()
	return c
}

// single is the long finger whose joint alone takes part, if that is so.
func (c *closing) single() (f hand.Finger, ok bool) {
	n := 0
	for ch, w := range c.weight {
		if w != 0 {
			n++
			if j, joint := hand.Channel(ch).Joint(); joint && j.Finger() != hand.Thumb {
				f, ok = j.Finger(), true
			}
		}
	}
	return f, ok && n == 1
}

// groupOf is the digit of a channel, or wholeHand.
func groupOf(c hand.Channel) int {
	if f, ok := c.Finger(); ok {
		return int(f)
	}
	return wholeHand
}

// digit is how far one digit is along.
type digit struct {
	// share of the way by weight, and plain share of the digit's composite
	// way, with its standard error.
	share, composite, compositeSE float64
	// se is the mean standard error of its channels.
	se float64
	ok bool
}

// along is what one sample says of the movement.
type along struct {
	share float64
	// mean is the share by all channels together, whatever the fingers are
	// combined to; it is the steadier one, for timing.
	mean   float64
	digits [groups]digit
	ok     bool
	// stays is true where not enough is judged to say how far the hand is, but
	// what is judged stays where it is held.
	stays bool
	// why it is not ok.
	why hand.Reason
}

// se is the standard error of the share: the mean of the digits' own.
func (a *along) se() float64 {
	var sum, n float64
	for i := range a.digits {
		if a.digits[i].ok {
			sum += a.digits[i].compositeSE
			n++
		}
	}
	return sum / max(n, 1)
}

// read measures one sample. A digit is judged where at least digitSeen of its
// way, by weight, is.
func (c *closing) read(s *hand.Sample) (a along) {
	if !s.Found {
		a.why = hand.NoHand
		return a
	}
	var sum, seen float64
	taking, judgedOne := 0, false // how many digits take part, and whether one is judged
	var reasons [len(reasonOrder)]int
	least, leastSure := math.Inf(1), math.Inf(1)
	for f, parts := range c.parts {
		var done, way, all, plainDone, plainWay, variance, se float64
		n := 0
		for _, ch := range parts {
			m := s.Channel(ch)
			w, t := c.weight[ch], c.travel[ch]
			all += w * math.Abs(t)
			if !judged(&m) {
				reasons[reasonIndex(m.Why)]++
				continue
			}
			moved := (m.RawDeg - c.start[ch]) * math.Copysign(1, t)
			done += w * moved
			way += w * math.Abs(t)
			plainDone += moved
			plainWay += math.Abs(t)
			variance += m.SEDeg * m.SEDeg
			se += m.SEDeg
			n++
		}
		if len(parts) > 0 {
			taking++
		}
		sum += done
		seen += way
		if n == 0 || way < digitSeen*all {
			continue
		}
		judgedOne = true
		d := &a.digits[f]
		*d = digit{share: done / way, composite: plainDone / plainWay, compositeSE: math.Sqrt(variance) / plainWay, se: se / float64(n), ok: true}
		least = min(least, d.share)
		if d.se <= surestSE {
			leastSure = min(leastSure, d.share)
		}
	}
	switch {
	case c.combine == exercise.Least && !math.IsInf(least, 1):
		// Where no finger is sure the mean of all is the better guess.
		a.ok, a.share, a.mean = true, sum/seen, sum/seen
		if !math.IsInf(leastSure, 1) {
			a.share = leastSure
		}
		a.share = min(a.share, shareCap)
	case c.combine != exercise.Least && seen >= leastSeen*c.whole && (judgedOne || taking > 1):
		a.ok, a.share, a.mean = true, sum/seen, sum/seen
	default:
		a.why = commonest(&reasons)
	}
	return a
}

// way is how far a digit's channels go together.
func (c *closing) way(f int) (w float64) {
	for _, ch := range c.parts[f] {
		w += math.Abs(c.travel[ch])
	}
	return w
}

// judged is true where the value counts at all.
func judged(m *hand.Measurement) bool {
	return m.Judged && finite(m.RawDeg) && finite(m.SEDeg)
}

// reasonOrder lists the reasons, so that they can be counted without a map
// and ties are broken the same way always.
var reasonOrder = [...]hand.Reason{hand.Unsure, hand.WrongView, hand.Hidden, hand.TooSmall, hand.TooFast, hand.TooDark, hand.NoHand}

func reasonIndex(r hand.Reason) int {
	for i, k := range reasonOrder {
		if k == r {
			return i
		}
	}
	return 0
}

func commonest[N int | int64](counts *[len(reasonOrder)]N) hand.Reason {
	best := 0
	for i, n := range counts {
		if n > counts[best] {
			best = i
		}
	}
	return reasonOrder[best]
}

// origin brings the hand's turn and tilt to where the movement has them. Both
// hang on how the forearm lies before the camera, which no two clients do
// alike, while the movement is the change: the way begins where the hand rests
// as the exercise begins, unless that is far from where the movement has it,
// when it is taken that the hand was already on its way.
//
// The turn is the view itself. Where it lies further from all that the movement
// asks than a forearm can turn, another side of the hand is shown, and there is
// nothing to be said of the way.
type origin struct {
	channel hand.Channel
	from    float64
	// low and high are the least and the greatest that the movement asks.
	low, high float64
	win       []float64
	begun     time.Duration
	shift     float64
	known     bool
}

// originSpan is the time over which the resting place is taken, originMost how
// far it may lie from the movement's own, in degrees.
const (
	originSpan = 600 * time.Millisecond
	originMost = 40
	// turnBeyond is how far beyond the movement a turn is still one of its own:
	// with the 32 degrees that wringing asks more than the forearm's 80 each way
	// (common practice, from memory).
	turnBeyond = 60
)

// origins are needed for the turn and tilt where some measure weighs them.
func origins(closings []*closing) (out []*origin) {
	for _, ch := range []hand.Channel{hand.HandTilt, hand.HandTurn} {
		var o *origin
		for _, c := range closings {
			if c.weight[ch] == 0 {
				continue
			}
			from, to := c.start[ch], c.start[ch]+c.travel[ch]
			if o == nil {
				o = &origin{channel: ch, from: from, low: from, high: from}
				out = append(out, o)
			}
			o.low, o.high = min(o.low, from, to), max(o.high, from, to)
		}
	}
	return out
}

// move shifts the sample's reading of the channel.
func (o *origin) move(s *hand.Sample) {
	m := &s.Extra[o.channel-hand.NumJoints]
	if !s.Found || !judged(m) {
		return
	}
	// A full turn more or less is the same place.
	v := o.from + math.Remainder(m.RawDeg-o.from, 360)
	if o.channel == hand.HandTurn && (v < o.low-turnBeyond || v > o.high+turnBeyond) {
		m.Judged, m.ExtensionJudged = false, false
		m.Why, m.ExtensionWhy = hand.WrongView, hand.WrongView
		return
	}
	if !o.known {
		if len(o.win) == 0 {
			o.begun = s.Time
		}
		o.win = append(o.win, v)
		o.shift = o.from - median(o.win)
		if math.Abs(o.shift) > originMost {
			o.shift = 0
		}
		if o.known = s.Time-o.begun >= originSpan; o.known {
			o.win = nil
		}
	}
	m.FlexionDeg += v + o.shift - m.RawDeg
	m.RawDeg = v + o.shift
}
