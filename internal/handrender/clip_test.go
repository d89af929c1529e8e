package handrender

import (
	"bytes"
	"context"
	"encoding/binary"
	"image"
	"image/jpeg"
	"math"
	"os"
	"path/filepath"
	"testing"
	"time"

	"github.com/stretchr/testify/require"
	"go.uber.org/goleak"
	"pgregory.net/rapid"

	"volar/internal/hand"
)

func TestMain(m *testing.M) { goleak.VerifyTestMain(m) }

// TestMinimumJerk checks the curve of Flash and Hogan (1985): halfway at half
// time, and a peak speed of 1.875 times the mean.
func TestMinimumJerk(t *testing.T) {
	require.InDelta(t, 0.5, MinimumJerk.at(0.5), 1e-12)
	require.InDelta(t, 1.875, (MinimumJerk.at(0.5001)-MinimumJerk.at(0.4999))/0.0002, 1e-4)
	for _, e := range []Ease{MinimumJerk, Smooth, Linear, Step} {
		require.Equal(t, 0.0, e.at(0))
		require.Equal(t, 1.0, e.at(1))
		for x := 0.0; x < 1; x += 0.01 {
			require.LessOrEqual(t, e.at(x), e.at(x+0.01)+1e-12)
		}
	}
}

func TestMotion(t *testing.T) {
	m := Motion{Keys: []Key{{0, Straight(), 0}, {time.Second, FullFist(), Linear}, {2 * time.Second, FullFist(), Linear}}}
	require.NoError(t, m.Check())
	require.Equal(t, Straight(), m.At(-time.Second))
	require.Equal(t, Straight(), m.At(0))
	require.InDelta(t, FullFist().Fingers[0].PIP/2, m.At(time.Second / 2).Fingers[0].PIP, 1e-9)
	require.Equal(t, FullFist(), m.At(1500*time.Millisecond))
	require.Equal(t, FullFist(), m.At(time.Hour))
	require.Error(t, (&Motion{}).Check())
	m.Keys[2].At = time.Second
	require.ErrorContains(t, m.Check(), "key 2")
}

// TestTremor measures the shaking and that it is the same each time.
func TestTremor(t *testing.T) {
	m := Motion{Keys: []Key{{Pose: Straight()}}, Tremor: 1.5, Seed: 4}
	var ss, n float64
	for x := time.Duration(0); x < 20*time.Second; x += 5 * time.Millisecond {
		d := m.At(x).Fingers[1].PIP - Straight().Fingers[1].PIP
		ss, n = ss+d*d, n+1
	}
	require.InDelta(t, 1.5, math.Sqrt(ss/n), 0.08)
	require.Equal(t, m.At(777*time.Millisecond), m.At(777*time.Millisecond))
}

// TestRepetitionEvents checks events against the motion itself: during a hold
// the hand stands at the goal, before and after a repetition at rest.
func TestRepetitionEvents(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		ms := func(name string, lo, hi int) time.Duration {
			return time.Duration(rapid.IntRange(lo, hi).Draw(t, name)) * time.Millisecond
		}
		r := Repetitions{From: Straight(), To: FullFist(), Count: rapid.IntRange(1, 6).Draw(t, "count"),
			Move: ms("move", 200, 2000), Hold: ms("hold", 100, 6000), Rest: ms("rest", 100, 1000)}
		short := rapid.IntRange(-1, r.Count-1).Draw(t, "short")
		for i := range r.Count {
			r.Reach = append(r.Reach, 1)
			if i == short {
				r.Reach[i] = 0.6
			}
		}
		m, events := r.Motion()
		require.NoError(t, m.Check())
		whole, partial := 0, 0
		for _, e := range events {
			require.Less(t, e.Start, e.End)
			require.LessOrEqual(t, e.End, m.Duration())
			switch e.Kind {
			case "hold":
				require.Equal(t, r.Hold, e.End-e.Start)
				for _, at := range []time.Duration{e.Start, (e.Start + e.End) / 2, e.End} {
					require.InDelta(t, r.To.Fingers[2].PIP, m.At(at).Fingers[2].PIP, 1e-9)
				}
				require.Less(t, m.At(e.Start - r.Move/4).Fingers[2].PIP, r.To.Fingers[2].PIP)
			case "repetition", "partial":
				if e.Kind == "partial" {
					partial++
				} else {
					whole++
				}
				require.Equal(t, 2*r.Move+r.Hold, e.End-e.Start)
				require.InDelta(t, 0, m.At(e.Start).Fingers[2].PIP, 1e-9)
				require.InDelta(t, 0, m.At(e.End).Fingers[2].PIP, 1e-9)
			}
		}
		require.Equal(t, r.Count, whole+partial)
		require.Equal(t, short >= 0, partial == 1)
		require.Equal(t, time.Duration(r.Count)*(2*r.Move+r.Hold+r.Rest)+r.Rest, m.Duration())
	})
}

