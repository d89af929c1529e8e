package arom

import (
	"fmt"
	"strings"
	"time"

	"volar/internal/hand"
)

// Estimate stands below every table.
const Estimate = "Degrees of active flexion with the standard error of one reading: an estimate from a camera, for review by your therapist."

const nearStraight = "Near straight: the view does not show whether the joint is past straight."

// Text writes the table for a note or a terminal, in columns of a type of one
// width.
func (t *Table) Text(zone *time.Location) string {
	var b strings.Builder
	fmt.Fprintf(&b, "Baseline of the %s hand, %s\n", t.Side, t.Taken.In(zone).Format("2 January 2006, 15:04"))
	for _, v := range t.Views {
		fmt.Fprintf(&b, "  %s\n", v)
	}
	head := []string{"", "straight", "full fist"}
	if t.Norms != nil {
		head = append(head, "norm")
	}
	if !t.OtherTaken.IsZero() {
		head = append(head, "other hand, straight", "other hand, full fist")
	}
	rows := [][]string{head}
	for _, l := range t.Lines {
		row := []string{Name(l.Joint), l.Straight.Words(), l.Fist.Words()}
		if t.Norms != nil {
			row = append(row, l.NormWords())
		}
		if !t.OtherTaken.IsZero() {
			row = append(row, l.OtherStraight.Words(), l.OtherFist.Words())
		}
		rows = append(rows, row)
	}
	columns(&b, rows)
	b.WriteString("Total active motion (TAM)\n")
	rows = nil
	for _, d := range t.Digits {
		rows = append(rows, []string{d.Finger.String(), d.Words()})
	}
	columns(&b, rows)
	for _, d := range t.Doubts() {
		fmt.Fprintf(&b, "%s\n", Sentence(d))
	}
	for _, n := range t.Notes(zone) {
		fmt.Fprintf(&b, "%s\n", n)
	}
	return b.String()
}

// Notes are what has to be said below the table and its doubts: the sources
// and the words of every table.
func (t *Table) Notes(zone *time.Location) []string {
	var out []string
	if t.Norms != nil {
		out = append(out, fmt.Sprintf("Norms: %s. Source: %s.", t.Norms.Name, t.Norms.Source))
	}
	if !t.OtherTaken.IsZero() {
		out = append(out, fmt.Sprintf("The %s hand was recorded on %s.", t.Side.Other(), t.OtherTaken.In(zone).Format("2 January 2006")))
	}
	return append(out, nearStraight,
		"Totals: flexion of a digit's joints in the fist less what they lack of straight; degrees past straight are not added. Grades are those of the ASSH against the same finger of the other hand, else 260° (HandLab Clinical Pearl 18, 2012).",
		Estimate)
}

// Text writes the measurement for a note or a terminal.
func (m *Measurement) Text(zone *time.Location) string {
	var b strings.Builder
	fmt.Fprintf(&b, "%s hand, measured %s\n  %s\n", strings.ToUpper(m.Side[:1])+m.Side[1:], m.TakenAt.In(zone).Format("2 January 2006, 15:04"), m.ViewWords())
	var rows [][]string
	for j := range hand.Joint(hand.NumJoints) {
		rows = append(rows, []string{Name(j), m.Reading(j).Words()})
	}
	columns(&b, rows)
	for _, n := range m.Notes(zone) {
		fmt.Fprintf(&b, "%s\n", n)
	}
	return b.String()
}

// Notes are what has to be said below a measurement.
func (m *Measurement) Notes(zone *time.Location) []string {
	out := []string{nearStraight}
	if m.BaselineAt != nil {
		out = append(out, fmt.Sprintf("Corrected by the hand as it was recorded on %s.", m.BaselineAt.In(zone).Format("2 January 2006")))
	}
	return append(out, Estimate)
}

// columns writes rows in columns as wide as their widest cell.
func columns(b *strings.Builder, rows [][]string) {
	var width []int
	for _, r := range rows {
		for i, c := range r {
			if i == len(width) {
				width = append(width, 0)
			}
			width[i] = max(width[i], len([]rune(c)))
		}
	}
	for _, r := range rows {
		line := " "
		for i, c := range r {
			line += " " + c + strings.Repeat(" ", width[i]-len([]rune(c))+1)
		}
		b.WriteString(strings.TrimRight(line, " ") + "\n")
	}
}
