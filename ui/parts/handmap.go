package parts

import (
	"slices"

	"fyne.io/fyne/v2"
	"fyne.io/fyne/v2/canvas"
	"fyne.io/fyne/v2/theme"
	"fyne.io/fyne/v2/widget"

	"volar/internal/hand"
	"volar/ui/look"
)

// HandMap is a drawn hand, seen from the back with the fingers up, on which
// joints are chosen: a touch or the arrow keys choose one, and Enter tells that
// the choice is made. A joint with a limit is a filled square, one whose limit
// comes later an empty square, any other a dot.
type HandMap struct {
	widget.BaseWidget
	side       hand.Side
	now, later [hand.NumJoints]bool
	chosen     []hand.Joint
	at         hand.Joint
	focused    bool
	choose     func(hand.Joint)
	enter      func()
}

// NewHandMap draws a hand. choose is told which joint the person chooses, and
// enter, which may be nil, that Enter is pressed.
func NewHandMap(side hand.Side, choose func(hand.Joint), enter func()) *HandMap {
	m := &HandMap{side: side, choose: choose, enter: enter, at: hand.IndexPIP}
	m.ExtendBaseWidget(m)
	return m
}

// Mark shows which joints have a limit now, and which later.
func (m *HandMap) Mark(now, later [hand.NumJoints]bool) {
	m.now, m.later = now, later
	m.Refresh()
}

// Choose shows joints as chosen, and tells nobody.
func (m *HandMap) Choose(joints []hand.Joint) {
	m.chosen = slices.Clone(joints)
	if len(joints) > 0 && !slices.Contains(joints, m.at) {
		m.at = joints[0]
	}
	m.Refresh()
}

// At is the joint that the arrows go on from.
func (m *HandMap) At() hand.Joint { return m.at }

// places are the joints of a right hand seen from the back, in a square of 1 by
// 1: drawn by eye.
var places = [hand.NumJoints]fyne.Position{
	hand.IndexMCP: {X: 0.37, Y: 0.52}, hand.IndexPIP: {X: 0.33, Y: 0.30}, hand.IndexDIP: {X: 0.31, Y: 0.175},
	hand.MiddleMCP: {X: 0.50, Y: 0.49}, hand.MiddlePIP: {X: 0.49, Y: 0.245}, hand.MiddleDIP: {X: 0.485, Y: 0.115},
	hand.RingMCP: {X: 0.62, Y: 0.52}, hand.RingPIP: {X: 0.645, Y: 0.29}, hand.RingDIP: {X: 0.655, Y: 0.165},
	hand.LittleMCP: {X: 0.73, Y: 0.58}, hand.LittlePIP: {X: 0.785, Y: 0.41}, hand.LittleDIP: {X: 0.81, Y: 0.305},
	hand.ThumbMP: {X: 0.21, Y: 0.66}, hand.ThumbIP: {X: 0.11, Y: 0.53},
}

// tips end the digits, thumb first; roots begin them.
var (
	tips  = [5]fyne.Position{{X: 0.05, Y: 0.43}, {X: 0.295, Y: 0.075}, {X: 0.48, Y: 0.02}, {X: 0.665, Y: 0.07}, {X: 0.835, Y: 0.22}}
	roots = [5]fyne.Position{{X: 0.37, Y: 0.84}, {X: 0.42, Y: 0.80}, {X: 0.5, Y: 0.80}, {X: 0.58, Y: 0.80}, {X: 0.66, Y: 0.80}}
)

// digits are the joints of each digit from the root, thumb first.
var digits = [5][]hand.Joint{
	{hand.ThumbMP, hand.ThumbIP}, {hand.IndexMCP, hand.IndexPIP, hand.IndexDIP}, {hand.MiddleMCP, hand.MiddlePIP, hand.MiddleDIP},
	{hand.RingMCP, hand.RingPIP, hand.RingDIP}, {hand.LittleMCP, hand.LittlePIP, hand.LittleDIP},
}

// spot is where a place lies in the widget.
func (m *HandMap) spot(p fyne.Position) fyne.Position {
	n := m.scale()
	if m.side == hand.Left {
		p.X = 1 - p.X
	}
	return fyne.NewPos((m.Size().Width-n)/2+(0.04+p.X)*n, (m.Size().Height-n)/2+(0.06+p.Y*0.94)*n)
}

func (m *HandMap) scale() float32 {
	return min(m.Size().Width, m.Size().Height) - 2*ringRoom
}

// MinSize keeps neighbouring joints apart by 24 px (WCAG 2.2, 2.5.8).
func (m *HandMap) MinSize() fyne.Size { return fyne.NewSquareSize(280) }

// Tapped chooses the nearest joint.
func (m *HandMap) Tapped(ev *fyne.PointEvent) {
	if c := canvasOf(m); c != nil {
		c.Focus(m)
	}
	best, least := m.at, float32(44*44)
	for j, p := range places {
		q := m.spot(p).Subtract(ev.Position)
		if d := q.X*q.X + q.Y*q.Y; d < least {
			best, least = hand.Joint(j), d
		}
	}
	if least < 44*44 {
		m.take(best)
	}
}

func (m *HandMap) take(j hand.Joint) {
	m.at = j
	m.Refresh()
	m.choose(j)
}

// FocusGained is part of fyne.Focusable.
func (m *HandMap) FocusGained() {
	m.focused = true
	m.Refresh()
	Reveal(m)
}

