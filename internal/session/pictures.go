package session

import (
	"bytes"
	"fmt"
	"image"
	"image/jpeg"
	"math"
	"time"

	"golang.org/x/image/draw"

	"volar/internal/hand"
)

// PictureOptions say what is kept of the camera's pictures. Nothing is, unless
// both sides agreed.
type PictureOptions struct {
	ClientAgrees, TherapistAgrees bool
	// Throughout keeps pictures of the whole session instead of flagged
	// moments alone.
	Throughout bool
	// PerSecond is how many pictures a second are kept; 0 = 3.
	PerSecond float64
	// Before and After are how long around the raising of a flag pictures are
	// kept; 0 = 2 s and 1.5 s.
	Before, After time.Duration
	// Margin is what is kept around the hand's points, as a share of the
	// larger side of the box that holds them; 0 = 0.25.
	Margin float64
	// MaxSide is the longest side of a kept picture in pixels; 0 = 240.
	MaxSide int
	// Quality of the JPEG, 1 to 100; 0 = 70.
	Quality int
}

func (o PictureOptions) agreed() bool { return o.ClientAgrees && o.TherapistAgrees }

func (o PictureOptions) withDefaults() PictureOptions {
	if !(o.PerSecond > 0) {
		o.PerSecond = 3
	}
	if o.Before <= 0 {
		o.Before = 2 * time.Second
	}
	if o.After <= 0 {
		o.After = 1500 * time.Millisecond
	}
	if !(o.Margin > 0) {
		o.Margin = 0.25
	}
	if o.MaxSide <= 0 {
		o.MaxSide = 240
	}
	if o.Quality <= 0 {
		o.Quality = 70
	}
	return o
}

// still is a cropped picture before it is encoded.
type still struct {
	Picture
	img *image.RGBA
}

// album holds the most recent pictures in memory and says which of them are
// to be kept. It does not read pictures at all unless both sides agreed.
type album struct {
	opts PictureOptions
	// recent holds the last Before of pictures that no flag has claimed.
	recent []still
	// until is how long the flag that was raised last claims pictures.
	until time.Duration
	flag  int
	next  time.Duration
	begun bool
	ready []still
	count int
}

func newAlbum(o PictureOptions) album { return album{opts: o.withDefaults()} }

// show takes a picture where its turn has come and there is a hand in it.
func (a *album) show(at time.Duration, exercise int, f Frame) {
	if !a.opts.agreed() || f.Picture == nil || f.Hand == nil || a.begun && at < a.next {
		return
	}
	a.begun, a.next = true, at+time.Duration(float64(time.Second)/a.opts.PerSecond)
	crop := handBox(&f.Hand.Image, a.opts.Margin).Intersect(f.Picture.Rect)
	if crop.Empty() || f.Width <= 0 || f.Height <= 0 {
		return
	}
	scale := min(1, float64(a.opts.MaxSide)/float64(max(crop.Dx(), crop.Dy())))
	w, h := max(1, int(float64(crop.Dx())*scale)), max(1, int(float64(crop.Dy())*scale))
	img := image.NewRGBA(image.Rect(0, 0, w, h))
	draw.ApproxBiLinear.Scale(img, img.Rect, f.Picture, crop, draw.Src, nil)
	s := still{img: img, Picture: Picture{
		At: at, Exercise: exercise, Width: w, Height: h,
		Left: float64(crop.Min.X) / float64(f.Width), Right: float64(crop.Max.X) / float64(f.Width),
		Top: float64(crop.Min.Y) / float64(f.Height), Bottom: float64(crop.Max.Y) / float64(f.Height),
	}}
	switch {
	case at < a.until:
		s.Flag = a.flag
		a.ready = append(a.ready, s)
	case a.opts.Throughout:
		a.ready = append(a.ready, s)
	default:
		a.recent = append(a.recent, s)
	}
	old := 0
	for old < len(a.recent) && a.recent[old].At < at-a.opts.Before {
		old++
	}
	a.recent = append(a.recent[:0], a.recent[old:]...)
}

// want claims the recent pictures and those that follow for a flag.
func (a *album) want(at time.Duration, flag int) {
	if !a.opts.agreed() {
		return
	}
	for _, s := range a.recent {
		if s.At >= at-a.opts.Before {
			s.Flag = flag
			a.ready = append(a.ready, s)
		}
	}
	a.recent = a.recent[:0]
	a.flag, a.until = flag, max(a.until, at+a.opts.After)
}

// take hands over the pictures that are to be kept, each with its number.
func (a *album) take() []still {
	out := a.ready
	a.ready = nil
	// A session keeps no more than a reader takes.
	if room := maxPictures - a.count; len(out) > room {
		out = out[:max(0, room)]
	}
	for i := range out {
		a.count++
		out[i].Number = a.count
	}
	return out
}

// handBox is the square around the hand's points with a margin, in pixels.
func handBox(p *hand.Points, margin float64) image.Rectangle {
	minX, minY, maxX, maxY := math.Inf(1), math.Inf(1), math.Inf(-1), math.Inf(-1)
	for _, q := range p {
		minX, maxX = min(minX, q.X), max(maxX, q.X)
		minY, maxY = min(minY, q.Y), max(maxY, q.Y)
	}
	side := max(maxX-minX, maxY-minY)
	if math.IsNaN(side) || math.IsInf(side, 0) || side > 1e6 {
		return image.Rectangle{}
	}
	m := side * margin
	return image.Rect(int(minX-m), int(minY-m), int(math.Ceil(maxX+m)), int(math.Ceil(maxY+m)))
}

func (s *still) encode(o PictureOptions) (Picture, error) {
	var b bytes.Buffer
	if err := jpeg.Encode(&b, s.img, &jpeg.Options{Quality: o.withDefaults().Quality}); err != nil {
		return Picture{}, err
	}
	if b.Len() > maxJPEG {
		return Picture{}, fmt.Errorf("a picture of %d bytes", b.Len())
	}
	p := s.Picture
	p.JPEG = b.Bytes()
	return p, nil
}
