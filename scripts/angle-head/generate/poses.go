package main

import (
	"volar/internal/handrender"
)

// family is a way in which a pose comes about.
type family int

const (
	fist family = iota
	hook
	tabletop
	open
	count
	cascade
	coupled
	free
	grip
	pinch
	ringShape
	straightHold
	alone
	deep
	single
	// The two here are only in the test.
	staircase
	wave
	moment
)

var familyNames = []string{"fist", "hook", "tabletop", "open", "count", "cascade", "coupled", "free", "grip", "pinch", "ring", "straight hold", "alone", "deep", "single", "staircase", "wave", "moment of a movement"}

type share struct {
	f family
	p float64
}

// shares of the families in training. Two fifths are what the program is used on,
// moments of the movements of the catalogue.
var shares = []share{
	{moment, .40}, {fist, .05}, {hook, .04}, {tabletop, .03}, {open, .10}, {count, .06}, {cascade, .03},
	{coupled, .04}, {free, .02}, {grip, .04}, {pinch, .03}, {ringShape, .01}, {straightHold, .02},
	{alone, .07}, {single, .04}, {deep, .02},
}

// testShares are those of the test mode, which stay as they are, so that one
// head can be held against another.
var testShares = []share{
	{fist, .09}, {hook, .07}, {tabletop, .06}, {open, .18}, {count, .14}, {cascade, .10},
	{coupled, .08}, {free, .03}, {grip, .07}, {pinch, .05}, {ringShape, .02}, {straightHold, .02},
	{alone, .05}, {deep, .04},
}

func (r random) family(mode string) family {
	of := shares
	switch mode {
	case "moments":
		return moment
	case "test":
		if r.chance(.25) {
			return staircase + family(r.IntN(2))
		}
		of = testShares
	}
	x := r.Float64()
	for _, s := range of {
		if x -= s.p; x < 0 {
			return s.f
		}
	}
	return open
}

// hold says what the thumb does.
type hold int

const (
	anyhow hold = iota
	over        // lies over the bent fingers
	beside      // lies along the index finger
	touch       // its tip meets a target, found after the fingers are placed
)

func (r random) thumb(h hold) handrender.ThumbPose {
	switch h {
	case over:
		return handrender.ThumbPose{Palmar: 46 + r.normal(8), Radial: r.normal(6), Roll: 10 + r.normal(8), MP: 35 + r.normal(14), IP: 45 + r.normal(18)}
	case beside:
		return handrender.ThumbPose{Palmar: 6 + r.normal(8), Radial: 4 + r.normal(9), Roll: r.normal(8), MP: 6 + r.normal(8), IP: r.normal(12)}
	}
	return handrender.ThumbPose{Palmar: r.between(0, 62), Radial: r.between(-8, 45), Roll: r.between(-15, 22), MP: r.between(-12, 58), IP: r.between(-28, 80)}
}

// extended is one finger held out. Seen from the side it is often past
// straight at the PIP, so that both are equally known there. From the palm or
// the back a few degrees to either side look the same, and what remains is what
// most hands do: a held-out finger stays a little bent.
func (r random) extended(side bool) handrender.FingerPose {
	f := handrender.FingerPose{MCP: r.between(-25, 25), PIP: r.between(-3, 14), DIP: r.between(-6, 12)}
	switch {
	case !side && r.chance(.75):
		f.MCP, f.PIP, f.DIP = r.between(-20, 32), clamp(8+r.normal(7), -8, 32), clamp(5+r.normal(6), -8, 25)
	case r.chance(.42):
		f.PIP, f.DIP = r.between(-27, 2), r.between(-5, 35)
	case r.chance(.15):
		f.DIP = r.between(-16, 0)
	}
	return f
}

// folded is one finger bent into the palm. Most lie on it, and then the PIP is
// at the end of its range: the norm is 102 to 108 degrees (AAOS 1994, as cited
// by Kosmahl 1999).
func (r random) folded() handrender.FingerPose {
	f := handrender.FingerPose{MCP: r.between(15, 95), PIP: r.between(62, 122)}
	if r.chance(.55) {
		f.MCP, f.PIP = 58+r.normal(18), 104+r.normal(8)
	}
	f.DIP = f.PIP * r.between(.15, .72)
	return f
}

