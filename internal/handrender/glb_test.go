package handrender

import (
	"bytes"
	"encoding/binary"
	"fmt"
	"math"
	"os"
	"strconv"
	"strings"
	"testing"

	"github.com/stretchr/testify/require"

	"volar/internal/hand"
)

// TestLoadLeft reads a left-hand file: in hand axes it looks like the right
// one, to the few millimetres by which the two files differ.
func TestLoadLeft(t *testing.T) {
	b, err := os.ReadFile("testdata/left.glb")
	require.NoError(t, err)
	left, err := Load(b)
	require.NoError(t, err)
	right := defaultHand(t)
	for i := range right.joints {
		require.Less(t, left.joints[i].sub(right.joints[i]).norm(), 0.009, boneNames[i])
	}
	require.Greater(t, left.joints[bone(hand.Thumb, 1)].X, 0.02, "the thumb is radial")
	require.InDelta(t, 1, handVolume(left, left.pos)/handVolume(right, right.pos), 0.03, "triangles face outwards")
	require.InDelta(t, 0.092, right.PalmLength(), 0.002)
}

// bone must number the joints as boneNames lists them.
func TestBoneNumbers(t *testing.T) {
	require.Equal(t, "thumb-phalanx-distal", boneNames[chainBone(hand.Thumb, 2)])
	require.Equal(t, "thumb-tip", boneNames[bone(hand.Thumb, 3)])
	require.Equal(t, "index-finger-phalanx-proximal", boneNames[chainBone(hand.Index, 0)])
	require.Equal(t, "pinky-finger-tip", boneNames[chainBone(hand.Little, 3)])
}

// TestLoadRefuses damages the built-in file in one place each.
func TestLoadRefuses(t *testing.T) {
	swap := func(old, new string) []byte {
		require.Equal(t, len(old), len(new))
		require.True(t, bytes.Contains(defaultGLB, []byte(old)), old)
		return bytes.Replace(defaultGLB, []byte(old), []byte(new), 1)
	}
	u32 := func(at int, v uint32) []byte {
		b := bytes.Clone(defaultGLB)
		binary.LittleEndian.PutUint32(b[at:], v)
		return b
	}
	for _, c := range []struct {
		name string
		b    []byte
		says string
	}{
		{"empty", nil, "no glTF magic"},
		{"text", []byte("this is not a model of anything"), "no glTF magic"},
		{"version", u32(4, 1), "version 1"},
		{"length", u32(8, 1<<30), "header says"},
		{"chunk", u32(12, 1<<31), "past the end"},
		{"truncated", defaultGLB[:len(defaultGLB)-100], "header says"},
		{"JSON", swap(`{"asset"`, `["asset"`), "JSON chunk"},
		{"joint name", swap(`"thumb-tip"`, `"thumb-top"`), `"thumb-tip" missing`},
		{"accessor count", swap(`"count":1360`, `"count":9360`), "buffer view"},
		{"accessor number", swap(`"JOINTS_0":3`, `"JOINTS_0":9`), "accessor 9"},
		{"negative accessor", swap(`"indices":5`, `"indices":-`), "JSON chunk"},
		{"type", swap(`"type":"VEC3"`, `"type":"VEC2"`), "VEC3"},
		{"component", swap(`"componentType":5121`, `"componentType":5120`), "component type"},
		{"no weights", swap(`"WEIGHTS_0"`, `"WEIGHTS_9"`), "WEIGHTS_0"},
	} {
		t.Run(c.name, func(t *testing.T) {
			_, err := Load(c.b)
			require.ErrorIs(t, err, ErrBadGLB)
			require.ErrorContains(t, err, c.says)
		})
	}
}

