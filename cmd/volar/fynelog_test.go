package main

import (
	"bytes"
	"fmt"
	"testing"

	"github.com/stretchr/testify/require"
)

func TestFyneLog(t *testing.T) {
	var out bytes.Buffer
	l := &fyneLog{to: &out}
	line := func(s string) { fmt.Fprintf(l, "2026/11/25 16:13:00 %s\n", s) }
	line("Fyne error:  something else")
	line("  Cause: of its own")
	line("  At: there.go:1")
	require.Contains(t, out.String(), "something else")
	require.Contains(t, out.String(), "of its own")
	require.Contains(t, out.String(), "there.go:1")
	require.NoError(t, l.failed())

	line("Fyne error:  window creation error")
	line("  Cause: APIUnavailable: GLX: GLX extension not found")
	line("  At: driver.go:147")
	line("Fyne error:  window creation error")
	require.ErrorIs(t, l.failed(), errNoOpenGL)
	require.ErrorContains(t, l.failed(), "(APIUnavailable: GLX: GLX extension not found)")
	require.NotContains(t, out.String(), "GLX")
}
