package goniometry

import (
	"math"
	"time"
)

// # How angles are followed over time
//
// A reading is off for two reasons. One part belongs to the hand and the view:
// it stays while the hand stays, and no averaging takes it away. The other
// belongs to the picture. Only the second is filtered, and the stated error of
// the filtered angle is the first part and what is left of the second.
//
// Two Kalman filters of constant velocity run side by side for each joint, one
// for a joint that rests and one for a joint that moves, and are weighed by
// how well each foresaw the readings (interacting multiple models: Blom and
// Bar-Shalom 1988, IEEE Trans Automat Contr 33:780-783). At rest the angle
// stands still; a flag is not held back.

const (
	// lastingShare is the part of a reading's stated variance that belongs to
	// hand, view and place. On rendered fingers held straight before the camera
	// the mean of a hold is off by 3.8 degrees and pictures scatter about it by
	// 1.9, one hardly following the other, since the region that is read wanders
	// (package landmark); unmoved it was 4.0 and 1.6. That leaves little for a
	// filter to gain, and none for coupling the PIP with the DIP: in motion the
	// angles' errors stay what they were (10.9 degrees for 10.9 at the PIP of a
	// closing hand) while the jumps from picture to picture fall by a third to a
	// half.
	lastingShare = 0.80
	// restPower and movePower are the power of the accelerations, in degrees
	// squared per second cubed, that a resting and a moving joint are taken to
	// have. A finger that closes by 100 degrees in 0.8 s has accelerations of
	// about 500 degrees a second squared over a third of a second: 75 000.
	restPower, movePower = 60.0, 75000.0
	// firstSpeed is the standard deviation of a joint's speed before anything
	// is known of it, in degrees a second.
	firstSpeed = 60.0
	// restLasts and moveLasts are the mean times, in seconds, that a joint
	// rests and moves at a stretch: exercises of a second or two a phase.
	restLasts, moveLasts = 2.0, 0.7
)

// kalman is the state of one constant-velocity filter: an angle, its speed,
// and their covariance. Degrees and seconds.
type kalman struct {
	angle, speed  float64
	paa, pas, pss float64
}

// predict moves the state on by dt seconds under accelerations of the given
// power (white noise, so its covariance is power·[dt³/3 dt²/2; dt²/2 dt]).
func (k *kalman) predict(dt, power float64) {
	k.angle += k.speed * dt
	k.paa += dt*(2*k.pas+dt*k.pss) + power*dt*dt*dt/3
	k.pas += dt*k.pss + power*dt*dt/2
	k.pss += power * dt
}

// update takes a reading with the given variance and returns how likely it
// was.
func (k *kalman) update(z, variance float64) (likelihood float64) {
	s := k.paa + variance
	d := z - k.angle
	a, b := k.paa/s, k.pas/s
	k.angle += a * d
	k.speed += b * d
	// In this order every line still sees what it needs of the old covariance.
	k.pss -= b * k.pas
	k.pas -= a * k.pas
	k.paa -= a * k.paa
	return math.Exp(-d*d/(2*s)) / math.Sqrt(2*math.Pi*s)
}

// follower follows one joint's angle. The zero value has seen nothing.
type follower struct {
	rest, move kalman
	// moving is the probability that the joint moves.
	moving  float64
	at      time.Duration
	started bool
}

// follow takes a reading with its stated standard error and returns the
// filtered angle with its own. A time at or before the last one changes
// nothing.
func (f *follower) follow(deg, se float64, at time.Duration) (angle, seNow float64) {
	variance := (1 - lastingShare) * se * se
	dt := (at - f.at).Seconds()
	switch {
	case !f.started:
		f.rest = kalman{angle: deg, paa: variance, pss: firstSpeed * firstSpeed}
		f.move, f.moving, f.at, f.started = f.rest, 0.5, at, true
	case dt > 0:
		f.at = at
		f.step(deg, variance, dt)
	}
	angle, left := f.joined()
	return angle, math.Sqrt(left + lastingShare*se*se)
}

// step mixes the two filters by how likely each state turned into the other,
// moves them on, and weighs them by the reading.
func (f *follower) step(deg, variance, dt float64) {
	// Probabilities of staying, of a process that changes at random.
	rr, mm := math.Exp(-dt/restLasts), math.Exp(-dt/moveLasts)
	move := f.moving*mm + (1-f.moving)*(1-rr)
	fromMove := f.moving * (1 - mm) / math.Max(1-move, 1e-12) // of those at rest now
	stayMove := f.moving * mm / math.Max(move, 1e-12)         // of those moving now
	rest := mixed(&f.rest, &f.move, fromMove)
	f.move = mixed(&f.rest, &f.move, stayMove)
	f.rest = rest

	f.rest.predict(dt, restPower)
	f.move.predict(dt, movePower)
	lr, lm := f.rest.update(deg, variance), f.move.update(deg, variance)
	// A joint that flew on through a gap still stays within its range.
	f.rest.angle, f.move.angle = clamp(f.rest.angle, minFlexion, maxFlexion), clamp(f.move.angle, minFlexion, maxFlexion)
	// A reading that neither foresaw says nothing about which is right.
	if sum := (1-move)*lr + move*lm; sum > 1e-300 {
		move *= lm / sum
	}
	f.moving = clamp(move, 0.001, 0.999)
}

// mixed is the state that has the mean and covariance of a, and with the given
// probability of b.
func mixed(a, b *kalman, w float64) kalman {
	da, ds := b.angle-a.angle, b.speed-a.speed
	v := w * (1 - w)
	return kalman{
		angle: a.angle + w*da, speed: a.speed + w*ds,
		paa: blend(a.paa, b.paa, w) + v*da*da,
		pas: blend(a.pas, b.pas, w) + v*da*ds,
		pss: blend(a.pss, b.pss, w) + v*ds*ds,
	}
}

// joined is the angle that both filters give together, and its variance.
func (f *follower) joined() (angle, variance float64) {
	k := mixed(&f.rest, &f.move, f.moving)
	return k.angle, k.paa
}
