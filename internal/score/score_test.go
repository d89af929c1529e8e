package score_test

import (
	"flag"
	"fmt"
	"math"
	"os"
	"testing"

	"github.com/stretchr/testify/require"
	"pgregory.net/rapid"

	"volar/internal/hand"
	"volar/internal/score"
)

// TestMain gives the property tests the same draws on every run.
func TestMain(m *testing.M) {
	flag.Parse()
	if f := flag.Lookup("rapid.seed"); f != nil && f.Value.String() == "0" {
		if err := flag.Set("rapid.seed", "20261125"); err != nil {
			fmt.Fprintln(os.Stderr, err)
			os.Exit(1)
		}
	}
	os.Exit(m.Run())
}

func motion(extension, flexion float64) score.Motion {
	return score.Motion{Extension: score.Judged(extension), Flexion: score.Judged(flexion)}
}

func digit(mcp, pip, dip score.Motion) score.Digit {
	return score.Digit{Finger: hand.Ring, MCP: mcp, PIP: pip, DIP: dip}
}

// TestTotalMotion: formula and grades of the ASSH as in HandLab Clinical
// Pearl 18 (2012); the examples are worked by hand.
func TestTotalMotion(t *testing.T) {
	for name, c := range map[string]struct {
		d       score.Digit
		norm    float64
		deg     float64
		percent float64
		assh    score.Grade
		degrees score.Grade
	}{
		// Flexion 80 + 90 + 60 = 230, deficits 0 + 20 + 10 = 30; 200 of 260.
		"worked example": {digit(motion(0, 80), motion(20, 90), motion(10, 60)), 0, 200, 76.923, score.Good, score.Good},
		// MCP 85, PIP 110, DIP 65: the digit behind the norm of 260.
		"the norm itself":          {digit(motion(0, 85), motion(0, 110), motion(0, 65)), 0, 260, 100, score.Excellent, score.Excellent},
		"exactly 75 % is not over": {digit(motion(0, 85), motion(0, 80), motion(0, 30)), 0, 195, 75, score.Fair, score.Good},
		"exactly 50 % is not over": {digit(motion(0, 60), motion(0, 50), motion(0, 20)), 0, 130, 50, score.Poor, score.Fair},
		"a hair over 50 %":         {digit(motion(0, 60), motion(0, 50.5), motion(0, 20)), 0, 130.5, 50.192, score.Fair, score.Fair},
		"the other hand as norm":   {digit(motion(0, 80), motion(20, 90), motion(10, 60)), 200, 200, 100, score.Excellent, score.Good},
		"more than the other hand": {digit(motion(0, 80), motion(20, 90), motion(10, 60)), 190, 200, 105.263, score.Excellent, score.Good},
		"bands, 220":               {digit(motion(0, 80), motion(0, 90), motion(0, 50)), 0, 220, 84.615, score.Good, score.Excellent},
		"bands, just under 180":    {digit(motion(0, 60), motion(0, 80), motion(0, 39)), 0, 179, 68.846, score.Fair, score.Fair},
		"bands, just under 130":    {digit(motion(0, 50), motion(0, 60), motion(0, 19)), 0, 129, 49.615, score.Poor, score.Poor},
		// A finger that bends less than it lacks in extension.
		"less than nothing": {digit(motion(30, 30), motion(40, 40), motion(20, 10)), 0, -10, -3.846, score.Poor, score.Poor},
	} {
		t.Run(name, func(t *testing.T) {
			s := score.TotalMotion(c.d, score.Options{})
			require.True(t, s.Complete)
			require.InDelta(t, c.deg, s.Deg, 1e-9)
			r := score.ASSH(s, hand.Ring, c.norm)
			require.True(t, r.Complete)
			require.Equal(t, score.ASSHSystem, r.System)
			require.InDelta(t, c.percent, r.Percent, 1e-3)
			require.Equal(t, c.assh, r.Grade)
			require.Equal(t, c.degrees, score.Degrees(s, hand.Ring).Grade)
		})
	}
}

