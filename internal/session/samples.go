package session

import (
	"fmt"
	"math"
	"sort"
	"time"

	"volar/internal/hand"
)

// The steps to which values are rounded.
const (
	degreeStep = 0.1
	seStep     = 0.5
	pointSteps = 4096
	speedStep  = 0.01
)

// column is one quantity over the samples: the first value and then each
// value's difference from the one before.
type column []int64

// runs is a quantity that seldom changes: pairs of how many samples keep the
// value and the value's difference from the one before, which begins at 0.
type runs []int64

// noValue stands in a column for a value that is not a number.
const noValue = -1 << 31

// wireSamples are the samples of one hand in a batch. Only samples in which
// the hand was found have an entry in anything but Time, Side and Found.
type wireSamples struct {
	// Side is 0 unknown, 1 left, 2 right.
	Side int `cbor:"side"`
	// Time in microseconds; Found 0 or 1.
	Time  column `cbor:"t"`
	Found runs   `cbor:"found"`
	Track runs   `cbor:"track"`
	// Yaw, Pitch and YawSE are the view in 0.1 degree.
	Yaw   column `cbor:"yaw"`
	Pitch column `cbor:"pitch"`
	YawSE runs   `cbor:"yaw_se"`
	// Palm is the palm's length in pixels, Speed the hand's speed in 0.01 palm
	// lengths a second.
	Palm  column `cbor:"palm"`
	Speed column `cbor:"speed"`
	// Middle is the middle of the palm in pixels, x and y.
	Middle [2]column `cbor:"middle"`
	// Spread are the angles between neighbouring fingers in 0.1 degree.
	Spread [3]column `cbor:"spread"`
	// Points are x of point 0, y of point 0, x of point 1 and so on in 1/4096
	// of the picture's width and height.
	Points [2 * hand.NumPoints]column `cbor:"points"`
	// Channels by name; one that nobody measured is left out.
	Channels map[string]wireChannel `cbor:"ch"`
}

// wireChannel is one joint or other channel over the samples.
type wireChannel struct {
	// Value is the best estimate in 0.1 of the channel's unit; Raw is what the
	// one picture said, less Value; SE the standard error in steps of 0.5.
	Value column `cbor:"v"`
	Raw   column `cbor:"raw"`
	SE    runs   `cbor:"se"`
	// State is 1 where judged, plus 2 where extension is judged too, plus 4
	// times the reason's number and 64 times that for extension.
	State runs `cbor:"st"`
}

// reasons in the order of their numbers in the format. It only ever grows.
var reasons = [...]hand.Reason{
	hand.NoReason, hand.WrongView, hand.Hidden, hand.TooSmall, hand.TooFast, hand.TooDark, hand.NoHand, hand.Unsure,
}

func reasonNumber(r hand.Reason) int64 {
	for i, x := range reasons {
		if x == r {
			return int64(i)
		}
	}
	return int64(len(reasons) - 1)
}

func reasonOf(n int64) hand.Reason {
	if n < 0 || n >= int64(len(reasons)) {
		return hand.Unsure
	}
	return reasons[n]
}

// whole rounds to steps; what is not a finite number becomes noValue.
func whole(v, step float64) int64 {
	if math.IsNaN(v) || math.IsInf(v, 0) {
		return noValue
	}
	return int64(max(-1e8, min(1e8, math.Round(v/step))))
}

// value is the inverse of whole. Dividing by a whole number gives the nearest
// decimal, where multiplying by 0.1 would not.
func value(n int64, perUnit float64) float64 {
	if n == noValue {
		return math.NaN()
	}
	return float64(n) / perUnit
}

// wideSample is a sample as whole numbers.
type wideSample struct {
	yaw, pitch, yawSE, palm, speed int64
	middle                         [2]int64
	spread                         [3]int64
	points                         [2 * hand.NumPoints]int64
	channels                       [hand.NumChannels]wideChannel
}

type wideChannel struct{ value, raw, se, state int64 }

func widen(s *Sample) wideSample {
	w := wideSample{
		yaw: whole(s.View.YawDeg, degreeStep), pitch: whole(s.View.PitchDeg, degreeStep), yawSE: whole(s.View.SEDeg, degreeStep),
		palm: whole(s.PalmPixels, 1), speed: whole(s.SpeedPalms, speedStep),
		middle: [2]int64{whole(s.Palm.X, 1), whole(s.Palm.Y, 1)},
	}
	for i, a := range s.AbductionDeg {
		w.spread[i] = whole(a, degreeStep)
	}
	for i, p := range s.Points {
		w.points[2*i], w.points[2*i+1] = whole(p[0], 1.0/pointSteps), whole(p[1], 1.0/pointSteps)
	}
	for c := range w.channels {
		m := measurement(&s.Sample, hand.Channel(c))
		k := &w.channels[c]
		k.value, k.raw, k.se = whole(m.FlexionDeg, degreeStep), whole(m.RawDeg, degreeStep), whole(m.SEDeg, seStep)
		k.state = reasonNumber(m.Why)<<2 | reasonNumber(m.ExtensionWhy)<<6
		if m.Judged {
			k.state |= 1
		}
		if m.ExtensionJudged {
			k.state |= 2
		}
	}
	return w
}

