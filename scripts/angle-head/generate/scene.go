package main

import (
	"image"
	"math"

	"volar/internal/hand"
	"volar/internal/handrender"
)

// crop is the side of a crop in pixels, what the landmark network is shown.
const crop = 224

// frame is the picture that the crops are cut from.
const frameW, frameH = 640, 480

// sampler draws scenes.
type sampler struct {
	mode      string
	hands     []ownHand
	exercises [][]exercised
}

// subject is one hand: mesh, shape, skin and what it wears.
type subject struct {
	hand  ownHand
	shape handrender.Shape
	skin  handrender.Skin
	side  hand.Side
}

func (s *sampler) subject(r random, n int) subject {
	h := s.hands[r.IntN(len(s.hands))]
	if s.mode != "train" {
		h = s.hands[n%len(s.hands)]
	} else if r.chance(.12) {
		h = s.hands[0]
	}
	v := handrender.Shape{
		Size: r.between(-.12, .12), PalmLength: r.between(-.1, .1), PalmWidth: r.between(-.1, .12), PalmDepth: r.between(-.12, .12),
		JointBulk: clamp(.03+r.normal(.05), -.05, .2), ForearmWidth: r.between(-.12, .12),
	}
	long, thick := r.between(-.1, .1), r.between(-.12, .14)
	for d := range v.FingerLength {
		v.FingerLength[d], v.FingerThickness[d] = long+r.normal(.03), thick+r.normal(.03)
		for k := range v.Phalanx[d] {
			v.Phalanx[d][k] = clamp(r.normal(.035), -.1, .1)
		}
	}
	if r.chance(.12) {
		for range 1 + r.IntN(5) {
			v.Swelling[r.IntN(hand.NumJoints)] = r.between(.05, .35)
		}
	}
	// Dark skin reads worse, so there is more of it to learn from; the test stays
	// as it was.
	tone := r.Float64()
	if s.mode != "train" && r.chance(.35) {
		tone = r.between(0, .55)
	} else if s.mode == "train" && r.chance(.3) {
		tone = r.between(.6, 1)
	}
	usual := func(lo, hi float64) float64 { return max(r.between(lo, hi), .001) }
	k := handrender.Skin{
		Tone: tone, Tint: handrender.RGB{R: r.between(.92, 1.08), G: r.between(.94, 1.06), B: r.between(.9, 1.1)},
		Palm: usual(0, 1.5), Redness: usual(0, 2), Mottle: usual(.2, 2), Creases: usual(.1, 2), Nails: usual(.2, 1.3), Gloss: usual(.1, 2.2), Grain: usual(0, 2),
		Veins: usual(0, 2), Seed: r.Uint32(),
	}
	if r.chance(.2) {
		k.Spots = r.Float64()
	}
	if r.chance(.1) {
		k.NailColour = handrender.RGB{R: r.Float64(), G: r.Float64(), B: r.Float64()}
	}
	return subject{hand: h, shape: v, skin: k, side: hand.Side(1 + r.IntN(2))}
}

func (r random) colour() handrender.RGB {
	if r.chance(.5) {
		g := r.between(.03, .92)
		return handrender.RGB{R: clamp(g+r.normal(.05), .01, 1), G: clamp(g+r.normal(.05), .01, 1), B: clamp(g+r.normal(.05), .01, 1)}
	}
	return handrender.RGB{R: r.between(.02, 1), G: r.between(.02, 1), B: r.between(.02, 1)}
}

func (r random) fabric() handrender.Fabric {
	return handrender.Fabric{Colour: r.colour(), Second: r.colour(), Pattern: handrender.Pattern(r.IntN(5)), Scale: r.geometric(.004, .03), Seed: r.Uint32()}
}

// light: training has its main light within 90 degrees of the camera's side,
// the test beyond, so that no test picture is lit as a training picture was.
func (s *sampler) light(r random) handrender.Light {
	a := r.between(-90, 90)
	if s.mode != "train" {
		a = r.between(90, 140)
		if r.chance(.5) {
			a = -a
		}
	}
	tint := func(s float64) handrender.RGB {
		x := r.normal(s)
		return handrender.RGB{R: clamp(1+x, .4, 1.6), G: clamp(1+r.normal(s*.25), .6, 1.4), B: clamp(1-x, .4, 1.6)}
	}
	soft := r.Float64()
	return handrender.Light{
		Azimuth: a, Elevation: r.between(-25, 80), Key: r.between(.25, 1.4) * (1 - .6*soft), Fill: r.between(.02, 1.3), Ambient: r.between(.4, 1.3) + .9*soft,
		FillAzimuth: r.between(-180, 180), FillElevation: r.between(-40, 60),
		KeyColour: tint(.08), FillColour: tint(.1), AmbientColour: tint(.06), Shadow: r.between(.5, 1), Occlusion: r.between(.5, 1.3),
	}
}

