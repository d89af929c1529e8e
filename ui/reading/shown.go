package reading

import (
	"cmp"
	"fmt"
	"image"
	"slices"
	"strings"
	"time"

	"volar/internal/hand"
	"volar/internal/program"
	"volar/internal/review"
	"volar/internal/session"
	"volar/ui/parts"
)

// curves hands the traces what they draw.
func (v *viewer) curves() {
	if v.exercise == nil {
		return
	}
	limits := v.f.limits(v.exercise, v.side)
	to := v.exercise.End
	if to <= v.exercise.Start {
		to = v.at.End()
	}
	for i, t := range v.traces {
		if v.from+i >= len(v.joints) {
			t.Hide()
			continue
		}
		t.Draw(&curve{
			trace: review.TraceOf(v.f.s, v.exercise.Number, v.side, v.joints[v.from+i], limits), side: v.side,
			from: v.exercise.Start, to: to, spans: v.f.spansOf(v.side), moments: v.f.moments, lens: v.lens,
		})
		t.Show()
	}
}

// place shows everything at the present place.
func (v *viewer) place() {
	at := v.at.At()
	e := review.ExerciseAt(v.f.s, at)
	if e == nil && len(v.f.s.Exercises) > 0 {
		e = &v.f.s.Exercises[0]
	}
	changed := e != v.exercise
	if changed {
		v.exercise = e
		side := hand.UnknownSide
		if e != nil {
			side = e.Side
		}
		v.hand(side)
	}
	i := v.f.momentAt(at)
	// A moment that is come to brings its hand and its joint into view.
	if i >= 0 && i != v.moment && v.play == nil {
		if s := v.f.moments[i].Side; s != v.side && s != hand.UnknownSide {
			v.hand(s)
			changed = true
		}
		if j, err := hand.ParseJoint(v.f.moments[i].Subject); err == nil {
			if k := slices.Index(v.joints, j); k >= 0 && (k < v.from || k >= v.from+len(v.traces)) {
				v.from, changed = k, true
			}
		}
	}
	v.moment = i
	if v.lens.Follow(at) || changed || v.traces[0].c == nil {
		v.curves()
	}
	where := clock(at)
	if e != nil {
		where = fmt.Sprintf("%s, exercise %d: %s, %s hand", where, e.Number, review.MovementName(e.Movement), v.side)
		for _, x := range v.f.spansOf(v.side) {
			if x.Exercise == e.Number && x.Start <= at && at <= x.End && (x.Kind == review.Repetition || x.Kind == review.FellShort || x.Kind == review.NotJudged) {
				where += fmt.Sprintf(", repetition %d", x.Number)
			}
		}
	}
	x := review.SampleAt(v.f.s, at, v.side)
	v.where.Set(where)
	v.strip.Place(at, v.lens)
	for k, t := range v.traces {
		if v.from+k < len(v.joints) {
			value, note := "no picture here", ""
			if x != nil && x.Found {
				value, note = reading(&x.Joints[v.joints[v.from+k]])
			} else if x != nil {
				value = "no hand here"
			}
			t.Place(at, value, note)
		}
	}
	v.tell(i)
	v.doubt.Set(v.doubts(x))
	v.paint(x, i)
}

// hand shows another hand.
func (v *viewer) hand(s hand.Side) {
	v.side, v.joints, v.from = s, v.f.joints(v.exercise, s), 0
}

// swap shows the other hand of an exercise that took both.
func (v *viewer) swap() {
	if v.exercise != nil && v.f.both[v.exercise.Number] {
		v.hand(v.side.Other())
		v.curves()
		v.place()
	}
}

// tell shows the flagged moment of the place, with what can be said of it.
func (v *viewer) tell(i int) {
	switch {
	case v.problem != "":
		v.what.Set(v.problem)
		v.problem = ""
	case i >= 0:
		m := &v.f.moments[i]
		v.what.Set(fmt.Sprintf("Moment %d of %d%s. %s. %s.", i+1, len(v.f.moments), v.f.whose(m), review.Capital(review.FlagWords(&m.Flag)), review.Capital(judged(m.Judgement))))
	case len(v.f.moments) == 0:
		v.what.Set("Nothing was flagged in this session.")
	default:
		v.what.Set("No flagged moment here.")
	}
	if (i >= 0) != v.marks.Visible() {
		if i >= 0 {
			v.marks.Show()
		} else {
			v.marks.Hide()
		}
	}
	parts.Settle(v.told)
}

// doubts says how the hand is drawn, and which joints to doubt.
func (v *viewer) doubts(x *session.Sample) string {
	if x == nil || !x.Found {
		return "No hand was found in the camera's picture here."
	}
	_, ok := review.PoseOf(x)
	var not []string
	for j := range hand.Joint(hand.NumJoints) {
		if !ok[j] {
			not = append(not, program.JointWords(j))
		}
	}
	s := "Drawn from the estimated angles, " + aspects[v.aspect].name + "; beside it the points as found."
	switch {
	case len(not) > 6:
		s += fmt.Sprintf(" %d of 14 joints are not judged here.", len(not))
	case len(not) > 0:
		s += " Not judged here: " + strings.Join(not, ", ") + "."
	}
	return s
}

// paint asks for the pictures of a sample.
func (v *viewer) paint(x *session.Sample, moment int) {
	s := scene{sample: x, ground: themed().grid}
	if x != nil {
		s.side = cmp.Or(v.side, x.Side, hand.Right)
		// Pictures are kept of the hand that the exercise is for.
		if v.exercise == nil || v.side == v.exercise.Side {
			s.picture = v.picture(x.Time)
		}
		if v.aspect == 0 {
			s.view = seenAs(x)
		} else {
			s.view.Yaw = aspects[v.aspect].yaw
		}
		s.view.Yaw += v.turned.Yaw
		s.view.Pitch += v.turned.Pitch
	}
	if moment >= 0 {
		if j, err := hand.ParseJoint(v.f.moments[moment].Subject); err == nil && of(&v.f.moments[moment], v.side) {
			s.marked[j] = true
		}
	}
	v.painter.Paint(s)
}

// picture is the kept picture nearest to a time, no more than a sixth of a
// second away: those of flagged moments come three a second.
func (v *viewer) picture(at time.Duration) *session.Picture {
	var best *session.Picture
	for i := range v.f.s.Pictures {
		p := &v.f.s.Pictures[i]
		if d := (p.At - at).Abs(); d <= time.Second/6 && (best == nil || d < (best.At-at).Abs()) {
			best = p
		}
	}
	return best
}

func (v *viewer) drawn(h, p *image.RGBA, err error) {
	switch {
	case v.gone:
	case err != nil:
		v.doubt.Set("The hand cannot be drawn: " + err.Error())
	default:
		v.handView.Picture(h)
		v.pointView.Picture(p)
		v.paints++
	}
}
