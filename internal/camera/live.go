package camera

import (
	"bytes"
	"context"
	"errors"
	"fmt"
	"image"
	"io"
	"sync"
	"time"
)

// Health says how a live source is doing, for a diagnostics line.
type Health struct {
	// Frames counts new pictures from the device, Dropped those among them
	// that were replaced before anyone fetched them, Repeated those that were
	// no new picture, Failed the reads without a picture, and Reopened how
	// often the device was opened again.
	Frames, Dropped, Repeated, Failed, Reopened int
	// Silent is how long ago the last new picture came.
	Silent time.Duration
	// Trouble is the latest error of the device while it is not delivering;
	// nil while it is.
	Trouble error
}

// Monitored is a source that can tell its Health. Live sources are.
type Monitored interface {
	Source
	// Health may be called from any goroutine.
	Health() Health
}

// Times of a live source whose options leave them out.
const (
	defaultStall   = time.Second
	defaultRetries = 8 // with the waits below: 19 s and the opening times
	firstWait      = 250 * time.Millisecond
	longestWait    = 4 * time.Second
	maxFailures    = 3 // failed reads in a row before a device is reopened
	failurePause   = 20 * time.Millisecond
)

type liveOptions struct {
	stall   time.Duration // 0 = defaultStall
	retries int           // 0 = defaultRetries, negative = none
	// once: the first failure is the end, and is reported as it is.
	once bool
}

// live is a Source of the newest picture of a device that it owns.
type live struct {
	is      Info
	opt     liveOptions
	box     *mailbox
	open    func() (stream, error)
	started time.Time
	stop    context.CancelFunc // ends run
	closed  chan struct{}      // closed by Close
	done    chan struct{}      // closed by run

	mu      sync.Mutex
	health  Health
	arrival time.Time // of the last new picture
	told    time.Time // when Next last reported a stall
}

// newLive opens a device, waits for its first picture, so that what is said
// of it in Info is true, and starts its owner.
func newLive(name string, open func() (stream, error), opt liveOptions) (*live, error) {
	if opt.stall <= 0 {
		opt.stall = defaultStall
	}
	if opt.retries == 0 {
		opt.retries = defaultRetries
	}
	l := &live{
		opt: opt, box: newMailbox(), open: open,
		closed: make(chan struct{}), done: make(chan struct{}),
	}
	s, err := open()
	if err != nil {
		return nil, err
	}
	ctx, stop := context.WithCancel(context.Background())
	l.stop = stop
	l.started = time.Now()
	o := &owner{live: l}
	if err := o.first(ctx, s); err != nil {
		stop()
		s.close()
		return nil, err
	}
	l.is = s.info()
	l.is.Name, l.is.Live = name, true
	l.is.Width, l.is.Height = o.last.Rect.Dx(), o.last.Rect.Dy()
	go o.run(ctx, s)
	return l, nil
}

func (l *live) Info() Info { return l.is }

func (l *live) Health() Health {
	l.mu.Lock()
	defer l.mu.Unlock()
	h := l.health
	h.Silent = time.Since(l.arrival)
	return h
}

func (l *live) Next(ctx context.Context) (Frame, error) {
	for {
		select {
		case <-l.closed:
			return Frame{}, ErrClosed
		default:
		}
		if err := ctx.Err(); err != nil {
			return Frame{}, err
		}
		if f, ok, end := l.box.fetch(); ok || end != nil {
			return f, end
		}
		if err := l.wait(ctx); err != nil {
			return Frame{}, err
		}
	}
}

// wait returns when there may be news, or with ErrStalled when there has been
// none for too long. A stall is reported once in each such time.
func (l *live) wait(ctx context.Context) error {
	l.mu.Lock()
	since := l.arrival
	if l.told.After(since) {
		since = l.told
	}
	l.mu.Unlock()
	stalled := time.NewTimer(time.Until(since.Add(l.opt.stall)))
	defer stalled.Stop()
	select {
	case <-l.box.posted:
	case <-ctx.Done():
	case <-l.closed:
	case <-stalled.C:
		l.mu.Lock()
		defer l.mu.Unlock()
		now := time.Now()
		silent := now.Sub(l.arrival)
		if silent < l.opt.stall {
			return nil // one came in the meantime
		}
		l.told = now
		err := fmt.Errorf("%s: %w for %.1f s", l.is.Name, ErrStalled, silent.Seconds())
		if l.health.Trouble != nil {
			err = fmt.Errorf("%w; trying again: %w", err, l.health.Trouble)
		}
		return err
	}
	return nil
}

func (l *live) Close() error {
	l.mu.Lock()
	select {
	case <-l.closed:
	default:
		close(l.closed)
	}
	l.mu.Unlock()
	l.stop()
	<-l.done
	return nil
}

// owner is the goroutine that alone touches the device.
type owner struct {
	*live
	clock    liveClock
	last     image.RGBA    // copy of the last new picture
	stamp    time.Duration // its stamp
	index    int
	failures int // reads in a row that gave nothing
}

// first reads until there is a picture. Webcams may take a second or two to
// send one, and their driver's time-out paces the attempts.
func (o *owner) first(ctx context.Context, s stream) error {
	for {
		img := o.box.blank()
		stamp, err := s.read(ctx, img)
		if err == nil {
			o.deliver(img, stamp)
			return nil
		}
		o.box.discard(img)
		if o.failures++; o.failures == maxFailures || o.final(err) {
			return err
		}
		time.Sleep(failurePause)
	}
}

