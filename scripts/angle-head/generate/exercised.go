package main

import (
	"math"
	"time"

	"volar/internal/demonstration"
	"volar/internal/exercise"
	"volar/internal/hand"
	"volar/internal/handrender"
)

// exercised is a movement of the catalogue with one of its objects, if it has
// any, as the left and the right hand do it.
type exercised struct {
	*exercise.Movement
	object exercise.Object
	done   map[hand.Side]done
}

// done is a movement as it is done once, with moments of it that lie evenly along
// the way.
type done struct {
	*demonstration.Performance
	along []time.Duration
}

// moment is one at any time, half of them evenly over the time, most of which a
// hand stays as it is, and half over the way. With the time alone a finger
// halfway is seldom seen, and is then read as further on than it is.
func (d done) moment(r random) time.Duration {
	if r.chance(.5) {
		return time.Duration(r.Float64() * float64(d.Duration))
	}
	return d.along[r.IntN(len(d.along))]
}

// along are moments of a performance, one for every degree that its fastest joint
// turns; at least one.
func along(p *demonstration.Performance) []time.Duration {
	ts := []time.Duration{0}
	last := p.PoseAt(0).Flexion()
	for t := time.Duration(0); t < p.Duration; t += time.Millisecond {
		a := p.PoseAt(t).Flexion()
		for j, deg := range a {
			if math.Abs(deg-last[j]) >= 1 {
				ts, last = append(ts, t), a
				break
			}
		}
	}
	return ts
}

// byItself are the families in which one joint moves by itself. They come twice as
// often as the others, for a joint alone among straight ones is the hardest to
// read: what the others do says nothing of it.
var byItself = map[string]bool{"blocked flexion": true}

// exercises are the movements of the catalogue that are measured, each with all its
// objects.
func exercises() (ms [][]exercised, err error) {
	all, err := exercise.Catalogue()
	if err != nil {
		return nil, err
	}
	for _, m := range all {
		if m.Kind == exercise.Unmeasured {
			continue
		}
		var es []exercised
		objects := m.Objects
		if len(objects) == 0 {
			objects = []exercise.Object{{}}
		}
		for _, o := range objects {
			e := exercised{m, o, map[hand.Side]done{}}
			for _, side := range []hand.Side{hand.Left, hand.Right} {
				p, err := demonstration.New(demonstration.Plan{Movement: m, Object: o.ID, Side: side, Hold: time.Second})
				if err != nil {
					return nil, err
				}
				e.done[side] = done{p, along(p)}
			}
			es = append(es, e)
		}
		ms = append(ms, es)
		if byItself[m.Family] {
			ms = append(ms, es)
		}
	}
	return ms, nil
}

// amid puts the hand as it is at some moment of an exercise into a scene,
// mostly as that movement wants it seen: what the program is used on. No two
// hands do it alike: joints stop short and go too far, one finger lags behind, one
// joint bends that should not, or, where that shows, a finger gives way backwards.
func (s *sampler) amid(r random, ren *handrender.Renderer, sc *handrender.Scene) {
	es := s.exercises[r.IntN(len(s.exercises))]
	m := es[r.IntN(len(es))]
	p := m.done[sc.Side]
	if r.chance(.75) {
		v := m.View.Best
		if r.chance(.3) {
			v = m.View.Second
		}
		sc.View = demonstration.Turned(v, sc.Side)
		sc.View.Yaw += r.normal(14)
		sc.View.Pitch = clamp(3+r.normal(11), -50, 50)
		sc.View.Roll += r.normal(20)
	}
	p.Dress(sc, p.moment(r))
	yaw := sc.View.Yaw
	side := yaw > 55 && yaw < 125 || yaw < -55 && yaw > -125
	mcp, pip, dip := r.normal(5), r.normal(5), r.normal(5)
	lag, late := r.IntN(4), 1.0
	if r.chance(.25) {
		late = r.between(.35, 1)
	}
	lax, all := r.IntN(4), r.chance(.4)
	if !side || r.chance(.55) {
		lax = -1
	} else if r.chance(.5) {
		// The finger before the camera is the one that shows.
		lax = 0
		if yaw < 0 {
			lax = 3
		}
	}
	for k := range sc.Pose.Fingers {
		q := &sc.Pose.Fingers[k]
		if k == lag {
			q.MCP, q.PIP, q.DIP = q.MCP*late, q.PIP*late, q.DIP*late
		}
		straight := q.PIP < 20
		q.MCP += mcp + r.normal(4)
		q.PIP += pip + r.normal(3)
		q.DIP += dip + r.normal(4)
		q.Abduction += r.normal(2)
		if straight && lax >= 0 && (all || k == lax) {
			q.PIP = r.between(-27, 0)
			if r.chance(.6) {
				q.DIP -= .6 * q.PIP
			}
		}
		q.MCP, q.PIP, q.DIP = clamp(q.MCP, -32, 98), clamp(q.PIP, -28, 124), clamp(q.DIP, -18, 88)
	}
	if r.chance(.35) {
		sc.Pose = sc.Pose.Couple()
	}
	if r.chance(.18) {
		// Nothing takes its neighbours along: that is how it is told from a hand
		// that bends as a whole.
		q := &sc.Pose.Fingers[r.IntN(4)]
		switch r.IntN(6) {
		case 0:
			q.DIP = r.between(15, 80)
		case 1, 2:
			q.PIP = r.between(15, 105)
		default:
			q.MCP = r.between(20, 90)
		}
	}
	t := &sc.Pose.Thumb
	t.Palmar += r.normal(6)
	t.Radial += r.normal(6)
	t.MP += r.normal(6)
	t.IP += r.normal(7)
	s.outOfPalm(ren, sc, r)
	// A cloth on the table lies between the hand and a camera that sees the palm.
	if m.object.ID != "" && r.chance(.7) && (m.object.Shape != exercise.Cloth || side) {
		sc.Object = demonstration.Held(m.Movement, m.object)
		sc.Object.Fabric = r.fabric()
	}
}