// measurement is the stored one, not what Sample.Channel makes of one that is
// missing.
func measurement(s *hand.Sample, c hand.Channel) *hand.Measurement {
	if c < hand.NumJoints {
		return &s.Joints[c]
	}
	return &s.Extra[c-hand.NumJoints]
}

// encodeSamples packs samples, one part for each hand.
func encodeSamples(samples []Sample) []wireSamples {
	var parts []wireSamples
	for _, side := range []hand.Side{hand.UnknownSide, hand.Left, hand.Right} {
		var of []*Sample
		for i := range samples {
			if samples[i].Side == side {
				of = append(of, &samples[i])
			}
		}
		if len(of) > 0 {
			parts = append(parts, encodeSide(side, of))
		}
	}
	return parts
}

func encodeSide(side hand.Side, samples []*Sample) wireSamples {
	w := wireSamples{Side: int(side), Channels: map[string]wireChannel{}}
	var found []wideSample
	for _, s := range samples {
		w.Time = append(w.Time, s.Time.Microseconds())
		if s.Found {
			found = append(found, widen(s))
		}
	}
	w.Time = differences(w.Time)
	w.Found = pack(len(samples), func(i int) int64 {
		if samples[i].Found {
			return 1
		}
		return 0
	})
	w.Track = pack(len(samples), func(i int) int64 { return int64(samples[i].Track) })
	col := func(at func(*wideSample) int64) column {
		c := make(column, len(found))
		for i := range found {
			c[i] = at(&found[i])
		}
		return differences(c)
	}
	w.Yaw = col(func(s *wideSample) int64 { return s.yaw })
	w.Pitch = col(func(s *wideSample) int64 { return s.pitch })
	w.YawSE = pack(len(found), func(i int) int64 { return found[i].yawSE })
	w.Palm = col(func(s *wideSample) int64 { return s.palm })
	w.Speed = col(func(s *wideSample) int64 { return s.speed })
	for k := range w.Middle {
		w.Middle[k] = col(func(s *wideSample) int64 { return s.middle[k] })
	}
	for k := range w.Spread {
		w.Spread[k] = col(func(s *wideSample) int64 { return s.spread[k] })
	}
	for k := range w.Points {
		w.Points[k] = col(func(s *wideSample) int64 { return s.points[k] })
	}
	for c := range hand.Channel(hand.NumChannels) {
		measured := false
		for i := range found {
			measured = measured || found[i].channels[c] != wideChannel{}
		}
		if !measured {
			continue
		}
		w.Channels[c.String()] = wireChannel{
			Value: col(func(s *wideSample) int64 { return s.channels[c].value }),
			Raw:   col(func(s *wideSample) int64 { return s.channels[c].raw - s.channels[c].value }),
			SE:    pack(len(found), func(i int) int64 { return found[i].channels[c].se }),
			State: pack(len(found), func(i int) int64 { return found[i].channels[c].state }),
		}
	}
	return w
}

// decodeSamples is the inverse of encodeSamples. Samples come in order of
// time, and of the side within one time.
func decodeSamples(parts []wireSamples) ([]Sample, error) {
	var all []Sample
	for i := range parts {
		s, err := decodeSide(&parts[i])
		if err != nil {
			return nil, err
		}
		all = append(all, s...)
		if len(all) > maxPerBatch {
			return nil, fmt.Errorf("%w: more than %d samples in a batch", ErrMalformed, maxPerBatch)
		}
	}
	sort.SliceStable(all, func(i, j int) bool { return all[i].Time < all[j].Time })
	return all, nil
}

