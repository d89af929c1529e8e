package main

import (
	"encoding/json"
	"errors"
	"fmt"
	"io"
	"math"
	"strings"

	"volar/internal/camera"
	"volar/internal/goniometry"
	"volar/internal/hand"
	"volar/internal/landmark"
)

type measureCmd struct {
	Pictures []string `arg:"" name:"picture" help:"Picture files: JPEG, PNG, WebP, TIFF or BMP."`
	Side     string   `help:"Measure only the client's left or right hand." enum:"left,right,any" default:"any"`
	Hands    int      `help:"How many hands to look for, 1 or 2." default:"2"`
	JSON     bool     `name:"json" help:"One JSON object a line, one line a picture."`
	engineFlags
}

// pictureResult is one line of measure's JSON.
type pictureResult struct {
	Path  string       `json:"path"`
	Hands []handResult `json:"hands"`
	Error *string      `json:"error"`
}

type handResult struct {
	Side      string                 `json:"side"`
	Score     float64                `json:"score"`
	View      viewResult             `json:"view"`
	Landmarks [][3]float64           `json:"landmarks"`
	Joints    map[string]jointResult `json:"joints"`
	// Guidance says what would let a joint be judged that is not.
	Guidance string `json:"guidance,omitempty"`
	sample   hand.Sample
}

type viewResult struct {
	Name     string  `json:"name"`
	YawDeg   float64 `json:"yaw_deg"`
	PitchDeg float64 `json:"pitch_deg"`
	SEDeg    float64 `json:"se_deg"`
}

type jointResult struct {
	FlexionDeg float64 `json:"flexion_deg"`
	SEDeg      float64 `json:"se_deg"`
	Judged     bool    `json:"judged"`
	// ExtensionJudged says whether this view could also show the joint past
	// straight; a straight reading without it is not a finding.
	ExtensionJudged bool        `json:"extension_judged"`
	Why             hand.Reason `json:"why,omitempty"`
}

func (c *measureCmd) Run(e *environment) error {
	if c.Hands < 1 || c.Hands > 2 {
		return &usageError{fmt.Errorf("--hands %d is neither 1 nor 2", c.Hands)}
	}
	engine, err := c.engineFlags.open(e.err)
	if err != nil {
		return err
	}
	defer engine.Close()
	tracker, err := landmark.New(engine, landmark.Options{MaxHands: c.Hands, Threads: c.Threads})
	if err != nil {
		return err
	}
	defer tracker.Close()

	bar := newProgress(e.err, "measuring", len(c.Pictures))
	defer bar.done()
	var firstBad error
	found := 0
	for i, path := range c.Pictures {
		if err := e.ctx.Err(); err != nil {
			return err
		}
		r, err := c.one(tracker, path)
		if err != nil {
			var in *inputError
			if !errors.As(err, &in) {
				return err
			}
			if firstBad == nil {
				firstBad = err
			}
		}
		found += len(r.Hands)
		if err := c.print(e.out, r); err != nil {
			return err
		}
		bar.at(i + 1)
	}
	switch {
	case firstBad != nil:
		return firstBad
	case found == 0:
		return fmt.Errorf("%w in %s; use a bright, plain background and let the whole hand be seen", errNothing, plural(len(c.Pictures), "picture", "pictures"))
	}
	return nil
}

// one measures one picture. A picture that cannot be read gives an
// *inputError together with the result that says so.
func (c *measureCmd) one(tracker *landmark.Tracker, path string) (pictureResult, error) {
	r := pictureResult{Path: path, Hands: []handResult{}}
	img, err := camera.ReadPicture(path)
	if err != nil {
		text := sentence(err)
		r.Error = &text
		return r, &inputError{err}
	}
	seen, err := tracker.Detect(img)
	if err != nil {
		return r, fmt.Errorf("measure %s: %w", path, err)
	}
	for _, o := range seen {
		if c.Side != "any" && o.Side.String() != c.Side {
			continue
		}
		g := goniometry.New(goniometry.Options{})
		r.Hands = append(r.Hands, toHandResult(o, g.MeasureStill(o)))
	}
	return r, nil
}

func toHandResult(o hand.Observation, s hand.Sample) handResult {
	h := handResult{
		Side: o.Side.String(), Score: round(o.Presence, 4),
		View: viewResult{
			Name: s.View.Name(), YawDeg: round(s.View.YawDeg, 1),
			PitchDeg: round(s.View.PitchDeg, 1), SEDeg: round(s.View.SEDeg, 1),
		},
		Joints: map[string]jointResult{}, sample: s,
	}
	for _, p := range o.Image {
		h.Landmarks = append(h.Landmarks, [3]float64{round(p.X, 2), round(p.Y, 2), round(p.Z, 2)})
	}
	for j := hand.Joint(0); j < hand.NumJoints; j++ {
		m := s.Joints[j]
		h.Joints[j.String()] = jointResult{
			FlexionDeg: round(m.FlexionDeg, 1), SEDeg: round(m.SEDeg, 1),
			Judged: m.Judged, ExtensionJudged: m.ExtensionJudged, Why: m.Why,
		}
	}
	h.Guidance = guidance(s)
	return h
}