// view: half of the pictures are near side views, where hyperextension shows,
// the little finger's side among them; a third face the palm as photographs do.
// Some cameras look from well above or below.
func (r random) view() handrender.View {
	v := handrender.View{Roll: r.between(-180, 180)}
	switch x := r.Float64(); {
	case x < .38:
		v.Yaw = r.between(52, 128)
	case x < .5:
		v.Yaw = r.between(-128, -52)
	case x < .84:
		v.Yaw = clamp(r.normal(32), -90, 90)
	default:
		v.Yaw = r.between(-180, 180)
	}
	v.Pitch = clamp(r.normal(21), -50, 50)
	if r.chance(.1) {
		v.Pitch = r.between(-62, 62)
	}
	return v
}

// camera: mostly that of a laptop at arm's length, sometimes held close with a
// wide lens, sometimes far with a long one.
func (r random) camera() handrender.Camera {
	c := handrender.Camera{Distance: r.geometric(.2, .8), HFOV: r.between(42, 82), OffsetX: r.between(-.35, .35), OffsetY: r.between(-.3, .3)}
	switch x := r.Float64(); {
	case x < .12:
		c.Distance, c.HFOV = r.geometric(.17, .35), r.between(70, 96)
	case x < .24:
		c.Distance, c.HFOV = r.geometric(.45, 1.3), r.between(25, 45)
	}
	return c
}

// hyperViews and hyperSteps are the grid of the hyper mode.
var (
	hyperViews = [...]float64{75, 90, 105, 45, 0}
	hyperSteps = [...]float64{0, -10, -15, -20}
)

// picture draws one crop into dst and its labels into row.
func (s *sampler) picture(r random, ren *handrender.Renderer, dst *image.RGBA, who subject, number int, row []float32) {
	sc := handrender.Scene{
		Hand: who.hand.Hand, Shape: who.shape, Side: who.side, Skin: who.skin, Light: s.light(r), View: r.view(),
		Camera: r.camera(),
	}
	var f family
	tag := 0
	if s.mode == "hyper" {
		tag = number % (len(hyperViews) * len(hyperSteps))
		s.hyper(r, &sc, tag)
		f = open
	} else {
		f = s.posed(r, ren, &sc)
	}
	dress(r, &sc)

	c := handrender.Crop{Width: frameW, Height: frameH}
	c.Region = s.region(r, ren, &sc)
	t := ren.RenderCrop(dst, sc, c)

	put := func(name string, v ...float64) {
		for i, x := range v {
			row[at(name)+i] = float32(x)
		}
	}
	put("flexion", t.FlexionDeg[:]...)
	put("abduction", t.AbductionDeg[:]...)
	w := &t.World
	for i, f := range hand.Fingers {
		row[at("bend")+i] = float32(angle(w[f.MCP()].Sub(w[hand.Wrist]), w[f.PIP()].Sub(w[f.MCP()])))
	}
	put("normal", t.Normal.X, t.Normal.Y, t.Normal.Z)
	put("axis", t.Axis.X, t.Axis.Y, t.Axis.Z)
	for i, p := range t.Image {
		row[at("points")+2*i] = float32(p.X/crop - .5)
		row[at("points")+2*i+1] = float32(p.Y/crop - .5)
		if t.Visible[i] {
			row[at("visible")+i] = 1
		}
	}
	put("view", t.View.YawDeg, t.View.PitchDeg)
	put("mesh", float64(who.hand.number))
	put("family", float64(f))
	put("object", float64(sc.Object.Kind))
	put("tone", who.skin.Tone)
	put("side", float64(who.side-hand.Left))
	focal := frameW / 2 / math.Tan(sc.Camera.HFOV*math.Pi/360)
	palm := w[hand.Middle.MCP()].Sub(w[hand.Wrist]).Norm()
	put("scale", palm*focal/sc.Camera.Distance*crop/c.Region.Size)
	put("tag", float64(tag))
}

func angle(u, v hand.Point) float64 {
	return math.Acos(clamp(u.Dot(v)/(u.Norm()*v.Norm()), -1, 1)) * 180 / math.Pi
}

// hyper poses an open hand whose PIP joints are all straight or all past
// straight, in one of the views.
func (s *sampler) hyper(r random, sc *handrender.Scene, cell int) {
	sc.View.Yaw = hyperViews[cell/len(hyperSteps)] + r.between(-2, 2)
	sc.View.Pitch = r.between(-12, 12)
	m, d := r.between(-5, 20), r.between(0, 22)
	for k := range sc.Pose.Fingers {
		sc.Pose.Fingers[k] = handrender.FingerPose{MCP: m + r.normal(2), Abduction: 2 + r.normal(1.5), PIP: hyperSteps[cell%len(hyperSteps)], DIP: d + r.normal(3)}
	}
	sc.Pose.Thumb = r.thumb(beside)
}

