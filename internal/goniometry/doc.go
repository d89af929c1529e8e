// Package goniometry turns the points of a hand in a picture into joint
// angles: each with its standard error, and with a plain answer to whether
// this view can show it at all.
//
// # What is measured
//
// Flexion of the MCP, PIP and DIP joints of the four long fingers and of the
// MP and IP joints of the thumb, in degrees, flexion positive, hyperextension
// negative, 0 straight. MCP flexion is against the plane of the palm, so a
// spread finger that lies in that plane reads 0: nearest to a goniometer whose
// arm lies along the back of the metacarpal. The bend between the line from
// the wrist to the knuckle and the finger, which some marker sets report, has
// no sign and holds the spread too. All angles are estimates of
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
// # What can be judged
//
// A joint can be seen where the surface over it and over the next point of the
// finger is in the picture, with nothing before it; it cannot where both are
// hidden. Whether it is past straight shows in a view within 35 degrees of the
// side, by a yaw smoothed over a sixth of a second, on the finger that lies
// nearest to the camera, or on one behind it that is seen nearly whole. What is
// too small, too dark, too fast, hidden, or at a hopeless angle is not judged,
// with the reason; its number is then the best guess, or 0 with a standard
// error of 90 where there is none, and must not be shown as a finding. Guide
// says what would help.
//
// # Errors
//
// A standard error is the spread that the network states for this posture,
// times what measurement on rendered hands of other shapes showed that spread
// to be worth. It includes bias. At the MCP joints and the thumb's MP it holds
// too what two ways of defining the angle differ by. How it holds on photographs
// is said in package calibration and in the model card. There are no error
// values: points that no hand can have give a measurement that is not judged.
//
// # The client's own hand
//
// A Capture leads through the recording of a Baseline. With it in Options,
// readings near what was recorded are corrected as far as that is known to
// help, and the stated error says how far; see the notes on correction. It is
// also the client's own range, from straight hand to fist.
//
// # Time
//
// Measure is stateful: it filters what is shown, estimates speeds, and must be
// fed in order of capture time. RawDeg stays what one picture says; FlexionDeg
// and its error are followed over time. Time comes only with the observation;
// there is no clock here and frame rates may vary. A gap of more than half a
// second, a new track or a time that runs backwards starts afresh. MeasureStill
// keeps nothing.
package goniometry
