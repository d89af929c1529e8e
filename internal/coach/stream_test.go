package coach_test

import (
	"fmt"
	"math"
	"math/rand/v2"
	"time"

	"github.com/stretchr/testify/require"

	"volar/internal/coach"
	"volar/internal/exercise"
	"volar/internal/hand"
)

// film is a made-up recording of known truth: what the hand does, and how the
// camera sees it.
type film struct {
	pose func(t time.Duration) exercise.Pose
	long time.Duration
	fps  float64 // 0 = 30
	// sd is the scatter of a single reading in degrees, phi its correlation
	// from one reading to the next at 30 a second, bias a constant for each
	// joint drawn from -bias to bias.
	sd, phi, bias float64
	// se is the standard error that comes with a reading; 0 = 4.
	se   float64
	seed uint64
	// jitter is the share of the frame interval by which times scatter.
	jitter float64
	// squeeze is how much of an angle past straight the estimator shows; 0 = 1.
	squeeze float64
	// extra gives the channels beyond the joints; nil takes what follows from
	// the pose.
	extra func(t time.Duration) channels
	// look changes a sample as the camera would see it; nil leaves it.
	look func(s *hand.Sample)
}

// channels are the values of the channels beyond the joints.
type channels [hand.NumChannels - hand.NumJoints]float64

// posed are the channels that follow from a pose alone.
func posed(p exercise.Pose) (c channels) {
	f := p.Fingers
	c[hand.SpreadIndexMiddle-hand.NumJoints] = f[0].Abduction - f[1].Abduction
	c[hand.SpreadMiddleRing-hand.NumJoints] = f[1].Abduction + f[2].Abduction
	c[hand.SpreadRingLittle-hand.NumJoints] = f[3].Abduction - f[2].Abduction
	for ch := hand.PinchIndex; ch <= hand.PinchLittle; ch++ {
		c[ch-hand.NumJoints] = 110
	}
	c[hand.ThumbPalmar-hand.NumJoints], c[hand.ThumbRadial-hand.NumJoints] = p.Thumb.Palmar, p.Thumb.Radial
	c[hand.HandTurn-hand.NumJoints] = 80
	return c
}

// sec makes durations readable in tables.
func sec(s float64) time.Duration { return time.Duration(s * float64(time.Second)) }

// samples takes the film.
func (f film) samples() []hand.Sample {
	if f.fps == 0 {
		f.fps = 30
	}
	if f.se == 0 {
		f.se = 4
	}
	if f.squeeze == 0 {
		f.squeeze = 1
	}
	r := rand.New(rand.NewPCG(f.seed, 1))
	var bias, noise [hand.NumChannels]float64
	for j := range hand.NumJoints {
		bias[j] = (2*r.Float64() - 1) * f.bias
		noise[j] = f.sd * r.NormFloat64()
	}
	e := rand.New(rand.NewPCG(f.seed, 2))
	for ch := hand.NumJoints; ch < hand.NumChannels; ch++ {
		bias[ch] = (2*e.Float64() - 1) * f.bias
		noise[ch] = f.sd * e.NormFloat64()
	}
	// The correlation is that of a time, whatever the frame rate.
	phi := math.Pow(f.phi, 30/f.fps)
	var out []hand.Sample
	step := float64(time.Second) / f.fps
	for i := 0; ; i++ {
		at := time.Duration(step * (float64(i) + f.jitter*(r.Float64()-0.5)))
		if at > f.long {
			return out
		}
		s := hand.Sample{Time: at, Found: true, Side: hand.Right, Track: 1, View: hand.View{YawDeg: 80}, AbductionDeg: [3]float64{math.NaN(), math.NaN(), math.NaN()}}
		flexion := f.pose(at).Flexion()
		for j, deg := range flexion {
			noise[j] = phi*noise[j] + math.Sqrt(1-phi*phi)*f.sd*r.NormFloat64()
			if deg < 0 {
				deg *= f.squeeze
			}
			v := deg + bias[j] + noise[j]
			s.Joints[j] = hand.Measurement{FlexionDeg: v, RawDeg: v, SEDeg: f.se, Judged: true, ExtensionJudged: true}
		}
		var extra channels
		if f.extra != nil {
			extra = f.extra(at)
		} else {
			extra = posed(f.pose(at))
		}
		for i, v := range extra {
			ch := i + hand.NumJoints
			noise[ch] = phi*noise[ch] + math.Sqrt(1-phi*phi)*f.sd*e.NormFloat64()
			v += bias[ch] + noise[ch]
			s.Extra[i] = hand.Measurement{FlexionDeg: v, RawDeg: v, SEDeg: f.se, Judged: true, ExtensionJudged: true}
		}
		if f.look != nil {
			f.look(&s)
		}
		out = append(out, s)
	}
}