// tinyGLB is a complete rigged hand of 25 boxes, one to a joint, small enough
// to be fuzzed.
func tinyGLB() []byte {
	le := binary.LittleEndian
	var bin []byte
	f32 := func(v ...float64) {
		for _, x := range v {
			bin = le.AppendUint32(bin, math.Float32bits(float32(x)))
		}
	}
	at := func(b int) vec { // joints of a flat hand, palm towards +Z
		if b == boneWrist {
			return vec{}
		}
		d, k := 0, b-1
		if b >= 5 {
			d, k = b/5, (b-5)%5
		}
		return vec{0.04 - 0.02*float64(d), 0.02 + 0.025*float64(k), 0}
	}
	for b := range numBones { // inverse bind matrices, Y to the back
		p := at(b)
		f32(1, 0, 0, 0, 0, 0, 1, 0, 0, -1, 0, 0, -p.X, p.Z, -p.Y, 1)
	}
	for b := range numBones {
		for c := range 8 {
			p := at(b)
			f32(p.X+0.008*float64(c&1), p.Y+0.02*float64(c>>1&1), p.Z+0.01*float64(c>>2))
		}
	}
	for b := range numBones {
		for range 8 {
			bin = append(bin, byte(b), 0, 0, 0)
		}
	}
	for range 8 * numBones {
		f32(1, 0, 0, 0)
	}
	indices := len(bin)
	for b := range numBones {
		for _, i := range []int{0, 2, 1, 1, 2, 3, 4, 5, 6, 5, 7, 6, 0, 1, 4, 1, 5, 4, 2, 6, 3, 3, 6, 7, 0, 4, 2, 2, 4, 6, 1, 3, 5, 3, 7, 5} {
			bin = le.AppendUint16(bin, uint16(8*b+i))
		}
	}
	n := 8 * numBones
	var nodes, joints []string
	for i, name := range boneNames {
		nodes = append(nodes, fmt.Sprintf(`{"name":%q}`, name))
		joints = append(joints, strconv.Itoa(i))
	}
	o1, o2, o3 := 64*numBones, 64*numBones+12*n, 64*numBones+16*n
	doc := fmt.Sprintf(`{"nodes":[%s],"skins":[{"joints":[%s],"inverseBindMatrices":0}],`+
		`"meshes":[{"primitives":[{"attributes":{"POSITION":1,"JOINTS_0":2,"WEIGHTS_0":3},"indices":4}]}],`+
		`"accessors":[{"bufferView":0,"componentType":5126,"count":%d,"type":"MAT4"},{"bufferView":1,"componentType":5126,"count":%d,"type":"VEC3"},`+
		`{"bufferView":2,"componentType":5121,"count":%d,"type":"VEC4"},{"bufferView":3,"componentType":5126,"count":%d,"type":"VEC4"},`+
		`{"bufferView":4,"componentType":5123,"count":%d,"type":"SCALAR"}],`+
		`"bufferViews":[{"byteLength":%d},{"byteOffset":%d,"byteLength":%d},{"byteOffset":%d,"byteLength":%d},{"byteOffset":%d,"byteLength":%d},{"byteOffset":%d,"byteLength":%d}]}`,
		strings.Join(nodes, ","), strings.Join(joints, ","), numBones, n, n, n, 36*numBones,
		o1, o1, 12*n, o2, 4*n, o3, 16*n, indices, len(bin)-indices)
	for len(doc)%4 != 0 {
		doc += " "
	}
	b := le.AppendUint32([]byte("glTF"), 2)
	b = le.AppendUint32(b, uint32(28+len(doc)+len(bin)))
	b = append(le.AppendUint32(le.AppendUint32(b, uint32(len(doc))), 0x4E4F534A), doc...)
	return append(le.AppendUint32(le.AppendUint32(b, uint32(len(bin))), 0x004E4942), bin...)
}

func TestTinyHandLoads(t *testing.T) {
	h, err := Load(tinyGLB())
	require.NoError(t, err)
	require.InDelta(t, 0.045, h.joints[chainBone(hand.Middle, 0)].Y, 1e-6)
}

// FuzzLoad feeds damaged files to the decoder and draws what it accepts.
func FuzzLoad(f *testing.F) {
	tiny := tinyGLB()
	f.Add(tiny)
	f.Add(tiny[:1000])
	f.Add([]byte("glTF\x02\x00\x00\x00\x14\x00\x00\x00"))
	for _, old := range []string{`"count":200`, `"byteOffset":1600`, `"byteLength":2400`, `"VEC4"`, `5121`} {
		f.Add(bytes.Replace(tiny, []byte(old), []byte(old[:len(old)-1]+"9"), 1))
	}
	f.Fuzz(func(t *testing.T, b []byte) {
		h, err := Load(b)
		if err != nil {
			require.ErrorIs(t, err, ErrBadGLB)
			return
		}
		r := NewRenderer(h, Options{Quality: Draft, Workers: 1})
		draw(r, Scene{Pose: FullFist(), Sleeve: Sleeve{On: true}}, 16, 12)
	})
}
