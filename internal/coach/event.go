package coach

import (
	"time"

	"volar/internal/hand"
)

// Event is something that the coach noticed. The concrete types are
// PhaseChanged, RepetitionCounted, RepetitionPartial, SetCompleted, StepReached,
// HoldStarted, HoldMet, HoldEnded, FlagRaised, FlagEnded, CannotJudge,
// CanJudge, Paused, Resumed and Cue. A Pair adds PairCounted, and a Practice
// SetStarted, SetDone, RestStarted, RestEnded, PracticePaused, PracticeResumed,
// StoppedForPain, PracticeDone and GradeHint.
type Event interface {
	// When is the capture time of the sample that brought the event about.
	// What the event speaks of may lie a little before it.
	When() time.Duration
	event()
}

// stamp carries the time of an event, and the hand that it speaks of: the side
// that its coach was made for.
type stamp struct {
	At   time.Duration
	Side hand.Side
}

func (s stamp) When() time.Duration { return s.At }
func (stamp) event()                {}

// Phase is where in a repetition the hand is.
type Phase string

// The phases. NotStarted lasts until the hand is first seen at rest or in the
// end zone.
const (
	NotStarted Phase = "not started"
	AtRest     Phase = "rest"
	Approach   Phase = "approach"
	InEndZone  Phase = "hold"
	Returning  Phase = "return"
)

// PhaseChanged says that the hand went from one phase to another.
type PhaseChanged struct {
	stamp
	From, To Phase
}

// RepetitionCounted says that a repetition was completed.
type RepetitionCounted struct {
	stamp
	Repetition Repetition
}

// RepetitionPartial says that a repetition fell short.
type RepetitionPartial struct {
	stamp
	Repetition Repetition
}

// SetCompleted says that the wanted number of repetitions is counted.
type SetCompleted struct {
	stamp
	Counted int
}

// StepReached says that the hand has done a step of a sequence.
type StepReached struct {
	stamp
	// Step is its number, from 1.
	Step int
	Name string
	// Repetition is the attempt that it belongs to.
	Repetition int
}

// HoldStarted says that the end pose is reached and is being held.
type HoldStarted struct {
	stamp
	// Wanted is the time to hold.
	Wanted time.Duration
}

// HoldMet says that the wanted time is held and the hand may return.
type HoldMet struct{ stamp }

// HoldEnded says that the end pose was left.
type HoldEnded struct {
	stamp
	Hold Hold
}

// FlagRaised says that something is wrong now. End is not known yet, and Peak
// is what was seen so far.
type FlagRaised struct {
	stamp
	Flag Flag
}

// FlagEnded says that it no longer is. A flag on a whole repetition ends as it
// is raised.
type FlagEnded struct {
	stamp
	Flag Flag
}

// CannotJudge says that some joints or other channels cannot be judged, and
// why.
type CannotJudge struct {
	stamp
	Joints   []hand.Joint
	Channels []hand.Channel
	// Extension is true where only the question whether the joints are past
	// straight cannot be answered.
	Extension bool
	Why       hand.Reason
}

// CanJudge says that the joints can be judged again.
type CanJudge struct {
	stamp
	Joints    []hand.Joint
	Channels  []hand.Channel
	Extension bool
}

// Paused says that the movement cannot be followed and the clock stands.
type Paused struct {
	stamp
	Why hand.Reason
}

// Resumed says that the movement can be followed again.
type Resumed struct {
	stamp
	// Away is how long it could not.
	Away time.Duration
}

// Cue is what to tell the client now: one short sentence.
type Cue struct {
	stamp
	Text string
	// Urgent cues interrupt what is being said.
	Urgent bool
	// Praise is true where something went well.
	Praise bool
	weight int
}

// FlagKind names what is wrong.
type FlagKind string

// The kinds of flag. Hyperextension is any joint below its lower limit, also
// where that limit is not straight; OverFlexion any joint above its upper one.
// OutOfOrder is a step of a sequence before its turn, or one of two hands
// without the other; Unsteady a hold that wavers.
const (
	Hyperextension FlagKind = "hyperextension"
	OverFlexion    FlagKind = "over-flexion"
	IncompleteGrip FlagKind = "incomplete-grip"
	ShortHold      FlagKind = "short-hold"
	TooFast        FlagKind = "too-fast"
	Compensation   FlagKind = "compensation"
	OutOfOrder     FlagKind = "out-of-order"
	Unsteady       FlagKind = "unsteady"
)

