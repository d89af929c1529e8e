package home

import (
	"testing"
	"time"

	"fyne.io/fyne/v2/test"
	"github.com/stretchr/testify/require"
)

// The settings say what measures the hand and what that costs, after a sitting
// in which it was measured.
func TestSettingsSayWhatTheEngineCosts(t *testing.T) {
	m, _ := day(t)
	h, w, _ := opened(t, m, 100)
	<-h.loaded
	require.NoError(t, h.failed)
	h.show(newSettings(h))
	require.NotContains(t, test.RenderToMarkup(w.Canvas()), "a picture takes")
	h.works = 18600 * time.Microsecond
	h.show(newSettings(h))
	require.Equal(t, "Your hand is measured by "+h.engine.Name()+"; a picture takes 19 ms.", h.engineWords())
	require.Contains(t, test.RenderToMarkup(w.Canvas()), "a picture takes")
}
