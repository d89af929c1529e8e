// Package reviewtest makes recorded sessions of known truth for tests: planned
// movements with planned faults are measured with noise of a known size, judged
// by the coach and recorded by the recorder, as they are at home. Nothing in it
// is anybody's.
package reviewtest

import (
	"errors"
	"fmt"
	"math/rand/v2"
	"sync"
	"time"

	"volar/internal/coach"
	"volar/internal/demonstration"
	"volar/internal/exercise"
	"volar/internal/hand"
	"volar/internal/handrender"
	"volar/internal/session"
)

// Exercise is one exercise of a session.
type Exercise struct {
	// Movement of the catalogue, and Item the exercise's ID in the program.
	Movement, Item string
	// Repetitions that are done, and Prescribed; 0 is as many.
	Repetitions, Prescribed int
	Hold                    time.Duration
	Limits                  coach.Limits
	Faults                  []demonstration.Fault
	// OtherLimits and OtherFaults are those of the other hand, in a movement
	// that takes both.
	OtherLimits coach.Limits
	OtherFaults []demonstration.Fault
	// Hidden joints are not judged from HiddenFrom to HiddenTo of the exercise.
	Hidden               []hand.Joint
	HiddenFrom, HiddenTo time.Duration
	// Reach is the share of the way that every joint gets; 0 is all of it.
	Reach float64
	// PainBefore and PainAfter are answered.
	PainBefore, PainAfter int
	// Hurts stops the exercise for pain at its end.
	Hurts bool
}

// Options of a session.
type Options struct {
	Client  string
	Program string
	Version int
	Started time.Time
	Side    hand.Side
	// SEDeg is the noise's standard deviation, which is what the samples state
	// as their error; 0 is 3.
	SEDeg float64
	// FPS is how many pictures a second there are; 0 is 20.
	FPS       float64
	Seed      uint64
	Exercises []Exercise
	// Note is what the client wrote at the end.
	Note string
}

// Make plans, performs, judges and records a session.
func Make(o Options) (*session.Session, error) {
	if o.SEDeg == 0 {
		o.SEDeg = 3
	}
	if o.FPS == 0 {
		o.FPS = 20
	}
	mesh, err := handrender.Default()
	if err != nil {
		return nil, err
	}
	m := &maker{o: o, sink: &sink{}, noise: rand.New(rand.NewPCG(o.Seed, 7)), camera: handrender.NewRenderer(mesh, handrender.Options{})}
	header := session.Header{Client: o.Client, Program: o.Program, Version: o.Version, Started: o.Started.UTC(), Zone: "UTC", Software: "volar test"}
	header.ID = session.NewID(o.Started)
	// An ID of the seed, so that the same plan gives the same session.
	for i := 6; i < len(header.ID); i++ {
		header.ID[i] = byte(m.noise.Uint32())
	}
	header.ID[6], header.ID[8] = header.ID[6]&0x0f|0x70, header.ID[8]&0x3f|0x80
	m.rec, err = session.NewRecorder(session.Options{Header: header, Sink: m.sink, Interval: time.Hour, Clock: func() time.Time { return o.Started.UTC() }})
	if err != nil {
		return nil, err
	}
	for i := range o.Exercises {
		if err := m.perform(&o.Exercises[i]); err != nil {
			return nil, errors.Join(fmt.Errorf("%s: %w", o.Exercises[i].Movement, err), m.rec.Close())
		}
	}
	if o.Note != "" {
		err = m.rec.Answer(session.Answer{At: m.at, Kind: session.Note, Text: o.Note})
	}
	if err := errors.Join(err, m.rec.Close()); err != nil {
		return nil, err
	}
	return m.sink.session()
}

type maker struct {
	o      Options
	rec    *session.Recorder
	sink   *sink
	noise  *rand.Rand
	camera *handrender.Renderer
	at     time.Duration
}

func (m *maker) perform(x *Exercise) error {
	move, err := exercise.Find(x.Movement)
	if err != nil {
		return err
	}
	if x.Prescribed == 0 {
		x.Prescribed = x.Repetitions
	}
	perf, err := demonstration.New(demonstration.Plan{Movement: move, Side: m.o.Side, Repetitions: x.Repetitions, Hold: x.Hold, Faults: x.Faults})
	if err != nil {
		return err
	}
	var second *demonstration.Performance
	if move.Hands == 2 {
		second, err = demonstration.New(demonstration.Plan{Movement: move, Side: m.o.Side.Other(), Repetitions: x.Repetitions, Hold: x.Hold, Faults: x.OtherFaults})
		if err != nil {
			return err
		}
	}
	judge, err := newJudge(move, m.o.Side, x)
	if err != nil {
		return err
	}
	start := m.at
	number, err := m.rec.StartExercise(session.Exercise{
		Item: x.Item, Movement: x.Movement, Side: m.o.Side, Sets: 1, Repetitions: x.Prescribed, Hold: x.Hold, Start: start, PainBefore: &x.PainBefore,
	})
	if err != nil {
		return err
	}
	if err := m.rec.Answer(session.Answer{At: m.at, Kind: session.PainBefore, Value: &x.PainBefore}); err != nil {
		return err
	}
	step := time.Duration(float64(time.Second) / m.o.FPS).Round(time.Microsecond)
	for t := time.Duration(0); t <= perf.Duration; t += step {
		f, other := m.frame(perf, m.o.Side, move, x, t), session.Frame{}
		if second != nil {
			other = m.frame(second, m.o.Side.Other(), move, x, t)
		}
		f.Events = judge.push(f.Sample, other.Sample)
		if err := m.rec.Frame(f); err != nil {
			return err
		}
		if second != nil {
			if err := m.rec.Frame(other); err != nil {
				return err
			}
		}
		m.at = f.Sample.Time
	}
	m.at += step
	sum, otherSum, last := judge.finish(m.at)
	for _, e := range last {
		if err := m.rec.Event(e); err != nil {
			return err
		}
	}
	if x.Hurts {
		if err := m.rec.Answer(session.Answer{At: m.at, Kind: session.Hurt}); err != nil {
			return err
		}
	}
	if err := m.rec.Answer(session.Answer{At: m.at, Kind: session.PainAfter, Value: &x.PainAfter}); err != nil {
		return err
	}
	err = m.rec.FinishExercise(number, m.at, func(e *session.Exercise) {
		e.Outcome, e.SetsDone = session.Done, 1
		if x.Hurts {
			e.Outcome, e.StopReason = session.Stopped, "it hurts"
		}
		e.Counted, e.Partial, e.Unjudged, e.Measured = sum.Counted, sum.Partial, sum.Unjudged, sum.Measured
		e.PainAfter = &x.PainAfter
		if otherSum == nil {
			record(e, &sum, hand.UnknownSide)
			return
		}
		record(e, &sum, sum.Side)
		record(e, otherSum, otherSum.Side)
	})
	m.at += 2 * time.Second
	return err
}

