package calibration

import (
	"math"

	"volar/internal/hand"
)

// The error table is split by level of the joint, by how far it reads bent,
// and by how the hand is turned.
const (
	Levels = 5
	Ranges = 5
	Views  = 6
)

// LevelNames, RangeNames and ViewNames label the rows.
var (
	LevelNames = [Levels]string{"mcp", "pip", "dip", "thumb.mp", "thumb.ip"}
	RangeNames = [Ranges]string{"below -5", "-5 to 20", "20 to 50", "50 to 80", "above 80"}
	ViewNames  = [Views]string{"palmar", "oblique palmar", "radial", "ulnar", "oblique dorsal", "dorsal"}
)

var rangeEdges = [Ranges - 1]float64{-5, 20, 50, 80}

// LevelOf returns the joint's row group.
func LevelOf(j hand.Joint) int {
	if j.Finger() == hand.Thumb {
		return 3 + int(j-hand.ThumbMP)
	}
	return int(j.Kind())
}

// RangeOf returns the row of an angle as it was read.
func RangeOf(flexionDeg float64) int {
	for i, e := range rangeEdges {
		if flexionDeg < e {
			return i
		}
	}
	return Ranges - 1
}

// ViewOf returns the column of a view.
func ViewOf(yawDeg float64) int {
	y := math.Remainder(yawDeg, 360)
	switch a := math.Abs(y); {
	case a <= 35:
		return 0
	case a < 55:
		return 1
	case a <= 125 && y > 0:
		return 2
	case a <= 125:
		return 3
	case a < 145:
		return 4
	}
	return 5
}

// ErrorTable is how the networks' stated spread compares with what they were
// off, on rendered hands that took no part in the fit.
type ErrorTable struct {
	// Ratio is root mean square error over root mean square stated spread.
	Ratio [Levels][Ranges][Views]float32
	// RMSDeg is the root mean square error itself, and Count how many joints
	// it comes from.
	RMSDeg [Levels][Ranges][Views]float32
	Count  [Levels][Ranges][Views]int
	// Yaw is the same ratio for the yaw, and YawDeg its root mean square error.
	Yaw, YawDeg [Views]float32
}

// SE returns the standard error of a reading.
func (t *ErrorTable) SE(j hand.Joint, r Reading, yawDeg float64) float64 {
	return r.SpreadDeg * float64(t.Ratio[LevelOf(j)][RangeOf(r.FlexionDeg)][ViewOf(yawDeg)])
}

// YawSE returns the standard error of a yaw.
func (t *ErrorTable) YawSE(y Yaw) float64 {
	return y.SpreadDeg * float64(t.Yaw[ViewOf(y.Deg)])
}
