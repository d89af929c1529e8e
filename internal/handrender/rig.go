package handrender

import (
	_ "embed"
	"fmt"
	"math"

	"volar/internal/hand"
)

//go:embed assets/right.glb
var defaultGLB []byte

// Hand is a rigged hand in its rest pose. It does not change after Load and
// may be used by several renderers at once.
//
// Hand axes: origin at the wrist joint, X radial, Y towards the middle MCP
// joint, Z out of the palm, metres. Every hand is held as a right hand; a left
// hand is its mirror image, made where it meets the camera.
type Hand struct {
	joints [numBones]vec // rest positions
	dorsal [numBones]vec // direction out of the back of each bone, unit

	// The surface that is posed: the file's mesh with the forearm added and
	// one step of subdivision.
	pos  []vec
	tris [][3]int32
	inf  []influence
	nrm  []vec
	// Local thickness: half the depth and half the width of each digit at its
	// three joints and at the tip, metres.
	digits [5]digitShape
	sites  [5][4]site
	// texture is the unshaped hand where Shape was applied, else nil.
	texture *Hand
	// volar says for each vertex how palmar its skin is, 0 back to 1 palm.
	volar []float32
}

// digitShape is what the texture and the joints need to know of a digit.
type digitShape struct {
	radius [4]float64 // mean radius at MCP/CMC-distal chain joints and near the tip
	end    float64    // distance from the last joint to the end of the finger
	width  float64    // half width at the nail
	height float64    // height of the nail's surface above the bone line
	flesh  [3]float64 // depth of the volar side of each moving bone below its line
}

// site is the place of a joint with the directions around it: along the digit,
// out of its back, and to the side.
type site struct{ at, dir, back, side vec }

// Bones: the wrist, then four joints of the thumb and five of each finger.
const (
	boneWrist = 0
	numBones  = 25
)

// bone returns the number of joint k of a digit: for the thumb 0 metacarpal
// base, 1 MP, 2 IP, 3 tip; for a finger 0 metacarpal base, 1 MCP, 2 PIP,
// 3 DIP, 4 tip.
func bone(f hand.Finger, k int) int {
	if f == hand.Thumb {
		return 1 + k
	}
	return 5*int(f) + k
}

// chainBone returns joint k (0..2) and the tip (3) of the three moving bones.
func chainBone(f hand.Finger, k int) int {
	if f == hand.Thumb {
		return 1 + k
	}
	return 5*int(f) + 1 + k
}

// boneNames are the joint names of the W3C WebXR Hand Input recommendation.
var boneNames = [numBones]string{
	"wrist",
	"thumb-metacarpal", "thumb-phalanx-proximal", "thumb-phalanx-distal", "thumb-tip",
	"index-finger-metacarpal", "index-finger-phalanx-proximal", "index-finger-phalanx-intermediate", "index-finger-phalanx-distal", "index-finger-tip",
	"middle-finger-metacarpal", "middle-finger-phalanx-proximal", "middle-finger-phalanx-intermediate", "middle-finger-phalanx-distal", "middle-finger-tip",
	"ring-finger-metacarpal", "ring-finger-phalanx-proximal", "ring-finger-phalanx-intermediate", "ring-finger-phalanx-distal", "ring-finger-tip",
	"pinky-finger-metacarpal", "pinky-finger-phalanx-proximal", "pinky-finger-phalanx-intermediate", "pinky-finger-phalanx-distal", "pinky-finger-tip",
}

// influence says how a vertex follows the skeleton.
type influence struct {
	// share is how much of the vertex belongs to each digit; what is missing
	// to 1 belongs to the palm.
	share [5]float32
	// main is the digit with the largest share, or -1 for palm and forearm.
	main int8
	// bend is how far, 0 to 1, the vertex follows the second and the third
	// joint of its main digit.
	bend [2]float32
	// forearm is how far it follows the forearm.
	forearm float32
	// along and side place the vertex in the main digit: along is 0 at the
	// first joint, 1 and 2 at the next, 3 at the end of the digit.
	along float32
}

