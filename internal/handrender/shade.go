package handrender

import (
	"math"

	"volar/internal/hand"
)

// Colours are mixed in linear light; these tables carry them from and to the
// screen's sRGB curve (IEC 61966-2-1).

func linear(c float64) float64 {
	if c <= 0.04045 {
		return c / 12.92
	}
	return math.Pow((c+0.055)/1.055, 2.4)
}

func (c RGB) linear() vec { return vec{linear(c.R), linear(c.G), linear(c.B)} }

// encodeTable maps linear light, 0..1 in steps of 1/(len-1), to 0..255. Steps
// are even in the square root of the light, so that dark tones keep apart.
type encodeTable [2049]float32

func newEncodeTable() *encodeTable {
	t := &encodeTable{}
	for i := range t {
		l := float64(i) / float64(len(t)-1)
		l *= l
		s := 12.92 * l
		if l > 0.0031308 {
			s = 1.055*math.Pow(l, 1/2.4) - 0.055
		}
		t[i] = float32(255 * s)
	}
	return t
}

// at encodes a linear value with a soft shoulder above 0.8.
func (t *encodeTable) at(l float32) float32 {
	if l > 0.8 {
		x := l - 0.8
		l = 0.8 + 0.2*x/(x+0.2)
	}
	if l <= 0 {
		return 0
	}
	f := float32(math.Sqrt(float64(l))) * float32(len(t)-1)
	i := int(f)
	if i >= len(t)-1 {
		return t[len(t)-1]
	}
	return t[i] + (t[i+1]-t[i])*(f-float32(i))
}

// tones are skin colours of the back of the hand from very light to very dark
// (screen colours, chosen by eye) and tonePalms the matching palms.
var (
	tones = [...]RGB{
		{.95, .80, .73}, {.91, .73, .63}, {.86, .65, .53}, {.78, .56, .43},
		{.66, .45, .33}, {.50, .33, .24}, {.36, .235, .175}, {.25, .165, .13},
	}
	tonePalms = [...]RGB{
		{.96, .79, .73}, {.93, .73, .65}, {.90, .68, .58}, {.85, .63, .52},
		{.78, .57, .47}, {.69, .49, .40}, {.60, .42, .345}, {.52, .36, .30},
	}
)

func tone(table []RGB, t float64) vec {
	x := clamp(t, 0, 1) * float64(len(table)-1)
	i := min(int(x), len(table)-2)
	return mix(table[i].linear(), table[i+1].linear(), x-float64(i))
}

// look is everything about a scene's colours that is worked out once.
type look struct {
	key, fill, ambient    vec // radiance times strength, linear
	keyDir, fillDir       vec // towards the light, camera axes
	shadow, occlusion     float64
	back, palm, nail      vec
	redness, mottle       float64
	creases, nails, gloss float64
	grain, veins, spots   float64
	painted               bool
	seed                  uint32
	cloth, object         [4]fabric
	flexion               [5][3]float64
	footprint             float64 // metres to a pixel at the hand
}

// fabric is the colour and pattern of cloth and objects.
type fabric struct {
	colour, second vec
	pattern        Pattern
	scale          float64
	gloss          float64
	seed           uint32
}

// lightFrom turns azimuth and elevation to a direction in camera axes.
func lightFrom(az, el float64) vec {
	sa, ca := math.Sincos(az * math.Pi / 180)
	se, ce := math.Sincos(el * math.Pi / 180)
	return vec{sa * ce, -se, -ca * ce}
}

func (c RGB) tint() vec {
	if c == (RGB{}) {
		return vec{1, 1, 1}
	}
	return c.linear()
}

