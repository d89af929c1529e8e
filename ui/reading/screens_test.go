package reading

import (
	"errors"
	"flag"
	"fmt"
	"image/png"
	"os"
	"path/filepath"
	"testing"

	"fyne.io/fyne/v2"
	"fyne.io/fyne/v2/test"
	"github.com/stretchr/testify/require"

	"volar/ui/look"
	"volar/ui/parts"
)

var (
	update   = flag.Bool("update", false, "write the golden files anew")
	pictures = flag.String("pictures", "", "put a picture of every screen into this folder")
)

// walk goes through every screen and says where it is.
func walk(t *testing.T, d *desk, here func(name string)) {
	at[*queue](d)
	here("queue")
	d.press(fyne.KeyU)
	here("queue-all")
	d.press(fyne.KeyU, fyne.KeyU, fyne.KeyHome, fyne.KeyReturn)
	at[*overview](d)
	here("session")
	d.press(fyne.KeyN)
	d.painted(at[*viewer](d))
	here("replay-moment")
	d.press(fyne.KeyEnd, fyne.KeyV, fyne.KeyMinus)
	d.painted(at[*viewer](d))
	here("replay-end")
	d.press(fyne.KeyH)
	at[*says](d)
	here("signs")
	d.press(fyne.KeyEscape)
	at[*viewer](d)
	d.press(fyne.KeyT)
	n := at[*note](d)
	n.problem.Problem("Nothing is written yet.")
	here("note")
	d.typed("Less stiff.")
	d.press(fyne.KeyEscape)
	at[*leaveNote](d)
	here("note-leave")
	d.press(fyne.KeyT)
	at[*viewer](d)
	d.press(fyne.KeyEscape)
	at[*overview](d)
	d.press(fyne.KeyC)
	at[*compare](d)
	d.press(fyne.KeyDown)
	here("compare")
	if parts.Large() {
		d.press(fyne.KeyM)
		here("compare-course")
	}
	d.press(fyne.KeyEscape)
	at[*overview](d)
	d.press(fyne.KeyW)
	w := at[*weeks](d)
	d.q.until(t, func() bool { return w.report != nil })
	d.press(fyne.KeyDown)
	here("weeks")
	for i := 1; i < 4 && parts.Large(); i++ {
		d.press(fyne.KeyM)
		here(fmt.Sprintf("weeks-%d", i))
	}
	d.press(fyne.KeyR)
	at[*paper](d)
	here("paper")
	d.press(fyne.KeyEscape)
	at[*weeks](d)
	d.r.show(trouble(d.r, "The session cannot be read", errors.New("the disk is gone"), func() {}, func() {}))
	here("trouble")
}

// Every screen, as text that can be compared line by line.
func TestScreens(t *testing.T) {
	d := sit(t, kept(t), size(1280, 720), 100, Queue)
	walk(t, d, func(name string) {
		t.Run(name, func(t *testing.T) {
			path := filepath.Join("testdata", name+".xml")
			if *update {
				require.NoError(t, os.MkdirAll("testdata", 0o755))
				require.NoError(t, os.WriteFile(path, []byte(test.RenderToMarkup(d.w.Canvas())), 0o644))
			}
			test.AssertRendersToMarkup(t, name+".xml", d.w.Canvas())
		})
	})
}

// Nothing needs a window larger than the smallest that is supported, at any size
// of text, or lies outside of it; what is touched has the size that a desk's
// targets have (WCAG 2.2, 2.5.5: 44 px).
func TestEveryScreenFitsAndHasTargets(t *testing.T) {
	store := kept(t)
	for _, percent := range []int{100, 200} {
		t.Run(fmt.Sprintf("%d%%", percent), func(t *testing.T) {
			d := sit(t, store, size(1280, 720), percent, Queue)
			walk(t, d, func(name string) {
				content := d.w.Canvas().Content()
				least := content.MinSize()
				require.LessOrEqual(t, least.Width, float32(1280), name)
				require.LessOrEqual(t, least.Height, float32(720), name)
				targets := 0
				for _, o := range test.LaidOutObjects(content) {
					_, touched := o.(fyne.Tappable)
					_, focused := o.(fyne.Focusable)
					if !touched || !focused || !o.Visible() {
						continue
					}
					targets++
					require.GreaterOrEqual(t, o.Size().Width, float32(look.DeskTarget), "%s: %T", name, o)
					require.GreaterOrEqual(t, o.Size().Height, float32(look.DeskTarget), "%s: %T", name, o)
					right := fyne.CurrentApp().Driver().AbsolutePositionForObject(o).X + o.Size().Width
					require.LessOrEqual(t, right, float32(1281), "%s: %T is cut off", name, o)
				}
				require.Positive(t, targets, name)
				if *pictures != "" {
					out, err := os.Create(filepath.Join(*pictures, fmt.Sprintf("%s-%d.png", name, percent)))
					require.NoError(t, err)
					require.NoError(t, png.Encode(out, d.w.Canvas().Capture()))
					require.NoError(t, out.Close())
				}
			})
		})
	}
}
