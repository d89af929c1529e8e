package stage

import (
	"slices"
	"sync"
	"time"
)

// Measures say how well the stage keeps up.
type Measures struct {
	// Judged counts the pictures that were measured, Dropped those that the
	// camera sent and nobody had time for, as far as the source counts them,
	// and Skipped those that were drawn and replaced before they were shown.
	Judged, Dropped, Skipped int
	// Delay is the median time from a picture's capture to its being shown,
	// and DelayP95 the 95th percentile; Work is the median time from its
	// arrival to its being drawn. All are of the last ten seconds or so.
	Delay, DelayP95, Work time.Duration
}

// kept is how many pictures the figures are taken over: 10 s at 30 a second.
const kept = 300

// meter collects the figures. It is for any goroutine.
type meter struct {
	mu     sync.Mutex
	count  int
	delays window
	work   window
}

type window struct {
	values []time.Duration
	next   int
}

func (w *window) add(d time.Duration) {
	if len(w.values) < kept {
		w.values = append(w.values, d)
		return
	}
	w.values[w.next] = d
	w.next = (w.next + 1) % kept
}

func (w *window) at(share float64) time.Duration {
	if len(w.values) == 0 {
		return 0
	}
	v := slices.Sorted(slices.Values(w.values))
	return v[min(len(v)-1, int(share*float64(len(v))))]
}

func (m *meter) judged() {
	m.mu.Lock()
	m.count++
	m.mu.Unlock()
}

func (m *meter) judgedIn(d time.Duration) {
	m.mu.Lock()
	m.work.add(d)
	m.mu.Unlock()
}

func (m *meter) shown(d time.Duration) {
	m.mu.Lock()
	m.delays.add(d)
	m.mu.Unlock()
}

// Measures returns the figures so far.
func (s *Stage) Measures() Measures {
	s.meter.mu.Lock()
	m := Measures{
		Judged: s.meter.count, Delay: s.meter.delays.at(0.5), DelayP95: s.meter.delays.at(0.95), Work: s.meter.work.at(0.5),
	}
	s.meter.mu.Unlock()
	m.Dropped = int(s.dropped.Load())
	s.swap.mu.Lock()
	m.Skipped = s.swap.skipped
	s.swap.mu.Unlock()
	return m
}
