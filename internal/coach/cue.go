package coach

import (
	"fmt"
	"time"

	"volar/internal/exercise"
	"volar/internal/hand"
)

const (
	// cueQuiet is the least time between two cues that are not urgent, and
	// cueAgain before the same one is said again.
	cueQuiet = 1500 * time.Millisecond
	cueAgain = 6 * time.Second
)

// cues remembers what was said.
type cues struct {
	last time.Duration
	any  bool
	said map[string]time.Duration
}

// candidate is something that could be said; a greater weight goes first.
type candidate struct {
	weight int
	text   string
	urgent bool
}

// cue chooses at most one sentence from what this sample brought about.
func (c *Coach) cue(at time.Duration) {
	var best candidate
	for _, e := range c.events {
		if k := c.candidate(e); k.weight > best.weight {
			best = k
		}
	}
	if best.text == "" {
		return
	}
	q := &c.cues
	if last, ok := q.said[best.text]; ok && at-last < cueAgain {
		return
	}
	if q.any && !best.urgent && at-q.last < cueQuiet {
		return
	}
	if q.said == nil {
		q.said = map[string]time.Duration{}
	}
	q.said[best.text], q.last, q.any = at, at, true
	c.emit(Cue{stamp{at}, best.text, best.urgent})
}

func (c *Coach) candidate(e Event) candidate {
	switch e := e.(type) {
	case FlagRaised:
		return flagCue(e.Flag)
	case FlagEnded:
		if e.Flag.Kind == Hyperextension || e.Flag.Kind == OverFlexion {
			return candidate{40, "Good, that is better.", false}
		}
	case Paused:
		if e.Why == hand.NoHand {
			return candidate{70, "I cannot see your hand.", false}
		}
		return candidate{60, "I cannot follow your hand: " + string(e.Why) + ".", false}
	case CannotJudge:
		if e.Why == hand.WrongView {
			return candidate{50, viewCue(c.cfg.Movement.View.Best), false}
		}
	case HoldMet:
		return candidate{30, c.sayOf(exercise.Return, "Well held. Let go slowly."), false}
	case HoldStarted:
		return candidate{20, c.sayOf(exercise.HoldPhase, "Hold."), false}
	case SetCompleted:
		return candidate{35, fmt.Sprintf("Done: %d repetitions.", e.Counted), false}
	}
	return candidate{}
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
func knuckle(j hand.Joint) string {
	if j.Finger() == hand.Thumb {
		if j.Kind() == hand.IP {
			return "thumb's end joint"
		}
		return "thumb's middle joint"
	}
	level := map[hand.Kind]string{hand.MCP: "big", hand.PIP: "middle", hand.DIP: "end"}[j.Kind()]
	return j.Finger().String() + " finger's " + level + " knuckle"
}

func flagCue(f Flag) candidate {
	switch f.Kind {
	case Hyperextension:
		if f.LimitDeg >= nearStraightDeg {
			return candidate{100, "Your " + knuckle(f.Joint) + " straightens too far. Bend it a little.", true}
		}
		return candidate{100, "Your " + knuckle(f.Joint) + " is bending backwards. Bend it a little.", true}
	case OverFlexion:
		return candidate{90, "Your " + knuckle(f.Joint) + " bends too far. Ease off a little.", true}
	case IncompleteGrip:
		if f.OnFinger {
			return candidate{44, "Try to bring the " + f.Finger.String() + " finger in further.", false}
		}
		return candidate{44, "Try to close a little further.", false}
	case ShortHold:
		return candidate{42, "Hold a little longer.", false}
	case TooFast:
		return candidate{46, "A little slower.", false}
	case Compensation:
		if f.Say != "" {
			return candidate{48, f.Say, false}
		}
		if f.OnFinger {
			return candidate{48, "Bring the fingers together.", false}
		}
	}
	return candidate{}
}
