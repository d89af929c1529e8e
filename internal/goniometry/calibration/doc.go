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
// read from them: a network that is given both finds the sign in the image
// points, and the tests hold it to that.
package calibration

// FeatureCount is how many numbers describe one digit to its network. Package
// goniometry makes them; their order is part of the table.
const FeatureCount = 75

// ViewFeatureCount is how many numbers describe the whole hand to the network
// of the view.
const ViewFeatureCount = 34
