package goniometry

import (
	"math"
	"math/rand/v2"
	"testing"
	"time"

	"github.com/stretchr/testify/require"
	"gonum.org/v1/gonum/mat"
	"pgregory.net/rapid"
)

func seconds(s float64) time.Duration { return time.Duration(s * float64(time.Second)) }

// reference is the textbook Kalman filter in matrices: x = Fx, P = FPFᵀ + Q,
// K = PHᵀ(HPHᵀ+R)⁻¹, x += K(z-Hx), P = (I-KH)P (Bar-Shalom, Li and Kirubarajan
// 2001, Estimation with Applications to Tracking and Navigation, ch. 5 and 6).
func reference(x *mat.VecDense, p *mat.Dense, dt, power, z, variance float64) float64 {
	f := mat.NewDense(2, 2, []float64{1, dt, 0, 1})
	q := mat.NewDense(2, 2, []float64{dt * dt * dt / 3, dt * dt / 2, dt * dt / 2, dt})
	q.Scale(power, q)
	h := mat.NewDense(1, 2, []float64{1, 0})
	var fx mat.VecDense
	fx.MulVec(f, x)
	var a, fp, s, ph, k, kh, left mat.Dense
	a.Mul(f, p)
	fp.Mul(&a, f.T())
	fp.Add(&fp, q)
	ph.Mul(&fp, h.T())
	s.Mul(h, &ph)
	sv := s.At(0, 0) + variance
	k.Scale(1/sv, &ph)
	d := z - fx.AtVec(0)
	x.AddScaledVec(&fx, d, k.ColView(0))
	kh.Mul(&k, h)
	left.Sub(mat.NewDense(2, 2, []float64{1, 0, 0, 1}), &kh)
	p.Mul(&left, &fp)
	return math.Exp(-d*d/(2*sv)) / math.Sqrt(2*math.Pi*sv)
}

func TestKalmanAgainstTheTextbook(t *testing.T) {
	rnd := rand.New(rand.NewPCG(3, 3))
	for _, power := range []float64{restPower, 4000, movePower} {
		k := kalman{angle: 12, paa: 4, pas: 1, pss: 900}
		x, p := mat.NewVecDense(2, []float64{12, 0}), mat.NewDense(2, 2, []float64{4, 1, 1, 900})
		for range 200 {
			dt, z, v := 0.005+0.2*rnd.Float64(), 90*rnd.Float64(), 0.3+20*rnd.Float64()
			k.predict(dt, power)
			got := k.update(z, v)
			want := reference(x, p, dt, power, z, v)
			require.InEpsilon(t, want+1e-300, got+1e-300, 1e-6)
			for _, c := range [][2]float64{{x.AtVec(0), k.angle}, {x.AtVec(1), k.speed}, {p.At(0, 0), k.paa}, {p.At(0, 1), k.pas}, {p.At(1, 1), k.pss}} {
				require.InDelta(t, c[0], c[1], 1e-6*(1+math.Abs(c[0])))
			}
		}
	}
}

// In the steady state the covariance satisfies its own Riccati equation: one
// more step changes nothing.
func TestKalmanComesToRest(t *testing.T) {
	const dt, variance = 1.0 / 30, 2.0
	k := kalman{paa: 50, pss: 3600}
	for range 2000 {
		k.predict(dt, restPower)
		k.update(0, variance)
	}
	was := k
	k.predict(dt, restPower)
	k.update(0, variance)
	require.InDelta(t, was.paa, k.paa, 1e-9)
	require.InDelta(t, was.pss, k.pss, 1e-9)
	require.Less(t, k.paa, variance/4, "at rest the picture's own noise is halved at least")
}

func TestMixedKeepsMeanAndCovariance(t *testing.T) {
	rapid.Check(t, func(rt *rapid.T) {
		f := func(name string) float64 { return rapid.Float64Range(-50, 50).Draw(rt, name) }
		a := kalman{angle: f("a"), speed: f("va"), paa: 3, pas: 1, pss: 5}
		b := kalman{angle: f("b"), speed: f("vb"), paa: 7, pas: -2, pss: 9}
		w := rapid.Float64Range(0, 1).Draw(rt, "w")
		m := mixed(&a, &b, w)
		mean := (1-w)*a.angle + w*b.angle
		require.InDelta(rt, mean, m.angle, 1e-9)
		// Second moments of the mixture, about its own mean.
		second := (1-w)*(a.paa+a.angle*a.angle) + w*(b.paa+b.angle*b.angle) - mean*mean
		require.InDelta(rt, second, m.paa, 1e-6)
		require.Equal(rt, a, mixed(&a, &b, 0))
	})
}

// readings of a joint that stays, then bends back over a given time, then
// stays, noisy as pictures are.
func bendBack(rnd *rand.Rand, se, from, to, over, fps float64, f *follower) (lag float64, rest []float64) {
	noise := math.Sqrt(1-lastingShare) * se
	truth := func(t float64) float64 { return from + (to-from)*clamp((t-2)/over, 0, 1) }
	// The delay is where what is shown passes the middle of the way.
	passed := math.NaN()
	var last float64
	for k := 0; ; k++ {
		at := float64(k) / fps
		if at > 3.5 {
			break
		}
		v, _ := f.follow(truth(at)+noise*rnd.NormFloat64(), se, seconds(at))
		if at > 1 && at < 1.9 {
			rest = append(rest, v-from)
		}
		mid := (from + to) / 2
		if at > 1.9 && math.IsNaN(passed) && (v-mid)*(to-from) >= 0 {
			// Between two pictures the way is straight.
			share := (mid - last) / (v - last)
			passed = at - (1-share)/fps
		}
		last = v
	}
	return passed - (2 + over/2), rest
}

