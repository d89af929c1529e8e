package landmark

import (
	"math"

	"volar/internal/hand"
)

// The region that a followed hand is read from is moved a little in every
// picture. The angle outputs err by some degrees with where the crop happens
// to lie, and a hand held still would be read from the same crop for seconds:
// moved, that part of the error is scatter, which a filter over time takes
// away, and no longer a bias. The amounts are what rendered hands of side
// views bear without being lost more often: 0.926 of their pictures with the
// hand found, 0.922 unmoved, 0.896 with amounts two thirds larger.
const (
	// wanderSize and wanderPlace are shares of the region's side, wanderTurn is
	// in radians.
	wanderSize, wanderPlace = 0.06, 0.03
	wanderTurn              = 6 * math.Pi / 180
)

// wanderSteps are the steps of a sequence that fills four dimensions evenly,
// the negative powers of the root of x⁵ = x + 1 (Roberts 2018, "The
// unreasonable effectiveness of quasirandom sequences").
var wanderSteps = [4]float64{0.8566748838545029, 0.7338918566271260, 0.6287067210378087, 0.5385972572236101}

// wandered is the region as it is shown in the n-th picture of a track. Every
// second picture mirrors the displacement of the one before, so that two in a
// row cancel; the sequence hangs on n alone, and the same pictures are always
// read from the same regions.
func wandered(r hand.Region, n int) hand.Region {
	var u [len(wanderSteps)]float64
	for i, step := range wanderSteps {
		_, f := math.Modf(0.5 + step*float64(n/2+1))
		u[i] = 2*f - 1
		if n%2 == 1 {
			u[i] = -u[i]
		}
	}
	r.CX += wanderPlace * u[0] * r.Size
	r.CY += wanderPlace * u[1] * r.Size
	r.Size *= 1 + wanderSize*u[2]
	r.Rotation += wanderTurn * u[3]
	return r
}
