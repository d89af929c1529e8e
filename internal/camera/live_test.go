package camera

import (
	"context"
	"errors"
	"fmt"
	"image"
	"io"
	"sync/atomic"
	"testing"
	"testing/synctest"
	"time"

	"github.com/stretchr/testify/require"
	"pgregory.net/rapid"
)

// act is what a fake camera does on one read: wait, then give a picture of a
// shade with a stamp, or an error.
type act struct {
	wait  time.Duration
	shade uint8
	stamp time.Duration
	err   error
}

// fakeCamera plays its acts and then blocks on each read as long as V4L2
// would, without a picture. Like V4L2's, its reads cannot be interrupted.
type fakeCamera struct {
	acts   []act
	w, h   int
	closed atomic.Bool
}

const driverTimeout = 2 * time.Second

func (c *fakeCamera) info() Info { return Info{Width: c.w, Height: c.h, FPS: 30, Codec: "MJPG"} }

func (c *fakeCamera) read(_ context.Context, dst *image.RGBA) (time.Duration, error) {
	if c.closed.Load() {
		panic("read after close")
	}
	if len(c.acts) == 0 {
		time.Sleep(driverTimeout)
		return 0, errNoPicture
	}
	a := c.acts[0]
	c.acts = c.acts[1:]
	time.Sleep(a.wait)
	if a.err != nil {
		return 0, a.err
	}
	resize(dst, c.w, c.h)
	for i := range dst.Pix {
		dst.Pix[i] = a.shade
	}
	return a.stamp, nil
}

func (c *fakeCamera) close() {
	if c.closed.Swap(true) {
		panic("closed twice")
	}
}

// tick is the time from one picture to the next.
const tick = time.Second / 30

// at30 are n pictures at 30 a second, from a shade and a stamp on.
func at30(n, shade int, stamp time.Duration) []act {
	var as []act
	for i := range n {
		as = append(as, act{
			wait:  tick,
			shade: uint8(shade + i),
			stamp: stamp + time.Duration(i)*tick,
		})
	}
	return as
}

// fakeHost is a computer whose one camera does, each time it is opened, what
// the next opening says: an error, or acts.
type fakeHost struct {
	openings []any
	opened   []*fakeCamera
	tried    int
}

func (f *fakeHost) host() host {
	return host{
		devices: func() []Device {
			return []Device{{Number: 1, Path: "/dev/video1", Name: "data only"}, {Number: 2, Path: "/dev/video2", Name: "Fake", Captures: true}}
		},
		check: func(string) error { return nil },
		open: func(n, w, h int, fps float64) (stream, error) {
			f.tried++
			if len(f.openings) == 0 {
				return nil, errors.New("it is gone")
			}
			o := f.openings[0]
			f.openings = f.openings[1:]
			if err, ok := o.(error); ok {
				return nil, err
			}
			c := &fakeCamera{acts: o.([]act), w: 8, h: 6}
			f.opened = append(f.opened, c)
			return c, nil
		},
	}
}

// openFake opens the fake camera within a bubble of virtual time.
func openFake(t *testing.T, o WebcamOptions, openings ...any) (Source, *fakeHost) {
	t.Helper()
	f := &fakeHost{openings: openings}
	src, err := openWebcam(o, f.host())
	require.NoError(t, err)
	t.Cleanup(func() { src.Close() })
	return src, f
}

func TestLiveDeliversAsItComes(t *testing.T) {
	synctest.Test(t, func(t *testing.T) {
		src, f := openFake(t, WebcamOptions{}, at30(90, 1, time.Hour))
		require.Equal(t, Info{Name: "/dev/video2 (Fake)", Width: 8, Height: 6, FPS: 30, Live: true, Codec: "MJPG"}, src.Info())
		for i := range 90 {
			g, err := src.Next(context.Background())
			require.NoError(t, err)
			require.Equal(t, i, g.Index)
			require.Equal(t, uint8(i+1), g.Image.Pix[0])
			// The first stamp is taken to be that of its arrival.
			require.Equal(t, time.Duration(i+1)*tick, g.Time)
		}
		h := src.(Monitored).Health()
		require.Equal(t, Health{Frames: 90}, h)
		require.NoError(t, src.Close())
		require.True(t, f.opened[0].closed.Load())
		require.NoError(t, src.Close())
		_, err := src.Next(context.Background())
		require.ErrorIs(t, err, ErrClosed)
	})
}