// TestThumb: two joints, and bands of its own (classification 217 of the
// Electronic Textbook of Hand Surgery).
func TestThumb(t *testing.T) {
	for deg, want := range map[float64]score.Grade{140: score.Excellent, 119: score.Excellent, 118: score.Good, 98: score.Good, 97: score.Fair, 80: score.Fair, 70: score.Fair, 69: score.Poor} {
		d := score.Digit{Finger: hand.Thumb, MCP: motion(0, 50), PIP: motion(0, deg-50)}
		s := score.TotalMotion(d, score.Options{})
		require.True(t, s.Complete, "a thumb has no DIP joint")
		require.Equal(t, deg, s.Deg)
		require.Equal(t, want, score.Degrees(s, hand.Thumb).Grade, "%g", deg)
		require.False(t, score.ASSH(s, hand.Thumb, 0).Complete, "260 is no norm for a thumb")
		require.InDelta(t, 100*deg/130, score.ASSH(s, hand.Thumb, 130).Percent, 1e-9)
	}
}

// TestStrickland: the two versions grade the same finger differently. 175
// degrees and the original bands as in the literature on flexor tendons
// (excellent over 150 degrees, good 125 to 149, fair 90 to 124); the adjusted
// bands from memory.
func TestStrickland(t *testing.T) {
	for name, c := range map[string]struct {
		pip, dip           score.Motion
		deg, percent       float64
		original, adjusted score.Grade
	}{
		// (90 + 60) - (20 + 10) = 120; 120 of 175.
		"worked example":       {motion(20, 90), motion(10, 60), 120, 68.571, score.Fair, score.Good},
		"whole":                {motion(0, 105), motion(0, 70), 175, 100, score.Excellent, score.Excellent},
		"original excellent":   {motion(0, 90), motion(0, 60), 150, 85.714, score.Excellent, score.Excellent},
		"original good":        {motion(0, 90), motion(0, 58), 148, 84.571, score.Good, score.Excellent},
		"original good, least": {motion(0, 80), motion(0, 43), 123, 70.286, score.Good, score.Good},
		"adjusted excellent":   {motion(0, 90), motion(0, 41.25), 131.25, 75, score.Good, score.Excellent},
		"half":                 {motion(0, 60), motion(0, 27.5), 87.5, 50, score.Fair, score.Good},
		"under a half":         {motion(0, 60), motion(0, 27), 87, 49.714, score.Poor, score.Fair},
		"a quarter":            {motion(0, 30), motion(0, 13.75), 43.75, 25, score.Poor, score.Fair},
		"under a quarter":      {motion(0, 30), motion(0, 13), 43, 24.571, score.Poor, score.Poor},
	} {
		t.Run(name, func(t *testing.T) {
			// The MCP joint is left out, even where it was not measured.
			s := score.InterphalangealMotion(digit(score.Motion{}, c.pip, c.dip), score.Options{})
			require.True(t, s.Complete)
			require.InDelta(t, c.deg, s.Deg, 1e-9)
			o, a := score.StricklandOriginal(s), score.StricklandAdjusted(s)
			require.InDelta(t, c.percent, o.Percent, 1e-3)
			require.Equal(t, o.Percent, a.Percent)
			require.Equal(t, c.original, o.Grade)
			require.Equal(t, c.adjusted, a.Grade)
			require.NotEqual(t, o.System, a.System)
		})
	}
}

func TestHyperextension(t *testing.T) {
	d := digit(motion(-15, 80), motion(-10, 90), motion(5, 60))
	s := score.TotalMotion(d, score.Options{})
	require.Equal(t, 225.0, s.Deg, "230 less the 5 that the DIP lacks; nothing is added")
	require.Equal(t, []hand.Joint{hand.RingMCP, hand.RingPIP}, s.Hyperextended)
	s = score.TotalMotion(d, score.Options{HyperextensionIsDeficit: true})
	require.Equal(t, 215.0, s.Deg, "10 at the PIP count as a deficit, the MCP's are normal")
	require.Equal(t, []hand.Joint{hand.RingMCP, hand.RingPIP}, s.Hyperextended)
	require.Equal(t, 130.0, score.CompositeFlexion(digit(motion(0, 0), motion(30, 80), motion(10, 50))).Deg)
}

