package demonstration

import (
	"context"
	"image"
	"testing"

	"github.com/stretchr/testify/require"

	"volar/internal/hand"
	"volar/internal/handrender"
)

func smallReel(t *testing.T, o ReelOptions) *Reel {
	t.Helper()
	h, err := handrender.Default()
	require.NoError(t, err)
	o.Movement = movement(t, "whole-hand-grip")
	o.View, o.Width, o.Height = o.Movement.View.Best, 64, 48
	o.Renderer = handrender.NewRenderer(h, handrender.Options{Quality: handrender.Draft, Workers: 1})
	r, err := NewReel(o)
	require.NoError(t, err)
	return r
}

func TestReelIsFilledFromCoarseToFine(t *testing.T) {
	r := smallReel(t, ReelOptions{Side: hand.Right})
	require.Nil(t, r.At(0), "nothing is drawn yet")
	var first []int
	count := 0
	ctx, stop := context.WithCancel(t.Context())
	err := r.Film(ctx, func() {
		count++
		if count == 4 {
			for i := range r.steps {
				if r.has(i) {
					first = append(first, i)
				}
			}
			stop()
		}
	})
	require.ErrorIs(t, err, context.Canceled)
	require.Equal(t, []int{0, 8, 16, 24}, first)
	require.False(t, r.Done())
	require.Same(t, r.frames[8], r.At(7*reelStep), "the nearest that is there")

	require.NoError(t, r.Film(t.Context(), nil))
	require.True(t, r.Done())
	require.Same(t, r.frames[3], r.At(3*reelStep))
	require.Same(t, r.frames[3], r.At(3*reelStep+r.Duration()), "it goes round")
	// The hand stays in the end pose for a while: one picture serves.
	require.NotEqual(t, r.At(0).Pix, r.At(r.Duration()/2).Pix)
}

func TestReelMirrorsTheOtherWay(t *testing.T) {
	plain, turned := smallReel(t, ReelOptions{Side: hand.Right}), smallReel(t, ReelOptions{Side: hand.Right, Mirror: true})
	a, b := plain.render(0), turned.render(0)
	for y := range 48 {
		for x := range 64 {
			require.Equal(t, a.RGBAAt(x, y), b.RGBAAt(63-x, y))
		}
	}
	Mirror(b)
	require.Equal(t, a.Pix, b.Pix)
	odd := image.NewRGBA(image.Rect(0, 0, 3, 1))
	odd.Pix[0] = 9
	Mirror(odd)
	require.EqualValues(t, 9, odd.Pix[8])
}

func TestReelRefusesWhatCannotBeShown(t *testing.T) {
	_, err := NewReel(ReelOptions{})
	require.ErrorContains(t, err, "renderer")
	h, err := handrender.Default()
	require.NoError(t, err)
	_, err = NewReel(ReelOptions{Renderer: handrender.NewRenderer(h, handrender.Options{})})
	require.ErrorContains(t, err, "no movement")
}
