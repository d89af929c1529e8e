package handrender

import (
	"encoding/binary"
	"encoding/json"
	"errors"
	"fmt"
	"math"
)

// Limits of what Load accepts. A hand has some thousand vertices; the limits
// keep a hostile file from asking for memory that its own bytes do not back.
const (
	maxVertices = 40_000
	maxIndices  = 250_000
	maxJoints   = 256
)

// ErrBadGLB is wrapped by every error that Load returns for bytes that are not
// a rigged hand in binary glTF 2.0.
var ErrBadGLB = errors.New("not a usable rigged hand")

func badGLB(format string, a ...any) error {
	return fmt.Errorf("%w: %s", ErrBadGLB, fmt.Sprintf(format, a...))
}

// glbMesh is what is read from the file, in the file's own axes.
type glbMesh struct {
	names  []string
	origin []vec // joint positions of the bind pose
	dorsal []vec // local Y of each joint, a unit vector
	pos    []vec
	joints [][4]uint16
	weight [][4]float64
	tris   [][3]int32
}

type gltf struct {
	Accessors []struct {
		BufferView    *int
		ByteOffset    int
		ComponentType int
		Normalized    bool
		Count         int
		Type          string
		Sparse        json.RawMessage
	}
	BufferViews []struct {
		Buffer     int
		ByteOffset int
		ByteLength int
		ByteStride int
	}
	Nodes []struct{ Name string }
	Skins []struct {
		Joints              []int
		InverseBindMatrices *int
	}
	Meshes []struct {
		Primitives []struct {
			Attributes map[string]int
			Indices    *int
			Mode       *int
		}
	}
}

// Component types of glTF 2.0, section 3.6.2.2.
const (
	gltfU8  = 5121
	gltfU16 = 5123
	gltfU32 = 5125
	gltfF32 = 5126
)

// chunks splits a binary glTF 2.0 container (section 4.4 of the standard).
func chunks(b []byte) (doc, bin []byte, err error) {
	le := binary.LittleEndian
	if len(b) < 20 || le.Uint32(b) != 0x46546C67 {
		return nil, nil, badGLB("no glTF magic in %d bytes", len(b))
	}
	if v := le.Uint32(b[4:]); v != 2 {
		return nil, nil, badGLB("glTF version %d, want 2", v)
	}
	if n := le.Uint32(b[8:]); uint64(n) > uint64(len(b)) {
		return nil, nil, badGLB("header says %d bytes, file has %d", n, len(b))
	}
	for rest := b[12:]; len(rest) >= 8; {
		n, kind := uint64(le.Uint32(rest)), le.Uint32(rest[4:])
		if n > uint64(len(rest)-8) {
			return nil, nil, badGLB("chunk of %d bytes runs past the end", n)
		}
		data := rest[8 : 8+n]
		switch {
		case kind == 0x4E4F534A && doc == nil:
			doc = data
		case kind == 0x004E4942 && bin == nil:
			bin = data
		}
		rest = rest[8+n:]
	}
	if doc == nil || bin == nil {
		return nil, nil, badGLB("JSON or BIN chunk missing")
	}
	return doc, bin, nil
}

// column is a checked view of one accessor: element i starts at off + i*stride
// and every element lies inside bin.
type column struct {
	bin         []byte
	off, stride int
	count, kind int
	normalized  bool
}

