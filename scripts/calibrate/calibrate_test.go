package main

import (
	"image"
	"math"
	"math/rand/v2"
	"testing"

	"github.com/stretchr/testify/require"

	"volar/internal/goniometry/calibration"
	"volar/internal/hand"
)

// The trainer learns a smooth function of two inputs, and the network that it
// hands over gives the same answers.
func TestTrainerLearns(t *testing.T) {
	rng := rand.New(rand.NewPCG(7, 7))
	want := func(a, b float64) float64 { return math.Sin(a) + 0.5*a*b }
	const n = 2048
	x := make([]float64, 0, 2*n)
	for range n {
		x = append(x, rng.NormFloat64(), 3+rng.NormFloat64())
	}
	tr := trainer{Epochs: 150, Batch: 64, Rate: 5e-3, rng: rng}
	last := tr.fit(x, []int{2, 24, 16, 1}, func(i int, out, grad []float64) float64 {
		d := out[0] - want(x[2*i], x[2*i+1])
		grad[0] = d
		return d * d / 2
	})
	require.Less(t, last, 0.005)
	net := tr.network()
	require.NoError(t, net.Check(2, 1))
	var s calibration.Scratch
	for _, p := range [][]float64{{0, 3}, {1, 2}, {-1.2, 4}} {
		require.InDelta(t, want(p[0], p[1]), net.Run(p, &s)[0], 0.25)
	}
}

// Slopes of the losses against differences. The weight of a sample has no
// slope of its own, by intention, so it is divided out.
func TestLossSlopes(t *testing.T) {
	const h = 1e-6
	for _, c := range []struct{ out, want, scale float64 }{{0.3, 0.1, -1}, {-0.4, 0.2, 0.5}, {1, -1, -0.2}} {
		var gOut, gScale, none float64
		laplace(c.out, c.want, c.scale, &gOut, &gScale)
		plain := func(out, scale float64) float64 {
			return laplace(out, c.want, scale, &none, &none) / math.Exp(scale/2)
		}
		w := math.Exp(c.scale / 2)
		require.InDelta(t, w*(plain(c.out+h, c.scale)-plain(c.out-h, c.scale))/(2*h), gOut, 1e-5)
		require.InDelta(t, w*(plain(c.out, c.scale+h)-plain(c.out, c.scale-h))/(2*h), gScale, 1e-5)
	}
	for _, visible := range []bool{true, false} {
		var g, none float64
		seen(0.7, visible, &g)
		require.InDelta(t, (seen(0.7+h, visible, &none)-seen(0.7-h, visible, &none))/(2*h), g, 1e-6)
	}
}

func TestScenesDependOnTheSeedAlone(t *testing.T) {
	at := func(i uint64) dice { return dice{rand.New(rand.NewPCG(1, i))} }
	past := 0
	for i := range uint64(400) {
		a, b := scene(at(i)), scene(at(i))
		require.Equal(t, a, b)
		for j, deg := range a.Pose.Flexion() {
			l := calibration.LevelOf(hand.Joint(j))
			if l < len(limits) {
				require.GreaterOrEqual(t, deg, limits[l][0])
				require.LessOrEqual(t, deg, limits[l][1])
			}
			if l == 1 && deg < -10 {
				past++
			}
		}
	}
	require.Greater(t, past, 100, "fingers past straight are what must not be missed")
}

func TestMirror(t *testing.T) {
	img := image.NewRGBA(image.Rect(0, 0, 5, 3))
	for i := range img.Pix {
		img.Pix[i] = byte(i)
	}
	once := append([]byte(nil), img.Pix...)
	mirror(img)
	require.Equal(t, once[4*4:4*5], img.Pix[:4], "the last pixel of a row comes first")
	mirror(img)
	require.Equal(t, once, img.Pix)
}
