package demonstration

import (
	"volar/internal/exercise"
	"volar/internal/handrender"
)

// rollBeyond is how far a roll stands out past the index finger of one hand that
// holds it, metres: held at its end, as the movements say, for an end that stands
// out towards a camera on the thumb side hides the fingers.
const rollBeyond = 0.01

// Held is an object of a movement as its hands hold it. Of two hands each has an
// end of a roll, and the rest of it is between them.
func Held(m *exercise.Movement, o exercise.Object) handrender.Object {
	held := Object(o)
	if held.Kind == handrender.Roll {
		held.Shared = m.Hands == 2
		if !held.Shared {
			held.Beyond = rollBeyond
		}
	}
	return held
}

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
