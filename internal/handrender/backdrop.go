package handrender

import (
	"image"
	"math"
)

// backdrop is the background in linear light, kept while it does not change.
type backdrop struct {
	of   Background
	w, h int
	pix  []float32 // RGB
}

func (r *Renderer) drawBackdrop(b *Background, w, h int) {
	d := &r.back
	if d.of == *b && d.w == w && d.h == h {
		return
	}
	d.of, d.w, d.h = *b, w, h
	d.pix = grow(d.pix, 3*w*h)
	base := b.Colour.or(RGB{.74, .74, .72}).linear()
	for y := range h {
		for x := range w {
			u, v := float64(x)/float64(w), float64(y)/float64(h)
			c := base
			if b.Kind != Plain {
				dx, dy := u-0.3-0.3*hash01(4, b.Seed), v-0.3
				c = base.mul(1.05 - 0.55*smoothstep(0, 0.95, math.Sqrt(dx*dx+dy*dy)))
				c = c.mul(1 + 0.04*r.noise.at(vec{u * 6, v * 6, 0}, b.Seed+3))
			}
			o := d.pix[3*(y*w+x):]
			o[0], o[1], o[2] = float32(c.X), float32(c.Y), float32(c.Z)
		}
	}
}

// compose lays the foreground over the background and applies the effects.
func (r *Renderer) compose(dst *image.RGBA, s *Scene, w, h int) {
	r.drawBackdrop(&s.Background, w, h)
	exposure := float32(math.Exp2(s.Effects.Exposure))
	each(r.opt.Workers, (h+31)/32, func(i int) {
		for y := 32 * i; y < min(32*(i+1), h); y++ {
			for x := range w {
				k := y*w + x
				f, b := r.layer[4*k:][:4], r.back.pix[3*k:][:3]
				o := dst.Pix[y*dst.Stride+4*x:][:4]
				for c := range 3 {
					o[c] = uint8(r.encode.at((f[c]+b[c]*(1-f[3]))*exposure) + .5)
				}
				o[3] = 255
			}
		}
	})
}

// cutOut writes the foreground alone.
func (r *Renderer) cutOut(dst *image.RGBA, s *Scene, n int) {
	exposure := float32(math.Exp2(s.Effects.Exposure))
	for y := range n {
		for x := range n {
			f := r.layer[4*(y*n+x):][:4]
			o := dst.Pix[y*dst.Stride+4*x:][:4]
			a := f[3]
			if a == 0 {
				o[0], o[1], o[2], o[3] = 0, 0, 0, 0
				continue
			}
			for c := range 3 {
				o[c] = uint8(r.encode.at(f[c]/a*exposure)*a + .5)
			}
			o[3] = uint8(255*a + .5)
		}
	}
}
