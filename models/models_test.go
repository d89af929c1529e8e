package models

import (
	"testing"

	"github.com/stretchr/testify/require"
)

func TestModelsAreTheOnesListed(t *testing.T) {
	hand, err := HandLandmark()
	require.NoError(t, err)
	palm, err := PalmDetection()
	require.NoError(t, err)
	require.NoError(t, Verify(HandLandmarkFile, hand))
	require.NoError(t, Verify(PalmDetectionFile, palm))
}

func TestTheCallerOwnsTheBytes(t *testing.T) {
	b, err := PalmDetection()
	require.NoError(t, err)
	clear(b)
	again, err := PalmDetection()
	require.NoError(t, err)
	require.NoError(t, Verify(PalmDetectionFile, again))
}

func TestVerifyRefuses(t *testing.T) {
	good, err := PalmDetection()
	require.NoError(t, err)
	flip := func(i int) []byte {
		b := append([]byte(nil), good...)
		b[i] ^= 1
		return b
	}
	for name, b := range map[string][]byte{
		"first bit flipped":   flip(0),
		"bit of a weight":     flip(len(good) / 2),
		"last bit flipped":    flip(len(good) - 1),
		"cut short":           good[:len(good)-1],
		"empty":               nil,
		"the other network":   []byte(handLandmark),
		"a byte too many":     append(append([]byte(nil), good...), 0),
		"something else":      []byte("not a model"),
		"only the first half": good[:len(good)/2],
	} {
		t.Run(name, func(t *testing.T) {
			err := Verify(PalmDetectionFile, b)
			var m *MismatchError
			require.ErrorAs(t, err, &m)
			require.Equal(t, PalmDetectionFile, m.Name)
			require.Len(t, m.Want, 64)
			require.Len(t, m.Got, 64)
			require.ErrorContains(t, err, "palm_detection.onnx")
			require.ErrorContains(t, err, "go run ./scripts/convert-models")
		})
	}
}

func TestVerifyUnknownName(t *testing.T) {
	require.ErrorContains(t, Verify("foot.onnx", nil), `"foot.onnx" is unknown`)
}
