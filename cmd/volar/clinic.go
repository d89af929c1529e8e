package main

import (
	"context"
	"errors"
	"fmt"
	"log"
	"os"

	"fyne.io/fyne/v2"
	"fyne.io/fyne/v2/app"

	"volar/internal/vault"
	"volar/ui/clinic"
	"volar/ui/look"
)

// clinicCmd is the therapist's window.
type clinicCmd struct {
	Store  string `help:"Folder of the store; the user's data folder if not named." placeholder:"FOLDER"`
	Camera string `help:"Camera to use: a number, a path, or file:CLIP for a video played as one." placeholder:"CAMERA"`
	engineFlags
}

func (c *clinicCmd) Run(e *environment) error {
	if !displayFinding().Works {
		return &usageError{errors.New("there is no display to open a window on; start from a desktop, or use a command such as volar program or volar report")}
	}
	if c.Threads < 0 || c.Threads > 64 {
		return &usageError{fmt.Errorf("--threads %d is not between 0 and 64", c.Threads)}
	}
	dir := c.Store
	if dir == "" {
		var err error
		if dir, err = vault.DefaultDir("clinic"); err != nil {
			return fmt.Errorf("find the folder for the store: %w; name one with --store", err)
		}
	}
	return c.run(e, dir)
}

// run shows the window until it is closed.
func (c *clinicCmd) run(e *environment, dir string) error {
	fyneLog := &fyneLog{to: e.err, noWindow: func() { go fyne.Do(func() { fyne.CurrentApp().Quit() }) }}
	log.SetOutput(fyneLog)
	defer log.SetOutput(os.Stderr)
	a := app.NewWithID(appID)
	a.SetIcon(look.Icon())
	w, err := newWindow(a)
	if err != nil {
		return err
	}
	w.SetPadded(false)
	w.Resize(fyne.NewSize(1280, 720))
	w.SetMaster()
	o, err := c.withMeasure(clinic.Options{App: a, Window: w, Dir: dir, Leave: a.Quit}, e.err)
	if err != nil {
		return err
	}
	win := clinic.New(withPost(withReading(o)))
	ctx, stop := context.WithCancel(e.ctx)
	done := make(chan struct{})
	// An interrupt leaves at once, without the backup that closing makes.
	go func() {
		defer close(done)
		<-ctx.Done()
		if e.ctx.Err() != nil {
			fyne.Do(func() {
				win.Close()
				a.Quit()
			})
		}
	}()
	w.SetCloseIntercept(win.Quit)
	win.Run()
	w.ShowAndRun()
	stop()
	<-done
	return errors.Join(fyneLog.failed(), win.Close())
}
