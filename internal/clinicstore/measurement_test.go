package clinicstore

import (
	"io/fs"
	"testing"
	"time"

	"github.com/stretchr/testify/require"

	"volar/internal/arom"
	"volar/internal/hand"
)

func TestMeasurementsAreKeptAndGoWithTheirClient(t *testing.T) {
	s, _ := made(t)
	require.NoError(t, s.PutClient(t.Context(), k104()))
	sample := hand.Sample{Found: true, Side: hand.Right, View: hand.View{YawDeg: 3, SEDeg: 8}}
	for j := range sample.Joints {
		sample.Joints[j] = hand.Measurement{FlexionDeg: float64(j), SEDeg: 4, Judged: true}
	}
	var want []*arom.Measurement
	for i := range 2 {
		m, err := arom.Measured(sample, now.Add(time.Duration(i)*time.Hour), "a", nil)
		require.NoError(t, err)
		require.NoError(t, s.PutMeasurement(t.Context(), "K-104", m))
		want = append([]*arom.Measurement{m}, want...)
	}
	got, err := s.Measurements(t.Context(), "K-104")
	require.NoError(t, err)
	require.Equal(t, want, got)
	none, err := s.Baseline(t.Context(), "K-104", hand.Right)
	require.NoError(t, err)
	require.Nil(t, none, "a measurement is no baseline")
	require.Error(t, s.PutMeasurement(t.Context(), "K-104", &arom.Measurement{}))
	require.ErrorIs(t, s.PutMeasurement(t.Context(), "K-900", want[0]), fs.ErrNotExist)

	require.NoError(t, s.DeleteClient(t.Context(), "K-104"))
	require.NoError(t, s.PutClient(t.Context(), k104()))
	got, err = s.Measurements(t.Context(), "K-104")
	require.NoError(t, err)
	require.Empty(t, got)
}