// guidance is the one instruction that helps first: for a joint that is not
// judged, the PIPs before the others, else for one that reads straight where
// the view does not show whether it is past that.
func guidance(s hand.Sample) string {
	for _, k := range []hand.Kind{hand.PIP, hand.MCP, hand.DIP, hand.IP} {
		for j := range hand.Joint(hand.NumJoints) {
			if j.Kind() == k && !s.Joints[j].Judged {
				return fmt.Sprintf("to judge the %s: %s", jointText(j), goniometry.Guide(s, j, false).Words)
			}
		}
	}
	for j := range hand.Joint(hand.NumJoints) {
		if m := s.Joints[j]; j.Kind() == hand.PIP && !m.ExtensionJudged && m.FlexionDeg < 0 {
			return fmt.Sprintf("to see whether the %s is past straight: %s", jointText(j), goniometry.Guide(s, j, true).Words)
		}
	}
	return ""
}

// jointText names a joint as a reader would.
func jointText(j hand.Joint) string {
	digit, level, _ := strings.Cut(j.String(), ".")
	return digit + " " + strings.ToUpper(level)
}

func (c *measureCmd) print(w io.Writer, r pictureResult) error {
	if c.JSON {
		return json.NewEncoder(w).Encode(r)
	}
	b := &printer{w: w}
	b.f("%s\n", r.Path)
	switch {
	case r.Error != nil:
		b.f("  %s\n", *r.Error)
	case len(r.Hands) == 0:
		b.f("  no hand found\n")
	}
	for _, h := range r.Hands {
		b.f("  %s hand, %s view (turned %.0f° from the palm, ± %.0f°)\n", h.Side, h.View.Name, math.Abs(h.View.YawDeg), h.View.SEDeg)
		jointTable(b, h.sample)
		if h.Guidance != "" {
			b.f("    Next, %s.\n", h.Guidance)
		}
	}
	return b.err
}

// jointTable prints the joints in columns. A bare sign is never printed: the
// trade has no single sign rule (Mulder and Wittmeier 2009, Physiother Can
// 61:266-267), so a joint past straight is said in words.
func jointTable(b *printer, s hand.Sample) {
	b.f("    %-8s%18s%18s%18s\n", "", "MCP (thumb MP)", "PIP (thumb IP)", "DIP")
	row := func(name string, joints ...hand.Joint) {
		b.f("    %-8s", name)
		for _, j := range joints {
			b.f("%18s", measurementText(s.Joints[j]))
		}
		b.f("\n")
	}
	for _, f := range hand.Fingers {
		row(f.String(), hand.JointOf(f, hand.MCP), hand.JointOf(f, hand.PIP), hand.JointOf(f, hand.DIP))
	}
	row("thumb", hand.ThumbMP, hand.ThumbIP)
	why := map[hand.Reason]bool{}
	var reasons string
	for _, m := range s.Joints {
		if !m.Judged && !why[m.Why] {
			why[m.Why] = true
			reasons += ", " + string(m.Why)
		}
	}
	if reasons != "" {
		b.f("    ? cannot be judged here (%s)\n", reasons[2:])
	}
	b.f("    ~0° near straight; whether past it, this view does not show\n")
	b.f("    Degrees of flexion with standard error; an estimate, for review by your therapist.\n")
}

// measurementText writes one angle without a sign.
func measurementText(m hand.Measurement) string {
	if !m.Judged {
		return "?"
	}
	return fmt.Sprintf("%s ± %.0f°", judgedAngle(m), m.SEDeg)
}

// judgedAngle writes an angle as far as the view shows it: where it cannot
// show a joint past straight, a reading below zero is only near straight.
func judgedAngle(m hand.Measurement) string {
	if !m.ExtensionJudged && m.FlexionDeg < 0 {
		return "~0°"
	}
	return angleText(m.FlexionDeg)
}

// angleText writes an angle in words: "41°" or "12° past straight".
func angleText(deg float64) string {
	v := math.Round(deg)
	if v < 0 {
		return fmt.Sprintf("%.0f° past", -v)
	}
	return fmt.Sprintf("%.0f°", math.Abs(v)) // Abs: no minus before a zero
}
