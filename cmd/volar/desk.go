package main

import (
	"fmt"
	"log"
	"os"

	"fyne.io/fyne/v2"
	"fyne.io/fyne/v2/app"

	"volar/ui/look"
)

// desk is a desktop program that has not been shown yet: the home's or the
// clinic's window.
type desk struct {
	app    fyne.App
	window fyne.Window
	log    *fyneLog
}

// newDesk makes the window. Until close is called, fyne's log goes to the
// environment's error output.
func newDesk(e *environment) (*desk, error) {
	d := &desk{log: &fyneLog{to: e.err}}
	log.SetOutput(d.log)
	d.app = app.NewWithID(appID)
	d.app.SetIcon(look.Icon())
	var err error
	if d.window, err = newWindow(d.app); err != nil {
		d.close()
		return nil, err
	}
	d.window.SetPadded(false)
	d.window.Resize(fyne.NewSize(1280, 720))
	d.window.SetMaster()
	return d, nil
}

// show opens the window. That it cannot be made is only told in fyne's log.
func (d *desk) show() error {
	d.window.Show()
	return d.log.failed()
}

// loop runs fyne until quit, with the window shown.
//
// As its loop ends, fyne 2.7 puts the hook that saves the preferences in one
// queue and closes another, through which that hook is to run. Where the hook
// comes late it waits for ever, and the program with it. So the hook is taken
// away, and called once nothing runs any more.
func (d *desk) loop() {
	saved := func() {}
	if l, ok := d.app.Lifecycle().(stopHook); ok {
		if f := l.OnStopped(); f != nil {
			saved = f
		}
		l.SetOnStoppedHookExecuted(nil)
	}
	d.app.Run()
	saved()
}

// stopHook is what fyne's lifecycle has beyond its interface.
type stopHook interface {
	OnStopped() func()
	SetOnStoppedHookExecuted(func())
}

// quit ends the loop; to be called on fyne's goroutine. App.Quit would close the
// window before, and fyne 2.7 fails where the pointer moves over a window that is
// closing: it may look for events once more before the loop ends.
func (d *desk) quit() { d.app.Driver().Quit() }

// close gives the log back.
func (d *desk) close() { log.SetOutput(os.Stderr) }

// newWindow makes the window. Fyne panics where there is a display by name that
// cannot be reached.
func newWindow(a fyne.App) (w fyne.Window, err error) {
	defer func() {
		if p := recover(); p != nil {
			err = fmt.Errorf("the display %s cannot be opened (%v); start from a desktop, or use a command such as volar demo --text or volar check", os.Getenv("DISPLAY"), p)
		}
	}()
	return a.NewWindow("volar"), nil
}
