package portable

import "slices"

// value is what a node makes, an input of the graph, or a constant.
type value struct {
	name  string
	shape []int
	// last says that a picture 1×C×H×W lies in memory as H×W×C.
	last bool
	// whole says that these are whole numbers (int64 in the file).
	whole bool
	// known values are constants.
	known bool
	// ints are the numbers of a constant from the file, exactly.
	ints []int64
	data []float32
	// of is the value whose memory this one shares.
	of *value

	from, to int // first and last step that needs the memory
	offset   int // in the arena
}

func (v *value) len() int {
	n := 1
	for _, d := range v.shape {
		n *= d
	}
	return n
}

// root is the value that has the memory.
func (v *value) root() *value {
	for v.of != nil {
		v = v.of
	}
	return v
}

// integers returns the elements of a constant of whole numbers.
func (v *value) integers() ([]int64, bool) {
	if !v.known || !v.whole {
		return nil, false
	}
	if v.ints != nil {
		return v.ints, true
	}
	r := make([]int64, len(v.data))
	for i, x := range v.data {
		r[i] = int64(x)
	}
	return r, true
}

// exact says that the elements, as float32, are those of the file.
func (v *value) exact() bool {
	return !slices.ContainsFunc(v.ints, func(i int64) bool { return i > maxElements || i < -maxElements })
}

// picture returns the sizes of a picture: one of any number of channels.
func (v *value) picture() (c, h, w int, ok bool) {
	if len(v.shape) != 4 || v.shape[0] != 1 {
		return 0, 0, 0, false
	}
	return v.shape[1], v.shape[2], v.shape[3], true
}

// strides of a row-major shape.
func strides(shape []int) []int {
	s := make([]int, len(shape))
	n := 1
	for i := len(shape) - 1; i >= 0; i-- {
		s[i] = n
		n *= shape[i]
	}
	return s
}

// product is the number of elements of a part of a shape.
func product(shape []int) int {
	n := 1
	for _, d := range shape {
		n *= d
	}
	return n
}
