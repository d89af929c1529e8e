package review

import (
	"encoding/json"
	"fmt"
	"math"
	"slices"
	"strings"
	"time"

	"volar/internal/session"
	"volar/internal/strictjson"
)

// Judgement is what a therapist says of a flag.
type Judgement string

// The judgements; the empty one is none yet.
const (
	Right   Judgement = "right"
	Wrong   Judgement = "wrong"
	Unclear Judgement = "unclear"
)

// Mark is a judgement of one flag of a session.
type Mark struct {
	Flag      int       `json:"flag"`
	Judgement Judgement `json:"judgement"`
}

// Review is what a therapist left on a session, once: a later thought is a
// further Review. Two therapists' reviews stand side by side.
type Review struct {
	// Format is the version of this encoding, 1.
	Format  int        `json:"volar_review"`
	Session session.ID `json:"-"`
	Client  string     `json:"client"`
	// At is when, in UTC; By the clinic's own sign for the therapist, never
	// needed and never a password.
	At time.Time `json:"at"`
	By string    `json:"by,omitempty"`
	// Read is true where the session was marked as read.
	Read  bool   `json:"read"`
	Marks []Mark `json:"marks,omitempty"`
	Note  Note   `json:"note,omitzero"`
	// Seconds is how long the session was looked at.
	Seconds int `json:"seconds"`
}

// Note is a note in the trade's order. Assessment and Plan are the therapist's
// own; nothing fills them in.
type Note struct {
	Subjective string `json:"subjective,omitempty"`
	Objective  string `json:"objective,omitempty"`
	Assessment string `json:"assessment,omitempty"`
	Plan       string `json:"plan,omitempty"`
}

// Part is one part of a note with its name.
type Part struct{ Name, Text string }

// Parts lists what was written, in order.
func (n Note) Parts() []Part {
	all := []Part{{"subjective", n.Subjective}, {"objective", n.Objective}, {"assessment", n.Assessment}, {"plan", n.Plan}}
	return slices.DeleteFunc(all, func(p Part) bool { return strings.TrimSpace(p.Text) == "" })
}

// Empty is true where nothing was written.
func (n Note) Empty() bool { return n == Note{} }

const (
	maxNote  = 20000
	maxMarks = 10000
)

// Check says what is wrong with a review.
func (r *Review) Check() error {
	switch {
	case r.Format > 1:
		return fmt.Errorf("review is of version %d; this program reads version 1: update it", r.Format)
	case r.Format < 1:
		return fmt.Errorf("review: version %d is none", r.Format)
	case r.Client == "":
		return fmt.Errorf("review: it names no client")
	case r.At.IsZero():
		return fmt.Errorf("review: it has no time")
	case r.Seconds < 0 || r.Seconds > 24*3600:
		return fmt.Errorf("review: %d seconds of looking make no sense", r.Seconds)
	case len(r.Marks) > maxMarks || len(r.By) > 64:
		return fmt.Errorf("review: it is too long")
	}
	for _, text := range []string{r.Note.Subjective, r.Note.Objective, r.Note.Assessment, r.Note.Plan} {
		if len(text) > maxNote {
			return fmt.Errorf("review: a part of the note has %d bytes; at most %d", len(text), maxNote)
		}
	}
	for _, m := range r.Marks {
		if m.Flag < 1 || m.Judgement != Right && m.Judgement != Wrong && m.Judgement != Unclear {
			return fmt.Errorf("review: flag %d marked %.20q", m.Flag, m.Judgement)
		}
	}
	return nil
}

// Encode writes a review as JSON.
func (r *Review) Encode() ([]byte, error) {
	if err := r.Check(); err != nil {
		return nil, err
	}
	return json.Marshal(wire{r.Session.String(), r})
}

// wire is the encoding of a review, in which the session's ID is text.
type wire struct {
	Session string `json:"session"`
	*Review
}

// Decode reads a review and checks it.
func Decode(b []byte) (*Review, error) {
	if v, err := strictjson.Version(b, "volar_review"); err == nil && v > 1 {
		return nil, (&Review{Format: v}).Check()
	}
	r := new(Review)
	w := wire{Review: r}
	if err := strictjson.Decode(b, &w); err != nil {
		return nil, fmt.Errorf("review: %w", err)
	}
	var err error
	if r.Session, err = session.ParseID(w.Session); err != nil {
		return nil, fmt.Errorf("review: %w", err)
	}
	return r, r.Check()
}

// judgements gives the latest judgement of each flag.
func judgements(reviews []Review) map[int]Judgement {
	all := slices.Clone(reviews)
	slices.SortStableFunc(all, func(a, b Review) int { return a.At.Compare(b.At) })
	latest := map[int]Judgement{}
	for _, r := range all {
		for _, m := range r.Marks {
			latest[m.Flag] = m.Judgement
		}
	}
	return latest
}

// HitRate sums up how often the program's flags were right.
type HitRate struct {
	Right, Wrong, Unclear int
	// Share is right of right and wrong, and Low and High its 95 % interval;
	// all three are NaN where none was judged right or wrong.
	Share, Low, High float64
}

// Rate sums up the latest judgements over sessions.
func Rate(bySession map[session.ID][]Review) HitRate {
	var h HitRate
	for _, reviews := range bySession {
		for _, j := range judgements(reviews) {
			switch j {
			case Right:
				h.Right++
			case Wrong:
				h.Wrong++
			case Unclear:
				h.Unclear++
			}
		}
	}
	h.Share, h.Low, h.High = wilson(h.Right, h.Right+h.Wrong)
	return h
}

// wilson is a proportion with its 95 % score interval (Wilson 1927, J Am Stat
// Assoc 22:209-212), which stays sensible for few cases.
func wilson(k, n int) (p, low, high float64) {
	if n == 0 {
		return math.NaN(), math.NaN(), math.NaN()
	}
	const z = 1.959964
	x, m := float64(k), float64(n)
	p = x / m
	mid := (p + z*z/(2*m)) / (1 + z*z/m)
	half := z / (1 + z*z/m) * math.Sqrt(p*(1-p)/m+z*z/(4*m*m))
	return p, max(mid-half, 0), min(mid+half, 1)
}

// Minutes adds up how long a client's sessions were looked at in a calendar
// month of the clinic's zone.
func Minutes(reviews []Review, year int, month time.Month, loc *time.Location) float64 {
	var s int
	for _, r := range reviews {
		if t := r.At.In(loc); t.Year() == year && t.Month() == month {
			s += r.Seconds
		}
	}
	return float64(s) / 60
}