// follow is a DIP angle for a PIP angle: the two bend together.
func (r random) follow(pip float64) float64 {
	if pip < 3 {
		if r.chance(.5) {
			return r.between(-5, 7)
		}
		return r.between(0, 32)
	}
	return pip*r.between(.25, .78) + r.normal(4)
}

// pose returns finger angles for a hand seen from the side or not, what
// the thumb is to do, and for a touch the finger it goes to.
func (r random) pose(f family, side bool) (p handrender.Pose, h hold, to int) {
	h = []hold{anyhow, beside, over}[r.IntN(3)]
	set := func(each func(k int) handrender.FingerPose) {
		for k := range p.Fingers {
			p.Fingers[k] = each(k)
		}
	}
	switch f {
	case fist:
		t := r.between(.35, 1.08)
		set(func(int) handrender.FingerPose {
			return handrender.FingerPose{MCP: 84*t + r.normal(9), PIP: 105*t + r.normal(8), DIP: 60*t + r.normal(11)}
		})
		h = []hold{over, over, beside, anyhow, touch}[r.IntN(5)]
		to = 1 + r.IntN(2)
	case hook:
		t, m := r.between(.3, 1.12), r.between(-20, 30)
		set(func(int) handrender.FingerPose {
			pip := 101*t + r.normal(7)
			return handrender.FingerPose{MCP: m + r.normal(6), PIP: pip, DIP: pip*r.between(.4, .75) + r.normal(4)}
		})
		h = []hold{beside, beside, anyhow}[r.IntN(3)]
	case tabletop:
		m, straightFist := r.between(35, 95), r.chance(.3)
		set(func(int) handrender.FingerPose {
			f := r.extended(side)
			if straightFist {
				f.PIP, f.DIP = r.between(60, 108), r.between(-5, 14)
			}
			f.MCP = m + r.normal(6)
			return f
		})
	case open:
		m, pip, dip := r.between(-28, 25), r.between(-26, 14), r.between(-8, 30)
		all := r.chance(.55) && side
		set(func(int) handrender.FingerPose {
			f := r.extended(side)
			if all {
				f.PIP, f.DIP = pip+r.normal(3), dip+r.normal(4)
			}
			f.MCP = m + r.normal(6)
			return f
		})
		h = []hold{beside, anyhow, anyhow}[r.IntN(3)]
	case count:
		one, tight := r.folded(), r.chance(.6)
		n := 0
		set(func(k int) handrender.FingerPose {
			if r.chance(.5) {
				return r.extended(side)
			}
			n, to = n+1, k
			if tight {
				return handrender.FingerPose{MCP: one.MCP + r.normal(7), PIP: one.PIP + r.normal(6), DIP: one.DIP + r.normal(7)}
			}
			return r.folded()
		})
		if n > 0 && r.chance(.6) {
			h = touch
		}
	case cascade:
		t, slope := r.between(0, 1), r.between(-.12, .2)
		set(func(k int) handrender.FingerPose {
			q := t + slope*(float64(k)-1.5)
			pip := 95*q*r.between(.85, 1.15) + r.normal(5)
			return handrender.FingerPose{MCP: r.between(.25, .9)*82*q + r.normal(6), PIP: pip, DIP: r.follow(pip)}
		})
	case coupled, grip:
		set(func(int) handrender.FingerPose {
			pip := r.between(-25, 118)
			return handrender.FingerPose{MCP: r.between(-30, 95), PIP: pip, DIP: r.follow(pip)}
		})
	case free:
		set(func(int) handrender.FingerPose {
			return handrender.FingerPose{MCP: r.between(-30, 95), PIP: r.between(-25, 118), DIP: r.between(-15, 86)}
		})
	case pinch:
		to = r.IntN(4)
		rest := r.between(0, 1)
		set(func(k int) handrender.FingerPose {
			if k == to {
				pip := r.between(25, 85)
				return handrender.FingerPose{MCP: r.between(25, 70), PIP: pip, DIP: clamp(pip*r.between(.1, .8), -12, 60)}
			}
			if r.chance(.6) {
				return r.extended(side)
			}
			pip := 60*rest + r.normal(10)
			return handrender.FingerPose{MCP: r.between(0, 45), PIP: pip, DIP: r.follow(pip)}
		})
		h = touch
	case ringShape:
		m, pip := r.between(15, 65), r.between(30, 80)
		set(func(int) handrender.FingerPose {
			q := pip + r.normal(6)
			return handrender.FingerPose{MCP: m + r.normal(5), PIP: q, DIP: r.follow(q)}
		})
		h, to = touch, r.IntN(2)
	case straightHold:
		m, pip := r.between(10, 80), r.between(-26, 12)
		set(func(int) handrender.FingerPose {
			return handrender.FingerPose{MCP: m + r.normal(4), PIP: pip + r.normal(4), DIP: r.between(-10, 25)}
		})
		h, to = []hold{touch, touch, anyhow}[r.IntN(3)], r.IntN(2)
	case alone:
		// One finger bends by itself, most often the ring or the little finger,
		// which are the hardest to read; its neighbours stay as they are held, and
		// the coupling of the tendons then takes them along.
		lone := []int{0, 1, 2, 2, 3, 3}[r.IntN(6)]
		rest := r.extended(side)
		if r.chance(.3) {
			rest.MCP, rest.PIP, rest.DIP = r.between(0, 50), r.between(15, 60), r.between(5, 35)
		}
		set(func(k int) handrender.FingerPose {
			if k == lone {
				pip := r.between(25, 116)
				return handrender.FingerPose{MCP: r.between(-10, 88), PIP: pip, DIP: r.follow(pip)}
			}
			return handrender.FingerPose{MCP: rest.MCP + r.normal(8), PIP: rest.PIP + r.normal(4), DIP: rest.DIP + r.normal(4)}
		})
		h, to = []hold{anyhow, beside, touch}[r.IntN(3)], lone
	case deep:
		// Fingers at the end of their range: PIP 102 to 108, DIP 80 to 85 (AAOS
		// 1994), and a little to both sides.
		m, pip, dip := r.between(25, 98), r.between(88, 117), r.between(40, 84)
		set(func(int) handrender.FingerPose {
			return handrender.FingerPose{MCP: m + r.normal(7), PIP: pip + r.normal(6), DIP: dip + r.normal(7)}
		})
		h, to = []hold{over, over, beside, anyhow}[r.IntN(4)], 1+r.IntN(2)
	case single:
		// As alone, but one joint only: an MCP with a straight finger, a PIP over a
		// straight MCP, or a DIP at the end of a straight finger.
		lone, joint := r.IntN(4), r.IntN(3)
		set(func(k int) handrender.FingerPose {
			f := r.extended(side)
			if k != lone {
				return f
			}
			switch joint {
			case 0:
				f.MCP = r.between(15, 92)
			case 1:
				f.PIP = r.between(20, 112)
				f.DIP = r.follow(f.PIP)
			case 2:
				f.DIP = r.between(15, 82)
			}
			return f
		})
		h = []hold{anyhow, beside}[r.IntN(2)]
	case staircase:
		a, b := r.between(-15, 95), r.between(-15, 95)
		set(func(k int) handrender.FingerPose {
			pip := a + (b-a)*float64(k)/3
			return handrender.FingerPose{MCP: .6 * max(pip, 0), PIP: pip, DIP: r.follow(pip)}
		})
	case wave:
		phase := r.between(0, 6)
		set(func(k int) handrender.FingerPose {
			t := .5 + .5*triangle(phase+float64(k)*r.between(.4, .7))
			return handrender.FingerPose{MCP: 70*t*r.between(.3, 1) - 10, PIP: 100*t - 10, DIP: r.follow(100*t - 10)}
		})
	}
	spread := r.between(-4, 12)
	if r.chance(.5) {
		spread = r.normal(3)
	}
	for k := range p.Fingers {
		q := &p.Fingers[k]
		q.MCP, q.PIP, q.DIP = clamp(q.MCP, -32, 98), clamp(q.PIP, -28, 124), clamp(q.DIP, -18, 88)
		q.Abduction = [4]float64{.9, -.1, .7, 1.7}[k]*spread + r.normal(2.5)
	}
	if !r.chance(.08) {
		p = p.Couple()
	}
	p.Thumb = r.thumb(h)
	p.Wrist = handrender.WristPose{Flexion: clamp(r.normal(25), -60, 60), Deviation: r.normal(10)}
	if r.chance(.1) {
		p.Wrist.Flexion = r.between(-70, 70)
	}
	return p, h, to
}

// triangle is a wave between -1 and 1 with period 4.
func triangle(x float64) float64 {
	for x > 2 {
		x -= 4
	}
	if x < 0 {
		return -x - 1
	}
	return x - 1
}
