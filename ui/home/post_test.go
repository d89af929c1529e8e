package home

import (
	"testing"

	"fyne.io/fyne/v2"
	"github.com/stretchr/testify/require"

	"volar/ui/parts"
)

// letterbox stands for the screen of what comes and goes.
type letterbox struct{ back func() }

func (s *letterbox) Content() fyne.CanvasObject { return parts.Heading(s.Title()) }
func (s *letterbox) First() fyne.Focusable      { return nil }
func (s *letterbox) Key(fyne.KeyName)           { s.back() }
func (s *letterbox) Leave()                     {}
func (s *letterbox) Title() string              { return "Letters" }

// The screen of what comes and goes is one key away, and leads back; where
// there is none, nothing is offered. Whoever carries is told when a session is
// over.
func TestTheTherapistIsOneKeyAway(t *testing.T) {
	m, _ := day(t)
	h, w, _ := opened(t, m, 100)
	key := func(k fyne.KeyName) { w.Canvas().OnTypedKey()(&fyne.KeyEvent{Name: k}) }
	h.today()
	key(fyne.KeyT)
	require.Equal(t, "Today – volar", w.Title())
	h.opt.Post = func(back func()) Titled { return &letterbox{back} }
	kept := 0
	h.opt.Kept = func() { kept++ }
	h.today()
	key(fyne.KeyT)
	require.Equal(t, "Letters – volar", w.Title())
	key(fyne.KeyB)
	require.Equal(t, "Today – volar", w.Title())
	key(fyne.KeyO)
	key(fyne.Key5)
	require.Equal(t, "Letters – volar", w.Title())
	h.sits(t, m)
	require.Zero(t, kept)
	h.today()
	require.Equal(t, 1, kept)
	h.today()
	require.Equal(t, 1, kept)
}
