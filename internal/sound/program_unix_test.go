//go:build unix

package sound

import (
	"os"
	"path/filepath"
	"testing"
	"time"

	"github.com/stretchr/testify/require"
)

// A speech program that is really run: a script of the test's own under the name
// of one, found as any program is.
func TestSpeechIsRunAsAProgram(t *testing.T) {
	dir := t.TempDir()
	heard := filepath.Join(dir, "heard")
	script := "#!/bin/sh\nprintf '%s|' \"$#\" \"$@\" >> '" + heard + "'\n"
	require.NoError(t, os.WriteFile(filepath.Join(dir, "espeak-ng"), []byte(script), 0o700))
	t.Setenv("PATH", dir)
	p, err := New(Options{})
	require.NoError(t, err)
	require.Equal(t, Status{Speech: true, CanSpeak: true}, p.Status(), "there is nothing here that plays tones")
	const said = "Your index finger's middle knuckle is bending backwards; $HOME `date`."
	p.Say(said, true)
	// The whole sentence is one argument, and no shell reads it.
	require.Eventually(t, func() bool {
		b, _ := os.ReadFile(heard)
		return string(b) == "1|"+said+"|"
	}, 10*time.Second, 5*time.Millisecond)
	require.NoError(t, p.Close())
	require.NoError(t, p.Status().Trouble)

	// One that fails is told.
	require.NoError(t, os.WriteFile(filepath.Join(dir, "espeak-ng"), []byte("#!/bin/sh\nexit 3\n"), 0o700))
	p, err = New(Options{})
	require.NoError(t, err)
	p.Say("Hold gently.", false)
	require.Eventually(t, func() bool { return p.Status().Trouble != nil }, 10*time.Second, 5*time.Millisecond)
	p.Set(true, false)
	require.False(t, p.Status().Speech, "off is off")
	require.NoError(t, p.Close())
}
