// Package look is the program's own look: colours, sizes and the icon. It is
// calm, large and high in contrast, in a light and a dark variant, and its
// text grows to twice its size.
//
// A colour is named for what it is used for, and Pairs lists which colour
// stands on which; the package's test holds every pair against the contrast
// that WCAG 2.2 asks for: 4.5:1 for text (1.4.3) and 3:1 for what must be seen
// to understand or operate a screen (1.4.11).
//
// Sizes are fyne's device-independent pixels. Text sizes follow Scale; heights
// of targets never fall below Target.
package look

import (
	"image/color"

	"fyne.io/fyne/v2"
	"fyne.io/fyne/v2/theme"
)

// Variant is a set of colours.
type Variant int8

// The variants. System follows what the desktop says.
const (
	System Variant = iota
	Light
	Dark
)

// Theme is the look with a person's choices; the zero Theme is the system's
// variant at 100 %, to be read from a metre away.
type Theme struct {
	Variant Variant
	// Scale of text, 1 to 2; 0 is 1.
	Scale float32
	// Desk is for somebody who sits at the screen with a keyboard: smaller text
	// and targets, so that what is compared stands on one screen.
	Desk bool
}

// Text sizes beside those of fyne.
const (
	// SizeCue is for what is read from a metre away, SizeCount for the figure
	// that is read from across the room, SizeFigure for what stands by it.
	SizeCue    fyne.ThemeSizeName = "volar.cue"
	SizeCount  fyne.ThemeSizeName = "volar.count"
	SizeFigure fyne.ThemeSizeName = "volar.figure"
)

// SizeTarget is the least height and width of what is touched, as a theme has
// it: Target, or DeskTarget.
const SizeTarget fyne.ThemeSizeName = "volar.target"

// Target is the least height and width of anything that is touched.
const Target = 64

// DeskTarget is that of a Desk theme (WCAG 2.2, 2.5.5 asks for 44 px).
const DeskTarget = 44

// base are the sizes at 100 %. A letter of 28 px is read from a metre away
// (common practice); the text of the exercise itself is never smaller.
var base = map[fyne.ThemeSizeName]float32{
	theme.SizeNameText:           22,
	theme.SizeNameCaptionText:    18,
	theme.SizeNameSubHeadingText: 28,
	theme.SizeNameHeadingText:    36,
	SizeCue:                      40,
	SizeCount:                    130,
	SizeFigure:                   28,
}

// desk are the sizes of a Desk theme at 100 %, where they differ: text for an
// arm's length.
var desk = map[fyne.ThemeSizeName]float32{
	theme.SizeNameText:           17,
	theme.SizeNameCaptionText:    14,
	theme.SizeNameSubHeadingText: 20,
	theme.SizeNameHeadingText:    26,
	SizeCue:                      30,
	SizeFigure:                   22,
}

// fixed are the sizes that do not grow with the text.
var fixed = map[fyne.ThemeSizeName]float32{
	theme.SizeNamePadding:            8,
	theme.SizeNameInnerPadding:       8,
	theme.SizeNameLineSpacing:        4,
	theme.SizeNameScrollBar:          16,
	theme.SizeNameScrollBarSmall:     8,
	theme.SizeNameScrollBarRadius:    4,
	theme.SizeNameSeparatorThickness: 2,
	theme.SizeNameInputBorder:        2,
	theme.SizeNameInputRadius:        10,
	theme.SizeNameSelectionRadius:    6,
}

// displayGrowth is how much of the client's wish for larger text goes to what
// is large already. The count takes what room there is, whatever the wish.
const displayGrowth = 0.3

// Size is part of fyne.Theme.
func (t Theme) Size(name fyne.ThemeSizeName) float32 {
	if name == SizeTarget {
		if t.Desk {
			return DeskTarget
		}
		return Target
	}
	if s, ok := base[name]; ok {
		if d, ok := desk[name]; ok && t.Desk {
			s = d
		}
		k := t.scale()
		switch name {
		case SizeCount:
			k = 1
		case SizeCue, SizeFigure:
			k = 1 + (k-1)*displayGrowth
		}
		return s * k
	}
	if s, ok := fixed[name]; ok {
		return s
	}
	if name == theme.SizeNameInlineIcon {
		return 28 * t.scale()
	}
	return theme.DefaultTheme().Size(name)
}

func (t Theme) scale() float32 { return min(max(t.Scale, 1), 2) }

// Font is part of fyne.Theme.
func (t Theme) Font(s fyne.TextStyle) fyne.Resource { return theme.DefaultTheme().Font(s) }

// Icon is part of fyne.Theme.
func (t Theme) Icon(n fyne.ThemeIconName) fyne.Resource { return theme.DefaultTheme().Icon(n) }

// Color is part of fyne.Theme.
func (t Theme) Color(name fyne.ThemeColorName, system fyne.ThemeVariant) color.Color {
	p := light
	if t.Variant == Dark || t.Variant == System && system == theme.VariantDark {
		p = dark
	}
	if c, ok := p[name]; ok {
		return c
	}
	if of, ok := alike[name]; ok {
		return p[of]
	}
	return theme.DefaultTheme().Color(name, system)
}
