package main

import (
	"bufio"
	"errors"
	"math"
	"math/rand/v2"
	"os"
	"sync"
	"sync/atomic"
)

// backSide is the side of a background in pixels.
const backSide = 256

// canvas is a picture of three floats a pixel, 0 to 255.
type canvas []float32

func (c canvas) add(x, y int, v [3]float64, a float64) {
	if x < 0 || y < 0 || x >= backSide || y >= backSide {
		return
	}
	o := c[3*(y*backSide+x):][:3]
	for i := range o {
		o[i] += float32((v[i] - float64(o[i])) * a)
	}
}

// backgrounds writes procedural pictures: gradients, noise, walls, shelves,
// cloth, writing-like marks and shapes of the colour of skin, in and out of
// focus.
func backgrounds(c config) (err error) {
	f, err := os.Create(c.out)
	if err != nil {
		return err
	}
	defer func() { err = errors.Join(err, f.Close()) }()
	const bytes = 3 * backSide * backSide
	all := make([]byte, c.n*bytes)
	var next atomic.Int64
	var wg sync.WaitGroup
	for range c.workers {
		wg.Go(func() {
			for i := int(next.Add(1) - 1); i < c.n; i = int(next.Add(1) - 1) {
				background(random{rand.New(rand.NewPCG(c.seed, uint64(i)))}, all[i*bytes:(i+1)*bytes])
			}
		})
	}
	wg.Wait()
	w := bufio.NewWriter(f)
	if _, err := w.Write(all); err != nil {
		return err
	}
	return w.Flush()
}

func (r random) paint() [3]float64 {
	if r.chance(.6) {
		g := r.between(10, 245)
		return [3]float64{clamp(g+r.normal(18), 0, 255), clamp(g+r.normal(18), 0, 255), clamp(g+r.normal(18), 0, 255)}
	}
	return [3]float64{r.between(0, 255), r.between(0, 255), r.between(0, 255)}
}

func background(r random, dst []byte) {
	c := make(canvas, 3*backSide*backSide)
	a, b := r.paint(), r.paint()
	turn := r.between(0, 2*math.Pi)
	sin, cos := math.Sincos(turn)
	for y := range backSide {
		for x := range backSide {
			t := clamp(.5+((float64(x)/backSide-.5)*cos+(float64(y)/backSide-.5)*sin)*.8, 0, 1)
			c.add(x, y, [3]float64{a[0] + (b[0]-a[0])*t, a[1] + (b[1]-a[1])*t, a[2] + (b[2]-a[2])*t}, 1)
		}
	}
	for range r.IntN(4) {
		c.noise(r, int(math.Exp2(r.between(1, 6.5))), r.between(3, 30), r.chance(.4))
	}
	if r.chance(.85) {
		n := [...]int{2, 5, 12, 30}[r.IntN(4)]
		for range n {
			c.thing(r)
		}
	}
	if r.chance(.6) {
		c.blur(r.geometric(.4, 7))
	}
	dim := 1.0
	if r.chance(.3) {
		dim = r.between(.3, 1)
	}
	for i, v := range c {
		dst[i] = byte(clamp(float64(v)*dim, 0, 255))
	}
}

// noise adds smooth noise with n knots a side.
func (c canvas) noise(r random, n int, size float64, coloured bool) {
	n = max(n, 2)
	knots := make([][3]float64, (n+1)*(n+1))
	for i := range knots {
		v := r.normal(size)
		knots[i] = [3]float64{v, v, v}
		if coloured {
			knots[i] = [3]float64{v, r.normal(size), r.normal(size)}
		}
	}
	for y := range backSide {
		v := float64(y) / backSide * float64(n)
		j := int(v)
		fy := smooth(v - float64(j))
		for x := range backSide {
			u := float64(x) / backSide * float64(n)
			i := int(u)
			fx := smooth(u - float64(i))
			k := j*(n+1) + i
			for q := range 3 {
				top := knots[k][q] + (knots[k+1][q]-knots[k][q])*fx
				low := knots[k+n+1][q] + (knots[k+n+2][q]-knots[k+n+1][q])*fx
				c[3*(y*backSide+x)+q] += float32(top + (low-top)*fy)
			}
		}
	}
}

func smooth(t float64) float64 { return t * t * (3 - 2*t) }

