package landmark

import (
	"encoding/binary"
	"fmt"
	"image"
	"math"

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
// pixels repeat. Where samples lie four or more pixels apart, the picture is
// averaged down first, so that a hand in a large picture is not cut into grains.
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
	var c cropper
	c.crop(dst, n, img, r, edgeBorder)
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

// cropper cuts regions out of pictures. It keeps the memory for pictures that
// it had to shrink; the zero value is ready for use.
type cropper struct{ small image.RGBA }

// crop is Crop for arguments known to be good, with a choice of border.
// Coordinates count from the picture's first pixel, wherever its Rect lies.
func (c *cropper) crop(dst []float32, n int, img *image.RGBA, r hand.Region, b border) {
	if f := shrinkBy(r, n); f > 1 {
		c.shrink(img, f, r, b)
		img = &c.small
		r.CX, r.CY, r.Size = r.CX/float64(f), r.CY/float64(f), r.Size/float64(f)
	}
	warp(dst, n, img, r, b)
}

// shrinkBy is how many pixels a side are averaged into one before the region
// is sampled at n by n places. Samples up to four pixels apart are taken as
// the reference takes them, without averaging, so that a camera's 640 by 480
// gives the reference's numbers; beyond, pictures with sensor noise are read
// better when averaged.
func shrinkBy(r hand.Region, n int) int {
	if f := int(r.Size/float64(n) + 1e-9); f >= shrinkFrom {
		return min(f, maxShrink)
	}
	return 1
}

// shrinkFrom is the distance of samples, in pixels, from which on pictures are
// averaged.
const shrinkFrom = 4

// maxShrink keeps the sum over a block of pixels within 21 bits.
const maxShrink = 64

// shrink averages the blocks of f by f pixels that the region touches into
// c.small, which gets the whole picture's size; the rest of it is not set. A
// block over the rim averages what there is, or counts the rest as black.
func (c *cropper) shrink(img *image.RGBA, f int, r hand.Region, b border) {
	w, h := img.Rect.Dx(), img.Rect.Dy()
	sw, sh := (w+f-1)/f, (h+f-1)/f
	if need := 4 * sw * sh; cap(c.small.Pix) < need {
		c.small.Pix = make([]byte, need)
	}
	c.small.Pix = c.small.Pix[:4*sw*sh]
	c.small.Stride, c.small.Rect = 4*sw, image.Rect(0, 0, sw, sh)

	// The upright box around the region, with the neighbours that
	// interpolation reaches for.
	sin, cos := math.Sincos(r.Rotation)
	half := r.Size / 2 * (math.Abs(sin) + math.Abs(cos))
	x0, x1 := span(r.CX-half, r.CX+half, f, sw)
	y0, y1 := span(r.CY-half, r.CY+half, f, sh)
	for y := y0; y < y1; y++ {
		c.shrinkRow(img, f, b, y, x0, x1)
	}
}

// span returns the blocks of f pixels, of n, that lie between two coordinates:
// at least one, since the outermost ones stand for all beyond.
func span(from, to float64, f, n int) (first, last int) {
	first = min(max(int(math.Floor(from/float64(f)))-1, 0), n-1)
	last = min(max(int(math.Ceil(to/float64(f)))+2, first+1), n)
	return first, last
}

// shrinkRow averages the blocks x0 to x1 of row y.
func (c *cropper) shrinkRow(img *image.RGBA, f int, b border, y, x0, x1 int) {
	w, h := img.Rect.Dx(), img.Rect.Dy()
	rows := min(f, h-y*f)
	for x := x0; x < x1; x++ {
		columns := min(f, w-x*f)
		var sum uint64 // three lanes of 21 bits, as in blend
		for j := range rows {
			at := (y*f+j)*img.Stride + 4*x*f
			line := img.Pix[at : at+4*columns]
			// Two pixels at once in lanes of 16 bits, enough for a row of 64.
			var redBlue, green uint64
			for ; len(line) >= 8; line = line[8:] {
				v := binary.LittleEndian.Uint64(line)
				redBlue += v & 0x00ff00ff00ff00ff
				green += v >> 8 & 0x000000ff000000ff
			}
			if len(line) >= 4 {
				v := uint64(binary.LittleEndian.Uint32(line))
				redBlue += v & 0x00ff00ff
				green += v >> 8 & 0xff
			}
			redBlue = redBlue&0xffffffff + redBlue>>32
			sum += redBlue&0xffff | (green&0xffffffff+green>>32)<<21 | redBlue>>16<<42
		}
		count := uint64(rows * columns)
		if b == blackBorder {
			count = uint64(f * f)
		}
		p := c.small.Pix[y*c.small.Stride+4*x:][:4]
		p[0] = uint8((sum&laneMask + count/2) / count)
		p[1] = uint8((sum>>21&laneMask + count/2) / count)
		p[2] = uint8((sum>>42 + count/2) / count)
		p[3] = 255
	}
}

// warp samples the region without averaging. One core does it: splitting it
// over two made tracking no faster beside a model that keeps both busy.
func warp(dst []float32, n int, img *image.RGBA, r hand.Region, b border) {
	s := sampler{
		pix: img.Pix, stride: img.Stride, w: img.Rect.Dx(), h: img.Rect.Dy(),
		border: b,
	}
	sin, cos := math.Sincos(r.Rotation)
	step := r.Size / float64(n)
	s.dx, s.dy = fixed(cos*step), fixed(sin*step)
	// The centre of sample (0, 0); a pixel's centre has whole coordinates.
	first := (0.5/float64(n) - 0.5) * r.Size
	x0, y0 := r.CX+(cos-sin)*first-0.5, r.CY+(sin+cos)*first-0.5
	red, green, blue := dst[:n*n], dst[n*n:2*n*n], dst[2*n*n:]
	for j := range n {
		x, y := x0-sin*step*float64(j), y0+cos*step*float64(j)
		s.row(red[j*n:(j+1)*n], green[j*n:(j+1)*n], blue[j*n:(j+1)*n], fixed(x), fixed(y))
	}
}

func fixed(v float64) int { return int(math.RoundToEven(v * one)) }

// sampler reads rows of samples out of a picture.
type sampler struct {
	pix          []byte
	stride, w, h int
	border       border
	dx, dy       int // from one sample to the next in a row, fixed point
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