func smallClip() ClipSpec {
	m, ev := Repetitions{From: Straight(), To: Hook(), Count: 1, Move: 300 * time.Millisecond, Hold: 200 * time.Millisecond, Rest: 100 * time.Millisecond}.Motion()
	return ClipSpec{Motion: m, Events: ev, Scene: Scene{View: View{Yaw: 60}, Side: hand.Left, Effects: Effects{Noise: 2}},
		Width: 96, Height: 64, FPS: 20, Options: Options{Quality: Draft}}
}

// riff is one chunk of a RIFF file.
type riff struct {
	id   string
	at   int // of the data
	data []byte
}

func riffChunks(t *testing.T, b []byte, base int) (out []riff) {
	for at := 0; at+8 <= len(b); {
		n := int(binary.LittleEndian.Uint32(b[at+4:]))
		require.LessOrEqual(t, at+8+n, len(b), "chunk %q", b[at:at+4])
		out = append(out, riff{string(b[at : at+4]), base + at + 8, b[at+8 : at+8+n]})
		at += 8 + n + n&1
	}
	return out
}

// TestWriteClip reads the AVI file apart again, down to the pictures, and
// holds it against frames drawn in memory and the truth file.
func TestWriteClip(t *testing.T) {
	dir := t.TempDir()
	avi, truthPath := filepath.Join(dir, "clip.avi"), filepath.Join(dir, "clip.json")
	spec := smallClip()
	require.NoError(t, WriteClip(context.Background(), spec, avi, truthPath))
	b, err := os.ReadFile(avi)
	require.NoError(t, err)
	f, err := os.Open(truthPath)
	require.NoError(t, err)
	truth, err := ReadTruth(f)
	f.Close()
	require.NoError(t, err)
	const n = 21 // 1.0 s at 20 frames a second, both ends
	require.Len(t, truth.Frames, n)
	require.Equal(t, "left", truth.Side)
	require.Equal(t, []EventTruth{{"hold", 0.4, 0.6, ""}, {"repetition", 0.1, 0.9, ""}}, truth.Events)

	top := riffChunks(t, b, 0)
	require.Len(t, top, 1)
	require.Equal(t, "RIFF", top[0].id)
	require.Equal(t, "AVI ", string(top[0].data[:4]))
	parts := riffChunks(t, top[0].data[4:], 12)
	require.Len(t, parts, 3)
	le := binary.LittleEndian
	avih := riffChunks(t, parts[0].data[4:], 0)[0]
	require.Equal(t, "avih", avih.id)
	require.EqualValues(t, 50000, le.Uint32(avih.data), "microseconds a frame")
	require.EqualValues(t, n, le.Uint32(avih.data[16:]))
	require.EqualValues(t, 96, le.Uint32(avih.data[32:]))
	require.EqualValues(t, 64, le.Uint32(avih.data[36:]))
	frames := riffChunks(t, parts[1].data[4:], parts[1].at+4)
	require.Len(t, frames, n)
	require.Equal(t, "idx1", parts[2].id)
	require.Len(t, parts[2].data, 16*n)

	h := defaultHand(t)
	seq, err := NewRenderer(h, spec.Options).Frames(spec)
	require.NoError(t, err)
	i := 0
	for fr := range seq {
		e := parts[2].data[16*i:]
		require.Equal(t, "00dc", string(e[:4]))
		require.Equal(t, frames[i].at-8, int(le.Uint32(e[8:]))+parts[1].at, "index offset is from the word movi")
		require.EqualValues(t, len(frames[i].data), le.Uint32(e[12:]))
		img, err := jpeg.Decode(bytes.NewReader(frames[i].data))
		require.NoError(t, err)
		sum := 0.0
		for y := range 64 {
			for x := range 96 {
				r, g, bl, _ := img.At(x, y).RGBA()
				c := fr.Image.RGBAAt(x, y)
				sum += math.Abs(float64(r>>8)-float64(c.R)) + math.Abs(float64(g>>8)-float64(c.G)) + math.Abs(float64(bl>>8)-float64(c.B))
			}
		}
		require.Less(t, sum/(96*64*3), 5.0, "frame %d", i)
		require.Equal(t, frameTruth(fr), truth.Frames[i])
		require.InDelta(t, float64(i)/20, truth.Frames[i].Time, 1e-6)
		require.InDelta(t, spec.Motion.At(fr.Time).Fingers[0].PIP, truth.Frames[i].Flexion[hand.IndexPIP], 1e-3)
		i++
	}
	require.Equal(t, n, i)
}

