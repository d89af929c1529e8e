package main

import (
	"cmp"
	"context"
	"errors"
	"fmt"
	"slices"
	"strings"

	"github.com/alecthomas/kong"

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
		fmt.Fprintf(m.Stderr, "volar: see %s --help\n", cmp.Or(m.command, "volar"))
	}
	return code
}

// misused puts a command line that cannot be read in words.
func (m *Main) misused(err error) error {
	var at *kong.ParseError
	if !errors.As(err, &at) || at.Context == nil {
		return &usageError{err}
	}
	m.command = m.named(at.Context)
	if list, ok := strings.CutPrefix(err.Error(), "expected one of "); ok {
		return &usageError{fmt.Errorf("say what to do: %s", strings.ReplaceAll(list, `"`, ""))}
	}
	if what, ok := strings.CutPrefix(err.Error(), "expected "); ok && m.command != "" {
		what = strings.Trim(strings.TrimSuffix(strings.Trim(what, `"`), " ..."), `"`)
		return &usageError{fmt.Errorf("missing %s; write %s %s", what, m.command, operands(at.Context))}
	}
	return &usageError{err}
}

// named is the command that the person wrote; empty where that is none, though
// one stands in for it.
func (m *Main) named(c *kong.Context) string {
	node := c.Model.Node
	for _, p := range c.Path {
		if p.Command != nil {
			node = p.Command
		}
	}
	words := strings.Fields(node.Path())
	if len(words) == 0 || len(words) > len(m.Args) || !slices.Equal(words, m.Args[:len(words)]) {
		return ""
	}
	return "volar " + strings.Join(words, " ")
}

// operands are what follows a command.
func operands(c *kong.Context) string {
	var all []string
	for _, p := range c.Path {
		if p.Command == nil {
			continue
		}
		for _, a := range p.Command.Positional {
			all = append(all, a.Summary())
		}
	}
	return strings.Join(all, " ")
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
