package portable

import (
	"fmt"
	"sync"

	"volar/internal/infer"
)

// Options of an engine.
type Options struct {
	// Known says whether a file is one that this engine was tried with: nil
	// for such a file, else what is wrong. The decoder below was not written
	// for files of doubtful origin, so that without Known every file is
	// refused.
	Known func(model []byte) error
	// Plain does without the processor's vector instructions.
	Plain bool
}

// Open returns the engine. It needs nothing that could be missing.
func Open(o Options) infer.Engine {
	return &engine{known: o.Known, simd: haveSIMD() && !o.Plain}
}

type engine struct {
	known func([]byte) error
	simd  bool

	mu     sync.Mutex
	closed bool
}

// maxThreads is more than any computer it runs on can use for one graph.
const maxThreads = 64

const defaultThreads = 2

func (e *engine) Name() string {
	if e.simd {
		return "portable engine (AVX2)"
	}
	return "portable engine (plain)"
}

func (e *engine) Load(model []byte, o infer.Options) (infer.Graph, error) {
	e.mu.Lock()
	closed := e.closed
	e.mu.Unlock()
	switch {
	case closed:
		return nil, infer.ErrClosed
	case o.Threads < 0 || o.Threads > maxThreads:
		return nil, fmt.Errorf("threads is %d, want 0 to %d", o.Threads, maxThreads)
	case e.known == nil:
		return nil, fmt.Errorf("%w: the portable engine was given no list of known models", infer.ErrModel)
	}
	if err := e.known(model); err != nil {
		return nil, fmt.Errorf("%w: %w", infer.ErrModel, err)
	}
	if o.Threads == 0 {
		o.Threads = defaultThreads
	}
	return load(model, e.simd, o.Threads)
}

func (e *engine) Close() error {
	e.mu.Lock()
	defer e.mu.Unlock()
	e.closed = true
	return nil
}

// load builds the graph of a file. No damage of the file may end the program.
func load(model []byte, simd bool, threads int) (_ *network, err error) {
	defer func() {
		if p := recover(); p != nil {
			err = fmt.Errorf("%w: %v", infer.ErrModel, p)
		}
	}()
	f, err := decode(model)
	if err != nil {
		return nil, fmt.Errorf("%w: %w", infer.ErrModel, err)
	}
	b := &builder{simd: simd, threads: threads}
	if err := b.build(f); err != nil {
		return nil, fmt.Errorf("%w: %w", infer.ErrModel, err)
	}
	g := &network{in: b.inputs, out: b.outputs, steps: b.steps}
	layOut(g)
	g.crew = newCrew(threads)
	return g, nil
}

// network is a loaded model. It owns its helper goroutines.
type network struct {
	in, out []*value
	steps   []step
	arena   []float32

	mu     sync.Mutex
	crew   *crew
	closed bool
}

func (g *network) Inputs() []infer.Spec  { return specs(g.in) }
func (g *network) Outputs() []infer.Spec { return specs(g.out) }

func specs(vs []*value) []infer.Spec {
	r := make([]infer.Spec, len(vs))
	for i, v := range vs {
		r[i] = infer.Spec{Name: v.name, Shape: append([]int(nil), v.shape...)}
	}
	return r
}

func (g *network) Run(in, out []infer.Tensor) error {
	g.mu.Lock()
	defer g.mu.Unlock()
	if g.closed {
		return infer.ErrClosed
	}
	if err := match("input", g.in, in); err != nil {
		return err
	}
	if err := match("output", g.out, out); err != nil {
		return err
	}
	for i, t := range in {
		copy(g.in[i].data, t.Data)
	}
	if err := g.compute(); err != nil {
		return err
	}
	for i, t := range out {
		copy(t.Data, g.out[i].data)
	}
	return nil
}

func (g *network) compute() (err error) {
	defer func() {
		if p := recover(); p != nil {
			err = fmt.Errorf("run model: %v", p)
		}
	}()
	for i := range g.steps {
		if err := g.steps[i].kernel.run(g.crew); err != nil {
			return fmt.Errorf("run model: %s %q: %w", g.steps[i].op, g.steps[i].writes.name, err)
		}
	}
	return nil
}

// match does what infer does for ONNX Runtime, without allocating.
func match(what string, vs []*value, tensors []infer.Tensor) error {
	if len(tensors) != len(vs) {
		return fmt.Errorf("%w: %d %ss, want %d", infer.ErrShape, len(tensors), what, len(vs))
	}
	for i, v := range vs {
		if err := infer.Match(what, i, v.name, v.shape, tensors[i]); err != nil {
			return err
		}
	}
	return nil
}

func (g *network) Close() error {
	g.mu.Lock()
	defer g.mu.Unlock()
	if !g.closed {
		g.closed = true
		g.crew.close()
	}
	return nil
}
