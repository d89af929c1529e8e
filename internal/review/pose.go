package review

import (
	"math"

	"volar/internal/hand"
	"volar/internal/session"
)

// PoseOf is the hand as a sample has it, and which of its joints were judged.
// What was not measured, such as the wrist, stays straight; how far the fingers
// spread and the thumb stands off is taken over where it was seen.
func PoseOf(x *session.Sample) (p hand.Pose, judged [hand.NumJoints]bool) {
	var a [hand.NumJoints]float64
	for j := range a {
		if m := &x.Joints[j]; !math.IsNaN(m.FlexionDeg) {
			a[j], judged[j] = m.FlexionDeg, m.Judged
		}
	}
	p = p.WithFlexion(a)
	spread := func(i int) float64 {
		if d := x.AbductionDeg[i]; !math.IsNaN(d) {
			return d
		}
		return 0
	}
	p.Fingers[0].Abduction = spread(0)
	p.Fingers[2].Abduction = spread(1)
	p.Fingers[3].Abduction = spread(1) + spread(2)
	for c, to := range map[hand.Channel]*float64{hand.ThumbPalmar: &p.Thumb.Palmar, hand.ThumbRadial: &p.Thumb.Radial} {
		if m := x.Channel(c); m.Judged && !math.IsNaN(m.FlexionDeg) {
			*to = m.FlexionDeg
		}
	}
	return p, judged
}

// FrameSize is the size of the camera's picture in pixels, from where a sample
// has the middle of the palm in pixels and its points as shares; ok is false
// where that does not say.
func FrameSize(x *session.Sample) (width, height float64, ok bool) {
	var mx, my float64
	rigid := [...]int{hand.Wrist, hand.Index.MCP(), hand.Middle.MCP(), hand.Ring.MCP(), hand.Little.MCP()}
	for _, i := range rigid {
		mx += x.Points[i][0] / float64(len(rigid))
		my += x.Points[i][1] / float64(len(rigid))
	}
	width, height = x.Palm.X/mx, x.Palm.Y/my
	if !x.Found || !(width > 50 && width < 10000 && height > 50 && height < 10000) {
		return 0, 0, false
	}
	return width, height, true
}
