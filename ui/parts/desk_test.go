package parts

import (
	"fmt"
	"strings"
	"testing"

	"fyne.io/fyne/v2"
	"fyne.io/fyne/v2/driver/desktop"
	"fyne.io/fyne/v2/test"
	"github.com/stretchr/testify/require"

	"volar/internal/hand"
	"volar/ui/look"
)

// typed types a text as a keyboard does: a key goes down, then the letter comes.
func typed(w fyne.Window, text string) {
	for _, r := range text {
		f := w.Canvas().Focused()
		if k, ok := f.(desktop.Keyable); ok {
			k.KeyDown(&fyne.KeyEvent{})
		}
		f.TypedRune(r)
	}
}

func TestFieldLeavesTheScreenItsKeys(t *testing.T) {
	var got, entered string
	f := NewField("", func(s string) { got = s })
	w := window(t, look.Theme{Desk: true}, nil)
	r := NewRouter(w.Canvas())
	row := NewFormRow("Code", f)
	s := &screen{content: Column(0, row.Content()), first: f}
	r.Show(s)
	f.TypedRune('n')
	require.Empty(t, got, "the letter that opened the screen is no part of the text")
	typed(w, "K-1")
	require.Equal(t, "K-1", got)
	for _, k := range []fyne.KeyName{fyne.KeyEscape, fyne.KeyF2, fyne.KeyUp, fyne.KeyPageDown, fyne.KeyReturn} {
		key(w, k)
	}
	require.Equal(t, []fyne.KeyName{fyne.KeyEscape, fyne.KeyF2, fyne.KeyUp, fyne.KeyPageDown, fyne.KeyReturn}, s.keys)
	f.OnEnter = func() { entered = f.Text }
	key(w, fyne.KeyEnter)
	require.Equal(t, "K-1", entered)
	key(w, fyne.KeyBackspace)
	require.Equal(t, "K-", got)
	saved := 0
	w.Canvas().AddShortcut(&desktop.CustomShortcut{KeyName: fyne.KeyS, Modifier: fyne.KeyModifierControl}, func(fyne.Shortcut) { saved++ })
	f.TypedShortcut(&desktop.CustomShortcut{KeyName: fyne.KeyS, Modifier: fyne.KeyModifierControl})
	require.Equal(t, 1, saved, "Control with a letter is the screen's")
	f.TypedShortcut(&fyne.ShortcutSelectAll{})
	require.Equal(t, "K-", f.SelectedText())

	notes := NewNotes("", 3, nil)
	require.False(t, notes.AcceptsTab(), "Tab goes on")
	r.Show(&screen{content: Column(0, notes), first: notes})
	typed(w, "a")
	key(w, fyne.KeyReturn)
	typed(w, "b")
	require.Equal(t, "a\nb", notes.Text)
	require.True(t, NewSecretField().Password)
}

func TestAProblemStandsBelowItsField(t *testing.T) {
	f := NewField("", nil)
	row := NewFormRow("Code", f)
	below := NewWords("below", Style{})
	col := Column(4, row.Content(), below)
	window(t, look.Theme{Desk: true}, col)
	before := below.Position().Y
	row.Problem("No code.")
	require.Greater(t, below.Position().Y, before, "what stands below makes room")
	require.Equal(t, "No code.", row.Told())
	row.Problem("")
	require.Equal(t, before, below.Position().Y)
	row.Say("means nothing")
	require.Greater(t, below.Position().Y, before)
	row.Say("")
	require.Equal(t, before, below.Position().Y)
}

