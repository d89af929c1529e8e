//go:build cgo

package infer

import (
	"errors"
	"fmt"
	"io/fs"
	"path/filepath"
	"slices"
	"strings"
	"sync"

	ort "github.com/yalue/onnxruntime_go"
)

// OpenRuntime loads ONNX Runtime. Several engines may be open at once; they
// share the library, which is unloaded with the last of them. An error wraps
// ErrNoRuntime and says what to do.
func OpenRuntime(o RuntimeOptions) (Engine, error) {
	if err := library.acquire(o); err != nil {
		return nil, err
	}
	return &engine{name: "ONNX Runtime " + ort.GetVersion()}, nil
}

// library is the one ONNX Runtime of the process. The binding keeps its
// environment in global variables without locks, so that this package must
// have one lock for all engines, whoever made them.
var library sharedLibrary

type sharedLibrary struct {
	mu   sync.Mutex
	uses int    // engines and graphs that hold the library
	path string // of the library in use
}

// acquire loads the library, or shares the one that is loaded.
func (l *sharedLibrary) acquire(o RuntimeOptions) error {
	l.mu.Lock()
	defer l.mu.Unlock()
	paths, chosen := candidates(o)
	if l.uses > 0 {
		if chosen && !slices.ContainsFunc(paths, func(p string) bool { return samePath(p, l.path) }) {
			return fmt.Errorf("%w: %s was asked for, but this process has %s loaded already; close that engine first", ErrNoRuntime, paths[0], l.path)
		}
		l.uses++
		return nil
	}
	var found []string
	for _, p := range paths {
		err := load(p)
		switch {
		case err == nil:
			l.path, l.uses = p, 1
			return nil
		case !errors.Is(err, fs.ErrNotExist):
			found = append(found, err.Error())
		}
	}
	switch {
	case len(found) > 0:
	case chosen:
		found = []string{paths[0] + " does not exist"}
	default:
		found = []string{"none was found on this computer"}
	}
	return fmt.Errorf("%w: %s; %s", ErrNoRuntime, strings.Join(found, ", "), fix)
}

func load(path string) error {
	if filepath.Base(path) != path {
		if err := inspect(path); err != nil {
			return err
		}
	}
	ort.SetSharedLibraryPath(path)
	err := onDeepStack(func() error { return ort.InitializeEnvironment(ort.WithLogLevelFatal()) })
	if err != nil {
		return explain(path, err)
	}
	return nil
}

// share takes one more hold of a library that the caller already holds.
func (l *sharedLibrary) share() {
	l.mu.Lock()
	defer l.mu.Unlock()
	l.uses++
}

func (l *sharedLibrary) release() error {
	l.mu.Lock()
	defer l.mu.Unlock()
	if l.uses--; l.uses > 0 {
		return nil
	}
	if err := ort.DestroyEnvironment(); err != nil {
		return fmt.Errorf("unload %s: %w", l.path, err)
	}
	return nil
}

func samePath(a, b string) bool {
	x, err := filepath.EvalSymlinks(a)
	if err != nil {
		return a == b
	}
	y, err := filepath.EvalSymlinks(b)
	return err == nil && x == y
}

type engine struct {
	name string

	mu     sync.Mutex
	closed bool
}

func (e *engine) Name() string { return e.name }

// hold takes a hold of the library for a new graph, so that it stays loaded
// should the engine be closed meanwhile.
func (e *engine) hold() error {
	e.mu.Lock()
	defer e.mu.Unlock()
	if e.closed {
		return ErrClosed
	}
	library.share()
	return nil
}

func (e *engine) Close() error {
	e.mu.Lock()
	defer e.mu.Unlock()
	if e.closed {
		return nil
	}
	e.closed = true
	return library.release()
}

func (e *engine) Load(model []byte, o Options) (Graph, error) {
	if o.Threads < 0 {
		return nil, fmt.Errorf("threads is %d, want 0 (for %d) or more", o.Threads, defaultThreads)
	}
	if o.Threads == 0 {
		o.Threads = defaultThreads
	}
	if len(model) == 0 {
		return nil, fmt.Errorf("%w: it is empty", ErrModel)
	}
	if err := e.hold(); err != nil {
		return nil, err
	}
	g := &graph{}
	if err := g.load(model, o); err != nil {
		return nil, errors.Join(err, g.Close())
	}
	return g, nil
}

// graph is a session with its own input and output buffers, whose addresses
// the library keeps. Callers' slices are copied in and out: 0.6 MB for a
// 224×224 picture, some 50 µs beside milliseconds.
type graph struct {
	inputs, outputs []Spec

	mu      sync.Mutex
	closed  bool
	session *ort.AdvancedSession
	in, out []*ort.Tensor[float32]
}

