//go:build !amd64 || purego

package portable

// There is no assembly here: haveSIMD says so, and nobody calls the rest.

func haveSIMD() bool { return false }

func tile(k int, x *float32, ldx int, panel, bias, y *float32, ldy int, lo, hi float32) {
	panic(noAssembly)
}
func depthwise4(*window8)                     { panic(noAssembly) }
func depthwise1(*window8)                     { panic(noAssembly) }
func addVectors(n int, y, x *float32)         { panic(noAssembly) }
func rectifyVectors(n int, y, slope *float32) { panic(noAssembly) }

const noAssembly = "portable: there is no assembly for this processor"
