package arom

import (
	"fmt"
	"math"
	"slices"
	"strings"
	"time"

	"volar/internal/goniometry"
	"volar/internal/hand"
	"volar/internal/program"
	"volar/internal/score"
)

// TableOptions say what a recorded hand is put beside. The zero value is
// nothing but the total of 260 degrees.
type TableOptions struct {
	// Norms is a set of norms; nil is none.
	Norms *score.NormSet
	// Other is the client's other hand as it was recorded; nil is none. One of
	// the same side is not looked at.
	Other *goniometry.Baseline
}

// Table is a recorded hand, joint by joint.
type Table struct {
	Side  hand.Side
	Taken time.Time
	// Views say what was recorded, one sentence a pose.
	Views []string
	Norms *score.NormSet
	// OtherTaken is when the other hand was recorded; zero where it was not.
	OtherTaken time.Time
	Lines      []Line
	Digits     []Digit
}

// Line is one joint.
type Line struct {
	Joint hand.Joint
	// Straight is the angle in the hand as straight as it goes, Fist that in
	// the full fist; OtherStraight and OtherFist those of the other hand.
	Straight, Fist           Reading
	OtherStraight, OtherFist Reading
	Norm                     score.Norm
	HasNorm                  bool
	// Doubt says why the joint's straight hand cannot serve as its zero; empty
	// where it can.
	Doubt string
}

// Digit is a finger's total.
type Digit struct {
	Finger hand.Finger
	// Total is total active motion, and Result its grade against Against
	// degrees, which are those of the other hand where OfOther is true.
	Total   score.Sum
	Result  score.Result
	Against float64
	OfOther bool
}

// TableOf puts a recorded hand beside norms and the other hand.
func TableOf(b *goniometry.Baseline, o TableOptions) Table {
	side, _ := hand.ParseSide(b.Side) // a sound baseline has one
	t := Table{Side: side, Taken: b.CapturedAt, Norms: o.Norms}
	other := o.Other
	if other != nil && other.Side == b.Side {
		other = nil
	}
	if other != nil {
		t.OtherTaken = other.CapturedAt
	}
	for _, v := range b.Views {
		t.Views = append(t.Views, viewWords(&v))
	}
	doubts := map[hand.Joint]string{}
	for _, d := range b.Doubts() {
		plain := strings.ReplaceAll(d.Joint.String(), ".", " ")
		doubts[d.Joint] = strings.Replace(d.Words, plain, Name(d.Joint), 1)
	}
	for j := range hand.Joint(hand.NumJoints) {
		l := Line{
			Joint: j, Doubt: doubts[j],
			Straight: recorded(b, goniometry.StraightHand, j), Fist: recorded(b, goniometry.FullFist, j),
		}
		if other != nil {
			l.OtherStraight, l.OtherFist = recorded(other, goniometry.StraightHand, j), recorded(other, goniometry.FullFist, j)
		}
		if o.Norms != nil {
			l.Norm, l.HasNorm = o.Norms.Of(j)
		}
		t.Lines = append(t.Lines, l)
	}
	for _, f := range []hand.Finger{hand.Index, hand.Middle, hand.Ring, hand.Little, hand.Thumb} {
		t.Digits = append(t.Digits, t.digit(f, other != nil))
	}
	return t
}

// digit sums a finger up. It is compared with the same finger of the other hand
// where that is whole, a long finger else with 260 degrees.
func (t *Table) digit(f hand.Finger, hasOther bool) Digit {
	d := Digit{Finger: f, Total: score.TotalMotion(t.motion(f, false), score.Options{})}
	if hasOther {
		if o := score.TotalMotion(t.motion(f, true), score.Options{}); o.Complete && o.Deg > 0 {
			d.Against, d.OfOther = o.Deg, true
		}
	}
	d.Result = score.ASSH(d.Total, f, d.Against)
	if d.Against == 0 && f != hand.Thumb {
		d.Against = wholeFinger
	}
	return d
}

// wholeFinger is the total active motion of a finger by the arithmetic of the
// ASSH, 85 + 110 + 65 degrees, which score.ASSH compares with.
const wholeFinger = 260

