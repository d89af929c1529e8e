// Package score adds single measurements up as the trade does: total active
// motion of a digit and its grades, the two scores named after Strickland,
// composite flexion, ranges of motion to compare with, the arithmetic of two
// questionnaires, and the two ways of writing a range down.
//
// Angles are degrees, flexion positive and hyperextension negative; see package
// hand. Nothing here measures or rounds: a caller rounds what it shows.
//
// # What was not measured
//
// A joint that could not be judged makes a sum incomplete. An incomplete sum
// has no number and no grade; it names the joints that are missing. It is never
// a zero and never a smaller sum.
//
// # Hyperextension
//
// Where a joint goes past straight its extension deficit is none, and the
// degrees past straight are not added to the motion. As some handbooks count
// them as a deficit, because they are abnormal at the PIP and DIP joints
// (from memory), Options can ask for that; either way the joints are named in
// the result.
//
// # Sources
//
// Values carry their source. "From memory" marks what could not be read again
// when it was written down; a clinic that relies on such a value checks it
// first. The score of Buck-Gramcko is left out: its points could not be
// verified, and there is one version in degrees and one in centimetres.
//
// All grades are estimates for review by a therapist. The systems disagree with
// each other on a quarter to a third of fingers (Hahn et al. 2016, Handchir
// Mikrochir Plast Chir 48:290-295), so a grade is always shown with the name of
// its system.
package score
