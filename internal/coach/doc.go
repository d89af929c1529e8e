// Package coach judges an exercise while it is done: samples of what a hand's
// joints and its other channels measure go in, events come out.
//
// A Coach judges one hand through one set, a Pair two hands that work together,
// and a Practice leads a client through the sets and rests of an exercise and
// stops for pain. All three are pure state machines: no clock, no input or
// output, no goroutine; time comes in with each sample or input. The same
// inputs give the same events. Each is for one goroutine at a time.
//
// # Units and time
//
// Degrees with flexion positive and hyperextension negative. Times are capture
// times since the session began and must rise; a sample that does not come
// after the one before it is dropped and counted. Frame rates from 5 to 60 a
// second may vary freely. Shares run from 0 at the movement's start pose to 1
// at its end pose. The coach reads Measurement.RawDeg, what one picture says,
// and does its own smoothing, because a filter's lag would show in the times.
//
// # Repetitions
//
// The closing measure of the movement, smoothed over 0.12 s, drives the
// phases with hysteresis. An approach that reaches the end zone and comes back
// to rest is one repetition, counted on return. An approach that went past the
// attempt threshold and came back without reaching the end zone is a partial
// repetition with an incomplete-grip flag, or is not judged where the view shows
// the way so badly that the end zone lies within the error of the reading. The end
// zone is a share of the way between the key poses, or between the client's own
// recorded start and end angles, and it moves up, never down, with what this client
// usually reaches in this exercise: a first repetition that was partial cannot lower
// the bar for the second. The rest zone moves up, to at most half way, for a hand
// that never opens fully.
//
// A recording that begins in the end zone is taken up there. One that ends
// before the hand is back: a repetition whose hold was met, or that was on its
// way back, is counted; one that was still held too short or still closing is
// not judged. For movements of kind hold a repetition is one hold of the
// wanted time, and needs no return.
//
// One finger that stays behind while the others close does not undo a
// repetition: it is counted, with an incomplete-grip flag that names the finger.
// It is partial where the hand as a whole fell short.
//
// # Channels
//
// What drives a movement may be any hand.Channel: joints, the spread of
// neighbouring fingers, the distance from thumb to fingertip, the thumb's
// abduction, the hand's tilt and turn. Each counts from its start to its end
// value, in its own unit. Tilt and turn hang on how the forearm lies before the
// camera, so they are counted from where the hand rests as the set begins; a
// turn that shows another side of the hand than the movement can come to is not
// judged.
//
// # Sequences
//
// A repetition of a sequence is all its steps and the way back. Every step that
// is reached is told (StepReached) and its hold timed. A step done before its
// turn is flagged as out of order and named, and so is one that is reached by
// the same movement as the step before. The sequence goes on from there, and the
// repetition counts when all steps are done. It is partial where a step was left
// out, and not judged where that step may have been done unseen. Where the hand
// comes back after every step, one that was left out may still follow the last.
//
// # Holds
//
// A hold is timed by capture time, from where the hand comes to a stand in
// the end pose to where it sets out again, whatever the width of the end zone.
// Where readings are steady that is where the joints together leave the values
// they had within the hold; otherwise a movement is fitted to the way there
// and back and its end read off the fit. A joint past its limit does not end a
// hold: it is a fault of the hold, flagged as such, and the client should
// correct it and go on.
//
// # Flags
//
// A limit counts as passed when the mean of the middle half of the last 0.4 s,
// 0.27 s near straight, lies beyond it by more than a margin. One event is one
// flag: it ends when the same mean is back to about a third of the margin, and is
// dated back to where a median of three readings crossed that level; its onset to
// where that crossed two thirds.
//
// For limits that are not near straight the margin is 1.5 standard errors of a
// reading, and LeastMarginDeg for a range that the movement keeps a joint in.
// Near straight the question is whether the joint bends backwards, and
// what an estimator says of that is off by some degrees for a given hand and
// view, while it scatters little from picture to picture. So a joint is held
// against its own zero: the median of its own straight readings in this
// exercise, 2 degrees at most, and the margin is 5 times the scatter that such a
// mean is expected to have, between LeastMarginDeg and GreatestMarginDeg. Before
// the zero is known it is 3 standard errors of a reading, 8 to 14 degrees, and a
// zero so low that more would be asked for is not believed. So a small fall
// is flagged, while a joint that is past straight all the while, by less than
// about 10 degrees, looks like one that is read wrong, and mostly is not. A reading
// that is not itself past the limit raises no flag.
//
// Wavering in a hold is judged when the hold is over: the hand as a whole, or
// one joint of all its fingers, swings away from where it is held by more than
// the movement allows, at least twice in short order. The arm has moved where the
// palm is farther from where it was before the movement, in the picture, than the
// movement allows; nearer and farther are not judged. A hand that leaves the
// picture is told and pauses the clock, but is no fault; a dropped object cannot
// be seen and shows only as a hold cut short.
//
// # Pain
//
// "It hurts" stops the set at once, and nothing goes on before the client has
// said how much. Sharp pain, or a rise of more than two of ten, ends the session
// with the advice to contact the therapist (common practice; PainStop). A grade
// hint after three clean sets of light work is words for the client; it changes
// nothing.
//
// # Cues
//
// At most one sentence at a time, what protects a joint before all else. The
// same one waits twice as long each time it is said again.
//
// # What cannot be seen
//
// A joint that cannot be judged is reported as such with its reason, never as
// a pass. While the measure cannot be read for longer than the drop-out
// tolerance the clock is paused: the time counts for nothing, the hold goes on
// afterwards, and a repetition of which the top may have been missed is
// neither counted nor partial. A hold that is read in part goes on while that
// part stays where it is held. Where a view shows the way badly, a pose that was
// nearly reached is not said to have been missed; and where the movement asks for
// another view, it is not said either that one was held too briefly.
//
// # Errors
//
// New, NewPair and NewPractice refuse a configuration that makes no sense, and
// a Practice an answer that is not on its scale. Nothing else can fail.
package coach
