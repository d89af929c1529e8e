package main

import (
	"image"
	"testing"

	"github.com/stretchr/testify/require"

	"volar/internal/hand"
	"volar/internal/handrender"
	"volar/scripts/unseen"
)

// What can be seen, on postures where anybody can tell.
func TestSight(t *testing.T) {
	h, err := handrender.Default()
	require.NoError(t, err)
	r := handrender.NewRenderer(h, handrender.Options{})
	img := image.NewRGBA(image.Rect(0, 0, 320, 240))
	away := handrender.Camera{OffsetX: 0.9}
	for _, c := range []struct {
		name             string
		pose             handrender.Pose
		yaw, pitch       float64
		camera           handrender.Camera
		joint            hand.Joint
		angle, extension sight
	}{
		{"open palm", handrender.Straight(), 0, 0, handrender.Camera{}, hand.RingPIP, plain, hidden},
		{"open back", handrender.Straight(), 180, 0, handrender.Camera{}, hand.IndexPIP, plain, hidden},
		{"thumb side, in front", handrender.Straight(), 90, 0, handrender.Camera{}, hand.IndexPIP, plain, plain},
		{"little-finger side, in front", handrender.Straight(), -90, 0, handrender.Camera{}, hand.LittlePIP, plain, plain},
		{"thumb side, behind", handrender.Straight(), 90, 0, handrender.Camera{}, hand.RingPIP, hidden, hidden},
		{"half turned", handrender.Straight(), 50, 0, handrender.Camera{}, hand.IndexPIP, plain, partly},
		{"fingers at the camera", handrender.Straight(), 0, 60, handrender.Camera{}, hand.IndexPIP, partly, hidden},
		{"fist from the back", handrender.FullFist(), 180, 0, handrender.Camera{}, hand.MiddleDIP, hidden, hidden},
		{"out of the picture", handrender.Straight(), 90, 0, away, hand.IndexPIP, hidden, hidden},
	} {
		truth := r.Render(img, handrender.Scene{Pose: c.pose, View: handrender.View{Yaw: c.yaw, Pitch: c.pitch}, Camera: c.camera})
		require.Equal(t, c.angle, angleSight(&truth, c.joint), c.name)
		if c.joint.Kind() == hand.PIP {
			require.Equal(t, c.extension, extensionSight(&truth, c.joint), c.name)
		}
	}
}

// Skin tones, sides and meshes must not hang together, or one is taken for the
// other.
func TestShapesAreBalanced(t *testing.T) {
	meshes := []unseen.Hand{{Name: "a"}, {Name: "b"}, {Name: "c"}}
	type cell struct {
		mesh    string
		quarter int
		side    hand.Side
	}
	n := map[cell]int{}
	for _, s := range shapes(meshes, 8, 1) {
		n[cell{s.mesh.Name, quarterOf(s.skin.Tone), s.side}]++
	}
	require.Len(t, n, 3*4*2)
	for c, k := range n {
		require.Equal(t, 1, k, "%v", c)
	}
	again := shapes(meshes, 8, 1)
	require.Equal(t, again[5].bones, shapes(meshes, 8, 1)[5].bones)
	require.NotEqual(t, again[5].bones, shapes(meshes, 8, 2)[5].bones)
}