// Default returns the hand that comes with the program: the generic hand of
// the npm package @webxr-input-profiles/assets 1.0.20 (MIT licence).
func Default() (*Hand, error) {
	h, err := Load(defaultGLB)
	if err != nil {
		return nil, fmt.Errorf("built-in hand: %w", err)
	}
	return h, nil
}

// Load reads a rigged hand from a binary glTF 2.0 file whose joints bear the
// names of WebXR Hand Input; left and right hands are told apart by their
// geometry. An error wraps ErrBadGLB.
func Load(glb []byte) (*Hand, error) {
	m, err := decodeGLB(glb)
	if err != nil {
		return nil, err
	}
	h := &Hand{}
	flip, err := h.place(m)
	if err != nil {
		return nil, err
	}
	h.build(m, flip)
	return h, nil
}

// PalmLength is the distance from the wrist to the middle MCP joint, metres.
func (h *Hand) PalmLength() float64 { return h.joints[chainBone(hand.Middle, 0)].norm() }

// place finds the anatomical axes and moves joints and mesh into them. flip is
// true for a left hand, whose triangles must be turned over.
func (h *Hand) place(m *glbMesh) (flip bool, err error) {
	index := map[string]int{}
	for i, n := range m.names {
		index[n] = i
	}
	var src [numBones]int
	for i, n := range boneNames {
		j, ok := index[n]
		if !ok {
			return false, badGLB("joint %q missing", n)
		}
		src[i] = j
	}
	at := func(b int) vec { return m.origin[src[b]] }
	org := at(boneWrist)
	axis := at(chainBone(hand.Middle, 0)).sub(org)
	palm := axis.norm()
	if !(palm > 0.02 && palm < 0.3) {
		return false, badGLB("palm length %.4g m; lengths must be in metres", palm)
	}
	f := axis.unit()
	r := at(chainBone(hand.Index, 0)).sub(at(chainBone(hand.Little, 0))).orth(f)
	n := r.cross(f)
	var back vec
	for _, fi := range hand.Fingers {
		back = back.add(m.dorsal[src[chainBone(fi, 0)]])
	}
	if n.norm() < .5 || math.Abs(n.dot(back)) < 0.4 {
		return false, badGLB("cannot tell the palm from the back of the hand")
	}
	if n.dot(back) > 0 {
		n, flip = n.mul(-1), true
	}
	to := func(v vec) vec { return vec{v.dot(r), v.dot(f), v.dot(n)} }
	for b := range h.joints {
		h.joints[b], h.dorsal[b] = to(at(b).sub(org)), to(m.dorsal[src[b]])
		if h.joints[b].norm() > 5*palm {
			return false, badGLB("joint %q is %.2g m from the wrist", boneNames[b], h.joints[b].norm())
		}
	}
	for d := hand.Thumb; d <= hand.Little; d++ {
		for k := range 3 {
			if l := h.joints[chainBone(d, k+1)].sub(h.joints[chainBone(d, k)]).norm(); l < 0.002 {
				return false, badGLB("a bone of the %s is %.2g m long", d, l)
			}
		}
	}
	for i, p := range m.pos {
		m.pos[i] = to(p.sub(org))
	}
	// Which of our bones each of the file's joints is; others count as palm.
	ours := make([]int, len(m.names))
	for b, j := range src {
		ours[j] = b
	}
	for i := range m.joints {
		for k, j := range m.joints[i] {
			m.joints[i][k] = uint16(ours[j])
		}
	}
	return flip, nil
}

// shareOf adds up a vertex's weights by digit.
func shareOf(j [4]uint16, w [4]float64) (s [5]float64) {
	for k, b := range j {
		switch {
		case b == boneWrist:
		case b < 5:
			s[hand.Thumb] += w[k]
		case (b-5)%5 != 0:
			s[1+(b-5)/5] += w[k]
		}
	}
	return s
}

// leastShare is the smallest share of a digit that moves a vertex.
const leastShare = 0.004

