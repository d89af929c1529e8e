package program

import (
	"fmt"
	"slices"
	"strings"
	"time"

	"volar/internal/exercise"
	"volar/internal/hand"
)

// FormatVersion is the version of the file format that this package writes,
// and the newest that it reads.
const FormatVersion = 1

// Program is the home program of one client. Its fields are those of the file.
type Program struct {
	// FileFormat is the version of the file format, FormatVersion.
	FileFormat int `yaml:"volar_program,required" json:"volar_program"`
	// Client is a code, such as C-017, never a name.
	Client string `yaml:"client,required" json:"client"`
	// Side is the hand that the program is for, Dominant the client's
	// dominant one where it is known.
	Side     Side `yaml:"side,required" json:"side"`
	Dominant Side `yaml:"dominant" json:"dominant,omitzero"`
	// Version counts from 1; a change makes a new version.
	Version int `yaml:"version,required" json:"version"`
	// ValidFrom is the first day on which this version may be in force.
	ValidFrom Date `yaml:"valid_from,required" json:"valid_from"`
	// Issued is when this version was given out: before it nobody could have
	// followed it, whatever ValidFrom says. None is "always".
	Issued Instant `yaml:"issued" json:"issued,omitzero"`
	// NextReview is when the therapist means to look at it again.
	NextReview Date `yaml:"next_review" json:"next_review,omitzero"`
	// Zone is where the client lives, such as Europe/Berlin; empty is not
	// known.
	Zone string `yaml:"zone" json:"zone,omitzero"`
	// History is what happened, in the therapist's words, and Notes are the
	// clinic's own. Message is for the client.
	History string `yaml:"history" json:"history,omitzero"`
	Notes   string `yaml:"notes" json:"notes,omitzero"`
	Message string `yaml:"message" json:"message,omitzero"`

	Precautions []Precaution `yaml:"precautions" json:"precautions,omitzero"`
	// Avoid lists what no exercise may ask for.
	Avoid []Avoid `yaml:"avoid" json:"avoid,omitzero"`
	// Cue says when the client is told of a joint at its limit; empty is
	// UsualCue.
	Cue Cue `yaml:"cue" json:"cue,omitzero"`
	// SideViewCheck asks the client to show the hand from the side before the
	// first exercise, so that joints past straight can be seen.
	SideViewCheck bool `yaml:"side_view_check" json:"side_view_check,omitzero"`

	Limits    []Limit    `yaml:"limits" json:"limits,omitzero"`
	Exercises []Exercise `yaml:"exercises,required" json:"exercises"`

	// Files are the movement files that the exercises name, by name.
	Files map[string][]byte `yaml:"-" json:"-"`
}

// Exercise is one prescribed exercise.
type Exercise struct {
	// Movement is the ID of a movement in the catalogue, or the name of a
	// movement file beside the program, which ends in .yaml.
	Movement string `yaml:"movement,required" json:"movement"`
	// ID names the exercise within the program; empty is the movement's ID.
	// It is wanted where a movement is prescribed twice.
	ID string `yaml:"id" json:"id,omitzero"`
	// Side is given where it is not that of the program.
	Side Side `yaml:"side" json:"side,omitzero"`
	// Object is the ID of the object, Grade its grade: one of them says it.
	// Both empty is the usual object.
	Object string         `yaml:"object" json:"object,omitzero"`
	Grade  exercise.Grade `yaml:"grade" json:"grade,omitzero"`
	// View is which of the movement's two views is used.
	View  ViewChoice `yaml:"view" json:"view,omitzero"`
	Dose  Dose       `yaml:"dose" json:"dose,omitzero"`
	Tempo Tempo      `yaml:"tempo" json:"tempo,omitzero"`
	// Targets are how far single joints should go, where that is not the
	// movement's own end pose.
	Targets []Target `yaml:"targets" json:"targets,omitzero"`
	// Limits of this exercise go before those of the program.
	Limits []Limit `yaml:"limits" json:"limits,omitzero"`
	// Note is shown to the client with the exercise.
	Note string `yaml:"note" json:"note,omitzero"`

	movement *exercise.Movement
}

// Dose is how much is prescribed. What is left out is the movement's usual
// dose.
type Dose struct {
	Sets        *int     `yaml:"sets" json:"sets,omitzero"`
	Repetitions *int     `yaml:"repetitions" json:"repetitions,omitzero"`
	HoldSeconds *float64 `yaml:"hold_s" json:"hold_s,omitzero"`
	RestSeconds *float64 `yaml:"rest_s" json:"rest_s,omitzero"`
	TimesADay   *int     `yaml:"times_a_day" json:"times_a_day,omitzero"`
	DaysAWeek   *int     `yaml:"days_a_week" json:"days_a_week,omitzero"`
}

