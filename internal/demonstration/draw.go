package demonstration

import (
	"volar/internal/exercise"
	"volar/internal/handrender"
)

// Object puts a household object into the renderer's words, in its usual
// place in the hand.
func Object(o exercise.Object) handrender.Object {
	radius := o.DiameterMM / 2000 // metres
	switch o.Shape {
	case exercise.Ball:
		return handrender.Object{Kind: handrender.Ball, Radius: radius}
	case exercise.Roll:
		return handrender.Object{Kind: handrender.Roll, Radius: radius, Fabric: handrender.Fabric{Pattern: handrender.Terry}}
	case exercise.Cloth:
		return handrender.Object{Kind: handrender.Cloth, Fabric: handrender.Fabric{Pattern: handrender.Weave}}
	case exercise.Lump:
		return handrender.Object{Kind: handrender.Lump, Radius: radius}
	case exercise.Band:
		return handrender.Object{Kind: handrender.Band}
	}
	return handrender.Object{}
}