// soften averages shares over neighbours, so that a bend at the root of a
// digit spreads over more of the palm than the painted weights give it.
func soften(share [][5]float64, tris [][3]int32, rounds int) {
	sum, n := make([][5]float64, len(share)), make([]float64, len(share))
	for range rounds {
		clear(sum)
		clear(n)
		for _, t := range tris {
			for c := range 3 {
				a, b := t[c], t[(c+1)%3]
				for d := range share[b] {
					sum[a][d] += share[b][d]
				}
				n[a]++
			}
		}
		for i := range share {
			for d := range share[i] {
				if n[i] > 0 {
					share[i][d] = 0.5*share[i][d] + 0.5*sum[i][d]/n[i]
				}
			}
		}
	}
}

// build welds, lengthens and subdivides the mesh and works out how it follows
// the skeleton.
func (h *Hand) build(m *glbMesh, flip bool) {
	remap, n := weld(m.pos)
	pos := make([]vec, n)
	share := make([][5]float64, n)
	for i := len(remap) - 1; i >= 0; i-- { // the first of each welded group wins
		pos[remap[i]] = m.pos[i]
		share[remap[i]] = shareOf(m.joints[i], m.weight[i])
	}
	tris := make([][3]int32, 0, len(m.tris))
	for _, t := range m.tris {
		a, b, c := remap[t[0]], remap[t[1]], remap[t[2]]
		if flip {
			b, c = c, b
		}
		if a != b && b != c && a != c {
			tris = append(tris, [3]int32{a, b, c})
		}
	}
	pos, tris = forearm(pos, uncap(pos, tris))
	for len(share) < len(pos) {
		share = append(share, [5]float64{})
	}
	soften(share, tris, 2)
	step := subdivide(len(pos), tris)
	h.pos = make([]vec, step.len())
	step.apply(h.pos, step.interpolating(pos))
	h.tris = step.tris
	h.inf = make([]influence, len(h.pos))
	for i := range h.inf {
		for k := step.start[i]; k < step.start[i+1]; k++ {
			for d, s := range share[step.from[k]] {
				h.inf[i].share[d] += float32(s * step.weight[k])
			}
		}
		for d, s := range h.inf[i].share {
			if s < leastShare {
				h.inf[i].share[d] = 0
			}
		}
	}
	h.nrm = make([]vec, len(h.pos))
	normals(h.nrm, h.pos, h.tris)
	h.settle()
	h.measure()
	h.follow()
}

// uncap takes the lid off a mesh that is closed at the wrist.
func uncap(pos []vec, tris [][3]int32) [][3]int32 {
	if len(boundary(tris)) > 0 {
		return tris
	}
	open := make([][3]int32, 0, len(tris))
	for _, t := range tris {
		a, b, c := pos[t[0]], pos[t[1]], pos[t[2]]
		n := b.sub(a).cross(c.sub(a)).unit()
		if n.Y < -0.6 && a.Y+b.Y+c.Y < 0 {
			continue
		}
		open = append(open, t)
	}
	return open
}

// forearmLength is how far the skin reaches past the wrist, metres.
const forearmLength = 0.30

