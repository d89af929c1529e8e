package camera

import (
	"context"
	"errors"
	"image"
	"io"
	"testing"
	"time"

	"github.com/stretchr/testify/require"
)

func TestRendered(t *testing.T) {
	draws := 0
	src, err := NewRendered(RenderedOptions{Name: "test", FPS: 50, Frames: 3}, func(dst *image.RGBA, at time.Duration, i int) error {
		require.Equal(t, image.Rect(0, 0, 640, 480), dst.Rect)
		require.Equal(t, draws, i)
		require.Equal(t, time.Duration(i)*20*time.Millisecond, at)
		draws++
		paint(dst, i)
		return nil
	})
	require.NoError(t, err)
	require.Equal(t, Info{Name: "test", Width: 640, Height: 480, FPS: 50, Frames: 3, Duration: 60 * time.Millisecond}, src.Info())
	frames, end := drain(t, src)
	require.Equal(t, upTo(3), frames)
	require.Equal(t, io.EOF, end)
	require.NoError(t, src.Close())
	_, err = src.Next(context.Background())
	require.ErrorIs(t, err, ErrClosed)
}

func TestRenderedEndsAsItsDrawerSays(t *testing.T) {
	for _, want := range []error{io.EOF, errors.New("out of paint")} {
		src, err := NewRendered(RenderedOptions{}, func(_ *image.RGBA, _ time.Duration, i int) error {
			if i == 2 {
				return want
			}
			require.Less(t, i, 2, "not asked again after the end")
			return nil
		})
		require.NoError(t, err)
		for range 2 {
			_, err = src.Next(context.Background())
			require.NoError(t, err)
		}
		for range 2 {
			_, err = src.Next(context.Background())
			require.Equal(t, want, err)
		}
	}
	ctx, cancel := context.WithCancel(context.Background())
	cancel()
	src, err := NewRendered(RenderedOptions{}, func(*image.RGBA, time.Duration, int) error { return nil })
	require.NoError(t, err)
	_, err = src.Next(ctx)
	require.ErrorIs(t, err, context.Canceled)
}

func TestRenderedRefusesNonsense(t *testing.T) {
	draw := func(*image.RGBA, time.Duration, int) error { return nil }
	for _, o := range []RenderedOptions{{Width: 4}, {Width: -4, Height: 4}, {Width: 9000, Height: 4}, {FPS: -1}, {FPS: 1e9}, {Frames: -1}} {
		_, err := NewRendered(o, draw)
		require.Error(t, err, "%+v", o)
	}
	_, err := NewRendered(RenderedOptions{}, nil)
	require.Error(t, err)
}