// thing adds one object.
func (c canvas) thing(r random) {
	col := r.paint()
	cx, cy, size := r.between(-20, backSide+20), r.between(-20, backSide+20), r.geometric(6, 140)
	w, h := size*r.between(.2, 2), size*r.between(.2, 2)
	sin, cos := math.Sincos(0.0)
	if r.chance(.4) {
		sin, cos = math.Sincos(r.between(0, math.Pi))
	}
	// fill paints where inside, in the thing's own axes, returns an opacity.
	fill := func(reach float64, inside func(u, v float64) float64, shade func(u, v float64) [3]float64) {
		for y := max(0, int(cy-reach)); y < min(backSide, int(cy+reach)+1); y++ {
			for x := max(0, int(cx-reach)); x < min(backSide, int(cx+reach)+1); x++ {
				dx, dy := float64(x)-cx, float64(y)-cy
				u, v := dx*cos+dy*sin, dy*cos-dx*sin
				if a := inside(u, v); a > 0 {
					c.add(x, y, shade(u, v), a)
				}
			}
		}
	}
	plain := func(float64, float64) [3]float64 { return col }
	box := func(u, v float64) float64 {
		if math.Abs(u) < w/2 && math.Abs(v) < h/2 {
			return 1
		}
		return 0
	}
	reach := math.Hypot(w, h) / 2
	switch q := r.Float64(); {
	case q < .25:
		fill(reach, box, plain)
	case q < .38:
		fill(reach, func(u, v float64) float64 {
			return clamp((1-math.Hypot(2*u/w, 2*v/h))*8, 0, 1)
		}, plain)
	case q < .5: // bar
		t := r.between(1, 12)
		fill(200, func(_, v float64) float64 { return clamp(t/2-math.Abs(v)+.5, 0, 1) }, plain)
	case q < .6: // frame
		t := r.between(2, 8)
		fill(reach, func(u, v float64) float64 {
			if box(u, v) > 0 && (w/2-math.Abs(u) < t || h/2-math.Abs(v) < t) {
				return 1
			}
			return 0
		}, plain)
	case q < .68: // writing
		seed, line := r.Uint64(), r.between(6, 16)
		fill(reach, func(u, v float64) float64 {
			row, col := math.Floor(v/line), math.Floor(u/line*2.2)
			if box(u, v) == 0 || math.Mod(math.Abs(v), line) > line*.55 {
				return 0
			}
			k := uint64(int64(row)*7919+int64(col)*104729) ^ seed
			k ^= k >> 13
			k *= 0x9e3779b97f4a7c15
			return float64(k>>60&1) * .9
		}, plain)
	case q < .8: // row of cylinders on a shelf
		d, bands := r.between(8, 30), r.paint()
		tall := d * r.between(1, 2.5)
		seed := r.Uint64()
		w, reach = d*float64(3+r.IntN(10)), 220
		fill(reach, func(u, v float64) float64 {
			if math.Abs(u) < w/2 && math.Abs(v) < tall/2 {
				return 1
			}
			return 0
		}, func(u, v float64) [3]float64 {
			i := math.Floor(u / d)
			t := u/d - i
			shade := .4 + .7*math.Sin(.3+2.6*t)
			p := col
			if (seed>>(uint(int(i)&31)))&1 == 1 || math.Abs(v) < tall*.12 {
				p = bands
			}
			return [3]float64{p[0] * shade, p[1] * shade, p[2] * shade}
		})
	case q < .9: // stripes or squares
		period, second, squares := r.between(3, 24), r.paint(), r.chance(.3)
		fill(reach, box, func(u, v float64) [3]float64 {
			on := math.Mod(math.Abs(u), period) < period/2
			if squares {
				on = on != (math.Mod(math.Abs(v), period) < period/2)
			}
			if on {
				return second
			}
			return col
		})
	default: // a face or an arm: skin with soft shading
		tones := [...][3]float64{{225, 172, 150}, {190, 135, 105}, {130, 88, 66}, {85, 55, 42}, {240, 195, 175}}
		col = tones[r.IntN(len(tones))]
		k, lx, ly := r.between(.7, 1.1), r.normal(.4), r.normal(.4)
		soft := r.between(2, 12)
		fill(reach, func(u, v float64) float64 {
			return clamp((1-math.Hypot(2*u/w, 2*v/h))*soft, 0, 1)
		}, func(u, v float64) [3]float64 {
			s := k * clamp(1+lx*2*u/w+ly*2*v/h, .4, 1.4)
			return [3]float64{col[0] * s, col[1] * s, col[2] * s}
		})
	}
}

// blur is three box blurs each way, close to a Gaussian of deviation sigma.
func (c canvas) blur(sigma float64) {
	n := int(math.Round(math.Sqrt(4*sigma*sigma+1)-1)) / 2
	if n < 1 {
		return
	}
	line := make([]float32, backSide)
	pass := func(start, step int) {
		for k := range 3 {
			sum := float32(0)
			get := func(i int) float32 { return c[start+step*min(max(i, 0), backSide-1)+k] }
			for i := -n; i <= n; i++ {
				sum += get(i)
			}
			for i := range backSide {
				line[i] = sum / float32(2*n+1)
				sum += get(i+n+1) - get(i-n)
			}
			for i, v := range line {
				c[start+step*i+k] = v
			}
		}
	}
	for range 3 {
		for i := range backSide {
			pass(3*backSide*i, 3)
			pass(3*i, 3*backSide)
		}
	}
}