func TestLiveDeliversTheNewest(t *testing.T) {
	synctest.Test(t, func(t *testing.T) {
		src, _ := openFake(t, WebcamOptions{}, at30(200, 1, time.Hour))
		var got []int
		for range 10 {
			g, err := src.Next(context.Background())
			require.NoError(t, err)
			require.Equal(t, uint8(g.Index+1), g.Image.Pix[0])
			pix := g.Image.Pix
			// Slow work on the picture, which nobody may touch meanwhile.
			time.Sleep(150 * time.Millisecond)
			for _, p := range pix {
				require.Equal(t, uint8(g.Index+1), p)
			}
			got = append(got, g.Index)
		}
		// Four or five pictures come in 150 ms, and the newest is at hand.
		for i, n := range got[1:] {
			require.InDelta(t, 4.5, float64(n-got[i]), 0.6, "%v", got)
		}
		h := src.(Monitored).Health()
		require.Equal(t, h.Frames, h.Dropped+10+boolInt(h.Frames-1 > got[9]), "each was delivered, dropped or waits: %+v", h)
	})
}

func boolInt(b bool) int {
	if b {
		return 1
	}
	return 0
}

func TestLiveStallsAndComesBack(t *testing.T) {
	synctest.Test(t, func(t *testing.T) {
		src, f := openFake(t, WebcamOptions{},
			at30(3, 1, time.Hour), // then silence: three reads of 2 s
			errors.New("not yet"),
			at30(3, 101, time.Minute), // a new clock that starts lower
		)
		start := time.Now()
		var last time.Duration
		next := func() (Frame, error) {
			g, err := src.Next(context.Background())
			if err == nil {
				require.Greater(t, g.Time, last)
				last = g.Time
			}
			return g, err
		}
		for range 3 {
			_, err := next()
			require.NoError(t, err)
		}
		stalls := 0
		var g Frame
		for {
			var err error
			if g, err = next(); err == nil {
				break
			}
			require.ErrorIs(t, err, ErrStalled)
			require.ErrorContains(t, err, "/dev/video2")
			stalls++
			require.InDelta(t, float64(stalls), time.Since(start).Seconds(), 0.15, "once a second: %v", err)
		}
		// 6 s of silence, 40 ms of pauses, 250 ms, "not yet", 500 ms.
		require.Equal(t, 6, stalls)
		require.Equal(t, uint8(101), g.Image.Pix[0])
		require.Equal(t, 3, g.Index)
		require.InDelta(t, time.Since(start).Seconds(), g.Time.Seconds(), 0.05, "time goes on over the gap")
		h := src.(Monitored).Health()
		require.Equal(t, Health{Frames: 4, Failed: 3, Reopened: 1}, h)
		require.True(t, f.opened[0].closed.Load())
		require.Equal(t, 3, f.tried)
	})
}

func TestLiveRepeatsAreNoPictures(t *testing.T) {
	synctest.Test(t, func(t *testing.T) {
		frozen := at30(2, 1, time.Hour)
		for range 1000 { // the last one again and again
			frozen = append(frozen, frozen[1])
		}
		src, f := openFake(t, WebcamOptions{}, frozen, at30(1, 101, 2*time.Hour))
		for range 2 {
			_, err := src.Next(context.Background())
			require.NoError(t, err)
		}
		_, err := src.Next(context.Background())
		require.ErrorIs(t, err, ErrStalled)
		require.ErrorContains(t, err, "/dev/video2 (Fake): no new picture for 1.0 s")
		g, err := src.Next(context.Background())
		require.NoError(t, err)
		require.Equal(t, uint8(101), g.Image.Pix[0])
		h := src.(Monitored).Health()
		require.InDelta(t, 30, h.Repeated, 1)
		require.Equal(t, 1, h.Reopened)
		require.True(t, f.opened[0].closed.Load())
	})
}

// A closed shutter: equal pictures whose stamps go on are pictures.
func TestLiveDarkIsNotStalled(t *testing.T) {
	synctest.Test(t, func(t *testing.T) {
		dark := at30(100, 0, time.Hour)
		for i := range dark {
			dark[i].shade = 0
		}
		src, _ := openFake(t, WebcamOptions{}, dark)
		for i := range 100 {
			g, err := src.Next(context.Background())
			require.NoError(t, err)
			require.Equal(t, i, g.Index)
		}
	})
}

// A driver without stamps: times are those of arrival.
func TestLiveWithoutStamps(t *testing.T) {
	synctest.Test(t, func(t *testing.T) {
		as := at30(10, 1, 0)
		for i := range as {
			as[i].stamp = 0
		}
		src, _ := openFake(t, WebcamOptions{}, as)
		for i := range 10 {
			g, err := src.Next(context.Background())
			require.NoError(t, err)
			require.Equal(t, time.Duration(i+1)*tick, g.Time)
		}
	})
}

