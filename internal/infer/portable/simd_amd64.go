//go:build amd64 && !purego

package portable

import "golang.org/x/sys/cpu"

// haveSIMD says whether the processor can run the assembly.
func haveSIMD() bool { return cpu.X86.HasAVX2 && cpu.X86.HasFMA }

// tile computes 6 rows of 16 columns: y = bound(x·panel + bias). x and y have
// ldx and ldy numbers from a row to the next; k is at least 1.
//
//go:noescape
func tile(k int, x *float32, ldx int, panel, bias, y *float32, ldy int, lo, hi float32)

// depthwise4 computes four pixels beside one another, depthwise1 one.
//
//go:noescape
func depthwise4(d *window8)

//go:noescape
func depthwise1(d *window8)

// addVectors computes y += x for n vectors, at least one.
//
//go:noescape
func addVectors(n int, y, x *float32)

// rectifyVectors computes max(y, 0) + slope·min(y, 0) for n vectors, at least
// one.
//
//go:noescape
func rectifyVectors(n int, y, slope *float32)