func TestTicksAndPicks(t *testing.T) {
	var on []bool
	tick := NewTick("avoid heat", false, func(b bool) { on = append(on, b) })
	var picked []int
	p := NewPicks([]string{"right", "left", "both"}, 1, func(i int) { picked = append(picked, i) })
	w := window(t, look.Theme{Desk: true, Variant: look.Light}, Column(0, tick, p.Content()))
	w.Canvas().Focus(tick)
	key(w, fyne.KeySpace)
	test.Tap(tick)
	require.Equal(t, []bool{true, false}, on)
	tick.Set(true)
	require.Len(t, on, 2, "Set tells nobody")
	require.Same(t, p.ticks[1], p.First())
	test.Tap(p.ticks[1])
	require.Empty(t, picked, "it is on already")
	test.Tap(p.ticks[2])
	require.Equal(t, []int{2}, picked)
	require.False(t, p.ticks[1].On())
	p.Set(0)
	require.True(t, p.ticks[0].On())
	require.Len(t, picked, 1)
	// On and off differ by shape: a hook, a dot.
	r := test.TempWidgetRenderer(t, tick).(*tickRenderer)
	require.False(t, r.down.Hidden)
	tick.Set(false)
	require.True(t, r.down.Hidden)
	dot := test.TempWidgetRenderer(t, p.ticks[0]).(*tickRenderer)
	require.False(t, dot.dot.Hidden)
	require.True(t, test.TempWidgetRenderer(t, p.ticks[1]).(*tickRenderer).dot.Hidden)

	long := NewTick(strings.Repeat("long words ", 20), false, nil).Wrapped()
	require.Greater(t, long.HeightFor(300), long.HeightFor(2000))
	require.Less(t, long.MinSize().Width, float32(200))
}

func TestTableByKeysAndByTouch(t *testing.T) {
	var chosen, opened []int
	table := NewTable([]TableColumn{{Title: "Client", Weight: 2}, {Title: "Flags", Weight: 1, Right: true}}, "none", func(i int) { chosen = append(chosen, i) }, func(i int) { opened = append(opened, i) })
	w := window(t, look.Theme{Desk: true, Variant: look.Light}, nil)
	NewRouter(w.Canvas()).Show(&screen{content: Page(0, Column(0), table, Column(0)), first: table})
	require.Equal(t, -1, table.At())
	key(w, fyne.KeyDown)
	key(w, fyne.KeyReturn)
	require.Empty(t, opened)
	var rows []TableRow
	for i := range 10000 {
		rows = append(rows, TableRow{Cells: []string{fmt.Sprintf("K-%d", i), "3"}})
	}
	table.SetRows(rows)
	key(w, fyne.KeyDown)
	key(w, fyne.KeyEnd)
	require.Equal(t, 9999, table.At())
	key(w, fyne.KeyPageUp)
	require.Equal(t, 9999-table.visible(), table.At())
	key(w, fyne.KeyHome)
	key(w, fyne.KeyUp)
	require.Equal(t, 0, table.At())
	key(w, fyne.KeyReturn)
	require.Equal(t, []int{0}, opened)
	at := func(row int) fyne.Position {
		return fyne.NewPos(50, tableEdge+table.headHeight()+(float32(row)+0.5)*table.rowHeight())
	}
	test.TapAt(table, at(2))
	require.Equal(t, 2, table.At())
	require.Len(t, opened, 1)
	test.TapAt(table, at(2))
	require.Equal(t, []int{0, 2}, opened)
	test.TapAt(table, fyne.NewPos(50, 10))
	require.Len(t, opened, 2, "the titles open nothing")
	table.Scrolled(&fyne.ScrollEvent{Scrolled: fyne.NewDelta(0, -100)})
	require.Equal(t, 10, table.top)
	table.SetRows(rows[:1])
	require.Equal(t, 0, table.At())
	require.Equal(t, 0, table.top)
	require.NotEmpty(t, chosen)
	// Only what is in view is drawn.
	table.SetRows(rows)
	require.Less(t, len(test.TempWidgetRenderer(t, table).Objects()), 200)
}

