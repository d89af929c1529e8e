package review

import (
	"fmt"
	"slices"
	"strings"

	"volar/internal/hand"
	"volar/internal/session"
)

// Fault is what was flagged of one joint or step of one hand.
type Fault struct {
	// Kind is a coach.FlagKind, Subject what it is of: a joint such as "index.pip",
	// a step's name, or nothing.
	Kind, Subject string
	// Side is unknown in summaries of before it was kept.
	Side hand.Side
}

func faultOf(f *session.Flag) Fault { return Fault{f.Kind, f.Subject, f.Side} }

// sideMark stands before the side in a fault's text.
const sideMark = "@"

// MarshalText writes a fault such as "hyperextension index.pip@left", as it
// stands in a kept summary.
func (f Fault) MarshalText() ([]byte, error) {
	s := strings.TrimSpace(f.Kind + " " + f.Subject)
	if f.Side != hand.UnknownSide {
		s += sideMark + f.Side.String()
	}
	return []byte(s), nil
}

// UnmarshalText reads what MarshalText writes.
func (f *Fault) UnmarshalText(b []byte) error {
	*f = Fault{}
	s := string(b)
	if i := strings.LastIndex(s, sideMark); i >= 0 {
		if side, err := hand.ParseSide(s[i+len(sideMark):]); err == nil {
			f.Side, s = side, s[:i]
		}
	}
	f.Kind, f.Subject, _ = strings.Cut(s, " ")
	if f.Kind == "" {
		return fmt.Errorf("fault %q names no kind", b)
	}
	return nil
}

// same reports whether two may be the same fault: where the hand of one is not
// known, it may be either.
func (f Fault) same(g Fault) bool {
	known := f.Side != hand.UnknownSide && g.Side != hand.UnknownSide
	return f.Kind == g.Kind && f.Subject == g.Subject && (!known || f.Side == g.Side)
}

// newFaults lists the faults of no earlier session, in words and in order. The
// hand is named where two were judged.
func (m *Summary) newFaults(earlier []Summary) []string {
	var fresh []string
	for f := range m.Faults {
		if slices.ContainsFunc(earlier, func(e Summary) bool { return e.had(f) }) {
			continue
		}
		words := FaultWords(f.Kind, f.Subject)
		if m.TwoHands {
			words += HandWords(f.Side)
		}
		if !slices.Contains(fresh, words) {
			fresh = append(fresh, words)
		}
	}
	slices.Sort(fresh)
	return fresh
}

func (m *Summary) had(f Fault) bool {
	for g := range m.Faults {
		if g.same(f) {
			return true
		}
	}
	return false
}
