package goniometry

import (
	"encoding/json"
	"errors"
	"fmt"
	"math"
	"slices"
	"strings"
	"time"

	"volar/internal/hand"
	"volar/internal/strictjson"
)

// BaselineVersion is the version of the Baseline that this package writes.
const BaselineVersion = 1

// maxBaselineBytes bounds what DecodeBaseline reads: a full baseline has about
// 12 kB.
const maxBaselineBytes = 256 << 10

// BaselinePose is what a client was asked to hold.
type BaselinePose string

// The poses. Straight is the hand as straight as it goes, Fist the full fist,
// Measured any other in which the therapist measured a joint, such as a lax
// knuckle held past straight.
const (
	StraightHand BaselinePose = "straight"
	FullFist     BaselinePose = "fist"
	MeasuredPose BaselinePose = "measured"
)

// Baseline is a client's own hand as it was recorded: what was read, in which
// view, and what a goniometer said where one was used. What it is worth for a
// later reading is worked out anew each time, so a recorded baseline stays true
// to what was seen. It encodes to JSON, and to YAML by the same names.
type Baseline struct {
	Version int `json:"version" yaml:"version,required"`
	// Side is "left" or "right".
	Side string `json:"side" yaml:"side,required"`
	// CapturedAt is in UTC.
	CapturedAt time.Time `json:"captured_at" yaml:"captured_at,required"`
	// Estimator names what read the angles. The errors of one estimator say
	// nothing of another's, so corrections hold only for the same.
	Estimator string `json:"estimator,omitempty" yaml:"estimator"`
	// PalmMM is the length from the wrist to the middle MCP joint in
	// millimetres where it was measured, else 0.
	PalmMM float64        `json:"palm_mm,omitempty" yaml:"palm_mm"`
	Views  []BaselineView `json:"views" yaml:"views,required"`
}

// BaselineView is one pose held in one view, its readings averaged.
type BaselineView struct {
	Pose     BaselinePose `json:"pose" yaml:"pose,required"`
	YawDeg   float64      `json:"yaw_deg" yaml:"yaw_deg,required"`
	PitchDeg float64      `json:"pitch_deg" yaml:"pitch_deg,required"`
	Pictures int          `json:"pictures" yaml:"pictures,required"`
	// Joints that could be judged, by name.
	Joints map[string]BaselineJoint `json:"joints" yaml:"joints,required"`
}

// BaselineJoint is one joint in one view; degrees.
type BaselineJoint struct {
	// ReadDeg is the mean reading, without any correction, SEDeg the standard
	// error stated for one picture, and ScatterDeg the standard deviation of
	// the readings about their mean.
	ReadDeg    float64 `json:"read_deg" yaml:"read_deg,required"`
	SEDeg      float64 `json:"se_deg" yaml:"se_deg,required"`
	ScatterDeg float64 `json:"scatter_deg" yaml:"scatter_deg"`
	// KnownDeg is the angle that a therapist measured with a goniometer while
	// this pose was held, nil where none was.
	KnownDeg *float64 `json:"known_deg,omitempty" yaml:"known_deg"`
	// ShowsPastStraight is true where this view could show the joint past
	// straight.
	ShowsPastStraight bool `json:"shows_past_straight" yaml:"shows_past_straight"`
}

// Range is a joint's angle at the start and at the end of its way, degrees.
type Range struct {
	StartDeg float64 `json:"start_deg" yaml:"start_deg"`
	EndDeg   float64 `json:"end_deg" yaml:"end_deg"`
}

// DecodeBaseline reads a baseline as Encode writes it. Unknown fields, another
// version, and numbers that no hand can have are refused.
func DecodeBaseline(b []byte) (*Baseline, error) {
	if len(b) > maxBaselineBytes {
		return nil, fmt.Errorf("baseline of %d bytes is too large; at most %d", len(b), maxBaselineBytes)
	}
	if v, err := strictjson.Version(b, "version"); err == nil && v > BaselineVersion {
		return nil, (&Baseline{Version: v}).Check()
	}
	var out Baseline
	if err := strictjson.Decode(b, &out); err != nil {
		return nil, fmt.Errorf("read baseline: %w", err)
	}
	if err := out.Check(); err != nil {
		return nil, err
	}
	return &out, nil
}

// Encode writes the baseline as indented JSON.
func (b *Baseline) Encode() ([]byte, error) {
	if err := b.Check(); err != nil {
		return nil, err
	}
	return json.MarshalIndent(b, "", "  ")
}

// Check says what is wrong with a baseline, or nil.
func (b *Baseline) Check() error {
	if b.Version > BaselineVersion {
		return fmt.Errorf("baseline is of version %d; this program reads version %d: update it", b.Version, BaselineVersion)
	}
	if b.Version < 1 {
		return fmt.Errorf("baseline: version %d is none; write version: %d", b.Version, BaselineVersion)
	}
	if side, err := hand.ParseSide(b.Side); err != nil || side.String() != b.Side {
		return fmt.Errorf("baseline: side %q is neither left nor right", b.Side)
	}
	if b.CapturedAt.IsZero() {
		return errors.New("baseline: captured_at is missing")
	}
	if !(b.PalmMM == 0 || b.PalmMM >= 40 && b.PalmMM <= 150) {
		return fmt.Errorf("baseline: palm_mm %g is no palm; 40 to 150, or leave it out", b.PalmMM)
	}
	if len(b.Views) == 0 || len(b.Views) > maxBaselineViews {
		return fmt.Errorf("baseline: %d views; 1 to %d", len(b.Views), maxBaselineViews)
	}
	for i := range b.Views {
		if err := b.Views[i].check(); err != nil {
			return fmt.Errorf("baseline: view %d: %w", i+1, err)
		}
	}
	return nil
}

