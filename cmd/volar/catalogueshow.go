package main

import (
	"cmp"
	"fmt"
	"maps"
	"math"
	"slices"
	"strings"

	"volar/internal/exercise"
	"volar/internal/hand"
	"volar/internal/program"
)

// printMovement shows one movement as a therapist reads it: what for, how, how
// much, what is judged, when not.
func printMovement(b *printer, m *exercise.Movement) error {
	b.f("%s (%s)\n", m.Name, m.ID)
	b.wrapped("  ", "  ", m.Purpose)
	row := func(word, text string) { b.wrapped("  "+pad(word, 10), strings.Repeat(" ", 12), text) }
	b.f("\nCamera\n")
	row("best", m.View.Best.Name+" view. "+m.View.Best.Shows)
	row("second", m.View.Second.Name+" view. "+m.View.Second.Shows)
	if m.Hands == 2 {
		b.f("\nHands\n")
		b.wrapped("  ", "  ", map[exercise.Pair]string{exercise.Together: "both, at the same time", exercise.Alternating: "both, one after the other"}[m.Pair])
	}
	if len(m.Objects) > 0 {
		b.f("\nObject\n")
		for _, g := range []exercise.Grade{exercise.Easier, exercise.Usual, exercise.Harder} {
			for _, o := range m.Objects {
				if o.Grade == g {
					row(string(g), o.Name+" ("+o.ID+")")
				}
			}
		}
	}
	b.f("\nDose, usual\n")
	b.wrapped("  ", "  ", doseText(m.Dose))
	b.f("\nOne repetition\n")
	told := map[string]bool{}
	for i, p := range m.Phases {
		// A pose is described as the hand first comes to it.
		text := p.Say
		if !told[p.To] && p.Name != exercise.HoldPhase {
			text += " " + m.PoseWords[p.To]
			told[p.To] = true
		}
		name, text := string(p.Name), strings.TrimSpace(text)
		switch {
		case p.Name == exercise.HoldPhase && p.To == m.Measure.From && i == len(m.Phases)-1:
			// Where the movement began it is no hold to be met.
			name, text = "rest", cmp.Or(text, "A moment, then the next.")
		case text == "" && p.Name == exercise.HoldPhase:
			text = "Stay there."
		case text == "":
			text = "As before."
		}
		row(name, text)
	}
	printMeasured(b, m)
	printPoses(b, m)
	list := func(title string, items ...string) {
		if len(items) == 0 {
			return
		}
		b.f("\n%s\n", title)
		for _, s := range items {
			b.wrapped("  - ", "    ", s)
		}
	}
	list("A good repetition", m.Good)
	list("A poor one", m.Poor...)
	list("Cautions", m.Cautions...)
	list("Ask the surgeon or doctor first", m.AskFirst...)
	list("What the camera does not see", m.Notes...)
	list("Sources", m.Sources...)
	return b.err
}

// printMeasured says what counts a repetition and what is judged beside it.
func printMeasured(b *printer, m *exercise.Movement) {
	item := func(format string, a ...any) { b.wrapped("  - ", "    ", fmt.Sprintf(format, a...)) }
	b.f("\nCounted by\n")
	switch m.Kind {
	case exercise.Unmeasured:
		item("nothing: it is shown, and the client counts")
	case exercise.Sequence:
		for _, s := range m.Steps {
			item("%s: %s", s.Name, wayText(m, &s.Measure))
		}
	default:
		item("%s", wayText(m, &m.Measure))
	}
	var judged []string
	for _, l := range m.Judge.Lower {
		judged = append(judged, jointsText(l.Joints)+" not past "+boundText(l.Deg))
	}
	for _, l := range m.Judge.Upper {
		judged = append(judged, fmt.Sprintf("%s bent no further than %s°", jointsText(l.Joints), trim(l.Deg)))
	}
	if m.Judge.IncompleteGrip {
		judged = append(judged, "which finger stops short")
	}
	keeps := m.Judge.Keep
	for _, s := range m.Steps {
		keeps = append(slices.Clone(keeps), s.Keep...)
	}
	for _, k := range keeps {
		judged = append(judged, strings.TrimSuffix(k.Say, ".")+" ("+rangeText(k)+")")
	}
	if m.Judge.ApartDeg > 0 {
		judged = append(judged, fmt.Sprintf("neighbouring fingers part by no more than %s°", trim(m.Judge.ApartDeg)))
	}
	if m.Judge.SteadyDeg > 0 {
		judged = append(judged, fmt.Sprintf("the hold stays steady within %s°", trim(m.Judge.SteadyDeg)))
	}
	if m.Judge.StayPutPalms > 0 {
		judged = append(judged, fmt.Sprintf("the hand stays where it is, within %s of the palm's length", percent(m.Judge.StayPutPalms)))
	}
	if m.Judge.Order {
		judged = append(judged, "the order of the steps")
	}
	if len(judged) > 0 {
		b.f("\nJudged, where no limit of the therapist goes before\n")
		for _, j := range judged {
			item("%s", j)
		}
	}
}

