package handrender

import (
	"math"
	"runtime"
	"sync"
	"sync/atomic"
)

// material says how a triangle is shaded.
type material uint8

const (
	matSkin material = iota
	matCloth
	matObject
	matMetal
)

// model is the geometry of one picture in camera axes: X right, Y down, Z away
// from the camera, metres. The first vertices are the hand's.
type model struct {
	pos, nrm []vec
	tex      []vec // place in the texture: rest space for skin, own for others
	volar    []float32
	digit    []int8
	mottle   []vec
	tris     [][3]int32
	mat      []material
	part     []uint8 // which look an object's triangle has
}

func (m *model) reset() {
	m.pos, m.nrm, m.tex, m.volar = m.pos[:0], m.nrm[:0], m.tex[:0], m.volar[:0]
	m.digit, m.mottle = m.digit[:0], m.mottle[:0]
	m.tris, m.mat, m.part = m.tris[:0], m.mat[:0], m.part[:0]
}

// projection maps camera axes to picture pixels: a pinhole, then a rotation,
// scale and shift of the picture for crops.
type projection struct {
	f      float64 // focal length in picture pixels
	cx, cy float64 // principal point
	a, b   float64 // crop = [a -b; b a] (picture - centre) + size/2
	ox, oy float64 // centre of the crop in the picture
	hx, hy float64 // half the crop's size
	scale  float64 // crop pixels to a picture pixel
}

const nearest = 0.03 // metres; nothing nearer is drawn

func (p *projection) at(v vec) (x, y float64) {
	x, y = p.f*v.X/v.Z+p.cx-p.ox, p.f*v.Y/v.Z+p.cy-p.oy
	return p.a*x - p.b*y + p.hx, p.b*x + p.a*y + p.hy
}

// samples is a buffer of depth and triangle number. Nearer has larger inverse
// depth, which is what the screen interpolates linearly; 0 is empty.
type samples struct {
	w, h   int
	inv    []float32
	tri    []int32
	px     []float64 // projected x, y and inverse depth of each vertex
	py     []float64
	pz     []float64
	bands  [][]int32
	rows   int // rows to a band
	x0, y0 int // bounding box of what was drawn, in samples
	x1, y1 int
}

func grow[T any](s []T, n int) []T {
	if cap(s) < n {
		return make([]T, n, n+n/8)
	}
	return s[:n]
}

// prepare sizes the buffer and empties it.
func (s *samples) prepare(w, h, rows int) {
	s.w, s.h, s.rows = w, h, rows
	s.inv, s.tri = grow(s.inv, w*h), grow(s.tri, w*h)
	n := (h + rows - 1) / rows
	for len(s.bands) < n {
		s.bands = append(s.bands, nil)
	}
	s.bands = s.bands[:n]
	for i := range s.bands {
		s.bands[i] = s.bands[i][:0]
	}
}

// bin sorts the triangles into bands of rows, keeping their order. Skin that
// faces away is left out: it is always behind skin that does not. front is the
// sign of the screen area of triangles that face the eye.
func (s *samples) bin(tris [][3]int32, mat []material, front float64) {
	s.x0, s.y0, s.x1, s.y1 = s.w, s.h, 0, 0
	for i := range tris {
		t := &tris[i]
		a, b, c := t[0], t[1], t[2]
		if s.pz[a] <= 0 || s.pz[b] <= 0 || s.pz[c] <= 0 {
			continue
		}
		area := (s.px[b]-s.px[a])*(s.py[c]-s.py[a]) - (s.px[c]-s.px[a])*(s.py[b]-s.py[a])
		if area == 0 || mat[i] == matSkin && area*front < 0 {
			continue
		}
		lo, hi := min(s.py[a], s.py[b], s.py[c]), max(s.py[a], s.py[b], s.py[c])
		left, right := min(s.px[a], s.px[b], s.px[c]), max(s.px[a], s.px[b], s.px[c])
		if hi < 0 || right < 0 || lo > float64(s.h) || left > float64(s.w) {
			continue
		}
		y0, y1 := max(int(lo), 0), min(int(hi), s.h-1)
		s.y0, s.y1 = min(s.y0, y0), max(s.y1, y1+1)
		s.x0, s.x1 = min(s.x0, max(int(left), 0)), max(s.x1, min(int(right)+1, s.w))
		for k := y0 / s.rows; k <= y1/s.rows; k++ {
			s.bands[k] = append(s.bands[k], int32(i))
		}
	}
}

