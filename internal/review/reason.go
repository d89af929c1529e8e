package review

import (
	"cmp"
	"fmt"
	"slices"
	"strings"
	"time"

	"volar/internal/coach"
	"volar/internal/hand"
	"volar/internal/session"
)

// Reason is one reason to look at a session.
type Reason string

// The reasons, most pressing first.
const (
	SharpPain      Reason = "sharp pain"
	StoppedForPain Reason = "stopped for pain"
	PainRose       Reason = "pain rose"
	LimitPassed    Reason = "limit passed"
	PastStraight   Reason = "past straight throughout"
	NewFault       Reason = "new fault"
	LittleDone     Reason = "little done"
	LittleSeen     Reason = "little seen"
	BrokenOff      Reason = "broken off"
	ClientNote     Reason = "note from the client"
)

var pressing = []Reason{SharpPain, StoppedForPain, PainRose, LimitPassed, PastStraight, NewFault, LittleDone, LittleSeen, BrokenOff, ClientNote}

const (
	// littleDone is the share of a session's dose under which it is worth a
	// look; trials of home exercise count 80 % as adherent.
	littleDone = 0.8
	// littleSeen is the share of the time that was followed under which the
	// camera, not the client, may be what is wrong.
	littleSeen = 0.5
	// painRise is the rise on the scale of 0 to 10 above which pain counts as
	// risen: 2 points are a clinically important change (Farrar 2001, from
	// memory).
	painRise = 2
)

// Summary is what a list shows of a session, small enough to be kept beside it.
type Summary struct {
	ID      session.ID    `json:"id"`
	Client  string        `json:"client"`
	Program string        `json:"program,omitempty"`
	Version int           `json:"version,omitempty"`
	Started time.Time     `json:"started"`
	Zone    string        `json:"zone,omitempty"`
	State   session.State `json:"state"`
	// Length of the session.
	Length time.Duration `json:"length_ns"`
	// Prescribed and Counted repetitions of the exercises that were begun.
	Prescribed int `json:"prescribed"`
	Counted    int `json:"counted"`
	Partial    int `json:"partial"`
	// Faults counts flags by what they say of which hand.
	Faults map[Fault]int `json:"faults,omitempty"`
	// TwoHands is true where an exercise judged both hands.
	TwoHands bool `json:"two_hands,omitempty"`
	// Standing are middle knuckles that read past straight all the time.
	Standing []Standing `json:"standing,omitempty"`
	// WorstDeg is the greatest distance past a limit in degrees, and WorstAt
	// names the joint; empty where no limit was passed. WorstOf is its hand where
	// two were judged.
	WorstDeg float64   `json:"worst_deg,omitempty"`
	WorstAt  string    `json:"worst_at,omitempty"`
	WorstOf  hand.Side `json:"worst_of,omitempty"`
	// PainBefore is the first answer, PainAfter the greatest after an exercise;
	// nil where nobody answered.
	PainBefore *int `json:"pain_before,omitempty"`
	PainAfter  *int `json:"pain_after,omitempty"`
	// Hurt is true where the client stopped for pain, Sharp where it was
	// called sharp or shooting.
	Hurt  bool `json:"hurt,omitempty"`
	Sharp bool `json:"sharp,omitempty"`
	// Measured is the share of the time of the sets that was followed, 0 to 1,
	// pauses and rests left out; nil where nothing lasted.
	Measured *float64 `json:"measured,omitempty"`
	// Notes counts the client's notes.
	Notes int `json:"notes,omitempty"`
}

// Summarize sums a session up.
func Summarize(s *session.Session) Summary {
	m := Summary{
		ID: s.ID, Client: s.Client, Program: s.Program, Version: s.Version, Started: s.Started, Zone: s.Zone,
		State: s.State, Length: s.Ended,
	}
	var followed, lasted float64
	for i := range s.Exercises {
		e := &s.Exercises[i]
		m.Prescribed += e.Prescribed()
		m.Counted += e.Counted
		m.Partial += e.Partial
		m.Sharp = m.Sharp || e.Sharp
		m.TwoHands = m.TwoHands || e.TwoHands()
		if m.PainBefore == nil {
			m.PainBefore = e.PainBefore
		}
		if e.PainAfter != nil && (m.PainAfter == nil || *e.PainAfter > *m.PainAfter) {
			m.PainAfter = e.PainAfter
		}
		if d := s.Watched(e).Seconds(); d > 0 {
			followed += e.Measured * d
			lasted += d
		}
	}
	if lasted > 0 {
		share := followed / lasted
		m.Measured = &share
	}
	for _, a := range s.Answers {
		switch a.Kind {
		case session.Hurt:
			m.Hurt = true
		case session.SharpPain:
			m.Sharp = true
		case session.Note:
			if strings.TrimSpace(a.Text) != "" {
				m.Notes++
			}
		}
	}
	for _, f := range session.Flags(s.Events) {
		if m.Faults == nil {
			m.Faults = map[Fault]int{}
		}
		m.Faults[faultOf(&f)]++
		if past := PastLimit(&f); past > m.WorstDeg {
			m.WorstDeg, m.WorstAt, m.WorstOf = past, f.Subject, hand.UnknownSide
			if slices.ContainsFunc(s.Exercises, func(e session.Exercise) bool { return e.Number == f.Exercise && e.TwoHands() }) {
				m.WorstOf = f.Side
			}
		}
	}
	m.Standing = standing(s)
	return m
}