func (l *look) set(s *Scene) {
	li := &s.Light
	az, el := li.Azimuth, li.Elevation
	if az == 0 && el == 0 {
		az, el = -35, 45
	}
	l.keyDir = lightFrom(az, el)
	az, el = li.FillAzimuth, li.FillElevation
	if az == 0 && el == 0 {
		az, el = 60, 5
	}
	l.fillDir = lightFrom(az, el)
	l.key = li.KeyColour.tint().mul(0.78 * strength(li.Key))
	l.fill = li.FillColour.tint().mul(0.20 * strength(li.Fill))
	l.ambient = li.AmbientColour.tint().mul(0.38 * strength(li.Ambient))
	l.shadow, l.occlusion = min(strength(li.Shadow), 1), min(strength(li.Occlusion), 1.3)
	k := &s.Skin
	tint := vec{or(k.Tint.R, 1), or(k.Tint.G, 1), or(k.Tint.B, 1)}
	by := func(a vec) vec { return vec{a.X * tint.X, a.Y * tint.Y, a.Z * tint.Z} }
	l.back = by(tone(tones[:], k.Tone))
	l.palm = mix(l.back, by(tone(tonePalms[:], k.Tone)), strength(k.Palm))
	l.redness, l.mottle, l.creases = strength(k.Redness), strength(k.Mottle), strength(k.Creases)
	l.nails, l.gloss, l.grain, l.veins = strength(k.Nails), strength(k.Gloss), strength(k.Grain), strength(k.Veins)
	l.spots, l.seed = max(k.Spots, 0), k.Seed
	l.painted = k.NailColour != (RGB{})
	l.nail = k.NailColour.linear()
}

// shader shades samples of one model.
type shader struct {
	look
	m       *model
	s       *samples
	shadows *shadowMap
	h       *Hand // texture space
	noise   *lattice
	reach   int
	radius  float64 // of the occlusion search, sample pixels times inverse depth
	disc    [10][2]float64
}

func newShader() *shader {
	sh := &shader{}
	for i := range sh.disc {
		s, c := math.Sincos(float64(i) * 2.39996) // golden angle: even over a disc
		r := math.Sqrt((float64(i) + 0.5) / float64(len(sh.disc)))
		sh.disc[i] = [2]float64{c * r, s * r}
	}
	return sh
}

func lerp3(a []vec, t [3]int32, u, v, w float64) vec {
	p, q, r := &a[t[0]], &a[t[1]], &a[t[2]]
	return vec{p.X*u + q.X*v + r.X*w, p.Y*u + q.Y*v + r.Y*w, p.Z*u + q.Z*v + r.Z*w}
}

