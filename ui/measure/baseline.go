package measure

import (
	"fmt"
	"image"
	"sync"

	"fyne.io/fyne/v2"
	"fyne.io/fyne/v2/theme"

	"volar/internal/arom"
	"volar/internal/camera"
	"volar/internal/demonstration"
	"volar/internal/exercise"
	"volar/internal/goniometry"
	"volar/internal/hand"
	"volar/internal/handrender"
	"volar/internal/stage"
	"volar/ui/look"
	"volar/ui/parts"
)

// Baseline is the recording of a client's hand: what later readings are
// measured against.
type Baseline struct {
	frame
	eye  *eye
	work sync.WaitGroup
	mesh func() (*handrender.Hand, error)
	side hand.Side
	rec  *arom.Recording
	seen *glance

	video, wanted *parts.Video
	steps         []*step
	pose          *parts.Words
	ring          *parts.Ring
	cue           *parts.CueLine
	drawn         int // the step whose picture is shown, -1 for none

	// recorded is what came of it, with what was measured beside it.
	recorded *goniometry.Baseline
	kept     bool // recorded is in the store
	other    *goniometry.Baseline
	told     *parts.Words
}

// step is a pose's sign and name on the screen.
type step struct {
	sign    *parts.Badge
	words   *parts.Words
	skipped bool
}

// NewBaseline makes the screen.
func NewBaseline(o Options) *Baseline {
	s := &Baseline{frame: newFrame(o), seen: &glance{}, mesh: sync.OnceValues(handrender.Default)}
	s.side = s.opt.Side
	s.eye = s.newEye()
	return s
}

func (s *Baseline) newEye() *eye {
	ready := func() {
		if s.recorded == nil {
			s.begin()
		}
	}
	return &eye{opt: &s.opt, seen: s.look, ready: ready, failed: func(err error) {
		s.note("The hand cannot be recorded", s.opt.Words(err), s.opt.Back)
	}}
}

// Covered lets go of the camera while the window is locked. A recording that
// was going on begins anew afterwards; what was recorded stays.
func (s *Baseline) Covered(yes bool) {
	if yes {
		s.eye.close()
		if s.recorded == nil {
			s.rec = nil
		}
		return
	}
	if s.recorded == nil {
		s.recordPage()
	}
	s.eye = s.newEye()
	s.eye.open()
}

// Content is part of parts.Screen.
func (s *Baseline) Content() fyne.CanvasObject {
	s.recordPage()
	s.eye.open()
	return s.root
}

// Leave is part of parts.Screen.
func (s *Baseline) Leave() {
	s.stop()
	s.eye.close()
	s.work.Wait()
}

// recordPage shows the camera and what to do before it.
func (s *Baseline) recordPage() {
	p := &page{title: fmt.Sprintf("Baseline of %s, %s", s.opt.Client, sideWords(s.side))}
	s.video, s.wanted = parts.NewVideo(fyne.NewSize(320, 240)), parts.NewVideo(fyne.NewSize(200, 150))
	s.pose, s.ring, s.cue = parts.NewWords("", parts.Style{Bold: true}), parts.NewRing(), parts.NewCueLine()
	s.drawn = -1
	s.steps = nil
	list := parts.Column(4)
	for _, x := range arom.UsualSteps() {
		one := &step{sign: parts.NewBadge(parts.ToDo, 24), words: text(stepWords(x))}
		s.steps = append(s.steps, one)
		list.Add(parts.Row(8, []float32{0, 1}, one.sign, one.words))
	}
	s.cue.Say("The camera and the hand model are being prepared.", false)
	ring := parts.Row(gap, []float32{0, 1}, s.ring, s.pose)
	right := parts.Column(gap, ring, headCell("Hold the hand like this, as in a mirror"), s.wanted, list)
	body := parts.Page(gap, parts.Column(0), parts.Row(20, []float32{1.8, 1}, s.video, p.Scroll(right)), s.cue)
	s.show(p, p.lay(body,
		p.action(parts.Plain, "This pose again", fyne.KeyA, s.again),
		p.action(parts.Plain, "Leave this pose out", fyne.KeyS, s.skip),
		p.action(parts.Plain, "The other hand", fyne.KeyO, s.otherHand),
		p.action(parts.Plain, "Back", fyne.KeyEscape, s.opt.Back)))
}