func (o *owner) run(ctx context.Context, s stream) {
	defer close(o.done)
	defer func() {
		if s != nil {
			s.close()
		}
	}()
	o.failures = 0
	for ctx.Err() == nil {
		img := o.box.blank()
		stamp, err := s.read(ctx, img)
		switch {
		case err == nil && o.fresh(img, stamp):
			o.deliver(img, stamp)
			continue
		case err == nil:
			o.box.discard(img)
			err = o.repeated()
		default:
			o.box.discard(img)
			if o.final(err) {
				o.box.finish(err)
				return
			}
			err = o.failed(ctx, err)
		}
		if err == nil || ctx.Err() != nil {
			continue
		}
		s.close()
		if s, err = o.reopen(ctx, err); err != nil {
			o.box.finish(err)
			return
		}
	}
}

// final reports whether a read's error is the end of the source.
func (o *owner) final(err error) bool { return o.opt.once || errors.Is(err, io.EOF) }

// fresh reports whether a picture is a new one. Some drivers hand out the last
// picture again after the camera is gone; a camera with its shutter closed may
// send equal pictures too, but its stamps go on.
func (o *owner) fresh(img *image.RGBA, stamp time.Duration) bool {
	return stamp > o.stamp || img.Rect != o.last.Rect || !bytes.Equal(img.Pix, o.last.Pix)
}

func (o *owner) deliver(img *image.RGBA, stamp time.Duration) {
	resize(&o.last, img.Rect.Dx(), img.Rect.Dy())
	copy(o.last.Pix, img.Pix)
	o.stamp = stamp
	o.failures = 0
	now := time.Now()
	f := Frame{Image: img, Time: o.clock.at(stamp, now.Sub(o.started)), Index: o.index}
	o.index++

	o.mu.Lock()
	defer o.mu.Unlock()
	o.arrival = now
	o.health.Frames++
	o.health.Trouble = nil
	if o.box.post(f) {
		o.health.Dropped++
	}
}

// repeated counts a repeat, and returns an error when there has been nothing
// else for too long.
func (o *owner) repeated() error {
	o.mu.Lock()
	defer o.mu.Unlock()
	o.health.Repeated++
	if time.Since(o.arrival) < o.opt.stall {
		return nil
	}
	o.health.Trouble = errors.New("the device repeats its last picture")
	return o.health.Trouble
}

// failed counts a failed read, and returns the error when it is time to
// reopen the device.
func (o *owner) failed(ctx context.Context, err error) error {
	o.mu.Lock()
	o.health.Failed++
	o.health.Trouble = err
	o.mu.Unlock()
	if o.failures++; o.failures >= maxFailures {
		return err
	}
	pause(ctx, failurePause)
	return nil
}

// reopen opens the device again, waiting longer each time. The error is final.
func (o *owner) reopen(ctx context.Context, cause error) (stream, error) {
	wait := firstWait
	for range max(0, o.opt.retries) {
		pause(ctx, wait)
		if ctx.Err() != nil {
			return nil, ErrClosed
		}
		s, err := o.open()
		if err == nil {
			o.failures = 0
			o.stamp = -1 // a new clock may start lower
			o.mu.Lock()
			o.health.Reopened++
			o.mu.Unlock()
			return s, nil
		}
		cause = err
		o.mu.Lock()
		o.health.Trouble = err
		o.mu.Unlock()
		wait = min(2*wait, longestWait)
	}
	if errors.Is(cause, ErrNoCamera) {
		return nil, cause
	}
	return nil, fmt.Errorf("%s: %w any more: %w", o.is.Name, ErrNoCamera, cause)
}

// pause waits unless the context ends first.
func pause(ctx context.Context, d time.Duration) {
	t := time.NewTimer(d)
	defer t.Stop()
	select {
	case <-t.C:
	case <-ctx.Done():
	}
}

// liveClock puts a device's stamps on the clock of the source. The stamp is
// nearer to the exposure than the time of arrival, and does not jitter with
// the load of the computer; but it counts from anywhere, may not move at all,
// and starts anew when the device does.
type liveClock struct {
	started bool
	offset  time.Duration // least difference of arrival and stamp
	stamp   time.Duration
	last    time.Duration
}

// maxLag is how far stamp and arrival may drift apart before the stamps are
// taken to be on a new clock. Nothing queues for longer than this.
const maxLag = 500 * time.Millisecond

// at returns the time of a picture with this stamp that arrived at this time
// since the source was opened. It is never later than the arrival, but for
// strictly increasing.
func (c *liveClock) at(stamp, arrival time.Duration) time.Duration {
	t := arrival
	if stamp > c.stamp || !c.started {
		lag := arrival - stamp - c.offset
		if !c.started || lag < 0 || lag > maxLag {
			c.offset = arrival - stamp
		} else {
			// Follow a device whose clock is slower than ours.
			c.offset += lag / 1024
		}
		t = stamp + c.offset
	} else {
		// No usable stamp; start anew if one comes.
		c.offset = arrival - stamp
	}
	if c.started && t <= c.last {
		t = c.last + time.Microsecond
	}
	c.started, c.stamp, c.last = true, stamp, t
	return t
}
