package exercise

import (
	"fmt"
	"time"

	"volar/internal/hand"
)

// Kind says how a movement is counted.
type Kind string

// The kinds of movement.
const (
	// Cycle goes from the start pose to the end pose and back; a repetition
	// counts on return.
	Cycle Kind = "cycle"
	// Hold keeps the end pose; a repetition is one hold of the wanted time.
	Hold Kind = "hold"
	// Sequence goes through several poses, the steps, one after the other; a
	// repetition is all of them in order and back to the start pose.
	Sequence Kind = "sequence"
	// Unmeasured is shown and described, but the camera cannot judge it.
	Unmeasured Kind = "unmeasured"
)

// Pair says how the two hands of a two-handed movement go together.
type Pair string

// The ways of two hands.
const (
	// Together: both hands do each repetition at the same time.
	Together Pair = "together"
	// Alternating: one hand does a repetition while the other keeps still.
	Alternating Pair = "alternating"
)

// Strength says what the movement works against, so that a precaution can
// leave it out.
type Strength string

// The kinds of strength work; NoStrength moves against no resistance.
const (
	NoStrength Strength = ""
	Pinch      Strength = "pinch"
	Squeeze    Strength = "squeeze"
	Stretch    Strength = "stretch"
)

// Grade is how hard an object makes a movement.
type Grade string

// The grades.
const (
	Easier Grade = "easier"
	Usual  Grade = "usual"
	Harder Grade = "harder"
)

// Movement is one entry of the catalogue. Its fields are those of the file.
type Movement struct {
	// ID is lower case with hyphens; it names the movement on the command
	// line and in stored programs and never changes.
	ID string `yaml:"id,required"`
	// Name is the trade's term where there is one.
	Name   string `yaml:"name,required"`
	Family string `yaml:"family,required"`
	Kind   Kind   `yaml:"kind,required"`
	// Purpose in plain words.
	Purpose string `yaml:"purpose,required"`
	// Hands is 1 or 2; with 2, Pair says how they go together and each hand is
	// judged by itself.
	Hands int  `yaml:"hands,required"`
	Pair  Pair `yaml:"pair"`
	// Opposite is true where the left hand turns and tilts the other way, as
	// in wringing.
	Opposite bool     `yaml:"opposite"`
	Strength Strength `yaml:"strength"`
	View     Views    `yaml:"view,required"`
	Objects  []Object `yaml:"objects"`
	Dose     Dose     `yaml:"dose,required"`
	// Poses by name, and each in words. The measure and the phases refer to
	// them.
	Poses     map[string]Pose   `yaml:"-"`
	PoseWords map[string]string `yaml:"-"`
	// Phases of one repetition. Those of a sequence follow from its steps and
	// are not in the file.
	Phases []Phase `yaml:"phases"`
	// Measure drives the phases. Unmeasured has only its start pose, a
	// sequence its start pose and the last step's.
	Measure Measure `yaml:"-"`
	// Steps of a sequence; Between names the pose to which the hand comes back
	// after each step but the last, and Back is how long each way back takes.
	// Without Between the hand goes straight from step to step.
	Steps       []Step  `yaml:"-"`
	Between     string  `yaml:"between"`
	BackSeconds float64 `yaml:"back_s"`
	Judge       Judge   `yaml:"judge"`
	Tempo       Tempo   `yaml:"tempo"`
	// Cautions for the client; AskFirst says when the surgeon or doctor is
	// asked before it is given.
	Cautions []string `yaml:"cautions,required"`
	AskFirst []string `yaml:"ask_first,required"`
	// Good and Poor describe repetitions.
	Good string   `yaml:"good,required"`
	Poor []string `yaml:"poor,required"`
	// Sources of the key poses and the dose.
	Sources []string `yaml:"sources,required"`
	// Notes say what the camera does not see of this movement.
	Notes []string `yaml:"notes"`
}

// Views are the two best ways to hold the hand before the camera.
type Views struct {
	Best   View `yaml:"best,required"`
	Second View `yaml:"second,required"`
}

