package handrender

import (
	"bytes"
	"encoding/binary"
	"os"
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

// FuzzLoad feeds damaged files to the decoder and draws what it accepts.
func FuzzLoad(f *testing.F) {
	f.Add(defaultGLB)
	f.Add(defaultGLB[:1000])
	f.Add([]byte("glTF\x02\x00\x00\x00\x14\x00\x00\x00"))
	for _, old := range []string{`"count":1360`, `"byteOffset":0`, `"byteLength":16320`, `"mode":4`} {
		f.Add(bytes.Replace(defaultGLB, []byte(old), []byte(old[:len(old)-1]+"9"), 1))
	}
	f.Fuzz(func(t *testing.T, b []byte) {
		h, err := Load(b)
		if err != nil {
			require.ErrorIs(t, err, ErrBadGLB)
			return
		}
		r := NewRenderer(h, Options{Quality: Draft, Workers: 1})
		draw(r, Scene{Pose: FullFist(), Sleeve: Sleeve{On: true}}, 48, 32)
	})
}