// TestIncomplete: what could not be judged makes no number.
func TestIncomplete(t *testing.T) {
	whole := digit(motion(0, 80), motion(20, 90), motion(10, 60))
	for name, spoil := range map[string]func(*score.Digit){
		"flexion":        func(d *score.Digit) { d.DIP.Flexion.Judged = false },
		"extension":      func(d *score.Digit) { d.DIP.Extension.Judged = false },
		"not a number":   func(d *score.Digit) { d.DIP.Flexion.Deg = math.NaN() },
		"without end":    func(d *score.Digit) { d.DIP.Extension.Deg = math.Inf(-1) },
		"nothing at all": func(d *score.Digit) { d.DIP = score.Motion{} },
	} {
		t.Run(name, func(t *testing.T) {
			d := whole
			spoil(&d)
			for _, s := range []score.Sum{score.TotalMotion(d, score.Options{}), score.InterphalangealMotion(d, score.Options{})} {
				require.Equal(t, score.Sum{Missing: []hand.Joint{hand.RingDIP}, Hyperextended: s.Hyperextended}, s)
				for _, r := range []score.Result{score.ASSH(s, hand.Ring, 0), score.Degrees(s, hand.Ring), score.StricklandOriginal(s), score.StricklandAdjusted(s)} {
					require.Equal(t, score.Result{System: r.System}, r)
					require.NotEmpty(t, r.System)
				}
			}
		})
	}
	d := whole
	d.PIP.Extension.Judged = false
	require.True(t, score.CompositeFlexion(d).Complete, "composite flexion asks for no extension")
	d.PIP.Flexion.Judged = false
	require.False(t, score.CompositeFlexion(d).Complete)
	require.False(t, score.ASSH(score.TotalMotion(whole, score.Options{}), hand.Ring, math.NaN()).Complete)
}

// TestSumProperties: a sum is exact, never complete with a joint missing, and
// grows with the flexion.
func TestSumProperties(t *testing.T) {
	reading := rapid.Custom(func(t *rapid.T) score.Reading {
		return score.Reading{Deg: float64(rapid.IntRange(-60, 130).Draw(t, "deg")), SEDeg: float64(rapid.IntRange(0, 10).Draw(t, "se")), Judged: rapid.IntRange(0, 9).Draw(t, "judged") > 0}
	})
	joint := rapid.Custom(func(t *rapid.T) score.Motion {
		return score.Motion{Extension: reading.Draw(t, "extension"), Flexion: reading.Draw(t, "flexion")}
	})
	rapid.Check(t, func(t *rapid.T) {
		d := digit(joint.Draw(t, "mcp"), joint.Draw(t, "pip"), joint.Draw(t, "dip"))
		o := score.Options{HyperextensionIsDeficit: rapid.Bool().Draw(t, "option")}
		s := score.TotalMotion(d, o)
		judged := true
		for _, m := range []score.Motion{d.MCP, d.PIP, d.DIP} {
			judged = judged && m.Extension.Judged && m.Flexion.Judged
		}
		require.Equal(t, judged, s.Complete)
		require.Equal(t, judged, len(s.Missing) == 0)
		if !s.Complete {
			require.Zero(t, s.Deg)
			require.Empty(t, score.ASSH(s, hand.Ring, 0).Grade)
			return
		}
		require.GreaterOrEqual(t, s.Deficit, 0.0)
		require.Equal(t, s.Flexion-s.Deficit, s.Deg)
		require.LessOrEqual(t, s.SEDeg, math.Sqrt(6)*10+1e-9)
		more := d
		more.PIP.Flexion.Deg++
		require.Equal(t, s.Deg+1, score.TotalMotion(more, o).Deg)
	})
}

func TestErrorOfASum(t *testing.T) {
	d := digit(motion(0, 80), motion(20, 90), motion(10, 60))
	require.Zero(t, score.TotalMotion(d, score.Options{}).SEDeg, "unknown errors make an unknown error")
	for _, r := range []*score.Reading{&d.MCP.Extension, &d.MCP.Flexion, &d.PIP.Extension, &d.PIP.Flexion, &d.DIP.Extension, &d.DIP.Flexion} {
		r.SEDeg = 4
	}
	require.InDelta(t, 4*math.Sqrt(5), score.TotalMotion(d, score.Options{}).SEDeg, 1e-9, "the MCP joint's extension counts as none")
	require.InDelta(t, 4*math.Sqrt(3), score.CompositeFlexion(d).SEDeg, 1e-9)
}

