// Package goniometry turns the points of a hand in a picture into joint
// angles: each with its standard error, and with a plain answer to whether
// this view can show it at all.
//
// # What is measured
//
// Flexion of the MCP, PIP and DIP joints of the four long fingers and of the
// MP and IP joints of the thumb, in degrees, flexion positive, hyperextension
// negative, 0 straight. MCP flexion is against the plane of the palm, so a
// spread finger that lies in that plane reads 0. All angles are estimates of
// active motion, for review by a therapist.
//
// # How
//
// The bends of the image points (x, y and z) and of the world points are read
// with their sign about the hand's own axes, in a view from the side also in
// the plane of the picture, and corrected by small networks: see package
// calibration. The sign at a straight joint, and so all hyperextension, rests
// on the image points; world points have none to give at the PIP. What
// estimates is behind the interface estimator, so that one that reads more than
// points can take its place.
//
// # Frames
//
// Inside the package a left hand is mirrored first, so that all geometry is
// that of an unmirrored right hand with image axes x right, y down, z away
// from the camera. A hand's own frame is radial (little to index knuckle),
// distal (wrist to middle knuckle) and palmar (out of the palm): a right-handed
// set in this order. View angles follow package hand: yaw 0 palm to the camera,
// 90 thumb side, -90 little-finger side, 180 back; pitch positive with the
// fingers leaning towards the camera.
//
// An observation's Side must be the client's own hand. Where it is unknown the
// side that the picture speaks for is taken, which is wrong in up to a fifth of
// side views.
//
// # Errors
//
// A standard error is the spread that the network states for this posture,
// times what measurement on rendered hands of other shapes showed that spread
// to be worth, by level of the joint, range of flexion and view. It includes
// bias; how it holds on photographs is said in package calibration. There are no error values: points that no hand can have, too small, too
// dark, too fast, hidden or at a hopeless angle give a measurement that is not
// judged, with the reason; its number is then the best guess, or 0 with a
// standard error of 90 where there is none, and must not be shown as a finding.
//
// # Time
//
// Measure is stateful: it filters what is shown, estimates speeds, and must be
// fed in order of capture time. Time comes only with the observation; there is
// no clock here and frame rates may vary. A gap of more than half a second, a
// new track or a time that runs backwards starts afresh. MeasureStill keeps
// nothing.
package goniometry