// FocusLost is part of fyne.Focusable.
func (m *HandMap) FocusLost() { m.focused = false; m.Refresh() }

// TypedRune is part of fyne.Focusable.
func (m *HandMap) TypedRune(rune) {}

// TypedKey is part of fyne.Focusable.
func (m *HandMap) TypedKey(ev *fyne.KeyEvent) {
	digit, level := m.where()
	switch ev.Name {
	case fyne.KeyUp:
		level++
	case fyne.KeyDown:
		level--
	case fyne.KeyLeft, fyne.KeyRight:
		step := 1
		if (ev.Name == fyne.KeyLeft) == (m.side != hand.Left) {
			step = -1
		}
		to := max(0, min(digit+step, len(digits)-1))
		// The thumb's MP goes with the MCP joints, its IP with the others.
		if digit == 0 && to != 0 && level > 0 {
			level = 1
		}
		digit = to
	case fyne.KeyReturn, fyne.KeyEnter, fyne.KeySpace:
		if m.enter != nil {
			m.enter()
			return
		}
		Pass(m, ev)
		return
	default:
		Pass(m, ev)
		return
	}
	m.take(digits[digit][max(0, min(level, len(digits[digit])-1))])
}

// where is the digit and the place in it of the joint that is chosen.
func (m *HandMap) where() (digit, level int) {
	for d, joints := range digits {
		if i := slices.Index(joints, m.at); i >= 0 {
			return d, i
		}
	}
	return 1, 1
}

// KeyDown is part of desktop.Keyable.
func (m *HandMap) KeyDown(ev *fyne.KeyEvent) { stir(m, ev) }

// KeyUp is part of desktop.Keyable.
func (m *HandMap) KeyUp(*fyne.KeyEvent) {}

// CreateRenderer is part of fyne.Widget.
func (m *HandMap) CreateRenderer() fyne.WidgetRenderer {
	r := &handMapRenderer{m: m, ring: frame()}
	r.Refresh()
	return r
}

type handMapRenderer struct {
	m       *HandMap
	ring    *canvas.Rectangle
	objects []fyne.CanvasObject
}

func (r *handMapRenderer) MinSize() fyne.Size { return r.m.MinSize() }

func (r *handMapRenderer) Layout(size fyne.Size) {
	m := r.m
	r.ring.Resize(size)
	r.objects = []fyne.CanvasObject{r.ring}
	skin, ink := theme.Color(look.Track), theme.Color(look.Ink)
	n := m.scale()
	disc := func(p fyne.Position, radius float32) *canvas.Circle {
		c := canvas.NewCircle(skin)
		c.Move(p.SubtractXY(radius, radius))
		c.Resize(fyne.NewSquareSize(2 * radius))
		r.objects = append(r.objects, c)
		return c
	}
	bone := func(a, b fyne.Position, width float32) {
		l := canvas.NewLine(skin)
		l.StrokeWidth, l.Position1, l.Position2 = width, a, b
		r.objects = append(r.objects, l)
		disc(b, width/2)
	}
	wrist := canvas.NewRectangle(skin)
	a, b := m.spot(fyne.NewPos(0.38, 0.9)), m.spot(fyne.NewPos(0.70, 1))
	wrist.Move(fyne.NewPos(min(a.X, b.X), a.Y))
	wrist.Resize(fyne.NewSize(max(a.X, b.X)-min(a.X, b.X), b.Y-a.Y))
	r.objects = append(r.objects, wrist)
	palm := canvas.NewRectangle(skin)
	palm.CornerRadius = n * 0.1
	a, b = m.spot(fyne.NewPos(0.31, 0.5)), m.spot(fyne.NewPos(0.785, 0.93))
	palm.Move(fyne.NewPos(min(a.X, b.X), a.Y))
	palm.Resize(fyne.NewSize(max(a.X, b.X)-min(a.X, b.X), b.Y-a.Y))
	r.objects = append(r.objects, palm)
	for d, joints := range digits {
		from, width := m.spot(roots[d]), n*0.105
		if d == 0 {
			width = n * 0.115
		}
		for _, j := range joints {
			to := m.spot(places[j])
			bone(from, to, width)
			from = to
		}
		bone(from, m.spot(tips[d]), width*0.9)
	}
	radius := max(n*0.02, 7)
	for j, p := range places {
		at, joint := m.spot(p), hand.Joint(j)
		if slices.Contains(m.chosen, joint) {
			c := disc(at, radius*2.1)
			c.FillColor, c.StrokeColor, c.StrokeWidth = theme.Color(look.Card), theme.Color(look.Ring), 3
		}
		if !m.now[j] && !m.later[j] {
			disc(at, radius*0.6).FillColor = ink
			continue
		}
		q := canvas.NewRectangle(theme.Color(look.Lead))
		q.StrokeColor, q.StrokeWidth = theme.Color(look.Lead), 2.5
		if !m.now[j] {
			q.FillColor = theme.Color(look.Card)
		}
		q.Move(at.SubtractXY(radius, radius))
		q.Resize(fyne.NewSquareSize(2 * radius))
		r.objects = append(r.objects, q)
	}
}

func (r *handMapRenderer) Refresh() {
	focus(r.ring, r.m.focused)
	r.Layout(r.m.Size())
	canvas.Refresh(r.m)
}

func (r *handMapRenderer) Objects() []fyne.CanvasObject { return r.objects }
func (r *handMapRenderer) Destroy()                     {}
