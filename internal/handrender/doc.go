// Package handrender draws a human hand at exactly known joint angles: test
// clips with truth, training crops with labels, and the demonstrations that a
// client sees. It is pure Go.
//
// # Frames and units
//
// Angles are in degrees, flexion positive, hyperextension negative. Lengths
// are in metres. Hand axes have their origin at the wrist joint, X radial, Y
// towards the middle MCP joint, Z out of the palm, for a left hand as for a
// right one. Camera axes are X right, Y down, Z away from the camera. Image
// points are in pixels, y down.
//
// View: yaw 0 has the palm to the camera, +90 the radial (thumb) side, -90 the
// ulnar side, 180 the back, of the client's own hand, left or right.
//
// # Exactness
//
// A joint angle of a Pose is the angle between the bones in the picture's
// truth, by construction; the rest pose of the mesh does not enter. The
// picture is the same to the bit on one processor architecture, whatever the
// number of goroutines; other architectures may round differently.
//
// # Errors
//
// Load returns errors that wrap ErrBadGLB. Rendering cannot fail; it draws
// what the numbers say, even where fingers pass through each other.
package handrender
