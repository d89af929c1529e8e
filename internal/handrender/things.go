package handrender

import (
	"math"
	"sort"

	"volar/internal/hand"
)

// Looks of cloth and objects by number.
const (
	partSleeve = 0
	partSplint = 1
	partTape   = 2
	partObject = 0
	partRing   = 1
	partSpiral = 2 // the ends of a roll
)

// addThings puts sleeve, object and what is worn into the model.
func (r *Renderer) addThings(hd *Hand, s *Scene, pl *place) {
	sh := r.shader
	if s.Sleeve.On {
		sh.cloth[partSleeve] = fabricOf(s.Sleeve.Fabric, RGB{.16, .22, .36}, 0.02)
		r.addSleeve(hd, &s.Sleeve, pl)
	}
	if s.Worn.Splint {
		sh.cloth[partSplint] = fabricOf(s.Worn.SplintFabric, RGB{.12, .13, .15}, 0.03)
		r.addSplint(hd, pl)
	}
	sh.cloth[partTape] = fabricOf(Fabric{Colour: s.Worn.TapeColour, Pattern: Weave}, RGB{.90, .87, .80}, 0.02)
	sh.object[partRing] = fabricOf(Fabric{Colour: s.Worn.RingColour}, RGB{.86, .68, .32}, 0.9)
	for d := range s.Worn.Rings {
		if s.Worn.Rings[d] {
			r.addRing(hd, hand.Finger(d), pl)
		}
		if s.Worn.Tape[d] {
			r.addTape(hd, hand.Finger(d), pl)
		}
	}
	if s.Object.Kind == NoObject {
		return
	}
	o := hd.solid(s.Object, &r.posed)
	switch o.Kind {
	case Ball:
		sh.object[partObject] = fabricOf(o.Fabric, RGB{.85, .72, .18}, 0.10)
		r.addBall(&o, pl, 0)
	case Lump:
		sh.object[partObject] = fabricOf(o.Fabric, RGB{.75, .80, .86}, 0.02)
		r.addBall(&o, pl, 0.22)
	case Roll:
		sh.object[partSpiral] = fabricOf(o.Fabric, RGB{.62, .74, .80}, 0.01)
		sh.object[partSpiral].pattern = spiral
		sh.object[partObject] = fabricOf(o.Fabric, RGB{.62, .74, .80}, 0.01)
		if o.Shared {
			r.addSharedRoll(hd, &o, pl)
		} else {
			r.addRoll(&o, pl)
		}
	case Sheet:
		sh.object[partObject] = fabricOf(o.Fabric, RGB{.95, .95, .93}, 0.03)
		r.addSheet(&o, pl, 0.010)
	case Cloth:
		sh.object[partObject] = fabricOf(o.Fabric, RGB{.70, .78, .82}, 0.01)
		r.addSheet(&o, pl, 0)
	case Band:
		sh.object[partObject] = fabricOf(o.Fabric, RGB{.82, .22, .18}, 0.12)
		r.addBand(hd, &o, pl)
	}
}

func fabricOf(f Fabric, usual RGB, gloss float64) fabric {
	c := f.Colour.or(usual).linear()
	second := f.Second.linear()
	if f.Second == (RGB{}) {
		second = mix(c, vec{.9, .9, .9}, 0.55)
	}
	return fabric{colour: c, second: second, pattern: f.Pattern, scale: or(f.Scale, 0.012), gloss: gloss, seed: f.Seed}
}

// at is the colour of a fabric at a place of its own texture, metres.
func (f *fabric) at(l *lattice, p vec) vec {
	c := f.colour
	q := p.mul(1 / f.scale)
	switch f.pattern {
	case Stripes:
		if x := q.Y + 0.1*l.at(p.mul(40), f.seed); x-math.Floor(x) < 0.5 {
			c = f.second
		}
	case Dots:
		x, y, z := q.X-math.Floor(q.X)-.5, q.Y-math.Floor(q.Y)-.5, q.Z-math.Floor(q.Z)-.5
		if x*x+y*y+z*z < 0.10 {
			c = f.second
		}
	case Weave:
		return c.mul(1 + 0.10*l.at(p.mul(900), f.seed) + 0.08*l.at(p.mul(60), f.seed+1))
	case spiral:
		// Layers 4 mm thick, wound once round to a layer.
		x := math.Sqrt(p.X*p.X+p.Y*p.Y)/0.004 + math.Atan2(p.Y, p.X)/(2*math.Pi)
		x -= math.Floor(x)
		return c.mul(0.50 + 0.5*smoothstep(0, 0.3, min(x, 1-x)) + 0.06*l.at(p.mul(700), f.seed))
	case Terry:
		return c.mul(0.94 + 0.22*l.at(p.mul(620), f.seed) + 0.08*l.at(p.mul(60), f.seed+1))
	}
	return c.mul(1 + 0.07*l.at(p.mul(70), f.seed))
}

