package measure

import (
	"fmt"
	"io"
	"time"

	"fyne.io/fyne/v2"

	"volar/internal/arom"
	"volar/internal/goniometry"
	"volar/internal/hand"
	"volar/internal/report"
	"volar/internal/stage"
	"volar/ui/look"
	"volar/ui/parts"
)

// Now is the joint table of this moment.
type Now struct {
	frame
	eye  *eye
	side hand.Side
	own  *goniometry.Baseline
	seen *glance

	video  *parts.Video
	view   *parts.Words
	cells  [hand.NumJoints]*parts.Words
	cue    *parts.CueLine
	freeze *parts.Button

	sample hand.Sample // of the picture that is shown
	at     time.Time   // when it was shown
	// written is the time of the picture that the table was last written from.
	written time.Duration
	// loaded is true once there is a stage, begun while it measures, and
	// listing while earlier measurements are shown.
	loaded, begun, listing bool
	frozen                 bool
	saved                  bool // what is frozen
	said                   *parts.Words
}

// NewNow makes the screen.
func NewNow(o Options) *Now {
	s := &Now{frame: newFrame(o), seen: &glance{}}
	s.side = s.opt.Side
	s.eye = s.newEye()
	return s
}

func (s *Now) newEye() *eye {
	return &eye{opt: &s.opt, seen: s.look, ready: s.ready, failed: func(err error) {
		s.note("The angles cannot be measured", s.opt.Words(err), s.opt.Back)
	}}
}

// Covered lets go of the camera while the window is locked. What is frozen
// stays so.
func (s *Now) Covered(yes bool) {
	if yes {
		s.eye.close()
		s.loaded, s.begun = false, false
		return
	}
	if !s.frozen && !s.listing {
		s.lay()
	}
	s.eye = s.newEye()
	s.eye.open()
}

// Content is part of parts.Screen.
func (s *Now) Content() fyne.CanvasObject {
	s.lay()
	s.eye.open()
	return s.root
}

// Leave is part of parts.Screen.
func (s *Now) Leave() {
	s.stop()
	s.eye.close()
}

func (s *Now) lay() {
	p := &page{title: fmt.Sprintf("Measure now: %s, %s", s.opt.Client, sideWords(s.side))}
	s.video, s.cue = parts.NewVideo(fyne.NewSize(320, 240)), parts.NewCueLine()
	s.view, s.said = strong(""), parts.NewWords("", parts.Style{Bold: true})
	for j := range s.cells {
		s.cells[j] = cell("")
	}
	right := parts.Column(gap, s.view, angles(&s.cells), s.said,
		small("Near straight: the view does not show whether the joint is past straight. "+arom.Estimate))
	s.cue.Say("The camera and the hand model are being prepared.", false)
	s.freeze = p.action(parts.Lead, "Freeze", fyne.KeySpace, s.toggle)
	actions := []fyne.CanvasObject{s.freeze}
	if !s.opt.ReadOnly {
		actions = append(actions, p.action(parts.Plain, "Save", fyne.KeyS, s.save))
	}
	actions = append(actions,
		p.action(parts.Plain, "PDF", fyne.KeyP, s.pdf),
		p.action(parts.Plain, "Copy", fyne.KeyC, func() {
			if m := s.taken(); m != nil {
				s.copy(s.say, m.Text(time.Local))
			}
		}),
		p.action(parts.Plain, "Earlier", fyne.KeyE, s.leaving(s.earlier)),
		p.action(parts.Plain, parts.Wide("The other hand", "Other hand"), fyne.KeyO, s.leaving(s.otherHand)),
		p.action(parts.Plain, "Back", fyne.KeyEscape, s.leaving(s.opt.Back)))
	share := float32(1.35)
	if p.bare = parts.Large(); p.bare {
		share = 2.6
	}
	body := parts.Page(gap, parts.Column(0), parts.Row(20, []float32{1, share}, s.video, p.Scroll(right)), s.cue)
	s.show(p, p.lay(body, actions...))
}

// angles sets the joints' cells in rows of a digit.
func angles(cells *[hand.NumJoints]*parts.Words) fyne.CanvasObject {
	rows := [][]fyne.CanvasObject{{headCell("Digit"), headCell("MCP (thumb MP)"), headCell("PIP (thumb IP)"), headCell("DIP")}}
	rules := map[int]bool{}
	for _, f := range []hand.Finger{hand.Index, hand.Middle, hand.Ring, hand.Little, hand.Thumb} {
		row := []fyne.CanvasObject{nameCell(f.String())}
		for _, k := range []hand.Kind{hand.MCP, hand.PIP, hand.DIP} {
			if f == hand.Thumb && k == hand.DIP {
				row = append(row, cell(""))
				continue
			}
			row = append(row, cells[hand.JointOf(f, k)])
		}
		rules[len(rows)] = true
		rows = append(rows, row)
	}
	return newSheet([]float32{1, 2, 2, 2}, rules, rows...)
}

// ready is called once there is a stage.
func (s *Now) ready() {
	s.loaded = true
	if !s.listing && !s.frozen {
		s.begin()
	}
}

// begin begins to measure the chosen hand, by its own baseline where there is
// one.
func (s *Now) begin() {
	own, err := s.opt.Store.Baseline(s.ctx, s.side)
	if err != nil {
		s.note("The angles cannot be measured", s.opt.Words(err), s.opt.Back)
		return
	}
	s.own, s.seen, s.sample, s.begun = own, &glance{}, hand.Sample{}, true
	s.live()
	s.eye.look(s.side, goniometry.Options{Baseline: own, Estimator: s.opt.Estimator}, s.seen, nil)
}

