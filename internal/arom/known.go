package arom

import (
	"fmt"
	"maps"
	"slices"

	"volar/internal/goniometry"
	"volar/internal/hand"
)

// WithKnown returns a baseline to which the angle was added that a goniometer
// gave for a joint while a pose was held; nil takes it away again. The baseline
// that is given stays as it is. A joint that no view of the pose could judge has
// nothing that the angle could correct, and is refused.
func WithKnown(b *goniometry.Baseline, pose goniometry.BaselinePose, j hand.Joint, deg *float64) (*goniometry.Baseline, error) {
	out := *b
	out.Views = slices.Clone(b.Views)
	found := false
	for i := range out.Views {
		v := &out.Views[i]
		r, ok := v.Joints[j.String()]
		if !ok || v.Pose != pose {
			continue
		}
		found = true
		r.KnownDeg = deg
		v.Joints = maps.Clone(v.Joints)
		v.Joints[j.String()] = r
	}
	if !found {
		return nil, fmt.Errorf("the %s was not judged in the %s; record the hand again so that it is seen", Name(j), poseWords[pose])
	}
	if err := out.Check(); err != nil {
		return nil, err
	}
	return &out, nil
}