func decodeSide(w *wireSamples) ([]Sample, error) {
	if w.Side < 0 || w.Side > int(hand.Right) {
		return nil, fmt.Errorf("%w: side %d", ErrMalformed, w.Side)
	}
	n := len(w.Time)
	if n == 0 || n > maxPerBatch {
		return nil, fmt.Errorf("%w: %d samples of one hand", ErrMalformed, n)
	}
	u := unpacker{}
	times := u.column(w.Time, n)
	flags := u.runs(w.Found, n)
	tracks := u.runs(w.Track, n)
	if u.err != nil {
		return nil, u.err
	}
	samples := make([]Sample, n)
	var found []*Sample
	for i := range samples {
		s := &samples[i]
		if times[i] < 0 || times[i] > maxTime.Microseconds() {
			return nil, fmt.Errorf("%w: a sample at %d microseconds", ErrMalformed, times[i])
		}
		s.Time, s.Side, s.Track = time.Duration(times[i])*time.Microsecond, hand.Side(w.Side), int(tracks[i])
		switch flags[i] {
		case 1:
			s.Found = true
			found = append(found, s)
		case 0:
			lost(s)
		default:
			return nil, fmt.Errorf("%w: found is %d", ErrMalformed, flags[i])
		}
	}
	each := func(v []int64, set func(*Sample, int64)) {
		for i := range v {
			set(found[i], v[i])
		}
	}
	m := len(found)
	each(u.column(w.Yaw, m), func(s *Sample, v int64) { s.View.YawDeg = value(v, 1/degreeStep) })
	each(u.column(w.Pitch, m), func(s *Sample, v int64) { s.View.PitchDeg = value(v, 1/degreeStep) })
	each(u.runs(w.YawSE, m), func(s *Sample, v int64) { s.View.SEDeg = value(v, 1/degreeStep) })
	each(u.column(w.Palm, m), func(s *Sample, v int64) { s.PalmPixels = value(v, 1) })
	each(u.column(w.Speed, m), func(s *Sample, v int64) { s.SpeedPalms = value(v, 1/speedStep) })
	each(u.column(w.Middle[0], m), func(s *Sample, v int64) { s.Palm.X = value(v, 1) })
	each(u.column(w.Middle[1], m), func(s *Sample, v int64) { s.Palm.Y = value(v, 1) })
	for k := range w.Spread {
		each(u.column(w.Spread[k], m), func(s *Sample, v int64) { s.AbductionDeg[k] = value(v, 1/degreeStep) })
	}
	for k := range w.Points {
		each(u.column(w.Points[k], m), func(s *Sample, v int64) { s.Points[k/2][k%2] = value(v, pointSteps) })
	}
	for name, ch := range w.Channels {
		c, err := hand.ParseChannel(name)
		if err != nil {
			// A channel that a later program measured: what is known is kept.
			continue
		}
		values, raws := u.column(ch.Value, m), u.column(ch.Raw, m)
		se, states := u.runs(ch.SE, m), u.runs(ch.State, m)
		if u.err != nil {
			return nil, u.err
		}
		for i, s := range found {
			*measurement(&s.Sample, c) = hand.Measurement{
				FlexionDeg: value(values[i], 1/degreeStep), RawDeg: value(values[i]+raws[i], 1/degreeStep),
				SEDeg:  value(se[i], 1/seStep),
				Judged: states[i]&1 != 0, ExtensionJudged: states[i]&2 != 0,
				Why: reasonOf(states[i] >> 2 & 15), ExtensionWhy: reasonOf(states[i] >> 6 & 15),
			}
		}
	}
	return samples, u.err
}

// lost makes the sample say that the hand was not seen, as the goniometer does.
func lost(s *Sample) {
	for j := range s.Joints {
		s.Joints[j] = hand.Measurement{SEDeg: 90, Why: hand.NoHand, ExtensionWhy: hand.NoHand}
	}
	s.AbductionDeg = [3]float64{math.NaN(), math.NaN(), math.NaN()}
}

// differences turns values into the first and the differences, in place.
func differences(c column) column {
	for i := len(c) - 1; i > 0; i-- {
		c[i] -= c[i-1]
	}
	return c
}

// pack writes n values as runs.
func pack(n int, at func(int) int64) runs {
	var r runs
	last := int64(0)
	for i := 0; i < n; {
		v, k := at(i), i+1
		for k < n && at(k) == v {
			k++
		}
		r = append(r, int64(k-i), v-last)
		i, last = k, v
	}
	return r
}

// unpacker expands columns and keeps the first error.
type unpacker struct{ err error }

// sane keeps sums of hostile differences from running over.
const sane = 1 << 48

func (u *unpacker) column(c column, n int) []int64 {
	if u.err == nil && len(c) != n {
		u.err = fmt.Errorf("%w: a column of %d values for %d samples", ErrMalformed, len(c), n)
	}
	if u.err != nil {
		return nil
	}
	out := make([]int64, n)
	sum := int64(0)
	for i, d := range c {
		if d < -sane || d > sane || sum < -sane || sum > sane {
			u.err = fmt.Errorf("%w: a value out of range", ErrMalformed)
			return nil
		}
		sum += d
		out[i] = sum
	}
	return out
}

func (u *unpacker) runs(r runs, n int) []int64 {
	if u.err != nil {
		return nil
	}
	out := make([]int64, 0, n)
	sum := int64(0)
	for i := 0; i+1 < len(r); i += 2 {
		length, d := r[i], r[i+1]
		if length < 1 || length > int64(n-len(out)) || d < -sane || d > sane || sum < -sane || sum > sane {
			u.err = fmt.Errorf("%w: a run out of range", ErrMalformed)
			return nil
		}
		sum += d
		for range length {
			out = append(out, sum)
		}
	}
	if len(out) != n || len(r)%2 != 0 {
		u.err = fmt.Errorf("%w: runs of %d values for %d samples", ErrMalformed, len(out), n)
		return nil
	}
	return out
}