// posed poses the hand of a scene and gives it an object in some.
func (s *sampler) posed(r random, ren *handrender.Renderer, sc *handrender.Scene) family {
	f := r.family(s.mode)
	if f == moment {
		s.amid(r, ren, sc)
		return f
	}
	yaw := math.Abs(sc.View.Yaw)
	p, h, to := r.pose(f, yaw > 45 && yaw < 135)
	sc.Pose = p
	if f == grip {
		sc.Object = handrender.Object{Kind: handrender.Ball + handrender.ObjectKind(r.IntN(3)), Fabric: r.fabric()}
		switch sc.Object.Kind {
		case handrender.Ball:
			sc.Object.Radius = r.between(.018, .042)
		case handrender.Lump:
			sc.Object.Radius = r.between(.018, .034)
		case handrender.Roll:
			sc.Object.Radius, sc.Object.Length = r.between(.009, .034), r.between(.07, .2)
			sc.Object.Axis = hand.Point{X: 1, Y: r.normal(.2), Z: r.normal(.1)}
		}
		sc.Pose = ren.Grip(*sc)
		// A grip is not always firm.
		loose := 0.0
		if r.chance(.4) {
			loose = r.between(0, .35)
		}
		for k := range sc.Pose.Fingers {
			q := &sc.Pose.Fingers[k]
			l := 1 - loose*r.Float64()
			q.MCP, q.PIP, q.DIP = q.MCP*l, q.PIP*l, q.DIP*l
		}
		return f
	}
	s.outOfPalm(ren, sc, r)
	if h == touch {
		s.reach(r, ren, sc, f, to)
	}
	switch {
	case (f == tabletop || f == open || f == straightHold) && r.chance(.2):
		sc.Object = handrender.Object{Kind: handrender.Sheet, Fabric: r.fabric(), Radius: r.between(.03, .1), Length: r.between(.06, .2)}
	case (f == open || f == cascade) && r.chance(.05):
		sc.Object = handrender.Object{Kind: handrender.Band, Fabric: r.fabric(), Radius: r.between(.002, .005)}
	}
	return f
}

// inHand gives the landmarks in hand axes: x radial, y along the hand, z out
// of the palm.
func inHand(t *handrender.Truth) (p hand.Points) {
	x := t.Axis.Cross(t.Normal)
	if t.Side == hand.Left {
		x = x.Scale(-1)
	}
	for i, q := range t.World {
		q = q.Sub(t.World[hand.Wrist])
		p[i] = hand.Point{X: q.Dot(x), Y: q.Dot(t.Axis), Z: q.Dot(t.Normal)}
	}
	return p
}

// outOfPalm opens fingers whose ends would lie inside the palm.
func (s *sampler) outOfPalm(ren *handrender.Renderer, sc *handrender.Scene, r random) {
	for range 60 {
		t := ren.Locate(*sc, frameW, frameH)
		p := inHand(&t)
		clear := true
		for k, f := range hand.Fingers {
			base := p[f.MCP()].Y
			for _, i := range [2]int{f.Tip(), f.DIP()} {
				if q := p[i]; q.Y < base && q.Z < .014 && q.Y > -.03 {
					a := &sc.Pose.Fingers[k]
					a.DIP = max(a.DIP-8, -5)
					a.PIP -= 4
					a.MCP -= 2
					clear = false
					break
				}
			}
		}
		if clear {
			return
		}
	}
}

