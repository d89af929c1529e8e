package sound

import (
	"bytes"
	"context"
	"encoding/binary"
	"errors"
	"math"
	"os"
	"strings"
	"testing"

	"github.com/stretchr/testify/require"
	"go.uber.org/goleak"
)

func TestMain(m *testing.M) { goleak.VerifyTestMain(m) }

// desktop is a computer with some programs; what is played comes out of heard.
type desktop struct {
	has   []string
	heard chan string
	fail  error
	// wait, where set, keeps a program running until it is told to stop.
	wait bool
}

func (d *desktop) options() Options {
	return Options{
		Find: func(name string) (string, error) {
			for _, h := range d.has {
				if h == name {
					return "/bin/" + name, nil
				}
			}
			return "", errors.New("not found")
		},
		Run: func(ctx context.Context, path string, args ...string) error {
			d.heard <- path + " " + strings.Join(args, " ")
			if d.wait {
				<-ctx.Done()
				return ctx.Err()
			}
			return d.fail
		},
	}
}

func TestTonesAndSpeechUseWhatIsThere(t *testing.T) {
	d := &desktop{has: []string{"aplay", "espeak-ng"}, heard: make(chan string, 8)}
	p, err := New(d.options())
	require.NoError(t, err)
	p.Tone(HoldMet)
	got := <-d.heard
	require.True(t, strings.HasPrefix(got, "/bin/aplay -q "), got)
	file := got[len("/bin/aplay -q "):]
	b, err := os.ReadFile(file)
	require.NoError(t, err)
	require.Equal(t, HoldMet.wav(), b)
	p.Say("A little slower.", false)
	require.Equal(t, "/bin/espeak-ng A little slower.", <-d.heard)
	require.Equal(t, Status{Tones: true, Speech: true, CanTone: true, CanSpeak: true}, p.Status())
	require.NoError(t, p.Close())
	_, err = os.Stat(file)
	require.ErrorIs(t, err, os.ErrNotExist, "nothing is left behind")
}

func TestBothCanBeOff(t *testing.T) {
	d := &desktop{has: []string{"paplay", "spd-say"}, heard: make(chan string, 8)}
	o := d.options()
	o.NoSpeech = true
	p, err := New(o)
	require.NoError(t, err)
	p.Say("unheard", true)
	p.Set(false, false)
	p.Tone(Counted)
	p.Set(true, true)
	p.Say("heard", false)
	require.Equal(t, "/bin/spd-say -w heard", <-d.heard)
	p.Say("now", true)
	require.Equal(t, "/bin/spd-say -w -P important now", <-d.heard)
	require.NoError(t, p.Close())
	require.Empty(t, d.heard)
}

func TestWithoutProgramsItIsSilentAndSaysSo(t *testing.T) {
	d := &desktop{heard: make(chan string, 8)}
	p, err := New(d.options())
	require.NoError(t, err)
	p.Tone(Warning)
	p.Say("nothing", true)
	require.Equal(t, Status{}, p.Status())
	require.NoError(t, p.Close())
	require.Empty(t, d.heard)
}

func TestUrgentSentenceBreaksOffAnother(t *testing.T) {
	d := &desktop{has: []string{"espeak-ng"}, heard: make(chan string), wait: true}
	p, err := New(d.options())
	require.NoError(t, err)
	p.Say("a long sentence", false)
	require.Contains(t, <-d.heard, "a long sentence")
	p.Say("stop", true)
	require.Contains(t, <-d.heard, "stop", "the long one would never have ended by itself")
	require.NoError(t, p.Status().Trouble, "being told to stop is no trouble")
	require.NoError(t, p.Close())
}

func TestTroubleIsTold(t *testing.T) {
	d := &desktop{has: []string{"aplay"}, heard: make(chan string), fail: errors.New("no sound card")}
	p, err := New(d.options())
	require.NoError(t, err)
	p.Tone(Counted)
	<-d.heard
	// The next one is played after the first one's trouble was noted.
	p.Tone(Counted)
	<-d.heard
	require.EqualError(t, p.Status().Trouble, "no sound card")
	require.NoError(t, p.Close())
}

// The header fields are those of the RIFF WAVE format for linear PCM
// (Microsoft and IBM 1991, from memory).
func TestWavHeader(t *testing.T) {
	for tone := range tones {
		b := tone.wav()
		le := binary.LittleEndian
		require.Equal(t, "RIFF", string(b[:4]))
		require.EqualValues(t, len(b)-8, le.Uint32(b[4:]))
		require.Equal(t, "WAVEfmt ", string(b[8:16]))
		require.EqualValues(t, 16, le.Uint32(b[16:]))
		require.EqualValues(t, []uint16{1, 1}, []uint16{le.Uint16(b[20:]), le.Uint16(b[22:])})
		require.EqualValues(t, 44100, le.Uint32(b[24:]))
		require.EqualValues(t, 88200, le.Uint32(b[28:]))
		require.EqualValues(t, []uint16{2, 16}, []uint16{le.Uint16(b[32:]), le.Uint16(b[34:])})
		require.EqualValues(t, len(b)-44, le.Uint32(b[40:]))
	}
}

// A tone is as high as its melody says: counted by its crossings of zero, each
// pitch crossing twice in a period.
func TestTonesHaveTheirPitch(t *testing.T) {
	s := Counted.samples()
	crossings := 0
	for i := 1; i < len(s); i++ {
		if s[i-1] < 0 && s[i] >= 0 {
			crossings++
		}
	}
	require.InDelta(t, 784*0.12, crossings, 1.5)
	for tone := range tones {
		peak := 0.0
		for _, v := range tone.samples() {
			peak = math.Max(peak, math.Abs(v))
		}
		require.Less(t, peak, 0.6, "not so loud that it frightens")
		require.Greater(t, peak, 0.2)
		require.False(t, bytes.Equal(tone.wav(), Tone((tone+1)%tones).wav()))
	}
}
