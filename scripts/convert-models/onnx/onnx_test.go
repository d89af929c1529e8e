package onnx

import (
	"encoding/hex"
	"testing"

	"github.com/stretchr/testify/require"
	"google.golang.org/protobuf/encoding/protowire"
)

// get returns what message b holds in field f, decoded by the protobuf
// library rather than by this package.
func get(t *testing.T, b []byte, f protowire.Number) (bytes [][]byte, numbers []uint64) {
	t.Helper()
	for len(b) > 0 {
		num, typ, n := protowire.ConsumeTag(b)
		require.GreaterOrEqual(t, n, 0)
		b = b[n:]
		switch typ {
		case protowire.BytesType:
			v, n := protowire.ConsumeBytes(b)
			require.GreaterOrEqual(t, n, 0)
			if num == f {
				bytes = append(bytes, v)
			}
			b = b[n:]
		case protowire.VarintType:
			v, n := protowire.ConsumeVarint(b)
			require.GreaterOrEqual(t, n, 0)
			if num == f {
				numbers = append(numbers, v)
			}
			b = b[n:]
		case protowire.Fixed32Type:
			v, n := protowire.ConsumeFixed32(b)
			require.GreaterOrEqual(t, n, 0)
			if num == f {
				numbers = append(numbers, uint64(v))
			}
			b = b[n:]
		default:
			t.Fatalf("wire type %d", typ)
		}
	}
	return bytes, numbers
}

func one(t *testing.T, b []byte, f protowire.Number) string {
	t.Helper()
	v, _ := get(t, b, f)
	require.Len(t, v, 1)
	return string(v[0])
}

func sample() *Graph {
	var g Graph
	g.Input("x", 1, 3)
	g.Output("y", 1, 2)
	g.Floats("w", []int{2, 3}, []float32{1, 2, 3, 4, 5, -6})
	g.Int64s("shape", 1, -1)
	g.Node("Gemm", []string{"x", "w"}, []string{"y"},
		Int("transB", 1), Float("alpha", 0.5), String("note", "n"), Ints("pads", 0, 1, -1))
	return &g
}

// TestMarshal reads the encoded model back field by field. The numbers are
// those of onnx.proto in ONNX 1.6.
func TestMarshal(t *testing.T) {
	b := sample().Marshal("g", "producer", "doc", 11)
	_, ir := get(t, b, 1)
	require.Equal(t, []uint64{6}, ir)
	require.Equal(t, "producer", one(t, b, 2))
	require.Equal(t, "doc", one(t, b, 6))
	opset := []byte(one(t, b, 8))
	require.Equal(t, "", one(t, opset, 1), "the standard domain")
	_, version := get(t, opset, 2)
	require.Equal(t, []uint64{11}, version)

	graph := []byte(one(t, b, 7))
	require.Equal(t, "g", one(t, graph, 2))
	for f, name := range map[protowire.Number]string{11: "x", 12: "y"} {
		v := []byte(one(t, graph, f))
		require.Equal(t, name, one(t, v, 1))
		tensor := []byte(one(t, []byte(one(t, v, 2)), 1))
		_, elem := get(t, tensor, 1)
		require.Equal(t, []uint64{1}, elem, "float32")
		dims, _ := get(t, []byte(one(t, tensor, 2)), 1)
		require.Len(t, dims, 2)
	}

	constants, _ := get(t, graph, 5)
	require.Len(t, constants, 2)
	_, dims := get(t, constants[0], 1)
	require.Equal(t, []uint64{2, 3}, dims)
	require.Equal(t, "w", one(t, constants[0], 8))
	require.Equal(t, "0000803f00000040000040400000804000"+"00a0400000c0c0", hex.EncodeToString([]byte(one(t, constants[0], 9))))
	require.Equal(t, "0100000000000000ffffffffffffffff", hex.EncodeToString([]byte(one(t, constants[1], 9))))

	node := []byte(one(t, graph, 1))
	in, _ := get(t, node, 1)
	require.Equal(t, [][]byte{[]byte("x"), []byte("w")}, in)
	require.Equal(t, "y", one(t, node, 2))
	require.Equal(t, "Gemm/y", one(t, node, 3))
	require.Equal(t, "Gemm", one(t, node, 4))
	attrs, _ := get(t, node, 5)
	require.Len(t, attrs, 4)
	for i, want := range []struct {
		name  string
		field protowire.Number
		value []uint64
		kind  uint64
	}{
		{"transB", 3, []uint64{1}, 2},
		{"alpha", 2, []uint64{0x3f000000}, 1},
		{"note", 3, nil, 3},
		{"pads", 8, []uint64{0, 1, 0xffffffffffffffff}, 7},
	} {
		require.Equal(t, want.name, one(t, attrs[i], 1))
		_, v := get(t, attrs[i], want.field)
		require.Equal(t, want.value, v)
		_, kind := get(t, attrs[i], 20)
		require.Equal(t, []uint64{want.kind}, kind)
	}
	require.Equal(t, "n", one(t, attrs[2], 4))
}

func TestMarshalIsTheSameEachTime(t *testing.T) {
	require.Equal(t, sample().Marshal("g", "p", "d", 10), sample().Marshal("g", "p", "d", 10))
}
