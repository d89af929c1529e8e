package arom

import (
	"encoding/json"
	"errors"
	"fmt"
	"math"
	"slices"
	"time"

	"volar/internal/goniometry"
	"volar/internal/hand"
	"volar/internal/strictjson"
)

// MeasurementVersion is the version that this package writes.
const MeasurementVersion = 1

// maxMeasurementBytes bounds what DecodeMeasurement reads; one has about 3 kB.
const maxMeasurementBytes = 64 << 10

// Measurement is a hand's joints at one moment, in one view. It is kept for
// itself: unlike a baseline nothing is measured against it.
type Measurement struct {
	Version int `json:"version"`
	// Side is "left" or "right".
	Side string `json:"side"`
	// TakenAt is in UTC.
	TakenAt time.Time `json:"taken_at"`
	// Estimator names what read the angles.
	Estimator string `json:"estimator,omitempty"`
	// BaselineAt is when the recorded hand was captured by which the angles
	// were corrected; nil without one.
	BaselineAt *time.Time `json:"baseline_at,omitempty"`
	View       View       `json:"view"`
	// Joints has all of them by name, those that were not judged too.
	Joints map[string]Joint `json:"joints"`
}

// View is how the hand was turned towards the camera.
type View struct {
	YawDeg   float64 `json:"yaw_deg"`
	PitchDeg float64 `json:"pitch_deg"`
	SEDeg    float64 `json:"se_deg"`
}

// Joint is one joint of a measurement. One that was not judged has no angle.
type Joint struct {
	FlexionDeg      float64     `json:"flexion_deg"`
	SEDeg           float64     `json:"se_deg"`
	Judged          bool        `json:"judged"`
	ExtensionJudged bool        `json:"extension_judged"`
	Why             hand.Reason `json:"why,omitempty"`
}

// reasons are those that a file may name.
var reasons = []hand.Reason{hand.WrongView, hand.Hidden, hand.TooSmall, hand.TooFast, hand.TooDark, hand.NoHand, hand.Unsure}

// Measured takes a sample at a wall-clock time. Own is the recorded hand that
// the goniometer was given, nil for none; one that another estimator read
// corrected nothing and is not named.
func Measured(s hand.Sample, at time.Time, estimator string, own *goniometry.Baseline) (*Measurement, error) {
	if !s.Found || s.Side == hand.UnknownSide {
		return nil, errors.New("no hand is seen; hold it before the camera")
	}
	m := &Measurement{
		Version: MeasurementVersion, Side: s.Side.String(), TakenAt: at.UTC().Truncate(time.Second), Estimator: estimator,
		View:   View{round1(s.View.YawDeg), round1(s.View.PitchDeg), round1(math.Min(s.View.SEDeg, 180))},
		Joints: map[string]Joint{},
	}
	if own != nil && (own.Estimator == estimator || own.Estimator == "" || estimator == "") {
		at := own.CapturedAt
		m.BaselineAt = &at
	}
	for j, x := range s.Joints {
		one := Joint{Why: x.Why}
		if x.Judged {
			one = Joint{FlexionDeg: round1(x.FlexionDeg), SEDeg: math.Max(round1(x.SEDeg), 0.1), Judged: true, ExtensionJudged: x.ExtensionJudged}
		}
		m.Joints[hand.Joint(j).String()] = one
	}
	return m, m.Check()
}

func round1(x float64) float64 { return math.Round(10*x) / 10 }

// DecodeMeasurement reads a measurement as Encode writes it. Unknown fields,
// another version, and numbers that no hand can have are refused.
func DecodeMeasurement(b []byte) (*Measurement, error) {
	if len(b) > maxMeasurementBytes {
		return nil, fmt.Errorf("measurement of %d bytes is too large; at most %d", len(b), maxMeasurementBytes)
	}
	if v, err := strictjson.Version(b, "version"); err == nil && v > MeasurementVersion {
		return nil, (&Measurement{Version: v}).Check()
	}
	var m Measurement
	if err := strictjson.Decode(b, &m); err != nil {
		return nil, fmt.Errorf("read measurement: %w", err)
	}
	if err := m.Check(); err != nil {
		return nil, err
	}
	return &m, nil
}

// Encode writes the measurement as JSON.
func (m *Measurement) Encode() ([]byte, error) {
	if err := m.Check(); err != nil {
		return nil, err
	}
	return json.Marshal(m)
}

// Check says what is wrong with a measurement, or nil.
func (m *Measurement) Check() error {
	if m.Version != MeasurementVersion {
		return fmt.Errorf("measurement is of version %d; this program reads version %d: update it", m.Version, MeasurementVersion)
	}
	if side, err := hand.ParseSide(m.Side); err != nil || side.String() != m.Side {
		return fmt.Errorf("measurement: side %q is neither left nor right", m.Side)
	}
	if m.TakenAt.IsZero() {
		return errors.New("measurement: taken_at is missing")
	}
	if v := m.View; !(math.Abs(v.YawDeg) <= 180 && math.Abs(v.PitchDeg) <= 90 && v.SEDeg >= 0 && v.SEDeg <= 180) {
		return fmt.Errorf("measurement: a view of yaw %g ± %g and pitch %g does not exist", v.YawDeg, v.SEDeg, v.PitchDeg)
	}
	if len(m.Joints) != hand.NumJoints {
		return fmt.Errorf("measurement: %d joints; a hand has %d", len(m.Joints), hand.NumJoints)
	}
	for name, x := range m.Joints {
		j, err := hand.ParseJoint(name)
		if err != nil || j.String() != name {
			return fmt.Errorf("measurement: joint %q is not known", name)
		}
		if err := x.check(); err != nil {
			return fmt.Errorf("measurement: %s: %w", name, err)
		}
	}
	return nil
}

func (x *Joint) check() error {
	switch {
	case !x.Judged && (x.ExtensionJudged || x.FlexionDeg != 0 || x.SEDeg != 0):
		return errors.New("not judged, and yet there is a number")
	case !x.Judged && !slices.Contains(reasons, x.Why):
		return fmt.Errorf("not judged for no known reason, %q", x.Why)
	case x.Judged && x.Why != hand.NoReason:
		return fmt.Errorf("judged, and yet %q", x.Why)
	case x.Judged && !(math.Abs(x.FlexionDeg) <= 180 && x.SEDeg > 0 && x.SEDeg <= 90):
		return fmt.Errorf("%g ± %g° is no joint's", x.FlexionDeg, x.SEDeg)
	}
	return nil
}

// Reading is what the measurement says of a joint.
func (m *Measurement) Reading(j hand.Joint) Reading {
	x := m.Joints[j.String()]
	return Reading{Deg: x.FlexionDeg, SEDeg: x.SEDeg, Judged: x.Judged, Why: x.Why, PastJudged: x.ExtensionJudged}
}

// ViewWords name the view: "radial view, turned 84° from the palm ± 8°".
func (m *Measurement) ViewWords() string {
	return ViewWords(hand.View{YawDeg: m.View.YawDeg, PitchDeg: m.View.PitchDeg, SEDeg: m.View.SEDeg})
}

// ViewWords name a view.
func ViewWords(v hand.View) string {
	return fmt.Sprintf("%s view, turned %.0f° from the palm ± %.0f°", v.Name(), math.Abs(v.YawDeg), math.Max(math.Round(v.SEDeg), 1))
}
