package stage

import (
	"encoding/binary"
	"image"

	"volar/internal/coach"
	"volar/internal/hand"
	"volar/internal/live"
	"volar/internal/overlay"
)

// presenter draws what the client sees.
type presenter struct {
	paint *overlay.Painter
	swap  *swap
}

// draw mirrors a picture and draws the hands into it; marked says which joints
// of a side are in question.
func (p *presenter) draw(img *image.RGBA, hands []*hand.Observation, marked func(hand.Side) [hand.NumJoints]bool) *image.RGBA {
	w, h := img.Rect.Dx(), img.Rect.Dy()
	dst := p.swap.blank(w, h)
	mirror(dst, img)
	for _, o := range hands {
		if o == nil {
			continue
		}
		pts := *o.Drawn()
		for k := range pts {
			pts[k].X = float64(w) - 1 - pts[k].X
		}
		p.paint.Hand(dst, pts, marked(o.Side))
	}
	return dst
}

// mirror copies a packed picture with left and right exchanged.
func mirror(dst, src *image.RGBA) {
	w, h := src.Rect.Dx(), src.Rect.Dy()
	for y := range h {
		from := src.Pix[y*src.Stride : y*src.Stride+4*w]
		to := dst.Pix[y*dst.Stride : y*dst.Stride+4*w]
		for i, k := 0, 4*(w-1); k >= 0; i, k = i+4, k-4 {
			binary.NativeEndian.PutUint32(to[i:i+4], binary.NativeEndian.Uint32(from[k:k+4]))
		}
	}
}

// marks are the joints of a side in question: those with a flag, and for a flag
// on a finger its middle knuckle. A flag without a side is of the hand that is
// judged alone.
func marks(st *coach.PracticeStatus, side hand.Side) (m [hand.NumJoints]bool) {
	if st == nil || st.State != coach.Working {
		return m
	}
	flags := st.Coach.Flags
	if st.Other != nil {
		flags = append(flags[:len(flags):len(flags)], st.Other.Flags...)
	}
	for _, f := range flags {
		switch {
		case f.Side != hand.UnknownSide && f.Side != side:
		case f.OnJoint:
			m[f.Joint] = true
		case f.OnFinger && f.Finger == hand.Thumb:
			m[hand.ThumbIP] = true
		case f.OnFinger:
			m[hand.JointOf(f.Finger, hand.PIP)] = true
		}
	}
	return m
}

// drawn are the hands whose skeletons are shown: the exercising one first.
func (s *Stage) drawn(seen *live.Seen) []*hand.Observation {
	if a, ok := s.act.(*performing); ok && a.cfg.Coach.Movement.Hands != 2 {
		return []*hand.Observation{seen.Hand}
	}
	return []*hand.Observation{seen.Hand, seen.Other.Hand}
}