func (t *Table) motion(f hand.Finger, other bool) score.Digit {
	of := func(k hand.Kind) score.Motion {
		l := &t.Lines[hand.JointOf(f, k)]
		if other {
			return score.Motion{Extension: l.OtherStraight.score(), Flexion: l.OtherFist.score()}
		}
		return score.Motion{Extension: l.Straight.score(), Flexion: l.Fist.score()}
	}
	d := score.Digit{Finger: f, MCP: of(hand.MCP), PIP: of(hand.PIP)}
	if f != hand.Thumb {
		d.DIP = of(hand.DIP)
	}
	return d
}

// Doubts are the lines whose straight hand cannot serve as a zero.
func (t *Table) Doubts() []string {
	var out []string
	for _, l := range t.Lines {
		if l.Doubt != "" {
			out = append(out, l.Doubt)
		}
	}
	return out
}

// NormWords say the norm of a joint: "0 to 90°", "22° past straight to 86°".
func (l *Line) NormWords() string {
	switch {
	case !l.HasNorm:
		return "none"
	case !l.Norm.HasFrom:
		return fmt.Sprintf("to %.0f°", l.Norm.Span.To)
	case l.Norm.Span.From < 0:
		return fmt.Sprintf("%.0f° past straight to %.0f°", -l.Norm.Span.From, l.Norm.Span.To)
	}
	return fmt.Sprintf("%.0f to %.0f°", l.Norm.Span.From, l.Norm.Span.To)
}

// Motion is the line's range as a report writes it.
func (l *Line) Motion() score.Motion {
	return score.Motion{Extension: l.Straight.score(), Flexion: l.Fist.score()}
}

// Words say the total: "214° ± 18°; 82 % of 260°: good".
func (d *Digit) Words() string {
	if !d.Total.Complete {
		return "not judged: " + missing(d.Total.Missing)
	}
	s := fmt.Sprintf("%.0f°", math.Round(d.Total.Deg))
	if d.Total.SEDeg > 0 {
		s += fmt.Sprintf(" ± %.0f°", math.Max(math.Round(d.Total.SEDeg), 1))
	}
	if d.Result.Complete {
		of := fmt.Sprintf("%.0f°", d.Against)
		if d.OfOther {
			of = fmt.Sprintf("the other hand's %.0f°", d.Against)
		}
		s += fmt.Sprintf("; %.0f %% of %s: %s", d.Result.Percent, of, d.Result.Grade)
	}
	return s
}

// missing names the joints without a number by their level.
func missing(joints []hand.Joint) string {
	var words string
	for i, j := range joints {
		if i > 0 {
			words += ", "
		}
		words += Level(j)
	}
	return words
}

// Level is a joint's own name within its digit: "MCP", for the thumb "MP".
func Level(j hand.Joint) string {
	if j == hand.ThumbMP {
		return "MP"
	}
	return map[hand.Kind]string{hand.MCP: "MCP", hand.PIP: "PIP", hand.DIP: "DIP", hand.IP: "IP"}[j.Kind()]
}

// Name is a joint's name: "index PIP".
func Name(j hand.Joint) string { return program.JointWords(j) }

var poseWords = map[goniometry.BaselinePose]string{
	goniometry.StraightHand: "straight hand", goniometry.FullFist: "full fist", goniometry.MeasuredPose: "as measured",
}

// viewWords say what was recorded in one pose, and how sure it is.
func viewWords(v *goniometry.BaselineView) string {
	var se []float64
	for _, j := range v.Joints {
		se = append(se, j.SEDeg)
	}
	slices.Sort(se)
	n := "1 picture"
	if v.Pictures > 1 {
		n = fmt.Sprintf("%d pictures", v.Pictures)
	}
	least, most := math.Max(math.Round(se[0]), 1), math.Max(math.Round(se[len(se)-1]), 1)
	spread := fmt.Sprintf("%.0f°", most)
	if least < most {
		spread = fmt.Sprintf("%.0f to %.0f°", least, most)
	}
	return fmt.Sprintf("%s, %s view, %s, %d of %d joints judged, ± %s",
		poseWords[v.Pose], hand.View{YawDeg: v.YawDeg, PitchDeg: v.PitchDeg}.Name(), n, len(v.Joints), hand.NumJoints, spread)
}
