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
	tmp  []float32
}

// drawBackdrop fills r.back.
func (r *Renderer) drawBackdrop(b *Background, w, h int) {
	d := &r.back
	if d.of == *b && d.w == w && d.h == h && b.Image == nil {
		return
	}
	d.of, d.w, d.h = *b, w, h
	d.pix = grow(d.pix, 3*w*h)
	switch {
	case b.Kind == Picture && b.Image != nil && !b.Image.Rect.Empty():
		d.picture(b.Image)
	case b.Kind == Clutter:
		r.clutter(b)
	default:
		r.wall(b, d.pix)
	}
}

func (d *backdrop) put(x, y int, c vec) {
	o := d.pix[3*(y*d.w+x):][:3]
	o[0], o[1], o[2] = float32(c.X), float32(c.Y), float32(c.Z)
}

// picture scales an image to fill the frame, by nearest pixel.
func (d *backdrop) picture(m *image.RGBA) {
	var lut [256]float64
	for i := range lut {
		lut[i] = linear(float64(i) / 255)
	}
	sw, sh := m.Rect.Dx(), m.Rect.Dy()
	k := min(float64(sw)/float64(d.w), float64(sh)/float64(d.h))
	ox, oy := (float64(sw)-k*float64(d.w))/2, (float64(sh)-k*float64(d.h))/2
	for y := range d.h {
		sy := min(int(oy+k*(float64(y)+.5)), sh-1)
		for x := range d.w {
			p := m.Pix[sy*m.Stride+4*min(int(ox+k*(float64(x)+.5)), sw-1):][:3]
			d.put(x, y, vec{lut[p[0]], lut[p[1]], lut[p[2]]})
		}
	}
}

// wall is a plain or unevenly lit wall.
func (r *Renderer) wall(b *Background, pix []float32) {
	d := &r.back
	base := b.Colour.or(RGB{.74, .74, .72}).linear()
	cx := 0.3 + 0.3*hash01(4, b.Seed)
	for y := range d.h {
		for x := range d.w {
			c := base
			if b.Kind != Plain {
				u, v := float64(x)/float64(d.w), float64(y)/float64(d.h)
				c = base.mul(1.05 - 0.55*smoothstep(0, 0.95, math.Hypot(u-cx, v-0.3)))
				c = c.mul(1 + 0.04*r.noise.at(vec{u * 6, v * 6, 0}, b.Seed+3))
			}
			d.put(x, y, c)
		}
	}
}

// clutter draws a room: a wall, a window, shelves with things on them, a
// table, hanging cloth, then throws it out of focus.
func (r *Renderer) clutter(b *Background) {
	d := &r.back
	r.wall(b, d.pix)
	n := int32(0)
	rnd := func(lo, hi float64) float64 { n++; return lo + (hi-lo)*hash01(n, b.Seed*31+7) }
	shade := func(dark, bright float64) vec {
		g := rnd(dark, bright)
		return RGB{clamp(g+rnd(-.22, .22), 0, 1), clamp(g+rnd(-.15, .15), 0, 1), clamp(g+rnd(-.22, .22), 0, 1)}.linear()
	}
	w, h := float64(d.w), float64(d.h)
	// box fills a rectangle given in shares of the frame, with a pattern: 0
	// plain, 1 upright stripes, 2 grain along x.
	box := func(x0, y0, x1, y1 float64, c, second vec, pattern int) {
		seed := b.Seed + uint32(n)
		period := (x1 - x0) * w / rnd(3, 12)
		for y := max(int(y0*h), 0); y < min(int(y1*h), d.h); y++ {
			for x := max(int(x0*w), 0); x < min(int(x1*w), d.w); x++ {
				q := c
				switch pattern {
				case 1:
					if s := float64(x) / max(period, 2); s-math.Floor(s) < 0.5 {
						q = second
					}
				case 2:
					q = mix(c, second, 0.5+0.5*r.noise.at(vec{float64(x) * 0.02, float64(y) * 0.25, 1}, seed))
				}
				d.put(x, y, q.mul(1+0.12*r.noise.at(vec{float64(x) * .013, float64(y) * .013, 2}, seed)))
			}
		}
	}
	if rnd(0, 1) < 0.55 { // window
		x, y := rnd(-.1, .75), rnd(-.1, .2)
		ww, hh := rnd(.15, .4), rnd(.3, .55)
		light := vec{rnd(.7, 1.3), rnd(.8, 1.3), rnd(.9, 1.5)}
		box(x-.015, y-.02, x+ww+.015, y+hh+.02, shade(.6, .9), vec{}, 0)
		box(x, y, x+ww, y+hh, light, vec{}, 0)
		box(x+ww/2-.006, y, x+ww/2+.006, y+hh, shade(.5, .9), vec{}, 0)
	}
	for range int(rnd(1, 4)) { // shelves with books, boxes and jars
		y, x0 := rnd(.12, .75), rnd(-.2, .6)
		x1 := x0 + rnd(.25, .8)
		for x := x0; x < x1; {
			ww := rnd(.012, .07)
			box(x, y-rnd(.05, .2), x+ww*rnd(.7, 1), y, shade(.1, .85), shade(.1, .9), int(rnd(0, 2.4)))
			x += ww
		}
		box(x0, y, x1, y+.018, shade(.15, .7), shade(.15, .6), 2)
	}
	if rnd(0, 1) < 0.6 { // hanging cloth or a coat
		x := rnd(0, .85)
		box(x, rnd(0, .3), x+rnd(.08, .2), rnd(.5, 1), shade(.1, .7), shade(.1, .6), 1)
	}
	if rnd(0, 1) < 0.7 { // table and things on it
		y := rnd(.72, .95)
		for range int(rnd(1, 5)) {
			x := rnd(0, .95)
			box(x, y-rnd(.04, .22), x+rnd(.03, .15), y+.01, shade(.1, .9), shade(.1, .9), int(rnd(0, 3)))
		}
		box(-.1, y, 1.1, 1.1, shade(.15, .75), shade(.1, .6), 2)
	}
	d.tmp = grow(d.tmp, len(d.pix))
	rad := int(rnd(1.5, 7) * w / 640)
	for range 2 {
		blurBox(d.tmp, d.pix, d.w, d.h, 3, rad)
	}
}

// blurBox is a box filter of the given radius, once along each axis; tmp has
// the size of pix.
func blurBox(tmp, pix []float32, w, h, lanes, rad int) {
	if rad < 1 {
		return
	}
	k := 1 / float32(2*rad+1)
	line := func(dst, src []float32, at func(i int) int, n int) {
		for c := range lanes {
			var sum float32
			for i := -rad; i <= rad; i++ {
				sum += src[at(min(max(i, 0), n-1))+c]
			}
			for i := range n {
				dst[at(i)+c] = sum * k
				sum += src[at(min(i+rad+1, n-1))+c] - src[at(max(i-rad, 0))+c]
			}
		}
	}
	for y := range h {
		line(tmp, pix, func(i int) int { return lanes * (y*w + i) }, w)
	}
	for x := range w {
		line(pix, tmp, func(i int) int { return lanes * (i*w + x) }, h)
	}
}
