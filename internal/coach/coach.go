package coach

import (
	"time"

	"volar/internal/exercise"
	"volar/internal/hand"
)

// longestInterval bounds what is taken for the usual time between samples; a
// longer one is a gap.
const longestInterval = 500 * time.Millisecond

// Coach judges one hand doing one movement. New makes one.
type Coach struct {
	cfg     Config
	origins []*origin
	// closing, measure, cycle and wanted are those of the movement or, in a
	// sequence, of the step at hand.
	closing *closing
	measure *exercise.Measure
	cycle   *cycle
	wanted  time.Duration // time to hold
	steps   *sequence     // nil where the movement is none
	frames  []frame
	place   place
	bounds  []*bound
	watches []watch
	spans   [hand.NumChannels]span

	events  []Event
	flags   []Flag
	reps    []Repetition
	holds   []Hold
	cues    *cues
	counted int
	partial int
	// unjudged counts attempts that were neither.
	unjudged int

	started         bool
	finished        bool
	first, last     time.Duration
	samples, missed int
	// interval is the running mean time between samples.
	interval time.Duration
	// lastRead is when the movement was last followed.
	lastRead time.Duration
	read     time.Duration // time in which it was
	idle     time.Duration // time in which nobody watched
	yaw      float64       // of the hand as it was last found, in degrees
	paused   bool
	// pausedFor is why it is paused.
	pausedFor hand.Reason
	// member is true for one of two hands, which are counted together.
	member bool
}

// bound is one watched limit with the flag that is raised for it.
type bound struct {
	excursion
	kind FlagKind
	// what is bounded: a channel, or the place of the hand where arm is true.
	what hand.Channel
	arm  bool
	// inZone bounds hold only while the end pose is held, and those of the arm
	// during an attempt.
	inZone bool
	say    string
	flag   int // index of the raised flag
}

// New returns a coach for the configuration, or an error that says what makes
// no sense in it.
func New(cfg Config) (*Coach, error) {
	cfg, err := cfg.resolve()
	if err != nil {
		return nil, err
	}
	c := &Coach{cfg: cfg, cues: &cues{}, measure: &cfg.Movement.Measure, cycle: newCycle(), wanted: cfg.Hold, place: newPlace()}
	for i := range c.spans {
		c.spans[i] = newSpan()
	}
	all := []*closing{}
	if m := cfg.Movement; m.Kind == exercise.Sequence {
		c.steps = newSequence(cfg)
		for _, st := range c.steps.steps {
			all = append(all, st.closing)
		}
		c.at(c.steps.steps[0])
	} else {
		c.closing = newClosing(m, m.Measure, "", cfg.Own)
		all = append(all, c.closing)
	}
	c.origins = origins(all)
	for j := hand.Joint(0); j < hand.NumJoints; j++ {
		l := cfg.Limits[j]
		c.bound(l.Lower, false, bound{kind: Hyperextension, what: hand.Channel(j)})
		c.bound(l.Upper, true, bound{kind: OverFlexion, what: hand.Channel(j)})
	}
	judge := &cfg.Movement.Judge
	for _, k := range judge.Keep {
		for _, ch := range k.All() {
			c.bound(k.From, false, bound{kind: Compensation, what: ch, inZone: true, say: k.Say})
			c.bound(k.To, true, bound{kind: Compensation, what: ch, inZone: true, say: k.Say})
		}
	}
	if deg := judge.ApartDeg; deg != 0 {
		for ch := hand.SpreadIndexMiddle; ch <= hand.SpreadRingLittle; ch++ {
			c.bound(&deg, true, bound{kind: Compensation, what: ch, inZone: true})
		}
	}
	if palms := judge.StayPutPalms; palms != 0 {
		percent := 100 * palms
		c.bound(&percent, true, bound{kind: Compensation, arm: true, say: "Keep your arm still; let the fingers do the work."})
	}
	c.watches = watched(c.bounds, all)
	return c, nil
}

