// Package program is what a therapist prescribes for one client: the exercises
// in order with their dose, object, tempo and targets, the limits of the
// joints with the dates from which they hold, the precautions, and the versions
// of all this.
//
// # The file
//
// A program is a text file in YAML that a person can read and write; Parse
// reads it, Format writes it, and docs/program.schema.json describes it to
// other programs. Format keeps everything but the comments of a file. A program
// may name movement files that lie beside it; their text is kept in Files, so
// that a program can be carried elsewhere whole.
//
// # Units and signs
//
// Angles are degrees of flexion: 0 is straight, past straight is negative.
// Words for people never show that sign. Durations in the file are seconds.
//
// # Dates
//
// A date in a program is a day in the life of the client: it begins and ends
// with the local day of the zone that the client is in. So what is in force at
// an instant depends on the zone, and At takes both. Nothing is computed from a
// number of hours: a day with 23 or 25 of them is one day.
//
// # Limits
//
// A limit is one schedule for some joints. A step changes the ends that it
// names and leaves the other as it was; the word free lifts an end. Where two
// entries name the same joint the later one goes first, end by end, and an
// exercise's own limits go before those of the program. An end that nobody set
// is the movement's own, if it has one: lifting an end with free leads back to
// that. A limit without a side is for the hand of the program, or of the
// exercise that it stands in; one with a side counts wherever that hand works.
//
// # Precautions
//
// A precaution by itself changes nothing in what is judged. New writes the
// defaults that go with it into the program, where the therapist sees them and
// can change them; Check warns where the program contradicts them.
//
// # Errors and warnings
//
// An error is what cannot be carried out or contradicts itself: it refuses the
// program. A warning is what a therapist may well mean and should know. Both
// name line and field. A *strictyaml.Error holds all errors found.
package program