// way is a pose reached at a time; between two the hand moves as Ease says.
type way struct {
	at   time.Duration
	pose exercise.Pose
}

func along(ways ...way) func(time.Duration) exercise.Pose {
	keys := make([]exercise.KeyPose, len(ways))
	for i, w := range ways {
		keys[i] = exercise.KeyPose{At: w.at, Pose: w.pose}
	}
	return func(t time.Duration) exercise.Pose {
		if t < keys[0].At {
			return keys[0].Pose
		}
		return exercise.PoseAt(keys, t)
	}
}

// repeat is so many repetitions of a movement after a second at rest, and how
// long they take. amount scales each repetition's way; nil is all of it.
func repeat(m *exercise.Movement, n int, hold time.Duration, pace float64, amount func(i int) float64) (func(time.Duration) exercise.Pose, time.Duration) {
	f := perform(m, n, hold, pace, amount)
	return f.pose, f.long
}

// perform is the same as a film that has the movement's own channels too.
func perform(m *exercise.Movement, n int, hold time.Duration, pace float64, amount func(i int) float64) film {
	keys := m.KeyPoses(hold, pace)
	var all []exercise.KeyPose
	add := func(at time.Duration, k exercise.KeyPose) {
		k.At = at
		all = append(all, k)
	}
	add(0, keys[0])
	add(time.Second, keys[0])
	at := time.Second
	shares := []float64{0, 0}
	for i := range n {
		share := 1.0
		if amount != nil {
			share = amount(i)
		}
		for _, k := range keys[1:] {
			k.Pose = m.StartPose().Blend(k.Pose, share)
			add(at+k.At, k)
			shares = append(shares, share)
		}
		at = all[len(all)-1].At
	}
	return film{pose: func(t time.Duration) exercise.Pose { return exercise.PoseAt(all, t) }, extra: danced(m, all, shares), long: at}
}

// danced gives the channels on the way between key poses: as the movement
// states them for each pose, and else as they follow from it.
func danced(m *exercise.Movement, keys []exercise.KeyPose, shares []float64) func(time.Duration) channels {
	stated := map[string]map[hand.Channel]float64{}
	state := func(k *exercise.Measure) {
		for ch, w := range k.Ways {
			for name, v := range map[string]float64{k.From: w.From, k.To: w.To} {
				if stated[name] == nil {
					stated[name] = map[hand.Channel]float64{}
				}
				stated[name][ch] = v
			}
		}
	}
	state(&m.Measure)
	for i := range m.Steps {
		state(&m.Steps[i].Measure)
	}
	at := make([]channels, len(keys))
	for i, k := range keys {
		at[i] = posed(k.Pose)
		for ch := hand.Channel(hand.NumJoints); ch < hand.NumChannels; ch++ {
			base, known := stated[m.Measure.From][ch]
			if !known {
				continue
			}
			at[i][ch-hand.NumJoints] = base
			if v, ok := stated[k.Name][ch]; ok {
				at[i][ch-hand.NumJoints] = base + (v-base)*shares[i]
			}
		}
	}
	return func(t time.Duration) channels {
		for i := 1; i < len(keys); i++ {
			if a, b := keys[i-1].At, keys[i].At; t < b {
				x := exercise.Ease(float64(t-a) / float64(b-a))
				c := at[i-1]
				for ch := range c {
					c[ch] += (at[i][ch] - c[ch]) * x
				}
				return c
			}
		}
		return at[len(at)-1]
	}
}

func movement(t require.TestingT, id string) *exercise.Movement {
	m, err := exercise.Find(id)
	require.NoError(t, err)
	m, err = m.With("")
	require.NoError(t, err)
	return m
}

// judge runs a coach over samples.
func judge(t require.TestingT, cfg coach.Config, samples []hand.Sample) (coach.Summary, []coach.Event) {
	c, err := coach.New(cfg)
	require.NoError(t, err)
	var events []coach.Event
	var last time.Duration
	for _, s := range samples {
		events = append(events, c.Push(s)...)
		last = s.Time
	}
	s := c.Finish(last)
	return s, append(events, s.Last...)
}

func kinds(flags []coach.Flag) []coach.FlagKind {
	k := []coach.FlagKind{}
	for _, f := range flags {
		k = append(k, f.Kind)
	}
	return k
}

// sprint writes a value out in full; a NaN then equals itself.
func sprint(v any) string { return fmt.Sprintf("%+v", v) }