// bound sets up the watch of one end of a range; nil is no limit.
func (c *Coach) bound(end *float64, upper bool, b bound) {
	if end == nil {
		return
	}
	_, joint := b.what.Joint()
	b.excursion = *newExcursion(*end, upper, joint && !b.arm, c.cfg.Tolerances)
	// The range that a movement keeps a joint in ends some 30 degrees beyond its
	// pose (common practice has 20 to 25), so that the doubt of a reading is in it
	// already. It is not added once more: a finger that strays is read with twice
	// the error of one that does not.
	if joint && b.inZone {
		b.greatest = c.cfg.Tolerances.LeastMarginDeg
	}
	if c.cfg.Zeroed && b.straight {
		b.own.zero, b.own.fixed = 0, true
	}
	c.bounds = append(c.bounds, &b)
}

// watched lists what must be judged: the channels of the measures, and those
// with a limit.
func watched(bounds []*bound, all []*closing) []watch {
	var extension, plain [hand.NumChannels]bool
	for _, b := range bounds {
		switch {
		case b.arm:
		case b.straight:
			extension[b.what] = true
		default:
			plain[b.what] = true
		}
	}
	var list []watch
	for ch := hand.Channel(0); ch < hand.NumChannels; ch++ {
		for _, m := range all {
			plain[ch] = plain[ch] || m.weight[ch] != 0
		}
		if plain[ch] {
			list = append(list, watch{what: ch})
		}
		if extension[ch] {
			list = append(list, watch{what: ch, extension: true})
		}
	}
	return list
}

func (c *Coach) emit(e Event) { c.events = append(c.events, e) }

func (c *Coach) now(at time.Duration) stamp { return stamp{at, c.cfg.Side} }

// Push takes the next sample and returns what it brought about, oldest first.
// The slice is the caller's. A sample that does not come after the one before,
// or comes after Finish, changes nothing.
func (c *Coach) Push(s hand.Sample) []Event {
	c.events = nil
	if c.finished || c.started && s.Time <= c.last {
		c.missed++
		return nil
	}
	var dt time.Duration
	if c.started {
		dt = s.Time - c.last
	} else {
		c.started, c.first, c.lastRead = true, s.Time, s.Time
	}
	gap := dt > longestInterval
	switch {
	case dt == 0 || gap:
	case c.interval == 0:
		c.interval = dt
	default:
		c.interval += (dt - c.interval) / 8
	}
	c.last = s.Time
	c.samples++
	for _, o := range c.origins {
		o.move(&s)
	}

	for i := range c.watches {
		c.watches[i].push(&s, dt, gap)
	}
	if s.Found {
		c.yaw = s.View.YawDeg
		for ch := range c.spans {
			m := s.Channel(hand.Channel(ch))
			c.spans[ch].push(s.Time, &m, ch < hand.NumJoints)
		}
	}
	c.place.push(&s)
	a := c.reading(&s)
	if !a.ok && c.stays(&s) {
		last := c.cycle.trail[len(c.cycle.trail)-1]
		a = along{share: last.share, mean: last.mean, ok: true, stays: true}
	}
	c.pace(s.Time, dt, &a)
	switch {
	case !a.ok || c.cfg.Movement.Kind == exercise.Unmeasured:
	case c.steps != nil:
		c.keep(&s)
		c.followSteps(s.Time)
	default:
		c.keep(&s)
		c.follow(s.Time, &a)
	}
	if s.Found {
		for _, b := range c.bounds {
			c.bounded(b, &s)
		}
	}
	c.news(s.Time)
	c.cue(s.Time)
	return c.events
}

// pace keeps the account of the time in which the movement can be followed,
// and pauses.
func (c *Coach) pace(at, dt time.Duration, a *along) {
	away := at - c.lastRead
	long := away-min(c.interval, longestInterval) > c.cfg.Tolerances.DropOut
	if long && !c.paused && c.cfg.Movement.Kind != exercise.Unmeasured {
		c.paused = true
		why := a.why
		if a.ok {
			why = hand.NoHand
		}
		c.pausedFor = why
		c.emit(Paused{c.now(at), why})
	}
	if !a.ok {
		return
	}
	if !long {
		c.read += dt
	} else {
		c.interrupt(gap{c.lastRead, at})
	}
	if c.paused {
		c.paused = false
		c.emit(Resumed{c.now(at), away})
	}
	c.lastRead = at
}

