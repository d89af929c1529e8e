package landmark

import (
	"encoding/binary"
	"fmt"
	"image"
	"math"
	"sync"

	"volar/internal/hand"
)

// border says what lies outside the picture.
type border int8

const (
	// blackBorder continues the picture in black, as the palm detector was
	// trained to see the bands of a letterbox.
	blackBorder border = iota
	// edgeBorder repeats the picture's outermost pixels, as the landmark model
	// was trained to see a hand at the rim.
	edgeBorder
)

// Coordinates are fixed-point numbers with fracBits of fraction. A pixel is
// interpolated with 7 bits across and 6 down, so that the three colours of one
// pixel fit side by side into a word: 8+7+6 = 21 bits each.
const (
	fracBits  = 20
	one       = 1 << fracBits
	laneMask  = 1<<21 - 1
	laneScale = 1.0 / (255 * 128 * 64)
)

// Crop cuts the region out of the picture, upright and scaled to n by n
// samples, into dst: three planes red, green, blue of n*n numbers from 0 to 1,
// row by row, as the models take them. Outside the picture the outermost
// pixels repeat. Where a sample covers more than two pixels, several are
// averaged, so that a hand in a very large picture is not cut into grains.
func Crop(dst []float32, n int, img *image.RGBA, r hand.Region) error {
	if n < 1 || len(dst) != 3*n*n {
		return fmt.Errorf("crop of %d by %d samples into %d numbers: want %d", n, n, len(dst), 3*n*n)
	}
	w, h, err := pictureSize(img)
	if err != nil {
		return err
	}
	if !usable(r, w, h) {
		return fmt.Errorf("region %+v cannot be cut out of a picture of %d by %d pixels", r, w, h)
	}
	warp(dst, n, img, r, edgeBorder)
	return nil
}

// pictureSize returns width and height, or an error if there is no pixel.
func pictureSize(img *image.RGBA) (w, h int, err error) {
	if img == nil || img.Rect.Empty() {
		return 0, 0, fmt.Errorf("picture is empty")
	}
	w, h = img.Rect.Dx(), img.Rect.Dy()
	if img.Stride < 4*w || len(img.Pix) < img.Stride*(h-1)+4*w {
		return 0, 0, fmt.Errorf("picture of %d by %d pixels has only %d bytes in rows of %d", w, h, len(img.Pix), img.Stride)
	}
	return w, h, nil
}

// warp is Crop for arguments known to be good, with a choice of border.
// Coordinates count from the picture's first pixel, wherever its Rect lies.
func warp(dst []float32, n int, img *image.RGBA, r hand.Region, b border) {
	// Bilinear samples up to two pixels apart still touch every pixel.
	k := max(1, int(math.Ceil(r.Size/float64(n)/2-1e-9)))
	s := sampler{
		pix: img.Pix, stride: img.Stride, w: img.Rect.Dx(), h: img.Rect.Dy(),
		border: b, dst: dst, n: n, k: k,
	}
	sin, cos := math.Sincos(r.Rotation)
	step := r.Size / float64(n*k)
	fixed := func(v float64) int { return int(math.RoundToEven(v * one)) }
	s.dx, s.dy = fixed(cos*step), fixed(sin*step)
	// The centre of sample (0, 0); a pixel's centre has whole coordinates.
	first := (0.5/float64(n*k) - 0.5) * r.Size
	s.x0 = r.CX + (cos-sin)*first - 0.5
	s.y0 = r.CY + (sin+cos)*first - 0.5
	s.rowX, s.rowY = -sin*step, cos*step

	// Two halves on two cores: the crop is on the way of every frame.
	var half sync.WaitGroup
	half.Go(func() { s.rows(0, n/2) })
	s.rows(n/2, n)
	half.Wait()
}

// sampler reads rows of samples out of a picture.
type sampler struct {
	pix          []byte
	stride, w, h int
	border       border
	dst          []float32
	n, k         int     // samples a side; readings a sample and side
	x0, y0       float64 // first reading, in pixels
	rowX, rowY   float64 // from one row of readings to the next
	dx, dy       int     // from one reading to the next in a row, fixed point
}

func (s *sampler) rows(from, to int) {
	red, green, blue := s.dst[:s.n*s.n], s.dst[s.n*s.n:2*s.n*s.n], s.dst[2*s.n*s.n:]
	if s.k == 1 {
		for j := from; j < to; j++ {
			x, y := s.rowStart(j)
			s.row(red[j*s.n:(j+1)*s.n], green[j*s.n:(j+1)*s.n], blue[j*s.n:(j+1)*s.n], x, y)
		}
		return
	}
	// Read k by k times as finely and average.
	fine := make([]float32, 3*s.n*s.k)
	fr, fg, fb := fine[:s.n*s.k], fine[s.n*s.k:2*s.n*s.k], fine[2*s.n*s.k:]
	share := 1 / float32(s.k*s.k)
	clear(red[from*s.n : to*s.n])
	clear(green[from*s.n : to*s.n])
	clear(blue[from*s.n : to*s.n])
	for j := from * s.k; j < to*s.k; j++ {
		x, y := s.rowStart(j)
		s.row(fr, fg, fb, x, y)
		at := j / s.k * s.n
		for i := range fr {
			red[at+i/s.k] += share * fr[i]
			green[at+i/s.k] += share * fg[i]
			blue[at+i/s.k] += share * fb[i]
		}
	}
}

