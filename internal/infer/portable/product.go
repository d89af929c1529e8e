package portable

import (
	"math"

	"gonum.org/v1/gonum/blas"
	"gonum.org/v1/gonum/blas/blas32"
)

// Sizes of the tile that the assembly computes at a time.
const (
	tileRows = 6
	tileCols = 16
)

// weights are the constant right-hand side of matrix products, k×n, with what
// is done to each element of the result: bias, then bounds.
type weights struct {
	k, n int
	// packed is k×n cut into panels of 16 columns, the last filled up with
	// zeros; flat is k×n row by row. There is one of the two.
	packed, flat []float32
	bias         []float32 // as many as packed has columns
	lo, hi       float32
}

// The bounds of a result without an activation.
var minusInf, plusInf = float32(math.Inf(-1)), float32(math.Inf(1))

// newWeights takes a matrix by its elements; bias may be nil.
func newWeights(simd bool, k, n int, at func(row, col int) float32, bias []float32) *weights {
	w := &weights{k: k, n: n, lo: minusInf, hi: plusInf}
	panels := (n + tileCols - 1) / tileCols
	w.bias = make([]float32, panels*tileCols)
	copy(w.bias, bias)
	if !simd {
		w.flat = make([]float32, k*n)
		for r := range k {
			for c := range n {
				w.flat[r*n+c] = at(r, c)
			}
		}
		return w
	}
	w.packed = make([]float32, panels*k*tileCols)
	for c := range n {
		panel := w.packed[c/tileCols*k*tileCols:]
		for r := range k {
			panel[r*tileCols+c%tileCols] = at(r, c)
		}
	}
	return w
}

// rows computes y = bound(x·w + bias) for rows of x one behind the other.
func (w *weights) rows(x, y []float32, rows int) {
	if w.packed != nil {
		w.tiles(x[:rows*w.k], y[:rows*w.n], rows)
		return
	}
	w.blocks(x[:rows*w.k], y[:rows*w.n], rows)
	bound(y[:rows*w.n], w.lo, w.hi)
}

// gonum starts goroutines of its own for products of four or more blocks of
// 64×64; blocks gives it less at a time, as threads are ours to divide.
const (
	blockRows = 64
	blockCols = 192
)

func (w *weights) blocks(x, y []float32, rows int) {
	for r := range rows {
		copy(y[r*w.n:(r+1)*w.n], w.bias)
	}
	for c := 0; c < w.n; c += blockCols {
		cols := min(blockCols, w.n-c)
		b := blas32.General{Rows: w.k, Cols: cols, Stride: w.n, Data: w.flat[c:]}
		for r := 0; r < rows; r += blockRows {
			n := min(blockRows, rows-r)
			blas32.Gemm(blas.NoTrans, blas.NoTrans, 1,
				blas32.General{Rows: n, Cols: w.k, Stride: w.k, Data: x[r*w.k:]}, b,
				1, blas32.General{Rows: n, Cols: cols, Stride: w.n, Data: y[r*w.n+c:]})
		}
	}
}

// tiles goes through panels of columns, and for each through the rows, six at
// a time. The last six overlap the ones before, which only computes them again.
// Fewer than six rows are computed each by itself, six times over.
func (w *weights) tiles(x, y []float32, rows int) {
	var edge [tileRows * tileCols]float32
	for c := 0; c < w.n; c += tileCols {
		panel := w.packed[c*w.k:][:w.k*tileCols]
		bias := w.bias[c:][:tileCols]
		whole := c+tileCols <= w.n
		step, ldx, ldy := tileRows, w.k, w.n
		if rows < tileRows {
			step, ldx, ldy = 1, 0, 0
		}
		for r := 0; r < rows; r += step {
			r = min(r, rows-step)
			if whole {
				tile(w.k, &x[r*w.k], ldx, &panel[0], &bias[0], &y[r*w.n+c], ldy, w.lo, w.hi)
				continue
			}
			tile(w.k, &x[r*w.k], ldx, &panel[0], &bias[0], &edge[0], tileCols, w.lo, w.hi)
			for i := range step {
				copy(y[(r+i)*w.n+c:(r+i+1)*w.n], edge[i*tileCols:])
			}
		}
	}
}

// rowsProduct is a step that multiplies rows with constant weights.
type rowsProduct struct {
	*weights
	in, out *value
	m       int
}

func (k *rowsProduct) run(c *crew) error {
	// Rows are divided among threads where there are enough for a few tiles.
	return c.split(k, k.m, max(4*tileRows, (k.m+7)/8))
}

func (k *rowsProduct) part(from, to, _ int) {
	k.rows(k.in.data[from*k.k:to*k.k], k.out.data[from*k.n:to*k.n], to-from)
}
