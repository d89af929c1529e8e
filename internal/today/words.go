package today

import (
	"fmt"
	"math"
	"time"

	"volar/internal/coach"
	"volar/internal/hand"
)

// Estimate goes with every figure that a client is shown.
const Estimate = "Angles and counts are estimates, for review by your therapist."

// Minutes is a time as a client reads it.
func Minutes(d time.Duration) string {
	switch m := int(math.Ceil(d.Minutes() - 0.05)); {
	case m <= 1:
		return "about 1 minute"
	default:
		return fmt.Sprintf("about %d minutes", m)
	}
}

// Words tell a client what came of an exercise, one sentence each.
func Words(s *coach.PracticeSummary) []string {
	var out []string
	say := func(format string, args ...any) { out = append(out, fmt.Sprintf(format, args...)) }
	wanted := s.Wanted * s.Repetitions
	if byClient := saidDone(s); byClient > 0 {
		say("You did %s. This movement is not judged by the camera.", count(byClient, "set", "sets"))
	} else {
		say("%d of %d repetitions counted.", s.Counted, wanted)
	}
	if s.Partial > 0 {
		say("%s stopped short.", count(s.Partial, "repetition", "repetitions"))
	}
	met, short := 0, 0
	for i := range s.Sets {
		for _, h := range holds(&s.Sets[i]) {
			switch {
			case h.Met:
				met++
			case !h.Unsure:
				short++
			}
		}
	}
	switch {
	case met > 0 && short == 0:
		say("Every hold was long enough.")
	case short > 0:
		say("%s shorter than asked.", count(short, "hold was", "holds were"))
	}
	out = append(out, faults(s)...)
	if share := seen(s); share > 0 && share < 0.8 {
		say("For part of the time your hand could not be seen well enough to judge: %.0f %% was judged.", 100*share)
	}
	if s.PainBefore != nil && s.PainAfter != nil {
		say("Pain before %d, after %d.", *s.PainBefore, *s.PainAfter)
	}
	if s.GradeHint != "" {
		say("%s", s.GradeHint)
	}
	return out
}

func holds(s *coach.SetSummary) []coach.Hold {
	if s.Other == nil {
		return s.Holds
	}
	return append(s.Holds[:len(s.Holds):len(s.Holds)], s.Other.Holds...)
}

func saidDone(s *coach.PracticeSummary) (n int) {
	for i := range s.Sets {
		if s.Sets[i].ByClient {
			n++
		}
	}
	return n
}

// seen is the share of the time in which the movement could be followed.
func seen(s *coach.PracticeSummary) float64 {
	var all, read float64
	for i := range s.Sets {
		took := (s.Sets[i].End - s.Sets[i].Start).Seconds()
		all += took
		read += took * s.Sets[i].Measured
	}
	if all <= 0 {
		return 0
	}
	return read / all
}

// faults puts the flags together by kind and place.
func faults(s *coach.PracticeSummary) []string {
	type place struct {
		kind   coach.FlagKind
		joint  hand.Joint
		finger hand.Finger
	}
	type sum struct {
		n     int
		worst coach.Flag
	}
	var order []place
	sums := map[place]*sum{}
	for _, f := range s.Flags {
		if f.Kind == coach.ShortHold {
			continue // told with the holds
		}
		k := place{kind: f.Kind, joint: -1, finger: -1}
		if f.OnJoint && f.Kind != coach.IncompleteGrip {
			k.joint = f.Joint
		} else if f.OnFinger {
			k.finger = f.Finger
		}
		x := sums[k]
		if x == nil {
			x = &sum{worst: f}
			sums[k], order = x, append(order, k)
		}
		x.n++
		if f.Kind == coach.Hyperextension && f.PeakDeg < x.worst.PeakDeg || f.Kind == coach.OverFlexion && f.PeakDeg > x.worst.PeakDeg {
			x.worst = f
		}
	}
	var out []string
	for _, k := range order {
		out = append(out, fault(sums[k].worst, sums[k].n))
	}
	return out
}

func fault(f coach.Flag, n int) string {
	times := count(n, "time", "times")
	switch f.Kind {
	case coach.Hyperextension:
		return fmt.Sprintf("Your %s passed its limit %s, at most %s. The limit is set by your therapist or by the exercise.", Knuckle(f.Joint), times, Straight(f.PeakDeg))
	case coach.OverFlexion:
		return fmt.Sprintf("Your %s bent past its limit %s, at most to %.0f°.", Knuckle(f.Joint), times, f.PeakDeg)
	case coach.IncompleteGrip:
		if f.OnFinger {
			return fmt.Sprintf("The %s finger did not come in all the way %s.", f.Finger, times)
		}
		return fmt.Sprintf("The hand did not close all the way %s.", times)
	case coach.TooFast:
		return fmt.Sprintf("You moved faster than asked %s.", times)
	case coach.OutOfOrder:
		return fmt.Sprintf("A step came out of its order %s.", times)
	case coach.Unsteady:
		return fmt.Sprintf("The hand did not stay still %s.", times)
	case coach.Compensation:
		if f.Say == "" {
			return fmt.Sprintf("The fingers parted or something else moved along %s.", times)
		}
		return fmt.Sprintf("Something else moved along %s: %s", times, f.Say)
	}
	return fmt.Sprintf("%s, %s.", f.Kind, times)
}

// Straight puts an angle near straight into words without a bare sign.
func Straight(deg float64) string {
	switch d := math.Round(deg); {
	case d < 0:
		return fmt.Sprintf("%.0f° past straight", -d)
	case d > 0:
		return fmt.Sprintf("%.0f° short of straight", d)
	}
	return "straight"
}

// Knuckle names a joint as a client would.
func Knuckle(j hand.Joint) string {
	if j.Finger() == hand.Thumb {
		if j.Kind() == hand.IP {
			return "thumb's end joint"
		}
		return "thumb's middle joint"
	}
	level := [...]string{hand.MCP: "big", hand.PIP: "middle", hand.DIP: "end"}[j.Kind()]
	return fmt.Sprintf("%s finger's %s knuckle", j.Finger(), level)
}

func count(n int, one, many string) string {
	if n == 1 {
		return "1 " + one
	}
	return fmt.Sprintf("%d %s", n, many)
}
