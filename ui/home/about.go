package home

import (
	"context"
	"image/color"
	"strings"
	"time"

	"fyne.io/fyne/v2"
	"fyne.io/fyne/v2/theme"

	"volar/internal/coach"
	"volar/internal/demonstration"
	"volar/internal/exercise"
	"volar/internal/handrender"
	"volar/internal/stage"
	"volar/internal/today"
	"volar/ui/look"
	"volar/ui/parts"
)

// about is one exercise before it begins: what it is and how it looks.
type about struct {
	base
	plan  *plan
	item  *today.Item
	video *parts.Video
	stop  context.CancelFunc
}

func newAbout(h *Home, p *plan, it *today.Item) *about {
	return &about{base: base{h: h}, plan: p, item: it, video: parts.NewVideo(fyne.NewSize(320, 240))}
}

func (s *about) Content() fyne.CanvasObject {
	m := s.item.Movement
	words := parts.Column(14, text(m.Purpose), labelled("How much", dose(s.item)+"; "+today.Minutes(s.item.Takes)))
	if o := s.item.Object; o.Name != "" {
		words.Add(labelled("With", o.Name+grade(o.Grade)))
	}
	if s.item.Note != "" {
		words.Add(labelled("From your therapist", s.item.Note))
	}
	words.Add(labelled("How it looks", append([]string{m.Good}, says(m)...)...))
	hands := "your hand"
	if s.item.Movement.Hands == 2 {
		hands = "both hands"
	}
	words.Add(labelled("Before the camera", "Hold "+hands+" with the "+stage.TurnWords(s.item.View)+".", s.item.View.Shows))
	words.Add(labelled("Take care", m.Cautions...))
	if len(m.AskFirst) > 0 {
		words.Add(labelled("Ask your therapist first if you have had", strings.Join(m.AskFirst, "; ")))
	}
	s.film()
	actions := []fyne.CanvasObject{
		s.action(parts.Lead, "Start", fyne.KeySpace, s.begin),
		s.action(parts.Plain, "Leave out", fyne.KeyS, s.leaveOut),
		s.action(parts.Plain, "Back", fyne.KeyB, s.h.today),
		s.hurt(func() { s.h.hurtBefore(s.plan, s.item) }),
	}
	return s.screen(m.Name, parts.Row(20, []float32{1, 1}, s.video, s.Scroll(words)), actions...)
}

// grade says how hard an object makes the exercise.
func grade(g exercise.Grade) string {
	switch g {
	case exercise.Easier:
		return " (the easier choice)"
	case exercise.Harder:
		return " (the harder choice)"
	}
	return ""
}

// says are the sentences that lead through a repetition.
func says(m *exercise.Movement) []string {
	var out []string
	for _, p := range m.Phases {
		if p.Say != "" {
			out = append(out, p.Say)
		}
	}
	return out
}

func (s *about) begin() {
	s.h.sit(s.plan, func() {
		if s.h.sitting.pain == nil {
			s.h.show(newPain(s.h, painBefore, s.plan, s.item))
			return
		}
		s.h.prepare(s.plan, s.item)
	})
}

// leaveOut records that the exercise is left out today.
func (s *about) leaveOut() {
	s.h.sit(s.plan, func() {
		if err := s.h.perform(s.plan, s.item); err != nil {
			s.h.trouble("The exercise cannot be left out", err, s.h.today)
			return
		}
		for range s.item.Dose.Sets {
			s.h.sitting.stage.Skip()
		}
		s.h.finish(s.item.ID, func(coach.PracticeSummary, error) { s.h.today() })
	})
}

// film draws the demonstration in the background and plays what is there.
func (s *about) film() {
	ctx, stop := context.WithCancel(s.h.ctx)
	s.stop = stop
	s.left = stop
	back := theme.Color(look.Track)
	s.h.background(func() {
		mesh, err := s.h.mesh()
		if err != nil {
			return // the exercise is told in words as well
		}
		reel, err := demonstration.NewReel(demonstration.ReelOptions{
			Movement: s.item.Movement, Object: s.item.Object.ID, Side: s.item.Side, View: s.item.View,
			Background: shade(back), Mirror: true,
			Renderer: handrender.NewRenderer(mesh, handrender.Options{Workers: 1}),
		})
		if err != nil {
			return
		}
		s.h.background(func() { s.play(ctx, reel) })
		// The only error is that the screen was left.
		reel.Film(ctx, nil)
	})
}

// frameTime is how long a picture of the demonstration stays.
const frameTime = 100 * time.Millisecond

func (s *about) play(ctx context.Context, reel *demonstration.Reel) {
	tick := time.NewTicker(frameTime)
	defer tick.Stop()
	start := time.Now()
	for {
		select {
		case <-ctx.Done():
			return
		case <-tick.C:
		}
		if img := reel.At(time.Since(start)); img != nil {
			s.h.opt.Do(func() {
				if ctx.Err() == nil {
					s.video.Picture(img)
				}
			})
		}
	}
}

func shade(c color.Color) handrender.RGB {
	r, g, b, _ := c.RGBA()
	return handrender.RGB{R: float64(r) / 0xffff, G: float64(g) / 0xffff, B: float64(b) / 0xffff}
}
