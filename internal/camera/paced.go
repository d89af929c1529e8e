package camera

import (
	"context"
	"image"
	"time"
)

// NewPaced plays a source as though it were a webcam: in real time by the
// frames' own times, newest frame first, dropping what is not fetched in time.
// It takes the source over and closes it, also when it fails. A source that is
// live already is returned as it is. Errors of the source, io.EOF among them,
// come through as they are.
func NewPaced(src Source) (Source, error) {
	if src.Info().Live {
		return src, nil
	}
	open := func() (stream, error) { return &pacedStream{src: src}, nil }
	l, err := newLive(src.Info().Name, open, liveOptions{once: true})
	if err != nil {
		return nil, err
	}
	return l, nil
}

type pacedStream struct {
	src   Source
	begun time.Time // when the frame with time 0 was due
}

func (p *pacedStream) info() Info { return p.src.Info() }

func (p *pacedStream) read(ctx context.Context, dst *image.RGBA) (time.Duration, error) {
	f, err := p.src.Next(ctx)
	if err != nil {
		return 0, err
	}
	if p.begun.IsZero() {
		p.begun = time.Now().Add(-f.Time)
	}
	pause(ctx, time.Until(p.begun.Add(f.Time)))
	if err := ctx.Err(); err != nil {
		return 0, err
	}
	resize(dst, f.Image.Rect.Dx(), f.Image.Rect.Dy())
	copy(dst.Pix, f.Image.Pix)
	// Past 0, which would mean that the frame has no stamp.
	return f.Time + 1, nil
}

func (p *pacedStream) close() { p.src.Close() }