// at returns the linear colour of one sample.
func (sh *shader) at(x, y int) vec {
	ti := sh.s.tri[y*sh.s.w+x]
	t := sh.m.tris[ti]
	u, v, w := sh.s.weights(t, x, y)
	p := lerp3(sh.m.pos, t, u, v, w)
	n := lerp3(sh.m.nrm, t, u, v, w).unit()
	tex := lerp3(sh.m.tex, t, u, v, w)
	eye := p.mul(-1).unit()
	mat := sh.m.mat[ti]
	facing := n.dot(eye)
	if facing < 0 && (mat != matSkin || facing < -0.3) {
		n, facing = n.mul(-1), -facing
	}
	var albedo vec
	var gloss, power, wrap float64
	switch mat {
	case matSkin:
		i := t[0]
		if v > u && v > w {
			i = t[1]
		} else if w > u {
			i = t[2]
		}
		volar := float64(sh.m.volar[t[0]])*u + float64(sh.m.volar[t[1]])*v + float64(sh.m.volar[t[2]])*w
		var shine float64
		albedo, shine = sh.skinAt(tex, volar, sh.m.digit[i], lerp3(sh.m.mottle, t, u, v, w))
		wrap, power = 0.22, 22
		gloss = 0.055 * sh.gloss
		if shine > 0 {
			gloss, power = gloss+0.10*shine, 60
		} else if g := sh.grain * clamp(1.6-sh.footprint/0.0004, 0, 1); g > 0 {
			q := tex.mul(850)
			n = n.addMul(vec{sh.noise.at(q, 5), sh.noise.at(q, 6), sh.noise.at(q, 7)}, 0.07*g).unit()
		}
	default:
		f := &sh.cloth[sh.m.part[ti]]
		if mat != matCloth {
			f = &sh.object[sh.m.part[ti]]
		}
		albedo = f.at(sh.noise, tex)
		gloss, power = f.gloss, 40
		if mat == matMetal {
			power = 90
		}
	}
	occ := 1 - sh.occlusion*sh.occluded(x, y)
	nl := n.dot(sh.keyDir)
	lit := 1.0
	if nl > -wrap {
		lit = 1 - sh.shadow*(1-sh.shadows.lit(p.addMul(n, 0.0012), sh.reach))
	}
	key := max(0, (nl+wrap)/(1+wrap)) * lit * (0.5 + 0.5*occ)
	fill := max(0, (n.dot(sh.fillDir)+0.3)/1.3) * occ
	// Light from above is stronger than from below, and some comes from the
	// screen and room in front.
	amb := (0.72 - 0.28*n.Y + 0.18*facing) * occ
	half := sh.keyDir.add(eye).unit()
	spec := pow(max(0, n.dot(half)), power) * gloss * lit * occ
	// Skin mirrors more at grazing angles.
	spec += gloss * 0.35 * (1 - facing) * (1 - facing) * amb
	kr, kg, kb := key, key, key
	if mat == matSkin {
		// Red light travels furthest inside the skin: the edge of the shade
		// is warmer.
		e := key * (1 - key)
		kr, kb = key+0.10*e, key-0.06*e
	}
	return vec{
		albedo.X*(sh.key.X*kr+sh.fill.X*fill+sh.ambient.X*amb) + spec*sh.key.X,
		albedo.Y*(sh.key.Y*kg+sh.fill.Y*fill+sh.ambient.Y*amb) + spec*sh.key.Y,
		albedo.Z*(sh.key.Z*kb+sh.fill.Z*fill+sh.ambient.Z*amb) + spec*sh.key.Z,
	}
}

// pow raises x to a whole power by squaring; the same on every processor.
func pow(x, n float64) float64 {
	r := 1.0
	for k := int(n); k > 0; k >>= 1 {
		if k&1 == 1 {
			r *= x
		}
		x *= x
	}
	return r
}

// occluded is how closed in a sample is by nearer surfaces around it, 0 to 1.
func (sh *shader) occluded(x, y int) float64 {
	s := sh.s
	iz := float64(s.inv[y*s.w+x])
	z := 1 / iz
	r := sh.radius * iz
	sum := 0.0
	for _, o := range sh.disc {
		xx, yy := x+int(o[0]*r), y+int(o[1]*r)
		if xx < s.x0 || yy < s.y0 || xx >= s.x1 || yy >= s.y1 {
			continue
		}
		q := float64(s.inv[yy*s.w+xx])
		if q <= iz {
			continue
		}
		if d := z - 1/q; d > 0.002 && d < 0.03 {
			sum += min(1, d/0.010) * (1 - d/0.03)
		}
	}
	return 0.72 * min(1, sum/5.5)
}

// skinAt is the colour of skin at a point of the texture: rest space of the
// unshaped hand. shine is above 0 on a nail.
func (sh *shader) skinAt(p vec, volar float64, digit int8, mottle vec) (c vec, shine float64) {
	c = mix(sh.back, sh.palm, volar)
	c = vec{c.X * (1 + mottle.X), c.Y * (1 + mottle.Y), c.Z * (1 + mottle.Z)}
	d := hand.Finger(digit)
	if digit < 0 {
		return sh.palmAt(c, p, volar), 0
	}
	if a, _, _ := sh.h.local(d, 1, p); d == hand.Thumb && a < -sh.h.digits[d].radius[1] {
		return sh.palmAt(c, p, volar), 0
	}
	h := sh.h
	g := &h.digits[d]
	for k := 0; k < 3; k++ {
		a, up, side := h.local(d, k, p)
		r := g.radius[k]
		if k > 0 && math.Abs(a) < 2*r {
			c = sh.knuckle(c, a, up, r, volar, sh.flexion[d][k], p)
		}
		if k == 2 && a > 0 {
			c, shine = sh.fingertip(c, g, a, up, side, volar)
		}
		if k == 0 && d != hand.Thumb && volar > 0.2 {
			// Crease where the finger leaves the palm.
			c = c.mul(1 - 0.22*sh.creases*sh.line(a-2.05*r+0.0006*sh.noise.at(p.mul(300), sh.seed+23), 0.0006)*volar)
		}
	}
	return c, shine
}

