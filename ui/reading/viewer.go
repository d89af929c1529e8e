package reading

import (
	"fmt"
	"image"
	"time"

	"fyne.io/fyne/v2"
	"fyne.io/fyne/v2/driver/desktop"

	"volar/internal/hand"
	"volar/internal/handrender"
	"volar/internal/review"
	"volar/internal/session"
	"volar/ui/parts"
)

// viewer is the replay of a session: traces over time, the hand drawn at the
// recorded angles from any side, and the points as the camera saw them.
type viewer struct {
	base
	f    *file
	back *overview
	at   *review.Scrubber
	lens review.Lens
	// exercise is the one that is shown, and side the hand: the exercise's until
	// a moment of the other is come to. joints are what of it can be shown, from
	// which joint on.
	exercise *session.Exercise
	side     hand.Side
	joints   []hand.Joint
	from     int
	// moment is the flagged moment of the place; -1 for none.
	moment int
	// zoom is the chosen of spans; turned how far the hand is turned away from
	// how aspect shows it.
	zoom   int
	turned handrender.View
	aspect int
	play   *playing

	painter             *painter
	strip               *strip
	traces              []*trace
	handView, pointView *parts.Video
	where, what, doubt  *parts.Words
	told                *fyne.Container
	playButton          *parts.Button
	marks               *fyne.Container
	gone                bool
	problem             string
	paints              int
}

// tracesShown is how many joints are shown one below the other.
func tracesShown() int {
	if parts.Large() {
		return 1
	}
	return 2
}

// spans are the stretches of time that can be shown.
var spans = []time.Duration{5 * time.Second, 15 * time.Second, time.Minute, 5 * time.Minute, time.Hour}

// aspects are the sides from which the hand can be seen.
var aspects = []struct {
	name string
	yaw  float64
}{{"as the camera saw it", 0}, {"from the thumb's side", 90}, {"from the back", 180}, {"from the little finger's side", -90}, {"from the palm", 0}}

func newViewer(r *Reader, f *file, back *overview, at time.Duration) *viewer {
	v := &viewer{base: base{r: r, title: "Replay of " + f.s.Client}, f: f, back: back, zoom: 1, moment: -1}
	pictures := make([]time.Duration, len(f.s.Samples))
	for i := range f.s.Samples {
		pictures[i] = f.s.Samples[i].Time
	}
	moments := make([]time.Duration, len(f.moments))
	for i := range f.moments {
		moments[i] = f.moments[i].Worst
	}
	v.at = review.NewScrubber(pictures, moments, f.s.Ended)
	v.at.Seek(at)
	v.lens = review.Lens{End: v.at.End()}
	v.lens.Zoom(spans[v.zoom], at)
	return v
}

// Content is part of parts.Screen.
func (v *viewer) Content() fyne.CanvasObject {
	v.Clear()
	v.strip = newStrip(v.f, v.seek)
	v.where, v.what, v.doubt = bold(""), text(""), small("")
	v.handView, v.pointView = parts.NewVideo(fyne.NewSize(140, 112)), parts.NewVideo(fyne.NewSize(140, 112))
	v.traces = nil
	column := make([]fyne.CanvasObject, 0, tracesShown())
	for range tracesShown() {
		t := newTrace(v.seek)
		v.traces, column = append(v.traces, t), append(column, t)
	}
	v.painter = newPainter(func(h, p *image.RGBA, err error) {
		v.r.opt.Do(func() { v.drawn(h, p, err) })
	})
	for k, do := range map[fyne.KeyName]func(){
		fyne.KeyLeft: func() { v.step(-1) }, fyne.KeyRight: func() { v.step(1) },
		fyne.KeyPageUp: func() { v.by(-time.Second) }, fyne.KeyPageDown: func() { v.by(time.Second) },
		fyne.KeyHome: func() { v.seek(0) }, fyne.KeyEnd: func() { v.seek(v.at.End()) },
		fyne.KeyUp: func() { v.other(-1) }, fyne.KeyDown: func() { v.other(1) },
		fyne.KeyPlus: func() { v.closer(-1) }, fyne.KeyEqual: func() { v.closer(-1) }, fyne.KeyMinus: func() { v.closer(1) },
		fyne.KeyJ: func() { v.turn(-15, 0) }, fyne.KeyL: func() { v.turn(15, 0) },
		fyne.KeyI: func() { v.turn(0, 15) }, fyne.KeyK: func() { v.turn(0, -15) },
	} {
		v.On(k, do)
	}
	var actions []fyne.CanvasObject
	v.playButton = v.Action(parts.Lead, "Play", fyne.KeySpace, v.playOrPause)
	v.playButton.AtLeast(v.playButton.MinSize().Width)
	actions = append(actions, v.playButton)
	if len(v.f.moments) > 0 {
		actions = append(actions, v.Action(parts.Plain, parts.Wide("Next flag", "Next"), fyne.KeyN, v.next), v.Action(parts.Plain, parts.Wide("Flag before", "Prior"), fyne.KeyP, v.previous))
	}
	v.marks = parts.Flow(8)
	if v.f.writable() && len(v.f.moments) > 0 {
		for i, j := range []review.Judgement{review.Right, review.Wrong, review.Unclear} {
			b := v.Action(parts.Plain, review.Capital(string(j)), fyne.KeyName(fmt.Sprint(i+1)), func() { v.mark(j) })
			if parts.Large() {
				// Beside the words they would be out of view.
				actions = append(actions, b)
			} else {
				v.marks.Add(b)
			}
		}
	}
	actions = append(actions, v.Action(parts.Plain, "Turn", fyne.KeyV, v.another))
	if len(v.f.both) > 0 {
		actions = append(actions, v.Action(parts.Plain, parts.Wide("Other hand", "Hand"), fyne.KeyO, v.swap))
	}
	if v.f.writable() {
		actions = append(actions, v.Action(parts.Plain, "Note", fyne.KeyT, func() { v.r.show(newNote(v.r, v.f, v)) }))
		if v.f.entry.Read.IsZero() {
			actions = append(actions, v.Action(parts.Plain, parts.Wide("Mark as read", "Read"), fyne.KeyR, v.read))
		}
	}
	if v.r.opt.Edit != nil {
		actions = append(actions, v.Action(parts.Plain, parts.Wide("Change limit or dose", "Change"), fyne.KeyE, func() {
			item := ""
			if v.exercise != nil {
				item = v.exercise.Item
			}
			v.back.edit(item, v.side)
		}))
	}
	actions = append(actions,
		v.Action(parts.Plain, parts.Wide("Signs and keys", "Keys"), fyne.KeyH, func() { v.r.show(newSigns(v)) }),
		v.Action(parts.Plain, "Back", fyne.KeyEscape, func() { v.r.show(v.back) }))
	v.first = v.playButton.LeaveSpace()
	left := below(column...)
	v.told = parts.Column(4, v.what, v.marks, v.doubt)
	drawn := float32(0.55)
	if parts.Large() {
		drawn = 0.34
	}
	right := over(side(v.handView, v.pointView), parts.NewScroller(v.told), drawn)
	head := parts.Column(4, v.where, v.strip)
	v.place()
	return v.page(head, beside(left, right, 0.57), actions...)
}

