package draft

import (
	"errors"
	"fmt"
	"slices"
	"strings"

	"volar/internal/exercise"
	"volar/internal/program"
)

// Field is the name of a part of the exercise with an index, from 0; part is
// such as dose.sets, and empty for the exercise as a whole.
func Field(i int, part string) string {
	f := fmt.Sprintf("exercises[%d]", i+1)
	if part != "" {
		f += "." + part
	}
	return f
}

// Movement is the movement of an exercise; nil where it is not in the
// catalogue.
func (d *Draft) Movement(i int) *exercise.Movement {
	return d.movement(d.p.Exercises[i].Movement)
}

func (d *Draft) movement(id string) *exercise.Movement {
	for _, m := range d.catalogue {
		if m.ID == id {
			return m
		}
	}
	return nil
}

// Add puts a movement of the catalogue at the end of the program, with its
// usual dose, the lower one where a precaution asks for that, and the first
// object that nothing forbids. It returns the exercise's index.
func (d *Draft) Add(id string) (int, error) {
	m := d.movement(id)
	if m == nil {
		return 0, fmt.Errorf("%s: %w", id, exercise.ErrUnknown)
	}
	dose := m.Dose
	for _, q := range d.p.Precautions {
		if q.Kind.Defaults().LowerDose {
			dose = program.LowerDose(m.Dose)
		}
	}
	e := program.Exercise{Movement: id, ID: d.free(id), Dose: program.FullDose(dose)}
	i := len(d.p.Exercises)
	d.p.Exercises = append(d.p.Exercises, e)
	usual, err := m.Object("")
	if err == nil {
		d.p.Exercises[i].Object = usual.ID
		for _, o := range append([]exercise.Object{usual}, m.Objects...) {
			d.p.Exercises[i].Object = o.ID
			d.check()
			if _, fault := d.Beside(Field(i, "object")); !fault {
				return i, nil
			}
		}
		d.p.Exercises[i].Object = usual.ID
	}
	d.check()
	return i, nil
}

// free is an exercise's ID for a movement that is there already; empty where it
// is not.
func (d *Draft) free(id string) string {
	taken := func(name string) bool {
		return slices.ContainsFunc(d.p.Exercises, func(e program.Exercise) bool { return e.Name() == name })
	}
	if !taken(id) {
		return ""
	}
	for n := 2; ; n++ {
		if name := fmt.Sprintf("%s-%d", id, n); !taken(name) {
			return name
		}
	}
}

// Remove takes an exercise out.
func (d *Draft) Remove(i int) {
	d.p.Exercises = slices.Delete(d.p.Exercises, i, i+1)
	d.forget("exercises")
	d.check()
}

// Move moves an exercise by so many places and returns its new index.
func (d *Draft) Move(i, by int) int {
	to := max(0, min(i+by, len(d.p.Exercises)-1))
	e := d.p.Exercises[i]
	d.p.Exercises = slices.Insert(slices.Delete(d.p.Exercises, i, i+1), to, e)
	d.forget("exercises")
	d.check()
	return to
}

// SetObject sets the object; its grade goes with it.
func (d *Draft) SetObject(i int, id string) {
	d.p.Exercises[i].Object, d.p.Exercises[i].Grade = id, ""
	d.check()
}

// SetHand gives the exercise to a hand; that of the program is written as none.
// Where the exercise has limits for both hands each stays with its own.
func (d *Draft) SetHand(i int, s program.Side) {
	d.bind(i)
	if s == d.p.Side {
		s = 0
	}
	d.p.Exercises[i].Side = s
	d.check()
}

// SetView sets which of the movement's views is used.
func (d *Draft) SetView(i int, v program.ViewChoice) {
	d.p.Exercises[i].View = v
	d.check()
}

// SetNote sets what is shown to the client with the exercise.
func (d *Draft) SetNote(i int, text string) {
	d.p.Exercises[i].Note = text
	d.check()
}

// DoseField is a part of a dose, by its name in the file.
type DoseField string

// The parts of a dose.
const (
	Sets        DoseField = "sets"
	Repetitions DoseField = "repetitions"
	Hold        DoseField = "hold_s"
	Rest        DoseField = "rest_s"
	TimesADay   DoseField = "times_a_day"
	DaysAWeek   DoseField = "days_a_week"
)

// DoseFields lists them in the order in which they are written.
var DoseFields = [...]DoseField{Sets, Repetitions, Hold, Rest, TimesADay, DaysAWeek}