// stepWords name a pose: "Full fist, palm to the camera".
func stepWords(x goniometry.CaptureStep) string {
	pose := "Straight hand"
	if x.Pose == goniometry.FullFist {
		pose = "Full fist"
	}
	return pose + ", " + stage.TurnWords(exercise.View{YawDeg: x.YawDeg})
}

// begin begins the recording from its first pose.
func (s *Baseline) begin() {
	rec, err := arom.NewRecording(goniometry.CaptureOptions{Side: s.side, At: s.opt.Now(), Estimator: s.opt.Estimator})
	if err != nil {
		s.note("The hand cannot be recorded", s.opt.Words(err), s.opt.Back)
		return
	}
	s.rec, s.recorded, s.kept = rec, nil, false
	s.seen = &glance{}
	s.eye.look(s.side, goniometry.Options{}, s.seen, func(x hand.Sample, o *hand.Observation, f *camera.Frame) {
		size := image.Point{}
		if f != nil {
			size = f.Image.Rect.Size()
		}
		rec.Push(x, o, size)
	})
	s.progress()
}

// look shows what the camera sees and how far the recording is.
func (s *Baseline) look(v *stage.View) {
	if s.rec == nil || s.recorded != nil {
		return
	}
	if v.Picture != nil {
		s.video.Picture(v.Picture)
	}
	if x, _ := s.seen.at(v.At); x.Found {
		s.opt.Stir()
	}
	s.progress()
	if words := cameraWords(v); words != "" {
		s.cue.Say(words, true)
	}
}

// progress brings the signs, the ring and the instruction up to date.
func (s *Baseline) progress() {
	now := s.rec.Now()
	for i, one := range s.steps {
		switch {
		case i >= now.Step:
			one.sign.Set(parts.ToDo)
		case one.skipped:
			one.sign.Set(parts.LeftOut)
		default:
			one.sign.Set(parts.DoneSign)
		}
	}
	if now.Done {
		s.done()
		return
	}
	s.pose.Set(fmt.Sprintf("Pose %d of %d", now.Step+1, now.Steps))
	s.ring.Set(now.Held, now.Hold, "hold")
	s.cue.Say(now.Say, false)
	if s.drawn != now.Step {
		s.drawn = now.Step
		s.draw(now.Step, now.Pose, now.YawDeg)
	}
}

// draw draws the hand as it is to be held.
func (s *Baseline) draw(number int, pose goniometry.BaselinePose, yaw float64) {
	back, side := theme.Color(look.Track), s.side
	s.work.Go(func() {
		mesh, err := s.mesh()
		if err != nil {
			return // the instruction says it in words
		}
		scene := demonstration.Scene(side, exercise.View{YawDeg: yaw})
		scene.Pose = handrender.Straight()
		if pose == goniometry.FullFist {
			scene.Pose = handrender.FullFist()
		}
		r, g, b, _ := back.RGBA()
		scene.Background = handrender.Background{Kind: handrender.Plain, Colour: handrender.RGB{R: float64(r) / 0xffff, G: float64(g) / 0xffff, B: float64(b) / 0xffff}}
		img := image.NewRGBA(image.Rect(0, 0, 320, 240))
		handrender.NewRenderer(mesh, handrender.Options{Workers: 1}).Render(img, scene)
		demonstration.Mirror(img)
		s.opt.Do(func() {
			if s.drawn == number && s.side == side {
				s.wanted.Picture(img)
			}
		})
	})
}

func (s *Baseline) again() {
	if s.rec != nil {
		s.rec.Again()
		s.progress()
	}
}

func (s *Baseline) skip() {
	if s.rec != nil {
		s.steps[min(s.rec.Now().Step, len(s.steps)-1)].skipped = true
		s.rec.Skip()
		s.progress()
	}
}

// otherHand begins anew with the other hand.
func (s *Baseline) otherHand() {
	s.side = s.side.Other()
	s.restart()
}

func (s *Baseline) restart() {
	s.rec, s.recorded, s.kept = nil, nil, false
	s.recordPage()
	if s.eye.up() {
		s.begin()
	}
}

// done shows what came of it.
func (s *Baseline) done() {
	b, err := s.rec.Baseline()
	if err == nil {
		s.other, err = s.opt.Store.Baseline(s.ctx, s.side.Other())
	}
	if err != nil {
		s.note("There is no baseline", s.opt.Words(err), s.restart)
		return
	}
	s.recorded = b
	s.eye.stage.Rest()
	s.tablePage("")
}
