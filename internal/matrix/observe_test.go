package matrix

import (
	"bytes"
	"errors"
	"image"
	"os"
	"path/filepath"
	"testing"
	"time"

	"github.com/stretchr/testify/require"

	"volar/internal/exercise"
	"volar/internal/hand"
	"volar/internal/infer"
)

func good(t *testing.T, movement string) *Case {
	t.Helper()
	m, err := exercise.Find(movement)
	require.NoError(t, err)
	return &Cases(m)[0]
}

// Observations come back from the disk as they were, to seven digits, and what
// is given to be kept is not changed by it.
func TestPicturesAreKept(t *testing.T) {
	o := hand.Observation{Time: time.Second, Track: 3, Side: hand.Left, SeenSide: hand.Right, Presence: 0.75, Angles: &hand.ModelAngles{}}
	o.Image[4], o.World[7] = hand.Point{X: 123.456789012345, Y: 1. / 3}, hand.Point{Z: -0.0123456789}
	o.Angles.FlexionDeg[hand.IndexPIP] = 47.123456789
	given := []Picture{{At: 0}, {At: 66 * time.Millisecond, Hands: []hand.Observation{o}}}
	path := filepath.Join(t.TempDir(), "a.observed")
	require.NoError(t, writePictures(path, given))
	require.Equal(t, 47.123456789, given[1].Hands[0].Angles.FlexionDeg[hand.IndexPIP])
	got, err := readPictures(path)
	require.NoError(t, err)
	require.Len(t, got, 2)
	require.Empty(t, got[0].Hands)
	back := got[1].Hands[0]
	require.InDelta(t, o.Image[4].X, back.Image[4].X, 1e-4)
	require.InDelta(t, 47.123456789, back.Angles.FlexionDeg[hand.IndexPIP], 1e-5)
	shorten(&o)
	require.Equal(t, o, back)

	require.NoError(t, os.WriteFile(path, []byte("not what was kept"), 0o644))
	_, err = readPictures(path)
	require.Error(t, err)
}

// A clip is known by what it shows: the words and thresholds of a movement
// change nothing, its poses do.
func TestKeyIsOfThePictures(t *testing.T) {
	key := func(edit func(c *Case)) string {
		c := good(t, "full-fist")
		edit(c)
		k, err := c.key("stamp")
		require.NoError(t, err)
		return k
	}
	same := key(func(*Case) {})
	require.Equal(t, same, key(func(c *Case) { c.Movement.Purpose, c.Movement.Measure.Enter = "Another.", 0.7 }))
	require.NotEqual(t, same, key(func(c *Case) { c.Side = hand.Left }))
	require.NotEqual(t, same, key(func(c *Case) { c.View.YawDeg += 5 }))
	require.NotEqual(t, same, key(func(c *Case) { c.HandName = "another" }))
	require.NotEqual(t, same, key(func(c *Case) {
		p := c.Movement.Poses[c.Movement.Measure.To]
		p.Fingers[2].PIP -= 10
		c.Movement.Poses[c.Movement.Measure.To] = p
	}))
	other, err := good(t, "full-fist").key("another stamp")
	require.NoError(t, err)
	require.NotEqual(t, same, other)
}

// What is kept is taken instead of looking again; what an earlier model saw
// only if that is asked for.
func TestObservationsAreTakenFromTheFolder(t *testing.T) {
	c := good(t, "full-fist")
	r := Runner{Dir: t.TempDir(), Engine: noEngine{}, Stamps: Stamps{"film", "now"}}
	clip, err := c.key("film")
	require.NoError(t, err)
	given := []Picture{{At: 7}}
	require.NoError(t, writePictures(filepath.Join(r.Dir, clip+"-before.observed"), given))
	_, err = r.observations(t.Context(), c)
	require.ErrorIs(t, err, errNoEngine, "it has to look again")
	r.Stale = true
	got, err := r.observations(t.Context(), c)
	require.NoError(t, err)
	require.Equal(t, given, got)
	r.Stale = false
	require.NoError(t, writePictures(filepath.Join(r.Dir, clip+"-now.observed"), given))
	got, err = r.observations(t.Context(), c)
	require.NoError(t, err)
	require.Equal(t, given, got)
}

var errNoEngine = errors.New("no engine")

type noEngine struct{ infer.Engine }

func (noEngine) Load([]byte, infer.Options) (infer.Graph, error) { return nil, errNoEngine }

// A picture that has been through a camera differs by little, and moves no
// edge.
func TestThroughJPEG(t *testing.T) {
	img := image.NewRGBA(image.Rect(0, 0, 64, 48))
	for i := range img.Pix {
		img.Pix[i] = uint8(100 + i/4%64)
		if i%4 == 3 {
			img.Pix[i] = 255
		}
	}
	addNoise(img, img, 1)
	before := bytes.Clone(img.Pix)
	require.NoError(t, throughJPEG(img))
	require.False(t, bytes.Equal(before, img.Pix))
	for i := range before {
		require.InDelta(t, before[i], img.Pix[i], 12)
	}
}
