package program

import (
	"cmp"
	"errors"
	"fmt"
	"slices"
	"time"
)

// History is all versions of one client's program, oldest first.
type History struct{ versions []*Program }

// NewHistory takes the versions in any order. It refuses those of another
// client and two different ones with the same number.
func NewHistory(versions ...*Program) (*History, error) {
	h := &History{slices.Clone(versions)}
	if len(h.versions) == 0 {
		return nil, errors.New("a history wants at least one version of the program")
	}
	slices.SortStableFunc(h.versions, func(a, b *Program) int { return cmp.Compare(a.Version, b.Version) })
	for i, p := range h.versions {
		if p.Client != h.versions[0].Client {
			return nil, fmt.Errorf("version %d is a program of %s, version %d of %s; a history is of one client", p.Version, p.Client, h.versions[0].Version, h.versions[0].Client)
		}
		if i > 0 && p.Version == h.versions[i-1].Version {
			return nil, fmt.Errorf("the program of %s has two versions %d", p.Client, p.Version)
		}
	}
	return h, nil
}

// Versions returns them, oldest first.
func (h *History) Versions() []*Program { return slices.Clone(h.versions) }

// Latest returns the version with the greatest number.
func (h *History) Latest() *Program { return h.versions[len(h.versions)-1] }

// At returns the version that was in force at an instant for a client in the
// zone: of those that had been issued and whose first day had come, the one
// with the greatest number. A nil zone is each version's own. ok is false
// before the first.
//
// The date is the client's local one, so that a client who flies west over a
// date on which something changes lives the day before once more, with what
// held on it.
func (h *History) At(t time.Time, loc *time.Location) (p *Program, ok bool) {
	for _, p := range slices.Backward(h.versions) {
		zone := loc
		if zone == nil {
			zone = p.Location()
		}
		if !t.Before(p.Issued.Time) && !DateOf(t, zone).Before(p.ValidFrom) {
			return p, true
		}
	}
	return nil, false
}

// Resolve returns what was in force at an instant, by the version of that
// instant; ok is false before the first.
func (h *History) Resolve(t time.Time, loc *time.Location) (r Resolved, ok bool) {
	p, ok := h.At(t, loc)
	if !ok {
		return Resolved{}, false
	}
	return p.At(t, loc), true
}

// Next returns a copy of the program as its next version, to be changed: the
// number is one higher, it is issued now and valid from that day in the
// client's zone. The exercises, limits and lists are the copy's own.
func (p *Program) Next(now time.Time) *Program {
	n := p.Clone()
	n.Version++
	n.Issued = Instant{now.UTC().Truncate(time.Second)}
	n.ValidFrom = DateOf(now, p.Location())
	if n.NextReview.Before(n.ValidFrom) {
		n.NextReview = Date{}
	}
	return n
}

// ForHome returns a copy without what stays in the clinic: the history, the
// notes and the reasons of limits. What is judged by it is the same.
func (p *Program) ForHome() *Program {
	n := p.Clone()
	n.History, n.Notes = "", ""
	without := func(l []Limit) {
		for i := range l {
			l[i].Reason = ""
		}
	}
	without(n.Limits)
	for i := range n.Exercises {
		without(n.Exercises[i].Limits)
	}
	return n
}

// Clone returns a copy that shares nothing with the program that either may
// change.
func (p *Program) Clone() *Program {
	n := *p
	n.Precautions = slices.Clone(p.Precautions)
	n.Avoid = slices.Clone(p.Avoid)
	n.Limits = cloneLimits(p.Limits)
	n.Exercises = slices.Clone(p.Exercises)
	for i := range n.Exercises {
		e := &n.Exercises[i]
		e.Limits = cloneLimits(e.Limits)
		e.Targets = slices.Clone(e.Targets)
		for k := range e.Targets {
			e.Targets[k].Share, e.Targets[k].Deg = clone(e.Targets[k].Share), clone(e.Targets[k].Deg)
		}
		d := &e.Dose
		*d = Dose{clone(d.Sets), clone(d.Repetitions), clone(d.HoldSeconds), clone(d.RestSeconds), clone(d.TimesADay), clone(d.DaysAWeek)}
	}
	if p.Files != nil {
		n.Files = map[string][]byte{}
		for name, text := range p.Files {
			n.Files[name] = slices.Clone(text)
		}
	}
	return &n
}

func cloneLimits(l []Limit) []Limit {
	n := slices.Clone(l)
	for i := range n {
		n[i].Schedule = slices.Clone(n[i].Schedule)
	}
	return n
}

func clone[T any](p *T) *T {
	if p == nil {
		return nil
	}
	v := *p
	return &v
}
