package portable

import (
	"fmt"
	"sync"
	"sync/atomic"
)

// crew shares the work of a step among threads: the caller's and helpers that
// sleep in between. One goroutine at a time may use it.
type crew struct {
	wake []chan struct{} // of each helper
	gone sync.WaitGroup  // until the helpers have ended

	// Of the step in progress.
	job   parter
	n     int
	grain int
	next  atomic.Int64
	busy  sync.WaitGroup
	fault atomic.Pointer[string]
}

// parter is work on n units that can be done in any order and side by side.
// who numbers the thread, for memory of its own.
type parter interface {
	part(from, to, who int)
}

func newCrew(threads int) *crew {
	c := &crew{}
	for i := 1; i < threads; i++ {
		wake := make(chan struct{}, 1)
		c.wake = append(c.wake, wake)
		c.gone.Go(func() {
			for range wake {
				c.help(i)
			}
		})
	}
	return c
}

func (c *crew) close() {
	for _, w := range c.wake {
		close(w)
	}
	c.gone.Wait()
}

// split does n units of a job, in portions of grain. A nil crew works alone.
func (c *crew) split(job parter, n, grain int) error {
	if c == nil || len(c.wake) == 0 || n <= grain {
		job.part(0, n, 0)
		return nil
	}
	c.job, c.n, c.grain = job, n, grain
	c.next.Store(0)
	helpers := min(len(c.wake), (n+grain-1)/grain-1)
	c.busy.Add(helpers)
	for _, w := range c.wake[:helpers] {
		w <- struct{}{}
	}
	func() {
		// The helpers read what the next step would write.
		defer c.busy.Wait()
		c.work(0)
	}()
	if s := c.fault.Swap(nil); s != nil {
		return fmt.Errorf("%s", *s)
	}
	return nil
}

func (c *crew) help(who int) {
	defer c.busy.Done()
	defer func() {
		if p := recover(); p != nil {
			s := fmt.Sprint(p)
			c.fault.Store(&s)
		}
	}()
	c.work(who)
}

func (c *crew) work(who int) {
	for {
		from := int(c.next.Add(int64(c.grain))) - c.grain
		if from >= c.n {
			return
		}
		c.job.part(from, min(from+c.grain, c.n), who)
	}
}
