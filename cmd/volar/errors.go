package main

import (
	"context"
	"errors"
	"fmt"
	"strings"

	"volar/internal/arom"
	"volar/internal/camera"
	"volar/internal/exchange"
	"volar/internal/post"
)

// The exit codes are part of the program's contract.
const (
	exitOK         = 0
	exitFailed     = 1
	exitUsage      = 2
	exitUnreadable = 3
	exitNothing    = 4
)

// errNothing says that the input was read but no hand was found in it.
var errNothing = errors.New("no hand was found")

// usageError is a command line that asks for something impossible.
type usageError struct{ err error }

func (e *usageError) Error() string { return e.err.Error() }
func (e *usageError) Unwrap() error { return e.err }

// inputError is a picture, video or camera that cannot be read.
type inputError struct{ err error }

func (e *inputError) Error() string { return e.err.Error() }
func (e *inputError) Unwrap() error { return e.err }

// fail prints the error for a person and returns the exit code. It is the one
// place that does either.
func (m *Main) fail(err error) int {
	if err == nil {
		return exitOK
	}
	fmt.Fprintf(m.Stderr, "volar: %s\n", sentence(err))
	code := exitCode(err)
	if code == exitUsage {
		fmt.Fprintln(m.Stderr, "volar: see volar --help")
	}
	return code
}

func exitCode(err error) int {
	var use *usageError
	var in *inputError
	switch {
	case err == nil:
		return exitOK
	case errors.As(err, &use), errors.Is(err, exchange.ErrCode), errors.Is(err, post.ErrNoPlace), errors.Is(err, post.ErrNoProgram),
		errors.Is(err, post.ErrNotConnected), errors.Is(err, post.ErrNotAnswered), errors.Is(err, post.ErrKeysInUse):
		return exitUsage
	case errors.As(err, &in), errors.Is(err, camera.ErrUnreadable), errors.Is(err, camera.ErrNoCamera), post.Refused(err):
		return exitUnreadable
	case errors.Is(err, errNothing), errors.Is(err, arom.ErrIncomplete):
		return exitNothing
	}
	return exitFailed
}

// sentence puts an error in words for a person, on one line.
func sentence(err error) string {
	if errors.Is(err, context.Canceled) {
		return "stopped"
	}
	var about *postError
	if errors.As(err, &about) {
		return about.what + ": " + post.Words(about.err)
	}
	if errors.Is(err, exchange.ErrCode) || errors.Is(err, post.ErrNoPlace) {
		return post.Words(err)
	}
	return strings.Join(strings.Fields(err.Error()), " ")
}