// record keeps the ranges of a hand, which is named where two were judged.
func record(e *session.Exercise, sum *coach.Summary, side hand.Side) {
	for _, r := range sum.Angles {
		e.Ranges = append(e.Ranges, session.Range{Joint: r.Joint, Side: side, MinDeg: r.MinDeg, MaxDeg: r.MaxDeg, MinJudged: r.MinJudged})
	}
	for _, n := range sum.NotJudged {
		e.NotJudged = append(e.NotJudged, session.NotJudged{Joint: n.Joint, Side: side, Extension: n.Extension, Share: n.Share, Why: n.Why})
	}
}

const width, height = 640, 480

// frame is what one picture would give of a hand.
func (m *maker) frame(perf *demonstration.Performance, side hand.Side, move *exercise.Movement, x *Exercise, t time.Duration) session.Frame {
	scene := demonstration.Scene(side, move.View.Best)
	perf.Dress(&scene, t)
	truth := m.camera.Locate(scene, width, height)
	s := hand.Sample{Time: m.at, Found: true, Side: side, Track: 1, View: truth.View, PalmPixels: 120, SpeedPalms: 0.1}
	if t > 0 {
		s.Time += time.Duration(float64(time.Second) / m.o.FPS).Round(time.Microsecond)
	}
	s.View.SEDeg = 4
	reach := x.Reach
	if reach == 0 {
		reach = 1
	}
	hidden := t >= x.HiddenFrom && t < x.HiddenTo
	for j := range s.Joints {
		deg := truth.FlexionDeg[j]
		if deg > 0 {
			deg *= reach
		}
		deg += m.o.SEDeg * m.noise.NormFloat64()
		k := &s.Joints[j]
		*k = hand.Measurement{FlexionDeg: deg, RawDeg: deg, SEDeg: m.o.SEDeg, Judged: true, ExtensionWhy: hand.WrongView}
		// From the thumb's side the index finger alone shows whether it is past
		// straight.
		if hand.Joint(j).Finger() == hand.Index {
			k.ExtensionJudged, k.ExtensionWhy = true, hand.NoReason
		}
		for _, h := range x.Hidden {
			if hidden && h == hand.Joint(j) {
				*k = hand.Measurement{FlexionDeg: deg, RawDeg: deg, SEDeg: 25, Why: hand.Hidden, ExtensionWhy: hand.Hidden}
			}
		}
	}
	for i := range s.Extra {
		s.Extra[i] = hand.Measurement{FlexionDeg: truth.Extra[i], RawDeg: truth.Extra[i], SEDeg: m.o.SEDeg, Judged: true}
	}
	o := &hand.Observation{Time: s.Time, Track: 1, Side: side, Image: truth.Image}
	for _, i := range [...]int{hand.Wrist, hand.Index.MCP(), hand.Middle.MCP(), hand.Ring.MCP(), hand.Little.MCP()} {
		s.Palm = s.Palm.Add(truth.Image[i].Scale(0.2))
	}
	return session.Frame{Sample: s, Hand: o, Width: width, Height: height}
}

// sink keeps the batches of a recording.
type sink struct {
	mu      sync.Mutex
	header  session.Header
	batches [][]byte
	state   session.State
	ended   time.Duration
}

func (k *sink) Begin(h session.Header) error {
	k.header = h
	return nil
}

func (k *sink) Append(_ session.ID, b *session.Batch) error {
	k.mu.Lock()
	defer k.mu.Unlock()
	data, err := session.EncodeBatch(b)
	for len(k.batches) < b.Seq {
		k.batches = append(k.batches, nil)
	}
	k.batches[b.Seq-1] = data
	return err
}

func (k *sink) Finish(_ session.ID, state session.State, ended time.Duration) error {
	k.state, k.ended = state, ended
	return nil
}

// session puts the batches together, as they come out of their encoding.
func (k *sink) session() (*session.Session, error) {
	s := &session.Session{Header: k.header, State: k.state}
	for _, data := range k.batches {
		b, err := session.DecodeBatch(data)
		if err != nil {
			return nil, err
		}
		s.Add(&b)
	}
	s.Ended = max(s.Ended, k.ended)
	return s, nil
}
