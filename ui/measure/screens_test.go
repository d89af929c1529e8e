package measure

import (
	"flag"
	"fmt"
	"os"
	"path/filepath"
	"testing"
	"time"

	"fyne.io/fyne/v2"
	"fyne.io/fyne/v2/test"
	"github.com/stretchr/testify/require"

	"volar/internal/arom"
	"volar/internal/goniometry"
	"volar/internal/hand"
	"volar/internal/stage"
	"volar/ui/look"
)

var update = flag.Bool("update", false, "write the golden files anew")

// recordedHand is a hand of which one joint is past straight and one hidden.
func recordedHand(side string) *goniometry.Baseline {
	view := func(pose goniometry.BaselinePose, yaw, deg, se float64, past bool) goniometry.BaselineView {
		v := goniometry.BaselineView{Pose: pose, YawDeg: yaw, Pictures: 40, Joints: map[string]goniometry.BaselineJoint{}}
		for j := range hand.Joint(hand.NumJoints) {
			v.Joints[j.String()] = goniometry.BaselineJoint{ReadDeg: deg + float64(j), SEDeg: se, ShowsPastStraight: past}
		}
		return v
	}
	b := &goniometry.Baseline{
		Version: goniometry.BaselineVersion, Side: side, CapturedAt: noon,
		Views: []goniometry.BaselineView{
			view(goniometry.StraightHand, 2, -1, 5, false), view(goniometry.FullFist, 4, 72, 8, false), view(goniometry.StraightHand, 86, 1, 6, false),
		},
	}
	b.Views[2].Joints["index.pip"] = goniometry.BaselineJoint{ReadDeg: -12, SEDeg: 4, ShowsPastStraight: true}
	delete(b.Views[1].Joints, "ring.dip")
	return b
}

// seenHand is what a side view shows.
func seenHand() hand.Sample {
	s := hand.Sample{Time: time.Second, Found: true, Side: hand.Right, View: hand.View{YawDeg: 84, SEDeg: 8}}
	for j := range s.Joints {
		s.Joints[j] = hand.Measurement{FlexionDeg: 6 * float64(j), SEDeg: 4, Judged: true, ExtensionWhy: hand.WrongView}
	}
	s.Joints[hand.IndexPIP] = hand.Measurement{FlexionDeg: -12, SEDeg: 3, Judged: true, ExtensionJudged: true}
	s.Joints[hand.RingPIP] = hand.Measurement{Why: hand.Hidden, ExtensionWhy: hand.Hidden, SEDeg: 20}
	return s
}

// walk goes through every screen in every state and says where it is.
func walk(b *bench, here func(name string)) {
	s := NewBaseline(b.opt)
	b.open(s)
	here("recording-wait")
	s.note("The hand cannot be recorded", "The hand model cannot be read. Install volar again.", s.opt.Back)
	here("recording-failed")
	s.recordPage()
	s.eye.stage = nil
	s.cue.Say("Turn your thumb towards the camera, about 40° more.", false)
	s.ring.Set(600*time.Millisecond, 1500*time.Millisecond, "hold")
	s.pose.Set("Pose 3 of 3")
	here("recording")
	s.cue.Say(cameraWords(&stage.View{Camera: stage.Camera{State: stage.Lost}}), true)
	here("recording-no-camera")
	s.recorded, s.other = recordedHand("right"), recordedHand("left")
	s.tablePage("")
	here("table")
	s.other = nil
	s.opt.ReadOnly = true
	s.tablePage("")
	here("table-read-only")
	s.opt.ReadOnly = false
	s.goniometer()
	here("goniometer")
	s.Ask(s.opt.Back)
	here("discard")
	s.saved()
	here("saved")
	b.close()

	n := NewNow(b.opt)
	b.open(n)
	here("now-wait")
	n.begun = true
	n.write(false)
	here("now-no-hand")
	n.sample, n.at = seenHand(), noon
	n.write(false)
	here("now")
	n.taken()
	here("now-frozen")
	b.press(fyne.KeyEscape)
	here("now-leave")
	b.press(fyne.KeyEscape)
	require.True(b.t, n.frozen)
	n.earlier()
	here("earlier-none")
	m := n.taken()
	b.store.measurements = []*arom.Measurement{m}
	n.earlier()
	here("earlier")
	n.one(m)
	here("earlier-one")
	b.close()
}

// Every screen, as text that can be compared line by line.
func TestScreens(t *testing.T) {
	b := newBench(t, 1)
	walk(b, func(name string) {
		path := filepath.Join("testdata", name+".xml")
		if *update {
			require.NoError(t, os.MkdirAll("testdata", 0o755))
			require.NoError(t, os.WriteFile(path, []byte(test.RenderToMarkup(b.w.Canvas())), 0o644))
		}
		test.AssertRendersToMarkup(t, name+".xml", b.w.Canvas())
	})
}

// Nothing needs a window larger than the smallest that is supported, and what
// is touched is large enough (WCAG 2.2, 2.5.5 asks for 44 px).
func TestEveryScreenFits(t *testing.T) {
	for _, scale := range []float32{1, 2} {
		for _, size := range []fyne.Size{{Width: 1280, Height: 720}, {Width: 1920, Height: 1080}} {
			t.Run(fmt.Sprintf("%.0f%% in %.0fx%.0f", 100*scale, size.Width, size.Height), func(t *testing.T) {
				b := newBench(t, scale)
				b.w.Resize(size)
				walk(b, func(name string) {
					content := b.w.Canvas().Content()
					require.LessOrEqual(t, content.MinSize().Width, size.Width, name)
					require.LessOrEqual(t, content.MinSize().Height, size.Height, name)
					for _, o := range test.LaidOutObjects(content) {
						_, tapped := o.(fyne.Tappable)
						if _, focused := o.(fyne.Focusable); !tapped || !focused || !o.Visible() {
							continue
						}
						require.GreaterOrEqual(t, o.Size().Width, float32(look.DeskTarget), "%s: %T", name, o)
						require.GreaterOrEqual(t, o.Size().Height, float32(look.DeskTarget), "%s: %T", name, o)
						right := fyne.CurrentApp().Driver().AbsolutePositionForObject(o).X + o.Size().Width
						require.LessOrEqual(t, right, size.Width+1, "%s: %T is cut off", name, o)
					}
					b.shows(fmt.Sprintf("%s-%.0f-%.0f", name, size.Width, 100*scale))
				})
			})
		}
	}
}