func (g *graph) load(model []byte, o Options) error {
	in, out, err := ort.GetInputOutputInfoWithONNXData(model)
	if err != nil {
		return fmt.Errorf("%w: %w", ErrModel, err)
	}
	if g.inputs, err = specs("input", in); err != nil {
		return err
	}
	if g.outputs, err = specs("output", out); err != nil {
		return err
	}
	if g.in, err = buffers(g.inputs); err != nil {
		return err
	}
	if g.out, err = buffers(g.outputs); err != nil {
		return err
	}
	options, err := ort.NewSessionOptions()
	if err != nil {
		return fmt.Errorf("session options: %w", err)
	}
	defer options.Destroy()
	if err := errors.Join(
		options.SetIntraOpNumThreads(o.Threads),
		options.SetInterOpNumThreads(1),
		// Pictures come every 33 ms or so; worker threads that wait for the
		// next one in a busy loop would take a core from everything else.
		options.AddSessionConfigEntry("session.intra_op.allow_spinning", "0"),
	); err != nil {
		return fmt.Errorf("session options: %w", err)
	}
	g.session, err = ort.NewAdvancedSessionWithONNXData(model, names(g.inputs), names(g.outputs), values(g.in), values(g.out), options)
	if err != nil {
		return fmt.Errorf("%w: %w", ErrModel, err)
	}
	return nil
}

// maxElements bounds one tensor to 1 GiB; a damaged model may ask for more.
const maxElements = 1 << 28

// specs checks that every value is a float32 tensor of fixed shape.
func specs(what string, infos []ort.InputOutputInfo) ([]Spec, error) {
	if len(infos) == 0 {
		return nil, fmt.Errorf("%w: it has no %ss", ErrModel, what)
	}
	var r []Spec
	for _, i := range infos {
		if i.OrtValueType != ort.ONNXTypeTensor || i.DataType != ort.TensorElementDataTypeFloat {
			return nil, fmt.Errorf("%w: %s %q is not a float32 tensor", ErrModel, what, i.Name)
		}
		s, n := Spec{Name: i.Name}, int64(1)
		for _, d := range i.Dimensions {
			if d < 1 || d > maxElements || n*d > maxElements {
				return nil, fmt.Errorf("%w: %s %q has shape %v, want fixed dimensions", ErrModel, what, i.Name, i.Dimensions)
			}
			n *= d
			s.Shape = append(s.Shape, int(d))
		}
		if len(s.Shape) == 0 {
			return nil, fmt.Errorf("%w: %s %q is a single number, want a tensor", ErrModel, what, i.Name)
		}
		r = append(r, s)
	}
	return r, nil
}

func buffers(specs []Spec) ([]*ort.Tensor[float32], error) {
	var r []*ort.Tensor[float32]
	for _, s := range specs {
		shape := make(ort.Shape, len(s.Shape))
		for i, d := range s.Shape {
			shape[i] = int64(d)
		}
		t, err := ort.NewEmptyTensor[float32](shape)
		if err != nil {
			return r, fmt.Errorf("buffer for %q: %w", s.Name, err)
		}
		r = append(r, t)
	}
	return r, nil
}

func names(specs []Spec) []string {
	r := make([]string, len(specs))
	for i, s := range specs {
		r[i] = s.Name
	}
	return r
}

func values(tensors []*ort.Tensor[float32]) []ort.Value {
	r := make([]ort.Value, len(tensors))
	for i, t := range tensors {
		r[i] = t
	}
	return r
}

func (g *graph) Inputs() []Spec  { return cloneSpecs(g.inputs) }
func (g *graph) Outputs() []Spec { return cloneSpecs(g.outputs) }

func (g *graph) Run(in, out []Tensor) error {
	if err := match("input", g.inputs, in); err != nil {
		return err
	}
	if err := match("output", g.outputs, out); err != nil {
		return err
	}
	g.mu.Lock()
	defer g.mu.Unlock()
	if g.closed {
		return ErrClosed
	}
	for i, t := range in {
		copy(g.in[i].GetData(), t.Data)
	}
	if err := g.session.Run(); err != nil {
		return fmt.Errorf("run model: %w", err)
	}
	for i, t := range out {
		copy(t.Data, g.out[i].GetData())
	}
	return nil
}

func (g *graph) Close() error {
	g.mu.Lock()
	defer g.mu.Unlock()
	if g.closed {
		return nil
	}
	g.closed = true
	var errs []error
	if g.session != nil {
		errs = append(errs, g.session.Destroy())
	}
	for _, t := range slices.Concat(g.in, g.out) {
		errs = append(errs, t.Destroy())
	}
	return errors.Join(append(errs, library.release())...)
}