// Over returns the dose with what it leaves out taken from the usual one.
func (d Dose) Over(usual exercise.Dose) exercise.Dose {
	set(&usual.Sets, d.Sets)
	set(&usual.Repetitions, d.Repetitions)
	set(&usual.HoldSeconds, d.HoldSeconds)
	set(&usual.RestSeconds, d.RestSeconds)
	set(&usual.TimesADay, d.TimesADay)
	set(&usual.DaysAWeek, d.DaysAWeek)
	return usual
}

func set[T any](to, from *T) {
	if from != nil {
		*to = *from
	}
}

// FullDose writes out every field of a dose.
func FullDose(d exercise.Dose) Dose {
	return Dose{&d.Sets, &d.Repetitions, &d.HoldSeconds, &d.RestSeconds, &d.TimesADay, &d.DaysAWeek}
}

// Tempo is how fast the client may go.
type Tempo struct {
	// LeastSeconds is the least time for the way there, and again for the way
	// back; 0 is the movement's own.
	LeastSeconds float64 `yaml:"least_s" json:"least_s,omitzero"`
}

// Target is how far some joints should go: in degrees, or as a share of the
// client's own range from straight to fist.
type Target struct {
	Joints Joints   `yaml:"joints,required" json:"joints"`
	Share  *float64 `yaml:"share_of_own" json:"share_of_own,omitzero"`
	Deg    *float64 `yaml:"deg" json:"deg,omitzero"`
}

// Side is a hand in a file. The zero Side is not given.
type Side hand.Side

// UnmarshalText reads left or right.
func (s *Side) UnmarshalText(b []byte) error {
	h, err := hand.ParseSide(string(b))
	*s = Side(h)
	return err
}

// MarshalText is String.
func (s Side) MarshalText() ([]byte, error) { return []byte(s.String()), nil }

// Other is the other hand.
func (s Side) Other() Side { return Side(s.Hand().Other()) }

// Hand returns the side in the words of package hand.
func (s Side) Hand() hand.Side { return hand.Side(s) }

func (s Side) String() string { return hand.Side(s).String() }

// ViewChoice is one of a movement's two views.
type ViewChoice string

// The choices; the zero one is BestView.
const (
	BestView   ViewChoice = "best"
	SecondView ViewChoice = "second"
)

// Cue says when the client is told of a joint at its limit.
type Cue string

// The cues. EarlyCue asks for less proof that the limit is passed, and so
// speaks sooner and more often without need.
const (
	UsualCue Cue = "usual"
	EarlyCue Cue = "early"
)

// Joints are some joints, written as a pattern as hand.ParseJoints reads it, or
// several with commas between, such as "index.pip, middle.pip".
type Joints string

// UnmarshalText refuses what is no pattern.
func (j *Joints) UnmarshalText(b []byte) error {
	*j = Joints(b)
	_, err := j.parse()
	return err
}

func (j Joints) parse() ([]hand.Joint, error) {
	var all []hand.Joint
	for s := range strings.SplitSeq(string(j), ",") {
		joints, err := hand.ParseJoints(strings.TrimSpace(s))
		if err != nil {
			return nil, err
		}
		for _, k := range joints {
			if !slices.Contains(all, k) {
				all = append(all, k)
			}
		}
	}
	return all, nil
}

// List returns the joints; none for what is no pattern.
func (j Joints) List() []hand.Joint {
	list, err := j.parse()
	if err != nil {
		return nil
	}
	return list
}

// Location returns the client's zone; UTC where the program names none that is
// known.
func (p *Program) Location() *time.Location {
	loc, err := ParseZone(p.Zone)
	if err != nil {
		return time.UTC
	}
	return loc
}

// Find returns the index of the exercise with the ID, or of the only one of
// the movement with that ID.
func (p *Program) Find(id string) (int, error) {
	var ids []string
	of := -1
	for i := range p.Exercises {
		e := &p.Exercises[i]
		if e.Name() == id {
			return i, nil
		}
		if e.movement != nil && e.movement.ID == id {
			if of >= 0 {
				of = len(p.Exercises)
			} else {
				of = i
			}
		}
		ids = append(ids, e.Name())
	}
	switch {
	case of == len(p.Exercises):
		return 0, fmt.Errorf("the program of %s has %s more than once; name one of %s", p.Client, id, strings.Join(ids, ", "))
	case of < 0:
		return 0, fmt.Errorf("the program of %s has no exercise %q; it has %s", p.Client, id, strings.Join(ids, ", "))
	}
	return of, nil
}

// Name is the exercise's ID within the program.
func (e *Exercise) Name() string {
	switch {
	case e.ID != "":
		return e.ID
	case e.movement != nil:
		return e.movement.ID
	}
	return strings.TrimSuffix(e.Movement, fileSuffix)
}

// SideOf is the hand that does the exercise, or leads where it takes two.
func (p *Program) SideOf(e *Exercise) Side {
	if e.Side != 0 {
		return e.Side
	}
	return p.Side
}

// OtherHand reports whether the exercise is given to the hand that the program
// is not for.
func (p *Program) OtherHand(e *Exercise) bool { return e.Side != 0 && e.Side != p.Side }
