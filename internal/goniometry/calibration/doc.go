// Package calibration holds what was fitted on rendered hands: small networks
// that correct the bends and the view read from landmarks, weights that tell
// whether near and far have changed places, and a table of how far the result
// was off on hands that nothing had been fitted on. The
// numbers are in table.go, which scripts/calibrate writes.
//
// Landmarks shrink what they show: a rendered PIP joint at -20 degrees reads
// about -6 in the image points and 0 in the world points, and bent MCP and DIP
// joints read too straight. The networks see every bend that the points hold
// (image and world, signed and whole, in space and in the picture), the
// neighbouring fingers and the view, and say the angle, its spread, and whether
// the joint can be seen.
//
// World points take part only where they add something. They carry no sign of
// a PIP joint past straight, in any view, so nothing about hyperextension is
// read from them: of a network that is given both, 20 degrees past straight in
// the image points move the answer by 18 and in the world points by less than
// 1, and a test holds it to that.
//
// # What was measured
//
// On rendered hands of shapes kept out of the fit, all postures and views, mean
// absolute error in degrees: MCP 10, PIP 12, DIP 9, thumb MP 10 and IP 15; the
// middle knuckle where it can be seen, 11. Within one standard error lie 0.69
// to 0.74 of readings, within two 0.94 to 0.96. The yaw is off by 6 in the
// median. In radial views, where past straight may be judged, straight index
// fingers read -3 and fingers 13 to 22 past straight -10 in the mean; of a pair
// of the two, from different hands, the right one reads lower in 0.8. The size
// past straight is thus still read too small, by some hands more than others,
// and a client's own straight hand is the better zero.
//
// On photographs, which only judge: see scripts/scoreboard. With the 292
// photographs of hands, mostly palms, whose true angles are known, the mean
// error was PIP 9.3 (10.8 for the mean of image and world bends, uncorrected),
// DIP 9.1 (10.8), MCP 12.2 against the palm (15.9) and 13.2 as a whole bend
// (11.9), thumb MP 10.8 (8.7) and IP 9.6 (7.9): thumb and knuckles gain nothing
// there. Root mean square error over standard error was 0.70, 0.97, 1.07, 1.46
// and 0.66 in the same order, so that the standard error of the thumb's MP is
// too small for photographs by about half. Nothing is scaled by these ratios,
// as those photographs may not be fitted to. No photograph shows a joint past
// straight: hyperextension on real hands is unproven.
package calibration

// FeatureCount is how many numbers describe one digit to its network. Package
// goniometry makes them; their order is part of the table.
const FeatureCount = 75

// ViewFeatureCount is how many numbers describe the whole hand to the network
// of the view.
const ViewFeatureCount = 34
