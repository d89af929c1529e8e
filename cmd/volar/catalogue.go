package main

import (
	"encoding/json"
	"strings"

	"volar/internal/exercise"
)

type catalogueCmd struct {
	ID     string `arg:"" optional:"" help:"Show one exercise in full."`
	Source bool   `help:"Print the exercise's file, to copy and change."`
	JSON   bool   `name:"json" help:"JSON."`
}

func (c *catalogueCmd) Run(e *environment) error {
	if c.ID == "" {
		all, err := exercise.Catalogue()
		if err != nil {
			return err
		}
		if c.JSON {
			return json.NewEncoder(e.out).Encode(all)
		}
		b := &printer{w: e.out}
		family := ""
		for _, m := range all {
			if m.Family != family {
				if family != "" {
					b.f("\n")
				}
				family = m.Family
				b.f("%s\n", strings.ToUpper(family[:1])+family[1:])
			}
			b.f("  %-24s %s\n", m.ID, m.Name)
			b.f("  %-24s %s view; %s\n", "", m.View.Best.Name, doseText(m.Dose))
		}
		b.f("\nvolar catalogue ID shows one in full. Exercises are prescribed by a therapist; begin only with the consent of the clinician who knows your hand.\n")
		return b.err
	}
	m, err := exercise.Find(c.ID)
	if err != nil {
		return &usageError{err}
	}
	if c.Source {
		text, err := exercise.Source(c.ID)
		if err != nil {
			return err
		}
		_, err = e.out.Write(text)
		return err
	}
	if c.JSON {
		return json.NewEncoder(e.out).Encode(m)
	}
	return printMovement(&printer{w: e.out}, m)
}

func printMovement(b *printer, m *exercise.Movement) error {
	b.f("%s (%s)\n", m.Name, m.ID)
	b.wrapped("  ", "  ", m.Purpose)
	b.f("\nCamera\n")
	b.wrapped("  best    ", "          ", m.View.Best.Name+" view. "+m.View.Best.Shows)
	if m.View.Second.Name != "" {
		b.wrapped("  second  ", "          ", m.View.Second.Name+" view. "+m.View.Second.Shows)
	}
	if len(m.Objects) > 0 {
		b.f("\nObject\n")
		for _, o := range m.Objects {
			b.wrapped("  "+pad(string(o.Grade), 8), "          ", o.Name+" ("+o.ID+")")
		}
	}
	b.f("\nDose, usual\n")
	b.wrapped("  ", "  ", doseText(m.Dose))
	b.f("\nSteps\n")
	for _, p := range m.Phases {
		text := m.PoseWords[p.To]
		if p.Say != "" {
			text = p.Say + " " + text
		}
		b.wrapped("  "+pad(string(p.Name), 10), "            ", text)
	}
	b.f("\nKey poses, degrees of flexion (MCP PIP DIP)\n")
	for _, n := range []string{m.Measure.From, m.Measure.To} {
		p, ok := m.Poses[n]
		if !ok {
			continue
		}
		b.f("  %-10s", n)
		for i, f := range []string{"index", "middle", "ring", "little"} {
			g := p.Fingers[i]
			b.f("  %s %.0f %.0f %.0f", f, g.MCP, g.PIP, g.DIP)
		}
		b.f("\n")
	}
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

func doseText(d exercise.Dose) string {
	t := plural(d.Sets, "set", "sets") + " of " + plural(d.Repetitions, "repetition", "repetitions")
	if d.HoldSeconds > 0 {
		t += ", hold " + trim(d.HoldSeconds) + " s"
	}
	if d.RestSeconds > 0 && d.Sets > 1 {
		t += ", rest " + trim(d.RestSeconds) + " s"
	}
	return t + ", " + plural(d.TimesADay, "time", "times") + " a day, " + plural(d.DaysAWeek, "day", "days") + " a week"
}
