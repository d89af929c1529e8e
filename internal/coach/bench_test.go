package coach_test

import (
	"testing"
	"time"

	"github.com/stretchr/testify/require"

	"volar/internal/coach"
)

// BenchmarkPush reports the time for one sample of a noisy stream of
// repetitions. A picture at 30 a second leaves 33 ms for everything.
func BenchmarkPush(b *testing.B) {
	m := movement(b, "whole-hand-grip")
	pose, long := repeat(m, 10, 3*time.Second, 1, nil)
	samples := noisy(film{pose: pose, long: long}, 1).samples()
	b.ReportAllocs()
	var c *coach.Coach
	for i := 0; b.Loop(); i++ {
		if i%len(samples) == 0 {
			var err error
			c, err = coach.New(coach.Config{Movement: m})
			require.NoError(b, err)
		}
		c.Push(samples[i%len(samples)])
	}
}