// TestMotionBlur compares a moving finger with and without the shutter open.
func TestMotionBlur(t *testing.T) {
	spec := smallClip()
	spec.Scene.Effects.Noise = 0
	at := func(blur float64, index int) (*image.RGBA, Truth) {
		spec.MotionBlur = blur
		seq, err := NewRenderer(defaultHand(t), spec.Options).Frames(spec)
		require.NoError(t, err)
		for f := range seq {
			if f.Index == index {
				return f.Image, f.Truth
			}
		}
		return nil, Truth{}
	}
	for _, c := range []struct {
		index int
		moves bool
	}{{0, false}, {5, true}, {10, false}} {
		sharp, a := at(0, c.index)
		soft, b := at(1, c.index)
		require.Equal(t, c.moves, !bytes.Equal(sharp.Pix, soft.Pix), "frame %d", c.index)
		require.Equal(t, a.Image, b.Image)
		require.Equal(t, a.FlexionDeg, b.FlexionDeg)
	}
}

func TestClipRefuses(t *testing.T) {
	dir := t.TempDir()
	path := filepath.Join(dir, "x.avi")
	for name, edit := range map[string]func(*ClipSpec){
		"no keys": func(c *ClipSpec) { c.Motion.Keys = nil },
		"16":      func(c *ClipSpec) { c.Width = 3 },
		"frames":  func(c *ClipSpec) { c.FPS = -4 },
		"hour":    func(c *ClipSpec) { c.Duration = 2 * time.Hour },
		"blur":    func(c *ClipSpec) { c.MotionBlur = 1.5 },
		"samples": func(c *ClipSpec) { c.BlurSamples = -1 },
		"quality": func(c *ClipSpec) { c.JPEGQuality = 101 },
	} {
		c := smallClip()
		edit(&c)
		require.ErrorContains(t, WriteClip(context.Background(), c, path, ""), name)
	}
	ctx, cancel := context.WithCancel(context.Background())
	cancel()
	require.ErrorIs(t, WriteClip(ctx, smallClip(), path, ""), context.Canceled)
	require.Error(t, WriteClip(context.Background(), smallClip(), filepath.Join(dir, "none", "x.avi"), ""))
	left, err := os.ReadDir(dir)
	require.NoError(t, err)
	require.Empty(t, left, "a clip that failed leaves nothing behind")
	_, err = ReadTruth(bytes.NewReader([]byte("{")))
	require.Error(t, err)
}