// View is a way to hold the hand before the camera.
type View struct {
	// Name as hand.View gives it.
	Name string `yaml:"name,required"`
	// YawDeg as in hand.View: 0 palm to the camera, 90 thumb side.
	YawDeg float64 `yaml:"yaw_deg,required"`
	// RollDeg turns the picture of a right hand clockwise, that of a left hand
	// the other way: 0 has the fingers up, -90 in a view from the thumb side
	// has the forearm lying across the picture with the palm down.
	RollDeg float64 `yaml:"roll_deg"`
	// Shows is what this view is good for.
	Shows string `yaml:"shows,required"`
}

// Shape is an object's geometry, for drawing it.
type Shape string

// The shapes.
const (
	NoShape Shape = ""
	Roll    Shape = "roll"
	Ball    Shape = "ball"
	// Cloth lies flat on a table under the fingers, Lump is crumpled in the
	// hand, Band is an elastic band around the digits.
	Cloth Shape = "cloth"
	Lump  Shape = "lump"
	Band  Shape = "band"
)

// Object is a household object that the movement is done with.
type Object struct {
	ID    string `yaml:"id,required"`
	Name  string `yaml:"name,required"`
	Grade Grade  `yaml:"grade,required"`
	Shape Shape  `yaml:"shape"`
	// DiameterMM of a roll or ball.
	DiameterMM float64 `yaml:"diameter_mm"`
	// End names the pose that the hand reaches on this object; empty is the
	// measure's own end pose.
	End string `yaml:"end"`
	// Hard is true for what does not give way, Warm for what is used warm, so
	// that a precaution can leave them out.
	Hard bool `yaml:"hard"`
	Warm bool `yaml:"warm"`
}

// Dose is how much is usually prescribed; the therapist's program overrides
// it.
type Dose struct {
	Sets        int `yaml:"sets,required"`
	Repetitions int `yaml:"repetitions,required"`
	// HoldSeconds is how long the end pose is held; 0 is no hold.
	HoldSeconds float64 `yaml:"hold_s,required"`
	// RestSeconds between sets.
	RestSeconds float64 `yaml:"rest_s,required"`
	TimesADay   int     `yaml:"times_a_day,required"`
	DaysAWeek   int     `yaml:"days_a_week,required"`
}

// Hold returns the usual time in the end pose.
func (d Dose) Hold() time.Duration { return seconds(d.HoldSeconds) }

// PhaseName is what a phase is for.
type PhaseName string

// The phases.
const (
	Approach  PhaseName = "approach"
	HoldPhase PhaseName = "hold"
	Return    PhaseName = "return"
)

// Phase is one part of a repetition.
type Phase struct {
	Name PhaseName `yaml:"name,required"`
	// To names the pose at the end of the phase. The first phase begins at
	// the measure's start pose.
	To string `yaml:"to,required"`
	// Seconds the phase usually takes; a hold with 0 takes the dose's hold.
	Seconds float64 `yaml:"seconds"`
	// Say is what the client is told as the phase begins.
	Say string `yaml:"say"`
	// Step is the number, from 1, of the sequence's step that the phase belongs
	// to; 0 elsewhere and on the way back to the start.
	Step int `yaml:"-"`
}

// Combine says how the fingers make one measure.
type Combine string

// The ways to combine.
const (
	// Mean is the weighted mean over all joints.
	Mean Combine = "mean"
	// Least is the finger that is least far along.
	Least Combine = "least"
)

// Way is a channel's value in the start and in the end pose, in the channel's
// own unit.
type Way struct {
	From float64 `yaml:"from,required" json:"from"`
	To   float64 `yaml:"to,required" json:"to"`
}

// Measure is the closing measure: for each channel the way from its start
// value towards its end value, weighted, so that 0 is the start pose and 1 the
// end pose.
type Measure struct {
	// From and To name the start and the end pose.
	From, To string
	// Weights of the channels; 0 takes no part.
	Weights [hand.NumChannels]float64
	// Ways of the channels beyond the joints that have a weight. A joint's way
	// is that between the poses: see Movement.Way.
	Ways    map[hand.Channel]Way
	Combine Combine
	// Enter and Leave bound the end zone with hysteresis, Rest ends the
	// return, Attempt is where an approach counts as tried: shares of the
	// way, 0 < Rest < Attempt <= Leave < Enter < 1.
	Enter, Leave, Rest, Attempt float64
}

