package look

import (
	"image/color"
	"math"
)

// Contrast is the contrast ratio of two opaque colours, 1 to 21, by the
// definitions of relative luminance and contrast ratio in WCAG 2.2.
func Contrast(a, b color.Color) float64 {
	x, y := luminance(a), luminance(b)
	return (max(x, y) + 0.05) / (min(x, y) + 0.05)
}

func luminance(c color.Color) float64 {
	r, g, b, _ := c.RGBA()
	return 0.2126*linear(r) + 0.7152*linear(g) + 0.0722*linear(b)
}

func linear(v uint32) float64 {
	s := float64(v) / 0xffff
	if s <= 0.04045 {
		return s / 12.92
	}
	return math.Pow((s+0.055)/1.055, 2.4)
}
