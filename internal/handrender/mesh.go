package handrender

import (
	"math"
	"sort"
)

// weld joins vertices that lie on the same micrometre, so that seams of the
// texture do not open when the surface is subdivided. It returns the new
// number of each vertex and how many are left.
func weld(pos []vec) (remap []int32, n int) {
	seen := make(map[[3]int64]int32, len(pos))
	remap = make([]int32, len(pos))
	for i, p := range pos {
		k := [3]int64{int64(math.Round(p.X * 1e6)), int64(math.Round(p.Y * 1e6)), int64(math.Round(p.Z * 1e6))}
		j, ok := seen[k]
		if !ok {
			j = int32(len(seen))
			seen[k] = j
		}
		remap[i] = j
	}
	return remap, len(seen)
}

// edge is an undirected edge, lower vertex first.
type edge struct{ a, b int32 }

func edgeOf(a, b int32) edge {
	if a > b {
		a, b = b, a
	}
	return edge{a, b}
}

// wing is one triangle seen from one of its edges: the edge, the vertex
// opposite and the direction in which the triangle runs along the edge.
type wing struct {
	edge
	opposite int32
	forward  bool
}

// wings lists all triangles by edge in a fixed order, so that nothing computed
// from it depends on the order of a map.
func wings(tris [][3]int32) []wing {
	out := make([]wing, 0, 3*len(tris))
	for _, t := range tris {
		for c := range 3 {
			a, b := t[c], t[(c+1)%3]
			out = append(out, wing{edgeOf(a, b), t[(c+2)%3], a < b})
		}
	}
	sort.SliceStable(out, func(i, j int) bool {
		if out[i].a != out[j].a {
			return out[i].a < out[j].a
		}
		return out[i].b < out[j].b
	})
	return out
}

// span is a run of equal edges in a sorted wing list.
func span(ws []wing, i int) int {
	j := i + 1
	for j < len(ws) && ws[j].edge == ws[i].edge {
		j++
	}
	return j
}

// boundary returns the longest closed chain of edges that have one triangle
// only, in the direction in which those triangles run; nil for a closed mesh.
func boundary(tris [][3]int32) []int32 {
	next := map[int32]int32{}
	var starts []int32
	ws := wings(tris)
	for i := 0; i < len(ws); {
		j := span(ws, i)
		if j == i+1 {
			a, b := ws[i].a, ws[i].b
			if !ws[i].forward {
				a, b = b, a
			}
			next[a] = b
			starts = append(starts, a)
		}
		i = j
	}
	var best []int32
	used := map[int32]bool{}
	for _, s := range starts {
		var chain []int32
		v := s
		for !used[v] {
			used[v] = true
			chain = append(chain, v)
			n, ok := next[v]
			if !ok {
				chain = nil
				break
			}
			v = n
		}
		if len(chain) > 2 && v == s && len(chain) > len(best) {
			best = chain
		}
	}
	return best
}

// stencil is one step of subdivision as a sparse matrix: the new vertex i is
// the weighted sum of the old vertices from[start[i]:start[i+1]].
type stencil struct {
	start  []int32
	from   []int32
	weight []float64
	tris   [][3]int32
}

// subdivide prepares one step of Loop's scheme (Loop 1987, "Smooth subdivision
// surfaces based on triangles") with a smaller weight on the neighbours, which
// rounds the surface and keeps more of the volume of a thin finger.
func subdivide(n int, tris [][3]int32) *stencil {
	ws := wings(tris)
	neighbours := make([][]int32, n)
	rim := make([][]int32, n)
	for i := 0; i < len(ws); {
		j := span(ws, i)
		a, b := ws[i].a, ws[i].b
		neighbours[a], neighbours[b] = append(neighbours[a], b), append(neighbours[b], a)
		if j == i+1 {
			rim[a], rim[b] = append(rim[a], b), append(rim[b], a)
		}
		i = j
	}
	s := &stencil{start: []int32{0}}
	put := func(v int32, w float64) {
		s.from, s.weight = append(s.from, v), append(s.weight, w)
	}
	end := func() { s.start = append(s.start, int32(len(s.from))) }
	for v := range int32(n) {
		switch {
		case len(rim[v]) == 2:
			put(v, .75)
			put(rim[v][0], .125)
			put(rim[v][1], .125)
		case len(neighbours[v]) == 0:
			put(v, 1)
		default:
			k := float64(len(neighbours[v]))
			w := 3.0 / (8 * k) * 0.6
			put(v, 1-k*w)
			for _, q := range neighbours[v] {
				put(q, w)
			}
		}
		end()
	}
	middle := make(map[edge]int32, len(ws)/2)
	for i := 0; i < len(ws); {
		j := span(ws, i)
		middle[ws[i].edge] = int32(len(s.start) - 1)
		if j == i+2 {
			put(ws[i].a, .42)
			put(ws[i].b, .42)
			put(ws[i].opposite, .08)
			put(ws[i+1].opposite, .08)
		} else {
			put(ws[i].a, .5)
			put(ws[i].b, .5)
		}
		end()
		i = j
	}
	for _, t := range tris {
		ab, bc, ca := middle[edgeOf(t[0], t[1])], middle[edgeOf(t[1], t[2])], middle[edgeOf(t[2], t[0])]
		s.tris = append(s.tris, [3]int32{t[0], ab, ca}, [3]int32{ab, t[1], bc}, [3]int32{ca, bc, t[2]}, [3]int32{ab, bc, ca})
	}
	return s
}

// len is the number of vertices after the step.
func (s *stencil) len() int { return len(s.start) - 1 }

// apply computes the new vertices of src into dst, which has len() elements.
func (s *stencil) apply(dst, src []vec) {
	for i := range dst {
		var p vec
		for k := s.start[i]; k < s.start[i+1]; k++ {
			p = p.addMul(src[s.from[k]], s.weight[k])
		}
		dst[i] = p
	}
}

// interpolating returns control points whose subdivided surface passes near
// pos at the old vertices: without it each step makes fingers thinner.
func (s *stencil) interpolating(pos []vec) []vec {
	ctl := append([]vec(nil), pos...)
	out := make([]vec, s.len())
	for range 3 {
		s.apply(out, ctl)
		for i := range ctl {
			ctl[i] = ctl[i].addMul(pos[i].sub(out[i]), 0.8)
		}
	}
	return ctl
}

// normals sets nrm to the area-weighted vertex normals of the triangles.
func normals(nrm, pos []vec, tris [][3]int32) {
	for i := range nrm {
		nrm[i] = vec{}
	}
	for _, t := range tris {
		a := pos[t[0]]
		n := pos[t[1]].sub(a).cross(pos[t[2]].sub(a))
		for _, v := range t {
			nrm[v] = nrm[v].add(n)
		}
	}
	for i := range nrm {
		nrm[i] = nrm[i].unit()
	}
}
