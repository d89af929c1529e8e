package calibration

import "math"

// ViewOutputs are the network's: the sine and cosine of the yaw. The pitch is
// taken as the points have it.
const ViewOutputs = 2

// Yaw is what the network says of how the hand is turned about its length.
type Yaw struct{ Deg, SpreadDeg float64 }

// ReadYaw turns outputs into a yaw. Where the network cannot tell it draws
// sine and cosine towards zero, so that their length gives the spread: that of
// a normal distribution wrapped round the circle whose mean vector has this
// length.
func ReadYaw(out []float64) Yaw {
	const degree = math.Pi / 180
	length := math.Max(0.05, math.Min(0.998, math.Hypot(out[0], out[1])))
	return Yaw{
		Deg:       math.Atan2(out[0], out[1]) / degree,
		SpreadDeg: math.Sqrt(-2*math.Log(length)) / degree,
	}
}

// YawTarget is the output that stands for a yaw.
func YawTarget(deg float64) [ViewOutputs]float64 {
	const degree = math.Pi / 180
	return [...]float64{math.Sin(deg * degree), math.Cos(deg * degree)}
}
