// Package review turns recorded sessions into what a therapist looks at: which
// sessions need eyes and why, which seconds to look at, the traces of angles
// against the limit that was in force, and what changed over weeks.
//
// Everything here is computed from sessions, programs and reviews that are
// passed in; nothing is stored, and there is no clock. Angles are in degrees,
// flexion positive; times within a session count from its start; dates are the
// client's own local dates.
//
// What could not be judged is never a number: a range whose end was not judged
// is marked, a sum over it is incomplete, and a share of nothing is not known.
//
// The numbers are estimates for a therapist's review. A reason to look is not a
// finding.
package review
