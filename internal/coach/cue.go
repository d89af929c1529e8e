package coach

import (
	"fmt"
	"time"

	"volar/internal/exercise"
	"volar/internal/hand"
)

// How cues are spaced. A cue that is said again waits twice as long each time,
// so that it does not sound like an alarm, and begins anew when it was not
// needed for a while. One that came at a bad moment is said a little later.
const (
	cueQuiet   = 1500 * time.Millisecond
	cueAgain   = 6 * time.Second
	cueLongest = time.Minute
	cueKept    = 2 * time.Second
)

// Weights order what could be said at one moment: first what protects a joint,
// then what stands in the way of judging, then how the movement is done, then
// what comes next, then praise.
const (
	weightHyperextension = 100
	weightOverFlexion    = 90
	weightUnseen         = 70
	weightView           = 50
	weightCompensation   = 48
	weightTempo          = 46
	weightOrder          = 45
	weightIncomplete     = 44
	weightShortHold      = 42
	weightUnsteady       = 41
	weightCorrected      = 40
	weightSet            = 35
	weightRelease        = 30
	weightStep           = 28
	weightPraise         = 25
	weightHold           = 20
)

// cues remembers what was said. Two hands share one.
type cues struct {
	last time.Duration
	any  bool
	said map[string]*saying
	// late is what could not be said when it came up.
	late   candidate
	lateAt time.Duration
}

// saying is one sentence's history.
type saying struct {
	last time.Duration
	wait time.Duration // before it is said again
}

// candidate is something that could be said; a greater weight goes first.
type candidate struct {
	weight         int
	text           string
	urgent, praise bool
}

// cue chooses at most one sentence from what this sample brought about and
// from what is still wrong.
func (c *Coach) cue(at time.Duration) {
	var best candidate
	take := func(k candidate) {
		if k.weight > best.weight {
			best = k
		}
	}
	for _, e := range c.events {
		take(c.candidate(e))
	}
	for _, b := range c.bounds {
		if b.active && !b.inZone {
			take(c.flagCue(c.flags[b.flag]))
		}
	}
	if c.paused {
		take(c.unseenCue(c.pausedFor))
	}
	q := c.cues
	if late := q.late; late.text != "" && at-q.lateAt <= cueKept {
		take(late)
	}
	c.tell(at, best)
}

// tell says a sentence, unless it was said just now or something else was.
func (c *Coach) tell(at time.Duration, k candidate) {
	if k.text == "" {
		return
	}
	q := c.cues
	s := q.said[k.text]
	if s != nil && at-s.last < s.wait {
		return
	}
	if q.any && !k.urgent && at-q.last < cueQuiet {
		if q.late.text == "" || k.weight >= q.late.weight || at-q.lateAt > cueKept {
			q.late, q.lateAt = k, at
		}
		return
	}
	if s == nil {
		if q.said == nil {
			q.said = map[string]*saying{}
		}
		s = &saying{wait: cueAgain}
		q.said[k.text] = s
	} else if at-s.last < 4*s.wait {
		s.wait = min(2*s.wait, cueLongest)
	} else {
		s.wait = cueAgain
	}
	s.last, q.last, q.any, q.late = at, at, true, candidate{}
	c.emit(Cue{c.now(at), k.text, k.urgent, k.praise, k.weight})
}

func (c *Coach) candidate(e Event) candidate {
	switch e := e.(type) {
	case FlagRaised:
		return c.flagCue(e.Flag)
	case FlagEnded:
		if e.Flag.Kind == Hyperextension || e.Flag.Kind == OverFlexion {
			return candidate{weightCorrected, "Good, that is better.", false, true}
		}
	case CannotJudge:
		if e.Why == hand.WrongView {
			return candidate{weightView, viewCue(c.cfg.Movement.View.Best), false, false}
		}
	case HoldMet:
		if c.steps != nil {
			return candidate{weightStep, c.nextSay(), false, false}
		}
		return candidate{weightRelease, c.sayOf(exercise.Return, "Well held. Let go slowly."), false, false}
	case StepReached:
		if c.wanted == 0 {
			return candidate{weightStep, c.nextSay(), false, false}
		}
	case PhaseChanged:
		if c.steps != nil && e.To == AtRest {
			return candidate{weightStep, c.nextSay(), false, false}
		}
	case HoldStarted:
		return candidate{weightHold, c.sayOf(exercise.HoldPhase, "Hold."), false, false}
	case SetCompleted:
		return candidate{weightSet, fmt.Sprintf("Done: %d repetitions.", e.Counted), false, true}
	case RepetitionCounted:
		return c.praise(e.Repetition)
	}
	return candidate{}
}