func (s *sampler) rowStart(j int) (x, y int) {
	return int(math.RoundToEven((s.x0 + float64(j)*s.rowX) * one)),
		int(math.RoundToEven((s.y0 + float64(j)*s.rowY) * one))
}

// row reads len(red) samples, the first at (x, y) in fixed point.
func (s *sampler) row(red, green, blue []float32, x, y int) {
	n := len(red)
	green, blue = green[:n], blue[:n]
	// Samples lo to hi have all four neighbours inside the picture.
	lo, hi := within(x, s.dx, n, (s.w-1)*one)
	lo2, hi2 := within(y, s.dy, n, (s.h-1)*one)
	lo, hi = max(lo, lo2), min(hi, hi2)
	if lo >= hi {
		lo, hi = n, n
	}
	for i := 0; i < lo; i++ {
		s.rim(&red[i], &green[i], &blue[i], x+i*s.dx, y+i*s.dy)
	}
	px, py := x+lo*s.dx, y+lo*s.dy
	for i := lo; i < hi; i++ {
		at := (py>>fracBits)*s.stride + (px>>fracBits)*4
		v := blend(binary.LittleEndian.Uint64(s.pix[at:]), binary.LittleEndian.Uint64(s.pix[at+s.stride:]),
			uint64(px)>>(fracBits-7)&127, uint64(py)>>(fracBits-6)&63)
		red[i] = float32(v&laneMask) * laneScale
		green[i] = float32(v>>21&laneMask) * laneScale
		blue[i] = float32(v>>42) * laneScale
		px += s.dx
		py += s.dy
	}
	for i := hi; i < n; i++ {
		s.rim(&red[i], &green[i], &blue[i], x+i*s.dx, y+i*s.dy)
	}
}

// rim reads one sample that may lie at or beyond the rim of the picture.
func (s *sampler) rim(red, green, blue *float32, x, y int) {
	xi, yi := x>>fracBits, y>>fracBits
	top := s.pixel(xi, yi) | s.pixel(xi+1, yi)<<32
	bottom := s.pixel(xi, yi+1) | s.pixel(xi+1, yi+1)<<32
	v := blend(top, bottom, uint64(x)>>(fracBits-7)&127, uint64(y)>>(fracBits-6)&63)
	*red = float32(v&laneMask) * laneScale
	*green = float32(v>>21&laneMask) * laneScale
	*blue = float32(v>>42) * laneScale
}

// pixel returns the four bytes of a pixel that may lie outside.
func (s *sampler) pixel(x, y int) uint64 {
	if x < 0 || y < 0 || x >= s.w || y >= s.h {
		if s.border == blackBorder {
			return 0
		}
		x, y = min(max(x, 0), s.w-1), min(max(y, 0), s.h-1)
	}
	return uint64(binary.LittleEndian.Uint32(s.pix[y*s.stride+x*4:]))
}

// blend interpolates between two pixels above and two below, each pair packed
// in one word; fx is in 1/128 of a pixel, fy in 1/64. The arithmetic runs in
// all three lanes at once: borrows between lanes cancel in the final sum.
func blend(top, bottom, fx, fy uint64) uint64 {
	a, b := lanes(top), lanes(top>>32)
	t := a<<7 + (b-a)*fx
	a, b = lanes(bottom), lanes(bottom>>32)
	u := a<<7 + (b-a)*fx
	return t<<6 + (u-t)*fy
}

// lanes spreads red, green and blue of a pixel 21 bits apart.
func lanes(p uint64) uint64 {
	return p&0xff | p&0xff00<<13 | p&0xff0000<<26
}

// within returns the range lo to hi of i in 0 to n with 0 <= x+i*d < limit.
func within(x, d, n, limit int) (lo, hi int) {
	if limit <= 0 {
		return n, n
	}
	if d < 0 { // run it backwards
		lo, hi = within(x+(n-1)*d, -d, n, limit)
		return n - hi, n - lo
	}
	if d == 0 {
		if x >= 0 && x < limit {
			return 0, n
		}
		return n, n
	}
	if x < 0 {
		lo = min(n, (-x+d-1)/d)
	}
	hi = n
	if last := x + (n-1)*d; last >= limit {
		hi = max(lo, (limit-x+d-1)/d)
	}
	return lo, max(lo, min(hi, n))
}

// brightness returns mean and standard deviation of the luma (ITU-R BT.601
// weights) of a crop of n by n samples, from every fourth row and column.
func brightness(crop []float32, n int) (mean, deviation float64) {
	red, green, blue := crop[:n*n], crop[n*n:2*n*n], crop[2*n*n:]
	var sum, squares float64
	count := 0
	for j := 2; j < n; j += 4 {
		for i := j*n + 2; i < (j+1)*n; i += 4 {
			y := float64(0.299*red[i] + 0.587*green[i] + 0.114*blue[i])
			sum += y
			squares += y * y
			count++
		}
	}
	if count == 0 {
		return 0, 0
	}
	mean = sum / float64(count)
	return mean, math.Sqrt(max(0, squares/float64(count)-mean*mean))
}