// A flag must not be held back by more than 80 ms: a joint that bends back by
// 10 to 20 degrees within 0.15 to 0.5 s, at 20 to 30 pictures a second.
func TestLagOfAJointThatBendsBack(t *testing.T) {
	rnd := rand.New(rand.NewPCG(8, 1))
	for _, fps := range []float64{20, 25, 30} {
		for _, to := range []float64{-10, -15, -20} {
			for _, over := range []float64{0.15, 0.3, 0.5} {
				sum, worst := 0.0, 0.0
				const n = 40
				for range n {
					lag, _ := bendBack(rnd, 4.5, 2, to, over, fps, new(follower))
					require.False(t, math.IsNaN(lag), "the way was never seen")
					sum, worst = sum+lag, math.Max(worst, lag)
				}
				require.LessOrEqual(t, sum/n, 0.080, "%v pictures a second, %v degrees over %v s", fps, to, over)
				require.LessOrEqual(t, worst, 0.160, "%v pictures a second, %v degrees over %v s", fps, to, over)
			}
		}
	}
}

func TestFollowerSteadiesARestingJoint(t *testing.T) {
	rnd := rand.New(rand.NewPCG(8, 2))
	const se = 4.5
	sum, n := 0.0, 0.0
	for range 60 {
		_, rest := bendBack(rnd, se, 0, -15, 0.3, 30, new(follower))
		for _, v := range rest {
			sum, n = sum+v*v, n+1
		}
	}
	picture := math.Sqrt(1-lastingShare) * se
	require.Less(t, math.Sqrt(sum/n), 0.65*picture, "of the scatter from picture to picture")
}

// The stated error holds where the readings err as the filter takes them to:
// one offset for the whole stretch and noise from picture to picture.
func TestStatedErrorOfTheFilteredAngle(t *testing.T) {
	rnd := rand.New(rand.NewPCG(8, 3))
	const se = 5.0
	in1, in2, n := 0.0, 0.0, 0.0
	for range 400 {
		off := math.Sqrt(lastingShare) * se * rnd.NormFloat64()
		var f follower
		for k := range 60 {
			at := float64(k) / 25
			// A slow closing of 40 degrees a second between two rests.
			truth := 40 * clamp(at-0.7, 0, 1)
			v, e := f.follow(truth+off+math.Sqrt(1-lastingShare)*se*rnd.NormFloat64(), se, seconds(at))
			if k < 5 {
				continue
			}
			d := math.Abs(v - truth)
			if d <= e {
				in1++
			}
			if d <= 2*e {
				in2++
			}
			n++
		}
	}
	// Of a normal error 68.3 and 95.4 %.
	require.InDelta(t, 0.683, in1/n, 0.04)
	require.InDelta(t, 0.954, in2/n, 0.02)
}

func TestFollowerProperties(t *testing.T) {
	rapid.Check(t, func(rt *rapid.T) {
		var f follower
		at := time.Duration(0)
		for range rapid.IntRange(1, 120).Draw(rt, "n") {
			step := rapid.IntRange(-5, 500).Draw(rt, "ms")
			at += time.Duration(step) * time.Millisecond
			deg := rapid.Float64Range(-45, 130).Draw(rt, "deg")
			se := rapid.Float64Range(1, 90).Draw(rt, "se")
			before := f
			v, e := f.follow(deg, se, at)
			require.False(rt, math.IsNaN(v) || math.IsInf(v, 0))
			require.GreaterOrEqual(rt, e, math.Sqrt(lastingShare)*se-1e-9, "what belongs to hand and view stays")
			require.LessOrEqual(rt, e, 400.0)
			require.True(rt, f.rest.paa >= 0 && f.move.paa >= 0 && f.rest.pss >= 0 && f.move.pss >= 0)
			require.True(rt, f.moving > 0 && f.moving < 1)
			require.True(rt, v >= minFlexion-1e-9 && v <= maxFlexion+1e-9, "%v", v)
			if step <= 0 && before.started {
				require.Equal(rt, before, f, "a time that does not go on changes nothing")
			}
		}
	})
}

func TestFollowerFirstReading(t *testing.T) {
	var f follower
	v, e := f.follow(-7, 4, time.Second)
	require.InDelta(t, -7, v, 1e-12)
	require.InDelta(t, 4, e, 1e-9)
	// A second reading a moment later makes the angle surer, one of no worth
	// hardly moves it.
	g := f
	_, e = g.follow(-7, 4, time.Second+30*time.Millisecond)
	require.Less(t, e, 4.0)
	v, _ = f.follow(60, 90, time.Second+30*time.Millisecond)
	require.Less(t, v, -2.0)
}

func BenchmarkFollow(b *testing.B) {
	var f follower
	at := time.Duration(0)
	for b.Loop() {
		at += frame30
		f.follow(12, 4, at)
	}
}