// forearm continues an open mesh past its rim: rings of skin from the rim's
// own outline to the oval of a forearm.
func forearm(pos []vec, tris [][3]int32) ([]vec, [][3]int32) {
	rim := boundary(tris)
	if len(rim) < 6 {
		return pos, tris
	}
	// The middle of the rim; a mean would lean to where its vertices crowd.
	lo, hi := pos[rim[0]], pos[rim[0]]
	for _, v := range rim {
		p := pos[v]
		lo, hi = vec{min(lo.X, p.X), min(lo.Y, p.Y), min(lo.Z, p.Z)}, vec{max(hi.X, p.X), max(hi.Y, p.Y), max(hi.Z, p.Z)}
	}
	c := mix(lo, hi, 0.5)
	rx, rz := (hi.X-lo.X)/2, (hi.Z-lo.Z)/2
	// A tilted outline fills less than the box around it.
	fill := 0.0
	for _, v := range rim {
		fill += math.Hypot((pos[v].X-c.X)/rx, (pos[v].Z-c.Z)/rz) / float64(len(rim))
	}
	rx, rz = rx*fill, rz*fill
	// A mesh with some forearm shows which way it runs; one that ends close
	// behind the wrist does not, and ends at its narrowest.
	known := smoothstep(-0.025, -0.04, c.Y)
	lo, hi = vec{1, 0, 1}, vec{-1, 0, -1} // the section halfway to the wrist
	for _, p := range pos {
		if math.Abs(p.Y-c.Y/2) < 0.008 {
			lo.X, hi.X, lo.Z, hi.Z = min(lo.X, p.X), max(hi.X, p.X), min(lo.Z, p.Z), max(hi.Z, p.Z)
		}
	}
	half := 2 / c.Y
	slopeX := known * clamp((c.X-(lo.X+hi.X)/2)*half, -0.12, 0.12)
	slopeZ := known * clamp((c.Z-(lo.Z+hi.Z)/2)*half, -0.12, 0.12)
	neck := 0.14 * smoothstep(-0.045, -0.02, c.Y)
	const rings = 18
	prev := rim
	for k := 1; k <= rings; k++ {
		// Rings are close where the outline changes and wide further on.
		t := float64(k) / rings
		t *= 0.35 + 0.65*t
		y := c.Y + (-forearmLength-c.Y)*t
		grow := 1 + neck*smoothstep(0, 0.15, t) + 0.30*smoothstep(0, 0.8, t)
		round := smoothstep(0, 0.5, t)
		cur := make([]int32, len(rim))
		for i, v := range rim {
			q := pos[v].sub(c)
			l := math.Hypot(q.X/rx, q.Z/rz)
			oval := vec{}
			if l > 0 {
				oval = vec{X: q.X / l, Z: q.Z / l * (1 + 0.25*smoothstep(0, 1, t))}
			}
			q.Y *= 1 - round
			p := mix(q, oval, round)
			pos = append(pos, vec{c.X + slopeX*(y-c.Y) + p.X*grow, y + p.Y, c.Z + slopeZ*(y-c.Y) + p.Z*grow})
			cur[i] = int32(len(pos) - 1)
		}
		for i := range rim {
			j := (i + 1) % len(rim)
			tris = append(tris, [3]int32{prev[j], prev[i], cur[i]}, [3]int32{prev[j], cur[i], cur[j]})
		}
		prev = cur
	}
	return pos, tris
}

// chainDir returns the rest direction of moving bone k of a digit.
func (h *Hand) chainDir(d hand.Finger, k int) vec {
	return h.joints[chainBone(d, k+1)].sub(h.joints[chainBone(d, k)]).unit()
}

// local places a rest-space point at joint k of a digit: along the bone past
// the joint, out of the back of the digit, and to the side.
func (h *Hand) local(d hand.Finger, k int, p vec) (along, up, side float64) {
	st := &h.sites[d][k]
	q := p.sub(st.at)
	return q.dot(st.dir), q.dot(st.back), q.dot(st.side)
}

// survey works out the sites from the joints.
func (h *Hand) survey() {
	for d := hand.Thumb; d <= hand.Little; d++ {
		for k := range 4 {
			dir := h.chainDir(d, min(k, 2))
			if k == 1 || k == 2 {
				dir = dir.add(h.chainDir(d, k-1)).unit()
			}
			back := h.dorsal[chainBone(d, k)].orth(dir)
			h.sites[d][k] = site{h.joints[chainBone(d, k)], dir, back, back.cross(dir)}
		}
	}
}

// measure takes the thickness of each digit from the surface.
func (h *Hand) measure() {
	h.survey()
	for d := hand.Thumb; d <= hand.Little; d++ {
		h.measureDigit(d)
	}
	h.survey()
}

// settle finds each vertex's main digit.
func (h *Hand) settle() {
	for i := range h.inf {
		f := &h.inf[i]
		f.main = -1
		best, sum := float32(0), float32(0)
		for d, s := range f.share {
			sum += s
			if s > best {
				best, f.main = s, int8(d)
			}
		}
		if best < 1-sum {
			f.main = -1
		}
	}
}

