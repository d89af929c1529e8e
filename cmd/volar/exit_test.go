package main

import (
	"bytes"
	"context"
	"errors"
	"fmt"
	"io/fs"
	"testing"

	"github.com/stretchr/testify/require"

	"volar/internal/camera"
)

func TestExitCodes(t *testing.T) {
	// The codes are the program's contract with scripts.
	for _, c := range []struct {
		err  error
		want int
	}{
		{nil, 0},
		{errors.New("the model failed"), 1},
		{context.Canceled, 1},
		{&usageError{errors.New("side \"both\"")}, 2},
		{fmt.Errorf("check: %w", &usageError{errors.New("limit")}), 2},
		{&inputError{fs.ErrNotExist}, 3},
		{fmt.Errorf("x.avi: %w", camera.ErrUnreadable), 3},
		{fmt.Errorf("camera 0: %w", camera.ErrNoCamera), 3},
		{fmt.Errorf("%w in 3 pictures", errNothing), 4},
	} {
		require.Equal(t, c.want, exitCode(c.err), "%v", c.err)
	}
}

func TestExitCodesOfCommands(t *testing.T) {
	for _, c := range []struct {
		args []string
		want int
	}{
		{nil, 2},
		{[]string{"--help"}, 0},
		{[]string{"version"}, 0},
		{[]string{"catalogue"}, 0},
		{[]string{"catalogue", "juggling"}, 2},
		{[]string{"fly"}, 2},
		{[]string{"check"}, 2},
		{[]string{"check", "--limit", "index.pip=5..1", "x.avi"}, 2},
		{[]string{"check", "missing.avi"}, 3},
		{[]string{"check", "--camera", "93"}, 3},
		{[]string{"measure", "missing.png"}, 3},
		{[]string{"measure", "--hands", "3", "missing.png"}, 2},
	} {
		var out, errs bytes.Buffer
		m := Main{Args: c.args, Stdout: &out, Stderr: &errs}
		require.Equal(t, c.want, m.Run(t.Context()), "%q: %s", c.args, errs.String())
		if c.want != 0 && c.args != nil {
			require.Regexp(t, `^volar: [^\n]+\n`, errs.String(), "%q says what is wrong on one line", c.args)
		}
	}
}

func TestAnglesAreSaidWithoutSigns(t *testing.T) {
	// Clinics use + and - for opposite things (Mulder and Wittmeier 2009).
	for deg, want := range map[float64]string{41.2: "41°", 0: "0°", -0.4: "0°", -12: "12° past"} {
		require.Equal(t, want, angleText(deg))
	}
	require.Equal(t, "straight", limitText(0))
	require.Equal(t, "5° past straight", limitText(-5))
	require.Equal(t, "30° short of straight", limitText(30))
}
