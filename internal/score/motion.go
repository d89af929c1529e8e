package score

import (
	"math"

	"volar/internal/hand"
)

// Reading is one measured angle.
type Reading struct {
	Deg float64
	// SEDeg is the standard error; 0 is not known.
	SEDeg float64
	// Judged is false where the angle could not be measured; Deg then means
	// nothing.
	Judged bool
}

// Judged returns a reading that could be measured, of no known error.
func Judged(deg float64) Reading { return Reading{Deg: deg, Judged: true} }

func (r Reading) ok() bool { return r.Judged && !math.IsNaN(r.Deg) && !math.IsInf(r.Deg, 0) }

// Motion is how far a joint goes: its angle when straightened as far as it
// goes, and when bent as far as it goes.
type Motion struct{ Extension, Flexion Reading }

// Digit is the motion of a finger's MCP, PIP and DIP joints or of the thumb's MP
// and IP joints, in one straightening and one fist.
type Digit struct {
	Finger hand.Finger
	MCP    Motion
	// PIP is the thumb's IP joint.
	PIP Motion
	// DIP is not looked at for the thumb.
	DIP Motion
}

// joints pairs the digit's joints with their motion, proximal first.
func (d Digit) joints() []part {
	p := []part{{hand.JointOf(d.Finger, hand.MCP), d.MCP}, {hand.JointOf(d.Finger, hand.PIP), d.PIP}}
	if d.Finger != hand.Thumb {
		p = append(p, part{hand.JointOf(d.Finger, hand.DIP), d.DIP})
	}
	return p
}

type part struct {
	joint  hand.Joint
	motion Motion
}

// Options of a sum. The zero value counts degrees past straight as nothing.
type Options struct {
	// HyperextensionIsDeficit counts degrees past straight at the PIP, DIP and
	// IP joints as an extension deficit.
	HyperextensionIsDeficit bool
}

// Sum is a sum of joint motions.
type Sum struct {
	// Complete is false where a joint is missing; Deg, Flexion and Deficit then
	// mean nothing and are 0.
	Complete bool
	// Deg is Flexion less Deficit, all in degrees.
	Deg, Flexion, Deficit float64
	// SEDeg is the standard error of Deg where that of every reading is known,
	// taken as independent; else 0.
	SEDeg float64
	// Missing lists the joints that could not be judged, Hyperextended those
	// that went past straight.
	Missing, Hyperextended []hand.Joint
}

func sum(parts []part, o Options) (s Sum) {
	s.Complete = true
	var variance float64
	known := true
	for _, p := range parts {
		e, f := p.motion.Extension, p.motion.Flexion
		if !e.ok() || !f.ok() {
			s.Missing = append(s.Missing, p.joint)
			s.Complete = false
			continue
		}
		deficit := math.Max(e.Deg, 0)
		if e.Deg < 0 {
			s.Hyperextended = append(s.Hyperextended, p.joint)
			if o.HyperextensionIsDeficit && p.joint.Kind() != hand.MCP {
				deficit = -e.Deg
			}
		}
		s.Flexion += f.Deg
		s.Deficit += deficit
		known = known && e.SEDeg > 0 && f.SEDeg > 0
		variance += f.SEDeg * f.SEDeg
		// An extension that counts as none adds no error.
		if deficit > 0 {
			variance += e.SEDeg * e.SEDeg
		}
	}
	if !s.Complete {
		s.Flexion, s.Deficit = 0, 0
		return s
	}
	s.Deg = s.Flexion - s.Deficit
	if known && len(parts) > 0 {
		s.SEDeg = math.Sqrt(variance)
	}
	return s
}

// TotalMotion is total active motion (TAM): the flexion of all joints of a
// digit in one fist less their extension deficits (American Society for Surgery
// of the Hand). With passive readings it is total passive motion (TPM).
func TotalMotion(d Digit, o Options) Sum { return sum(d.joints(), o) }

// InterphalangealMotion is what the scores named after Strickland are made
// from: the flexion of the PIP and DIP joints less their extension deficits.
func InterphalangealMotion(d Digit, o Options) Sum { return sum(d.joints()[1:], o) }

// CompositeFlexion is the flexion of all joints of a digit in one fist,
// whatever they lack in extension.
func CompositeFlexion(d Digit) Sum {
	parts := d.joints()
	for i := range parts {
		parts[i].motion.Extension = Reading{SEDeg: parts[i].motion.Flexion.SEDeg, Judged: true}
	}
	return sum(parts, Options{})
}
