package stage

import (
	"sync/atomic"
	"testing"
	"time"

	"github.com/stretchr/testify/require"

	"volar/internal/camera"
	"volar/internal/hand"
	"volar/internal/live"
)

func TestLookGivesWhatIsSeenUntilTheCameraIsGone(t *testing.T) {
	img := still(t, straight())
	var gone atomic.Bool
	s, wait := opened(t, Options{Open: func() (camera.Source, error) {
		if gone.Load() {
			return nil, camera.ErrNoCamera
		}
		return shows(t, img, 10)
	}})
	found, missing := make(chan hand.Sample, 1), make(chan time.Duration, 1)
	s.Look(LookOptions{
		Side: hand.Right,
		Seen: func(f *camera.Frame, seen *live.Seen) {
			if seen.Sample.Found && f.Image.Rect.Dx() == 480 {
				select {
				case found <- seen.Sample:
				default:
				}
			}
		},
		Unseen: func(at time.Duration) {
			select {
			case missing <- at:
			default:
			}
		},
	})
	v := wait(func(v *View) bool { return v.Picture != nil && v.Camera.State == Sending })
	require.Nil(t, v.Check)
	require.Nil(t, v.Practice)
	require.Equal(t, hand.Right, (<-found).Side)
	gone.Store(true)
	require.Positive(t, <-missing)
	wait(func(v *View) bool { return v.Camera.State == Lost })
}
