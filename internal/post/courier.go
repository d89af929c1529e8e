package post

import (
	"context"
	"sync"
	"time"
)

// Courier carries in the background: when it is woken, and, where that failed,
// again after a while that grows. It owns one goroutine; Close ends it and
// waits.
type Courier struct {
	o    CourierOptions
	wake chan struct{}
	stop context.CancelFunc
	done chan struct{}
	once sync.Once
}

// CourierOptions of a Courier. Run has to be set.
type CourierOptions struct {
	// Run carries what there is to carry.
	Run func(ctx context.Context) error
	// First is the pause after a failure, which doubles up to Most; 0 is a
	// minute and an hour.
	First, Most time.Duration
	// Told is called on the courier's goroutine with what each run came to; may
	// be nil.
	Told func(error)
}

// NewCourier starts a courier, which waits to be woken.
func NewCourier(o CourierOptions) *Courier {
	if o.First <= 0 {
		o.First = time.Minute
	}
	if o.Most <= 0 {
		o.Most = time.Hour
	}
	if o.Told == nil {
		o.Told = func(error) {}
	}
	ctx, stop := context.WithCancel(context.Background())
	c := &Courier{o: o, wake: make(chan struct{}, 1), stop: stop, done: make(chan struct{})}
	go c.run(ctx)
	return c
}

// Wake sends the courier off now. It does not wait; waking one that is on its
// way sends it off once more afterwards.
func (c *Courier) Wake() {
	select {
	case c.wake <- struct{}{}:
	default:
	}
}

// Close calls the courier back and waits for it. A second call does nothing.
func (c *Courier) Close() {
	c.once.Do(c.stop)
	<-c.done
}

func (c *Courier) run(ctx context.Context) {
	defer close(c.done)
	pause := time.Duration(0)
	for {
		// Without a failure it waits for being woken alone.
		again := time.NewTimer(pause)
		if pause == 0 {
			again.Stop()
		}
		select {
		case <-ctx.Done():
		case <-c.wake:
		case <-again.C:
		}
		again.Stop()
		if ctx.Err() != nil {
			return
		}
		err := c.o.Run(ctx)
		if ctx.Err() != nil {
			return
		}
		c.o.Told(err)
		switch {
		case err == nil:
			pause = 0
		case pause == 0:
			pause = c.o.First
		default:
			pause = min(2*pause, c.o.Most)
		}
	}
}

// Exchange sends what waits and fetches what came, by the place in the store;
// what the courier of a home does. It does nothing where the client did not
// choose that each practice is sent by itself.
func (h *Home) Exchange(ctx context.Context) error {
	s, err := h.State(ctx)
	if err != nil || !s.Connected || !s.Auto || s.Place.IsZero() {
		return err
	}
	c, err := s.Place.Open()
	if err != nil {
		return err
	}
	defer c.Close()
	if _, err := h.Send(ctx, c); err != nil {
		return err
	}
	_, err = h.Fetch(ctx, c)
	return err
}