// PastLimit is how far a flag went past its limit, in degrees; 0 for a flag
// that is not about an angle's limit.
func PastLimit(f *session.Flag) float64 {
	switch coach.FlagKind(f.Kind) {
	case coach.Hyperextension:
		return max(f.LimitDeg-f.PeakDeg, 0)
	case coach.OverFlexion:
		return max(f.PeakDeg-f.LimitDeg, 0)
	}
	return 0
}

// Share is the share of the begun exercises' dose that was counted, at most 1;
// ok is false where nothing was prescribed.
func (m *Summary) Share() (share float64, ok bool) {
	if m.Prescribed <= 0 {
		return 0, false
	}
	return min(float64(m.Counted)/float64(m.Prescribed), 1), true
}

// LimitFlags counts the flags that passed a limit.
func (m *Summary) LimitFlags() int {
	n := 0
	for f, count := range m.Faults {
		if k := coach.FlagKind(f.Kind); k == coach.Hyperextension || k == coach.OverFlexion {
			n += count
		}
	}
	return n
}

// Why is a reason with what is behind it.
type Why struct {
	Reason Reason `json:"reason"`
	// Words is one short sentence for the therapist.
	Words string `json:"words"`
}

// NeedsEyes says why a session is worth a look, most pressing reason first;
// none for a session in which all went as prescribed. Earlier are the client's
// sessions before it: a fault that none of them has is new. Without earlier
// ones every fault is the first, and none is called new.
func NeedsEyes(m *Summary, earlier []Summary) []Why {
	var why []Why
	add := func(r Reason, format string, a ...any) { why = append(why, Why{r, fmt.Sprintf(format, a...)}) }
	if m.Sharp {
		add(SharpPain, "The client reported sharp or shooting pain.")
	}
	if m.Hurt {
		add(StoppedForPain, "The client stopped because it hurt.")
	}
	if m.PainBefore != nil && m.PainAfter != nil && *m.PainAfter-*m.PainBefore > painRise {
		add(PainRose, "Pain went from %d to %d of 10.", *m.PainBefore, *m.PainAfter)
	}
	if n := m.LimitFlags(); n > 0 {
		add(LimitPassed, "A limit was passed %s, by %.0f° at most (%s).", times(n), m.WorstDeg, subjectWords(m.WorstAt)+HandWords(m.WorstOf))
	}
	if fresh := m.newStanding(earlier); len(fresh) > 0 {
		add(PastStraight, "Past straight whenever straight, and so not flagged: %s. It may be the camera; look beside a goniometer.", strings.Join(fresh, ", "))
	}
	if len(earlier) > 0 {
		if fresh := m.newFaults(earlier); len(fresh) > 0 {
			add(NewFault, "Not seen before: %s.", strings.Join(fresh, ", "))
		}
	}
	if share, ok := m.Share(); ok && share < littleDone {
		add(LittleDone, "%d of %d repetitions were counted.", m.Counted, m.Prescribed)
	}
	if m.Measured != nil && *m.Measured < littleSeen {
		add(LittleSeen, "The movement could be followed for only %.0f %% of the time.", 100**m.Measured)
	}
	if m.State == session.Interrupted {
		add(BrokenOff, "The recording broke off.")
	}
	if m.Notes > 0 {
		add(ClientNote, "The client left a note.")
	}
	slices.SortStableFunc(why, func(a, b Why) int {
		return cmp.Compare(slices.Index(pressing, a.Reason), slices.Index(pressing, b.Reason))
	})
	return why
}

func times(n int) string {
	if n == 1 {
		return "once"
	}
	return fmt.Sprintf("%d times", n)
}

// Item is a session in the list of what is to be looked at.
type Item struct {
	Summary
	Why  []Why `json:"why"`
	Read bool  `json:"read"`
}

// Queue puts sessions in the order in which they need eyes: unread ones first;
// among them by the most pressing reason, then by how many reasons, then the
// newest first. Summaries may come in any order and of any number of clients.
func Queue(all []Summary, read func(session.ID) bool) []Item {
	byTime := slices.Clone(all)
	slices.SortStableFunc(byTime, func(a, b Summary) int { return a.Started.Compare(b.Started) })
	// A client's earlier faults are carried along, so that ten thousand
	// sessions need one pass.
	seen := map[string]*Summary{}
	items := make([]Item, 0, len(all))
	for i := range byTime {
		m := &byTime[i]
		var earlier []Summary
		past := seen[m.Client]
		if past == nil {
			past = &Summary{Faults: map[Fault]int{}}
			seen[m.Client] = past
		} else {
			earlier = []Summary{*past}
		}
		items = append(items, Item{*m, NeedsEyes(m, earlier), read(m.ID)})
		for what, n := range m.Faults {
			past.Faults[what] += n
		}
		past.Standing = append(past.Standing, m.Standing...)
	}
	slices.SortStableFunc(items, func(a, b Item) int {
		switch {
		case a.Read != b.Read:
			if a.Read {
				return 1
			}
			return -1
		case !a.Read && Urgency(a.Why) != Urgency(b.Why):
			return cmp.Compare(Urgency(b.Why), Urgency(a.Why))
		}
		return b.Started.Compare(a.Started)
	})
	return items
}

// Urgency is how soon reasons ask for eyes, greater first: by the most pressing
// one, then by how many there are. It is 0 without a reason.
func Urgency(why []Why) int {
	if len(why) == 0 {
		return 0
	}
	return (len(pressing)-slices.Index(pressing, why[0].Reason))*(len(pressing)+1) + len(why)
}