// maxBaselineViews bounds the work that each reading costs.
const maxBaselineViews = 12

func (v *BaselineView) check() error {
	if !slices.Contains([]BaselinePose{StraightHand, FullFist, MeasuredPose}, v.Pose) {
		return fmt.Errorf("pose %q is none of straight, fist and measured", v.Pose)
	}
	if !(math.Abs(v.YawDeg) <= 180 && math.Abs(v.PitchDeg) <= 90) {
		return fmt.Errorf("a view of yaw %g and pitch %g does not exist", v.YawDeg, v.PitchDeg)
	}
	if v.Pictures < 1 {
		return fmt.Errorf("%d pictures", v.Pictures)
	}
	if len(v.Joints) == 0 {
		return errors.New("no joints")
	}
	for name, r := range v.Joints {
		j, err := hand.ParseJoint(name)
		if err != nil || j.String() != name {
			return fmt.Errorf("joint %q is not known", name)
		}
		if err := r.check(); err != nil {
			return fmt.Errorf("%s: %w", name, err)
		}
		if v.Pose == MeasuredPose && r.KnownDeg == nil {
			return fmt.Errorf("%s: pose %q needs known_deg", name, v.Pose)
		}
	}
	return nil
}

func (r *BaselineJoint) check() error {
	possible := func(x float64) bool { return x >= minFlexion && x <= maxFlexion }
	switch {
	case !possible(r.ReadDeg):
		return fmt.Errorf("read_deg %g is no joint's; %v to %v", r.ReadDeg, float64(minFlexion), float64(maxFlexion))
	case !(r.SEDeg > 0 && r.SEDeg <= 90):
		return fmt.Errorf("se_deg %g; above 0, at most 90", r.SEDeg)
	case !(r.ScatterDeg >= 0 && r.ScatterDeg <= 90):
		return fmt.Errorf("scatter_deg %g; 0 to 90", r.ScatterDeg)
	case r.KnownDeg != nil && !possible(*r.KnownDeg):
		return fmt.Errorf("known_deg %g is no joint's; %v to %v", *r.KnownDeg, float64(minFlexion), float64(maxFlexion))
	}
	return nil
}

// Doubt is a joint of which a baseline cannot serve as a zero, and why.
type Doubt struct {
	Joint hand.Joint
	// Words say it to the therapist.
	Words string
}

// Doubts lists the joints that read past straight, or well short of it, in the
// straight hand and were not measured. They get no correction: a knuckle that
// was recorded past straight must not become the zero.
func (b *Baseline) Doubts() []Doubt {
	var out []Doubt
	for j := range hand.Joint(hand.NumJoints) {
		past, short := math.Inf(1), math.Inf(-1)
		known := false
		for i := range b.Views {
			r, ok := b.Views[i].Joints[j.String()]
			if !ok || b.Views[i].Pose != StraightHand {
				continue
			}
			known = known || r.KnownDeg != nil
			if r.ShowsPastStraight {
				past = math.Min(past, r.ReadDeg)
			}
			short = math.Max(short, r.ReadDeg)
		}
		name := strings.ReplaceAll(j.String(), ".", " ")
		switch {
		case known || zeroSD(j) == 0:
		case past < -mostPastZero:
			out = append(out, Doubt{j, fmt.Sprintf("%s reads %.0f° past straight in the straight hand; measure it with a goniometer and enter the angle", name, -past)})
		case short > mostShortZero:
			out = append(out, Doubt{j, fmt.Sprintf("%s reads %.0f° short of straight in the straight hand; measure it with a goniometer and enter the angle", name, short)})
		}
	}
	return out
}

// Own returns a joint's own range: from its angle in the straight hand to its
// angle in the full fist, as measured or else as read in the view that reads it
// best. It reports false where either was not seen.
func (b *Baseline) Own(j hand.Joint) (Range, bool) {
	at := func(p BaselinePose) (deg float64, ok bool) {
		best := math.Inf(1)
		for i := range b.Views {
			r, has := b.Views[i].Joints[j.String()]
			if !has || b.Views[i].Pose != p {
				continue
			}
			se := r.SEDeg
			x := r.ReadDeg
			if r.KnownDeg != nil {
				se, x = 0, *r.KnownDeg
			}
			if se < best {
				best, deg, ok = se, x, true
			}
		}
		return deg, ok
	}
	var r Range
	var straight, fist bool
	r.StartDeg, straight = at(StraightHand)
	r.EndDeg, fist = at(FullFist)
	return r, straight && fist
}
