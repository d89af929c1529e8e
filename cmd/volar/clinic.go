package main

import (
	"context"
	"errors"
	"fmt"

	"fyne.io/fyne/v2"

	"volar/internal/vault"
	"volar/ui/clinic"
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
	d, err := newDesk(e)
	if err != nil {
		return err
	}
	defer d.close()
	a, w := d.app, d.window
	o, err := c.withMeasure(clinic.Options{App: a, Window: w, Dir: dir, Leave: d.quit}, e.err)
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
				d.quit()
			})
		}
	}()
	w.SetCloseIntercept(win.Quit)
	win.Run()
	unshown := d.show()
	if unshown == nil {
		d.loop()
	}
	stop()
	<-done
	return errors.Join(unshown, win.Close())
}
