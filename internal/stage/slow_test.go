package stage

import (
	"sync/atomic"
	"testing"
	"time"

	"github.com/stretchr/testify/require"

	"volar/internal/camera"
	"volar/internal/exercise"
	"volar/internal/hand"
	"volar/internal/infer"
)

// slowed is an engine as on an old computer: every run takes so much longer.
type slowed struct {
	infer.Engine
	by   time.Duration
	runs *atomic.Int64
}

func (e slowed) Load(model []byte, o infer.Options) (infer.Graph, error) {
	g, err := e.Engine.Load(model, o)
	return slowedGraph{g, e}, err
}

type slowedGraph struct {
	infer.Graph
	of slowed
}

func (g slowedGraph) Run(in, out []infer.Tensor) error {
	g.of.runs.Add(1)
	time.Sleep(g.of.by)
	return g.Graph.Run(in, out)
}

// With an engine that manages five pictures a second of a camera's twenty,
// pictures are left out, and what is shown is never later than the work on one
// picture or two.
func TestASlowEngineSkipsPicturesAndIsNeverLate(t *testing.T) {
	const by = 200 * time.Millisecond
	img := still(t, straight())
	runs := new(atomic.Int64)
	s, err := Open(Options{Engine: slowed{engine(t), by, runs}, Open: func() (camera.Source, error) {
		src, err := shows(t, img, 0)
		require.NoError(t, err)
		return camera.NewPaced(src)
	}})
	require.NoError(t, err)
	t.Cleanup(func() { require.NoError(t, s.Close()) })
	m, err := exercise.Find("straight-finger-hold")
	require.NoError(t, err)
	s.Check(CheckOptions{Side: hand.Right, View: m.View.Best})

	var delays []time.Duration
	end := time.Now().Add(5 * time.Second)
	for time.Now().Before(end) {
		if v, ok := s.Take(); ok && v.Picture != nil {
			delays = append(delays, s.now()-v.At)
		}
		time.Sleep(5 * time.Millisecond)
	}
	// A busy computer under the race detector manages one a second.
	require.GreaterOrEqual(t, len(delays), 3)
	require.LessOrEqual(t, len(delays), int(5*time.Second/by)+1)
	// The work on one picture takes as long as they are apart, on whatever
	// computer. Pictures that waited in a line would be seconds late at the end.
	work := 5 * time.Second / time.Duration(len(delays))
	for i, d := range delays {
		require.Greater(t, d, by)
		require.Less(t, d, 2*work, "picture %d of %d", i, len(delays))
	}
	require.InDelta(t, len(delays), s.Measures().Judged, 2)
	require.GreaterOrEqual(t, runs.Load(), int64(len(delays)))
}
