package main

import (
	"errors"
	"fmt"
	"image"
	"io"
	"sync"
	"sync/atomic"
	"time"

	"volar/internal/goniometry"
	"volar/internal/hand"
	"volar/internal/handrender"
	"volar/internal/infer"
	"volar/internal/landmark"
)

// unit is work that one goroutine does in one go: one hand shape, one block of
// photographs. It writes its results into places of its own and draws from
// random sources of its own, so that they do not depend on who does it when.
type unit struct {
	pictures int
	do       func(*worker) error
}

// worker is the program from picture to angles, and a renderer, for one
// goroutine.
type worker struct {
	engine     infer.Engine
	tracker    *landmark.Tracker
	goniometer *goniometry.Goniometer
	renderer   *handrender.Renderer
	picture    *image.RGBA
}

// Pictures are as large as a laptop camera gives them.
const pictureW, pictureH = 640, 480

func newWorker(e infer.Engine, h *handrender.Hand) (*worker, error) {
	t, err := landmark.New(e, landmark.Options{Threads: 1})
	if err != nil {
		return nil, err
	}
	return &worker{
		engine: e, tracker: t, goniometer: goniometry.New(goniometry.Options{}),
		renderer: handrender.NewRenderer(h, handrender.Options{Workers: 1}),
		picture:  image.NewRGBA(image.Rect(0, 0, pictureW, pictureH)),
	}, nil
}

// still finds and measures the hand in a picture that stands alone; the sample
// says whether one was found. The client's side is given, as in a session;
// where it is unknown the picture's word is taken.
func (w *worker) still(img *image.RGBA, side hand.Side) (hand.Sample, hand.Observation, error) {
	seen, err := w.tracker.Detect(img)
	if err != nil || len(seen) == 0 {
		return hand.Sample{}, hand.Observation{}, err
	}
	o := seen[0]
	if side != hand.UnknownSide {
		o.Side = side
	}
	return w.goniometer.MeasureStill(o), o, nil
}

// work does all units with the given number of workers, tells progress how far
// it is, and returns the first error.
func work(e infer.Engine, units []unit, jobs int, progress io.Writer) (err error) {
	h, err := handrender.Default()
	if err != nil {
		return err
	}
	p := newProgress(progress, units)
	defer p.close()
	var next atomic.Int64
	var stop atomic.Bool
	failed := make([]error, len(units))
	var wg sync.WaitGroup
	defer wg.Wait()
	for range min(jobs, len(units)) {
		w, err := newWorker(e, h)
		if err != nil {
			stop.Store(true)
			return err
		}
		wg.Go(func() {
			defer w.tracker.Close()
			for !stop.Load() {
				i := int(next.Add(1) - 1)
				if i >= len(units) {
					return
				}
				if failed[i] = units[i].do(w); failed[i] != nil {
					stop.Store(true)
				}
				p.add(units[i].pictures)
			}
		})
	}
	wg.Wait()
	return errors.Join(failed...)
}

// progress writes a line every few seconds.
type progress struct {
	out   io.Writer
	total int
	done  atomic.Int64
	end   chan struct{}
	wg    sync.WaitGroup
}

func newProgress(out io.Writer, units []unit) *progress {
	p := &progress{out: out, end: make(chan struct{})}
	for _, u := range units {
		p.total += u.pictures
	}
	p.wg.Go(func() {
		start, tick := time.Now(), time.NewTicker(10*time.Second)
		defer tick.Stop()
		for {
			select {
			case <-p.end:
				return
			case <-tick.C:
				n := p.done.Load()
				fmt.Fprintf(p.out, "%d of %d pictures, %.0f a second\n", n, p.total, float64(n)/time.Since(start).Seconds())
			}
		}
	})
	return p
}

func (p *progress) add(pictures int) { p.done.Add(int64(pictures)) }

func (p *progress) close() {
	close(p.end)
	p.wg.Wait()
}