// praise is due where the fault of the repetition before is gone.
func (c *Coach) praise(r Repetition) candidate {
	var before FlagKind
	for _, f := range c.flags {
		switch f.Repetition {
		case r.Number:
			return candidate{}
		case r.Number - 1:
			before = f.Kind
		}
	}
	k := candidate{weight: weightPraise, praise: true}
	switch before {
	case IncompleteGrip:
		k.text = "Good, that was further."
	case TooFast:
		k.text = "Good, that was the right pace."
	case ShortHold:
		k.text = "Good, that was held long enough."
	case Compensation, Unsteady, OutOfOrder:
		k.text = "Good, that was better."
	default:
		return candidate{}
	}
	return k
}

// sayOf is what the movement says as a phase begins.
func (c *Coach) sayOf(name exercise.PhaseName, otherwise string) string {
	for _, p := range c.cfg.Movement.Phases {
		if p.Name == name && p.Say != "" {
			return p.Say
		}
	}
	return otherwise
}

// which is "left " or "right " where two hands work, so that the client knows
// which is meant.
func (c *Coach) which() string {
	if c.member {
		return c.cfg.Side.String() + " "
	}
	return ""
}

// unseenCue says that the clock stands, and what to do.
func (c *Coach) unseenCue(why hand.Reason) candidate {
	k := candidate{weight: weightUnseen}
	h := c.which() + "hand"
	switch why {
	case hand.NoHand:
		k.text = "I cannot see your " + h + ". Bring it back into the picture; the clock waits."
	case hand.WrongView:
		k.text = viewCue(c.cfg.Movement.View.Best)
	case hand.Hidden:
		k.text = "I cannot see the fingers of your " + h + ". Turn it a little; the clock waits."
	case hand.TooSmall:
		k.text = "Your " + h + " is too far away. Come closer; the clock waits."
	case hand.TooFast:
		k.text = "Your " + h + " moves too fast to follow. A little slower."
	case hand.TooDark:
		k.text = "It is too dark to see your " + h + ". Turn on a light; the clock waits."
	default:
		k.text = "I cannot follow your " + h + ". Hold it still before a plain background; the clock waits."
	}
	return k
}

func viewCue(v exercise.View) string {
	switch {
	case v.YawDeg > 55 && v.YawDeg < 125:
		return "Turn the thumb side of your hand to the camera."
	case v.YawDeg < -55 && v.YawDeg > -125:
		return "Turn the little-finger side of your hand to the camera."
	case v.YawDeg >= -55 && v.YawDeg <= 55:
		return "Turn your palm to the camera."
	}
	return "Turn the back of your hand to the camera."
}

// knuckle names a joint as a client would.
func (c *Coach) knuckle(j hand.Joint) string {
	if j.Finger() == hand.Thumb {
		if j.Kind() == hand.IP {
			return c.which() + "thumb's end joint"
		}
		return c.which() + "thumb's middle joint"
	}
	level := map[hand.Kind]string{hand.MCP: "big", hand.PIP: "middle", hand.DIP: "end"}[j.Kind()]
	return c.which() + j.Finger().String() + " finger's " + level + " knuckle"
}

// digitName names a digit as a client would.
func digitName(f hand.Finger) string {
	if f == hand.Thumb {
		return "thumb"
	}
	return f.String() + " finger"
}

func (c *Coach) flagCue(f Flag) candidate {
	say := func(weight int, text string) candidate {
		if f.Say != "" {
			text = f.Say
		}
		return candidate{weight: weight, text: text}
	}
	switch f.Kind {
	case Hyperextension:
		if f.LimitDeg >= nearStraightDeg {
			return candidate{weightHyperextension, "Your " + c.knuckle(f.Joint) + " straightens too far. Bend it a little.", true, false}
		}
		return candidate{weightHyperextension, "Your " + c.knuckle(f.Joint) + " is bending backwards. Bend it a little.", true, false}
	case OverFlexion:
		return candidate{weightOverFlexion, "Your " + c.knuckle(f.Joint) + " bends too far. Ease off a little.", true, false}
	case IncompleteGrip:
		if f.OnFinger {
			return say(weightIncomplete, "Try to bring the "+c.which()+digitName(f.Finger)+" further.")
		}
		return say(weightIncomplete, "Try to go a little further.")
	case ShortHold:
		return say(weightShortHold, "Hold a little longer.")
	case TooFast:
		return say(weightTempo, "A little slower.")
	case OutOfOrder:
		return say(weightOrder, "One after the other, in order.")
	case Unsteady:
		return say(weightUnsteady, "Hold still and gently.")
	case Compensation:
		return say(weightCompensation, "Bring the fingers together.")
	}
	return candidate{}
}
