package session_test

import (
	"image"
	"image/color"
	"math"
	"math/rand/v2"
	"time"

	"volar/internal/hand"
	"volar/internal/session"
)

// film makes a stream of samples of a hand that opens and closes, with noise
// of half a pixel and half a degree, as a tracker gives.
func film(n int, fps float64, seed uint64) []session.Frame {
	r := rand.New(rand.NewPCG(seed, 1))
	frames := make([]session.Frame, n)
	for i := range frames {
		at := time.Duration(float64(i) / fps * 1e9).Round(time.Microsecond)
		phase := 0.5 - 0.5*math.Cos(2*math.Pi*at.Seconds()/4)
		o := &hand.Observation{Time: at, Track: 1, Side: hand.Right}
		for p := range o.Image {
			o.Image[p] = hand.Point{
				X: 300 + 8*float64(p) + 40*phase*float64(p%5) + 0.5*r.NormFloat64(),
				Y: 400 - 9*float64(p) + 30*phase + 0.5*r.NormFloat64(),
			}
		}
		// What is drawn lies elsewhere than what is measured, which is kept.
		o.Shown = o.Image
		o.Shown[hand.Index.MCP()].X += 20
		s := hand.Sample{Time: at, Found: true, Side: hand.Right, Track: 1, PalmPixels: 101, SpeedPalms: 0.25 * phase}
		s.View = hand.View{YawDeg: 85 + r.NormFloat64(), PitchDeg: 3 + r.NormFloat64(), SEDeg: 4}
		s.Palm = hand.Point{X: 310, Y: 320}
		s.AbductionDeg = [3]float64{5 + r.NormFloat64(), math.NaN(), 7}
		for j := range s.Joints {
			v := 90*phase + r.NormFloat64()/2
			s.Joints[j] = hand.Measurement{FlexionDeg: v, RawDeg: v + r.NormFloat64()/2, SEDeg: 4, Judged: true, ExtensionWhy: hand.WrongView}
			if j%3 == 2 {
				s.Joints[j] = hand.Measurement{FlexionDeg: v, RawDeg: v, SEDeg: 12, Why: hand.Hidden, ExtensionWhy: hand.Hidden}
			}
			if j == 1 {
				s.Joints[j].ExtensionJudged, s.Joints[j].ExtensionWhy = true, hand.NoReason
			}
		}
		frames[i] = session.Frame{Sample: s, Hand: o, Width: 640, Height: 480}
	}
	return frames
}

// lostFrame is a picture without the hand.
func lostFrame(at time.Duration) session.Frame {
	s := hand.Sample{Time: at, Side: hand.Right, Track: 1}
	for j := range s.Joints {
		s.Joints[j] = hand.Measurement{SEDeg: 90, Why: hand.NoHand, ExtensionWhy: hand.NoHand}
	}
	s.AbductionDeg = [3]float64{math.NaN(), math.NaN(), math.NaN()}
	return session.Frame{Sample: s, Width: 640, Height: 480}
}

// picture is a camera's picture whose colour says where it is.
func picture() *image.RGBA {
	img := image.NewRGBA(image.Rect(0, 0, 640, 480))
	for y := range 480 {
		for x := range 640 {
			img.SetRGBA(x, y, color.RGBA{uint8(x * 255 / 640), uint8(y * 255 / 480), 80, 255})
		}
	}
	return img
}

func number(n int) *int { return &n }

// example is a small session with one of everything.
func example() *session.Session {
	started := time.Date(2026, 3, 29, 0, 59, 30, 0, time.UTC)
	s := &session.Session{
		Header: session.Header{
			ID: session.ID{0x01, 0x9d, 1, 2, 3, 4, 0x70, 5, 0x80, 6, 7, 8, 9, 10, 11, 12}, Client: "C-017", Program: "P-017", Version: 3,
			Started: started, Zone: "Europe/Berlin", Pictures: true, Software: "test",
		},
		State:    session.Closed,
		Segments: []session.Segment{{Start: 0, Clock: started}, {Start: 2 * time.Second, Clock: started.Add(time.Hour)}},
		Exercises: []session.Exercise{{
			Number: 1, Item: "a", Movement: "whole-hand-grip", Side: hand.Right, Object: "towel", Grade: "easy",
			Sets: 3, Repetitions: 10, Hold: 5 * time.Second, Start: 0, End: 3 * time.Second, Outcome: session.Stopped,
			StopReason: "it hurts", SetsDone: 1, Counted: 12, Partial: 1, Measured: 0.97, PainBefore: number(2), PainAfter: number(5), Effort: number(0), Sharp: true,
			Ranges:    []session.Range{{Joint: hand.IndexPIP, MinDeg: -4.5, MaxDeg: 96, MinJudged: true}},
			NotJudged: []session.NotJudged{{Joint: hand.LittleDIP, Share: 0.25, Why: hand.Hidden}},
		}},
		Events: []session.Event{
			{At: time.Second, Exercise: 1, Kind: session.FlagRaised, Subject: "index.pip", Repetition: 1, Flag: 1, Numbers: map[string]float64{"start_s": 0.9, "peak_deg": -12, "limit_deg": 0, "se_deg": 3}, Words: map[string]string{"kind": "hyperextension"}},
			{At: 2500 * time.Millisecond, Exercise: 1, Kind: session.FlagEnded, Subject: "index.pip", Repetition: 1, Flag: 1, Numbers: map[string]float64{"start_s": 0.9, "end_s": 2.4, "peak_deg": -14.25, "limit_deg": 0, "se_deg": 3}, Words: map[string]string{"kind": "hyperextension"}},
		},
		Answers:  []session.Answer{{At: 100 * time.Millisecond, Exercise: 1, Kind: session.PainBefore, Value: number(2)}, {At: 3 * time.Second, Exercise: 1, Kind: session.Note, Text: "stiff this morning"}},
		Pictures: []session.Picture{{Number: 1, At: time.Second, Exercise: 1, Flag: 1, Width: 3, Height: 2, Left: 0.25, Top: 0.5, Right: 0.75, Bottom: 1, JPEG: []byte{0xff, 0xd8, 0xff, 0xd9}}},
		Ended:    3 * time.Second,
	}
	for _, f := range film(5, 2, 1) {
		x := session.Sample{Sample: f.Sample}
		for i, p := range f.Hand.Image {
			x.Points[i] = [2]float64{p.X / 640, p.Y / 480}
		}
		s.Samples = append(s.Samples, x)
	}
	s.Samples = append(s.Samples, session.Sample{Sample: lostFrame(3 * time.Second).Sample})
	return s
}
