package handrender

import (
	"image"
	"math"

	"volar/internal/hand"
)

// Quality trades time for looks.
type Quality int8

// The qualities. Normal is for clips, Draft for training crops (a coarser
// shadow), High for stills: a finer surface and nine samples a pixel, about ten
// times the time.
const (
	Normal Quality = iota
	Draft
	High
)

// Options of a Renderer. The zero Options are normal quality on all
// processors.
type Options struct {
	Quality Quality
	// Workers is the number of goroutines, 0 = GOMAXPROCS. The picture does
	// not depend on it.
	Workers int
}

// Renderer draws scenes and keeps its buffers between calls. It is for one
// goroutine at a time; several renderers may share a Hand.
type Renderer struct {
	hand *Hand
	opt  Options

	noise  *lattice
	encode *encodeTable

	shapedFrom *Hand
	shape      Shape
	shaped     *Hand

	posed   posed
	surface []vec // posed surface in hand axes
	normal  []vec
	refined refinement
	shellOf []int32
	covers  []cover

	model   model
	samples samples
	shadows shadowMap
	shader  *shader
	layer   []float32 // premultiplied linear RGBA of the foreground
	film    []float32 // linear RGB of the whole picture
	spare   []float32
	back    backdrop

	second     *Renderer // of what is behind
	secondFilm *image.RGBA

	mottleOf   *Hand
	mottleSeed uint32
	mottleBy   float64
	mottle     []vec
}

// NewRenderer returns a renderer whose scenes show h unless they name another
// hand.
func NewRenderer(h *Hand, o Options) *Renderer {
	return &Renderer{hand: h, opt: o, noise: newLattice(), encode: newEncodeTable(), shader: newShader()}
}

// oversampling is the number of samples to a pixel in each direction.
func (o *Options) oversampling() int {
	if o.Quality == High {
		return 3
	}
	return 2
}

// Render draws a scene into dst, at dst's size, and returns what is known of
// it.
func (r *Renderer) Render(dst *image.RGBA, s Scene) Truth {
	w, h := dst.Rect.Dx(), dst.Rect.Dy()
	r.behind(&s, w, h)
	p := picture(&s, w, h)
	t := r.foreground(&s, p, w, h)
	r.compose(dst, &s, w, h)
	return t
}

// behind draws the hands behind a scene's own and makes them its background.
func (r *Renderer) behind(s *Scene, w, h int) {
	if s.Behind == nil {
		return
	}
	b := *s.Behind
	b.Background, b.Effects = s.Background, Effects{}
	if r.second == nil {
		r.second = NewRenderer(r.hand, r.opt)
	}
	if r.secondFilm == nil || r.secondFilm.Rect.Dx() != w || r.secondFilm.Rect.Dy() != h {
		r.secondFilm = image.NewRGBA(image.Rect(0, 0, w, h))
	}
	r.second.Render(r.secondFilm, b)
	s.Background = Background{Kind: Picture, Image: r.secondFilm}
}

// Locate returns what Render would, without drawing: the landmarks in a
// picture of w x h pixels. Visible is left false.
func (r *Renderer) Locate(s Scene, w, h int) Truth {
	hd := r.pose(&s)
	p := picture(&s, w, h)
	place := placement(hd, &s, &r.posed)
	return r.truth(&s, &p, &place)
}

// Crop is a rotated square of a picture, drawn at its own resolution.
type Crop struct {
	// Width and Height are the picture's size in pixels; 0 = 640 x 480.
	Width, Height int
	// Region is the square in the picture.
	Region hand.Region
}

// RenderCrop draws the part of a scene that lies in a region of a picture,
// into dst, which is square, with transparent black where the background would
// be (alpha is premultiplied, as image.RGBA has it). Points and directions in
// the Truth are in the crop's pixels and axes. Background and effects of the
// scene are not used except the exposure.
func (r *Renderer) RenderCrop(dst *image.RGBA, s Scene, c Crop) Truth {
	n := dst.Rect.Dx()
	w, h := c.Width, c.Height
	if w == 0 || h == 0 {
		w, h = 640, 480
	}
	p := picture(&s, w, h)
	k := float64(n) / c.Region.Size
	sin, cos := math.Sincos(-c.Region.Rotation)
	p.a, p.b, p.scale = cos*k, sin*k, k
	p.ox, p.oy = c.Region.CX, c.Region.CY
	p.hx, p.hy = float64(n)/2, float64(n)/2
	t := r.foreground(&s, p, n, n)
	r.cutOut(dst, &s, n)
	return t
}

