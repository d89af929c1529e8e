package report

import (
	"cmp"
	"encoding/csv"
	"fmt"
	"io"
	"math"
	"slices"
	"strconv"
	"strings"

	"volar/internal/hand"
	"volar/internal/program"
	"volar/internal/review"
)

// CSV writes one table after RFC 4180: a line for each session, hand and joint
// with its range, then nothing else, so that any spreadsheet can take it. Angles are
// signed, flexion positive; a number that is not known or was not judged is an
// empty field.
func (r *Report) CSV(w io.Writer) error {
	out := csv.NewWriter(w)
	out.UseCRLF = true
	rows := [][]string{{
		"client", "session", "date", "started_utc", "exercise", "joint", "least_flexion_deg", "greatest_flexion_deg", "least_judged", "least_se_deg", "greatest_se_deg",
		"repetitions_prescribed", "repetitions_counted", "flags", "pain_before", "pain_after", "side",
	}}
	for i, s := range r.Sessions {
		m := &r.Summary[i]
		var movements []string
		for k := range s.Exercises {
			if id := s.Exercises[k].Movement; !slices.Contains(movements, id) {
				movements = append(movements, id)
			}
		}
		flags := 0
		for _, n := range m.Faults {
			flags += n
		}
		for _, side := range r.Hands {
			reach, ok := review.ReachOf(s, side)
			named := ""
			if side != hand.UnknownSide {
				named = side.String()
			}
			for j := hand.Joint(0); j < hand.NumJoints; j++ {
				if !ok[j] {
					continue
				}
				x := reach[j]
				least := ""
				if x.MinJudged {
					least = number(x.MinDeg)
				}
				rows = append(rows, []string{
					r.Client, s.ID.String(), review.LocalDay(s.Started, s.Zone).String(), s.Started.UTC().Format("2006-01-02T15:04:05Z"), strings.Join(movements, " "), j.String(),
					least, number(x.MaxDeg), strconv.FormatBool(x.MinJudged), number(x.MinSE), number(x.MaxSE),
					strconv.Itoa(m.Prescribed), strconv.Itoa(m.Counted), strconv.Itoa(flags), whole(m.PainBefore), whole(m.PainAfter), named,
				})
			}
		}
	}
	for _, row := range rows {
		for i, f := range row {
			row[i] = tame(f)
		}
		if err := out.Write(row); err != nil {
			return fmt.Errorf("writing csv: %w", err)
		}
	}
	out.Flush()
	if err := out.Error(); err != nil {
		return fmt.Errorf("writing csv: %w", err)
	}
	return nil
}

// tame keeps a spreadsheet from taking a field for a formula (OWASP, CSV
// injection): one that begins with = + - @, a tab or a line end and is no
// number gets an apostrophe before it.
func tame(f string) string {
	if f == "" || !strings.ContainsRune("=+-@\t\r\n", rune(f[0])) {
		return f
	}
	if _, err := strconv.ParseFloat(f, 64); err == nil {
		return f
	}
	return "'" + f
}

func number(x float64) string {
	if math.IsNaN(x) || math.IsInf(x, 0) {
		return ""
	}
	x = math.Round(x*10) / 10
	return strconv.FormatFloat(x+0, 'f', 1, 64) // + 0 turns minus zero round
}

func whole(n *int) string {
	if n == nil {
		return ""
	}
	return strconv.Itoa(*n)
}

// days writes the stretch that is reported.
func (r *Report) days() string {
	if r.From == r.To {
		return r.From.Words()
	}
	return r.From.Words() + " to " + r.To.Words()
}

// sideWords names a hand.
func sideWords(side hand.Side) string {
	if side == hand.UnknownSide {
		return "hand not named"
	}
	return side.String() + " hand"
}

// handsWords name the hands that the report is of.
func (r *Report) handsWords() string {
	if len(r.Hands) < 2 {
		return sideWords(cmp.Or(append([]hand.Side{r.Side}, r.Hands...)...))
	}
	if r.Side == hand.UnknownSide {
		return "both hands"
	}
	return sideWords(r.Side) + " and, where both work, the " + r.Side.Other().String()
}

// whose names a hand behind what is of it, where that is not the report's own.
func (r *Report) whose(side hand.Side) string {
	if side == r.Side {
		return ""
	}
	return review.HandWords(side)
}

// jointWords names a joint as the trade writes it.
func jointWords(j hand.Joint) string { return program.JointWords(j) }
