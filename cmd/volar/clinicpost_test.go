package main

import (
	"bytes"
	"cmp"
	"context"
	"image"
	"image/color"
	"image/png"
	"os"
	"os/exec"
	"path/filepath"
	"slices"
	"strings"
	"testing"
	"time"

	"fyne.io/fyne/v2"
	"fyne.io/fyne/v2/canvas"
	"fyne.io/fyne/v2/test"
	"github.com/stretchr/testify/require"

	"volar/internal/clinicstore"
	"volar/internal/exchange"
	"volar/internal/hand"
	"volar/internal/program"
	"volar/internal/vault"
	"volar/ui/look"
)

// shape is what stands out from the ground of a picture and hangs together.
type shape struct {
	at   image.Rectangle
	dark map[image.Point]bool // from the shape's own corner
}

// shapes finds what stands out, dark on light or light on dark.
func shapes(img image.Image) []shape {
	b := img.Bounds()
	grey := func(x, y int) int { return int(color.GrayModel.Convert(img.At(x, y)).(color.Gray).Y) }
	ground := grey(b.Min.X, b.Min.Y)
	dark := map[image.Point]bool{}
	for y := b.Min.Y; y < b.Max.Y; y++ {
		for x := b.Min.X; x < b.Max.X; x++ {
			if n := grey(x, y) - ground; n > 110 || n < -110 {
				dark[image.Pt(x, y)] = true
			}
		}
	}
	var all []shape
	for len(dark) > 0 {
		var todo, mine []image.Point
		for p := range dark {
			todo = append(todo, p)
			delete(dark, p)
			break
		}
		var at image.Rectangle
		for len(todo) > 0 {
			p := todo[len(todo)-1]
			todo = todo[:len(todo)-1]
			mine = append(mine, p)
			at = at.Union(image.Rectangle{Min: p, Max: p.Add(image.Pt(1, 1))})
			for dy := -1; dy <= 1; dy++ {
				for dx := -1; dx <= 1; dx++ {
					if q := p.Add(image.Pt(dx, dy)); dark[q] {
						todo = append(todo, q)
						delete(dark, q)
					}
				}
			}
		}
		s := shape{at, map[image.Point]bool{}}
		for _, p := range mine {
			s.dark[p.Sub(at.Min)] = true
		}
		all = append(all, s)
	}
	return all
}

// unlike is the share of two shapes that is dark in one of them only.
func (s shape) unlike(o shape) float64 {
	n := 0
	for p := range s.dark {
		if !o.dark[p] {
			n++
		}
	}
	for p := range o.dark {
		if !s.dark[p] {
			n++
		}
	}
	return float64(n) / float64(len(s.dark)+len(o.dark))
}

// readCode reads the sixteen digits of an invitation off a picture of the
// window, as the therapist does: it is shown there only and kept nowhere. Its
// own check digit tells whether it was read well.
func readCode(t *testing.T, img image.Image) string {
	t.Helper()
	a := test.NewTempApp(t)
	a.Settings().SetTheme(look.Theme{Variant: look.Light, Scale: 1, Desk: true})
	size := look.Theme{Scale: 1, Desk: true}.Size(look.SizeCue)
	w := test.NewTempWindow(t, nil)
	var digits []shape
	for d := range 10 {
		text := canvas.NewText(string(rune('0'+d)), color.Black)
		text.TextSize, text.TextStyle = size, fyne.TextStyle{Bold: true}
		w.SetContent(text)
		all := shapes(w.Canvas().Capture())
		require.Len(t, all, 1, "a digit hangs together")
		digits = append(digits, all[0])
	}
	near := func(a, b int) bool { return a-b <= 2 && b-a <= 2 }
	lines := map[int][]shape{}
	for _, s := range shapes(img) {
		if near(s.at.Dy(), digits[0].at.Dy()) && s.at.Dx() <= digits[0].at.Dx()+2 {
			lines[s.at.Max.Y/4] = append(lines[s.at.Max.Y/4], s)
		}
	}
	for y, line := range lines {
		line = append(line, lines[y+1]...)
		if len(line) != 16 {
			continue
		}
		slices.SortFunc(line, func(a, b shape) int { return cmp.Compare(a.at.Min.X, b.at.Min.X) })
		var code strings.Builder
		for _, s := range line {
			best := 0
			for d := range digits {
				if s.unlike(digits[d]) < s.unlike(digits[best]) {
					best = d
				}
			}
			code.WriteByte(byte('0' + best))
		}
		return code.String()
	}
	require.Fail(t, "no line of sixteen digits is shown")
	return ""
}

