// Package arom is about a hand's active range of motion as a therapist reads
// it: the recording of a hand in its poses, the table of what was recorded
// beside norms and the other hand, and single measurements of one moment.
//
// Angles are degrees, flexion positive, hyperextension negative; in words there
// is never a sign. Every number comes with its standard error as stated for one
// picture: the mean of many pictures of one sitting is hardly surer, since most
// of the error lasts as long as light and view do. What a view did not show is
// not judged: it has no number, and a sum that needs it has none either. Where
// a view cannot show whether a joint is past straight, a reading below zero is
// only near straight.
//
// All of it is an estimate of active motion, for review by a therapist.
//
// # Time
//
// A Recording has no clock: times come with the samples, from the capture. The
// wall-clock time of a recording or a measurement is the caller's.
//
// # Errors
//
// A recording that is not complete, and a file of a measurement that is not
// whole or of another version, are errors with what to do in their text.
package arom
