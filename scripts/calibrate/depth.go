package main

import (
	"math"

	"volar/internal/goniometry"
	"volar/internal/goniometry/calibration"
)

// clearDeg is how much better one way round must fit the true yaw for a record
// to say which is right; in palm and dorsal views the two are the same.
const clearDeg = 40

// depthCase is one hand whose depths are right or wrong.
type depthCase struct {
	x     [calibration.DepthCount]float64
	right bool
}

// fitDepth fits the weights of the evidence on the depths by gradient descent
// on the logistic loss. It returns too the share of hands kept apart whose
// depths are wrong as they come and after the decision.
func fitDepth(records []record) (calibration.Depth, [2]float64) {
	var fitted, apart []depthCase
	for i := range records {
		r := &records[i]
		x, yaw, ok := goniometry.DescribeDepth(r.Seen)
		if !ok {
			continue
		}
		as := math.Abs(math.Remainder(yaw-r.YawDeg, 360))
		turned := math.Abs(math.Remainder(-yaw-r.YawDeg, 360))
		if math.Abs(as-turned) < clearDeg {
			continue
		}
		c := depthCase{x, as < turned}
		if heldOut(r.Mesh) {
			apart = append(apart, c)
		} else {
			fitted = append(fitted, c)
		}
	}
	var w [calibration.DepthCount]float64
	const rounds, rate = 3000, 1
	for range rounds {
		var g [calibration.DepthCount]float64
		for _, c := range fitted {
			y := 0.0
			if c.right {
				y = 1
			}
			z := 0.0
			for k, v := range c.x {
				z += w[k] * v
			}
			for k, v := range c.x {
				g[k] += (y - 1/(1+math.Exp(-z))) * v / float64(len(fitted))
			}
		}
		for k := range w {
			w[k] += rate * g[k]
		}
	}
	var d calibration.Depth
	for k, v := range w {
		d[k] = float32(v)
	}
	var wrong [2]float64
	for _, c := range apart {
		if !c.right {
			wrong[0] += 1 / float64(len(apart))
		}
		if (d.LogOdds(&c.x) >= 0) != c.right {
			wrong[1] += 1 / float64(len(apart))
		}
	}
	return d, wrong
}
