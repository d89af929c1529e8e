package handrender

import (
	"math"
	"testing"

	"github.com/stretchr/testify/require"

	"volar/internal/hand"
)

// volume is the volume below a surface by the divergence theorem. The hole at
// the elbow end adds the same to every pose, for it does not move.
func volume(pos []vec, tris [][3]int32) float64 {
	v := 0.0
	for _, t := range tris {
		v += pos[t[0]].dot(pos[t[1]].cross(pos[t[2]])) / 6
	}
	return v
}

func deformed(h *Hand, p Pose) ([]vec, *posed) {
	var s posed
	h.solve(&p, &s)
	out := make([]vec, len(h.pos))
	h.deform(out, h.pos, &s)
	return out, &s
}

// handVolume leaves the forearm out: the triangles past the wrist are fixed.
func handVolume(h *Hand, pos []vec) float64 {
	var tris [][3]int32
	for _, t := range h.tris {
		if h.pos[t[0]].Y > -0.03 {
			tris = append(tris, t)
		}
	}
	return volume(pos, tris)
}

// TestBendsKeepVolume closes the hand and asks that little more flesh goes
// missing than is pressed into the creases.
func TestBendsKeepVolume(t *testing.T) {
	h := defaultHand(t)
	straight, _ := deformed(h, Straight())
	want := handVolume(h, straight)
	require.InDelta(t, 300e-6, want, 150e-6, "cubic metres")
	for name, p := range map[string]Pose{"hook": Hook(), "fist": FullFist(), "tabletop": Tabletop(), "hyperextended": Hyperextended(20)} {
		pos, _ := deformed(h, p)
		t.Logf("%s: %.3f of the volume", name, handVolume(h, pos)/want)
		require.InDelta(t, 1, handVolume(h, pos)/want, 0.05, name)
	}
}

// TestKnuckleKeepsItsThickness measures the distance from the joint to the
// skin over its back and at its sides, straight and bent.
func TestKnuckleKeepsItsThickness(t *testing.T) {
	h := defaultHand(t)
	thickness := func(p Pose, f hand.Finger, k int) (back, side float64) {
		pos, s := deformed(h, p)
		r := h.digits[f].radius[k]
		var nb, ns float64
		for i := range pos {
			if h.inf[i].main != int8(f) {
				continue
			}
			a, up, w := h.local(f, k, h.pos[i])
			if math.Abs(a) > 0.35*r {
				continue
			}
			d := pos[i].sub(s.joints[chainBone(f, k)]).norm()
			switch {
			case up > 0.8*r:
				back, nb = back+d, nb+1
			case math.Abs(w) > 0.8*r && up > -0.2*r:
				side, ns = side+d, ns+1
			}
		}
		return back / nb, side / ns
	}
	for _, f := range hand.Fingers {
		for k := 1; k <= 2; k++ {
			back, side := thickness(Straight(), f, k)
			for _, deg := range []float64{30, 60, 90, 105} {
				p := all(0, 0, 0)
				joint := [3]*float64{nil, &p.Fingers[f-1].PIP, &p.Fingers[f-1].DIP}
				*joint[k] = deg
				b, s := thickness(p, f, k)
				require.InDelta(t, 1, b/back, 0.15, "%s joint %d at %v, back", f, k, deg)
				require.InDelta(t, 1, s/side, 0.15, "%s joint %d at %v, side", f, k, deg)
			}
		}
	}
}

// TestCreaseDoesNotCross checks that the volar skin on the two sides of a bent
// joint does not pass the plane between them.
func TestCreaseDoesNotCross(t *testing.T) {
	h := defaultHand(t)
	for _, deg := range []float64{40, 75, 110} {
		p := all(0, deg, 0)
		pos, s := deformed(h, p)
		for _, f := range hand.Fingers {
			before := s.joints[chainBone(f, 1)].sub(s.joints[chainBone(f, 0)]).unit()
			after := s.joints[chainBone(f, 2)].sub(s.joints[chainBone(f, 1)]).unit()
			inward, across := after.sub(before).unit(), after.add(before).unit()
			r := h.digits[f].radius[1]
			for i := range pos {
				a, _, _ := h.local(f, 1, h.pos[i])
				if h.inf[i].main != int8(f) || math.Abs(a) > 2.5*r || h.inf[i].bend[1] > 0 || h.inf[i].share[f] < 0.99 {
					continue
				}
				q := pos[i].sub(s.joints[chainBone(f, 1)])
				if q.dot(inward) < 0.4*r {
					continue
				}
				side := math.Copysign(1, float64(h.inf[i].bend[0])-0.5)
				require.Greater(t, side*q.dot(across), -0.0006, "%s at %v", f, deg)
			}
		}
	}
}

// TestHyperextensionBulges looks for the volar skin standing out at the PIP
// joint.
func TestHyperextensionBulges(t *testing.T) {
	h := defaultHand(t)
	depth := func(pip float64) float64 {
		p := all(0, pip, 0)
		pos, s := deformed(h, p)
		f := hand.Index
		at := s.joints[chainBone(f, 1)]
		back := s.bone[chainBone(f, 0)].apply(h.dorsal[chainBone(f, 0)])
		d := 0.0
		for i := range pos {
			a, _, _ := h.local(f, 1, h.pos[i])
			if h.inf[i].main == int8(f) && math.Abs(a) < 0.003 {
				d = max(d, -pos[i].sub(at).dot(back))
			}
		}
		return d
	}
	require.Greater(t, depth(-20)/depth(0), 1.05)
	require.Greater(t, depth(-15), depth(-5))
}

// TestForearmFollowsTheWrist checks the sense of wrist flexion and ulnar
// deviation, and that the fingers stay.
func TestForearmFollowsTheWrist(t *testing.T) {
	h := defaultHand(t)
	elbow := func(p Pose) (c vec, tips vec) {
		pos, s := deformed(h, p)
		n := 0.0
		for i := range pos {
			if h.pos[i].Y < -0.25 {
				c, n = c.add(pos[i]), n+1
			}
		}
		return c.mul(1 / n), s.joints[chainBone(hand.Middle, 3)]
	}
	rest, tip := elbow(Pose{})
	bent, same := elbow(Pose{Wrist: WristPose{Flexion: 40}})
	require.Equal(t, tip, same)
	require.Greater(t, bent.Z, rest.Z+0.1, "flexion closes the palm on the forearm")
	bent, _ = elbow(Pose{Wrist: WristPose{Deviation: 20}})
	require.Less(t, bent.X, rest.X-0.05, "ulnar deviation closes the ulnar side")
	require.InDelta(t, 40*degree, math.Acos(clamp(bentAngle(h, 40).dot(vec{0, -1, 0}), -1, 1)), 1e-9)
}

// bentAngle is where the forearm's own axis points at a flexion.
func bentAngle(h *Hand, deg float64) vec {
	var s posed
	p := Pose{Wrist: WristPose{Flexion: deg}}
	h.solve(&p, &s)
	m := s.forearm.matrix(1)
	return m.apply(vec{0, -1, 0})
}
