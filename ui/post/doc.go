// Package post has the screens that carry sealed files: the clinic's letters,
// its invitations with the code that is read out, and the client's screens for
// a file from the therapist and for what goes back.
//
// Each is a parts.Screen that is made with Options and leads back by their Back.
// Within it one page is shown at a time. Everything works by keyboard alone; on
// the client's pages nothing needs to be typed but the digits of the code.
//
// There is no sealing and no deciding here: package post of the domain does
// both. All of this package runs on fyne's goroutine, but for what it does in
// the background, which comes back to it by Options.Do; leaving a screen calls
// that back and waits for it.
package post

import (
	"context"
	"sync"
	"time"

	"fyne.io/fyne/v2"
	"fyne.io/fyne/v2/container"
	"fyne.io/fyne/v2/theme"

	"volar/ui/look"
	"volar/ui/parts"
)

// Screen is a screen that the window is named after.
type Screen interface {
	parts.Screen
	Title() string
}

// Options are what every screen is made with. Window and Back have to be set.
type Options struct {
	Window fyne.Window
	// Back shows what this screen was opened from.
	Back func()
	// Now is the wall clock; nil is time.Now.
	Now func() time.Time
	// Do runs a function on fyne's goroutine; nil is fyne.Do.
	Do func(func())
	// Folders are looked through for files from the therapist, and the first
	// is where a file is saved; nil is the user's own, and sticks.
	Folders []string
}

func (o Options) withDefaults() Options {
	if o.Now == nil {
		o.Now = time.Now
	}
	if o.Do == nil {
		o.Do = fyne.Do
	}
	if o.Folders == nil {
		o.Folders = usualFolders()
	}
	return o
}

const (
	edge = 16 // room at the window's edges
	gap  = 12 // between the parts of a page
)

// flow is a screen of several pages.
type flow struct {
	o    Options
	ctx  context.Context
	stop context.CancelFunc
	work sync.WaitGroup
	root *fyne.Container
	page *page
	// start makes the first page.
	start func() *page
	busy  bool
}

func newFlow(o Options) *flow {
	f := &flow{o: o.withDefaults()}
	f.ctx, f.stop = context.WithCancel(context.Background())
	return f
}

// Content is part of parts.Screen.
func (f *flow) Content() fyne.CanvasObject {
	f.root = container.NewStack()
	f.put(f.start())
	return f.root
}

// First is part of parts.Screen.
func (f *flow) First() fyne.Focusable { return f.page.first }

// Title is what the window is called.
func (f *flow) Title() string { return f.page.title }

// Key is part of parts.Screen.
func (f *flow) Key(k fyne.KeyName) { f.page.Key(k) }

// Leave is part of parts.Screen.
func (f *flow) Leave() {
	f.stop()
	f.work.Wait()
}

// show replaces the page.
func (f *flow) show(p *page) {
	c := f.o.Window.Canvas()
	c.Unfocus()
	f.put(p)
	f.o.Window.SetTitle(p.title + " – volar")
	if p.first != nil {
		c.Focus(p.first)
	}
}

func (f *flow) put(p *page) {
	f.page = p
	f.root.Objects = []fyne.CanvasObject{p.content}
	f.root.Refresh()
}

// background runs work beside the window, one at a time, and then on fyne's
// goroutine; nothing comes of it once the screen was left.
func (f *flow) background(work func(ctx context.Context) error, then func(error)) {
	if f.busy {
		return
	}
	f.busy = true
	f.work.Add(1)
	go func() {
		defer f.work.Done()
		err := work(f.ctx)
		f.o.Do(func() {
			if f.ctx.Err() != nil {
				return
			}
			f.busy = false
			then(err)
		})
	}()
}

// page is one page of a flow.
type page struct {
	parts.Controls
	title   string
	content fyne.CanvasObject
	first   fyne.Focusable
	// say shows what is wrong, where the page has a place for it.
	say func(string)
}

func newPage(title string) *page { return &page{title: title} }

// action makes a button that a key works too.
func (p *page) action(kind parts.Kind, label string, k fyne.KeyName, do func()) *parts.Button {
	b := p.Action(kind, label, k, do)
	if p.first == nil {
		p.first = b
	}
	return b
}

// lay lays the page out: its title, what it is about, and its actions below.
func (p *page) lay(middle fyne.CanvasObject, actions ...fyne.CanvasObject) *page {
	view := p.Scroll(middle)
	more := p.moreButton()
	all := parts.Page(gap, parts.Heading(p.title), view, parts.Flow(gap, append(actions, more)...))
	// The button takes room from the middle, so that it never goes and comes in
	// turn.
	p.More.OnChanged(func() {
		label := "More"
		if p.More.AtEnd() {
			label = "Top"
		}
		more.SetLabel(label)
		if over := p.More.Over(); over != more.Visible() {
			more.Hidden = !over
			all.Refresh()
		}
	})
	p.content = parts.Pad(edge, all)
	return p
}

// moreButton moves the middle of the page down, and from its end to the
// beginning. It is there only while not all of the middle is in view.
func (p *page) moreButton() *parts.Button {
	on := func() {
		if p.More.AtEnd() {
			p.More.Top()
		} else {
			p.More.By(0.8)
		}
	}
	m := parts.NewButton(parts.Plain, "More", "M", on).Holding("Top")
	m.Hide()
	p.On(fyne.KeyM, func() {
		if m.Visible() {
			on()
		}
	})
	return p.Add(m)
}

func text(s string) *parts.Words  { return parts.NewWords(s, parts.Style{}) }
func quiet(s string) *parts.Words { return parts.NewWords(s, parts.Style{Colour: look.Quiet}) }

// strong is a title within a page.
func strong(s string) *parts.Words {
	return parts.NewWords(s, parts.Style{Size: theme.SizeNameSubHeadingText, Bold: true})
}

// signed is text with a sign before it.
func signed(s parts.Sign, words string) fyne.CanvasObject {
	return parts.Signed(s, text(words))
}

// day says when something was.
func (f *flow) day(t time.Time) string {
	t = t.In(f.o.Now().Location())
	if t.Format(time.DateOnly) == f.o.Now().Format(time.DateOnly) {
		return "today, " + t.Format("15:04")
	}
	return t.Format("2 January 2006, 15:04")
}
