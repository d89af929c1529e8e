package session_test

import (
	"bytes"
	"errors"
	"image/jpeg"
	"math"
	"strings"
	"sync"
	"testing"
	"testing/synctest"
	"time"

	"github.com/stretchr/testify/require"
	"go.uber.org/goleak"

	"volar/internal/coach"
	"volar/internal/hand"
	"volar/internal/session"
)

// memory is a Sink that keeps sessions in memory and can be made to fail.
type memory struct {
	mu      sync.Mutex
	header  session.Header
	batches map[int]session.Batch
	state   session.State
	ended   time.Duration
	fail    error
	commits int
}

func (m *memory) Begin(h session.Header) error {
	m.header, m.batches, m.state = h, map[int]session.Batch{}, session.Open
	return m.fail
}

func (m *memory) Append(id session.ID, b *session.Batch) error {
	m.mu.Lock()
	defer m.mu.Unlock()
	if m.fail != nil {
		return m.fail
	}
	data, err := session.EncodeBatch(b)
	if err != nil {
		return err
	}
	kept, err := session.DecodeBatch(data)
	if err != nil {
		return err
	}
	m.batches[b.Seq] = kept
	m.commits++
	return nil
}

func (m *memory) Finish(id session.ID, s session.State, ended time.Duration) error {
	m.state, m.ended = s, ended
	return m.fail
}

func (m *memory) setFail(err error) { m.mu.Lock(); m.fail = err; m.mu.Unlock() }

// session puts the batches together; their numbers must have no gap.
func (m *memory) session(t *testing.T) *session.Session {
	m.mu.Lock()
	defer m.mu.Unlock()
	s := &session.Session{Header: m.header, State: m.state}
	for n := 1; n <= len(m.batches); n++ {
		b, ok := m.batches[n]
		require.True(t, ok, "batch %d is missing of %d", n, len(m.batches))
		s.Add(&b)
	}
	return s
}

func begin(t *testing.T, m *memory, o session.Options) *session.Recorder {
	o.Sink = m
	if o.Header.Client == "" {
		o.Header.Client = "C-017"
	}
	r, err := session.NewRecorder(o)
	require.NoError(t, err)
	return r
}

func TestRecorderKeepsEverything(t *testing.T) {
	defer goleak.VerifyNone(t)
	synctest.Test(t, func(t *testing.T) {
		m := &memory{}
		r := begin(t, m, session.Options{})
		frames := film(90, 30, 3)
		n, err := r.StartExercise(session.Exercise{Movement: "whole-hand-grip", Side: hand.Right, Sets: 1, Repetitions: 5})
		require.NoError(t, err)
		require.Equal(t, 1, n)
		require.NoError(t, r.Answer(session.Answer{Kind: session.PainBefore, Value: number(3)}))
		for i, f := range frames {
			require.NoError(t, r.Frame(f))
			time.Sleep(time.Second / 30)
			synctest.Wait()
			// What is at stake is never more than the interval and a picture.
			if saved := r.Status().Saved; f.Sample.Time-saved > 700*time.Millisecond {
				t.Fatalf("picture %d: %v given, %v saved", i, f.Sample.Time, saved)
			}
		}
		require.NoError(t, r.FinishExercise(n, 3*time.Second, func(e *session.Exercise) {
			e.Outcome, e.Counted, e.Measured = session.Done, 5, math.NaN()
		}))
		require.NoError(t, r.Close())
		require.NoError(t, r.Close(), "twice is once")
		require.Error(t, r.Frame(frames[0]))
		s := m.session(t)
		require.Equal(t, session.Closed, s.State)
		require.Len(t, s.Samples, 90)
		for i := range s.Samples {
			require.Equal(t, frames[i].Sample.Time, s.Samples[i].Time)
			for p, at := range frames[i].Hand.Image {
				require.InDelta(t, at.X, 640*s.Samples[i].Points[p][0], 0.2, "point %d, as it was measured", p)
			}
		}
		require.Len(t, s.Exercises, 1)
		require.Equal(t, session.Done, s.Exercises[0].Outcome)
		require.Equal(t, []int{1}, []int{s.Answers[0].Exercise})
		require.Equal(t, 3*time.Second, m.ended)
		require.LessOrEqual(t, m.commits, 10, "about one commit a second")
	})
}

