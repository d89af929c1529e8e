package report

import (
	"bytes"
	"encoding/json"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
)

// What the JSON says is what the table says, and what was not judged is null.
func TestJSON(t *testing.T) {
	r := gathered(t)
	var b bytes.Buffer
	require.NoError(t, r.JSON(&b))
	var got exported
	d := json.NewDecoder(bytes.NewReader(b.Bytes()))
	d.DisallowUnknownFields()
	require.NoError(t, d.Decode(&got))
	require.Len(t, got.Sessions, len(r.Sessions))
	assert.Equal(t, 1, got.Format)
	assert.Equal(t, 5, got.Marks.Right)
	assert.InDelta(t, r.Adhered.Share, *got.Adherence.Share, 1e-3)
	flags, judged, not := 0, 0, 0
	for _, s := range got.Sessions {
		flags += len(s.Flags)
		for _, j := range s.Joints {
			require.NotNil(t, j.Greatest)
			if j.Least == nil {
				not++
				assert.Nil(t, j.LeastSE)
			} else {
				judged++
			}
		}
	}
	assert.Equal(t, len(r.Flags), flags)
	assert.Positive(t, judged)
	assert.Positive(t, not)
	assert.Contains(t, b.String(), `"least_flexion_deg": null`)
	assert.NotContains(t, b.String(), "NaN")
}