// Leave is part of parts.Screen.
func (v *viewer) Leave() {
	v.pause()
	v.gone = true
	v.painter.Close()
}

// again opens the replay anew at the present place.
func (v *viewer) again() *viewer {
	n := newViewer(v.r, v.f, v.back, v.at.At())
	n.zoom, n.turned, n.aspect, n.problem = v.zoom, v.turned, v.aspect, v.problem
	n.lens.Zoom(spans[n.zoom], n.at.At())
	return n
}

// Key is part of parts.Screen: the arrows go through time, with Shift by a
// second.
func (v *viewer) Key(k fyne.KeyName) {
	v.f.act()
	if d, ok := fyne.CurrentApp().Driver().(desktop.Driver); ok && d.CurrentKeyModifiers()&fyne.KeyModifierShift != 0 {
		switch k {
		case fyne.KeyLeft:
			k = fyne.KeyPageUp
		case fyne.KeyRight:
			k = fyne.KeyPageDown
		}
	}
	if f := v.Does(k); f != nil {
		f()
	}
}

func (v *viewer) seek(t time.Duration) {
	v.pause()
	v.at.Seek(t)
	v.place()
}

func (v *viewer) by(d time.Duration) { v.seek(v.at.At() + d) }

func (v *viewer) step(n int) {
	v.pause()
	v.at.Step(n)
	v.place()
}

func (v *viewer) next() {
	v.pause()
	if v.at.Next() {
		v.place()
	}
}

func (v *viewer) previous() {
	v.pause()
	if v.at.Previous() {
		v.place()
	}
}

// closer shows less of the time, or more of it.
func (v *viewer) closer(by int) {
	v.zoom = max(0, min(v.zoom+by, len(spans)-1))
	v.lens.Zoom(spans[v.zoom], v.at.At())
	v.curves()
	v.place()
}

// other shows other joints.
func (v *viewer) other(by int) {
	v.from = max(0, min(v.from+by, len(v.joints)-1))
	v.curves()
	v.place()
}

func (v *viewer) turn(yaw, pitch float64) {
	v.turned.Yaw += yaw
	v.turned.Pitch = max(-60, min(v.turned.Pitch+pitch, 60))
	v.place()
}

// another shows the hand from another side.
func (v *viewer) another() {
	v.aspect, v.turned = (v.aspect+1)%len(aspects), handrender.View{}
	v.place()
}

// mark keeps what is thought of the moment at the place.
func (v *viewer) mark(j review.Judgement) {
	i := v.f.momentAt(v.at.At())
	if i < 0 {
		return
	}
	if err := v.f.say(review.Review{Marks: []review.Mark{{Flag: v.f.moments[i].Number, Judgement: j}}}); err != nil {
		v.problem = "This could not be kept: " + v.r.opt.Words(err)
	}
	v.place()
}

func (v *viewer) read() {
	if err := v.f.say(review.Review{Read: true}); err != nil {
		v.problem = "This could not be kept: " + v.r.opt.Words(err)
	}
	v.r.show(v.again())
}
