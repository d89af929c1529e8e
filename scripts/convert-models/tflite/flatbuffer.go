package tflite

import (
	"encoding/binary"
	"errors"
	"fmt"
)

// ErrCorrupt is wrapped by every error about a file that is damaged, cut short
// or not a TensorFlow Lite model.
var ErrCorrupt = errors.New("not a readable tflite model")

// decoder walks a FlatBuffers file. Every read is checked against the length
// of the file; the first failure is kept in err and all later reads return
// zero values, so that callers check once, at the end of a step.
type decoder struct {
	b   []byte
	err error
	// budget bounds the number of vector elements decoded. A sound file
	// needs less than one element a byte; a hostile one can point many
	// vectors at the same bytes and would otherwise ask for the square of
	// its size in memory.
	budget int
}

func (d *decoder) fail(format string, a ...any) {
	if d.err == nil {
		d.err = fmt.Errorf("%w: %s", ErrCorrupt, fmt.Sprintf(format, a...))
	}
}

// at returns the n bytes at position p, or zeros past the end of the file.
// n is at most 8.
func (d *decoder) at(p, n int) []byte {
	if d.err == nil && (p < 0 || p > len(d.b)-n) {
		d.fail("offset %d points outside the %d bytes of the file", p, len(d.b))
	}
	if d.err != nil {
		return make([]byte, 8)
	}
	return d.b[p : p+n]
}

func (d *decoder) u8(p int) uint8   { return d.at(p, 1)[0] }
func (d *decoder) u16(p int) uint16 { return binary.LittleEndian.Uint16(d.at(p, 2)) }
func (d *decoder) u32(p int) uint32 { return binary.LittleEndian.Uint32(d.at(p, 4)) }
func (d *decoder) i32(p int) int32  { return int32(d.u32(p)) }

// table is a position in the file that holds a FlatBuffers table. The zero
// value stands for an absent table, all of whose fields have their defaults.
type table struct {
	d   *decoder
	pos int
}

func (t table) present() bool { return t.d != nil }

// field returns the position of field i, or 0 when the file leaves it out.
func (t table) field(i int) int {
	if t.d == nil {
		return 0
	}
	vtable := t.pos - int(t.d.i32(t.pos))
	if 4+2*i+2 > int(t.d.u16(vtable)) {
		return 0
	}
	off := int(t.d.u16(vtable + 4 + 2*i))
	if off == 0 || t.d.err != nil {
		return 0
	}
	return t.pos + off
}

func (t table) byte(i int) int {
	if p := t.field(i); p != 0 {
		return int(int8(t.d.u8(p)))
	}
	return 0
}

func (t table) bool(i int) bool { return t.byte(i) != 0 }

func (t table) int(i, def int) int {
	if p := t.field(i); p != 0 {
		return int(t.d.i32(p))
	}
	return def
}

// follow returns the position that the offset stored at p points to.
func (d *decoder) follow(p int) int { return p + int(d.u32(p)) }

func (t table) table(i int) table {
	p := t.field(i)
	if p == 0 {
		return table{}
	}
	return table{t.d, t.d.follow(p)}
}

// vector returns the start and length of vector field i with elements of
// size bytes each; the whole vector lies within the file.
func (t table) vector(i, size int) (start, n int) {
	p := t.field(i)
	if p == 0 {
		return 0, 0
	}
	v := t.d.follow(p)
	count := uint64(t.d.u32(v))
	if t.d.err != nil {
		return 0, 0
	}
	start = v + 4
	if count*uint64(size) > uint64(len(t.d.b)-start) {
		t.d.fail("a vector of %d elements does not fit in the file", count)
		return 0, 0
	}
	// Plain bytes are not copied, so they cost nothing.
	if size > 1 {
		if t.d.budget -= int(count); t.d.budget < 0 {
			t.d.fail("vectors overlap")
			return 0, 0
		}
	}
	return start, int(count)
}

func (t table) tables(i int) []table {
	s, n := t.vector(i, 4)
	r := make([]table, n)
	for k := range r {
		r[k] = table{t.d, t.d.follow(s + 4*k)}
	}
	return r
}

func (t table) ints(i int) []int {
	s, n := t.vector(i, 4)
	r := make([]int, n)
	for k := range r {
		r[k] = int(t.d.i32(s + 4*k))
	}
	return r
}

// bytes returns vector field i as a slice of the file itself.
func (t table) bytes(i int) []byte {
	s, n := t.vector(i, 1)
	if n == 0 {
		return nil
	}
	return t.d.b[s : s+n : s+n]
}
