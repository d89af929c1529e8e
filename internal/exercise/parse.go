package exercise

import (
	"fmt"
	"maps"
	"regexp"
	"slices"
	"strings"

	"volar/internal/hand"
	"volar/internal/strictyaml"
)

// file is a movement as written: poses and weights are shorter there.
type file struct {
	Movement
	Poses   map[string]poseFile `yaml:"poses,required"`
	Measure measureFile         `yaml:"measure,required"`
	Steps   []stepFile          `yaml:"steps"`
}

// poseFile is a pose as written: what all fingers share, and what single
// fingers have instead.
type poseFile struct {
	Words   string      `yaml:"words,required"`
	Fingers fingerFile  `yaml:"fingers"`
	Index   *fingerFile `yaml:"index"`
	Middle  *fingerFile `yaml:"middle"`
	Ring    *fingerFile `yaml:"ring"`
	Little  *fingerFile `yaml:"little"`
	Thumb   thumbFile   `yaml:"thumb"`
	Wrist   wristFile   `yaml:"wrist"`
}

type fingerFile struct {
	MCP       *float64 `yaml:"mcp"`
	PIP       *float64 `yaml:"pip"`
	DIP       *float64 `yaml:"dip"`
	Abduction *float64 `yaml:"abduction"`
}

type thumbFile struct {
	Palmar float64 `yaml:"palmar"`
	Radial float64 `yaml:"radial"`
	Roll   float64 `yaml:"roll"`
	MP     float64 `yaml:"mp"`
	IP     float64 `yaml:"ip"`
}

type wristFile struct {
	Flexion   float64 `yaml:"flexion"`
	Deviation float64 `yaml:"deviation"`
}

type measureFile struct {
	From     string             `yaml:"from,required"`
	To       string             `yaml:"to"`
	Weights  map[string]float64 `yaml:"weights"`
	Channels map[string]Way     `yaml:"channels"`
	Combine  Combine            `yaml:"combine"`
	Enter    *float64           `yaml:"enter"`
	Leave    *float64           `yaml:"leave"`
	Rest     *float64           `yaml:"rest"`
	Attempt  *float64           `yaml:"attempt"`
}

// stepFile is a step as written: its measure has no poses of its own, and
// thresholds that it leaves out are the whole movement's.
type stepFile struct {
	Step
	Weights  map[string]float64 `yaml:"weights"`
	Channels map[string]Way     `yaml:"channels"`
	Combine  Combine            `yaml:"combine"`
	Enter    *float64           `yaml:"enter"`
	Leave    *float64           `yaml:"leave"`
}

func orDefault(p *float64, d float64) float64 {
	if p == nil {
		return d
	}
	return *p
}

func (p *poseFile) pose() Pose {
	var o Pose
	for i, own := range []*fingerFile{p.Index, p.Middle, p.Ring, p.Little} {
		if own == nil {
			own = &fingerFile{}
		}
		pick := func(own, shared *float64) float64 {
			if own == nil {
				return orDefault(shared, 0)
			}
			return *own
		}
		o.Fingers[i] = FingerPose{
			MCP: pick(own.MCP, p.Fingers.MCP), Abduction: pick(own.Abduction, p.Fingers.Abduction),
			PIP: pick(own.PIP, p.Fingers.PIP), DIP: pick(own.DIP, p.Fingers.DIP),
		}
	}
	o.Thumb, o.Wrist = ThumbPose(p.Thumb), WristPose(p.Wrist)
	return o
}

// Parse reads a movement's file, YAML or JSON, and checks it; name is the
// file's, for the error. The error wraps a *strictyaml.Error that lists every
// problem with its line and field.
func Parse(name string, data []byte) (*Movement, error) {
	m, err := parse(data)
	if err != nil {
		return nil, fmt.Errorf("movement file %s: %w", name, err)
	}
	return m, nil
}

func parse(data []byte) (*Movement, error) {
	var f file
	lines, err := strictyaml.Decode(data, &f)
	if err != nil {
		return nil, err
	}
	c := checker{lines: lines}
	m := c.movement(&f)
	if len(c.problems) > 0 {
		slices.SortStableFunc(c.problems, func(a, b strictyaml.Problem) int { return a.Line - b.Line })
		return nil, &strictyaml.Error{Problems: c.problems}
	}
	return m, nil
}