func TestATableCutsNothingThatFits(t *testing.T) {
	table := NewTable([]TableColumn{{Title: "A", Weight: 10}, {Title: "B", Weight: 1}, {Title: "C", Weight: 1}}, "", nil, nil)
	window(t, look.Theme{Desk: true}, table)
	table.SetRows([]TableRow{{Cells: []string{"x", "10 December 2026", "not past straight"}, Sign: DoneSign, Strong: true}})
	w := table.widths(500)
	require.InDelta(t, 500, w[0]+w[1]+w[2], 0.1)
	for i, need := range table.needs {
		require.GreaterOrEqual(t, w[i], need, "column %d", i)
	}
	w = table.widths(200)
	require.InDelta(t, 200, w[0]+w[1]+w[2], 0.1)
	require.Equal(t, "", fitted("word", 1, 20, fyne.TextStyle{}))
	require.True(t, strings.HasSuffix(fitted("a rather long text", 80, 20, fyne.TextStyle{}), "…"))
}

func TestHandMapByKeysAndByTouch(t *testing.T) {
	for _, side := range []hand.Side{hand.Right, hand.Left} {
		var chosen []hand.Joint
		entered := 0
		m := NewHandMap(side, func(j hand.Joint) { chosen = append(chosen, j) }, func() { entered++ })
		w := window(t, look.Theme{Desk: true}, nil)
		NewRouter(w.Canvas()).Show(&screen{content: Page(0, Column(0), m, Column(0)), first: m})
		// The thumb of a right hand seen from the back is on the left.
		toThumb, toLittle := fyne.KeyLeft, fyne.KeyRight
		if side == hand.Left {
			toThumb, toLittle = toLittle, toThumb
		}
		for _, k := range []fyne.KeyName{fyne.KeyUp, fyne.KeyUp, toThumb, toThumb, toLittle, toLittle, fyne.KeyDown, fyne.KeyDown, toLittle, toLittle, toLittle, fyne.KeyReturn} {
			key(w, k)
		}
		require.Equal(t, []hand.Joint{
			hand.IndexDIP, hand.IndexDIP, hand.ThumbIP, hand.ThumbIP, hand.IndexPIP, hand.MiddlePIP, hand.MiddleMCP, hand.MiddleMCP, hand.RingMCP, hand.LittleMCP, hand.LittleMCP,
		}, chosen, side)
		require.Equal(t, 1, entered)
		for j := range hand.Joint(hand.NumJoints) {
			test.TapAt(m, m.spot(places[j]))
			require.Equal(t, j, m.At(), "%s %s", side, j)
		}
		n := len(chosen)
		test.TapAt(m, fyne.NewPos(2, 2))
		require.Len(t, chosen, n, "beside the hand there is nothing")
		m.Choose([]hand.Joint{hand.RingPIP})
		require.Equal(t, hand.RingPIP, m.At())
	}
}

// Joints are far enough apart to be touched one by one (WCAG 2.2, 2.5.8: 24 px)
// at the least size, and lie in the widget.
func TestJointsOfTheHandMapAreApart(t *testing.T) {
	m := NewHandMap(hand.Right, func(hand.Joint) {}, nil)
	window(t, look.Theme{Desk: true}, m)
	m.Resize(m.MinSize())
	for a := range places {
		p := m.spot(places[a])
		require.True(t, p.X > 0 && p.Y > 0 && p.X < m.Size().Width && p.Y < m.Size().Height)
		for b := range places[:a] {
			q := m.spot(places[b]).Subtract(p)
			require.Greater(t, q.X*q.X+q.Y*q.Y, float32(24*24), "%s and %s", hand.Joint(a), hand.Joint(b))
		}
	}
}