// picture is the projection of a whole picture.
func picture(s *Scene, w, h int) projection {
	f := float64(w) / 2 / math.Tan(or(s.Camera.HFOV, 62)*math.Pi/360)
	return projection{f: f, cx: float64(w) / 2, cy: float64(h) / 2, a: 1, scale: 1}
}

// place carries hand axes to camera axes.
type place struct {
	m      mat
	t      vec
	mirror bool
}

func (p *place) at(v vec) vec { return p.m.apply(v).add(p.t) }

// placement turns the hand by yaw, pitch and roll and puts its middle MCP
// joint before the camera. A left hand is mirrored first and turned the other
// way about its length, so that positive yaw shows the thumb side of both.
func placement(h *Hand, s *Scene, ps *posed) place {
	side := 1.0
	if s.Side == hand.Left {
		side = -1
	}
	turn := about(vec{0, 0, 1}, -s.View.Roll).
		mul(about(vec{1, 0, 0}, s.View.Pitch)).
		mul(about(vec{0, 1, 0}, -s.View.Yaw*side)).
		mul(mat{{X: side}, {Y: 1}, {Z: 1}})
	// The turned hand has Y up and Z to the camera.
	m := mat{{X: 1}, {Y: -1}, {Z: -1}}.mul(turn)
	dist := or(s.Camera.Distance, 0.42)
	half := math.Tan(or(s.Camera.HFOV, 62)*math.Pi/360) * dist
	at := vec{2 * half * s.Camera.OffsetX, 1.5 * half * s.Camera.OffsetY, dist}
	pivot := h.joints[chainBone(hand.Middle, 0)]
	t := at.sub(m.apply(pivot))
	if s.ForearmStill {
		// Hand axes begin at the wrist, so that turning about it moves nothing
		// there.
		m = m.mul(ps.forearm.matrix(1).transpose())
	}
	return place{m, t, side < 0}
}

// pose picks the hand, shapes it and solves the pose.
func (r *Renderer) pose(s *Scene) *Hand {
	h := s.Hand
	if h == nil {
		h = r.hand
	}
	if r.shaped == nil || r.shapedFrom != h || r.shape != s.Shape {
		r.shapedFrom, r.shape, r.shaped = h, s.Shape, h.shaped(&s.Shape)
	}
	r.shaped.solve(&s.Pose, &r.posed)
	return r.shaped
}

// foreground draws everything but the background into r.layer, w x h pixels.
func (r *Renderer) foreground(s *Scene, p projection, w, h int) Truth {
	hd := r.pose(s)
	pl := placement(hd, s, &r.posed)
	n := len(hd.pos)
	r.surface = grow(r.surface, n)
	hd.deform(r.surface, hd.pos, &r.posed)

	m := &r.model
	m.reset()
	r.addHand(hd, s, &pl)
	r.addThings(hd, s, &pl)

	over := r.opt.oversampling()
	sm := &r.samples
	sm.prepare(w*over, h*over, 16*over)
	r.project(&p, over)
	front := -1.0 // a right hand's triangles, with y down
	if pl.mirror {
		front = 1
	}
	sm.bin(m.tris, m.mat, front)

	sh := r.shader
	sh.set(s)
	sh.flexion = r.posed.flexion
	sh.m, sh.s, sh.shadows, sh.h, sh.noise = m, sm, &r.shadows, hd.skin(), r.noise
	perMetre := p.f * p.scale * float64(over) // sample pixels to a metre at depth 1
	sh.radius = 0.013 * perMetre
	sh.footprint = or(s.Camera.Distance, 0.42) / (p.f * p.scale)
	size := 512
	sh.reach = 2
	if r.opt.Quality == Draft {
		size, sh.reach = 320, 1
	} else if r.opt.Quality == High {
		size, sh.reach = 900, 3
	}
	centre := pl.at(r.posed.joints[chainBone(hand.Middle, 0)])
	r.shadows.prepareLight(size, sh.keyDir, centre, m.pos)
	r.shadows.bin(m.tris, m.mat, -front)

	nb, ns := len(sm.bands), len(r.shadows.bands)
	each(r.opt.Workers, nb+ns, func(i int) {
		if i < ns {
			r.shadows.fill(i, m.tris)
			return
		}
		sm.fill(i-ns, m.tris)
	})
	r.layer = grow(r.layer, 4*w*h)
	each(r.opt.Workers, nb, func(i int) { r.shadeBand(i*16, min((i+1)*16, h), w, over) })
	t := r.truth(s, &p, &pl)
	r.visibility(&t, over)
	return t
}

