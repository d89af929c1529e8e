package main

import (
	"testing"

	"fyne.io/fyne/v2"
	"fyne.io/fyne/v2/app"
	"github.com/stretchr/testify/require"
)

// endingApp is fyne's app with a loop of the test's own.
type endingApp struct {
	fyne.App
	run func()
}

func (a endingApp) Run() { a.run() }

// The hook that saves the preferences is still where fyne has it, is not there
// while the loop ends, and is called once it has.
func TestThePreferencesAreSavedAfterTheLoop(t *testing.T) {
	a := app.NewWithID(appID)
	l, ok := a.Lifecycle().(stopHook)
	require.True(t, ok)
	require.NotNil(t, l.OnStopped())
	var did []string
	l.SetOnStoppedHookExecuted(func() { did = append(did, "saved") })
	d := &desk{app: endingApp{a, func() {
		require.Nil(t, l.OnStopped())
		did = append(did, "ended")
	}}}
	d.loop()
	require.Equal(t, []string{"ended", "saved"}, did)
}
