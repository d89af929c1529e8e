package portable

import (
	"errors"
	"fmt"
	"slices"

	"gonum.org/v1/gonum/blas"
	"gonum.org/v1/gonum/blas/blas32"
)

// gemm is y = alpha·A·B + beta·C, where B and C have to be constants: a layer
// of a network.
func (b *builder) gemm(c *call) error {
	in, w := b.plain(c.in[0]), c.in[1]
	transA, err1 := c.int("transA", 0)
	transB, err2 := c.int("transB", 0)
	alpha, err3 := c.float("alpha", 1)
	beta, err4 := c.float("beta", 1)
	if err := errors.Join(err1, err2, err3, err4); err != nil {
		return err
	}
	switch {
	case transA != 0:
		return errors.New("a transposed first matrix is not supported")
	case in.whole || len(in.shape) != 2 || !w.known || w.whole || len(w.shape) != 2:
		return fmt.Errorf("matrices of shape %v and %v, the second a constant", in.shape, w.shape)
	}
	k, n := w.shape[0], w.shape[1]
	rowStep, colStep := n, 1
	if transB != 0 {
		k, n = n, k
		rowStep, colStep = 1, k
	}
	if k != in.shape[1] {
		return fmt.Errorf("matrices of shape %v and %v", in.shape, w.shape)
	}
	bias := make([]float32, n)
	if len(c.in) > 2 && c.in[2] != nil {
		v := c.in[2]
		if !v.known || v.whole || v.len() != 1 && (v.len() != n || v.shape[len(v.shape)-1] != n) {
			return fmt.Errorf("what is added is not a constant of %d numbers", n)
		}
		for i := range bias {
			bias[i] = beta * v.data[i%v.len()]
		}
	}
	if err := b.shape(c.out, in.shape[0], n); err != nil {
		return err
	}
	ws := newWeights(b.simd, k, n, func(row, col int) float32 { return alpha * w.data[row*rowStep+col*colStep] }, bias)
	if c.then.clip != nil {
		cl := call{node: *c.then.clip}
		var err error
		if ws.lo, ws.hi, err = cl.bounds(); err != nil {
			return err
		}
	}
	return b.emit(c.op, &rowsProduct{weights: ws, in: in, out: c.out, m: in.shape[0]}, c.out, in)
}

// matMul multiplies the last two axes. With a constant matrix behind, all
// before are rows of one product.
func (b *builder) matMul(c *call) error {
	x, y := b.plain(c.in[0]), b.plain(c.in[1])
	if x.whole || y.whole || len(x.shape) < 2 || len(y.shape) < 2 {
		return fmt.Errorf("shapes %v and %v", x.shape, y.shape)
	}
	nx, ny := len(x.shape)-2, len(y.shape)-2
	m, k, n := x.shape[nx], x.shape[nx+1], y.shape[ny+1]
	if y.shape[ny] != k {
		return fmt.Errorf("shapes %v and %v", x.shape, y.shape)
	}
	if y.known && ny == 0 {
		if err := b.shape(c.out, append(slices.Clone(x.shape[:nx+1]), n)...); err != nil {
			return err
		}
		ws := newWeights(b.simd, k, n, func(row, col int) float32 { return y.data[row*n+col] }, nil)
		return b.emit(c.op, &rowsProduct{weights: ws, in: x, out: c.out, m: x.len() / k}, c.out, x)
	}
	batch, err := broadcast(x.shape[:nx], y.shape[:ny])
	if err != nil {
		return err
	}
	if err := b.shape(c.out, append(slices.Clone(batch), m, n)...); err != nil {
		return err
	}
	many := &products{x: x, y: y, out: c.out, m: m, k: k, n: n, ix: spread(x.shape[:nx], batch), iy: spread(y.shape[:ny], batch)}
	return b.emit(c.op, many, c.out, x, y)
}

// products multiplies pairs of small matrices.
type products struct {
	x, y, out *value
	m, k, n   int
	ix, iy    []int32 // which matrices make a pair
}

// gonum shares products of four blocks of 64 by 64 or more among goroutines of
// its own, which allocates and competes with the crew. Parts of this size stay
// below that.
const productRows, productCols = 64, 128

func (p *products) run(*crew) error {
	part := func(v *value, at, rows, cols, stride int) blas32.General {
		return blas32.General{Rows: rows, Cols: cols, Stride: stride, Data: v.data[at:][:(rows-1)*stride+cols]}
	}
	for i := range p.ix {
		x, y, out := int(p.ix[i])*p.m*p.k, int(p.iy[i])*p.k*p.n, i*p.m*p.n
		for r := 0; r < p.m; r += productRows {
			rows := min(productRows, p.m-r)
			for c := 0; c < p.n; c += productCols {
				cols := min(productCols, p.n-c)
				blas32.Gemm(blas.NoTrans, blas.NoTrans, 1, part(p.x, x+r*p.k, rows, p.k, p.k),
					part(p.y, y+c, p.k, cols, p.n), 0, part(p.out, out+r*p.n+c, rows, cols, p.n))
			}
		}
	}
	return nil
}
