package stage

import (
	"math"
	"time"

	"volar/internal/exercise"
	"volar/internal/hand"
	"volar/internal/live"
)

// Step is what has to be put right before the exercise can be seen well.
type Step string

// The steps, in the order in which they are asked for.
const (
	ShowHand   Step = "show hand"
	OtherHand  Step = "other hand"
	ComeNearer Step = "come nearer"
	GoBack     Step = "go back"
	MoveIn     Step = "move in"
	MoreLight  Step = "more light"
	TurnHand   Step = "turn hand"
	AllWell    Step = "all well"
)

// Check is how the check of the camera stands: one instruction at a time.
type Check struct {
	Step  Step
	Words string
	// Wanted is the view to turn the hand to.
	Wanted exercise.View
	// Well is for how long all has been well, and Ready true once that was long
	// enough.
	Well  time.Duration
	Ready bool
}

// CheckOptions say what is checked for.
type CheckOptions struct {
	Side hand.Side
	// Both hands have to be seen.
	Both bool
	View exercise.View
	// Steady is how long all has to be well; 0 is 1 s.
	Steady time.Duration
}

// What is asked of a picture. A palm that is an eighth of the picture's height
// is 60 pixels in the usual 480, twice what the goniometer judges at least, so
// that the hand may move away a little; a hand that touches the edge soon
// leaves it; the brightness is twice what the goniometer judges at least.
// 40° is what parts the named views from their neighbours. All are choices.
const (
	leastPalm   = 1.0 / 8
	edgeShare   = 0.02
	leastLuma   = 0.12
	turnLeeway  = 40.0
	steadyFor   = time.Second
	instruction = 700 * time.Millisecond // an instruction stays at least so long
)

// checker is the state of a check. It is pure: what it says follows from what
// it is shown.
type checker struct {
	opt    CheckOptions
	now    Check
	begun  bool
	since  time.Duration // the instruction shown now
	wellAt time.Duration
	isWell bool
}

func newChecker(o CheckOptions) *checker {
	if o.Steady == 0 {
		o.Steady = steadyFor
	}
	c := &checker{opt: o}
	c.now = Check{Step: ShowHand, Words: c.words(ShowHand), Wanted: o.View}
	return c
}

// see takes what one picture of w×h showed.
func (c *checker) see(at time.Duration, s *live.Seen, w, h int) {
	step := c.judge(&s.Watched, &s.Other, w, h)
	if step == AllWell {
		if !c.isWell {
			c.isWell, c.wellAt = true, at
		}
	} else {
		c.isWell = false
	}
	if step != c.now.Step && (!c.begun || at-c.since >= instruction) {
		c.now.Step, c.now.Words, c.since, c.begun = step, c.words(step), at, true
	}
	c.now.Well = 0
	if c.isWell {
		c.now.Well = at - c.wellAt
	}
	c.now.Ready = c.isWell && c.now.Step == AllWell && c.now.Well >= c.opt.Steady
}

func (c *checker) judge(own, other *live.Watched, w, h int) Step {
	hands := []*live.Watched{own}
	if c.opt.Both {
		hands = append(hands, other)
	}
	for _, x := range hands {
		if x.Hand == nil {
			if !c.opt.Both && other.Hand != nil {
				return OtherHand
			}
			return ShowHand
		}
	}
	for _, x := range hands {
		if step := placed(x, w, h); step != AllWell {
			return step
		}
	}
	for _, x := range hands {
		if x.Hand.Luma < leastLuma {
			return MoreLight
		}
	}
	for _, x := range hands {
		if off := math.Abs(angleBetween(x.Sample.View.YawDeg, c.opt.View.YawDeg)); off > turnLeeway+x.Sample.View.SEDeg {
			return TurnHand
		}
	}
	return AllWell
}

// placed says whether a hand is large enough and within the picture.
func placed(x *live.Watched, w, h int) Step {
	if x.Sample.PalmPixels < leastPalm*float64(h) {
		return ComeNearer
	}
	left, right := math.Inf(1), math.Inf(-1)
	top, bottom := left, right
	for i, p := range x.Hand.Image {
		left, right = math.Min(left, p.X), math.Max(right, p.X)
		// The wrist may be cut off by the lower edge as long as the fingers
		// are not.
		if i != hand.Wrist {
			top, bottom = math.Min(top, p.Y), math.Max(bottom, p.Y)
		}
	}
	mx, my := edgeShare*float64(w), edgeShare*float64(h)
	out := left < mx || right > float64(w)-mx || top < my || bottom > float64(h)-my
	switch {
	case out && (right-left > 0.8*float64(w) || bottom-top > 0.8*float64(h)):
		return GoBack
	case out:
		return MoveIn
	}
	return AllWell
}

// angleBetween is the difference of two directions in degrees, -180 to 180.
func angleBetween(a, b float64) float64 { return math.Remainder(a-b, 360) }

func (c *checker) words(s Step) string {
	which := "hand"
	switch {
	case c.opt.Both:
		which = "hands"
	case c.opt.Side != hand.UnknownSide:
		which = c.opt.Side.String() + " hand"
	}
	switch s {
	case ShowHand:
		if c.opt.Both {
			return "Show both hands to the camera."
		}
		return "Show your " + which + " to the camera."
	case OtherHand:
		return "That is the other hand. Show your " + which + "."
	case ComeNearer:
		return "Bring your " + which + " nearer to the camera."
	case GoBack:
		return "Move your " + which + " a little away from the camera."
	case MoveIn:
		return "Move your " + which + " to the middle of the picture."
	case MoreLight:
		return "It is too dark. Turn on a light in front of you."
	case TurnHand:
		return "Turn your " + which + " as in the picture: " + TurnWords(c.opt.View) + "."
	}
	return "Good. Stay there."
}

// TurnWords says a view from the client's side of the hand.
func TurnWords(v exercise.View) string {
	switch y := math.Remainder(v.YawDeg, 360); {
	case y > 55 && y < 125:
		return "thumb side to the camera"
	case y < -55 && y > -125:
		return "little-finger side to the camera"
	case y >= -55 && y <= 55:
		return "palm to the camera"
	}
	return "back of the hand to the camera"
}