// measureDigit also puts the tip landmark where landmark models put it: not at
// the very end of the finger, where some meshes have their last joint, nor at
// the root of the nail, where others have it, but a little less than a finger's
// radius before the end.
func (h *Hand) measureDigit(d hand.Finger) {
	g := &h.digits[d]
	*g = digitShape{}
	var sum, n [4]float64
	tip, last := h.chainDir(d, 2), h.joints[chainBone(d, 2)]
	for i, p := range h.pos {
		if h.inf[i].main != int8(d) {
			continue
		}
		g.end = max(g.end, p.sub(last).dot(tip))
		for k := 1; k < 3; k++ {
			if a, u, s := h.local(d, k, p); math.Abs(a) < 0.004 {
				sum[k] += math.Hypot(u, s)
				n[k]++
			}
		}
	}
	for k := 1; k < 3; k++ {
		g.radius[k] = 0.008
		if n[k] > 0 {
			g.radius[k] = clamp(sum[k]/n[k], 0.003, 0.02)
		}
	}
	if d == hand.Thumb {
		// The ball of the thumb is no part of the joint.
		g.radius[1] = min(g.radius[1], 1.25*g.radius[2])
	}
	g.radius[0], g.radius[3] = g.radius[1]*1.15, g.radius[2]*0.9
	h.joints[chainBone(d, 3)] = last.addMul(tip, g.end-0.9*g.radius[3])
	dors := h.dorsal[chainBone(d, 2)].orth(tip)
	lat := dors.cross(tip)
	for i, p := range h.pos {
		if h.inf[i].main != int8(d) {
			continue
		}
		q := p.sub(last)
		if a := q.dot(tip); a > g.end-0.012 && a < g.end-0.003 {
			g.width = max(g.width, math.Abs(q.dot(lat)))
			g.height = max(g.height, q.dot(dors))
		}
		for k := range 3 {
			o, dir := h.joints[chainBone(d, k)], h.chainDir(d, k)
			l := h.joints[chainBone(d, k+1)].sub(o).norm()
			if a := p.sub(o).dot(dir); a > 0.55*l && a < 0.8*l {
				g.flesh[k] = max(g.flesh[k], -p.sub(o).dot(h.dorsal[chainBone(d, k)].orth(dir)))
			}
		}
	}
	for k := range g.flesh {
		g.flesh[k] = clamp(g.flesh[k], 0.4*g.radius[2], 1.6*g.radius[1])
	}
}

// follow sets how far each vertex follows the joints beyond the first of its
// digit, spreading each bend along the bone: widely over the back, where skin
// stretches, and closely on the volar side, where it folds into a crease.
func (h *Hand) follow() {
	h.volar = make([]float32, len(h.pos))
	for i, p := range h.pos {
		f := &h.inf[i]
		facing := h.nrm[i].Z
		if f.main >= 0 {
			b := chainBone(hand.Finger(f.main), min(2, int(h.alongOf(hand.Finger(f.main), p)+1)))
			w := float64(f.share[f.main])
			facing = facing*(1-w) - h.nrm[i].dot(h.dorsal[b])*w
		}
		h.volar[i] = float32(smoothstep(-0.35, 0.5, facing) * smoothstep(-0.03, 0.015, p.Y))
		f.forearm = float32(1 - smoothstep(-0.022, 0.006, p.Y))
		if f.main < 0 {
			continue
		}
		d := hand.Finger(f.main)
		g := &h.digits[d]
		for k := 1; k <= 2; k++ {
			a, u, _ := h.local(d, k, p)
			r := g.radius[k]
			w := r * (0.56 + 0.14*clamp(u/r, -1, 1))
			f.bend[k-1] = float32(smoothstep(-w, w, a))
		}
		f.along = float32(h.alongOf(d, p))
	}
}

// alongOf returns the place along a digit: 0, 1, 2 at its joints, 3 at its end.
func (h *Hand) alongOf(d hand.Finger, p vec) float64 {
	for k := 2; k >= 0; k-- {
		a, _, _ := h.local(d, k, p)
		l := h.joints[chainBone(d, k+1)].sub(h.joints[chainBone(d, k)]).norm()
		if k == 2 {
			l = h.digits[d].end
		}
		if a >= 0 || k == 0 {
			return float64(k) + clamp(a/l, -1, 1)
		}
	}
	return 0
}