func percent(x float64) string { return fmt.Sprintf("%.0f %%", 100*x) }

// boundText puts a lower limit in words.
func boundText(deg float64) string {
	if deg == 0 {
		return "straight"
	}
	return limitText(deg)
}

// wayText names the channels of a measure, and the way of those that no key
// pose shows.
func wayText(m *exercise.Movement, k *exercise.Measure) string {
	var joints exercise.Joints
	var parts []string
	for c := hand.Channel(0); c < hand.NumChannels; c++ {
		if k.Weights[c] == 0 {
			continue
		}
		if j, ok := c.Joint(); ok {
			joints = append(joints, j)
			continue
		}
		w := m.Way(k, c)
		parts = append(parts, fmt.Sprintf("%s from %s to %s", channelText(c), valueText(c, w.From), valueText(c, w.To)))
	}
	if len(joints) > 0 {
		parts = append([]string{"the bend of " + jointsText(joints)}, parts...)
	}
	return strings.Join(parts, ", ")
}

func channelText(c hand.Channel) string {
	digit, level, _ := strings.Cut(c.String(), ".")
	switch level {
	case "spread":
		return "spread of " + strings.Replace(digit, "-", " and ", 1)
	case "pinch":
		return "distance of the thumb's tip from that of the " + digit + " finger"
	case "palmar", "radial":
		return level + " abduction of the thumb"
	case "tilt":
		return "tilt of the hand in the picture"
	}
	return "turn of the hand"
}

func valueText(c hand.Channel, x float64) string {
	if c.Pinch() {
		return trim(x) + " % of the palm's length"
	}
	if x < 0 && (c == hand.ThumbPalmar || c == hand.ThumbRadial) {
		return trim(-x) + "° behind the index finger's side"
	}
	return trim(x) + "°"
}

func rangeText(k exercise.Keep) string {
	var ends []string
	if k.From != nil {
		ends = append(ends, "at least "+trim(*k.From)+"°")
	}
	if k.To != nil {
		ends = append(ends, "at most "+trim(*k.To)+"°")
	}
	what := jointsText(k.Joints)
	if len(k.Channels) > 0 {
		names := make([]string, len(k.Channels))
		for i, c := range k.Channels {
			names[i] = channelText(c)
		}
		what = strings.Join(names, ", ")
	}
	return what + " " + strings.Join(ends, " and ")
}

// jointsText names joints, whole rows of them in short.
func jointsText(joints []hand.Joint) string {
	var parts []string
	left := slices.Clone(joints)
	for _, level := range []string{"mcp", "pip", "dip"} {
		row, err := hand.ParseJoints("*." + level)
		if err != nil || len(row) == 0 {
			continue
		}
		all := true
		for _, j := range row {
			all = all && slices.Contains(left, j)
		}
		if all {
			parts = append(parts, "all "+strings.ToUpper(level))
			left = slices.DeleteFunc(left, func(j hand.Joint) bool { return slices.Contains(row, j) })
		}
	}
	for _, j := range left {
		parts = append(parts, program.JointWords(j))
	}
	return strings.Join(parts, ", ")
}

// printPoses shows the key poses as a table of angles, in the order in which
// the movement comes to them; other grades' poses come last.
func printPoses(b *printer, m *exercise.Movement) {
	names := []string{m.Measure.From}
	for _, p := range m.Phases {
		if !slices.Contains(names, p.To) {
			names = append(names, p.To)
		}
	}
	for _, n := range slices.Sorted(maps.Keys(m.Poses)) {
		if !slices.Contains(names, n) {
			names = append(names, n)
		}
	}
	b.f("\nKey poses, degrees of flexion (MCP PIP DIP; thumb MP IP; p is past straight)\n")
	b.f("  %-12s %-12s %-12s %-12s %-12s %s\n", "", "index", "middle", "ring", "little", "thumb")
	for _, n := range names {
		p := m.Poses[n]
		cells := make([]any, 0, 6)
		cells = append(cells, n)
		for _, g := range p.Fingers {
			cells = append(cells, flexionText(g.MCP, g.PIP, g.DIP))
		}
		cells = append(cells, flexionText(p.Thumb.MP, p.Thumb.IP))
		b.f("  %-12s %-12s %-12s %-12s %-12s %s\n", cells...)
	}
}

// flexionText writes angles without a bare sign.
func flexionText(deg ...float64) string {
	s := make([]string, len(deg))
	for i, d := range deg {
		s[i] = fmt.Sprintf("%.0f", math.Abs(d))
		if d < 0 {
			s[i] += "p"
		}
	}
	return strings.Join(s, " ")
}