func TestLiveGivesUp(t *testing.T) {
	for _, tc := range []struct {
		retries, tries int
		after          time.Duration
	}{
		// Three reads of 2 s with pauses of 20 ms, then the waits.
		{0, 8, 6040*time.Millisecond + (250+500+1000+2000+4*4000)*time.Millisecond},
		{2, 2, 6040*time.Millisecond + 750*time.Millisecond},
		{-1, 0, 6040 * time.Millisecond},
	} {
		synctest.Test(t, func(t *testing.T) {
			src, f := openFake(t, WebcamOptions{Retries: tc.retries}, at30(1, 1, time.Hour))
			_, err := src.Next(context.Background())
			require.NoError(t, err)
			start := time.Now()
			for err = error(ErrStalled); errors.Is(err, ErrStalled); {
				_, err = src.Next(context.Background())
			}
			require.ErrorIs(t, err, ErrNoCamera)
			require.Equal(t, tc.after, time.Since(start))
			require.Equal(t, 1+tc.tries, f.tried)
			_, again := src.Next(context.Background())
			require.Equal(t, err, again, "the end stays the end")
			require.NoError(t, src.Close())
		})
	}
}

// A read that fails now and then is no reason to reopen the device.
func TestLiveToleratesSingleFailures(t *testing.T) {
	synctest.Test(t, func(t *testing.T) {
		as := at30(30, 1, time.Hour)
		for _, i := range []int{5, 6, 12, 20, 21} {
			as[i] = act{wait: tick, err: errNoPicture}
		}
		src, f := openFake(t, WebcamOptions{}, as)
		for range 25 {
			_, err := src.Next(context.Background())
			require.NoError(t, err)
		}
		h := src.(Monitored).Health()
		require.Equal(t, Health{Frames: 25, Failed: 5}, h)
		require.Equal(t, 1, f.tried)
	})
}

func TestLiveStallOption(t *testing.T) {
	synctest.Test(t, func(t *testing.T) {
		src, _ := openFake(t, WebcamOptions{StallAfter: 300 * time.Millisecond}, at30(1, 1, time.Hour))
		_, err := src.Next(context.Background())
		require.NoError(t, err)
		start := time.Now()
		_, err = src.Next(context.Background())
		require.ErrorIs(t, err, ErrStalled)
		require.Equal(t, 300*time.Millisecond, time.Since(start))
	})
}

func TestLiveCloseWaitsForTheDriver(t *testing.T) {
	synctest.Test(t, func(t *testing.T) {
		src, f := openFake(t, WebcamOptions{}, at30(1, 1, time.Hour))
		_, err := src.Next(context.Background())
		require.NoError(t, err)
		waiting := make(chan error)
		go func() {
			_, err := src.Next(context.Background())
			waiting <- err
		}()
		time.Sleep(500 * time.Millisecond)
		start := time.Now()
		closed := make(chan error)
		go func() { closed <- src.Close() }()
		require.ErrorIs(t, <-waiting, ErrClosed, "at once")
		require.Zero(t, time.Since(start))
		require.NoError(t, <-closed)
		require.Equal(t, 1500*time.Millisecond, time.Since(start), "when the read has returned, and not before")
		require.True(t, f.opened[0].closed.Load())
	})
}

func TestLiveCloseWhileReopening(t *testing.T) {
	synctest.Test(t, func(t *testing.T) {
		src, _ := openFake(t, WebcamOptions{}, at30(1, 1, time.Hour))
		time.Sleep(6*time.Second + 500*time.Millisecond)
		start := time.Now()
		require.NoError(t, src.Close())
		require.Zero(t, time.Since(start))
	})
}

func TestLiveContext(t *testing.T) {
	synctest.Test(t, func(t *testing.T) {
		src, _ := openFake(t, WebcamOptions{}, at30(1, 1, time.Hour))
		_, err := src.Next(context.Background())
		require.NoError(t, err)
		ctx, cancel := context.WithTimeout(context.Background(), 100*time.Millisecond)
		defer cancel()
		start := time.Now()
		_, err = src.Next(ctx)
		require.ErrorIs(t, err, context.DeadlineExceeded)
		require.Equal(t, 100*time.Millisecond, time.Since(start))
	})
}