// addHand puts the posed hand into the model.
func (r *Renderer) addHand(hd *Hand, s *Scene, pl *place) {
	m := &r.model
	n := len(hd.pos)
	r.normal = grow(r.normal, n)
	normals(r.normal, r.surface, hd.tris)
	r.setMottle(hd.skin(), s)
	pos, nrm, tex, mottle, volar, tris := r.surface, r.normal, hd.skin().pos, r.mottle[:n], hd.volar, hd.tris
	if r.opt.Quality == High {
		f := &r.refined
		f.prepare(hd.skin())
		f.step.apply(f.pos, pos)
		f.step.apply(f.mottle, mottle)
		normals(f.nrm, f.pos, f.step.tris)
		pos, nrm, tex, mottle, volar, tris = f.pos, f.nrm, f.tex, f.mottle, f.volar, f.step.tris
		m.digit = append(m.digit, f.digit...)
	} else {
		for i := range hd.inf {
			m.digit = append(m.digit, hd.inf[i].main)
		}
	}
	for i := range pos {
		m.pos = append(m.pos, pl.at(pos[i]))
		m.nrm = append(m.nrm, pl.m.apply(nrm[i]))
	}
	m.tex, m.mottle = append(m.tex, tex...), append(m.mottle, mottle...)
	m.volar, m.tris = append(m.volar, volar...), append(m.tris, tris...)
	for range tris {
		m.mat = append(m.mat, matSkin)
		m.part = append(m.part, 0)
	}
}

// setMottle works out the uneven colour of the skin, which changes slowly
// enough to be held at the vertices.
func (r *Renderer) setMottle(h *Hand, s *Scene) {
	by := strength(s.Skin.Mottle)
	if r.mottleOf == h && r.mottleSeed == s.Skin.Seed && r.mottleBy == by {
		return
	}
	r.mottleOf, r.mottleSeed, r.mottleBy = h, s.Skin.Seed, by
	r.mottle = grow(r.mottle, len(h.pos))
	for i, p := range h.pos {
		seed := s.Skin.Seed * 8
		light := 0.05 * r.noise.at(p.mul(110), seed+1)
		blood := 0.045 * r.noise.rough(p.mul(75), seed+2)
		r.mottle[i] = vec{light + 0.3*blood, light - blood, light - 0.7*blood}.mul(by)
	}
}

// project fills the screen positions of the vertices.
func (r *Renderer) project(p *projection, over int) {
	sm, pos := &r.samples, r.model.pos
	sm.px, sm.py, sm.pz = grow(sm.px, len(pos)), grow(sm.py, len(pos)), grow(sm.pz, len(pos))
	k := float64(over)
	for i, v := range pos {
		if v.Z < nearest {
			sm.pz[i] = -1
			continue
		}
		x, y := p.at(v)
		sm.px[i], sm.py[i], sm.pz[i] = x*k, y*k, 1/v.Z
	}
}

