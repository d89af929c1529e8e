package portable

// What is done with long rows of numbers, in plain Go and, for whole vectors
// of eight, in assembly.

// lanes is how many float32 the assembly takes at a time.
const lanes = 8

// bound cuts numbers off at lo and hi.
func bound(x []float32, lo, hi float32) {
	if lo == minusInf && hi == plusInf {
		return
	}
	for i, v := range x {
		if v < lo {
			x[i] = lo
		} else if v > hi {
			x[i] = hi
		}
	}
}

// add computes y += x.
func add(simd bool, y, x []float32) {
	x = x[:len(y)]
	i := 0
	if n := len(y) / lanes; simd && n > 0 {
		addVectors(n, &y[0], &x[0])
		i = n * lanes
	}
	for ; i < len(y); i++ {
		y[i] += x[i]
	}
}

// rectify computes y where positive and slope·y where not, with a slope for
// each channel; y is any number of pixels.
func rectify(simd bool, y, slope []float32) {
	n := len(slope)
	for ; len(y) >= n; y = y[n:] {
		i := 0
		if v := n / lanes; simd && v > 0 {
			rectifyVectors(v, &y[0], &slope[0])
			i = v * lanes
		}
		for ; i < n; i++ {
			if y[i] < 0 {
				y[i] *= slope[i]
			}
		}
	}
}
