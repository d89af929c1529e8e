package main

import (
	"encoding/json"
	"errors"
	"fmt"
	"io/fs"
	"os"
	"path/filepath"
	"slices"
	"strings"

	"volar/internal/exercise"
	"volar/internal/strictyaml"
)

type catalogueCmd struct {
	ID     string `arg:"" optional:"" help:"Show one exercise in full: its ID, or a movement file of your own such as my-hook.yaml, which is checked."`
	Source bool   `help:"Print the exercise's file, to copy and change."`
	JSON   bool   `name:"json" help:"JSON; what one exercise prints is a movement file too."`
}

func (c *catalogueCmd) Run(e *environment) error {
	if c.ID == "" && c.Source {
		return &usageError{errors.New("--source prints the file of one exercise; name it, such as volar catalogue --source hook-fist")}
	}
	if c.ID == "" {
		all, err := exercise.Catalogue()
		if err != nil {
			return err
		}
		if c.JSON {
			return json.NewEncoder(e.out).Encode(all)
		}
		return listMovements(&printer{w: e.out}, all)
	}
	m, text, err := c.movement(e)
	switch {
	case err != nil:
		return err
	case c.Source:
		_, err = e.out.Write(text)
		return err
	case c.JSON:
		return json.NewEncoder(e.out).Encode(m)
	}
	return printMovement(&printer{w: e.out}, m)
}

// movement finds the exercise and its file: a built-in one by its ID, or one
// of the therapist's own by the name of its file.
func (c *catalogueCmd) movement(e *environment) (*exercise.Movement, []byte, error) {
	if !slices.Contains([]string{".yaml", ".yml", ".json"}, filepath.Ext(c.ID)) {
		m, err := exercise.Find(c.ID)
		if err != nil {
			return nil, nil, &usageError{err}
		}
		text, err := exercise.Source(c.ID)
		return m, text, err
	}
	text, err := os.ReadFile(c.ID)
	if err != nil {
		var at *fs.PathError
		if errors.As(err, &at) {
			err = at.Err
		}
		return nil, nil, &inputError{fmt.Errorf("%s cannot be read: %w", c.ID, err)}
	}
	m, err := exercise.Parse(filepath.Base(c.ID), text)
	var faults *strictyaml.Error
	if errors.As(err, &faults) {
		printProblems(e.err, c.ID, faults.Problems, "")
		err = fmt.Errorf("movement file %s has %s", c.ID, plural(len(faults.Problems), "error", "errors"))
	}
	if err != nil {
		return nil, nil, &inputError{err}
	}
	return m, text, nil
}

// listMovements prints the catalogue by family: what it is called, with what
// it is done, how the hand is held, and how much.
func listMovements(b *printer, all []*exercise.Movement) error {
	family := ""
	for _, m := range all {
		if m.Family != family {
			if family != "" {
				b.f("\n")
			}
			family = m.Family
			b.f("%s\n", capital(family))
		}
		b.f("  %-29s%s\n", m.ID, m.Name)
		what := []string{m.View.Best.Name + " view"}
		if o, err := m.Object(""); err == nil && o.Name != "" {
			what = append([]string{o.Name}, what...)
		}
		if m.Hands == 2 {
			what = append(what, "two hands")
		}
		if m.Kind == exercise.Unmeasured {
			what = append(what, "shown, not counted")
		}
		b.wrapped("      ", "      ", strings.Join(what, "; "))
		b.wrapped("      ", "      ", doseText(m.Dose))
	}
	b.f("\n")
	b.wrapped("", "", "volar catalogue ID shows one in full, --source its file to copy and change. Exercises are prescribed by a therapist; begin only with the consent of the clinician who knows your hand.")
	return b.err
}

func capital(s string) string {
	if s == "" {
		return s
	}
	return strings.ToUpper(s[:1]) + s[1:]
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