// shadeBand shades rows y0..y1 of the picture. Pixels inside one smooth
// surface take one sample; edges take all.
func (r *Renderer) shadeBand(y0, y1, w, over int) {
	sm, sh := &r.samples, r.shader
	clear(r.layer[4*w*y0 : 4*w*y1])
	y0, y1 = max(y0, sm.y0/over), min(y1, (sm.y1+over-1)/over)
	left, right := sm.x0/over, min(w, (sm.x1+over-1)/over)
	share := 1 / float32(over*over)
	for y := y0; y < y1; y++ {
		for x := left; x < right; x++ {
			full, some := true, false
			lo, hi := float32(math.MaxFloat32), float32(0)
			for sy := range over {
				row := sm.inv[(y*over+sy)*sm.w+x*over:][:over]
				for _, v := range row {
					if v > 0 {
						some = true
						lo, hi = min(lo, v), max(hi, v)
					} else {
						full = false
					}
				}
			}
			if !some {
				continue
			}
			o := r.layer[4*(y*w+x):][:4]
			if full && r.opt.Quality != High && 1/lo-1/hi < 0.0018 {
				c := sh.at(x*over+over/2, y*over+over/2)
				o[0], o[1], o[2], o[3] = float32(c.X), float32(c.Y), float32(c.Z), 1
				continue
			}
			var c vec
			n := 0
			for sy := range over {
				for sx := range over {
					if sm.inv[(y*over+sy)*sm.w+x*over+sx] > 0 {
						c = c.add(sh.at(x*over+sx, y*over+sy))
						n++
					}
				}
			}
			o[0], o[1], o[2], o[3] = float32(c.X)*share, float32(c.Y)*share, float32(c.Z)*share, float32(n)*share
		}
	}
}

// truth gathers what the skeleton says.
func (r *Renderer) truth(s *Scene, p *projection, pl *place) Truth {
	t := Truth{Side: s.Side, FlexionDeg: s.Pose.Flexion()}
	if t.Side == hand.UnknownSide {
		t.Side = hand.Right
	}
	for i, f := range s.Pose.Fingers {
		t.AbductionDeg[i] = f.Abduction
	}
	pts := r.posed.points()
	var wristZ, scale float64
	for i, q := range pts {
		v := pl.at(q)
		t.World[i] = hand.Point(v)
		if i == 0 {
			wristZ, scale = v.Z, p.f*p.scale/max(v.Z, nearest)
		}
		x, y := p.at(vec{v.X, v.Y, max(v.Z, nearest)})
		t.Image[i] = hand.Point{X: x, Y: y, Z: (v.Z - wristZ) * scale}
	}
	n, f := pl.m.apply(vec{Z: 1}), pl.m.apply(vec{Y: 1})
	radial := pl.m.apply(vec{X: 1})
	toCamera := vec(t.World[hand.Middle.MCP()]).mul(-1).unit()
	t.View = hand.View{
		YawDeg:   math.Atan2(radial.dot(toCamera), n.dot(toCamera)) * 180 / math.Pi,
		PitchDeg: math.Asin(clamp(f.dot(toCamera), -1, 1)) * 180 / math.Pi,
	}
	l := 1 / p.scale
	inCrop := func(v vec) hand.Point {
		return hand.Point{X: (p.a*v.X - p.b*v.Y) * l, Y: (p.b*v.X + p.a*v.Y) * l, Z: v.Z}
	}
	t.Normal, t.Axis = inCrop(n), inCrop(f)
	t.setExtra(&s.Pose)
	return t
}

// visibility asks the depth buffer which landmarks can be seen: the surface
// drawn over a landmark must be skin of its own digit, or near it for points
// in the palm, and no further in front than the finger is thick.
func (r *Renderer) visibility(t *Truth, over int) {
	sm, m := &r.samples, &r.model
	for i := range t.Visible {
		x, y := int(t.Image[i].X*float64(over)), int(t.Image[i].Y*float64(over))
		if t.Image[i].X < 0 || t.Image[i].Y < 0 || x >= sm.w || y >= sm.h {
			continue
		}
		k := y*sm.w + x
		if sm.inv[k] == 0 {
			continue
		}
		ti := sm.tri[k]
		if m.mat[ti] != matSkin {
			continue
		}
		d := hand.Finger((i - 1) / 4)
		root := i <= 1 || i%4 == 1
		limit := 0.021
		if root {
			limit = 0.030
		}
		own := root
		for _, v := range m.tris[ti] {
			own = own || m.digit[v] == int8(d)
		}
		t.Visible[i] = own && t.World[i].Z-1/float64(sm.inv[k]) < limit
	}
}
