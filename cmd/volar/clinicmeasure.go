package main

import (
	"context"
	"io"

	"volar/internal/arom"
	"volar/internal/camera"
	"volar/internal/clinicstore"
	"volar/internal/goniometry"
	"volar/internal/hand"
	"volar/internal/infer"
	"volar/internal/live"
	"volar/ui/clinic"
	"volar/ui/measure"
	"volar/ui/parts"
)

// What is before the camera asks before it is lost, and rests under the lock.
var (
	_ clinic.Drafting = (*measure.Baseline)(nil)
	_ clinic.Drafting = (*measure.Now)(nil)
	_ clinic.Watching = (*measure.Baseline)(nil)
	_ clinic.Watching = (*measure.Now)(nil)
)

// withMeasure adds the screens before the camera: the recording of a baseline
// and the angles of the moment.
func (c *clinicCmd) withMeasure(o clinic.Options, notes io.Writer) (clinic.Options, error) {
	estimator, err := live.Estimator()
	if err != nil {
		return o, err
	}
	at := func(v clinic.Visit) measure.Options {
		return measure.Options{
			Window: v.Window, Store: clientHands{v.Store, v.Client.Code}, Client: v.Client.Code, Side: v.Client.Side(), ReadOnly: v.Store.ReadOnly(),
			Engine:  func() (infer.Engine, error) { return c.engineFlags.open(notes) },
			Threads: c.Threads,
			// Trying again is the screen's, which shows what is wrong meanwhile.
			Camera:    func() (camera.Source, error) { return camera.OpenCamera(c.Camera, camera.WebcamOptions{Retries: -1}) },
			Estimator: estimator, Now: v.Now, Do: v.Do, Back: v.Back, Stir: v.Stir, Words: v.Words,
		}
	}
	o.Baseline = func(v clinic.Visit) parts.Screen { return measure.NewBaseline(at(v)) }
	o.Measure = func(v clinic.Visit) parts.Screen { return measure.NewNow(at(v)) }
	return o, nil
}

// clientHands is what the clinic's store keeps of one client's hands.
type clientHands struct {
	store *clinicstore.Store
	code  string
}

func (h clientHands) Baseline(ctx context.Context, side hand.Side) (*goniometry.Baseline, error) {
	return h.store.Baseline(ctx, h.code, side)
}

func (h clientHands) PutBaseline(ctx context.Context, b *goniometry.Baseline) error {
	return h.store.PutBaseline(ctx, h.code, b)
}

func (h clientHands) PutMeasurement(ctx context.Context, m *arom.Measurement) error {
	return h.store.PutMeasurement(ctx, h.code, m)
}

func (h clientHands) Measurements(ctx context.Context) ([]*arom.Measurement, error) {
	return h.store.Measurements(ctx, h.code)
}
