package home

import (
	"image"
	"testing"
	"time"

	"fyne.io/fyne/v2"
	"fyne.io/fyne/v2/driver/desktop"
	"github.com/stretchr/testify/require"

	"volar/internal/camera"
	"volar/internal/coach"
	"volar/internal/handrender"
	"volar/internal/session"
)

// straightHand is a camera before which a rendered right hand is held straight
// for ever, thumb side to the camera.
func straightHand(t *testing.T) func() (camera.Source, error) {
	t.Helper()
	mesh, err := handrender.Default()
	require.NoError(t, err)
	img := image.NewRGBA(image.Rect(0, 0, 640, 480))
	handrender.NewRenderer(mesh, handrender.Options{}).Render(img, handrender.Scene{
		Pose: handrender.Straight(), View: handrender.View{Yaw: 75, Pitch: 4},
		Skin: handrender.Skin{Tone: 0.35, Seed: 7}, Camera: handrender.Camera{Distance: 0.38},
	})
	return func() (camera.Source, error) {
		src, err := camera.NewRendered(camera.RenderedOptions{Width: 640, Height: 480, FPS: 20}, func(dst *image.RGBA, _ time.Duration, _ int) error {
			copy(dst.Pix, img.Pix)
			return nil
		})
		if err != nil {
			return nil, err
		}
		return camera.NewPaced(src)
	}
}

// A client goes from the list to the live picture, stops because it hurts,
// goes on, leaves the set out and answers; all by single keys.
func TestAPracticeByKeys(t *testing.T) {
	m := &memory{program: prescribed(t, "straight-finger-hold"), consented: true}
	h, w, q := opened(t, m, 100)
	h.opt.Camera = straightHand(t)
	title := func() string { return h.router.Screen().(titled).Title() }
	at := func(want string) func() bool { return func() bool { return title() == want } }
	press := func(k fyne.KeyName) {
		if f := w.Canvas().Focused(); f != nil {
			f.TypedKey(&fyne.KeyEvent{Name: k})
			return
		}
		w.Canvas().OnTypedKey()(&fyne.KeyEvent{Name: k})
	}
	state := func(s coach.State) func() bool {
		return func() bool {
			l, ok := h.router.Screen().(*live)
			return ok && l.now.State == s
		}
	}
	const name = "Straight-finger hold, fingers side by side"
	h.Run()
	require.Equal(t, "Today", title())
	press(fyne.KeySpace)
	require.Equal(t, name, title())
	press(fyne.KeySpace)
	q.until(t, at("How much does your hand hurt now?"))
	press(fyne.Key2)
	require.Equal(t, "Can the camera see your hand?", title())
	// A hand that is held well needs no key here.
	q.until(t, state(coach.Ready))
	press(fyne.KeySpace)
	q.until(t, state(coach.Working))
	press(fyne.KeySpace)
	q.until(t, state(coach.Halted))
	press(fyne.KeySpace)
	q.until(t, state(coach.Working))

	press(fyne.KeyEscape)
	require.Equal(t, "Stopped. How much does it hurt?", title())
	press(fyne.Key4)
	require.Equal(t, "Does it stab, shoot, burn or spread?", title())
	press(fyne.KeyN)
	q.until(t, at("Do you want to go on?"))
	press(fyne.KeyE)
	q.until(t, at("How it went: "+name))
	press(fyne.KeyN)
	require.Equal(t, "A note for your therapist", title())
	w.Canvas().Focused().TypedRune('n') // the key that opened it, as a letter
	w.Canvas().Focused().(desktop.Keyable).KeyDown(&fyne.KeyEvent{Name: fyne.KeyS})
	for _, r := range "stiff" {
		w.Canvas().Focused().TypedRune(r)
	}
	w.Canvas().FocusNext()
	press(fyne.KeyReturn)
	require.Equal(t, "How it went: "+name, title())
	press(fyne.KeyB)
	require.Equal(t, "Today", title())
	require.Nil(t, h.sitting, "the camera is let go")

	e := m.exercises[1]
	require.Equal(t, "straight-finger-hold", e.Item)
	require.Equal(t, session.Stopped, e.Outcome)
	require.Equal(t, string(coach.Hurting), e.StopReason)
	require.Equal(t, 2, *e.PainBefore)
	require.Equal(t, 4, *e.PainAfter)
	var kinds []session.AnswerKind
	for _, a := range m.answers {
		kinds = append(kinds, a.Kind)
	}
	require.Equal(t, []session.AnswerKind{session.PainBefore, session.Hurt, session.PainAfter, session.Note}, kinds)
	require.Equal(t, "stiff", m.answers[3].Text)
}

// Pain that rises by more than two points ends the day.
func TestPainThatRisesEndsTheDay(t *testing.T) {
	m := &memory{program: prescribed(t, "straight-finger-hold"), consented: true}
	h, w, q := opened(t, m, 100)
	title := func() string { return h.router.Screen().(titled).Title() }
	press := func(k fyne.KeyName) { w.Canvas().OnTypedKey()(&fyne.KeyEvent{Name: k}) }
	h.Run()
	press(fyne.KeySpace)
	press(fyne.KeySpace)
	q.until(t, func() bool { return title() == "How much does your hand hurt now?" })
	press(fyne.Key1)
	press(fyne.KeyEscape)
	require.Equal(t, "Stopped. How much does it hurt?", title())
	press(fyne.Key5)
	press(fyne.KeyN)
	q.until(t, func() bool { return title() == "Stop for today" })
	require.Equal(t, string(coach.PainRose), m.exercises[1].StopReason)
}
