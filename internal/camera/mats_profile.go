//go:build matprofile

package camera

import "gocv.io/x/gocv"

// Mats is how many of OpenCV's matrices are open. It is known only in a build
// with the tag matprofile; ok is false in any other.
func Mats() (n int, ok bool) { return gocv.MatProfile.Count(), true }
