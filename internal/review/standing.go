package review

import (
	"cmp"
	"fmt"
	"slices"
	"time"

	"volar/internal/coach"
	"volar/internal/hand"
	"volar/internal/session"
)

const (
	// straightBelow bounds the readings of a middle knuckle that is straight,
	// in degrees.
	straightBelow = 12.0
	// standingDeg is how far past straight such readings lie in the middle
	// before that is told. Of 336 straight fingers of rendered hands in side views
	// five read so (models/README.md); it alarms nobody, and is told once. From
	// about 10 degrees the coach mostly flags it.
	standingDeg = -7.0
	// standingLong is for how long the joint must have been read straight.
	standingLong = 3 * time.Second
)

// Standing is a middle knuckle that read past straight whenever it was straight,
// without a fall that would have been flagged: the client's hand, or the
// camera's error. The coach cannot tell them apart, and a therapist can.
type Standing struct {
	// Joint as in a flag's subject, such as "index.pip".
	Joint string `json:"joint"`
	// Side is the joint's hand where two were recorded; else it is not known.
	Side hand.Side `json:"side,omitempty"`
	// Deg is the middle of its straight readings, below zero.
	Deg float64 `json:"deg"`
}

// At names the joint, such as "index PIP", and its hand where two were recorded.
func (s Standing) At() string {
	return subjectWords(s.Joint) + HandWords(s.Side)
}

// Words tell a therapist of it in one line that alarms nobody.
func (s Standing) Words() string {
	return fmt.Sprintf("%s read about %.0f° past straight whenever it was straight. %s", Capital(s.At()), -s.Deg, StandingAdvice)
}

// StandingAdvice is what to make of a joint that read past straight all the
// time.
const StandingAdvice = "Nothing was flagged, because it may be the hand or the camera: measure it with a goniometer."

// standing finds such joints in a session.
func standing(s *session.Session) []Standing {
	var out []Standing
	hands := Hands([]*session.Session{s}, hand.UnknownSide)
	for _, side := range hands {
		flagged := map[string]bool{}
		for _, f := range session.Flags(s.Events) {
			if coach.FlagKind(f.Kind) == coach.Hyperextension && sameHand(f.Side, side) {
				flagged[f.Subject] = true
			}
		}
		for _, f := range hand.Fingers {
			j := hand.JointOf(f, hand.PIP)
			if flagged[j.String()] {
				continue
			}
			deg, ok := whereStraight(s, side, j)
			if !ok || deg > standingDeg {
				continue
			}
			x := Standing{Joint: j.String(), Deg: deg}
			if len(hands) > 1 {
				x.Side = side
			}
			out = append(out, x)
		}
	}
	return out
}

// whereStraight is the median of a joint's readings while it was straight and in
// a view that shows whether it is past straight; ok is false where they are few.
// An unknown side is the hand that each exercise is for.
func whereStraight(s *session.Session, side hand.Side, j hand.Joint) (deg float64, ok bool) {
	var read []float64
	var long time.Duration
	for i := range s.Exercises {
		from, to, own, _ := span(s, s.Exercises[i].Number)
		last := time.Duration(-1)
		for k := range s.Samples {
			x := &s.Samples[k]
			if x.Time < from || x.Time > to || !ofSide(x, cmp.Or(side, own)) || !x.Found {
				continue
			}
			m := &x.Joints[j]
			if !m.Judged || !m.ExtensionJudged || m.FlexionDeg >= straightBelow {
				last = -1
				continue
			}
			if last >= 0 && x.Time-last <= gap {
				long += x.Time - last
			}
			last = x.Time
			read = append(read, m.FlexionDeg)
		}
	}
	if long < standingLong {
		return 0, false
	}
	slices.Sort(read)
	return (read[(len(read)-1)/2] + read[len(read)/2]) / 2, true
}

// newStanding lists, in words, the joints that no earlier session has so.
func (m *Summary) newStanding(earlier []Summary) []string {
	var fresh []string
	for _, s := range m.Standing {
		known := slices.ContainsFunc(earlier, func(e Summary) bool {
			return slices.ContainsFunc(e.Standing, func(o Standing) bool { return o.Joint == s.Joint && sameHand(o.Side, s.Side) })
		})
		if !known {
			fresh = append(fresh, fmt.Sprintf("%s %.0f°", s.At(), -s.Deg))
		}
	}
	return fresh
}
