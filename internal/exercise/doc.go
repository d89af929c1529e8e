// Package exercise holds the catalogue of movements: data, not code, one
// file a movement, built into the program.
//
// One definition serves three readers. The coach takes from it which measure
// drives the phases, which joints are judged and how; the demonstration and
// the synthetic clips take the key poses, the phases and the object; people
// read the words.
//
// # Units and frames
//
// Joint angles are in degrees, flexion positive and hyperextension negative,
// 0 straight. MCP angles are out of the plane of the palm. Abduction turns a
// finger in that plane, positive away from the middle finger and, for the
// middle finger itself, towards the thumb. Durations in the files are seconds,
// object sizes millimetres. Shares run from 0 at a movement's start pose to 1
// at its end pose.
//
// # Kinds
//
// A cycle goes from a start pose to an end pose and back, a hold keeps its end
// pose, a sequence goes through several poses in order. What drives the phases
// is a Measure: the weighted way of joints, and of other channels such as the
// distance between two fingertips, from the start to the end pose. A movement of two
// hands is judged hand by hand; Movement.For gives each hand its own. An
// unmeasured movement is shown and described only.
//
// # A file of one's own
//
// A therapist's own movement is a file of the same form as the built-in ones,
// read by the same Parse. JSON written by a Movement is such a file too.
//
// # What a key pose is and is not
//
// Key poses say what the movement looks like in a hand with a usual range of
// motion. They are no norm for a client: the coach takes the client's own
// range where one was recorded.
//
// # Errors
//
// Parse refuses unknown fields, missing fields, impossible angles and
// contradictions, and poses that cannot be told from each other; the error
// names file, line and field and lists every problem found. The embedded files are checked by the package's tests, and Catalogue
// returns an error rather than panic should one be broken.
package exercise