// Flag is one fault, from its onset to its end.
type Flag struct {
	Kind FlagKind
	// Side is the hand that the coach was made for.
	Side hand.Side
	// Joint is where the fault is; OnJoint is false for a fault of no single
	// joint. An incomplete grip names the joint that is most short of its own
	// share.
	Joint   hand.Joint
	OnJoint bool
	// Finger is the digit, and Between the other one where two have parted;
	// both are meaningful only if OnFinger.
	Finger, Between hand.Finger
	OnFinger        bool
	Start, End      time.Duration
	// PeakDeg is the worst angle and LimitDeg the limit that it passed, with
	// the standard error of one reading at the peak; the peak is as read, not
	// counted from the joint's own zero. For an incomplete grip they are the
	// finger's composite flexion reached and wanted; for a channel that is no
	// joint they are in its own unit, and for the arm in percent of the palm's
	// length.
	PeakDeg, LimitDeg, SEDeg float64
	// Took and Wanted are the times of a short hold or a fast movement.
	Took, Wanted time.Duration
	// Repetition is the attempt in which it happened, from 1; before the first
	// attempt it is 1, and between two the coming one.
	Repetition int
	// Name is the step that was done out of order, or what moved in a
	// compensation of no joint or finger: "arm", or "hand" for one that left
	// the picture.
	Name string
	// Say is what the movement's file says about it; may be empty.
	Say string
}

// Subject names where the fault is, such as "index.pip", "little",
// "index-middle", "arm" or a step's name; empty for the movement as a whole.
func (f Flag) Subject() string {
	switch {
	case f.OnJoint:
		return f.Joint.String()
	case f.OnFinger && f.Between != f.Finger:
		return f.Finger.String() + "-" + f.Between.String()
	case f.OnFinger:
		return f.Finger.String()
	}
	return f.Name
}

// Hold is one time in the end pose.
type Hold struct {
	Start, End time.Duration
	// Held is the time in which the pose was seen held: End - Start less what
	// could not be seen.
	Held   time.Duration
	Wanted time.Duration
	// Met is true where Held reached Wanted, within the tolerance for timing.
	Met bool
	// Unsure is true where it was not met but might have been while the hand
	// could not be seen, before it first came into view, or where the recording
	// ended in the hold.
	Unsure bool
	// Repetition is the attempt that the hold belongs to, from 1.
	Repetition int
	// Side is the hand that held.
	Side hand.Side
	// Step is the name of the sequence's step that was held; empty elsewhere.
	Step string
}

// Verdict is what became of a repetition.
type Verdict string

// The verdicts. Unjudged is an attempt that could not be seen well enough, or
// that the end of the recording cut off.
const (
	Counted  Verdict = "counted"
	Partial  Verdict = "partial"
	Unjudged Verdict = "unjudged"
)

// Repetition is one attempt.
type Repetition struct {
	// Number of the attempt, from 1, whatever its verdict: of two hands each
	// counts its own.
	Number int
	// Side is the hand that made it.
	Side       hand.Side
	Verdict    Verdict
	Start, End time.Duration
	// Share is the greatest share of the way that was reached.
	Share float64
	// Fingers gives each finger's greatest share, index to little and NaN
	// where it was not judged or takes no part.
	Fingers [4]float64
	// Missing names the steps of a sequence that were not done.
	Missing []string
	// Approach and Return are how long the way between the poses took; 0 where
	// it was not seen.
	Approach, Return time.Duration
}

// Summary is what came of an exercise.
type Summary struct {
	Movement   string
	Side       hand.Side
	Start, End time.Duration
	// Samples counts the samples taken, and Dropped those out of order.
	Samples, Dropped int
	// Watched is the time from Start to End without the pauses that the client
	// made; every share is one of it.
	Watched time.Duration
	// Measured is the share of the time in which the movement could be
	// followed.
	Measured    float64
	Counted     int
	Partial     int
	Unjudged    int
	Repetitions []Repetition
	Holds       []Hold
	// Flags by onset.
	Flags []Flag
	// NotJudged has the joints that were to be judged and could not be for
	// more than a hundredth of the time, worst first.
	NotJudged []NotJudged
	// NotSeen is the same for the channels that are no joints, in their order.
	NotSeen []ChannelNotJudged
	// Angles has the joints that were seen, and Channels the other channels.
	Angles   []AngleRange
	Channels []ChannelRange
	// Last are the events that the end itself brought about.
	Last []Event
}

// NotJudged says how much of the time a joint could not be judged.
type NotJudged struct {
	Joint hand.Joint
	// Extension is true where it is about passing straight.
	Extension bool
	Share     float64
	// Why is the most frequent reason.
	Why hand.Reason
}

// ChannelNotJudged is NotJudged for a channel that is no joint.
type ChannelNotJudged struct {
	Channel hand.Channel
	Share   float64
	Why     hand.Reason
}

// ChannelRange is AngleRange for a channel that is no joint, in its own unit.
type ChannelRange struct {
	Channel  hand.Channel
	Min, Max float64
}

// AngleRange is the range in which a joint was seen, in degrees: the least and
// the greatest median of the readings of 0.25 s, at least three, so that a
// single wild reading does not count.
type AngleRange struct {
	Joint          hand.Joint
	MinDeg, MaxDeg float64
	// MinJudged is false where the least angle lay near straight in a view
	// that does not show whether the joint passed it, and no view that does had
	// it near straight; MinDeg is then no less than 0 and says nothing on
	// hyperextension.
	MinJudged bool
}