func TestNoSuchWebcam(t *testing.T) {
	synctest.Test(t, func(t *testing.T) {
		f := &fakeHost{}
		h := f.host()
		_, err := openWebcam(WebcamOptions{}, h)
		require.ErrorIs(t, err, ErrNoCamera)
		require.EqualError(t, err, "/dev/video2: no camera: it is gone")

		// Opens, and sends nothing.
		f.openings = []any{[]act{}}
		_, err = openWebcam(WebcamOptions{}, h)
		require.ErrorIs(t, err, ErrNoCamera)
		require.ErrorContains(t, err, "close other programs")
		require.True(t, f.opened[0].closed.Load())

		// A slow start is none.
		f.openings = []any{append([]act{{wait: driverTimeout, err: errNoPicture}}, at30(1, 1, 1)...)}
		src, err := openWebcam(WebcamOptions{}, h)
		require.NoError(t, err)
		require.NoError(t, src.Close())

		h.check = func(path string) error { return fmt.Errorf("not allowed at %s", path) }
		tried := f.tried
		_, err = openWebcam(WebcamOptions{Device: "0"}, h)
		require.ErrorIs(t, err, ErrNoCamera)
		require.ErrorContains(t, err, "not allowed at /dev/video0")
		require.Equal(t, tried, f.tried, "a device that fails the check is not opened")

		h.devices = func() []Device { return nil }
		_, err = openWebcam(WebcamOptions{}, h)
		require.ErrorIs(t, err, ErrNoCamera)
		require.ErrorContains(t, err, "file:CLIP")

		for _, o := range []WebcamOptions{{Width: -1, Height: 4}, {Width: 1 << 20, Height: 1}, {FPS: -3}} {
			_, err = openWebcam(o, h)
			require.Error(t, err)
		}
	})
}

func TestPacedPlaysInRealTime(t *testing.T) {
	synctest.Test(t, func(t *testing.T) {
		inner, err := NewRendered(RenderedOptions{Width: 8, Height: 6, FPS: 25, Frames: 50}, func(dst *image.RGBA, _ time.Duration, i int) error {
			for j := range dst.Pix {
				dst.Pix[j] = uint8(i)
			}
			return nil
		})
		require.NoError(t, err)
		start := time.Now()
		src, err := NewPaced(inner)
		require.NoError(t, err)
		require.True(t, src.Info().Live)
		require.Equal(t, 2*time.Second, src.Info().Duration)
		for i := range 25 {
			f, err := src.Next(context.Background())
			require.NoError(t, err)
			require.Equal(t, i, f.Index)
			require.Equal(t, uint8(i), f.Image.Pix[0])
			require.Equal(t, time.Since(start), time.Duration(i)*time.Second/25)
			require.InDelta(t, float64(i)/25, f.Time.Seconds(), 1e-6)
		}
		// One second of sleep skips 25 frames but the last.
		time.Sleep(2 * time.Second)
		f, err := src.Next(context.Background())
		require.NoError(t, err)
		require.Equal(t, 49, f.Index)
		for range 2 {
			_, err = src.Next(context.Background())
			require.Equal(t, io.EOF, err)
		}
		require.NoError(t, src.Close())
		_, err = inner.Next(context.Background())
		require.ErrorIs(t, err, ErrClosed, "the inner source is closed with it")
	})
}

func TestPacedPassesErrorsOn(t *testing.T) {
	synctest.Test(t, func(t *testing.T) {
		broken := errors.New("broken")
		for at := range 3 {
			inner, err := NewRendered(RenderedOptions{}, func(_ *image.RGBA, _ time.Duration, i int) error {
				if i == at {
					return broken
				}
				return nil
			})
			require.NoError(t, err)
			src, err := NewPaced(inner)
			if at == 0 {
				require.Equal(t, broken, err)
				_, err = inner.Next(context.Background())
				require.ErrorIs(t, err, ErrClosed)
				continue
			}
			require.NoError(t, err)
			for i := 0; i < at; i++ {
				_, err = src.Next(context.Background())
				require.NoError(t, err)
			}
			_, err = src.Next(context.Background())
			require.Equal(t, broken, err)
			require.NoError(t, src.Close())
			same, err := NewPaced(src)
			require.NoError(t, err)
			require.Same(t, src, same)
		}
	})
}

func TestPacedFile(t *testing.T) {
	clip := writeClip(t, 64, 48, 10, 100)
	// The clip begins to play as it is opened.
	start := time.Now()
	src, err := OpenCamera("file:"+clip, WebcamOptions{})
	require.NoError(t, err)
	for {
		f, err := src.Next(context.Background())
		if err != nil {
			require.Equal(t, io.EOF, err)
			break
		}
		require.Equal(t, f.Index, painted(f.Image))
		require.InDelta(t, float64(f.Index)/100, f.Time.Seconds(), 0.005)
	}
	require.GreaterOrEqual(t, time.Since(start), 85*time.Millisecond)
	require.NoError(t, src.Close())
	_, err = OpenCamera("file:missing.avi", WebcamOptions{})
	require.ErrorIs(t, err, ErrUnreadable)
}