// A limit that holds, one that comes and none differ by shape.
func TestMarksOfTheHandMapDifferByShape(t *testing.T) {
	m := NewHandMap(hand.Right, func(hand.Joint) {}, nil)
	window(t, look.Theme{Desk: true, Variant: look.Light}, m)
	count := func() (squares int) {
		for _, o := range test.TempWidgetRenderer(t, m).Objects() {
			if strings.Contains(fmt.Sprintf("%T", o), "Rectangle") {
				squares++
			}
		}
		return squares
	}
	none := count()
	var now, later [hand.NumJoints]bool
	now[hand.IndexPIP], later[hand.MiddlePIP] = true, true
	m.Mark(now, later)
	require.Equal(t, none+2, count())
}

func TestDeskTargetsAreLarge(t *testing.T) {
	f, tick, b := NewField("", nil), NewTick("x", false, nil), NewButton(Plain, "I", "", nil)
	table := NewTable([]TableColumn{{Title: "A", Weight: 1}}, "", nil, nil)
	window(t, look.Theme{Desk: true}, Column(0, f, tick, b, table))
	for _, o := range []fyne.CanvasObject{f, tick, b} {
		require.GreaterOrEqual(t, o.MinSize().Width, float32(look.DeskTarget), "%T", o)
		require.GreaterOrEqual(t, o.MinSize().Height, float32(look.DeskTarget), "%T", o)
	}
	require.GreaterOrEqual(t, table.rowHeight(), float32(look.DeskTarget))
}

// A cover hides a screen without leaving it, and gives it back with the focus.
func TestRouterCovers(t *testing.T) {
	w := window(t, look.Theme{}, nil)
	r := NewRouter(w.Canvas())
	b := NewButton(Plain, "Below", "", nil)
	below := &screen{content: Column(0, b), first: b}
	r.Show(below)
	cover := &screen{content: Column(0, NewWords("locked", Style{}))}
	r.Cover(cover)
	require.True(t, r.Covered())
	require.NotContains(t, test.RenderToMarkup(w.Canvas()), "Below")
	key(w, fyne.KeyA)
	require.Empty(t, below.keys)
	require.Equal(t, []fyne.KeyName{fyne.KeyA}, cover.keys)
	require.Zero(t, below.left)
	next := &screen{content: Column(0, NewWords("next", Style{}))}
	r.Show(next)
	require.Equal(t, 1, below.left)
	require.NotContains(t, test.RenderToMarkup(w.Canvas()), "next")
	r.Show(below)
	r.Uncover()
	require.Equal(t, 1, cover.left)
	require.Same(t, b, w.Canvas().Focused())
	r.Uncover()
	require.False(t, r.Covered())
	r.Cover(cover)
	r.Close()
	require.Equal(t, 2, cover.left)
}

func TestSidesStackWhereThereIsTooLittleRoom(t *testing.T) {
	a, b := boxed(100, 20), boxed(100, 30)
	s := Sides(10, 60, a, b)
	window(t, look.Theme{Desk: true}, s)
	s.Resize(fyne.NewSize(610, 50))
	require.Equal(t, fyne.NewPos(310, 0), b.Position())
	require.Equal(t, fyne.NewSize(300, 50), a.Size())
	s.Resize(fyne.NewSize(400, 100))
	require.Equal(t, fyne.NewPos(0, 50), b.Position(), "and what is over is shared")
	require.Equal(t, float32(60), HeightFor(s, 400))

	h := Halves(10, boxed(10, 20), boxed(10, 40))
	require.Equal(t, fyne.NewSize(10, 90), h.MinSize())
	h.Resize(fyne.NewSize(50, 110))
	require.Equal(t, float32(60), h.Objects[1].Position().Y)

	filler := NewFiller(boxed(50, 100))
	filler.Resize(fyne.NewSize(200, 300))
	require.Equal(t, float32(300), filler.content.Size().Height)
	filler.Resize(fyne.NewSize(200, 60))
	require.Equal(t, float32(100), filler.content.Size().Height)
}

