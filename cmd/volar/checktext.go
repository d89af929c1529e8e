package main

import (
	"fmt"
	"io"
	"math"
	"strings"
	"time"

	"volar/internal/coach"
	"volar/internal/exercise"
	"volar/internal/hand"
)

// print writes the result for a person.
func (r *checkResult) print(w io.Writer) error {
	b := &printer{w: w}
	name := r.Exercise
	if m, err := exercise.Find(r.Exercise); err == nil {
		name = m.Name
	}
	b.f("%s, %s hand\n", name, r.Side)
	if p := r.Program; p != nil {
		b.f("By the program of %s, version %d, on %s: %s\n", p.Client, p.Version, p.Date.Words(), p.Exercise)
	}
	b.f("%s: %.1f s, %s, movement followed in %.0f %% of the time\n\n", r.Video, r.DurationS, plural(r.Frames, "picture", "pictures"), 100*r.Measured)
	b.counts(r.Repetitions)
	r.printSets(b)
	b.holds(r.Holds)
	b.flags(r.summary.Flags)
	r.printBoth(b)
	r.printNotJudged(b)
	b.f("\nSeen range of each joint, degrees of flexion (? = not judged)\n")
	b.f("  %-8s%20s%20s%20s\n", "", "MCP (thumb MP)", "PIP (thumb IP)", "DIP")
	row := func(name string, joints ...hand.Joint) {
		b.f("  %-8s", name)
		for _, j := range joints {
			b.f("%20s", r.rangeText(j))
		}
		b.f("\n")
	}
	for _, f := range hand.Fingers {
		row(f.String(), hand.JointOf(f, hand.MCP), hand.JointOf(f, hand.PIP), hand.JointOf(f, hand.DIP))
	}
	row("thumb", hand.ThumbMP, hand.ThumbIP)
	b.f("\nAngles are estimates, for review by your therapist. One picture took %.1f ms (median), %.1f times real time.\n",
		r.Timing.FrameMSMedian, r.Timing.Realtime)
	return b.err
}

func (b *printer) counts(n repetitionsResult) {
	b.f("Repetitions  %d counted", n.Counted)
	if n.Partial > 0 {
		b.f(", %d partial", n.Partial)
	}
	if n.Unjudged > 0 {
		b.f(", %d could not be judged", n.Unjudged)
	}
	b.f("\n")
}

func (b *printer) holds(holds []holdResult) {
	for i, h := range holds {
		verdict := "met"
		switch {
		case h.Unsure:
			verdict = "not seen long enough to say"
		case !h.Met:
			verdict = "short"
		}
		b.f("%-13s%d.  %4.1f to %4.1f s  held %.1f s", map[bool]string{true: "Holds"}[i == 0], i+1, h.StartS, h.EndS, h.HeldS)
		if h.WantedS > 0 {
			b.f(" of %.1f s  %s", h.WantedS, verdict)
		}
		b.f("\n")
	}
}

func (b *printer) flags(flags []coach.Flag) {
	for i, f := range flags {
		b.f("%-13s%s\n", map[bool]string{true: "Flags"}[i == 0], flagText(f))
	}
	if len(flags) == 0 {
		b.f("Flags        none\n")
	}
}

func (r *checkResult) rangeText(j hand.Joint) string {
	a, ok := r.Angles[j.String()]
	if !ok {
		return "?"
	}
	return angleText(a.MinDeg) + " to " + angleText(a.MaxDeg)
}

// printNotJudged says what the view could not show, joints with the same
// answer on one line.
func (r *checkResult) printNotJudged(b *printer) {
	type line struct{ what, why string }
	var order []line
	joints := map[line][]string{}
	share := map[line]float64{}
	for _, n := range r.NotJudged {
		l := line{"angle", string(n.Why)}
		if n.What == "extension" {
			l.what = "whether past straight"
		}
		if joints[l] == nil {
			order = append(order, l)
		}
		joints[l] = append(joints[l], fmt.Sprintf("%s %.0f %%", n.Joint, 100*n.Share))
		share[l] = math.Max(share[l], n.Share)
	}
	for i, l := range order {
		b.f("%-13s%s (%s): %s of the time\n", map[bool]string{true: "Not judged"}[i == 0], l.what, l.why, strings.Join(joints[l], ", "))
	}
}

// flagText is one flag in a sentence.
func flagText(f coach.Flag) string {
	when := fmt.Sprintf("%.1f to %.1f s", f.Start.Seconds(), f.End.Seconds())
	subject := strings.ReplaceAll(f.Subject(), ".", " ")
	subject = strings.NewReplacer("pip", "PIP", "dip", "DIP", "mcp", "MCP", " mp", " MP", " ip", " IP").Replace(subject)
	var what string
	switch f.Kind {
	case coach.Hyperextension:
		what = fmt.Sprintf("%s %s straight (limit set: %s; ± %.0f°)", subject, pastStraight(f.PeakDeg), limitText(f.LimitDeg), f.SEDeg)
	case coach.OverFlexion:
		what = fmt.Sprintf("%s bent to %.0f° (limit set: %.0f°; ± %.0f°)", subject, f.PeakDeg, f.LimitDeg, f.SEDeg)
	case coach.IncompleteGrip:
		what = "grip not fully closed"
		if subject != "" {
			what += fmt.Sprintf(": %s %.0f° short of %.0f° in all joints together", subject, f.LimitDeg-f.PeakDeg, f.LimitDeg)
		}
	case coach.ShortHold:
		what = fmt.Sprintf("held %.1f s of %.1f s", f.Took.Seconds(), f.Wanted.Seconds())
	case coach.TooFast:
		what = fmt.Sprintf("too fast: %.1f s, at least %.1f s wanted", f.Took.Seconds(), f.Wanted.Seconds())
	default:
		what = string(f.Kind)
		if subject != "" {
			what += ": " + subject
		}
		if f.Say != "" {
			what += " – " + f.Say
		}
	}
	return fmt.Sprintf("%s, %s, repetition %d", what, when, f.Repetition)
}

// pastStraight writes an angle below a lower limit without a sign.
func pastStraight(deg float64) string {
	if deg < 0 {
		return fmt.Sprintf("%.0f° past", -deg)
	}
	return fmt.Sprintf("%.0f° from", deg)
}

func limitText(deg float64) string {
	switch {
	case deg == 0:
		return "straight"
	case deg < 0:
		return fmt.Sprintf("%.0f° past straight", -deg)
	}
	return fmt.Sprintf("%.0f° short of straight", deg)
}

// clock writes a time in a clip.
func clock(d time.Duration) string { return fmt.Sprintf("%.1f s", d.Seconds()) }
