package today

import (
	"time"

	"volar/internal/coach"
	"volar/internal/goniometry"
	"volar/internal/hand"
)

// Own is what is recorded of one of the client's own hands. The zero Own is
// none.
type Own struct {
	// Ranges of the joints, for the coach; nil without a recorded hand.
	Ranges map[hand.Joint]coach.Range
	// Goniometry is how readings of this hand are corrected.
	Goniometry goniometry.Options
}

// OwnOf takes what a recorded hand says. Estimator names what reads the angles
// now, as for goniometry.Options.
func OwnOf(b *goniometry.Baseline, estimator string) Own {
	own := Own{Ranges: map[hand.Joint]coach.Range{}, Goniometry: goniometry.Options{Baseline: b, Estimator: estimator}}
	for j := hand.Joint(0); j < hand.NumJoints; j++ {
		if r, ok := b.Own(j); ok {
			own.Ranges[j] = coach.Range{Start: r.StartDeg, End: r.EndDeg}
		}
	}
	return own
}

// Practice puts the exercise as prescribed in the coach's words. Clean is how
// many clean sets in a row came last.
func (it *Item) Practice(own Own, clean int) (coach.PracticeConfig, error) {
	p, err := it.Prescribed.Practice(own.Ranges)
	p.CleanBefore = clean
	return p, err
}

// Rest is the rest between sets.
func (it *Item) Rest() time.Duration {
	return time.Duration(it.Dose.RestSeconds * float64(time.Second))
}
