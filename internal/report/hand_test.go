package report

import (
	"bytes"
	"errors"
	"image"
	"os/exec"
	"strings"
	"testing"
	"time"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"volar/internal/arom"
	"volar/internal/goniometry"
	"volar/internal/hand"
	"volar/internal/score"
)

// handTable is a recorded hand with a joint past straight and one that was not
// judged in the fist.
func handTable(t *testing.T) arom.Table {
	t.Helper()
	rec, err := arom.NewRecording(goniometry.CaptureOptions{Side: hand.Right, Still: true, At: time.Date(2026, 11, 26, 9, 0, 0, 0, time.UTC)})
	require.NoError(t, err)
	for i, step := range arom.UsualSteps() {
		s := hand.Sample{Time: time.Duration(i+1) * time.Second, Found: true, Side: hand.Right, View: hand.View{YawDeg: step.YawDeg}, PalmPixels: 120}
		for j := range s.Joints {
			deg := 2.0
			if step.Pose == goniometry.FullFist {
				deg = 80
			}
			s.Joints[j] = hand.Measurement{FlexionDeg: deg, RawDeg: deg, SEDeg: 5, Judged: true}
		}
		if step.YawDeg == 90 {
			s.Joints[hand.IndexPIP] = hand.Measurement{RawDeg: -12, SEDeg: 4, Judged: true, ExtensionJudged: true}
		}
		if step.Pose == goniometry.FullFist {
			s.Joints[hand.RingDIP] = hand.Measurement{Why: hand.Hidden, ExtensionWhy: hand.Hidden}
		}
		rec.Push(s, nil, image.Point{})
	}
	b, err := rec.Baseline()
	require.NoError(t, err)
	norms, _ := score.FindNormSet("aaos-1965")
	return arom.TableOf(b, arom.TableOptions{Norms: norms})
}

// reads is says for a PDF of one page.
func reads(t *testing.T, name string, pdf []byte, want ...string) {
	t.Helper()
	require.Equal(t, 1, bytes.Count(pdf, []byte("/Type /Page\n")), "it is one page")
	says(t, name, pdf, want...)
}

// says looks for words in a PDF, where there is poppler's pdftotext to read it;
// everywhere it looks at the file's frame.
func says(t *testing.T, name string, pdf []byte, want ...string) {
	t.Helper()
	require.True(t, bytes.HasPrefix(pdf, []byte("%PDF-1.")))
	keep(t, name, pdf)
	c := exec.Command("pdftotext", "-layout", "-", "-")
	c.Stdin = bytes.NewReader(pdf)
	out, err := c.Output()
	if errors.Is(err, exec.ErrNotFound) {
		t.Log("pdftotext is not installed: the words were not read")
		return
	}
	require.NoError(t, err)
	text := strings.Join(strings.Fields(string(out)), " ")
	for _, w := range want {
		assert.Contains(t, text, w)
	}
	assert.NotRegexp(t, `(^| )[-−+]\d`, text, "no bare sign")
}

func TestHandOnPaper(t *testing.T) {
	made := time.Date(2026, 11, 26, 12, 0, 0, 0, time.UTC)
	table := handTable(t)
	var b bytes.Buffer
	require.NoError(t, HandTable(&b, "K-104", &table, time.UTC, made))
	reads(t, "hand.pdf", b.Bytes(), "Baseline of K-104", "Right hand, recorded 26 November 2026, 09:00", "12° past straight ± 4°", "Index PIP reads 12° past straight",
		"45° past straight to 90°", "AAOS 1965", "not judged: DIP", "no goniometer was used", "stop and call your therapist", "page 1 of 1")

	table.Lines[hand.IndexPIP].Straight = arom.Reading{Deg: -8, SEDeg: 2.3, Judged: true, PastJudged: true, Known: true}
	b.Reset()
	require.NoError(t, HandTable(&b, "K-104", &table, time.UTC, made))
	reads(t, "hand-goniometer.pdf", b.Bytes(), "8° past straight (goniometer)", "an angle that was measured with a goniometer says so")

	s := hand.Sample{Found: true, Side: hand.Left, View: hand.View{YawDeg: -88, SEDeg: 8}}
	for j := range s.Joints {
		s.Joints[j] = hand.Measurement{FlexionDeg: 10, SEDeg: 4, Judged: true}
	}
	s.Joints[hand.LittlePIP] = hand.Measurement{Why: hand.Hidden, ExtensionWhy: hand.Hidden}
	m, err := arom.Measured(s, made, "a", nil)
	require.NoError(t, err)
	b.Reset()
	require.NoError(t, HandMeasurement(&b, "K-104", m, time.UTC, made))
	reads(t, "measurement.pdf", b.Bytes(), "Measurement of K-104", "Left hand, 26 November 2026, 12:00", "Ulnar view, turned 88° from the palm", "little PIP not judged (hidden)")
}
