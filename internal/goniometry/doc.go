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
// # Frames
//
// Inside the package a left hand is mirrored first, so that all geometry is
// that of an unmirrored right hand with image axes x right, y down, z away
// from the camera. A hand's own frame is radial (little to index knuckle),
// distal (wrist to middle knuckle) and palmar (out of the palm): a right-handed
// set in this order. View angles follow
// package hand: yaw 0 palm to the camera, 90 thumb side, -90 little-finger
// side, 180 back; pitch positive with the fingers leaning towards the camera.
//
// # Time
//
// Measure is stateful: it filters what is shown, estimates speeds, and must be
// fed in order of capture time. Time comes only with the observation; there is
// no clock here and frame rates may vary. A gap of more than half a second, a
// new track or a time that runs backwards starts afresh. MeasureStill keeps
// nothing.
package goniometry