// A therapist invites a client in the clinic's window and reads the code off it;
// the client takes the file with the code in the window at home: two programs
// with a data folder each, by keys alone.
func TestInviteAndAcceptInWindows(t *testing.T) {
	ctx := context.Background()
	dir, home := filepath.Join(t.TempDir(), "clinic"), filepath.Join(t.TempDir(), "home")
	store, err := clinicstore.Create(ctx, dir, clinicPhrase, clinicstore.Options{KDF: vault.KDF{Time: 1, MemoryKiB: 64, Threads: 1}})
	require.NoError(t, err)
	require.NoError(t, store.PutClient(ctx, clinicstore.Client{Code: "K-104", Hands: "right", Created: time.Now()}))
	p, _, err := program.New(program.Options{Client: "K-104", Side: program.Side(hand.Right), Exercises: []string{"whole-hand-grip"}, Now: time.Now().AddDate(0, 0, -1), Zone: "UTC"}, program.Source{})
	require.NoError(t, err)
	require.NoError(t, store.PutProgram(ctx, p))
	require.NoError(t, store.Close())

	d := newDesktop(t, "+extension", "GLX")
	v := d.start("clinic", "--store", dir)
	v.reach("Open the clinic's store")
	v.types(clinicPhrase)
	v.press("Return")
	v.reach("Clients")
	v.press("Return")
	v.reach("K-104")
	v.press("i")
	v.reach("Connect the home of K-104")
	v.press("Return")
	v.reach("Read this code out to K-104")
	var code string
	late := time.Now().Add(20 * time.Second)
	for {
		// The title comes before the picture.
		time.Sleep(500 * time.Millisecond)
		shot := exec.Command("import", "-window", "root", "png:-")
		shot.Env = d.env
		body, err := shot.Output()
		require.NoError(t, err)
		if path := os.Getenv("VOLAR_SCREEN"); path != "" {
			require.NoError(t, os.WriteFile(path, body, 0o600))
		}
		img, err := png.Decode(bytes.NewReader(body))
		require.NoError(t, err)
		code = readCode(t, img)
		if _, err = exchange.ParseCode(code); err == nil {
			break
		}
		require.True(t, time.Now().Before(late), "%s: %v", code, err)
	}
	v.press("Return")
	v.reach("K-104")
	v.press("ctrl+q")
	v.ends()

	c := d.start("--camera", "/dev/video99", "--store", home)
	c.reach("Before you begin")
	c.press("space")
	c.reach("Today")
	c.press("t")
	c.reach("From and to your therapist")
	c.press("space")
	c.reach("Which file did your therapist give you?")
	c.press("1")
	c.reach("Type the sixteen digits that you were told")
	for _, k := range code {
		c.press(string(k))
	}
	c.press("Return")
	c.reach("Your exercises are here")
	c.press("space")
	c.reach("From and to your therapist")
	c.press("Escape")
	c.reach("Today")
	c.press("q")
	c.ends()

	got, err := vault.Open(ctx, home, vault.Options{ReadOnly: true})
	require.NoError(t, err)
	defer got.Close()
	all, err := got.Programs(ctx, "K-104")
	require.NoError(t, err)
	require.Len(t, all, 1)
	require.Equal(t, 1, all[0].Number)
}