// line is the darkness of a line of the given half width at distance x from
// it, widened to a pixel so that it does not flicker.
func (sh *shader) line(x, w float64) float64 {
	wide := math.Sqrt(w*w + sh.footprint*sh.footprint*0.5)
	return bump(x/(2*wide)) * w / wide
}

// knuckle draws the creases at a joint: on the volar side, lines that deepen
// with flexion; on the back, wrinkles that flexion pulls flat.
func (sh *shader) knuckle(c vec, a, up, r, volar, flexion float64, p vec) vec {
	wob := 0.0006 * sh.noise.at(p.mul(260), sh.seed+21)
	a += wob
	if volar > 0.3 {
		k := sh.line(a, 0.0006) + 0.6*sh.line(a-0.28*r, 0.0005)
		k *= 0.26 * sh.creases * smoothstep(0.3, 0.8, volar)
		return vec{c.X * (1 - 0.8*k), c.Y * (1 - k), c.Z * (1 - k)}
	}
	slack := 1 - 0.8*smoothstep(15, 70, flexion)
	k := 0.0
	for j := -2.0; j <= 2; j++ {
		k += sh.line(a-0.22*r*j, 0.00045) * (1 - 0.25*math.Abs(j))
	}
	k *= 0.20 * sh.creases * slack * smoothstep(0.1, 0.6, up/r)
	c = vec{c.X * (1 - 0.8*k), c.Y * (1 - k), c.Z * (1 - k)}
	t := sh.redness * bump(a/(1.5*r)) * smoothstep(0.2, 0.8, up/r)
	return vec{c.X * (1 + 0.01*t), c.Y * (1 - 0.09*t), c.Z * (1 - 0.07*t)}
}

// fingertip reddens the tip and lays the nail on it.
func (sh *shader) fingertip(c vec, g *digitShape, a, up, side, volar float64) (vec, float64) {
	t := sh.redness * smoothstep(g.end-0.016, g.end, a)
	c = vec{c.X * (1 + 0.03*t), c.Y * (1 - 0.10*t), c.Z * (1 - 0.07*t)}
	if up < 0.15*g.height || sh.nails == 0 {
		return c, 0
	}
	long, wide := 0.62*g.width+0.0012, 0.68*g.width
	x, y := side/wide, (a-(g.end-long-0.0012))/long
	// A rounded square: straight sides, curved root and free edge.
	q := x*x*x*x + y*y*y*y
	if q > 1.6 {
		return c, 0
	}
	edge := 0.10 + 0.5*sh.footprint/wide
	in := 1 - smoothstep(1-edge, 1+edge, q)
	fold := bump((q - 1.12) / 0.45)
	c = c.mul(1 - 0.20*sh.nails*fold)
	if sh.painted {
		return mix(c, sh.nail, in), 2.2 * in
	}
	plate := vec{c.X*1.12 + 0.03, c.Y*1.02 + 0.03, c.Z*1.04 + 0.03}
	lunula := smoothstep(0.60, 0.85, x*x*0.8+(y+1.45)*(y+1.45))
	plate = mix(plate.mul(1.12).add(vec{.03, .04, .04}), plate, lunula)
	if free := smoothstep(0.84, 0.90, y+0.06*x*x); free > 0 {
		plate = mix(plate, vec{.62, .55, .47}, 0.6*free)
	}
	return mix(c, plate, min(1, 0.85*sh.nails)*in), in * min(sh.nails, 1)
}

