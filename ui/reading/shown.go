package reading

import (
	"fmt"
	"image"
	"strings"
	"time"

	"volar/internal/hand"
	"volar/internal/program"
	"volar/internal/review"
	"volar/internal/session"
	"volar/ui/parts"
)

// tell shows the flagged moment of the place, with what can be said of it.
func (v *viewer) tell(i int) {
	switch {
	case v.problem != "":
		v.what.Set(v.problem)
		v.problem = ""
	case i >= 0:
		m := &v.f.moments[i]
		v.what.Set(fmt.Sprintf("Moment %d of %d. %s. %s.", i+1, len(v.f.moments), review.Capital(review.FlagWords(&m.Flag)), review.Capital(judged(m.Judgement))))
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
	s := scene{sample: x, ground: themed().grid, side: hand.Right}
	if x != nil {
		if v.exercise != nil && v.exercise.Side != hand.UnknownSide {
			s.side = v.exercise.Side
		} else if x.Side != hand.UnknownSide {
			s.side = x.Side
		}
		s.picture = v.picture(x.Time)
		if v.aspect == 0 {
			s.view = seenAs(x)
		} else {
			s.view.Yaw = aspects[v.aspect].yaw
		}
		s.view.Yaw += v.turned.Yaw
		s.view.Pitch += v.turned.Pitch
	}
	if moment >= 0 {
		if j, err := hand.ParseJoint(v.f.moments[moment].Subject); err == nil {
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