// TestQuickDASH: ((sum / n) - 1) * 25, ten of eleven answers (scoring rule of
// the questionnaire); examples worked by hand.
func TestQuickDASH(t *testing.T) {
	answers := func(n int, rest ...int) []int {
		a := make([]int, 11-len(rest))
		for i := range a {
			a[i] = n
		}
		return append(a, rest...)
	}
	const no = score.Unanswered
	for name, c := range map[string]struct {
		in       []int
		want     float64
		complete bool
	}{
		// 8 * 3 + 2 + 2 + 1 = 29; 29 / 11 - 1 = 1.63636; * 25.
		"sum 29 of 11": {answers(3, 2, 2, 1), 40.909, true},
		// 7 * 3 + 2 * 3 = 27 over ten; 2.7 - 1 = 1.7; * 25.
		"sum 27 of 10": {answers(3, 2, 2, 2, no), 42.5, true},
		"best":         {answers(1), 0, true},
		"worst":        {answers(5), 100, true},
		"nine answers": {answers(3, no, no), 0, false},
		"none":         {answers(no), 0, false},
	} {
		t.Run(name, func(t *testing.T) {
			a, err := score.QuickDASH(c.in)
			require.NoError(t, err)
			require.Equal(t, c.complete, a.Complete)
			require.InDelta(t, c.want, a.Score, 1e-3)
		})
	}
	_, err := score.QuickDASH(answers(6))
	require.ErrorContains(t, err, "item 1: the answer 6 is outside 1 to 5")
	_, err = score.QuickDASH(answers(0))
	require.ErrorContains(t, err, "outside 1 to 5")
	_, err = score.QuickDASH([]int{1, 2})
	require.ErrorContains(t, err, "has 11 items, not 2")

	a, err := score.QuickDASHModule([]int{2, 3, 3, 4})
	require.NoError(t, err)
	require.Equal(t, score.Answered{Complete: true, Score: 50}, a)
	a, err = score.QuickDASHModule([]int{2, 3, 3, no})
	require.NoError(t, err)
	require.Equal(t, score.Answered{Unanswered: 1}, a, "a module wants all four")
}

// TestPRWHE: pain 0 to 50 and half of function, 0 to 50; an unanswered item is
// the mean of its part (from memory); examples worked by hand.
func TestPRWHE(t *testing.T) {
	const no = score.Unanswered
	for name, c := range map[string]struct {
		pain, function []int
		want           float64
		complete       bool
	}{
		// 7+8+6+6+5 = 32; 46 / 2 = 23.
		"worked example":    {[]int{7, 8, 6, 6, 5}, []int{5, 5, 5, 5, 5, 5, 4, 4, 4, 4}, 55, true},
		"best":              {[]int{0, 0, 0, 0, 0}, []int{0, 0, 0, 0, 0, 0, 0, 0, 0, 0}, 0, true},
		"worst":             {[]int{10, 10, 10, 10, 10}, []int{10, 10, 10, 10, 10, 10, 10, 10, 10, 10}, 100, true},
		"one of each left":  {[]int{8, 6, 6, 4, no}, []int{5, 5, 5, 5, 5, 5, 5, 5, 5, no}, 30 + 25, true},
		"most of pain left": {[]int{8, 6, no, no, no}, []int{5, 5, 5, 5, 5, 5, 5, 5, 5, 5}, 0, false},
		"half of function":  {[]int{8, 8, 8, 8, 8}, []int{4, 4, 4, 4, 4, no, no, no, no, no}, 60, true},
		"most of function":  {[]int{8, 8, 8, 8, 8}, []int{4, 4, 4, 4, no, no, no, no, no, no}, 0, false},
	} {
		t.Run(name, func(t *testing.T) {
			a, err := score.PRWHE(c.pain, c.function)
			require.NoError(t, err)
			require.Equal(t, c.complete, a.Complete)
			require.InDelta(t, c.want, a.Score, 1e-9)
		})
	}
	_, err := score.PRWHE([]int{1, 2, 3, 4, 11}, make([]int, 10))
	require.ErrorContains(t, err, "PRWHE pain item 5: the answer 11 is outside 0 to 10")
	_, err = score.PRWHE(make([]int, 5), make([]int, 9))
	require.ErrorContains(t, err, "PRWHE function has 10 items, not 9")
	require.Equal(t, 14.0, score.QuickDASHChange().Points)
	require.True(t, score.PRWHEChange().FromMemory)
}