// What keeps room for the ring of the focus stands flush with the words above
// it, and the view does not cut the ring off.
func TestWhatKeepsRoomForItsRingIsFlush(t *testing.T) {
	words := NewWords("Words", Style{})
	b, tick, card := NewButton(Plain, "Do", "D", func() {}), NewTick("On", true, nil), NewChoice(NewWords("Card", Style{}), false, func() {})
	table := NewTable([]TableColumn{{Title: "A", Weight: 1}}, "none", nil, nil)
	one, two := NewButton(Plain, "One", "", func() {}), NewButton(Plain, "Two", "", func() {})
	f, alone := NewField("", nil), NewField("", nil)
	scroller := NewScroller(Column(4, words, b, tick, card, table, Flow(4, one, two), NewFormRow("Code", f).Content(), Row(4, []float32{1, 0}, NewFormRow("Name", alone).Content(), NewButton(Plain, "Go", "", func() {}))))
	foot := NewButton(Plain, "Foot", "", func() {})
	w := window(t, look.Theme{Desk: true}, Pad(14, Page(10, words, scroller, foot)))
	w.Resize(fyne.NewSize(600, 700))
	at := fyne.CurrentApp().Driver().AbsolutePositionForObject
	left, right := at(words).X, at(scroller).X+scroller.Size().Width-scrollRoom
	for name, o := range map[string]fyne.CanvasObject{"button": b, "tick": tick, "card": card, "table": table, "flow": one, "foot": foot} {
		require.InDelta(t, left, at(o).X+ringRoom, 0.01, name)
	}
	require.InDelta(t, left, at(f).X, 0.01)
	require.InDelta(t, left, at(alone).X, 0.01)
	for name, o := range map[string]fyne.CanvasObject{"button": b, "card": card, "table": table} {
		require.InDelta(t, right, at(o).X+o.Size().Width-ringRoom, 0.01, name)
	}
	require.InDelta(t, right, at(f).X+f.Size().Width, 0.01)
	require.LessOrEqual(t, at(scroller.inner).X, at(b).X-ringWidth/2, "half of a ring's line lies outside of it")
	require.LessOrEqual(t, at(b).X+b.Size().Width+ringWidth/2, at(scroller.inner).X+scroller.inner.Size().Width)
}

// Keys and buttons do the same; the arrows move along the line, and Page Down
// moves what is taller than its room.
func TestControls(t *testing.T) {
	var c Controls
	did := map[string]int{}
	do := func(what string) func() { return func() { did[what]++ } }
	open, save := c.Action(Lead, "Open", fyne.KeyReturn, do("open")), c.ControlAction(Plain, "Save", fyne.KeyS, do("save"))
	bare := c.Action(Plain, "Bare", "", do("bare"))
	c.On(fyne.KeyEscape, do("back"))
	require.Equal(t, []string{"Enter", "Ctrl S", ""}, []string{open.key, save.key, bare.key})
	long := Column(0)
	for range 200 {
		long.Add(NewWords("line", Style{}))
	}
	w := window(t, look.Theme{Desk: true}, Page(4, Column(0), c.Scroll(long), Flow(4, open, save, bare)))
	c.Key(fyne.KeyReturn)
	c.Key(fyne.KeyEscape)
	c.Key(fyne.KeyS)
	require.Equal(t, map[string]int{"open": 1, "back": 1}, did, "a letter alone is not Control with it")
	c.Control(fyne.KeyS)
	c.Control(fyne.KeyReturn)
	require.Equal(t, map[string]int{"open": 1, "back": 1, "save": 1}, did)
	w.Canvas().Focus(open)
	c.Key(fyne.KeyRight)
	require.Equal(t, fyne.Focusable(save), w.Canvas().Focused())
	c.Key(fyne.KeyPageDown)
	require.Positive(t, c.More.inner.Offset.Y)
	c.Key(fyne.KeyPageUp)
	require.Zero(t, c.More.inner.Offset.Y)
	c.Clear()
	require.Nil(t, c.Does(fyne.KeyReturn))
	c.Key(fyne.KeyPageDown)
}