func TestLiveClock(t *testing.T) {
	const ms = time.Millisecond
	t.Run("takes the jitter out", func(t *testing.T) {
		var c liveClock
		for i := range 1000 {
			stamp := time.Duration(i) * 33 * ms
			jitter := time.Duration(i*7919%23) * ms
			got := c.at(7*time.Hour+stamp, time.Second+stamp+jitter)
			require.InDelta(t, (time.Second + stamp).Seconds(), got.Seconds(), 0.012, "frame %d", i)
		}
	})
	t.Run("follows a clock that drifts", func(t *testing.T) {
		for _, ppm := range []float64{-200, 200} {
			var c liveClock
			last := time.Duration(0)
			for i := range 30 * 1800 {
				arrival := time.Second + time.Duration(i)*time.Second/30
				got := c.at(time.Hour+time.Duration(float64(i)*(1-ppm/1e6)*1e9/30), arrival)
				require.InDelta(t, arrival.Seconds(), got.Seconds(), 0.010)
				require.InDelta(t, 1.0/30, (got-last).Seconds()-boolFloat(i == 0)*(1-1.0/30), 1e-4)
				last = got
			}
		}
	})
	t.Run("starts anew with the device", func(t *testing.T) {
		var c liveClock
		c.at(time.Hour, time.Second)
		require.Equal(t, 10*time.Second, c.at(time.Minute, 10*time.Second))
		require.InDelta(t, 10.040, c.at(time.Minute+40*ms, 10*time.Second+45*ms).Seconds(), 1e-4)
		require.Equal(t, 20*time.Second, c.at(30*time.Hour, 20*time.Second))
	})
	t.Run("strictly increases and stays before the arrival", rapid.MakeCheck(func(t *rapid.T) {
		var c liveClock
		arrival, last := time.Duration(0), time.Duration(-1)
		for range rapid.IntRange(1, 60).Draw(t, "n") {
			arrival += time.Duration(rapid.Int64Range(1000, 1e9).Draw(t, "later"))
			stamp := time.Duration(rapid.Int64Range(-1, 5e9).Draw(t, "stamp"))
			got := c.at(stamp, arrival)
			if got <= last {
				t.Fatalf("%v after %v", got, last)
			}
			if got > max(arrival, last+time.Microsecond) {
				t.Fatalf("%v is later than its arrival %v", got, arrival)
			}
			last = got
		}
	}))
}

func boolFloat(b bool) float64 { return float64(boolInt(b)) }

// The mailbox never runs out of pictures, never hands the reader's picture to
// the writer, and delivers in order, whatever the two do.
func TestMailbox(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		m := newMailbox()
		var writing, lent *image.RGBA
		posted, dropped, fetched, last := 0, 0, 0, -1
		var end error
		t.Repeat(map[string]func(*rapid.T){
			"write": func(t *rapid.T) {
				if writing != nil || end != nil {
					return // cannot be done now
				}
				if writing = m.blank(); writing == lent {
					t.Fatal("the reader's picture")
				}
			},
			"post": func(t *rapid.T) {
				if writing == nil {
					return // cannot be done now
				}
				if m.post(Frame{Image: writing, Index: posted}) {
					dropped++
				}
				posted++
				writing = nil
			},
			"discard": func(t *rapid.T) {
				if writing == nil {
					return // cannot be done now
				}
				m.discard(writing)
				writing = nil
			},
			"fetch": func(t *rapid.T) {
				f, ok, err := m.fetch()
				if !ok {
					if err != end {
						t.Fatalf("%v is not %v", err, end)
					}
					return
				}
				if f.Index <= last || f.Index != posted-1 || f.Image == writing {
					t.Fatalf("frame %d after %d of %d", f.Index, last, posted)
				}
				last, lent = f.Index, f.Image
				fetched++
			},
			"finish": func(t *rapid.T) {
				if writing != nil {
					return // cannot be done now
				}
				end = io.EOF
				m.finish(end)
			},
			"": func(t *rapid.T) {
				waiting := boolInt(m.waiting.Image != nil)
				if posted != dropped+fetched+waiting {
					t.Fatalf("%d posted, %d dropped, %d fetched, %d waiting", posted, dropped, fetched, waiting)
				}
				if n := len(m.free) + waiting + boolInt(m.lent != nil) + boolInt(writing != nil); n != 3 {
					t.Fatalf("%d pictures", n)
				}
			},
		})
	})
}
