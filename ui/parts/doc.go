// Package parts holds the widgets and layouts that every screen is put
// together from: large buttons that a key or a touch works, cards, the count,
// the ring of a hold, the scale from 0 to 10, the camera's picture, text that
// wraps, and the router that shows one screen at a time.
//
// Whatever can be done with the pointer can be done with one key: Tab or an
// arrow moves the focus, Enter or Space works what has it, and a key that a
// widget does not use goes on to the screen. Nothing is dragged, tapped twice
// or held. Sizes are fyne's device-independent pixels; targets are look.Target
// or larger.
//
// Everything here is for the goroutine that fyne calls back on. Layouts know
// the height that wrapped text needs at a given width, which fyne's own do
// not.
package parts
