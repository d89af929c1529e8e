package main

import (
	"context"
	"errors"
	"fmt"
	"time"

	"fyne.io/fyne/v2"
	"fyne.io/fyne/v2/app"

	"volar/internal/camera"
	"volar/internal/homestore"
	"volar/internal/infer"
	"volar/internal/program"
	"volar/internal/sound"
	"volar/internal/vault"
	"volar/ui/home"
	"volar/ui/look"
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
		if p, _, err = program.Load(c.Program); err != nil {
			return &inputError{err}
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
	// program, where not nil, is taken into the store first.
	program *program.Program
	camera  string
	engineFlags
}

// run shows the window until it is closed. Beside, where not nil, runs on a
// goroutine of its own while the window is open.
func (c *window) run(e *environment, beside func(ctx context.Context, w fyne.Window, h *home.Home)) (err error) {
	if c.Threads < 0 || c.Threads > 64 {
		return &usageError{fmt.Errorf("--threads %d is not between 0 and 64", c.Threads)}
	}
	tones, err := sound.New(sound.Options{})
	if err != nil {
		return err
	}
	defer tones.Close()
	a := app.NewWithID(appID)
	a.SetIcon(look.Icon())
	w := a.NewWindow("volar")
	w.SetPadded(false)
	w.Resize(fyne.NewSize(1280, 720))
	w.SetMaster()

	var store *homestore.Store
	h := home.New(home.Options{
		App: a, Window: w, Sound: tones, Threads: c.Threads,
		Open: func() (_ home.Store, err error) {
			store, err = c.open(e.ctx)
			if err != nil {
				return nil, err
			}
			return store, nil
		},
		Mend:   func(err error) (string, func() error) { return mend(e.ctx, c.dir, err) },
		Engine: func() (infer.Engine, error) { return c.engineFlags.open() },
		Camera: func() (camera.Source, error) {
			// Trying again is the stage's, which shows what is wrong meanwhile.
			return camera.OpenCamera(c.camera, camera.WebcamOptions{Retries: -1})
		},
		Words: homestore.Words,
	})
	ctx, stop := context.WithCancel(e.ctx)
	done := make(chan struct{})
	// An interrupt closes the window as the client would.
	go func() {
		defer close(done)
		<-ctx.Done()
		if e.ctx.Err() != nil {
			fyne.Do(w.Close)
		}
	}()
	w.SetCloseIntercept(w.Close)
	var closing error
	w.SetOnClosed(func() { closing = h.Close() })
	h.Run()
	besideDone := make(chan struct{})
	go func() {
		defer close(besideDone)
		if beside != nil {
			beside(ctx, w, h)
		}
	}()
	w.ShowAndRun()
	stop()
	<-done
	<-besideDone
	if store != nil {
		closing = errors.Join(closing, store.Close())
	}
	return closing
}

// open opens the store and takes the program in.
func (c *window) open(ctx context.Context) (*homestore.Store, error) {
	s, err := homestore.Open(ctx, c.dir, homestore.Options{Software: version()})
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

// mend offers the newest backup for a store that is damaged.
func mend(ctx context.Context, dir string, err error) (string, func() error) {
	var damaged *vault.DamagedError
	if !errors.As(err, &damaged) || len(damaged.Backups) == 0 {
		return "", nil
	}
	b := damaged.Backups[0]
	return "Restore the backup of " + b.Made.Local().Format("2 January 2006, 15:04"), func() error {
		ctx, stop := context.WithTimeout(ctx, time.Minute)
		defer stop()
		return vault.Restore(ctx, dir, b.Dir, vault.Options{})
	}
}
