package stage

import (
	"context"
	"errors"
	"io"
	"time"

	"volar/internal/camera"
)

// Waits before a camera is opened again.
const (
	firstWait   = 500 * time.Millisecond
	longestWait = 4 * time.Second
)

// frame is a picture on its way to the stage goroutine, which has the feed
// goroutine wait until it has done with it: the picture is the camera's.
type frame struct {
	camera.Frame
	done chan<- struct{}
}

// feed owns the camera. A clip that ends begins again, as a camera has no end.
func (s *Stage) feed(ctx context.Context) {
	defer close(s.fed)
	wait := firstWait
	for ctx.Err() == nil {
		s.tell(ctx, Camera{State: Opening})
		src, err := s.opt.Open()
		if err == nil {
			var frames int
			frames, err = s.pump(ctx, src)
			s.dropped.Add(droppedBy(src))
			if frames > 0 {
				wait = firstWait
			}
			src.Close()
			if errors.Is(err, io.EOF) && frames > 0 {
				continue
			}
		}
		if ctx.Err() != nil {
			return
		}
		s.tell(ctx, Camera{State: Lost, Trouble: err})
		pause(ctx, wait)
		wait = min(2*wait, longestWait)
	}
}

// pump hands on pictures until the source ends.
func (s *Stage) pump(ctx context.Context, src camera.Source) (frames int, err error) {
	// The source counts its own time from its opening; what it shows first was
	// taken just now.
	var base time.Duration
	// It has room, so that the stage goroutine never waits for this one.
	done := make(chan struct{}, 1)
	for {
		f, err := src.Next(ctx)
		switch {
		case errors.Is(err, camera.ErrStalled):
			s.tell(ctx, Camera{State: Silent, Trouble: err})
			continue
		case err != nil:
			return frames, err
		}
		if frames == 0 {
			base = s.now() - f.Time
		}
		frames++
		f.Time += base
		select {
		case s.frames <- frame{f, done}:
		case <-ctx.Done():
			return frames, ctx.Err()
		}
		select {
		case <-done:
		case <-ctx.Done():
			// The stage goroutine may still be looking at the picture.
			<-s.played
			return frames, ctx.Err()
		}
	}
}

func droppedBy(src camera.Source) int64 {
	if m, ok := src.(camera.Monitored); ok {
		return int64(m.Health().Dropped)
	}
	return 0
}

// tell reports the camera's state to the stage goroutine.
func (s *Stage) tell(ctx context.Context, c Camera) {
	select {
	case s.states <- c:
	case <-ctx.Done():
	}
}

func pause(ctx context.Context, d time.Duration) {
	t := time.NewTimer(d)
	defer t.Stop()
	select {
	case <-t.C:
	case <-ctx.Done():
	}
}
