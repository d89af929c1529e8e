package stage

import (
	"image"
	"sync"
)

// swap hands views from the stage to one viewer. It owns three pictures.
type swap struct {
	mu              sync.Mutex
	free            []*image.RGBA
	waiting         *View
	shown           *image.RGBA
	skipped, posted int
}

func newSwap() *swap { return &swap{free: []*image.RGBA{{}, {}, {}}} }

// blank takes a picture of w×h to draw into.
func (s *swap) blank(w, h int) *image.RGBA {
	s.mu.Lock()
	img := s.free[len(s.free)-1]
	s.free = s.free[:len(s.free)-1]
	s.mu.Unlock()
	if n := 4 * w * h; len(img.Pix) != n {
		img.Pix = make([]uint8, n)
	}
	img.Stride, img.Rect = 4*w, image.Rect(0, 0, w, h)
	return img
}

// post puts a view in the place of one that waits. A view without a picture of
// its own takes the waiting one over.
func (s *swap) post(v View) {
	s.mu.Lock()
	defer s.mu.Unlock()
	if old := s.waiting; old != nil && old.Picture != nil {
		if v.Picture == nil {
			v.Picture = old.Picture
		} else {
			s.free = append(s.free, old.Picture)
			s.skipped++
		}
	}
	if v.Picture != nil {
		s.posted++
	}
	s.waiting = &v
}

// take returns the waiting view. The picture taken before goes back, unless
// the new view has none; it then stays with the viewer.
func (s *swap) take() (View, bool) {
	s.mu.Lock()
	defer s.mu.Unlock()
	if s.waiting == nil {
		return View{}, false
	}
	v := *s.waiting
	s.waiting = nil
	if v.Picture != nil {
		if s.shown != nil {
			s.free = append(s.free, s.shown)
		}
		s.shown = v.Picture
	} else {
		v.Picture = s.shown
	}
	return v, true
}
