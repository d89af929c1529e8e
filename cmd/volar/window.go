package main

import (
	"context"
	"crypto/rand"
	"errors"
	"fmt"
	"path/filepath"
	"strings"
	"sync"
	"time"

	"fyne.io/fyne/v2"

	"volar/internal/camera"
	"volar/internal/homestore"
	"volar/internal/infer"
	"volar/internal/live"
	"volar/internal/program"
	"volar/internal/sound"
	"volar/internal/vault"
	"volar/ui/home"
)

// appID names the folder in which the window keeps its look.
const appID = "volar"

// windowCmd is the home side's window, and what volar does without a command.
type windowCmd struct {
	Camera  string `help:"Camera to use: a number, a path, or file:CLIP for a video played as one." placeholder:"CAMERA"`
	Program string `help:"Take this home program into the store first." placeholder:"FILE.yaml"`
	Store   string `help:"Folder of the store; the user's data folder if not named." placeholder:"FOLDER"`
	engineFlags
}

func (c *windowCmd) Run(e *environment) error {
	if !displayFinding().Works {
		return &usageError{errors.New("there is no display to open a window on; start from a desktop, or use a command such as volar demo or volar check")}
	}
	var p *program.Program
	if c.Program != "" {
		var err error
		if p, err = loadProgram(e, c.Program); err != nil {
			return err
		}
	}
	dir := c.Store
	if dir == "" {
		var err error
		if dir, err = vault.DefaultDir("home"); err != nil {
			return fmt.Errorf("find the folder for the store: %w; name one with --store", err)
		}
	}
	w := window{dir: dir, program: p, camera: c.Camera, engineFlags: c.engineFlags}
	return w.run(e, nil)
}

// window opens the home side.
type window struct {
	dir string
	// secret opens the store; the zero Secret is this computer's own.
	secret vault.Secret
	// program, where not nil, is taken into the store first.
	program *program.Program
	camera  string
	// alone is a window of which nothing is kept, and which offers no post.
	alone bool
	engineFlags
}

// run shows the window until it is closed. Beside, where not nil, runs on a
// goroutine of its own while the window is open.
func (c *window) run(e *environment, beside func(ctx context.Context, a fyne.App, w fyne.Window, h *home.Home)) error {
	if c.Threads < 0 || c.Threads > 64 {
		return &usageError{fmt.Errorf("--threads %d is not between 0 and 64", c.Threads)}
	}
	tones, err := sound.New(sound.Options{})
	if err != nil {
		return err
	}
	defer tones.Close()
	d, err := newDesk(e)
	if err != nil {
		return err
	}
	defer d.close()
	a, w := d.app, d.window

	var store *homestore.Store
	mail := new(windowPost)
	var h *home.Home
	var closing error
	leave := func() {
		closing = errors.Join(closing, h.Close())
		d.quit()
	}
	h = home.New(home.Options{
		App: a, Window: w, Sound: tones, Threads: c.Threads,
		Open: func() (_ home.Store, err error) {
			store, err = c.open(e.ctx)
			if err != nil {
				return nil, err
			}
			mail.open(store)
			return store, nil
		},
		Post: mail.screen(w, c.alone), Kept: mail.kept,
		Mend:   func(err error) (string, func() error) { return c.mend(e.ctx, err) },
		Engine: func() (infer.Engine, error) { return c.engineFlags.open(e.err) },
		Camera: func() (camera.Source, error) {
			// Trying again is the stage's, which shows what is wrong meanwhile.
			return camera.OpenCamera(c.camera, camera.WebcamOptions{Retries: -1})
		},
		Words: homestore.Words, Notice: c.notice(),
		Leave: leave,
	})
	ctx, stop := context.WithCancel(e.ctx)
	done := make(chan struct{})
	// An interrupt leaves as the client would.
	go func() {
		defer close(done)
		<-ctx.Done()
		if e.ctx.Err() != nil {
			fyne.Do(leave)
		}
	}()
	w.SetCloseIntercept(h.Leave)
	h.Run()
	var others sync.WaitGroup
	unshown := d.show()
	if unshown == nil {
		if beside != nil {
			others.Go(func() { beside(ctx, a, w, h) })
		}
		d.loop()
	}
	stop()
	<-done
	others.Wait()
	// Fyne takes an interrupt by itself too, and a window that never was cannot
	// be left.
	closing = errors.Join(unshown, closing, h.Close())
	mail.close()
	if store != nil {
		// The window is gone already, so nobody waits for the copy; whoever
		// interrupts the program does.
		if e.ctx.Err() == nil {
			closing = errors.Join(closing, store.BackUp(e.ctx))
		}
		closing = errors.Join(closing, store.Close())
	}
	return closing
}

// notice says that what is shown is no camera's picture.
func (c *window) notice() string {
	switch {
	case c.alone:
		return "This is a demonstration: a film of a drawn hand takes the camera's place, and nothing is kept."
	case strings.HasPrefix(c.camera, "file:"):
		return "A video takes the camera's place: " + filepath.Base(strings.TrimPrefix(c.camera, "file:"))
	}
	return ""
}

// open opens the store and takes the program in.
func (c *window) open(ctx context.Context) (*homestore.Store, error) {
	estimator, err := live.Estimator()
	if err != nil {
		return nil, err
	}
	s, err := homestore.Open(ctx, c.dir, homestore.Options{Secret: c.secret, Software: version(), Estimator: estimator})
	if err != nil {
		return nil, err
	}
	if c.program != nil {
		if err := s.TakeProgram(ctx, c.program); err != nil {
			s.Close()
			return nil, err
		}
	}
	return s, nil
}

// passing is the secret of a store that nobody opens again, so that it leaves
// nothing in the system's keyring.
func passing() vault.Secret { return vault.Passphrase(rand.Text()) }

// mend offers the newest backup for a store that is damaged.
func (c *window) mend(ctx context.Context, err error) (string, func() error) {
	var damaged *vault.DamagedError
	if !errors.As(err, &damaged) || len(damaged.Backups) == 0 {
		return "", nil
	}
	b := damaged.Backups[0]
	return "Restore the backup of " + b.Made.Local().Format("2 January 2006, 15:04"), func() error {
		ctx, stop := context.WithTimeout(ctx, time.Minute)
		defer stop()
		return vault.Restore(ctx, c.dir, b.Dir, vault.Options{Secret: c.secret})
	}
}
