package camera

import (
	"image"
	"sync"
)

// mailbox holds the newest frame for one reader. It owns three pictures: one
// that the writer fills, one that waits, one that the reader looks at; so that
// neither ever waits for the other and nothing is allocated.
type mailbox struct {
	mu      sync.Mutex
	free    []*image.RGBA
	waiting Frame // Image nil: none
	lent    *image.RGBA
	end     error
	posted  chan struct{} // has a token when there is news
}

func newMailbox() *mailbox {
	return &mailbox{
		free:   []*image.RGBA{{}, {}, {}},
		posted: make(chan struct{}, 1),
	}
}

// blank takes a picture to fill; the writer gives it back with post or
// discard before it takes another.
func (m *mailbox) blank() *image.RGBA {
	m.mu.Lock()
	defer m.mu.Unlock()
	img := m.free[len(m.free)-1]
	m.free = m.free[:len(m.free)-1]
	return img
}

func (m *mailbox) discard(img *image.RGBA) {
	m.mu.Lock()
	defer m.mu.Unlock()
	m.free = append(m.free, img)
}

// post puts a frame in the place of one that nobody fetched, if there is one.
func (m *mailbox) post(f Frame) (dropped bool) {
	m.mu.Lock()
	defer m.mu.Unlock()
	if dropped = m.waiting.Image != nil; dropped {
		m.free = append(m.free, m.waiting.Image)
	}
	m.waiting = f
	m.notify()
	return dropped
}

// finish makes fetch return err once the waiting frame is fetched.
func (m *mailbox) finish(err error) {
	m.mu.Lock()
	defer m.mu.Unlock()
	m.end = err
	m.notify()
}

func (m *mailbox) notify() {
	select {
	case m.posted <- struct{}{}:
	default:
	}
}

// fetch returns the waiting frame and takes back the one fetched before, or
// returns the end, or neither.
func (m *mailbox) fetch() (f Frame, ok bool, end error) {
	m.mu.Lock()
	defer m.mu.Unlock()
	if m.waiting.Image == nil {
		return Frame{}, false, m.end
	}
	if m.lent != nil {
		m.free = append(m.free, m.lent)
	}
	f, m.waiting = m.waiting, Frame{}
	m.lent = f.Image
	return f, true, nil
}
