package landmark

import (
	"image"
	"math"
)

// light is how a crop is shown to a model.
type light int8

const (
	asShot light = iota
	// stretched runs from the picture's darkest to its brightest, with its
	// median near the middle.
	stretched
	// brightened lifts the dark tones.
	brightened
	numLights
)

const (
	// brightenedGamma lifts, and leastGamma and mostGamma bound what the median
	// of a stretched picture is moved by.
	brightenedGamma       = 0.6
	leastGamma, mostGamma = 0.5, 1.6
	// stretchTail of the pixels may end at either end of the scale, and
	// stretchMiddle is where the median comes to lie.
	stretchTail, stretchMiddle = 0.01, 0.45
	// leastRange, in levels of 255, keeps the noise in a picture of one tone
	// from being stretched as if it were contrast.
	leastRange = 30
	// countEvery is the distance of the pixels that are counted.
	countEvery = 2
)

// curve maps the 256 levels of a channel; nil leaves them.
type curve [256]float32

// curves are those of one picture, by light.
type curves [numLights]*curve

func curvesOf(img *image.RGBA) *curves {
	var count [256]int
	pixels := 0
	for y := 0; y < img.Rect.Dy(); y += countEvery {
		row := img.Pix[y*img.Stride:]
		for x := 0; x < img.Rect.Dx(); x += countEvery {
			p := row[4*x : 4*x+3]
			// Luma by ITU-R BT.601, in 256 parts.
			count[(77*int(p[0])+150*int(p[1])+29*int(p[2]))>>8]++
			pixels++
		}
	}
	quantile := func(part float64) float64 {
		sum := 0
		for level, n := range count {
			if sum += n; float64(sum) >= part*float64(pixels) {
				return float64(level)
			}
		}
		return 255
	}
	low, middle := quantile(stretchTail), quantile(0.5)
	span := max(quantile(1-stretchTail)-low, leastRange)
	gamma := 1.0
	if m := (middle - low) / span; m > 0 && m < 1 {
		gamma = min(max(math.Log(stretchMiddle)/math.Log(m), leastGamma), mostGamma)
	}
	c := curves{stretched: new(curve), brightened: new(curve)}
	for level := range 256 {
		v := min(max((float64(level)-low)/span, 0), 1)
		c[stretched][level] = float32(math.Pow(v, gamma))
		c[brightened][level] = float32(math.Pow(float64(level)/255, brightenedGamma))
	}
	return &c
}

// shown is what is done to a crop before a model sees it.
type shown struct {
	curve    *curve
	mirrored bool
}

// apply changes a crop of rows of n samples from 0 to 1.
func (s shown) apply(crop []float32, n int) {
	if s.curve != nil {
		for i, v := range crop {
			crop[i] = s.curve[int(v*255+0.5)]
		}
	}
	if s.mirrored {
		mirror(crop, n)
	}
}
