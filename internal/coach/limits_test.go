package coach_test

import (
	"testing"

	"github.com/stretchr/testify/require"

	"volar/internal/coach"
	"volar/internal/hand"
)

func deg(x float64) *float64 { return &x }

func TestParseLimit(t *testing.T) {
	for in, want := range map[string]coach.Limits{
		"index.pip=0..":     {hand.IndexPIP: {Lower: deg(0)}},
		"index.pip=..90":    {hand.IndexPIP: {Upper: deg(90)}},
		"Index.PIP = 0..90": {hand.IndexPIP: {Lower: deg(0), Upper: deg(90)}},
		"*.pip=-5..100": {
			hand.IndexPIP: {deg(-5), deg(100)}, hand.MiddlePIP: {deg(-5), deg(100)},
			hand.RingPIP: {deg(-5), deg(100)}, hand.LittlePIP: {deg(-5), deg(100)},
		},
		"thumb.*=..50":      {hand.ThumbMP: {Upper: deg(50)}, hand.ThumbIP: {Upper: deg(50)}},
		"ring.dip=10.5..":   {hand.RingDIP: {Lower: deg(10.5)}},
		"little.mcp=-20°..": {hand.LittleMCP: {Lower: deg(-20)}},
	} {
		l := coach.Limits{}
		require.NoError(t, l.ParseLimit(in), in)
		require.Equal(t, want, l, in)
	}
}

func TestLimitsAddUp(t *testing.T) {
	l := coach.Limits{}
	for _, s := range []string{"*.pip=0..", "index.pip=..90", "middle.pip=10.."} {
		require.NoError(t, l.ParseLimit(s))
	}
	require.Equal(t, coach.Limits{
		hand.IndexPIP: {deg(0), deg(90)}, hand.MiddlePIP: {Lower: deg(10)},
		hand.RingPIP: {Lower: deg(0)}, hand.LittlePIP: {Lower: deg(0)},
	}, l)
}

func TestParseLimitRefuses(t *testing.T) {
	for in, want := range map[string]string{
		"":                  "has no =",
		"index.pip":         "has no =",
		"index.pip=":        "has no range",
		"index.pip=30":      "has no range",
		"index.pip=..":      "limits nothing",
		"index.pip=a..":     `lower end "a" is not a number of degrees`,
		"index.pip=0..x":    `upper end "x" is not a number of degrees`,
		"index.pip=nan..":   "is not a number of degrees",
		"index.pip=0..inf":  "is not a number of degrees",
		"index.pip=1e400..": "is not a number of degrees",
		"index.pip=90..0":   "the lower end, 90°, is not below the upper, 0°",
		"index.pip=50..50":  "is not below",
		"index.pip=-80..":   "index.pip cannot go to -80°; possible are -45 to 130",
		"index.pip=..400":   "cannot go to 400°",
		"index.knee=0..":    "is not known",
		"thumb.pip=0..":     "is not known",
		"*.knee=0..":        "match nothing",
		"toe.*=0..":         "match nothing",
		"=0..":              "is not known",
		"index.pip=0...90":  "is not a number of degrees",
		"index.pip==0..":    "is not a number of degrees",
	} {
		l := coach.Limits{hand.IndexPIP: {Lower: deg(1)}}
		err := l.ParseLimit(in)
		require.ErrorContains(t, err, want, in)
		require.Equal(t, coach.Limits{hand.IndexPIP: {Lower: deg(1)}}, l, "%s left something behind", in)
	}
	// A limit is checked together with what is there already.
	l := coach.Limits{hand.IndexPIP: {Lower: deg(50)}}
	require.ErrorContains(t, l.ParseLimit("index.pip=..40"), "is not below")
}

func FuzzParseLimit(f *testing.F) {
	for _, s := range []string{"index.pip=0..", "*.pip=-5..100", "*=..1e9", "=..", "thumb.*=-0x1p-2..", "a=b..c=d"} {
		f.Add(s)
	}
	f.Fuzz(func(t *testing.T, s string) {
		l := coach.Limits{}
		if l.ParseLimit(s) == nil {
			require.NotEmpty(t, l)
			require.NoError(t, l.Check())
		}
	})
}

func TestConfigRefuses(t *testing.T) {
	m := movement(t, "whole-hand-grip")
	for want, c := range map[string]coach.Config{
		"no movement given":                      {},
		`movement whole-hand-grip has no object`: {Movement: m, Object: "brick"},
		"limits: index.pip cannot go to 300°":    {Movement: m, Limits: coach.Limits{hand.IndexPIP: {Lower: deg(300)}}},
		"joint(77) is no joint":                  {Movement: m, Limits: coach.Limits{77: {Lower: deg(0)}}},
		"repetitions make no sense":              {Movement: m, Repetitions: -1},
		"a hold of 20m0s makes no sense":         {Movement: m, Hold: 20 * 60e9},
		"own range of index.pip":                 {Movement: m, Own: map[hand.Joint]coach.Range{hand.IndexPIP: {0, 500}}},
		"a time is negative":                     {Movement: m, Tolerances: coach.Tolerances{DropOut: -1}},
		"margins of":                             {Movement: m, Tolerances: coach.Tolerances{LeastMarginDeg: 20}},
	} {
		_, err := coach.New(c)
		require.ErrorContains(t, err, want)
	}
}