// Words names the part for a person.
func (f DoseField) Words() string {
	switch f {
	case Hold:
		return "hold, s"
	case Rest:
		return "rest, s"
	}
	return strings.ReplaceAll(string(f), "_", " ")
}

// DoseText is what stands in a field of an exercise's dose.
func (d *Draft) DoseText(i int, f DoseField) string {
	var usual exercise.Dose
	if m := d.Movement(i); m != nil {
		usual = m.Dose
	}
	x := d.p.Exercises[i].Dose.Over(usual)
	have := map[DoseField]float64{
		Sets: float64(x.Sets), Repetitions: float64(x.Repetitions), Hold: x.HoldSeconds, Rest: x.RestSeconds,
		TimesADay: float64(x.TimesADay), DaysAWeek: float64(x.DaysAWeek),
	}[f]
	return d.Typed(Field(i, "dose."+string(f)), number(have))
}

// SetDose reads a field of an exercise's dose.
func (d *Draft) SetDose(i int, f DoseField, text string) error {
	dose := &d.p.Exercises[i].Dose
	var err error
	whole := func(to **int) {
		var n int
		if n, err = parseWhole(text); err == nil {
			*to = &n
		}
	}
	seconds := func(to **float64) {
		var x float64
		if x, err = parseSeconds(text); err == nil {
			*to = &x
		}
	}
	switch f {
	case Sets:
		whole(&dose.Sets)
	case Repetitions:
		whole(&dose.Repetitions)
	case Hold:
		seconds(&dose.HoldSeconds)
	case Rest:
		seconds(&dose.RestSeconds)
	case TimesADay:
		whole(&dose.TimesADay)
	case DaysAWeek:
		whole(&dose.DaysAWeek)
	}
	return d.read(Field(i, "dose."+string(f)), text, err)
}

// TempoText is what stands in the field of the tempo; empty is the movement's
// own.
func (d *Draft) TempoText(i int) string {
	have := ""
	if t := d.p.Exercises[i].Tempo.LeastSeconds; t != 0 {
		have = number(t)
	}
	return d.Typed(Field(i, "tempo.least_s"), have)
}

// SetTempo reads the least time for the way there, and again for the way back.
func (d *Draft) SetTempo(i int, text string) error {
	x, err := 0.0, error(nil)
	if strings.TrimSpace(text) != "" {
		if x, err = parseSeconds(text); err == nil && x == 0 {
			err = errors.New("leave it empty for the movement's own tempo")
		}
	}
	if err == nil {
		d.p.Exercises[i].Tempo.LeastSeconds = x
	}
	return d.read(Field(i, "tempo.least_s"), text, err)
}

// TargetText is what stands in the field of an exercise's targets: entries with
// semicolons between, such as "index.pip 80; *.mcp 90 %".
func (d *Draft) TargetText(i int) string {
	var all []string
	for _, t := range d.p.Exercises[i].Targets {
		switch {
		case t.Share != nil:
			all = append(all, fmt.Sprintf("%s %s %%", t.Joints, number(*t.Share*100)))
		case t.Deg != nil:
			all = append(all, fmt.Sprintf("%s %s", t.Joints, AngleText(*t.Deg)))
		}
	}
	return d.Typed(Field(i, "targets"), strings.Join(all, "; "))
}

// SetTargets reads an exercise's targets: how far joints go, in degrees or in
// per cent of the client's own range.
func (d *Draft) SetTargets(i int, text string) error {
	var all []program.Target
	var err error
	for _, entry := range strings.Split(text, ";") {
		if entry = strings.TrimSpace(entry); entry == "" {
			continue
		}
		var t program.Target
		if t, err = parseTarget(entry); err != nil {
			break
		}
		all = append(all, t)
	}
	if err == nil {
		d.p.Exercises[i].Targets = all
	}
	return d.read(Field(i, "targets"), text, err)
}

func parseTarget(entry string) (program.Target, error) {
	joints, value, ok := strings.Cut(entry, " ")
	if !ok {
		return program.Target{}, fmt.Errorf("%q wants joints and how far, such as index.pip 80 or *.mcp 90 %%", entry)
	}
	t := program.Target{}
	if err := t.Joints.UnmarshalText([]byte(joints)); err != nil {
		return t, err
	}
	if share, ok := strings.CutSuffix(strings.TrimSpace(value), "%"); ok {
		x, err := parseSeconds(share)
		if err != nil {
			return t, fmt.Errorf("%q is no number of per cent", share)
		}
		x /= 100
		t.Share = &x
		return t, nil
	}
	deg, err := ParseAngle(value)
	if err != nil {
		return t, err
	}
	t.Deg = &deg
	return t, nil
}
