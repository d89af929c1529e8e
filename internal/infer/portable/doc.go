// Package portable runs the project's ONNX graphs without any native library:
// an engine for internal/infer where ONNX Runtime cannot be loaded.
//
// # From file to run
//
//	bytes ─ known? ─ bounds ─ decode ─▶ nodes ─ build ─▶ steps ─ lay out ─▶ graph
//
// A file is looked at only if Options.Known vouches for it. bounds.go checks
// its sizes before anything is allocated, decode.go has onnx-go read it, and
// build.go turns every node into a step: shapes are worked out, what depends
// on constants alone is computed there and then, and a convolution takes the
// addition and the activation behind it along. arena.go gives all results
// places in one buffer by when each is last read. A run then goes through the
// steps; it allocates nothing.
//
// # Layout
//
// Shapes are those of the ONNX file. A picture of shape 1×C×H×W may lie in
// memory with its channels last (value.last), as the kernels want it; where an
// operator wants the file's order, a step in between puts it so. All numbers
// are float32; whole numbers are held as float32 too, which is exact to 2²⁴,
// and larger ones may only steer the building.
//
// # Kernels
//
// Matrix products, depthwise convolutions and activations have AVX2 and FMA
// code in assembly for amd64, taken where the processor has both. Everything
// also exists in plain Go on gonum's BLAS: on other processors, with the build
// tag purego, and with Options.Plain.
//
// # Errors
//
// infer.ErrModel: an unknown file, or a graph with something that is not
// supported or does not fit together; whatever panics below is turned into it.
// infer.ErrShape and infer.ErrClosed as in package infer. A run fails if the
// graph computes an index outside of a tensor.
package portable