func TestRecorderOutlastsAFullDisk(t *testing.T) {
	synctest.Test(t, func(t *testing.T) {
		m := &memory{}
		r := begin(t, m, session.Options{})
		full := errors.New("no space left")
		frames := film(3000, 30, 3)
		for i, f := range frames {
			switch i {
			case 300:
				m.setFail(full)
			case 2700:
				require.ErrorIs(t, r.Status().Err, full)
				require.Greater(t, r.Status().Waiting, 2000)
				require.ErrorIs(t, r.Flush(), full)
				m.setFail(nil)
				require.NoError(t, r.Flush())
			}
			require.NoError(t, r.Frame(f))
			time.Sleep(time.Second / 30)
		}
		require.NoError(t, r.Close())
		s := m.session(t)
		require.Len(t, s.Samples, len(frames))
		for i := range s.Samples {
			require.Equal(t, frames[i].Sample.Time, s.Samples[i].Time)
		}
	})
}

func TestRecorderSaysWhenNothingMoreFits(t *testing.T) {
	synctest.Test(t, func(t *testing.T) {
		m := &memory{}
		r := begin(t, m, session.Options{})
		full := errors.New("no space left")
		m.setFail(full)
		f := film(1, 30, 1)[0]
		var err error
		for n := 0; err == nil; n++ {
			require.Less(t, n, 80_000, "it goes on taking samples for ever")
			f.Sample.Time = time.Duration(n) * time.Second / 30
			err = r.Frame(f)
			if n%1000 == 0 {
				time.Sleep(time.Second)
				synctest.Wait()
			}
		}
		require.ErrorIs(t, err, full)
		require.True(t, r.Status().Full)
		require.ErrorIs(t, r.Close(), full)
	})
}

// A session that was interrupted goes on behind what is there.
func TestRecorderResumes(t *testing.T) {
	synctest.Test(t, func(t *testing.T) {
		m := &memory{}
		r := begin(t, m, session.Options{})
		_, err := r.StartExercise(session.Exercise{Movement: "a"})
		require.NoError(t, err)
		require.NoError(t, r.Frame(film(1, 30, 1)[0]))
		require.NoError(t, r.Event(coach.FlagRaised{Flag: coach.Flag{Kind: coach.TooFast}}))
		require.NoError(t, r.Interrupt())
		first := m.session(t)
		require.Equal(t, session.Interrupted, first.State)

		// The clock was set back by a day in between; the times still rise.
		r, err = session.NewRecorder(session.Options{
			Header: first.Header, Sink: m,
			Resume: &session.Resume{NextSeq: len(m.batches) + 1, Ended: 7 * time.Second, Exercises: 1, Flags: 1},
			Clock:  func() time.Time { return first.Started.Add(-24 * time.Hour) },
		})
		require.NoError(t, err)
		n, err := r.StartExercise(session.Exercise{Movement: "b", Start: time.Second})
		require.NoError(t, err)
		require.Equal(t, 2, n)
		f := film(31, 30, 1)[30]
		f.Events = []coach.Event{coach.FlagRaised{Flag: coach.Flag{Kind: coach.TooFast, Start: time.Second}}}
		require.NoError(t, r.Frame(f))
		require.NoError(t, r.Close())
		s := m.session(t)
		require.Equal(t, 8*time.Second, s.Samples[1].Time)
		require.Equal(t, 8*time.Second, s.Exercises[1].Start)
		require.Len(t, s.Segments, 2)
		require.Equal(t, 7*time.Second, s.Segments[1].Start)
		require.Equal(t, 2, s.Events[1].Flag)
		require.Equal(t, 8*time.Second, session.Flags(s.Events)[1].Start)
	})
}

func TestFlagsKeepTheirNumber(t *testing.T) {
	m := &memory{}
	r := begin(t, m, session.Options{})
	_, err := r.StartExercise(session.Exercise{Movement: "a"})
	require.NoError(t, err)
	hyper := coach.Flag{Kind: coach.Hyperextension, Joint: hand.IndexPIP, OnJoint: true, PeakDeg: -8, Repetition: 2}
	fast := coach.Flag{Kind: coach.TooFast, Took: time.Second, Wanted: 2 * time.Second}
	for _, e := range []coach.Event{
		coach.FlagRaised{Flag: hyper}, coach.FlagRaised{Flag: fast}, coach.FlagEnded{Flag: fast},
		coach.FlagEnded{Flag: func() coach.Flag { f := hyper; f.PeakDeg, f.End = -14, 2*time.Second; return f }()},
		coach.FlagRaised{Flag: hyper},
	} {
		require.NoError(t, r.Event(e))
	}
	require.NoError(t, r.Close())
	flags := session.Flags(m.session(t).Events)
	require.Len(t, flags, 3)
	require.Equal(t, session.Flag{Number: 1, Exercise: 1, Repetition: 2, Kind: "hyperextension", Subject: "index.pip", PeakDeg: -14, Ended: true, End: 2 * time.Second}, flags[0])
	require.Equal(t, session.Flag{Number: 2, Exercise: 1, Kind: "too-fast", Took: time.Second, Wanted: 2 * time.Second, Ended: true}, flags[1])
	require.False(t, flags[2].Ended)
}