// TestNorms: totals by hand, 280 for the AAOS of 1965 and 260 for the AMA; the
// DIP joint differs most between the sets.
func TestNorms(t *testing.T) {
	ids := map[string]bool{}
	for _, s := range score.NormSets() {
		require.False(t, ids[s.ID], s.ID)
		ids[s.ID] = true
		require.NotEmpty(t, s.Source)
		require.NotEmpty(t, s.Name)
		n := 0
		for j := hand.Joint(0); j < hand.NumJoints; j++ {
			if norm, ok := s.Of(j); ok {
				n++
				require.Less(t, norm.Span.From, norm.Span.To, "%s %s", s.ID, j)
			}
		}
		require.Positive(t, n, s.ID)
	}
	for _, c := range []struct {
		id     string
		finger hand.Finger
		want   float64
		ok     bool
	}{
		{"assh", hand.Index, 260, true},
		{"aaos-1965", hand.Little, 280, true},
		{"ama", hand.Middle, 260, true},
		{"aaos-1994", hand.Index, 86 + 102 + 72, true},
		{"aaos-1994", hand.Little, 105 + 106 + 65, true},
		{"aaos-1965", hand.Thumb, 0, false}, // it has no IP here
		{"hume-1990", hand.Index, 0, false}, // what tasks need is no norm
		{"hayashi-2013", hand.Index, 0, false},
	} {
		s, ok := score.FindNormSet(c.id)
		require.True(t, ok)
		deg, ok := s.TAM(c.finger)
		require.Equal(t, c.ok, ok, "%s %s", c.id, c.finger)
		require.Equal(t, c.want, deg)
	}
	_, ok := score.FindNormSet("nobody")
	require.False(t, ok)

	bain, _ := score.FindNormSet("bain-2015")
	pip, ok := bain.Of(hand.RingPIP)
	require.True(t, ok)
	require.Equal(t, score.Norm{Span: score.Span{From: 23, To: 87}, HasFrom: true}, pip)
	hayashi, _ := score.FindNormSet("hayashi-2013")
	mcp, _ := hayashi.Of(hand.LittleMCP)
	require.Equal(t, score.Span{From: -10, To: 85}, mcp.Span)
	mallon, _ := score.FindNormSet("aaos-1994")
	dip, _ := mallon.Of(hand.RingDIP)
	require.False(t, dip.HasFrom || dip.FromMemory)
	pip, _ = mallon.Of(hand.RingPIP)
	require.True(t, pip.FromMemory)
	hume, _ := score.FindNormSet("hume-1990")
	ip, _ := hume.Of(hand.ThumbIP)
	require.Equal(t, 18.0, ip.Span.To)
}

// TestStyles: neutral-zero as orthopaedic clinics write it (50-0-60, 0-15-60
// for a contracture, 0-15-15 for a stiff joint, 0-30-90: Hahn et al. 2016), and
// plus for past straight, minus for a lack (from memory).
func TestStyles(t *testing.T) {
	not := score.Reading{}
	for _, c := range []struct {
		m             score.Motion
		step          float64
		neutral, plus string
	}{
		{motion(-10, 100), 0, "10–0–100", "+10/100"},
		{motion(20, 90), 0, "0–20–90", "−20/90"},
		{motion(-50, 60), 0, "50–0–60", "+50/60"},
		{motion(15, 60), 0, "0–15–60", "−15/60"},
		{motion(15, 15), 0, "0–15–15", "−15/15"},
		{motion(0, 90), 0, "0–0–90", "0/90"},
		{motion(30, 90), 0, "0–30–90", "−30/90"},
		{motion(-20, -5), 0, "20–5–0", "+20/+5"},
		{motion(-0.4, 89.6), 0, "0–0–90", "0/90"},
		{motion(-12.4, 98), 5, "10–0–100", "+10/100"},
		{motion(12.5, 42.4), 5, "0–15–40", "−15/40"},
		{score.Motion{Extension: not, Flexion: score.Judged(90)}, 0, "?–?–90", "?/90"},
		{score.Motion{Extension: score.Judged(20), Flexion: not}, 0, "0–20–?", "−20/?"},
		{score.Motion{Extension: score.Judged(-5), Flexion: not}, 0, "5–0–?", "+5/?"},
		{score.Motion{Extension: not, Flexion: score.Judged(-5)}, 0, "?–5–0", "?/+5"},
		{score.Motion{}, 0, "?–?–?", "?/?"},
	} {
		require.Equal(t, c.neutral, score.NeutralZero.Write(c.m, c.step))
		require.Equal(t, c.plus, score.PlusMinus.Write(c.m, c.step))
	}
	// The legends' own examples are what is written.
	for _, s := range []score.Style{score.NeutralZero, score.PlusMinus} {
		require.Contains(t, s.Legend(), s.Write(motion(-10, 100), 0))
		require.Contains(t, s.Legend(), s.Write(motion(20, 90), 0))
	}
}
