package review

import (
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
	// before that is told. Fingers that were straight read so with a standard
	// deviation of 4 degrees between hands (models/README.md), so that one in
	// twenty or so is told of wrongly; it alarms nobody, and is told once.
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
	// Deg is the middle of its straight readings, below zero.
	Deg float64 `json:"deg"`
}

// standing finds such joints in a session.
func standing(s *session.Session) []Standing {
	flagged := map[string]bool{}
	for _, f := range session.Flags(s.Events) {
		if coach.FlagKind(f.Kind) == coach.Hyperextension {
			flagged[f.Subject] = true
		}
	}
	var out []Standing
	for _, f := range hand.Fingers {
		j := hand.JointOf(f, hand.PIP)
		if flagged[j.String()] {
			continue
		}
		if deg, ok := whereStraight(s, j); ok && deg <= standingDeg {
			out = append(out, Standing{j.String(), deg})
		}
	}
	return out
}

// whereStraight is the median of a joint's readings while it was straight and in
// a view that shows whether it is past straight; ok is false where they are few.
func whereStraight(s *session.Session, j hand.Joint) (deg float64, ok bool) {
	var read []float64
	var long time.Duration
	for i := range s.Exercises {
		from, to, side, _ := span(s, s.Exercises[i].Number)
		last := time.Duration(-1)
		for k := range s.Samples {
			x := &s.Samples[k]
			if x.Time < from || x.Time > to || !ofSide(x, side) || !x.Found {
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
			return slices.ContainsFunc(e.Standing, func(o Standing) bool { return o.Joint == s.Joint })
		})
		if !known {
			fresh = append(fresh, fmt.Sprintf("%s %.0f°", subjectWords(s.Joint), -s.Deg))
		}
	}
	return fresh
}
