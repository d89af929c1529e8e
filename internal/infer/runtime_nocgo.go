//go:build !cgo

package infer

import "fmt"

// OpenRuntime loads ONNX Runtime in a program that was built with cgo, which
// calling it needs. This one was not.
func OpenRuntime(RuntimeOptions) (Engine, error) {
	return nil, fmt.Errorf("%w: this program was built without cgo, which calling it needs; use the portable engine", ErrNoRuntime)
}
