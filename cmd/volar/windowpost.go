package main

import (
	"fyne.io/fyne/v2"

	"volar/internal/homestore"
	"volar/internal/post"
	"volar/ui/home"
	uipost "volar/ui/post"
)

// windowPost is the home's post behind its window: the courier, who goes by
// himself where the client chose so, and the screen that both share a store
// with. All methods are called on one goroutine.
type windowPost struct {
	home    *post.Home
	courier *post.Courier
}

// open begins with a store, and looks for news.
func (p *windowPost) open(s *homestore.Store) {
	p.home = post.NewHome(s, post.Options{})
	p.courier = post.NewCourier(post.CourierOptions{Run: p.home.Exchange})
	p.courier.Wake()
}

// kept sends the courier off with what was practised.
func (p *windowPost) kept() {
	if p.courier != nil {
		p.courier.Wake()
	}
}

// screen makes the client's screen of what comes and goes; nil where the window
// stands alone.
func (p *windowPost) screen(w fyne.Window, alone bool) func(back func()) home.Titled {
	if alone {
		return nil
	}
	return func(back func()) home.Titled { return uipost.NewClient(p.home, uipost.Options{Window: w, Back: back}) }
}

// close calls the courier back and waits for him.
func (p *windowPost) close() {
	if p.courier != nil {
		p.courier.Close()
	}
}