// reach brings the tip of the thumb to a finger: to its tip in a pinch or
// ring, onto its middle phalanx where it is folded.
func (s *sampler) reach(r random, ren *handrender.Renderer, sc *handrender.Scene, f family, to int) {
	finger := hand.Fingers[to]
	a := sc.Pose.Fingers[to]
	t := ren.Locate(*sc, frameW, frameH)
	p := inHand(&t)
	gap := r.between(.011, .017)
	// bend of the target bone from the palm; its back and its pad look that way
	total := (a.MCP + a.PIP + a.DIP) * math.Pi / 180
	sin, cos := math.Sincos(total)
	pad := hand.Point{Y: -sin, Z: cos}
	target := p[finger.Tip()].Scale(.75).Add(p[finger.DIP()].Scale(.25)).Add(pad.Scale(gap))
	if f == fist || f == count {
		sin, cos := math.Sincos((a.MCP + a.PIP) * math.Pi / 180)
		back := hand.Point{Y: sin, Z: -cos}
		u := r.between(.1, .9)
		target = p[finger.PIP()].Scale(1 - u).Add(p[finger.DIP()].Scale(u)).Add(back.Scale(gap))
	}
	best, cost := sc.Pose.Thumb, math.Inf(1)
	try := func(th handrender.ThumbPose) {
		th.Palmar, th.Radial, th.Roll = clamp(th.Palmar, 0, 68), clamp(th.Radial, -14, 50), clamp(th.Roll, -20, 30)
		th.MP, th.IP = clamp(th.MP, -12, 60), clamp(th.IP, -25, 80)
		sc.Pose.Thumb = th
		t := ren.Locate(*sc, frameW, frameH)
		q := inHand(&t)
		// A little cost on the bends keeps the thumb's two joints alike.
		d := q[hand.ThumbTip].Sub(target).Norm() + .00003*math.Abs(th.MP-th.IP+10)
		if d < cost {
			best, cost = th, d
		}
	}
	try(best)
	for step := range 140 {
		w := 1.0 / (1 + float64(step)/18)
		b := best
		if step < 30 {
			try(r.thumb(anyhow))
			continue
		}
		try(handrender.ThumbPose{Palmar: b.Palmar + r.normal(16*w), Radial: b.Radial + r.normal(14*w), Roll: b.Roll + r.normal(8*w), MP: b.MP + r.normal(14*w), IP: b.IP + r.normal(16*w)})
	}
	sc.Pose.Thumb = best
}

// dress adds sleeve, rings, splint and tape.
func dress(r random, sc *handrender.Scene) {
	if r.chance(.45) {
		sc.Sleeve = handrender.Sleeve{On: true, Start: r.geometric(.004, .15), Loose: r.between(.003, .016), Fabric: r.fabric()}
	}
	if r.chance(.1) {
		sc.Worn.Rings[1+r.IntN(4)] = true
		if r.chance(.4) {
			sc.Worn.RingColour = handrender.RGB{R: .8, G: .8, B: .82}
		}
	}
	if r.chance(.04) {
		sc.Worn.Splint, sc.Worn.SplintFabric = true, r.fabric()
	}
	if r.chance(.03) {
		sc.Worn.Tape[r.IntN(5)] = true
	}
}

// region is the square that a tracker would show to the landmark network,
// around points that are a little off, and with the tracker's own slack.
func (s *sampler) region(r random, ren *handrender.Renderer, sc *handrender.Scene) hand.Region {
	t := ren.Locate(*sc, frameW, frameH)
	g := around(&t.Image)
	p := t.Image
	for i := range p {
		p[i].X += r.normal(.012 * g.Size)
		p[i].Y += r.normal(.012 * g.Size)
	}
	g = around(&p)
	// In views along the hand the points lie close together; the network's
	// points never do so much.
	focal := frameW / 2 / math.Tan(sc.Camera.HFOV*math.Pi/360)
	g.Size = max(g.Size, 2*focal*.055*(1+sc.Shape.Size)/sc.Camera.Distance)
	g.Size *= r.between(.92, 1.12)
	g.CX += r.normal(.02 * g.Size)
	g.CY += r.normal(.02 * g.Size)
	g.Rotation += r.normal(5 * math.Pi / 180)
	return g
}

// around is the published rule by which the next region is laid around the
// points of this one: MediaPipe, hand_landmark_landmarks_to_roi.pbtxt. The
// program has it in its landmark package, which this command, made to run
// where there is no C compiler, cannot import.
func around(p *hand.Points) hand.Region {
	wrist, index, middle, ring := p[hand.Wrist], p[hand.Index.MCP()], p[hand.Middle.MCP()], p[hand.Ring.MCP()]
	kx, ky := ((index.X+ring.X)/2+middle.X)/2, ((index.Y+ring.Y)/2+middle.Y)/2
	rot := math.Pi/2 - math.Atan2(wrist.Y-ky, kx-wrist.X)
	sin, cos := math.Sincos(rot)
	x0, y0, x1, y1 := math.Inf(1), math.Inf(1), math.Inf(-1), math.Inf(-1)
	for _, i := range [12]int{0, 1, 2, 3, 5, 6, 9, 10, 13, 14, 17, 18} {
		dx, dy := p[i].X-wrist.X, p[i].Y-wrist.Y
		x, y := cos*dx+sin*dy, cos*dy-sin*dx
		x0, x1, y0, y1 = min(x0, x), max(x1, x), min(y0, y), max(y1, y)
	}
	mx, my := (x0+x1)/2, (y0+y1)/2-.1*(y1-y0)
	return hand.Region{CX: wrist.X + cos*mx - sin*my, CY: wrist.Y + sin*mx + cos*my, Size: 2 * max(x1-x0, y1-y0), Rotation: rot}
}