func (g *gltf) column(bin []byte, index int, typ string, kinds ...int) (column, error) {
	if index < 0 || index >= len(g.Accessors) {
		return column{}, badGLB("accessor %d of %d", index, len(g.Accessors))
	}
	a := g.Accessors[index]
	if a.BufferView == nil || len(a.Sparse) > 0 {
		return column{}, badGLB("accessor %d is sparse or has no buffer view", index)
	}
	if *a.BufferView < 0 || *a.BufferView >= len(g.BufferViews) {
		return column{}, badGLB("accessor %d: buffer view %d of %d", index, *a.BufferView, len(g.BufferViews))
	}
	if a.Type != typ {
		return column{}, badGLB("accessor %d has type %q, want %s", index, a.Type, typ)
	}
	ok := false
	for _, k := range kinds {
		ok = ok || k == a.ComponentType
	}
	if !ok {
		return column{}, badGLB("accessor %d has component type %d", index, a.ComponentType)
	}
	v := g.BufferViews[*a.BufferView]
	lanes := map[string]int{"SCALAR": 1, "VEC3": 3, "VEC4": 4, "MAT4": 16}[typ]
	size := lanes * map[int]int{gltfU8: 1, gltfU16: 2, gltfU32: 4, gltfF32: 4}[a.ComponentType]
	stride := v.ByteStride
	if stride == 0 {
		stride = size
	}
	n := int64(len(bin))
	if v.Buffer != 0 || v.ByteOffset < 0 || v.ByteLength < 0 || int64(v.ByteOffset) > n || int64(v.ByteLength) > n-int64(v.ByteOffset) {
		return column{}, badGLB("buffer view %d lies outside the BIN chunk", *a.BufferView)
	}
	if stride < size || stride > 1024 || a.Count < 1 || a.Count > maxIndices || a.ByteOffset < 0 || a.ByteOffset > v.ByteLength {
		return column{}, badGLB("accessor %d: count %d, stride %d, offset %d", index, a.Count, stride, a.ByteOffset)
	}
	if int64(a.ByteOffset)+int64(a.Count-1)*int64(stride)+int64(size) > int64(v.ByteLength) {
		return column{}, badGLB("accessor %d runs past its buffer view", index)
	}
	return column{bin, v.ByteOffset + a.ByteOffset, stride, a.Count, a.ComponentType, a.Normalized}, nil
}

// at reads lane k of element i as a number; whole-number weights that the file
// calls normalised are scaled to 0..1.
func (c column) at(i, k int) float64 {
	o := c.off + i*c.stride
	switch c.kind {
	case gltfU8:
		if c.normalized {
			return float64(c.bin[o+k]) / 255
		}
		return float64(c.bin[o+k])
	case gltfU16:
		v := float64(binary.LittleEndian.Uint16(c.bin[o+2*k:]))
		if c.normalized {
			return v / 65535
		}
		return v
	case gltfU32:
		return float64(binary.LittleEndian.Uint32(c.bin[o+4*k:]))
	}
	return float64(math.Float32frombits(binary.LittleEndian.Uint32(c.bin[o+4*k:])))
}

func (c column) vec(i int) vec { return vec{c.at(i, 0), c.at(i, 1), c.at(i, 2)} }

// decodeGLB reads the first skin and the first mesh that carries skin weights.
func decodeGLB(b []byte) (*glbMesh, error) {
	doc, bin, err := chunks(b)
	if err != nil {
		return nil, err
	}
	var g gltf
	if err := json.Unmarshal(doc, &g); err != nil {
		return nil, fmt.Errorf("%w: JSON chunk: %w", ErrBadGLB, err)
	}
	m := &glbMesh{}
	if err := m.readSkin(&g, bin); err != nil {
		return nil, err
	}
	for _, mesh := range g.Meshes {
		for _, p := range mesh.Primitives {
			if _, ok := p.Attributes["JOINTS_0"]; !ok || p.Mode != nil && *p.Mode != 4 {
				continue
			}
			if p.Indices == nil {
				return nil, badGLB("mesh without indices")
			}
			if err := m.readPrimitive(&g, bin, p.Attributes, *p.Indices); err != nil {
				return nil, err
			}
		}
		if len(m.tris) > 0 {
			return m, nil
		}
	}
	return nil, badGLB("no skinned triangles")
}

