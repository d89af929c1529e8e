package look_test

import (
	"fmt"
	"image/color"
	"testing"

	"fyne.io/fyne/v2"
	"fyne.io/fyne/v2/theme"
	"github.com/stretchr/testify/require"

	"volar/ui/look"
)

// The ratios that WCAG 2.2 and its techniques state: black on white is 21, and
// #767676 is the lightest grey with 4.5:1 on white (G18, common knowledge of
// the trade); #949494 the lightest with 3:1.
func TestContrastAgainstPublishedRatios(t *testing.T) {
	white := color.White
	require.InDelta(t, 21, look.Contrast(color.Black, white), 1e-9)
	require.InDelta(t, 1, look.Contrast(white, white), 1e-9)
	require.GreaterOrEqual(t, look.Contrast(color.Gray{0x76}, white), 4.5)
	require.Less(t, look.Contrast(color.Gray{0x77}, white), 4.5)
	require.GreaterOrEqual(t, look.Contrast(color.Gray{0x94}, white), 3.0)
	require.Less(t, look.Contrast(color.Gray{0x95}, white), 3.0)
}

func TestEveryPairHasItsContrast(t *testing.T) {
	for _, v := range []look.Variant{look.Light, look.Dark} {
		th := look.Theme{Variant: v}
		for _, p := range look.Pairs {
			least := 3.0
			if p.Text {
				least = 4.5
			}
			over, under := th.Color(p.Over, 0), th.Color(p.Under, 0)
			require.GreaterOrEqual(t, look.Contrast(over, under), least, fmt.Sprintf("variant %d: %s on %s", v, p.Over, p.Under))
		}
	}
}

// Fyne's own widgets ask for colours by fyne's names.
func TestFyneNamesComeFromThePalette(t *testing.T) {
	for _, v := range []look.Variant{look.Light, look.Dark} {
		th := look.Theme{Variant: v}
		for _, p := range []struct {
			over, under fyne.ThemeColorName
			least       float64
		}{
			{theme.ColorNameForeground, theme.ColorNameBackground, 4.5},
			{theme.ColorNameForeground, theme.ColorNameInputBackground, 4.5},
			{theme.ColorNameForeground, theme.ColorNameSelection, 4.5},
			{theme.ColorNameForeground, theme.ColorNameHover, 4.5},
			{theme.ColorNamePlaceHolder, theme.ColorNameInputBackground, 4.5},
			{theme.ColorNameForegroundOnPrimary, theme.ColorNamePrimary, 4.5},
			{theme.ColorNameError, theme.ColorNameBackground, 4.5},
			{theme.ColorNameInputBorder, theme.ColorNameBackground, 3},
			{theme.ColorNameScrollBar, theme.ColorNameScrollBarBackground, 3},
			{theme.ColorNameFocus, theme.ColorNameBackground, 3},
		} {
			require.GreaterOrEqual(t, look.Contrast(th.Color(p.over, 0), th.Color(p.under, 0)), p.least, "variant %d: %s on %s", v, p.over, p.under)
		}
	}
}

func TestTheSystemChoosesTheVariantUnlessTheClientDid(t *testing.T) {
	for _, tc := range []struct {
		set    look.Variant
		system fyne.ThemeVariant
		want   look.Variant
	}{
		{look.System, theme.VariantLight, look.Light},
		{look.System, theme.VariantDark, look.Dark},
		{look.Light, theme.VariantDark, look.Light},
		{look.Dark, theme.VariantLight, look.Dark},
	} {
		got := look.Theme{Variant: tc.set}.Color(look.Paper, tc.system)
		require.Equal(t, look.Theme{Variant: tc.want}.Color(look.Paper, 0), got)
	}
}

// WCAG 2.2, 1.4.4: text grows to 200 %.
func TestTextGrowsToTwiceItsSize(t *testing.T) {
	one, two := look.Theme{}, look.Theme{Scale: 2}
	for _, n := range []fyne.ThemeSizeName{theme.SizeNameText, theme.SizeNameCaptionText, theme.SizeNameHeadingText, theme.SizeNameSubHeadingText} {
		require.InDelta(t, 2*one.Size(n), two.Size(n), 1e-3, string(n))
	}
	require.Greater(t, two.Size(look.SizeCue), one.Size(look.SizeCue))
	require.Equal(t, one.Size(theme.SizeNamePadding), two.Size(theme.SizeNamePadding), "room between things does not grow")
	require.Equal(t, two.Size(theme.SizeNameText), look.Theme{Scale: 7}.Size(theme.SizeNameText), "beyond 200 % stays there")
}

func TestIconIsDrawnInEverySize(t *testing.T) {
	for _, n := range []int{16, 48, 256} {
		img := look.IconImage(n)
		require.Equal(t, n, img.Rect.Dx())
		// The corner is clear, the palm is ink on the disc.
		require.Zero(t, img.RGBAAt(0, 0).A)
		require.EqualValues(t, 255, img.RGBAAt(n/2, n*6/10).A)
	}
	require.NotEmpty(t, look.Icon().Content())
}