// fill draws the triangles of one band.
func (s *samples) fill(band int, tris [][3]int32) {
	top, bottom := band*s.rows, min((band+1)*s.rows, s.h)
	clear(s.inv[top*s.w : bottom*s.w])
	px, py, pz := s.px, s.py, s.pz
	for _, ti := range s.bands[band] {
		t := tris[ti]
		ax, ay, bx, by, cx, cy := px[t[0]], py[t[0]], px[t[1]], py[t[1]], px[t[2]], py[t[2]]
		area := (bx-ax)*(cy-ay) - (cx-ax)*(by-ay)
		x0, x1 := max(int(min(ax, bx, cx)-.5), 0), min(int(max(ax, bx, cx)+.5), s.w-1)
		y0, y1 := max(int(min(ay, by, cy)-.5), top), min(int(max(ay, by, cy)+.5), bottom-1)
		k := 1 / area
		// Barycentric weights and inverse depth are linear in x and y.
		u1, v1 := (by-cy)*k, (cy-ay)*k
		u2, v2 := (cx-bx)*k, (ax-cx)*k
		iz := pz[t[2]]
		da, db := pz[t[0]]-iz, pz[t[1]]-iz
		z1 := u1*da + v1*db
		// Each weight is positive on one side of a line, which bounds the
		// pixels of a row; a margin of one pixel leaves the decision to the
		// weights themselves.
		steps := [3]float64{u1, v1, -u1 - v1}
		var inverse [3]float64
		for e, d := range steps {
			if math.Abs(d) > 1e-9 {
				inverse[e] = 1 / d
			}
		}
		for y := y0; y <= y1; y++ {
			qx, qy := float64(x0)+.5-cx, float64(y)+.5-cy
			u, v := u1*qx+u2*qy, v1*qx+v2*qy
			lo, hi := 0, x1-x0
			for e, at := range [3]float64{u, v, 1 - u - v} {
				switch x := -at * inverse[e]; {
				case inverse[e] > 0 && x > 1:
					lo = max(lo, int(min(x, 1e6))-1)
				case inverse[e] < 0 && x < float64(hi):
					hi = min(hi, int(max(x, -2))+1)
				}
			}
			if lo > hi {
				continue
			}
			skip := float64(lo)
			u, v = u+skip*u1, v+skip*v1
			z := iz + u*da + v*db
			row := s.inv[y*s.w+x0+lo : y*s.w+x0+hi+1]
			ids := s.tri[y*s.w+x0+lo : y*s.w+x0+hi+1]
			for x := range row {
				if u >= 0 && v >= 0 && u+v <= 1 && float32(z) > row[x] {
					row[x], ids[x] = float32(z), ti
				}
				u, v, z = u+u1, v+v1, z+z1
			}
		}
	}
}

// weights returns the barycentric weights of a sample in a triangle, corrected
// for perspective.
func (s *samples) weights(t [3]int32, x, y int) (u, v, w float64) {
	ax, ay, bx, by, cx, cy := s.px[t[0]], s.py[t[0]], s.px[t[1]], s.py[t[1]], s.px[t[2]], s.py[t[2]]
	qx, qy := float64(x)+.5, float64(y)+.5
	u = ((bx-qx)*(cy-qy) - (cx-qx)*(by-qy)) * s.pz[t[0]]
	v = ((cx-qx)*(ay-qy) - (ax-qx)*(cy-qy)) * s.pz[t[1]]
	w = ((ax-qx)*(by-qy) - (bx-qx)*(ay-qy)) * s.pz[t[2]]
	k := 1 / (u + v + w)
	return u * k, v * k, w * k
}

// each calls f for 0..n-1 on up to the given number of goroutines and waits.
// What f(i) writes must not depend on another i, so that the picture is the
// same for any number.
func each(workers, n int, f func(i int)) {
	if workers <= 0 {
		workers = runtime.GOMAXPROCS(0)
	}
	workers = min(workers, n)
	if workers <= 1 {
		for i := range n {
			f(i)
		}
		return
	}
	var next atomic.Int64
	var wg sync.WaitGroup
	for range workers {
		wg.Go(func() {
			for i := int(next.Add(1)) - 1; i < n; i = int(next.Add(1)) - 1 {
				f(i)
			}
		})
	}
	wg.Wait()
}

// shadowMap is the scene as the main light sees it, without perspective.
type shadowMap struct {
	samples
	x, y, z vec // z points to the light
	centre  vec
	k       float64 // map pixels to a metre
}

const shadowHalf = 0.17 // metres; half the side of the lit square

func (m *shadowMap) prepareLight(size int, light, centre vec, pos []vec) {
	up := vec{0, -1, 0}
	if math.Abs(light.Y) > 0.95 {
		up = vec{1, 0, 0}
	}
	m.x = up.cross(light).unit()
	m.y, m.z, m.centre = light.cross(m.x), light, centre
	m.k = float64(size) / (2 * shadowHalf)
	m.prepare(size, size, 64)
	m.px, m.py, m.pz = grow(m.px, len(pos)), grow(m.py, len(pos)), grow(m.pz, len(pos))
	for i, p := range pos {
		m.px[i], m.py[i], m.pz[i] = m.at(p)
	}
}

// at gives map pixels and nearness to the light, which is positive inside the
// lit cube.
func (m *shadowMap) at(p vec) (x, y, near float64) {
	q := p.sub(m.centre)
	return (q.dot(m.x) + shadowHalf) * m.k, (q.dot(m.y) + shadowHalf) * m.k, q.dot(m.z) + 1
}

// lit returns how much of the light reaches p, 0 to 1, over a square of
// (2 reach+1)^2 map pixels.
func (m *shadowMap) lit(p vec, reach int) float64 {
	x, y, near := m.at(p)
	ix, iy := int(x), int(y)
	free, n := 0, 0
	for dy := -reach; dy <= reach; dy++ {
		for dx := -reach; dx <= reach; dx++ {
			n++
			xx, yy := ix+dx, iy+dy
			if xx < 0 || yy < 0 || xx >= m.w || yy >= m.h || float64(m.inv[yy*m.w+xx])-near < 0.003 {
				free++
			}
		}
	}
	return float64(free) / float64(n)
}
