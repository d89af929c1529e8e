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
	// look changes a sample as the camera would see it; nil leaves it.
	look func(s *hand.Sample)
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
	var bias, noise [hand.NumJoints]float64
	for j := range bias {
		bias[j] = (2*r.Float64() - 1) * f.bias
		noise[j] = f.sd * r.NormFloat64()
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
	start := m.StartPose()
	keys := []exercise.KeyPose{{Pose: start}, {At: time.Second, Pose: start}}
	at := time.Second
	for i := range n {
		for _, k := range m.KeyPoses(hold, pace)[1:] {
			p := k.Pose
			if amount != nil {
				p = start.Blend(p, amount(i))
			}
			keys = append(keys, exercise.KeyPose{At: at + k.At, Pose: p})
		}
		at = keys[len(keys)-1].At
	}
	return func(t time.Duration) exercise.Pose { return exercise.PoseAt(keys, t) }, at
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
