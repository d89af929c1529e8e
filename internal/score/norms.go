package score

import "volar/internal/hand"

// Span is a range of motion in degrees, hyperextension negative.
type Span struct{ From, To float64 }

// Norm is what one set says of one joint.
type Norm struct {
	Span Span
	// HasFrom is false where the set says nothing of extension.
	HasFrom bool
	// FromMemory is true where an end could not be read again when it was
	// written down.
	FromMemory bool
}

// Use says what a set describes.
type Use string

// The uses.
const (
	// Normal is how far healthy joints go.
	Normal Use = "normal"
	// Functional is what everyday tasks need.
	Functional Use = "functional"
)

// NormSet is a named table of ranges. Sets differ, the DIP joint's flexion by
// 20 to 27 degrees, so that a comparison names its set.
type NormSet struct {
	ID     string
	Name   string
	Source string
	Use    Use
	joints map[hand.Joint]Norm
}

// Of returns what the set says of the joint; ok is false where it says nothing.
func (s *NormSet) Of(j hand.Joint) (n Norm, ok bool) {
	n, ok = s.joints[j]
	return n, ok
}

// TAM is the sum of a digit's flexion in the set; ok is false where it lacks a
// joint, and for functional sets, which no digit is to be graded by.
func (s *NormSet) TAM(f hand.Finger) (deg float64, ok bool) {
	if s.Use != Normal {
		return 0, false
	}
	for _, p := range (Digit{Finger: f}).joints() {
		n, ok := s.joints[p.joint]
		if !ok {
			return 0, false
		}
		deg += n.Span.To
	}
	return deg, true
}

// NormSets returns the tables, normal ranges first.
func NormSets() []*NormSet {
	return []*NormSet{assh(), aaos1965(), aaos1994(), ama(), hume(), bain(), hayashi()}
}

// FindNormSet returns the set with the ID.
func FindNormSet(id string) (*NormSet, bool) {
	for _, s := range NormSets() {
		if s.ID == id {
			return s, true
		}
	}
	return nil, false
}

// fingers sets the same norm for a level of all four fingers.
func fingers(m map[hand.Joint]Norm, k hand.Kind, n Norm) {
	for _, f := range hand.Fingers {
		m[hand.JointOf(f, k)] = n
	}
}

// each sets a level of the fingers, index to little.
func each(m map[hand.Joint]Norm, k hand.Kind, n [4]Norm) {
	for i, f := range hand.Fingers {
		m[hand.JointOf(f, k)] = n[i]
	}
}

func span(from, to float64) Norm      { return Norm{Span: Span{from, to}, HasFrom: true} }
func to(deg float64) Norm             { return Norm{Span: Span{0, deg}} }
func fromMemory(n Norm) Norm          { n.FromMemory = true; return n }
func memorySpan(from, t float64) Norm { return fromMemory(span(from, t)) }

// assh is the arithmetic behind the 260 degrees of total active motion.
func assh() *NormSet {
	m := map[hand.Joint]Norm{}
	fingers(m, hand.MCP, to(85))
	fingers(m, hand.PIP, to(110))
	fingers(m, hand.DIP, to(65))
	return &NormSet{"assh", "ASSH, total active motion 260°", "the sum behind the ASSH's 260 degrees: MCP 85, PIP 110, DIP 65", Normal, m}
}

func aaos1965() *NormSet {
	m := map[hand.Joint]Norm{hand.ThumbMP: to(50)}
	fingers(m, hand.MCP, span(-45, 90))
	fingers(m, hand.PIP, span(0, 100))
	fingers(m, hand.DIP, span(0, 90))
	return &NormSet{"aaos-1965", "AAOS 1965", "American Academy of Orthopaedic Surgeons, Joint Motion, 1965, by later handbooks", Normal, m}
}

// aaos1994 has PIP and DIP flexion as read; the rest is that of Mallon, Brown
// and Nunley 1991 (J Hand Surg Am 16:882-887; 60 young adults).
func aaos1994() *NormSet {
	m := map[hand.Joint]Norm{hand.ThumbIP: to(73)}
	each(m, hand.MCP, [4]Norm{memorySpan(-22, 86), memorySpan(-18, 91), memorySpan(-23, 99), memorySpan(-19, 105)})
	each(m, hand.PIP, [4]Norm{memorySpan(-7, 102), memorySpan(-7, 105), memorySpan(-6, 108), memorySpan(-9, 106)})
	each(m, hand.DIP, [4]Norm{to(72), to(71), to(63), to(65)})
	return &NormSet{"aaos-1994", "AAOS 1994", "Greene and Heckman, The Clinical Measurement of Joint Motion, 1994; PIP and DIP flexion by Kosmahl 1999; MCP and all hyperextension from memory", Normal, m}
}

func ama() *NormSet {
	m := map[hand.Joint]Norm{hand.ThumbIP: to(80)}
	fingers(m, hand.MCP, memorySpan(-20, 90))
	fingers(m, hand.PIP, to(100))
	fingers(m, hand.DIP, to(70))
	return &NormSet{"ama", "AMA Guides", "American Medical Association, Guides to the Evaluation of Permanent Impairment, 4th and 5th edition; PIP, DIP and IP by Kosmahl 1999; MCP from memory", Normal, m}
}

func hume() *NormSet {
	m := map[hand.Joint]Norm{hand.ThumbMP: to(21), hand.ThumbIP: to(18)}
	fingers(m, hand.MCP, to(61))
	fingers(m, hand.PIP, to(60))
	fingers(m, hand.DIP, to(39))
	return &NormSet{"hume-1990", "Hume 1990, mean flexion in 11 tasks", "Hume, Gellman, McKellop and Brumfield 1990, J Hand Surg Am 15:240-243", Functional, m}
}

func bain() *NormSet {
	m := map[hand.Joint]Norm{}
	fingers(m, hand.MCP, span(19, 71))
	fingers(m, hand.PIP, span(23, 87))
	fingers(m, hand.DIP, span(10, 64))
	return &NormSet{"bain-2015", "Bain 2015, 90 % of 20 tasks", "Bain, Polites, Higgs et al. 2015, J Hand Surg Eur 40:406-411", Functional, m}
}

func hayashi() *NormSet {
	m := map[hand.Joint]Norm{}
	each(m, hand.MCP, [4]Norm{span(-10, 60), span(-10, 75), span(-10, 80), span(-10, 85)})
	return &NormSet{"hayashi-2013", "Hayashi and Shimizu 2013, MCP in 19 tasks", "Hayashi and Shimizu 2013, J Hand Ther 26:69-73", Functional, m}
}