type checker struct {
	lines    strictyaml.Lines
	problems []strictyaml.Problem
}

func (c *checker) fault(field, format string, a ...any) {
	c.problems = append(c.problems, strictyaml.Problem{Line: c.lines.Of(field), Field: field, Text: fmt.Sprintf(format, a...)})
}

// within refuses a number outside a range that makes sense.
func (c *checker) within(field string, x, least, greatest float64) {
	if x < least || x > greatest {
		c.fault(field, "%g is outside %g to %g", x, least, greatest)
	}
}

func (c *checker) words(field, s string) {
	if strings.TrimSpace(s) == "" {
		c.fault(field, "wants words")
	}
}

func (c *checker) list(field string, l []string) {
	if len(l) == 0 {
		c.fault(field, "wants at least one entry")
	}
	for i, s := range l {
		c.words(fmt.Sprintf("%s[%d]", field, i+1), s)
	}
}

func oneOf[T ~string](c *checker, field string, x T, known ...T) bool {
	if slices.Contains(known, x) {
		return true
	}
	var s []string
	for _, k := range known {
		if k != "" {
			s = append(s, string(k))
		}
	}
	c.fault(field, "%q is not known; known are %s", string(x), strings.Join(s, ", "))
	return false
}

var idForm = regexp.MustCompile(`^[a-z][a-z0-9]*(-[a-z0-9]+)*$`)

func (c *checker) movement(f *file) *Movement {
	m := f.Movement
	if !idForm.MatchString(m.ID) || len(m.ID) > 60 {
		c.fault("id", "%q is no id; wants lower-case letters and digits joined by hyphens, at most 60", m.ID)
	}
	c.words("name", m.Name)
	c.words("family", m.Family)
	c.words("purpose", m.Purpose)
	c.words("good", m.Good)
	c.list("poor", m.Poor)
	c.list("cautions", m.Cautions)
	c.list("ask_first", m.AskFirst)
	c.list("sources", m.Sources)
	oneOf(c, "kind", m.Kind, Cycle, Hold, Sequence, Unmeasured)
	oneOf(c, "strength", m.Strength, NoStrength, Pinch, Squeeze, Stretch)
	c.hands(&m)
	c.view("view.best", m.View.Best)
	c.view("view.second", m.View.Second)
	c.dose(m.Dose)
	if m.Tempo.LeastSeconds != 0 {
		c.within("tempo.least_s", m.Tempo.LeastSeconds, 0.1, 10)
	}
	m.Poses, m.PoseWords = map[string]Pose{}, map[string]string{}
	for _, name := range slices.Sorted(maps.Keys(f.Poses)) {
		p := f.Poses[name]
		m.Poses[name], m.PoseWords[name] = p.pose(), p.Words
		c.pose("poses."+name, name, &p, m.Poses[name])
	}
	m.Measure = c.measure(&m, f.Measure)
	c.steps(&m, f)
	c.phases(&m)
	c.objects(&m)
	c.judge(&m)
	return &m
}

func (c *checker) hands(m *Movement) {
	c.within("hands", float64(m.Hands), 1, 2)
	switch {
	case m.Hands == 2:
		oneOf(c, "pair", m.Pair, Together, Alternating)
	case m.Pair != "":
		c.fault("pair", "only a movement of two hands has this")
	case m.Opposite:
		c.fault("opposite", "only a movement of two hands has this")
	}
}

func (c *checker) view(field string, v View) {
	c.words(field+".shows", v.Shows)
	c.within(field+".yaw_deg", v.YawDeg, -180, 180)
	c.within(field+".roll_deg", v.RollDeg, -180, 180)
	if want := (hand.View{YawDeg: v.YawDeg}).Name(); v.Name != want {
		c.fault(field+".name", "a yaw of %g° is the view %q, not %q", v.YawDeg, want, v.Name)
	}
}

