package hand

import (
	"testing"

	"github.com/stretchr/testify/require"
)

func TestChannelNamesGoBothWays(t *testing.T) {
	seen := map[string]bool{}
	for c := Channel(0); c < NumChannels; c++ {
		require.False(t, seen[c.String()], "%v", c)
		seen[c.String()] = true
		back, err := ParseChannel(c.String())
		require.NoError(t, err)
		require.Equal(t, c, back)
	}
	for j := Joint(0); j < NumJoints; j++ {
		require.Equal(t, j.String(), Channel(j).String(), "a joint keeps its name")
	}
	require.Equal(t, "ring-little.spread", SpreadRingLittle.String())
	require.Equal(t, "little.pinch", PinchLittle.String())
	require.Equal(t, "hand.turn", HandTurn.String())
	require.Equal(t, Channel(NumChannels-1), HandTurn, "the last one")
	for _, bad := range []string{"", "index", "little.spread", "thumb.pinch", "hand", "channel(30)"} {
		_, err := ParseChannel(bad)
		require.Error(t, err, bad)
	}
	require.Equal(t, "channel(25)", Channel(NumChannels).String())
}

func TestChannelPatterns(t *testing.T) {
	for pattern, want := range map[string][]Channel{
		"index.pinch":  {PinchIndex},
		"*.pinch":      {PinchIndex, PinchMiddle, PinchRing, PinchLittle},
		"*.SPREAD":     {SpreadIndexMiddle, SpreadMiddleRing, SpreadRingLittle},
		"*.pip":        {Channel(IndexPIP), Channel(MiddlePIP), Channel(RingPIP), Channel(LittlePIP)},
		"index.*":      {Channel(IndexMCP), Channel(IndexPIP), Channel(IndexDIP)},
		"thumb.*":      {Channel(ThumbMP), Channel(ThumbIP)},
		"*.tilt":       {HandTilt},
		"thumb.palmar": {ThumbPalmar},
	} {
		got, err := ParseChannels(pattern)
		require.NoError(t, err, pattern)
		require.Equal(t, want, got, pattern)
	}
	all, err := ParseChannels("*")
	require.NoError(t, err)
	require.Len(t, all, NumJoints)
	for _, bad := range []string{"*.toe", "hand.*", "pinch.*", "thumb.pinch", "**"} {
		_, err := ParseChannels(bad)
		require.Error(t, err, bad)
	}
}

func TestChannelsKnowWhereTheyBelong(t *testing.T) {
	for f := Thumb; f <= Little; f++ {
		pinch, ok := PinchOf(f)
		require.Equal(t, f != Thumb, ok)
		if ok {
			got, ok := pinch.Finger()
			require.True(t, ok && pinch.Pinch())
			require.Equal(t, f, got)
			require.Equal(t, "%", pinch.Unit())
		}
		spread, ok := SpreadAfter(f)
		require.Equal(t, f >= Index && f <= Ring, ok)
		if ok {
			got, _ := spread.Finger()
			require.Equal(t, f, got)
			require.Equal(t, "°", spread.Unit())
		}
	}
	for c := Channel(0); c < NumChannels; c++ {
		j, ok := c.Joint()
		require.Equal(t, c < NumJoints, ok)
		if ok {
			f, _ := c.Finger()
			require.Equal(t, j.Finger(), f)
		}
	}
	for _, c := range []Channel{HandTilt, HandTurn, -1, NumChannels} {
		_, ok := c.Finger()
		require.False(t, ok)
	}
	f, ok := ThumbRadial.Finger()
	require.True(t, ok)
	require.Equal(t, Thumb, f)
}

func TestASampleNobodyMeasuredIsNotJudged(t *testing.T) {
	var s Sample
	for c := Channel(-1); c <= NumChannels; c++ {
		require.False(t, s.Channel(c).Judged, "%v", c)
	}
	require.Equal(t, Unsure, s.Channel(PinchIndex).Why)
	s.Extra[PinchIndex-NumJoints] = Measurement{FlexionDeg: 40, RawDeg: 41, SEDeg: 6, Judged: true}
	require.Equal(t, 41.0, s.Channel(PinchIndex).RawDeg)
	require.True(t, s.Channel(PinchIndex).Judged)
	s.Joints[RingDIP] = Measurement{RawDeg: 12, Judged: true}
	require.Equal(t, s.Joints[RingDIP], s.Channel(Channel(RingDIP)))
	s.Extra[HandTilt-NumJoints].Why = WrongView
	require.Equal(t, WrongView, s.Channel(HandTilt).Why)
}