func TestPictures(t *testing.T) {
	run := func(o session.PictureOptions) []session.Picture {
		m := &memory{}
		r := begin(t, m, session.Options{Pictures: o})
		img := picture()
		for i, f := range film(300, 30, 1) {
			f.Picture = img
			if i == 150 {
				f.Events = []coach.Event{coach.FlagRaised{Flag: coach.Flag{Kind: coach.TooFast}}}
			}
			require.NoError(t, r.Frame(f))
		}
		require.NoError(t, r.Close())
		s := m.session(t)
		require.Equal(t, o.ClientAgrees && o.TherapistAgrees, s.Header.Pictures)
		return s.Pictures
	}
	require.Empty(t, run(session.PictureOptions{}))
	require.Empty(t, run(session.PictureOptions{ClientAgrees: true, Throughout: true}), "one side alone")
	require.Empty(t, run(session.PictureOptions{TherapistAgrees: true}), "the other alone")

	kept := run(session.PictureOptions{ClientAgrees: true, TherapistAgrees: true})
	require.InDelta(t, 3*(2+1.5), len(kept), 1.5, "3 a second for 3.5 seconds")
	for i, p := range kept {
		require.Equal(t, i+1, p.Number)
		require.Equal(t, 1, p.Flag)
		require.GreaterOrEqual(t, p.At, 3*time.Second)
		require.Less(t, p.At, 6500*time.Millisecond)
		img, err := jpeg.Decode(bytes.NewReader(p.JPEG))
		require.NoError(t, err)
		require.Equal(t, p.Width, img.Bounds().Dx())
		require.LessOrEqual(t, max(p.Width, p.Height), 240)
		require.Less(t, len(p.JPEG), 20_000)
		// The hand's points lie inside with room to spare, and no more of the
		// room than that is kept.
		require.Less(t, p.Left, 300.0/640)
		require.Less(t, (p.Right-p.Left)*(p.Bottom-p.Top), 0.5)
		// The colour of the middle says where in the camera's picture it lies.
		red, green, _, _ := img.At(p.Width/2, p.Height/2).RGBA()
		require.InDelta(t, (p.Left+p.Right)/2*255, float64(red>>8), 6)
		require.InDelta(t, (p.Top+p.Bottom)/2*255, float64(green>>8), 6)
	}
	all := run(session.PictureOptions{ClientAgrees: true, TherapistAgrees: true, Throughout: true, PerSecond: 2})
	require.InDelta(t, 20, len(all), 1)
}

func TestRecorderRefuses(t *testing.T) {
	_, err := session.NewRecorder(session.Options{Sink: &memory{}})
	require.Error(t, err, "no client")
	_, err = session.NewRecorder(session.Options{Header: session.Header{Client: "C"}})
	require.Error(t, err, "no sink")
	broken := errors.New("no store")
	_, err = session.NewRecorder(session.Options{Header: session.Header{Client: "C"}, Sink: &memory{fail: broken}})
	require.ErrorIs(t, err, broken)
	r := begin(t, &memory{}, session.Options{})
	require.Error(t, r.Answer(session.Answer{Kind: session.PainAfter, Value: number(11)}))
	require.Error(t, r.FinishExercise(4, 0, func(*session.Exercise) {}))
	require.Error(t, r.Answer(session.Answer{Kind: session.Note, Text: strings.Repeat("x", 20_000)}))
	_, err = r.StartExercise(session.Exercise{Movement: "a", Sets: -1})
	require.Error(t, err)
	n, err := r.StartExercise(session.Exercise{Movement: "a\xff"})
	require.NoError(t, err)
	require.Equal(t, 1, n)
	require.Error(t, r.FinishExercise(n, 0, func(e *session.Exercise) { e.PainAfter = number(12) }))
	require.NoError(t, r.FinishExercise(n, 0, func(e *session.Exercise) { e.PainAfter = number(9) }))
	require.NoError(t, r.Answer(session.Answer{Kind: session.Note, Text: "cut \xe2\x82"}), "bytes that are no text do no harm")
	require.NoError(t, r.Close())
}

// However many pictures there are, every item of a file stays within its size.
func TestManyLargePictures(t *testing.T) {
	s := example()
	s.Pictures = nil
	for i := range 40 {
		s.Pictures = append(s.Pictures, session.Picture{Number: i + 1, At: time.Second, Width: 9, Height: 9, JPEG: bytes.Repeat([]byte{byte(i)}, 400_000)})
	}
	got, err := session.Decode(bytes.NewReader(encode(t, s)))
	require.NoError(t, err)
	require.Equal(t, s.Pictures, got.Pictures)
}
