package main

import (
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
	done   map[hand.Side]*demonstration.Performance
}

// exercises are the movements of the catalogue that move the hand, each with all
// its objects.
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
			e := exercised{m, o, map[hand.Side]*demonstration.Performance{}}
			for _, side := range []hand.Side{hand.Left, hand.Right} {
				if e.done[side], err = demonstration.New(demonstration.Plan{Movement: m, Object: o.ID, Side: side, Hold: time.Second}); err != nil {
					return nil, err
				}
			}
			es = append(es, e)
		}
		ms = append(ms, es)
	}
	return ms, nil
}

// amid puts the hand as it is at some moment of an exercise into a scene,
// mostly as that movement wants it seen: what the program is used on. No two
// hands do it alike: joints stop short and go too far, one finger lags behind
// or, where that shows, gives way backwards.
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
	p.Dress(sc, time.Duration(r.Float64()*float64(p.Duration)))
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
