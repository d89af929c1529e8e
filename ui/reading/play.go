package reading

import (
	"context"
	"sync"
	"time"
)

// playing is a replay in real time: a goroutine that asks for the next place
// thirty times a second until it is ended.
type playing struct {
	stop context.CancelFunc
	done sync.WaitGroup
}

func (v *viewer) playOrPause() {
	if v.play != nil {
		v.pause()
		v.place()
		return
	}
	if v.at.At() >= v.at.End() {
		v.at.Seek(0)
	}
	began, from := v.r.opt.Now(), v.at.At()
	ctx, stop := context.WithCancel(v.r.ctx)
	p := &playing{stop: stop}
	v.play = p
	v.playButton.Set("Pause", v.playOrPause)
	p.done.Go(func() {
		tick := time.NewTicker(time.Second / 30)
		defer tick.Stop()
		for {
			select {
			case <-ctx.Done():
				return
			case <-tick.C:
				v.r.opt.Do(func() {
					if v.play == p {
						v.to(from + v.r.opt.Now().Sub(began))
					}
				})
			}
		}
	})
}

// to is the place at which a replay has arrived.
func (v *viewer) to(t time.Duration) {
	v.at.Seek(t)
	v.f.act()
	if v.r.opt.Stir != nil {
		v.r.opt.Stir()
	}
	if t >= v.at.End() {
		v.pause()
	}
	v.place()
}

func (v *viewer) pause() {
	if v.play == nil {
		return
	}
	v.play.stop()
	v.play.done.Wait()
	v.play = nil
	v.playButton.Set("Play", v.playOrPause)
}
