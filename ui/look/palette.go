package look

import (
	"image/color"

	"fyne.io/fyne/v2"
	"fyne.io/fyne/v2/theme"
)

// The colours by use. Paper is the window, Card what lies on it; Ink is text,
// Quiet lesser text; Edge outlines cards and buttons; Lead is the one action
// that comes next; Hurt is the stop; Caution marks a fault and Done what is
// done; Ring is what shows the focus. The On colours are text on those.
const (
	Paper     fyne.ThemeColorName = "volar.paper"
	Card      fyne.ThemeColorName = "volar.card"
	Ink       fyne.ThemeColorName = "volar.ink"
	Quiet     fyne.ThemeColorName = "volar.quiet"
	Edge      fyne.ThemeColorName = "volar.edge"
	Track     fyne.ThemeColorName = "volar.track"
	Lead      fyne.ThemeColorName = "volar.lead"
	OnLead    fyne.ThemeColorName = "volar.on-lead"
	Hurt      fyne.ThemeColorName = "volar.hurt"
	OnHurt    fyne.ThemeColorName = "volar.on-hurt"
	Caution   fyne.ThemeColorName = "volar.caution"
	OnCaution fyne.ThemeColorName = "volar.on-caution"
	Done      fyne.ThemeColorName = "volar.done"
	OnDone    fyne.ThemeColorName = "volar.on-done"
	Ring      fyne.ThemeColorName = "volar.ring"
)

type palette map[fyne.ThemeColorName]color.NRGBA

func rgb(v uint32) color.NRGBA {
	return color.NRGBA{uint8(v >> 16), uint8(v >> 8), uint8(v), 255}
}

var light = palette{
	Paper: rgb(0xf3f1ea), Card: rgb(0xfffefa), Ink: rgb(0x15222a), Quiet: rgb(0x475860),
	Edge: rgb(0x6c7d85), Track: rgb(0xdcdfdc),
	Lead: rgb(0x0b5c66), OnLead: rgb(0xffffff),
	Hurt: rgb(0x9c2118), OnHurt: rgb(0xffffff),
	Caution: rgb(0x8a4b00), OnCaution: rgb(0xffffff),
	Done: rgb(0x1f6a3c), OnDone: rgb(0xffffff),
	Ring: rgb(0x1f45c4),
}

var dark = palette{
	Paper: rgb(0x0f181d), Card: rgb(0x18242b), Ink: rgb(0xf3f1e8), Quiet: rgb(0xb4c2c8),
	Edge: rgb(0x7f939c), Track: rgb(0x2c3b43),
	Lead: rgb(0x7ad3cb), OnLead: rgb(0x052326),
	Hurt: rgb(0xff907c), OnHurt: rgb(0x2b0a05),
	Caution: rgb(0xffbb55), OnCaution: rgb(0x2a1900),
	Done: rgb(0x86d9a0), OnDone: rgb(0x06260f),
	Ring: rgb(0xa9c1ff),
}

// alike gives fyne's own colour names, which its widgets use, a colour of the
// palette.
var alike = map[fyne.ThemeColorName]fyne.ThemeColorName{
	theme.ColorNameBackground:          Paper,
	theme.ColorNameOverlayBackground:   Card,
	theme.ColorNameMenuBackground:      Card,
	theme.ColorNameHeaderBackground:    Card,
	theme.ColorNameInputBackground:     Card,
	theme.ColorNameButton:              Card,
	theme.ColorNameDisabledButton:      Track,
	theme.ColorNameForeground:          Ink,
	theme.ColorNameDisabled:            Quiet,
	theme.ColorNamePlaceHolder:         Quiet,
	theme.ColorNameInputBorder:         Edge,
	theme.ColorNameSeparator:           Edge,
	theme.ColorNamePrimary:             Lead,
	theme.ColorNameForegroundOnPrimary: OnLead,
	theme.ColorNameHyperlink:           Lead,
	theme.ColorNameError:               Hurt,
	theme.ColorNameForegroundOnError:   OnHurt,
	theme.ColorNameWarning:             Caution,
	theme.ColorNameForegroundOnWarning: OnCaution,
	theme.ColorNameSuccess:             Done,
	theme.ColorNameForegroundOnSuccess: OnDone,
	theme.ColorNameFocus:               Ring,
	theme.ColorNameScrollBar:           Edge,
	theme.ColorNameScrollBarBackground: Track,
	theme.ColorNameHover:               Track,
	theme.ColorNamePressed:             Track,
	theme.ColorNameSelection:           Track,
}

// Pair is a colour that stands on another.
type Pair struct {
	Over, Under fyne.ThemeColorName
	// Text asks for 4.5:1, else 3:1.
	Text bool
}

// Pairs are all that the screens put together. A widget that puts a colour on
// another adds its pair here.
var Pairs = []Pair{
	{Ink, Paper, true}, {Ink, Card, true}, {Ink, Track, true},
	{Quiet, Paper, true}, {Quiet, Card, true}, {Quiet, Track, true},
	{OnLead, Lead, true}, {OnHurt, Hurt, true}, {OnCaution, Caution, true}, {OnDone, Done, true},
	{Lead, Paper, true}, {Lead, Card, true},
	{Hurt, Paper, true}, {Hurt, Card, true},
	{Caution, Paper, true}, {Caution, Card, true},
	{Done, Paper, true}, {Done, Card, true},
	{Edge, Paper, false}, {Edge, Card, false},
	{Lead, Track, false}, {Done, Track, false}, {Caution, Track, false},
	{Ring, Paper, false}, {Ring, Card, false},
}