func (m *glbMesh) readSkin(g *gltf, bin []byte) error {
	if len(g.Skins) == 0 || g.Skins[0].InverseBindMatrices == nil {
		return badGLB("no skin with inverse bind matrices")
	}
	s := g.Skins[0]
	c, err := g.column(bin, *s.InverseBindMatrices, "MAT4", gltfF32)
	if err != nil {
		return err
	}
	if len(s.Joints) > maxJoints || c.count < len(s.Joints) {
		return badGLB("%d joints with %d matrices", len(s.Joints), c.count)
	}
	for i, n := range s.Joints {
		if n < 0 || n >= len(g.Nodes) {
			return badGLB("joint node %d of %d", n, len(g.Nodes))
		}
		var r mat
		for k := range r {
			r[k] = vec{c.at(i, 4*k), c.at(i, 4*k+1), c.at(i, 4*k+2)}
		}
		t := vec{c.at(i, 12), c.at(i, 13), c.at(i, 14)}
		inv, ok := r.inverse()
		if !ok || !t.finite() {
			return badGLB("joint %q has a singular bind matrix", g.Nodes[n].Name)
		}
		m.names = append(m.names, g.Nodes[n].Name)
		m.origin = append(m.origin, inv.apply(t).mul(-1))
		m.dorsal = append(m.dorsal, inv[1].unit())
	}
	return nil
}

func (m *glbMesh) readPrimitive(g *gltf, bin []byte, attr map[string]int, indices int) error {
	lookup := func(name, typ string, kinds ...int) (column, error) {
		i, ok := attr[name]
		if !ok {
			return column{}, badGLB("mesh has no %s", name)
		}
		c, err := g.column(bin, i, typ, kinds...)
		if err != nil {
			return column{}, fmt.Errorf("%s: %w", name, err)
		}
		return c, nil
	}
	pos, err := lookup("POSITION", "VEC3", gltfF32)
	if err != nil {
		return err
	}
	joints, err := lookup("JOINTS_0", "VEC4", gltfU8, gltfU16)
	if err != nil {
		return err
	}
	weights, err := lookup("WEIGHTS_0", "VEC4", gltfF32, gltfU8, gltfU16)
	if err != nil {
		return err
	}
	idx, err := g.column(bin, indices, "SCALAR", gltfU8, gltfU16, gltfU32)
	if err != nil {
		return fmt.Errorf("indices: %w", err)
	}
	base := len(m.pos)
	if base+pos.count > maxVertices || 3*len(m.tris)+idx.count > maxIndices {
		return badGLB("%d vertices and %d indices are more than a hand needs", pos.count, idx.count)
	}
	if joints.count != pos.count || weights.count != pos.count {
		return badGLB("%d positions, %d joints, %d weights", pos.count, joints.count, weights.count)
	}
	for i := range pos.count {
		p := pos.vec(i)
		if !p.finite() {
			return badGLB("vertex %d is not finite", i)
		}
		var j [4]uint16
		var w [4]float64
		sum := 0.0
		for k := range j {
			j[k], w[k] = uint16(joints.at(i, k)), weights.at(i, k)
			if int(j[k]) >= len(m.names) {
				return badGLB("vertex %d names joint %d of %d", i, j[k], len(m.names))
			}
			if !(w[k] >= 0 && w[k] <= 1e6) {
				return badGLB("vertex %d has weight %v", i, w[k])
			}
			sum += w[k]
		}
		if sum < 1e-6 {
			return badGLB("vertex %d has no weight", i)
		}
		for k := range w {
			w[k] /= sum
		}
		m.pos, m.joints, m.weight = append(m.pos, p), append(m.joints, j), append(m.weight, w)
	}
	for i := 0; i+2 < idx.count; i += 3 {
		var t [3]int32
		for k := range t {
			v := idx.at(i+k, 0)
			if v >= float64(pos.count) {
				return badGLB("index %v of %d vertices", v, pos.count)
			}
			t[k] = int32(base) + int32(v)
		}
		m.tris = append(m.tris, t)
	}
	return nil
}
