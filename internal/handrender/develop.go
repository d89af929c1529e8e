package handrender

import (
	"image"
	"math"
)

// compose lays the foreground over the background and applies the effects.
func (r *Renderer) compose(dst *image.RGBA, s *Scene, w, h int) {
	r.lay(s, w, h, 1, true)
	r.develop(dst, s, w, h)
}

// rowsEach runs f over blocks of rows.
func (r *Renderer) rowsEach(h int, f func(y0, y1 int)) {
	const rows = 32
	each(r.opt.Workers, (h+rows-1)/rows, func(i int) { f(i*rows, min((i+1)*rows, h)) })
}

// lay puts the foreground over the background into r.film, with a weight; the
// first layer replaces what was there, others are added.
func (r *Renderer) lay(s *Scene, w, h int, weight float32, first bool) {
	r.drawBackdrop(&s.Background, w, h)
	r.film = grow(r.film, 3*w*h)
	r.rowsEach(h, func(y0, y1 int) {
		for k := y0 * w; k < y1*w; k++ {
			f, b, o := r.layer[4*k:][:4], r.back.pix[3*k:][:3], r.film[3*k:][:3]
			through := 1 - f[3]
			for c := range 3 {
				v := (f[c] + b[c]*through) * weight
				if !first {
					v += o[c]
				}
				o[c] = v
			}
		}
	})
}

// develop turns r.film into a picture: defocus, exposure, the screen's curve
// and noise.
func (r *Renderer) develop(dst *image.RGBA, s *Scene, w, h int) {
	e := &s.Effects
	if e.Blur > 0 {
		r.spare = grow(r.spare, 3*w*h)
		blur(r.spare, r.film, w, h, e.Blur*e.Blur)
	}
	exposure := float32(math.Exp2(e.Exposure))
	// The sum of two bytes has a standard deviation of 104.5.
	noise := float32(e.Noise / 104.5)
	r.rowsEach(h, func(y0, y1 int) {
		for y := y0; y < y1; y++ {
			rng := uint64(hash3(int32(y), 1, 2, e.NoiseSeed))<<32 | uint64(hash3(int32(y), 3, 4, e.NoiseSeed)) | 1
			for x := range w {
				f := r.film[3*(y*w+x):][:3]
				o := dst.Pix[y*dst.Stride+4*x:][:4]
				if noise > 0 {
					rng ^= rng << 13
					rng ^= rng >> 7
					rng ^= rng << 17
				}
				for c := range 3 {
					v := r.encode.at(f[c] * exposure)
					if noise > 0 {
						b := uint32(rng >> (16 * c))
						v += noise * (float32(b&255) + float32(b>>8&255) - 255)
					}
					o[c] = uint8(min(max(v, 0), 255) + .5)
				}
				o[3] = 255
			}
		}
	})
}

// blur comes close to a Gaussian of the given variance in square pixels: three
// box filters, each of variance n(n+1)/3, and for the rest passes of the kernel
// (k, 1-2k, k), each of variance 2k.
func blur(tmp, pix []float32, w, h int, variance float64) {
	if n := int((math.Sqrt(1+4*variance) - 1) / 2); n > 1 {
		for range 3 {
			blurBox(tmp, pix, w, h, 3, n)
		}
		variance -= float64(n * (n + 1))
	}
	passes := int(math.Ceil(variance / 0.5))
	k := float32(variance / float64(max(2*passes, 1)))
	for range passes {
		for y := range h {
			row, out := pix[3*w*y:3*w*(y+1)], tmp[3*w*y:3*w*(y+1)]
			for i := range row {
				out[i] = row[i] + k*(row[max(i-3, i%3)]+row[min(i+3, len(row)-3+i%3)]-2*row[i])
			}
		}
		for y := range h {
			up, mid, down := tmp[3*w*max(y-1, 0):], tmp[3*w*y:], tmp[3*w*min(y+1, h-1):]
			out := pix[3*w*y : 3*w*(y+1)]
			for i := range out {
				out[i] = mid[i] + k*(up[i]+down[i]-2*mid[i])
			}
		}
	}
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