// vertex adds a vertex in hand axes.
func (r *Renderer) vertex(pl *place, p, n, tex vec) int32 {
	m := &r.model
	m.pos, m.nrm = append(m.pos, pl.at(p)), append(m.nrm, pl.m.apply(n))
	m.tex, m.volar = append(m.tex, tex), append(m.volar, 0)
	m.digit, m.mottle = append(m.digit, -2), append(m.mottle, vec{})
	return int32(len(m.pos) - 1)
}

func (r *Renderer) triangle(a, b, c int32, mat material, part uint8) {
	m := &r.model
	m.tris, m.mat, m.part = append(m.tris, [3]int32{a, b, c}), append(m.mat, mat), append(m.part, part)
}

// cover is how a garment lies over one vertex of the skin: in is above 0 inside
// the garment, negative outside and in the same unit all over, so that its edge
// can be cut where it is 0; lift is the distance off the skin, metres.
type cover struct{ in, lift float64 }

// shell adds a copy of the part of the posed skin that a garment covers.
func (r *Renderer) shell(hd *Hand, pl *place, part uint8, over func(i int) cover) {
	n := len(hd.pos)
	r.shellOf, r.covers = grow(r.shellOf, n), grow(r.covers, n)
	rest := hd.skin().pos
	for i := range n {
		r.covers[i], r.shellOf[i] = over(i), -1
	}
	whole := func(i int32) int32 {
		if r.shellOf[i] < 0 {
			nrm := r.normal[i]
			r.shellOf[i] = r.vertex(pl, r.surface[i].addMul(nrm, r.covers[i].lift), nrm, rest[i])
		}
		return r.shellOf[i]
	}
	cut := func(i, j int32) int32 {
		a, b := r.covers[i], r.covers[j]
		t := a.in / (a.in - b.in)
		nrm := mix(r.normal[i], r.normal[j], t).unit()
		p := mix(r.surface[i], r.surface[j], t).addMul(nrm, a.lift+(b.lift-a.lift)*t)
		return r.vertex(pl, p, nrm, mix(rest[i], rest[j], t))
	}
	for _, t := range hd.tris {
		var corner [4]int32
		k := 0
		for c := range 3 {
			i, j := t[c], t[(c+1)%3]
			in, next := r.covers[i].in > 0, r.covers[j].in > 0
			if in {
				corner[k] = whole(i)
				k++
			}
			if in != next {
				corner[k] = cut(i, j)
				k++
			}
		}
		if k >= 3 {
			r.triangle(corner[0], corner[1], corner[2], matCloth, part)
		}
		if k == 4 {
			r.triangle(corner[0], corner[2], corner[3], matCloth, part)
		}
	}
}

func (r *Renderer) addSleeve(hd *Hand, s *Sleeve, pl *place) {
	rest := hd.skin().pos
	start, loose := -or(s.Start, 0.015), or(s.Loose, 0.006)
	r.shell(hd, pl, partSleeve, func(i int) cover {
		p := rest[i]
		in := start - p.Y
		fold := 0.5 + 0.5*r.noise.at(vec{p.X * 30, p.Y * 55, p.Z * 30}, s.Fabric.Seed+3)
		return cover{in, 0.0012 + loose*(0.5+0.5*smoothstep(0, 0.012, in))*(0.55+0.9*fold)}
	})
}

func (r *Renderer) addSplint(hd *Hand, pl *place) {
	sk := hd.skin()
	top := 0.72 * sk.joints[chainBone(hand.Middle, 0)].Y
	r.shell(hd, pl, partSplint, func(i int) cover {
		p := sk.pos[i]
		in := min(top-p.Y, p.Y+0.11, 0.05*(0.30-float64(hd.inf[i].share[hand.Thumb])))
		return cover{in, 0.0010 + 0.0020*smoothstep(0, 0.004, in)}
	})
}

func (r *Renderer) addTape(hd *Hand, d hand.Finger, pl *place) {
	r.shell(hd, pl, partTape, func(i int) cover {
		f := &hd.inf[i]
		if f.main != int8(d) {
			return cover{in: -1}
		}
		return cover{min(float64(f.along)-1.15, 1.82-float64(f.along)), 0.0007}
	})
}

