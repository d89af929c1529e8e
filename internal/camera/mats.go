//go:build !matprofile

package camera

// Mats is how many of OpenCV's matrices are open. It is known only in a build
// with the tag matprofile; ok is false in any other.
func Mats() (n int, ok bool) { return 0, false }
