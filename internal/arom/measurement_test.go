package arom

import (
	"bytes"
	"encoding/json"
	"os"
	"testing"

	"github.com/stretchr/testify/require"

	"volar/internal/hand"
)

// sample is a right hand from the thumb side, of which a joint is past
// straight, one near straight, and one hidden.
func sample() hand.Sample {
	s := hand.Sample{Found: true, Side: hand.Right, View: hand.View{YawDeg: 84.04, PitchDeg: -3, SEDeg: 8}}
	for j := range s.Joints {
		s.Joints[j] = hand.Measurement{FlexionDeg: 10 * float64(j), SEDeg: 4.44, Judged: true, ExtensionWhy: hand.WrongView}
	}
	s.Joints[hand.IndexPIP] = hand.Measurement{FlexionDeg: -12.3, SEDeg: 3.1, Judged: true, ExtensionJudged: true}
	s.Joints[hand.IndexDIP] = hand.Measurement{FlexionDeg: -4, SEDeg: 5, Judged: true, ExtensionWhy: hand.Hidden}
	s.Joints[hand.RingPIP] = hand.Measurement{FlexionDeg: 33, SEDeg: 20, Why: hand.Hidden, ExtensionWhy: hand.Hidden}
	return s
}

func TestMeasuredKeepsWhatWasJudgedAndNothingElse(t *testing.T) {
	m, err := Measured(sample(), taken, "a", nil)
	require.NoError(t, err)
	require.Equal(t, "radial view, turned 84° from the palm ± 8°", m.ViewWords())
	for _, c := range []struct {
		of   hand.Joint
		want string
	}{
		{hand.IndexPIP, "12° past straight ± 3°"},
		{hand.IndexDIP, "near straight ± 5°"},
		{hand.RingPIP, "not judged (hidden)"},
		{hand.MiddleMCP, "30° ± 4°"},
	} {
		require.Equal(t, c.want, m.Reading(c.of).Words())
		require.Equal(t, c.want, ReadingOf(sample().Joints[c.of]).Words(), "live it reads the same")
	}
	require.Zero(t, m.Joints["ring.pip"].FlexionDeg, "what was not judged has no number")

	b, err := m.Encode()
	require.NoError(t, err)
	back, err := DecodeMeasurement(b)
	require.NoError(t, err)
	require.Equal(t, m, back)

	own := recordedHand("right", angles{}, angles{60, 80, 40})
	for estimator, named := range map[string]bool{"a": true, "b": false, "": true} {
		own.Estimator = "a"
		m, err := Measured(sample(), taken, estimator, own)
		require.NoError(t, err)
		require.Equal(t, named, m.BaselineAt != nil, "a hand that %q did not read corrects nothing", estimator)
	}
	_, err = Measured(hand.Sample{}, taken, "", nil)
	require.ErrorContains(t, err, "no hand")
}

func TestDecodeMeasurementRefuses(t *testing.T) {
	m, err := Measured(sample(), taken, "a", nil)
	require.NoError(t, err)
	good, err := m.Encode()
	require.NoError(t, err)
	for _, c := range []struct{ name, old, new, want string }{
		{"another version", `"version":1`, `"version":2`, "update it"},
		{"a third side", `"side":"right"`, `"side":"both"`, "neither left nor right"},
		{"an unknown field", `"version":1`, `"version":1,"name":"x"`, "unknown field"},
		{"a strange joint", `"ring.pip"`, `"ring.pop"`, "not known"},
		{"a missing joint", `"thumb.ip"`, `"thumb.mp"`, "13 joints"},
		{"a number without a judgement", `"why":"hidden"`, `"why":"hidden","judged":false,"flexion_deg":20`, "not judged, and yet"},
		{"a reason nobody has", `"why":"hidden"`, `"why":"tired"`, "no known reason"},
		{"no joint's angle", `"flexion_deg":-12.3`, `"flexion_deg":-512`, "no joint's"},
		{"a view that is none", `"yaw_deg":84`, `"yaw_deg":384`, "does not exist"},
		{"no time", `"taken_at":"2026-11-26T09:30:00Z"`, `"taken_at":"0001-01-01T00:00:00Z"`, "taken_at"},
	} {
		t.Run(c.name, func(t *testing.T) {
			bad := bytes.Replace(good, []byte(c.old), []byte(c.new), 1)
			require.NotEqual(t, string(good), string(bad))
			_, err := DecodeMeasurement(bad)
			require.ErrorContains(t, err, c.want)
		})
	}
	_, err = DecodeMeasurement(append(good, '1'))
	require.ErrorContains(t, err, "more after its end")
	_, err = DecodeMeasurement(make([]byte, maxMeasurementBytes+1))
	require.ErrorContains(t, err, "too large")
}

func FuzzDecodeMeasurement(f *testing.F) {
	m, err := Measured(sample(), taken, "a", nil)
	require.NoError(f, err)
	good, err := m.Encode()
	require.NoError(f, err)
	f.Add(good)
	f.Add([]byte(`{"version":1}`))
	f.Fuzz(func(t *testing.T, b []byte) {
		m, err := DecodeMeasurement(b)
		if err != nil {
			return
		}
		again, err := m.Encode()
		require.NoError(t, err)
		require.True(t, json.Valid(again))
		back, err := DecodeMeasurement(again)
		require.NoError(t, err)
		require.Equal(t, m, back)
	})
}

// A measurement that was kept in the first version of the format is read, and
// one of a newer version says so, whatever else is in it.
func TestKeptMeasurement(t *testing.T) {
	b, err := os.ReadFile("testdata/measurement-v1.json")
	require.NoError(t, err)
	m, err := DecodeMeasurement(b)
	require.NoError(t, err)
	require.Equal(t, "12° past straight ± 3°", m.Reading(hand.IndexPIP).Words())
	again, err := m.Encode()
	require.NoError(t, err)
	require.JSONEq(t, string(b), string(again))
	_, err = DecodeMeasurement([]byte(`{"version": 2, "grip_n": 120}`))
	require.ErrorContains(t, err, "version 2; this program reads version 1: update it")
}