// addRing lays a torus around the middle of a digit's proximal phalanx.
func (r *Renderer) addRing(hd *Hand, d hand.Finger, pl *place) {
	k := 0
	if d == hand.Thumb {
		k = 1
	}
	st := &hd.sites[d][k]
	l := hd.joints[chainBone(d, k+1)].sub(st.at).norm()
	at := 0.62 * l
	dir := hd.chainDir(d, k)
	dors := hd.dorsal[chainBone(d, k)].orth(dir)
	lat := dors.cross(dir)
	lo, hi := [2]float64{1, 1}, [2]float64{-1, -1}
	for i, p := range hd.pos {
		if hd.inf[i].main != int8(d) {
			continue
		}
		q := p.sub(st.at)
		if math.Abs(q.dot(dir)-at) > 0.004 {
			continue
		}
		u, w := q.dot(dors), q.dot(lat)
		lo[0], hi[0], lo[1], hi[1] = min(lo[0], u), max(hi[0], u), min(lo[1], w), max(hi[1], w)
	}
	if lo[0] > hi[0] {
		return
	}
	g := &r.posed.bone[chainBone(d, k)]
	org := r.posed.joints[chainBone(d, k)]
	const around, across = 28, 8
	var grid [around][across]int32
	for i := range around {
		s, c := math.Sincos(2 * math.Pi * float64(i) / around)
		out := vec{0, c, s}
		for j := range across {
			s2, c2 := math.Sincos(2 * math.Pi * float64(j) / across)
			u := (lo[0]+hi[0])/2 + c*((hi[0]-lo[0])/2+0.0007*(c2+.6))
			w := (lo[1]+hi[1])/2 + s*((hi[1]-lo[1])/2+0.0007*(c2+.6))
			p := dir.mul(at+0.0017*s2).addMul(dors, u).addMul(lat, w)
			n := dir.mul(s2).addMul(dors, out.Y*c2).addMul(lat, out.Z*c2)
			grid[i][j] = r.vertex(pl, org.add(g.apply(p)), g.apply(n), p)
		}
	}
	for i := range around {
		for j := range across {
			a, b := grid[i][j], grid[i][(j+1)%across]
			c, e := grid[(i+1)%around][j], grid[(i+1)%around][(j+1)%across]
			r.triangle(a, c, b, matMetal, partRing)
			r.triangle(b, c, e, matMetal, partRing)
		}
	}
}

// addBall adds a sphere, crumpled by the given share of its radius.
func (r *Renderer) addBall(o *solid, pl *place, crumple float64) {
	const around, down = 40, 20
	start := int32(len(r.model.pos))
	at := func(n vec) vec {
		k := 1.0
		if crumple > 0 {
			// Folds: sharp ridges where the noise changes sign.
			f := math.Abs(r.noise.at(n.mul(2.6), o.Fabric.Seed)) + 0.5*math.Abs(r.noise.at(n.mul(5.1), o.Fabric.Seed+1))
			k = 1 + crumple*(0.6-f)
		}
		return n.mul(k * o.Radius)
	}
	for i := 0; i <= down; i++ {
		s, c := math.Sincos(math.Pi * float64(i) / down)
		for j := range around {
			s2, c2 := math.Sincos(2 * math.Pi * float64(j) / around)
			n := vec{s * c2, c, s * s2}
			p := at(n)
			if crumple > 0 {
				e := n.cross(vec{.36, .48, .8}).unit()
				f := n.cross(e)
				const d = 0.08
				n = at(n.addMul(e, d).unit()).sub(p).cross(at(n.addMul(f, d).unit()).sub(p)).unit()
				if n.dot(p) < 0 {
					n = n.mul(-1)
				}
			}
			r.vertex(pl, o.centre.add(p), n, p)
		}
	}
	r.stitch(start, down, around, partObject)
}

// stitch joins rows of a closed grid that starts at vertex start.
func (r *Renderer) stitch(start int32, rows, around int, part uint8) {
	n := int32(around)
	for i := range int32(rows) {
		for j := range n {
			a, b := start+i*n+j, start+i*n+(j+1)%n
			r.triangle(a, a+n, b, matObject, part)
			r.triangle(b, a+n, b+n, matObject, part)
		}
	}
}

// addRoll adds a rolled towel: a soft cylinder whose ends show the spiral.
func (r *Renderer) addRoll(o *solid, pl *place) {
	const around, along = 36, 14
	e1 := vec{0.3, 0.2, 1}.orth(o.axis)
	e2 := o.axis.cross(e1)
	// at places a point of the surface: t from -1 to 1 along the roll, in from
	// 0 in the middle of an end to 1 at the side.
	at := func(j int, t, in float64) (p, radial vec) {
		turn := 2 * math.Pi * float64(j) / around
		s, c := math.Sincos(turn)
		radial = e1.mul(c).addMul(e2, s)
		// The last layer ends in a step along the roll, and the towel gives a
		// little.
		rad := o.Radius * (1 - 0.06*turn/(2*math.Pi) + 0.02*r.noise.at(radial.mul(2).addMul(o.axis, t*3), o.Fabric.Seed+5))
		return o.axis.mul(t*(o.Length/2+0.002*(1-in))).addMul(radial, rad*in), radial
	}
	start := int32(len(r.model.pos))
	for i := range along + 1 {
		t := float64(i)/along*2 - 1
		for j := range around {
			p, n := at(j, t, 1)
			r.vertex(pl, o.centre.add(p), n, p)
		}
	}
	r.stitch(start, along, around, partObject)
	for _, t := range [2]float64{-1, 1} {
		start := int32(len(r.model.pos))
		for _, in := range [4]float64{1, 0.9, 0.5, 0} {
			for j := range around {
				p, n := at(j, t, in)
				out := mix(o.axis.mul(t), n, max(0, in-0.7)).unit()
				r.vertex(pl, o.centre.add(p), out, vec{p.dot(e1), p.dot(e2), 0})
			}
		}
		r.stitch(start, 3, around, partSpiral)
	}
}