// reading measures one sample. A sequence can be followed where the step at
// hand or the one that is due can.
func (c *Coach) reading(s *hand.Sample) along {
	if c.steps != nil {
		return c.steps.read(s)
	}
	return c.closing.read(s)
}

// interrupt tells all that follows the movement of a time that was not seen.
func (c *Coach) interrupt(g gap) {
	c.cycle.resume(g)
	// A hand that comes back into the picture lies elsewhere; that is no arm at
	// work.
	c.place.known = false
	if c.steps != nil {
		c.steps.interrupt(g)
	}
}

// bounded compares one sample with one limit.
func (c *Coach) bounded(b *bound, s *hand.Sample) {
	r := reading{at: s.Time}
	if b.arm {
		percent, ok := c.place.moved()
		if !ok {
			return
		}
		r.v, r.se = percent, placeSE
	} else {
		m := s.Channel(b.what)
		if !judged(&m) || b.straight && !m.ExtensionJudged {
			return
		}
		r.v, r.se = m.RawDeg, m.SEDeg
	}
	if b.inZone && c.cycle.phase != InEndZone || b.arm && c.cycle.try == nil {
		if b.active {
			b.active = false
			c.endFlag(b, s.Time, b.outside)
		}
		b.win.reset()
		b.light.reset()
		return
	}
	change := b.push(r)
	if b.active && !b.arm && c.cycle.stay != nil {
		c.cycle.stay.disturbed = true
	}
	switch change {
	case raised:
		f := Flag{Kind: b.kind, Side: c.cfg.Side, Start: max(b.start, c.first), End: s.Time, LimitDeg: b.limit, PeakDeg: b.angle(b.peak), SEDeg: b.peakSE, Repetition: c.cycle.number(), Say: b.say}
		b.name(&f)
		b.flag = len(c.flags)
		c.flags = append(c.flags, f)
		c.emit(FlagRaised{c.now(s.Time), f})
	case ended:
		c.endFlag(b, s.Time, b.outside)
	default:
		if b.active {
			f := &c.flags[b.flag]
			f.End, f.PeakDeg, f.SEDeg = b.outside, b.angle(b.peak), b.peakSE
			f.End = max(f.End, f.Start)
		}
	}
}

// name says in the flag where the fault is.
func (b *bound) name(f *Flag) {
	if b.arm {
		f.Name = "arm"
		return
	}
	if j, ok := b.what.Joint(); ok {
		f.OnJoint, f.Joint = true, j
		return
	}
	f.Name = b.what.String()
	if g, ok := b.what.Finger(); ok {
		f.OnFinger, f.Finger, f.Between = true, g, g
		if b.what <= hand.SpreadRingLittle {
			f.Between = g + 1
		}
	}
}

func (c *Coach) endFlag(b *bound, at, end time.Duration) {
	f := &c.flags[b.flag]
	f.End, f.PeakDeg, f.SEDeg = max(end, f.Start), b.angle(b.peak), b.peakSE
	c.emit(FlagEnded{c.now(at), *f})
}

// flagAtOnce records a fault that is over as it is noticed. A fitted way may
// reach beyond what was recorded, a flag must not.
func (c *Coach) flagAtOnce(at time.Duration, f Flag) {
	f.Side, f.Repetition = c.cfg.Side, c.cycle.number()
	f.Start, f.End = c.recorded(f.Start), c.recorded(f.End)
	c.flags = append(c.flags, f)
	c.emit(FlagRaised{c.now(at), f})
	c.emit(FlagEnded{c.now(at), f})
}

// recorded brings a time into the recording.
func (c *Coach) recorded(t time.Duration) time.Duration { return min(max(t, c.first), c.last) }
