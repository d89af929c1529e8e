// Package measure holds the screens on which a hand is read before the camera:
// the recording of a baseline, with the joint table that comes of it, and the
// joint table of this moment.
//
// Each constructor returns one parts.Screen that shows its own parts one after
// the other, so that the way back leads to where one came from. Everything is
// worked by one key: the letter beside an action does it, Space takes what comes
// next, Escape goes back. Nothing is kept but where Save is chosen; leaving a
// recorded hand, or a frozen table, without it asks first.
//
// There is no judging here: package arom records and puts the tables together,
// package stage runs the camera, package report writes on paper.
//
// All of this runs on fyne's goroutine, but for loading the models and the
// camera's goroutines, which come back to it with Options.Do; Leave ends them
// and waits. While the window's content is not this screen's, as under a lock,
// neither the window's title nor its focus is touched.
package measure

import (
	"context"
	"time"

	"fyne.io/fyne/v2"
	"fyne.io/fyne/v2/container"
	"fyne.io/fyne/v2/theme"

	"volar/internal/arom"
	"volar/internal/camera"
	"volar/internal/goniometry"
	"volar/internal/hand"
	"volar/internal/infer"
	"volar/internal/score"
	"volar/ui/look"
	"volar/ui/parts"
)

// Store is what is kept of the client.
type Store interface {
	// Baseline is the newest recorded hand of a side; nil where there is none.
	Baseline(ctx context.Context, side hand.Side) (*goniometry.Baseline, error)
	PutBaseline(ctx context.Context, b *goniometry.Baseline) error
	PutMeasurement(ctx context.Context, m *arom.Measurement) error
	// Measurements are what was measured of both hands, newest first.
	Measurements(ctx context.Context) ([]*arom.Measurement, error)
}

// Options of the screens. Window, Store, Engine, Camera and Back have to be
// set.
type Options struct {
	Window fyne.Window
	Store  Store
	// Client is the client's code.
	Client string
	// Side is the hand that is looked at first; UnknownSide is the right.
	Side hand.Side
	// ReadOnly leaves out what would change the store.
	ReadOnly bool
	// Engine opens the engine that runs the models, on a goroutine of its own;
	// the screen closes it.
	Engine  func() (infer.Engine, error)
	Threads int
	// Camera opens the camera.
	Camera func() (camera.Source, error)
	// Estimator names what reads the angles.
	Estimator string
	// Folder is where files for printing go; empty is the user's documents.
	Folder string
	// Now is the wall clock; nil is time.Now.
	Now func() time.Time
	// Do runs a function on fyne's goroutine; nil is fyne.Do.
	Do func(func())
	// Back shows the screen that this one was opened from.
	Back func()
	// Stir tells that somebody is there: a hand is before the camera. It may be
	// nil.
	Stir func()
	// Words put an error into a sentence; nil is the error as it is.
	Words func(error) string
}

func (o Options) withDefaults() Options {
	if o.Side == hand.UnknownSide {
		o.Side = hand.Right
	}
	if o.Now == nil {
		o.Now = time.Now
	}
	if o.Do == nil {
		o.Do = fyne.Do
	}
	if o.Stir == nil {
		o.Stir = func() {}
	}
	if o.Words == nil {
		o.Words = func(err error) string { return arom.Sentence(err.Error()) }
	}
	return o
}

const (
	edge = 14 // room at the window's edges
	gap  = 10 // between the parts of a screen
)

// frame is what both screens have in common: one thing is shown at a time.
type frame struct {
	opt  Options
	ctx  context.Context
	stop context.CancelFunc
	root *fyne.Container
	// page is what is shown.
	page  *page
	norms *score.NormSet
}

func newFrame(o Options) frame {
	f := frame{opt: o.withDefaults(), root: container.NewStack()}
	f.ctx, f.stop = context.WithCancel(context.Background())
	f.norms, _ = score.FindNormSet("aaos-1994")
	return f
}

// page is one thing that is shown.
type page struct {
	parts.Controls
	title string
	first fyne.Focusable
	// bare leaves the heading to the window's title, for the room.
	bare    bool
	content fyne.CanvasObject
	// over is the page that a question was asked on.
	over *page
}

// action makes a button that a key works too, wherever no text is typed.
func (p *page) action(kind parts.Kind, label string, k fyne.KeyName, do func()) *parts.Button {
	b := p.Action(kind, label, k, do)
	if p.first == nil {
		p.first = b
	}
	return b
}

// lay puts a page together: a heading, what it is about, and its actions.
func (p *page) lay(middle fyne.CanvasObject, actions ...fyne.CanvasObject) fyne.CanvasObject {
	// Space has one meaning wherever the focus is.
	if p.Does(fyne.KeySpace) != nil {
		for _, b := range p.Line {
			b.LeaveSpace()
		}
	}
	var head fyne.CanvasObject = parts.Heading(p.title)
	if p.bare {
		head = parts.Column(0)
	}
	return parts.Pad(edge, parts.Page(gap, head, middle, parts.Flow(gap, actions...)))
}

// show shows a page.
func (f *frame) show(p *page, content fyne.CanvasObject) {
	f.page, p.content = p, content
	f.root.Objects = []fyne.CanvasObject{content}
	f.root.Refresh()
	c := f.opt.Window.Canvas()
	if c.Content() != f.root {
		return
	}
	f.opt.Window.SetTitle(p.title + " – volar")
	if p.first != nil {
		c.Focus(p.first)
	} else {
		c.Unfocus()
	}
}

// Title is what the window is called.
func (f *frame) Title() string { return f.page.title }

// First is part of parts.Screen.
func (f *frame) First() fyne.Focusable { return f.page.first }

// Key is part of parts.Screen.
func (f *frame) Key(k fyne.KeyName) { f.page.Key(k) }

// note shows one thing that is said, with a way on.
func (f *frame) note(title, words string, on func()) {
	p := &page{title: title}
	body := parts.Row(gap, []float32{0, 1}, parts.NewBadge(parts.CautionSign, 40), text(words))
	f.show(p, p.lay(p.Scroll(body), p.action(parts.Lead, "Go on", fyne.KeyEscape, on)))
}

// ask asks before something that is not saved is left behind: to go back to it
// as it was, to save it, or to go on without it. Where it is asked already, it
// is asked again, for the way out that was tried last.
func (f *frame) ask(title, words, stay string, save, then func()) {
	p := &page{title: title, over: f.page}
	if f.page.over != nil {
		p.over = f.page.over
	}
	keep := func() { f.show(p.over, p.over.content) }
	body := parts.Row(gap, []float32{0, 1}, parts.NewBadge(parts.CautionSign, 40), text(words))
	actions := []fyne.CanvasObject{p.action(parts.Lead, stay, fyne.KeyEscape, keep)}
	if !f.opt.ReadOnly {
		actions = append(actions, p.action(parts.Plain, "Save", fyne.KeyS, save))
	}
	actions = append(actions, p.action(parts.Plain, "Discard", fyne.KeyD, then))
	f.show(p, p.lay(p.Scroll(body), actions...))
}

func text(s string) *parts.Words { return parts.NewWords(s, parts.Style{}) }

func small(s string) *parts.Words {
	return parts.NewWords(s, parts.Style{Size: theme.SizeNameCaptionText, Colour: look.Quiet})
}

func strong(s string) *parts.Words {
	return parts.NewWords(s, parts.Style{Size: theme.SizeNameSubHeadingText, Bold: true})
}

// sideWords name a hand: "right hand".
func sideWords(s hand.Side) string { return s.String() + " hand" }
