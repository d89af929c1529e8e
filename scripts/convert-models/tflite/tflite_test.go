package tflite

import (
	"encoding/binary"
	"errors"
	"math"
	"testing"

	"github.com/stretchr/testify/require"
)

// builder writes FlatBuffers back to front, the way the format is meant to be
// written: a test needs files that this package did not make by reading.
type builder struct {
	b []byte // the file so far, from position len(b) before its end
}

// object is the distance of something from the end of the file.
type object int

func (w *builder) prepend(p []byte)  { w.b = append(append([]byte(nil), p...), w.b...) }
func (w *builder) here() object      { return object(len(w.b)) }
func (w *builder) u32(v uint32)      { w.prepend(binary.LittleEndian.AppendUint32(nil, v)) }
func (w *builder) offset(o object)   { w.u32(uint32(len(w.b) + 4 - int(o))) }
func (w *builder) align(size, n int) { w.prepend(make([]byte, (n-(len(w.b)+size)%n)%n)) }

func (w *builder) bytes(p []byte) object {
	w.align(len(p), 4)
	w.prepend(p)
	w.u32(uint32(len(p)))
	return w.here()
}

func (w *builder) ints(v ...int) object {
	for i := len(v) - 1; i >= 0; i-- {
		w.u32(uint32(int32(v[i])))
	}
	w.u32(uint32(len(v)))
	return w.here()
}

func (w *builder) objects(v ...object) object {
	for i := len(v) - 1; i >= 0; i-- {
		w.offset(v[i])
	}
	w.u32(uint32(len(v)))
	return w.here()
}

// table writes fields by number: an object is written as an offset, an int as
// 32 bits, a byte as one, nil is left out.
func (w *builder) table(fields ...any) object {
	at := make([]object, len(fields))
	for i := len(fields) - 1; i >= 0; i-- {
		switch v := fields[i].(type) {
		case object:
			w.offset(v)
		case int:
			w.u32(uint32(int32(v)))
		case byte:
			w.u32(uint32(v))
		case nil:
			continue
		}
		at[i] = w.here()
	}
	size := 4 + 2*len(fields)
	w.u32(uint32(size)) // the table begins with the distance back to its vtable
	table := w.here()
	vtable := []byte{}
	vtable = binary.LittleEndian.AppendUint16(vtable, uint16(size))
	vtable = binary.LittleEndian.AppendUint16(vtable, uint16(4+4*len(fields)))
	for _, o := range at {
		off := uint16(0)
		if o != 0 {
			off = uint16(table - o)
		}
		vtable = binary.LittleEndian.AppendUint16(vtable, off)
	}
	// Tables stand at multiples of 4 in this file, and so must the vtable.
	pad := (4 - len(vtable)%4) % 4
	w.b = append(append([]byte(nil), vtable...), append(make([]byte, pad), w.b...)...)
	binary.LittleEndian.PutUint32(w.b[len(w.b)-int(table):], uint32(size+pad))
	return table
}

func (w *builder) file(root object) []byte {
	w.prepend([]byte("TFL3"))
	w.offset(root)
	return w.b
}

// sample is a file with a float16 weight that is widened and a convolution
// that uses it.
func sample() []byte {
	w := &builder{}
	weights := make([]byte, 0, 2*3*1*2*2)
	for _, h := range []uint16{0x3c00, 0x4000, 0x4200, 0x4400, 0x4500, 0x4600, 0x4700, 0x4800, 0xbc00, 0xc000, 0x0001, 0x0000} {
		weights = binary.LittleEndian.AppendUint16(weights, h)
	}
	tensor := func(name string, typ byte, buffer int, shape ...int) object {
		n, s := w.bytes([]byte(name)), w.ints(shape...)
		return w.table(s, typ, buffer, n)
	}
	// Shapes: image 1×4×4×2, filter 3 outputs × 1×2 × 2 inputs, result 1×2×4×3.
	tensors := w.objects(
		tensor("image", 0, 0, 1, 4, 4, 2),
		tensor("weights16", 1, 1, 3, 1, 2, 2),
		tensor("weights32", 0, 0, 3, 1, 2, 2),
		tensor("result", 0, 0, 1, 2, 4, 3),
	)
	conv := w.table(byte(1), 1, 2, byte(3), nil, nil) // VALID, stride w 1, h 2, ReLU6
	widen := w.table(0, w.ints(1), w.ints(2))
	convolve := w.table(1, w.ints(0, 2, -1), w.ints(3), byte(1), conv)
	ops := w.objects(widen, convolve)
	graph := w.table(tensors, w.ints(0), w.ints(3), ops)
	buffers := w.objects(w.table(), w.table(w.bytes(weights)))
	codes := w.objects(w.table(byte(6)), w.table(byte(3), nil, nil, 3))
	root := w.table(3, codes, w.objects(graph), nil, buffers)
	return w.file(root)
}

