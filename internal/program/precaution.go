package program

import (
	"slices"

	"volar/internal/exercise"
)

// Precaution is something about the client that every exercise must respect.
type Precaution struct {
	Kind PrecautionKind `yaml:"kind,required" json:"kind"`
	// Words are the therapist's own, such as which finger.
	Words string `yaml:"words" json:"words,omitzero"`
}

// PrecautionKind is what kind of precaution it is.
type PrecautionKind string

// The precautions.
const (
	LaxJoints       PrecautionKind = "lax-joints"
	Arthritis       PrecautionKind = "arthritis"
	HealingTendon   PrecautionKind = "healing-tendon"
	HealingFracture PrecautionKind = "healing-fracture"
	SensationLoss   PrecautionKind = "sensation-loss"
)

// PrecautionKinds lists them.
var PrecautionKinds = [...]PrecautionKind{LaxJoints, Arthritis, HealingTendon, HealingFracture, SensationLoss}

// Avoid is something that no exercise of the program may ask for.
type Avoid string

// What can be avoided.
const (
	// Heat is an object that is used warm.
	Heat Avoid = "heat"
	// HardObjects do not give way.
	HardObjects Avoid = "hard-objects"
	// StrongPinch is pinching with force between thumb and finger.
	StrongPinch Avoid = "strong-pinch"
	// Resistance is any work against one: pinch, grip or band.
	Resistance Avoid = "resistance"
	// HarderGrade is the harder object of a movement.
	HarderGrade Avoid = "harder-grade"
)

// Avoids lists them.
var Avoids = [...]Avoid{Heat, HardObjects, StrongPinch, Resistance, HarderGrade}

// Defaults is what goes with a precaution unless the therapist says otherwise.
// All of it is common practice: no publication gives a limit for lax joints,
// and healing tissue has the surgeon's protocol, which no default can know.
type Defaults struct {
	Limits        []Limit
	Avoid         []Avoid
	Cue           Cue
	SideViewCheck bool
	// LowerDose asks for LowerDose of each exercise.
	LowerDose bool
	// Why says it for a person.
	Why string
}

// Defaults returns what goes with the precaution.
func (k PrecautionKind) Defaults() Defaults {
	switch k {
	case LaxJoints:
		return Defaults{
			Limits: []Limit{{
				Joints: "*.pip", Schedule: []Step{{Lower: Deg(0)}},
				Reason: "lax joints: the middle knuckles are not to pass straight",
			}},
			Cue: EarlyCue, SideViewCheck: true,
			Why: "middle knuckles (PIP) not past straight, told early, hand shown from the side first",
		}
	case Arthritis:
		return Defaults{Avoid: []Avoid{StrongPinch}, LowerDose: true, Why: "no strong pinch, lower dose"}
	case HealingTendon, HealingFracture:
		return Defaults{Avoid: []Avoid{Resistance, HarderGrade}, Why: "no resistance, no harder grade; limits by the surgeon's protocol, to be written in"}
	case SensationLoss:
		return Defaults{Avoid: []Avoid{Heat, HardObjects}, Why: "no heat and no hard objects, which the fingers would not feel"}
	}
	return Defaults{}
}

// LowerDose is the dose that goes with arthritis: one set of at most 5
// repetitions, at most twice a day (patients' leaflets on rheumatoid
// arthritis).
func LowerDose(d exercise.Dose) exercise.Dose {
	d.Sets, d.Repetitions, d.TimesADay = 1, min(d.Repetitions, 5), min(d.TimesADay, 2)
	return d
}

// Has reports whether the program has the precaution.
func (p *Program) Has(k PrecautionKind) bool {
	return slices.ContainsFunc(p.Precautions, func(c Precaution) bool { return c.Kind == k })
}