// look shows what the camera sees, until it is frozen.
func (s *Now) look(v *stage.View) {
	if !s.begun || s.frozen {
		return
	}
	if v.Picture != nil {
		s.video.Picture(v.Picture)
	}
	sample, other := s.seen.at(v.At)
	s.sample, s.at = sample, s.opt.Now()
	if sample.Found {
		s.opt.Stir()
	}
	// Figures that change faster cannot be read.
	if v.Camera.State == stage.Sending && v.At-s.written < 250*time.Millisecond && v.At >= s.written {
		return
	}
	s.written = v.At
	s.write(other)
	if words := cameraWords(v); words != "" {
		s.cue.Say(words, true)
	}
}

// write brings the table and the line below up to date.
func (s *Now) write(other bool) {
	for j, c := range s.cells {
		r := arom.ReadingOf(s.sample.Joints[j])
		if !s.sample.Found {
			r = arom.Reading{Why: hand.NoHand}
		}
		c.Set(r.Words())
		colour := look.Ink
		if !r.Judged {
			colour = look.Quiet
		}
		c.SetColour(colour)
	}
	switch {
	case !s.sample.Found && other:
		s.view.Set("No view")
		s.cue.Say("That is the other hand. Press O to measure it instead.", false)
	case !s.sample.Found:
		s.view.Set("No view")
		s.cue.Say(fmt.Sprintf("Show the %s to the camera.", sideWords(s.side)), false)
	default:
		if !s.frozen {
			s.say("")
		}
		s.view.Set(arom.Sentence(arom.ViewWords(s.sample.View)))
		s.cue.Say(guidance(s.sample), false)
	}
}

// guidance is the one thing that would let more be judged: a joint that is not
// judged first, the PIPs before the others, else one that may be past straight.
func guidance(x hand.Sample) string {
	for _, k := range []hand.Kind{hand.PIP, hand.MCP, hand.DIP, hand.IP} {
		for j := range hand.Joint(hand.NumJoints) {
			if j.Kind() == k && !x.Joints[j].Judged {
				return fmt.Sprintf("To judge the %s: %s.", arom.Name(j), goniometry.Guide(x, j, false).Words)
			}
		}
	}
	for j := range hand.Joint(hand.NumJoints) {
		if m := x.Joints[j]; j.Kind() == hand.PIP && !m.ExtensionJudged && m.FlexionDeg < 0 {
			return fmt.Sprintf("To see whether the %s is past straight: %s.", arom.Name(j), goniometry.Guide(x, j, true).Words)
		}
	}
	return "All joints are judged."
}

// toggle freezes the table and the picture, or lets them go on.
func (s *Now) toggle() {
	switch {
	case !s.frozen:
		s.taken()
	case s.loaded && !s.begun:
		s.begin() // anew, since the window was locked meanwhile
	default:
		s.live()
	}
}

// leaving does something that lets go of what is frozen, and asks first where
// that is not saved.
func (s *Now) leaving(then func()) func() {
	return func() {
		if s.Unsaved() {
			s.Ask(then)
			return
		}
		then()
	}
}

// Unsaved says whether leaving would lose what is frozen.
func (s *Now) Unsaved() bool { return s.frozen && !s.saved && !s.opt.ReadOnly }

// Ask asks before what is frozen is thrown away, and then goes on with then.
func (s *Now) Ask(then func()) {
	s.ask("Leave the frozen table?", "It has not been saved.", "Keep looking", func() {
		s.show(s.page.over, s.page.over.content)
		s.save()
	}, func() {
		s.frozen = false
		then()
	})
}

func (s *Now) live() {
	s.frozen, s.saved, s.written = false, false, 0
	s.eye.hold.Store(false)
	s.freeze.Set("Freeze", s.toggle)
	s.say("")
}

// taken is what is frozen; a table that is live is frozen first. It is nil
// where no hand is seen, which is said.
func (s *Now) taken() *arom.Measurement {
	m, err := arom.Measured(s.sample, s.at, s.opt.Estimator, s.own)
	if err != nil {
		s.say(arom.Sentence(err.Error()))
		return nil
	}
	if !s.frozen {
		s.frozen = true
		// The picture stays this screen's only as long as no other is taken.
		s.eye.hold.Store(true)
		s.write(false)
		s.freeze.Set("Go on", s.toggle)
		s.say("Frozen " + s.at.In(time.Local).Format("15:04:05") + ".")
	}
	return m
}

func (s *Now) save() {
	m := s.taken()
	switch {
	case m == nil:
	case s.saved:
		s.say("This is saved already.")
	default:
		if err := s.opt.Store.PutMeasurement(s.ctx, m); err != nil {
			s.say("This could not be saved: " + s.opt.Words(err))
			return
		}
		s.saved = true
		s.say(fmt.Sprintf("Saved for %s: %s, %s.", s.opt.Client, sideWords(s.side), m.TakenAt.In(time.Local).Format("2 January 2006, 15:04:05")))
	}
}

func (s *Now) pdf() {
	m := s.taken()
	if m == nil {
		return
	}
	s.print(s.say, "measurement", s.side, func(w io.Writer) error {
		return report.HandMeasurement(w, s.opt.Client, m, time.Local, s.opt.Now())
	})
}

// say says what happened, below the table.
func (s *Now) say(words string) {
	if words != s.said.Text() {
		s.said.Set(words)
		parts.Settle(s.said)
	}
}

func (s *Now) otherHand() {
	s.side = s.side.Other()
	s.again()
}

// again shows the camera and begins to measure anew.
func (s *Now) again() {
	s.lay()
	s.listing, s.frozen = false, false
	if s.loaded {
		s.begin()
	}
}

// rest lets the camera's pictures be while something else is shown.
func (s *Now) rest() {
	s.listing, s.begun, s.frozen = true, false, false
	if s.loaded {
		s.eye.stage.Rest()
	}
}
