package program

import (
	"testing"

	"github.com/stretchr/testify/require"

	"volar/internal/coach"
	"volar/internal/hand"
)

func TestLimitsOfBothHandsInWords(t *testing.T) {
	thirty, zero := 30.0, 0.0
	own := coach.Limits{hand.IndexPIP: {Lower: &zero}}
	other := coach.Limits{hand.IndexPIP: {Lower: &thirty}}
	require.Equal(t, LimitWords(own), BothLimitWords(own, own, hand.Left), "the same of both hands is said once")
	require.Equal(t, LimitWords(own), BothLimitWords(own, coach.Limits{}, hand.Left))
	both := BothLimitWords(own, other, hand.Left)
	require.Len(t, both, 2)
	require.Equal(t, "left hand, "+LimitWords(other)[0], both[1])
	require.Equal(t, both[1:], BothLimitWords(coach.Limits{}, other, hand.Left))
}
