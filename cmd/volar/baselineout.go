package main

import (
	"context"
	"encoding/json"
	"errors"
	"fmt"
	"io"

	"volar/internal/arom"
	"volar/internal/clinicstore"
	"volar/internal/goniometry"
	"volar/internal/hand"
	"volar/internal/homestore"
	"volar/internal/live"
	"volar/internal/vault"
)

// baselineKeeper keeps a recorded hand in the clinic's store or at home.
type baselineKeeper interface {
	Put(ctx context.Context, b *goniometry.Baseline) error
	// Baseline is the one that is kept of a side; nil where there is none.
	Baseline(ctx context.Context, side hand.Side) (*goniometry.Baseline, error)
	Close() error
}

type clinicKeeper struct {
	*clinicstore.Store
	client string
}

func (k clinicKeeper) Put(ctx context.Context, b *goniometry.Baseline) error {
	return k.PutBaseline(ctx, k.client, b)
}

func (k clinicKeeper) Baseline(ctx context.Context, side hand.Side) (*goniometry.Baseline, error) {
	return k.Store.Baseline(ctx, k.client, side)
}

type homeKeeper struct{ *homestore.Store }

func (k homeKeeper) Put(ctx context.Context, b *goniometry.Baseline) error { return k.TakeOwn(ctx, b) }

func (k homeKeeper) Baseline(_ context.Context, side hand.Side) (*goniometry.Baseline, error) {
	own, err := k.Own(side)
	return own.Goniometry.Baseline, err
}

// keeper opens the store to write: a clinic's has a passphrase.
func (c *baselineCmd) keeper(e *environment) (baselineKeeper, error) {
	dir, err := c.dir()
	if err != nil {
		return nil, err
	}
	clinical, err := vault.HasPassphrase(dir)
	if err != nil {
		return nil, &inputError{err}
	}
	if !clinical {
		return c.home(e, dir)
	}
	p, err := c.passphrase(e)
	if err != nil {
		return nil, err
	}
	s, err := clinicstore.Open(e.ctx, dir, p, clinicstore.Options{})
	if err != nil {
		return nil, &inputError{err}
	}
	if _, err := s.Client(e.ctx, c.Client); err != nil {
		return nil, &inputError{errors.Join(err, s.Close())}
	}
	return clinicKeeper{s, c.Client}, nil
}

func (c *baselineCmd) home(e *environment, dir string) (baselineKeeper, error) {
	estimator, err := live.Estimator()
	if err != nil {
		return nil, err
	}
	s, err := homestore.Open(e.ctx, dir, homestore.Options{Software: version(), Estimator: estimator})
	if err != nil {
		return nil, &inputError{err}
	}
	switch code, err := s.Client(e.ctx); {
	case err != nil:
		return nil, errors.Join(err, s.Close())
	case code != c.Client:
		return nil, &inputError{errors.Join(fmt.Errorf("the store in %s is not that of %s; take that client's program in first", dir, c.Client), s.Close())}
	}
	return homeKeeper{s}, nil
}

// baselineResult is the JSON of the command.
type baselineResult struct {
	Baseline *goniometry.Baseline    `json:"baseline"`
	Norms    string                  `json:"norms,omitempty"`
	Joints   map[string]jointOfTable `json:"joints"`
	Totals   map[string]totalOfTable `json:"total_active_motion"`
	// Doubts are joints whose straight hand cannot be their zero.
	Doubts []string `json:"doubts"`
}

type jointOfTable struct {
	Straight      readingResult  `json:"straight"`
	Fist          readingResult  `json:"fist"`
	OtherStraight *readingResult `json:"other_straight,omitempty"`
	OtherFist     *readingResult `json:"other_fist,omitempty"`
	// NormFromDeg is left out where the set says nothing of extension.
	NormFromDeg *float64 `json:"norm_from_deg,omitempty"`
	NormToDeg   *float64 `json:"norm_to_deg,omitempty"`
}

type readingResult struct {
	Deg        float64 `json:"deg"`
	SEDeg      float64 `json:"se_deg"`
	Judged     bool    `json:"judged"`
	PastJudged bool    `json:"extension_judged"`
	Known      bool    `json:"goniometer,omitempty"`
}

type totalOfTable struct {
	Complete bool     `json:"complete"`
	Deg      float64  `json:"deg"`
	SEDeg    float64  `json:"se_deg"`
	Missing  []string `json:"missing,omitempty"`
	System   string   `json:"system,omitempty"`
	Percent  float64  `json:"percent,omitempty"`
	Grade    string   `json:"grade,omitempty"`
	Against  float64  `json:"against_deg,omitempty"`
	OfOther  bool     `json:"against_other_hand,omitempty"`
}

func toReading(r arom.Reading) readingResult {
	return readingResult{Deg: round(r.Deg, 1), SEDeg: round(r.SEDeg, 1), Judged: r.Judged, PastJudged: r.PastJudged, Known: r.Known}
}

func printBaselineJSON(w io.Writer, b *goniometry.Baseline, t *arom.Table) error {
	r := baselineResult{Baseline: b, Joints: map[string]jointOfTable{}, Totals: map[string]totalOfTable{}, Doubts: t.Doubts()}
	if r.Doubts == nil {
		r.Doubts = []string{}
	}
	if t.Norms != nil {
		r.Norms = t.Norms.ID
	}
	for _, l := range t.Lines {
		j := jointOfTable{Straight: toReading(l.Straight), Fist: toReading(l.Fist)}
		if !t.OtherTaken.IsZero() {
			s, f := toReading(l.OtherStraight), toReading(l.OtherFist)
			j.OtherStraight, j.OtherFist = &s, &f
		}
		if l.HasNorm {
			j.NormToDeg = &l.Norm.Span.To
			if l.Norm.HasFrom {
				j.NormFromDeg = &l.Norm.Span.From
			}
		}
		r.Joints[l.Joint.String()] = j
	}
	for _, d := range t.Digits {
		x := totalOfTable{Complete: d.Total.Complete, Deg: round(d.Total.Deg, 1), SEDeg: round(d.Total.SEDeg, 1)}
		for _, j := range d.Total.Missing {
			x.Missing = append(x.Missing, j.String())
		}
		if d.Result.Complete {
			x.System, x.Percent, x.Grade, x.Against, x.OfOther = d.Result.System, round(d.Result.Percent, 1), string(d.Result.Grade), round(d.Against, 1), d.OfOther
		}
		r.Totals[d.Finger.String()] = x
	}
	return json.NewEncoder(w).Encode(r)
}