func TestParse(t *testing.T) {
	m, err := Parse(sample())
	require.NoError(t, err)
	require.Equal(t, []int{0}, m.In)
	require.Equal(t, []int{3}, m.Out)
	require.Len(t, m.Tensors, 4)
	require.Equal(t, "image", m.Tensors[0].Name)
	require.Equal(t, []int{1, 4, 4, 2}, m.Tensors[0].Shape)
	require.Equal(t, 32, m.Tensors[0].Len())
	require.False(t, m.Tensors[0].Constant())
	require.Equal(t, Float16, m.Tensors[1].Type)
	require.Equal(t, []float32{1, 2, 3, 4, 5, 6, 7, 8, -1, -2, 0x1p-24, 0}, m.Tensors[1].Floats())
	require.Equal(t, []Op{
		{Code: Dequantize, In: []int{1}, Out: []int{2}},
		{Code: Conv2D, In: []int{0, 2, -1}, Out: []int{3}, Options: Options{
			Valid: true, Stride: [2]int{2, 1}, Dilation: [2]int{1, 1}, Activation: FusedReLU6}},
	}, m.Ops)
}

// TestWiden checks the conversion of half precision against the definition in
// IEEE 754-2019, section 3.4, for all 65536 numbers.
func TestWiden(t *testing.T) {
	for h := range 1 << 16 {
		sign, exp, frac := float64(1), h>>10&31, float64(h&1023)
		if h>>15 == 1 {
			sign = -1
		}
		got := float64(widen(uint16(h)))
		switch exp {
		case 0:
			require.Equal(t, sign*math.Ldexp(frac, -24), got)
			require.Equal(t, sign < 0, math.Signbit(got), "the sign of zero")
		case 31:
			if frac == 0 {
				require.Equal(t, math.Inf(int(sign)), got)
			} else {
				require.True(t, math.IsNaN(got))
			}
		default:
			require.Equal(t, sign*math.Ldexp(1+frac/1024, exp-15), got)
		}
	}
}

func TestInts(t *testing.T) {
	x := Tensor{Type: Int32, Shape: []int{2}, Data: []byte{1, 0, 0, 0, 0xff, 0xff, 0xff, 0xff}}
	require.Equal(t, []int{1, -1}, x.Ints())
	require.Nil(t, x.Floats())
	require.Nil(t, Tensor{Type: Float32, Shape: []int{1}, Data: make([]byte, 4)}.Ints())
}

func TestParseRefuses(t *testing.T) {
	good := sample()
	for name, b := range map[string][]byte{
		"nothing":       nil,
		"a text":        []byte("certainly not a model"),
		"only the mark": []byte("\x08\x00\x00\x00TFL3"),
		"the root far":  append([]byte{0xff, 0xff, 0xff, 0x7f}, good[4:]...),
		"the root back": append([]byte{0, 0, 0, 0}, good[4:]...),
	} {
		t.Run(name, func(t *testing.T) {
			m, err := Parse(b)
			require.Error(t, err)
			require.True(t, errors.Is(err, ErrCorrupt) || errors.Is(err, ErrUnsupported), "%v", err)
			require.Nil(t, m)
		})
	}
	// Wherever the file is cut, something that it points to is missing; only
	// the last three bytes are padding.
	for n := range len(good) - 3 {
		_, err := Parse(good[:n])
		require.Error(t, err, "cut to %d of %d bytes", n, len(good))
	}
}

// TestOverlapIsBounded points a thousand vectors at the same thousand
// numbers: a reader that follows them all would allocate a million.
func TestOverlapIsBounded(t *testing.T) {
	w := &builder{}
	shape := w.ints(make([]int, 1000)...)
	one := w.table(shape, byte(0), 0)
	same := make([]object, 1000)
	for i := range same {
		same[i] = one
	}
	graph := w.table(w.objects(same...), w.ints(), w.ints(), w.objects())
	root := w.table(3, w.objects(), w.objects(graph), nil, w.objects(w.table()))
	_, err := Parse(w.file(root))
	require.ErrorIs(t, err, ErrCorrupt)
	require.ErrorContains(t, err, "vectors overlap")
}

func TestCodesHaveNames(t *testing.T) {
	require.Equal(t, "CONV_2D", Conv2D.String())
	require.Equal(t, "operator 77", Code(77).String())
}

// FuzzParse wants an error or a model that holds together, never a panic and
// never much more memory than the file has bytes.
func FuzzParse(f *testing.F) {
	f.Add(sample())
	f.Add([]byte("\x08\x00\x00\x00TFL3"))
	f.Fuzz(func(t *testing.T, b []byte) {
		m, err := Parse(b)
		if err != nil {
			require.True(t, errors.Is(err, ErrCorrupt) || errors.Is(err, ErrUnsupported), "%v", err)
			require.Nil(t, m)
			return
		}
		for _, x := range m.Tensors {
			if x.Constant() && x.Type != Int32 {
				require.Len(t, x.Floats(), x.Len())
			}
		}
		for _, op := range m.Ops {
			for _, i := range op.Out {
				require.Less(t, i, len(m.Tensors))
			}
		}
	})
}