func (c *checker) dose(d Dose) {
	c.within("dose.sets", float64(d.Sets), 1, 10)
	c.within("dose.repetitions", float64(d.Repetitions), 1, 50)
	c.within("dose.hold_s", d.HoldSeconds, 0, 120)
	c.within("dose.rest_s", d.RestSeconds, 0, 600)
	c.within("dose.times_a_day", float64(d.TimesADay), 1, 24)
	c.within("dose.days_a_week", float64(d.DaysAWeek), 1, 7)
	if d.Sets > 1 && d.RestSeconds == 0 {
		c.fault("dose.rest_s", "%d sets want a rest between them", d.Sets)
	}
}

func (c *checker) pose(field, name string, p *poseFile, pose Pose) {
	if !idForm.MatchString(name) {
		c.fault(field, "%q is no name for a pose; wants lower-case letters and digits joined by hyphens", name)
	}
	c.words(field+".words", p.Words)
	flexion := pose.Flexion()
	for j := hand.Joint(0); j < hand.NumJoints; j++ {
		if least, greatest := Possible(j); flexion[j] < least || flexion[j] > greatest {
			at := field + "." + j.String()
			if _, own := c.lines[at]; !own && j.Finger() != hand.Thumb {
				at = field + ".fingers." + j.Kind().String()
			}
			c.fault(at, "%g° is outside what %s can do, %g to %g", flexion[j], j, least, greatest)
		}
	}
	for i, g := range pose.Fingers {
		at := field + "." + hand.Fingers[i].String() + ".abduction"
		if _, own := c.lines[at]; !own {
			at = field + ".fingers.abduction"
		}
		c.within(at, g.Abduction, -30, 40)
	}
	c.within(field+".thumb.palmar", pose.Thumb.Palmar, -40, 90)
	c.within(field+".thumb.radial", pose.Thumb.Radial, -60, 90)
	c.within(field+".thumb.roll", pose.Thumb.Roll, -60, 90)
	c.within(field+".wrist.flexion", pose.Wrist.Flexion, -90, 90)
	c.within(field+".wrist.deviation", pose.Wrist.Deviation, -40, 50)
}

func (c *checker) phases(m *Movement) {
	switch {
	case m.Kind == Sequence && len(m.Phases) > 0:
		c.fault("phases", "a sequence has steps instead")
		return
	case m.Kind == Sequence:
		m.Phases = m.stepPhases()
		return
	case len(m.Phases) == 0:
		c.fault("phases", "wants at least one phase")
		return
	}
	at := m.Measure.From
	reached := false
	for i, p := range m.Phases {
		field := fmt.Sprintf("phases[%d]", i+1)
		oneOf(c, field+".name", p.Name, Approach, HoldPhase, Return)
		c.knownPose(m, field+".to", p.To)
		switch {
		case p.Name == HoldPhase && p.To != at:
			c.fault(field+".to", "a hold stays at pose %q, it cannot go to %q", at, p.To)
		case p.Name != HoldPhase && p.To == at:
			c.fault(field+".to", "the hand is at pose %q already", at)
		case p.Name != HoldPhase:
			c.within(field+".seconds", p.Seconds, 0.3, 60)
		default:
			c.within(field+".seconds", p.Seconds, 0, 120)
		}
		reached = reached || p.To == m.Measure.To
		at = p.To
	}
	if m.Kind != Unmeasured && !reached {
		c.fault("phases", "no phase reaches the end pose %q", m.Measure.To)
	}
	if at != m.Measure.From && m.Kind != Unmeasured {
		c.fault(fmt.Sprintf("phases[%d].to", len(m.Phases)), "a repetition ends where it began, at pose %q", m.Measure.From)
	}
}

