package session

import (
	"fmt"
	"time"
)

// run is the owner goroutine: it alone talks to the Sink.
func (r *Recorder) run() {
	defer close(r.stopped)
	tick := time.NewTicker(r.opts.Interval)
	defer tick.Stop()
	// failed is what the Sink did not take; it goes first next time.
	var failed *Batch
	for {
		select {
		case <-tick.C:
		case <-r.wake:
		case done := <-r.flush:
			failed = r.write(failed)
			done <- r.Status().Err
			continue
		case <-r.stop:
			if failed = r.write(failed); failed == nil {
				if err := r.opts.Sink.Finish(r.id, r.state, r.last); err != nil {
					r.mu.Lock()
					r.status.Err = fmt.Errorf("close session %s: %w", r.id, err)
					r.mu.Unlock()
				}
			}
			return
		}
		failed = r.write(failed)
	}
}

// write hands on what is waiting and returns what was not taken.
func (r *Recorder) write(failed *Batch) *Batch {
	r.mu.Lock()
	for n := range r.changed {
		e := *r.exercises[n]
		r.pending.Exercises = append(r.pending.Exercises, e)
	}
	clear(r.changed)
	next := r.pending
	stills := r.stills
	r.pending, r.stills = Batch{Seq: next.Seq + 1}, nil
	r.mu.Unlock()

	for i := range stills {
		// A picture that cannot be encoded is shed as one for which there is
		// no room.
		if p, err := stills[i].encode(r.opts.Pictures); err == nil {
			next.Pictures = append(next.Pictures, p)
		} else {
			r.mu.Lock()
			r.status.PicturesShed++
			r.mu.Unlock()
		}
	}
	b := merge(failed, &next)
	for b != nil && !b.Empty() {
		// A Sink that failed for long gets what waited in pieces of a size
		// that a batch may have.
		piece, rest := b.split()
		if err := r.opts.Sink.Append(r.id, piece); err != nil {
			r.mu.Lock()
			r.status.Err = fmt.Errorf("save session %s: %w", r.id, err)
			if n := len(b.Pictures) - waitingPictures; n > 0 {
				b.Pictures = b.Pictures[n:]
				r.status.PicturesShed += n
			}
			r.status.Waiting = len(b.Samples) + len(r.pending.Samples)
			r.status.Full = r.status.Waiting >= waitingSamples
			// What comes next will be part of the same batch.
			r.pending.Seq = b.Seq + 1
			r.mu.Unlock()
			return b
		}
		r.mu.Lock()
		r.status.Saved = max(r.status.Saved, piece.Last())
		r.pending.Seq = piece.Seq + 1
		r.mu.Unlock()
		b = rest
	}
	r.mu.Lock()
	if b != nil {
		// Nothing was waiting, so its number is still free.
		r.pending.Seq = b.Seq
	}
	r.status.Err, r.status.Full = nil, false
	r.status.Waiting = len(r.pending.Samples)
	r.mu.Unlock()
	return nil
}

// merge puts two batches together under the first one's number.
func merge(a, b *Batch) *Batch {
	if a == nil {
		return b
	}
	a.Segments = append(a.Segments, b.Segments...)
	a.Exercises = append(a.Exercises, b.Exercises...)
	a.Samples = append(a.Samples, b.Samples...)
	a.Events = append(a.Events, b.Events...)
	a.Answers = append(a.Answers, b.Answers...)
	a.Pictures = append(a.Pictures, b.Pictures...)
	return a
}

// piecePictures is how many pictures one batch may carry, so that it stays
// well within the size of an item.
const piecePictures = 6

// split cuts off what one batch may hold; rest is nil where that is all.
func (b *Batch) split() (piece, rest *Batch) {
	if len(b.Samples) <= maxPerBatch/4 && len(b.Events) <= maxPerBatch/4 && len(b.Answers) <= maxPerBatch/4 && len(b.Pictures) <= piecePictures {
		return b, nil
	}
	p, q := *b, Batch{Seq: b.Seq + 1}
	p.Samples, q.Samples = cut(b.Samples, maxPerBatch/4)
	p.Events, q.Events = cut(b.Events, maxPerBatch/4)
	p.Answers, q.Answers = cut(b.Answers, maxPerBatch/4)
	p.Pictures, q.Pictures = cut(b.Pictures, piecePictures)
	return &p, &q
}

func cut[T any](all []T, n int) (head, tail []T) {
	n = min(n, len(all))
	return all[:n:n], all[n:]
}