// addSheet adds a sheet that bends up by so many metres at 9 cm from its middle.
func (r *Renderer) addSheet(o *solid, pl *place, bend float64) {
	const n = 8
	x := vec{1, 0, 0.01}.orth(o.axis)
	y := o.axis.cross(x)
	start := int32(len(r.model.pos))
	for i := 0; i <= n; i++ {
		for j := 0; j <= n; j++ {
			u, v := (float64(i)/n*2-1)*o.Radius, (float64(j)/n*2-1)*o.Length/2
			w := u / 0.09
			p := x.mul(u).addMul(y, v).addMul(o.axis, bend*w*w)
			r.vertex(pl, o.centre.add(p), o.axis, vec{u, v, 0})
		}
	}
	for i := range int32(n) {
		for j := range int32(n) {
			a := start + i*(n+1) + j
			r.triangle(a, a+n+1, a+1, matObject, partObject)
			r.triangle(a+1, a+n+1, a+n+2, matObject, partObject)
		}
	}
}

// addBand lays a flat loop around the five digits: the convex outline of their
// cross-sections, seen along the fingers.
func (r *Renderer) addBand(hd *Hand, o *solid, pl *place) {
	var along vec
	for _, f := range hand.Fingers {
		along = along.add(r.posed.joints[chainBone(f, 2)].sub(r.posed.joints[chainBone(f, 1)]))
	}
	along = along.unit()
	e1 := vec{1, 0, 0}.orth(along)
	e2 := along.cross(e1)
	type dot struct {
		x, y float64
		p    vec
	}
	var dots []dot
	for d := hand.Thumb; d <= hand.Little; d++ {
		c := mix(r.posed.joints[chainBone(d, 1)], r.posed.joints[chainBone(d, 2)], 0.55)
		rad := (hd.digits[d].radius[1] + hd.digits[d].radius[2]) / 2 * 1.04
		for i := range 16 {
			s, k := math.Sincos(2 * math.Pi * float64(i) / 16)
			p := c.addMul(e1, k*rad).addMul(e2, s*rad)
			dots = append(dots, dot{p.dot(e1), p.dot(e2), p})
		}
	}
	// Andrew's monotone chain.
	sort.Slice(dots, func(i, j int) bool {
		if dots[i].x != dots[j].x {
			return dots[i].x < dots[j].x
		}
		return dots[i].y < dots[j].y
	})
	var hull []dot
	half := func(from, to, step, floor int) {
		for i := from; i != to; i += step {
			for len(hull) >= floor+2 {
				a, b, c := hull[len(hull)-2], hull[len(hull)-1], dots[i]
				if (b.x-a.x)*(c.y-a.y)-(b.y-a.y)*(c.x-a.x) > 0 {
					break
				}
				hull = hull[:len(hull)-1]
			}
			hull = append(hull, dots[i])
		}
		hull = hull[:len(hull)-1]
	}
	half(0, len(dots), 1, 0)
	half(len(dots)-1, -1, -1, len(hull))
	n := len(hull)
	start := int32(len(r.model.pos))
	for i := range n {
		t := hull[(i+1)%n].p.sub(hull[(i+n-1)%n].p)
		out := t.cross(along).unit()
		for _, c := range [4][2]float64{{0, -1}, {0.0016, -1}, {0.0016, 1}, {0, 1}} {
			p := hull[i].p.addMul(out, c[0]).addMul(along, c[1]*o.Radius)
			nrm := out
			if c[0] == 0 {
				nrm = out.mul(-1)
			}
			r.vertex(pl, p, nrm, hull[i].p)
		}
	}
	for i := range int32(n) {
		a, b := start+4*i, start+4*((i+1)%int32(n))
		for k := range int32(4) {
			l := (k + 1) % 4
			r.triangle(a+k, b+k, a+l, matObject, partObject)
			r.triangle(a+l, b+k, b+l, matObject, partObject)
		}
	}
}