func (c *checker) objects(m *Movement) {
	ids, grades := map[string]bool{}, map[Grade]bool{}
	for i, o := range m.Objects {
		field := fmt.Sprintf("objects[%d]", i+1)
		if !idForm.MatchString(o.ID) || ids[o.ID] {
			c.fault(field+".id", "%q is no id of its own", o.ID)
		}
		ids[o.ID], grades[o.Grade] = true, true
		c.words(field+".name", o.Name)
		oneOf(c, field+".grade", o.Grade, Easier, Usual, Harder)
		oneOf(c, field+".shape", o.Shape, NoShape, Roll, Ball, Cloth, Lump, Band)
		if o.Shape == Roll || o.Shape == Ball || o.Shape == Lump {
			c.within(field+".diameter_mm", o.DiameterMM, 10, 150)
		} else if o.DiameterMM != 0 {
			c.fault(field+".diameter_mm", "only a roll, a ball or a lump has a diameter")
		}
		if o.End != "" && m.Kind == Sequence {
			c.fault(field+".end", "a sequence has no single end pose")
		} else if o.End != "" && c.knownPose(m, field+".end", o.End) && m.Kind != Unmeasured {
			if _, ok := m.Poses[m.Measure.From]; ok {
				c.travel(m, m.Measure, field+".end", o.End)
			}
		}
	}
	if len(m.Objects) > 0 && !grades[Usual] {
		c.fault("objects", "one object must have the grade %q", Usual)
	}
}

func (c *checker) judge(m *Movement) {
	lower := map[hand.Joint]float64{}
	for i, b := range m.Judge.Lower {
		for _, j := range b.Joints {
			lower[j] = b.Deg
			c.angle(fmt.Sprintf("judge.lower[%d].deg", i+1), j, b.Deg)
		}
	}
	for i, b := range m.Judge.Upper {
		field := fmt.Sprintf("judge.upper[%d].deg", i+1)
		for _, j := range b.Joints {
			c.angle(field, j, b.Deg)
			if l, ok := lower[j]; ok && l >= b.Deg {
				c.fault(field, "the upper limit of %s, %g°, is not above its lower limit, %g°", j, b.Deg, l)
			}
		}
	}
	for i, k := range m.Judge.Keep {
		c.keep(fmt.Sprintf("judge.keep[%d]", i+1), k)
	}
	if m.Judge.ApartDeg != 0 {
		c.within("judge.apart_deg", m.Judge.ApartDeg, 5, 40)
	}
	if m.Judge.SteadyDeg != 0 {
		c.within("judge.steady_deg", m.Judge.SteadyDeg, 3, 30)
		if m.Dose.HoldSeconds == 0 {
			c.fault("judge.steady_deg", "a movement without a hold has nothing to keep steady")
		}
	}
	if m.Judge.StayPutPalms != 0 {
		c.within("judge.stay_put_palms", m.Judge.StayPutPalms, 0.2, 5)
	}
	if m.Judge.Order && m.Kind != Sequence {
		c.fault("judge.order", "only the steps of a sequence have an order")
	}
}

func (c *checker) keep(field string, k Keep) {
	c.words(field+".say", k.Say)
	if (len(k.Joints) == 0) == (len(k.Channels) == 0) {
		c.fault(field, "wants either joints or channels")
	}
	if k.From == nil && k.To == nil {
		c.fault(field, "wants from_deg or to_deg or both")
	}
	for _, ch := range k.All() {
		for _, end := range []struct {
			name string
			deg  *float64
		}{{"from_deg", k.From}, {"to_deg", k.To}} {
			if end.deg != nil {
				c.value(field+"."+end.name, ch, *end.deg)
			}
		}
	}
	if k.From != nil && k.To != nil && *k.From >= *k.To {
		c.fault(field+".to_deg", "%g° is not above from_deg, %g°", *k.To, *k.From)
	}
}

// value refuses what a channel cannot be: an impossible angle, a distance
// longer than the hand.
func (c *checker) value(field string, ch hand.Channel, x float64) {
	j, joint := ch.Joint()
	switch {
	case joint:
		c.angle(field, j, x)
	case ch.Pinch():
		c.within(field, x, 0, 250)
	case ch == hand.HandTilt || ch == hand.HandTurn:
		c.within(field, x, -360, 360)
	default:
		c.within(field, x, -60, 90)
	}
}

func (c *checker) angle(field string, j hand.Joint, deg float64) {
	if least, greatest := Possible(j); deg < least || deg > greatest {
		c.fault(field, "%g° is outside what %s can do, %g to %g", deg, j, least, greatest)
	}
}
