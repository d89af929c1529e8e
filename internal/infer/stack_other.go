//go:build !linux

package infer

// onDeepStack runs f as it is: only on Linux does the library look at the
// whole command line.
func onDeepStack(f func() error) error { return f() }