// Judge says what is judged beside the phases.
type Judge struct {
	// Lower and Upper are the limits that hold where the therapist has set
	// none, in degrees.
	Lower []Bound `yaml:"lower"`
	Upper []Bound `yaml:"upper"`
	// IncompleteGrip asks for a flag where closing stops short.
	IncompleteGrip bool `yaml:"incomplete_grip"`
	// Keep lists channels that must stay in a range in the end pose; leaving it
	// is a compensation.
	Keep []Keep `yaml:"keep"`
	// ApartDeg is how far neighbouring fingers may part in the end pose, in
	// degrees at the knuckles; 0 is not judged.
	ApartDeg float64 `yaml:"apart_deg"`
	// SteadyDeg is how far the hand may swing again and again from where it is
	// held, in degrees at the big and middle joints of a finger on average; 0 is
	// not judged.
	SteadyDeg float64 `yaml:"steady_deg"`
	// StayPutPalms is how far the hand as a whole may move in the picture
	// during a repetition, in palm lengths; more is the arm working instead of
	// the fingers, a compensation. 0 is not judged.
	StayPutPalms float64 `yaml:"stay_put_palms"`
	// Order asks for a flag where a step of a sequence is done before its turn.
	Order bool `yaml:"order"`
}

// Bound is one end of the allowed range of some joints.
type Bound struct {
	Joints Joints  `yaml:"joints,required"`
	Deg    float64 `yaml:"deg,required"`
}

// Keep is a range in which channels stay while the end pose is held.
type Keep struct {
	// Joints and Channels are what stays; one of them is given.
	Joints   Joints   `yaml:"joints"`
	Channels Channels `yaml:"channels"`
	From     *float64 `yaml:"from_deg"`
	To       *float64 `yaml:"to_deg"`
	// Say is what the client is told.
	Say string `yaml:"say,required"`
}

// All lists joints and channels together.
func (k Keep) All() []hand.Channel {
	var all []hand.Channel
	for _, j := range k.Joints {
		all = append(all, hand.Channel(j))
	}
	return append(all, k.Channels...)
}

// Joints is a set of joints, written as a pattern such as "*.pip".
type Joints []hand.Joint

// UnmarshalText reads a pattern as hand.ParseJoints does.
func (j *Joints) UnmarshalText(b []byte) (err error) {
	*j, err = hand.ParseJoints(string(b))
	return err
}

// Channels is a set of channels beyond the joints, written as a pattern such
// as "*.spread" or as one channel such as "index-middle.spread".
type Channels []hand.Channel

// UnmarshalText reads a pattern as hand.ParseChannels does.
func (k *Channels) UnmarshalText(b []byte) (err error) {
	*k, err = hand.ParseChannels(string(b))
	return err
}

// Tempo is how fast the movement is done.
type Tempo struct {
	// LeastSeconds is the least time for the way between start and end pose,
	// in either direction; 0 is 0.3 s.
	LeastSeconds float64 `yaml:"least_s"`
}

// Least returns the least time for the way between the poses.
func (t Tempo) Least() time.Duration {
	if t.LeastSeconds == 0 {
		return 300 * time.Millisecond
	}
	return seconds(t.LeastSeconds)
}

// StartPose is where a repetition begins.
func (m *Movement) StartPose() Pose { return m.Poses[m.Measure.From] }

// EndPose is where a repetition leads.
func (m *Movement) EndPose() Pose { return m.Poses[m.Measure.To] }

// Object returns the object with the given ID; "" is the first of the usual
// grade, or no object where the movement has none.
func (m *Movement) Object(id string) (Object, error) {
	for _, o := range m.Objects {
		if o.ID == id || id == "" && o.Grade == Usual {
			return o, nil
		}
	}
	if id == "" {
		return Object{}, nil
	}
	return Object{}, fmt.Errorf("movement %s has no object %q; it has %s", m.ID, id, listed(m.Objects))
}

// With returns the movement as done with one of its objects: the end pose is
// the one reached on that object, in the measure and in the phases. An empty
// id takes the usual object.
func (m *Movement) With(id string) (*Movement, error) {
	o, err := m.Object(id)
	if err != nil {
		return nil, err
	}
	n := *m
	if o.End == "" || o.End == m.Measure.To {
		return &n, nil
	}
	n.Measure.To = o.End
	n.Phases = make([]Phase, len(m.Phases))
	for i, p := range m.Phases {
		if p.To == m.Measure.To {
			p.To = o.End
		}
		n.Phases[i] = p
	}
	return &n, nil
}