// palmAt draws the creases of the palm and wrist, the veins of the back and
// spots.
func (sh *shader) palmAt(c, p vec, volar float64) vec {
	if p.Y < -0.06 {
		return c
	}
	if volar > 0.25 && sh.creases > 0 {
		k := sh.palmLines(p) * smoothstep(0.25, 0.7, volar)
		c = vec{c.X * (1 - 0.15*k), c.Y * (1 - 0.24*k), c.Z * (1 - 0.22*k)}
	}
	if volar < 0.5 && sh.veins > 0 && p.Y < sh.h.joints[chainBone(hand.Middle, 0)].Y*0.9 {
		// A vein is where slow noise crosses zero, running mostly lengthwise.
		q := vec{p.X * 62, p.Y * 22, p.Z * 30}
		x := sh.noise.at(q, sh.seed+31) + 0.25*sh.noise.at(q.mul(2.3), sh.seed+32)
		k := bump(x/0.20) * smoothstep(0.5, 0.15, volar) * smoothstep(-0.06, -0.02, p.Y)
		k *= 0.10 * sh.veins * (0.5 + 0.5*sh.noise.at(p.mul(45), sh.seed+33))
		c = vec{c.X * (1 - 1.3*k), c.Y * (1 - 0.6*k), c.Z * (1 - 0.25*k)}
	}
	if sh.spots > 0 && volar < 0.5 {
		x := sh.noise.at(p.mul(330), sh.seed+41) + 0.25*sh.noise.at(p.mul(900), sh.seed+42)
		k := 0.35 * sh.spots * smoothstep(0.66, 0.86, x) * (1 - 2*volar)
		c = vec{c.X * (1 - 0.8*k), c.Y * (1 - k), c.Z * (1 - 1.1*k)}
	}
	return c
}

// palmLines is the darkness of the main creases. Their courses are given as
// shares of the palm's width and length, so that they fit every mesh.
func (sh *shader) palmLines(p vec) float64 {
	j := &sh.h.joints
	index, little := j[chainBone(hand.Index, 0)], j[chainBone(hand.Little, 0)]
	x := (p.X - little.X) / (index.X - little.X) // 0 ulnar to 1 radial
	y := p.Y / j[chainBone(hand.Middle, 0)].Y    // 0 wrist to 1 knuckles
	wide := (index.X - little.X) * 0.9
	long := j[chainBone(hand.Middle, 0)].Y
	wob := 0.012 * sh.noise.at(p.mul(140), sh.seed+51)
	k := 0.0
	// Distal crease: from the ulnar side, rising between index and middle.
	if d := y - (0.80 + 0.20*x*x + wob); x < 0.85 {
		k += sh.line(d*long, 0.0008) * smoothstep(-0.35, 0.0, x) * smoothstep(0.85, 0.70, x)
	}
	// Proximal crease: from the radial side, falling ulnarwards.
	if d := y - (0.56 + 0.24*x + wob); x > 0.05 {
		k += sh.line(d*long, 0.0008) * smoothstep(0.05, 0.3, x)
	}
	// The crease around the ball of the thumb: an arc about its root.
	dx, dy := x-1.22, (y-0.22)*1.15
	r := math.Sqrt(dx*dx + dy*dy)
	if r < 1 && y > 0 && dx < 0 {
		k += 1.1 * sh.line((r-(0.66+wob))*wide, 0.0009) * smoothstep(0.0, 0.12, y)
	}
	// Two lines at the wrist.
	k += 0.9*sh.line(p.Y+0.002+0.02*wob, 0.0007) + 0.6*sh.line(p.Y+0.009+0.02*wob, 0.0006)
	// Fine lines all over.
	f := sh.noise.at(vec{p.X * 160, p.Y * 420, p.Z * 160}, sh.seed+52)
	k += 0.14 * bump(f/0.25) * clamp(1.5-sh.footprint/0.0006, 0, 1)
	return min(k, 1.1) * sh.creases
}
