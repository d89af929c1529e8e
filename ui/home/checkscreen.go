package home

import (
	"image"

	"fyne.io/fyne/v2"
	"fyne.io/fyne/v2/theme"

	"volar/internal/demonstration"
	"volar/internal/handrender"
	"volar/internal/stage"
	"volar/internal/today"
	"volar/ui/look"
	"volar/ui/parts"
)

// check sees to it that the camera sees the hand well, one thing at a time.
type check struct {
	base
	plan   *plan
	item   *today.Item
	video  *parts.Video
	wanted *parts.Video
	cue    *parts.CueLine
	done   bool
}

func newCheck(h *Home, p *plan, it *today.Item) *check {
	return &check{
		base: base{h: h}, plan: p, item: it,
		video: parts.NewVideo(fyne.NewSize(320, 240)), wanted: parts.NewVideo(fyne.NewSize(240, 180)),
		cue: parts.NewCueLine(),
	}
}

func (s *check) Content() fyne.CanvasObject {
	s.h.sitting.stage.Check(stage.CheckOptions{Side: s.item.Side, Both: s.item.Movement.Hands == 2, View: s.item.View})
	s.cue.Say("Show your hand to the camera.", false)
	s.picture()
	hands := "your hand"
	if s.item.Movement.Hands == 2 {
		hands = "your hands"
	}
	right := parts.Column(gap, labelled("Hold "+hands+" like this"), s.wanted, text(s.item.View.Shows))
	body := parts.Page(gap, parts.Column(0), parts.Row(20, []float32{1.6, 1}, s.video, s.Scroll(right)), s.cue)
	return s.screen("Can the camera see "+hands+"?", body,
		s.action(parts.Lead, "Go on anyway", fyne.KeySpace, s.next),
		s.action(parts.Plain, "Back", fyne.KeyB, func() { s.h.show(newAbout(s.h, s.plan, s.item)) }),
		s.hurt(func() { s.h.hurtBefore(s.plan, s.item) }))
}

func (s *check) next() {
	if !s.done {
		s.done = true
		s.h.begin(s.plan, s.item)
	}
}

// Seen is part of viewer.
func (s *check) Seen(v *stage.View) {
	if v.Picture != nil {
		s.video.Picture(v.Picture)
	}
	if words := cameraWords(v); words != "" {
		s.cue.Say(words, true)
		return
	}
	if v.Check == nil {
		return
	}
	s.cue.Say(v.Check.Words, false)
	if v.Check.Ready {
		s.next()
	}
}

// picture draws the hand turned as it should be, or both where it takes two.
func (s *check) picture() {
	back := shade(theme.Color(look.Track))
	s.h.background(func() {
		mesh, err := s.h.mesh()
		if err != nil {
			return // the instruction says it in words
		}
		shown, err := demonstration.Show(demonstration.Plan{Movement: s.item.Movement, Object: s.item.Object.ID, Side: s.item.Side}, s.item.View)
		if err != nil {
			return
		}
		scene := shown.Scene(0)
		scene.Background = handrender.Background{Kind: handrender.Plain, Colour: back}
		img := image.NewRGBA(image.Rect(0, 0, 400, 300))
		handrender.NewRenderer(mesh, handrender.Options{Workers: 1}).Render(img, scene)
		demonstration.Mirror(img)
		s.h.opt.Do(func() { s.wanted.Picture(img) })
	})
}

// cameraWords say what is wrong with the camera; empty where nothing is.
func cameraWords(v *stage.View) string {
	switch {
	case v.Failed != nil:
		return "The hand model has failed: close the window and start again."
	case v.Camera.State == stage.Opening:
		return "The camera is being opened."
	}
	return stage.CameraWords(v.Camera)
}
