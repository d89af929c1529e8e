package coach

import "time"

// reading is one value at a moment with its standard error.
type reading struct {
	at    time.Duration
	v, se float64
}

// windowCap bounds the readings of a window; faster streams than 60 a second
// lose the oldest.
const windowCap = 32

// window keeps the readings of the last span of time, and at least so many
// readings as long as they are not older than longest: a slow stream has few
// readings in the span.
type window struct {
	span, longest time.Duration
	least         int
	buf           [windowCap]reading
	n             int
}

func (w *window) reset() { w.n = 0 }

func (w *window) add(r reading) {
	drop := 0
	for drop < w.n {
		age := r.at - w.buf[drop].at
		if age <= w.span || age <= w.longest && w.n-drop < w.least {
			break
		}
		drop++
	}
	if w.n-drop == windowCap {
		drop++
	}
	if drop > 0 {
		copy(w.buf[:], w.buf[drop:w.n])
		w.n -= drop
	}
	w.buf[w.n] = r
	w.n++
}

// full is true where the window has enough readings over enough time to be
// believed.
func (w *window) full() bool {
	return w.n >= w.least && w.length() >= w.span*3/4
}

// sorted returns the values in order, of the last readings not older than
// span.
func (w *window) sorted(span time.Duration, buf *[windowCap]float64) []float64 {
	s := buf[:0]
	for i := w.n - 1; i >= 0; i-- {
		if w.buf[w.n-1].at-w.buf[i].at > span && len(s) >= w.least {
			break
		}
		v := w.buf[i].v
		s = append(s, v)
		k := len(s) - 1
		for ; k > 0 && s[k-1] > v; k-- {
			s[k] = s[k-1]
		}
		s[k] = v
	}
	return s
}

// grossDeg is how far from the median of a window a reading cannot be right.
const grossDeg = 25

// midmean is the mean of the middle half of the readings of the last span:
// nearly as steady as a mean, and blind to a few wild readings. Those that
// cannot be right are left out first, for they would shift the middle.
func (w *window) midmean(span time.Duration) float64 {
	var buf [windowCap]float64
	s := w.sorted(span, &buf)
	if len(s) == 0 {
		return 0
	}
	middle := (s[(len(s)-1)/2] + s[len(s)/2]) / 2
	for len(s) > 2 && s[0] < middle-grossDeg {
		s = s[1:]
	}
	for len(s) > 2 && s[len(s)-1] > middle+grossDeg {
		s = s[:len(s)-1]
	}
	trim := len(s) / 4
	if len(s) == 3 {
		trim = 1
	}
	s = s[trim : len(s)-trim]
	var sum float64
	for _, v := range s {
		sum += v
	}
	return sum / float64(len(s))
}

// median of the readings of the last span.
func (w *window) median(span time.Duration) float64 {
	var buf [windowCap]float64
	s := w.sorted(span, &buf)
	if len(s) == 0 {
		return 0
	}
	return (s[(len(s)-1)/2] + s[len(s)/2]) / 2
}

// length is the time between the first and the last reading.
func (w *window) length() time.Duration {
	if w.n == 0 {
		return 0
	}
	return w.buf[w.n-1].at - w.buf[0].at
}

// se is the mean standard error of one reading, and at the mean time of the
// readings.
func (w *window) se() (se float64) {
	for _, r := range w.buf[:w.n] {
		se += r.se
	}
	return se / float64(max(w.n, 1))
}

// centre is the mean time of the readings.
func (w *window) centre() time.Duration {
	if w.n == 0 {
		return 0
	}
	first := w.buf[0].at
	var sum time.Duration
	for _, r := range w.buf[:w.n] {
		sum += r.at - first
	}
	return first + sum/time.Duration(w.n)
}
