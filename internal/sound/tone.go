package sound

import (
	"encoding/binary"
	"math"
)

const rate = 44100

// note is a pitch in hertz for a time in seconds; 0 hertz is silence.
type note struct{ hertz, seconds float64 }

// The pitches lie where older ears hear well, below 2 kHz: hearing loss with
// age begins with the high pitches (ISO 7029). The tones differ in rhythm as
// well as in pitch.
var melodies = [tones][]note{
	Counted: {{784, 0.12}},
	HoldMet: {{523, 0.12}, {784, 0.22}},
	Warning: {{392, 0.14}, {0, 0.06}, {392, 0.14}},
}

// samples are the tone's samples, -1 to 1.
func (t Tone) samples() []float64 {
	var out []float64
	for _, n := range melodies[t] {
		count := int(n.seconds * rate)
		for i := range count {
			at := float64(i) / rate
			// A soft start and end, so that nothing clicks.
			const edge = 0.012
			gain := math.Min(1, math.Min(at, n.seconds-at)/edge)
			// A little of the octave makes it carry.
			v := 0.8*math.Sin(2*math.Pi*n.hertz*at) + 0.2*math.Sin(4*math.Pi*n.hertz*at)
			out = append(out, 0.45*gain*v)
		}
	}
	return out
}

// wav is the tone as a file: the RIFF header of linear PCM, then the samples.
func (t Tone) wav() []byte {
	s := t.samples()
	n := uint32(2 * len(s))
	b := []byte("RIFF")
	le := binary.LittleEndian
	b = le.AppendUint32(b, 36+n)
	b = append(b, "WAVEfmt "...)
	b = le.AppendUint32(b, 16)
	b = le.AppendUint16(b, 1) // PCM
	b = le.AppendUint16(b, 1) // mono
	b = le.AppendUint32(b, rate)
	b = le.AppendUint32(b, 2*rate)
	b = le.AppendUint16(b, 2)
	b = le.AppendUint16(b, 16)
	b = append(b, "data"...)
	b = le.AppendUint32(b, n)
	for _, v := range s {
		b = le.AppendUint16(b, uint16(int16(math.Round(v*math.MaxInt16))))
	}
	return b
}
