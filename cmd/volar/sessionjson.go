package main

import (
	"cmp"
	"slices"
	"strings"
	"time"

	"volar/internal/hand"
	"volar/internal/review"
	"volar/internal/session"
	"volar/internal/vault"
)

// The JSON of volar sessions and volar show.
type (
	entryShown struct {
		ID         string  `json:"id"`
		Client     string  `json:"client"`
		Program    string  `json:"program,omitempty"`
		Version    int     `json:"program_version,omitempty"`
		Started    string  `json:"started"`
		Zone       string  `json:"zone"`
		State      string  `json:"state"`
		DurationS  float64 `json:"duration_s"`
		Samples    int     `json:"samples"`
		Found      int     `json:"found"`
		Exercises  int     `json:"exercises"`
		Stopped    int     `json:"stopped"`
		Skipped    int     `json:"skipped"`
		Prescribed int     `json:"prescribed"`
		Counted    int     `json:"counted"`
		Partial    int     `json:"partial"`
		Unjudged   int     `json:"unjudged"`
		PainBefore *int    `json:"pain_before"`
		PainAfter  *int    `json:"pain_after"`
		Effort     *int    `json:"effort"`
		Hurt       int     `json:"hurt"`
		Sharp      bool    `json:"sharp"`
		Flags      int     `json:"flags"`
		Limits     int     `json:"limits_passed"`
		NewFlags   int     `json:"new_faults"`
		Pictures   int     `json:"pictures"`
		Read       bool    `json:"read"`
		// Why it is worth a look, most pressing first.
		Why []review.Why `json:"why"`
	}
	sessionShown struct {
		entryShown
		Done    []exerciseShown `json:"done"`
		Steady  []steadyShown   `json:"past_straight_whenever_straight,omitempty"`
		Answers []answerShown   `json:"answers"`
		Reviews []reviewShown   `json:"reviews"`
		Samples []sampleShown   `json:"all_samples,omitempty"`
	}
	exerciseShown struct {
		Number     int     `json:"number"`
		Item       string  `json:"item,omitempty"`
		Movement   string  `json:"movement"`
		Side       string  `json:"side"`
		Object     string  `json:"object,omitempty"`
		Grade      string  `json:"grade,omitempty"`
		StartS     float64 `json:"start_s"`
		EndS       float64 `json:"end_s"`
		Outcome    string  `json:"outcome"`
		StopReason string  `json:"stop_reason,omitempty"`
		Prescribed int     `json:"prescribed"`
		Counted    int     `json:"counted"`
		Partial    int     `json:"partial"`
		Unjudged   int     `json:"unjudged"`
		PainBefore *int    `json:"pain_before"`
		PainAfter  *int    `json:"pain_after"`
		Effort     *int    `json:"effort"`
		Sharp      bool    `json:"sharp"`
		// Angles are those of the exercise's side. OtherAngles, those of the other
		// hand, and Hands, what each did, are there where two were judged.
		Angles      map[string]rangeShown `json:"angles"`
		OtherAngles map[string]rangeShown `json:"other_angles,omitempty"`
		Hands       []handShown           `json:"hands,omitempty"`
		Flags       []flagShown           `json:"flags"`
	}
	handShown struct {
		Side     string `json:"side"`
		Counted  int    `json:"counted"`
		Partial  int    `json:"partial"`
		Unjudged int    `json:"unjudged"`
		// HoldsMet of Holds were long enough.
		HoldsMet int `json:"holds_met"`
		Holds    int `json:"holds"`
	}
	// steadyShown is a middle knuckle that read past straight whenever it was
	// straight; its side is there where two hands were recorded.
	steadyShown struct {
		Joint string  `json:"joint"`
		Side  string  `json:"side,omitempty"`
		Deg   float64 `json:"deg"`
	}
	rangeShown struct {
		MinDeg    float64 `json:"min_deg"`
		MaxDeg    float64 `json:"max_deg"`
		MinJudged bool    `json:"min_judged"`
	}
	flagShown struct {
		Number     int      `json:"number"`
		Kind       string   `json:"kind"`
		Subject    string   `json:"subject,omitempty"`
		Side       string   `json:"side"`
		Repetition int      `json:"repetition"`
		StartS     float64  `json:"start_s"`
		EndS       *float64 `json:"end_s"`
		PeakDeg    float64  `json:"peak_deg"`
		LimitDeg   float64  `json:"limit_deg"`
		SEDeg      float64  `json:"se_deg"`
		TookS      float64  `json:"took_s,omitempty"`
		WantedS    float64  `json:"wanted_s,omitempty"`
	}
	answerShown struct {
		AtS      float64 `json:"at_s"`
		Exercise int     `json:"exercise"`
		Kind     string  `json:"kind"`
		Value    *int    `json:"value"`
		Text     string  `json:"text,omitempty"`
	}
	reviewShown struct {
		Reviewer string                   `json:"reviewer"`
		At       string                   `json:"at"`
		Note     review.Note              `json:"note"`
		Read     bool                     `json:"read"`
		Seconds  int                      `json:"seconds"`
		Marks    map[int]review.Judgement `json:"marks"`
	}
	sampleShown struct {
		AtS    float64                `json:"at_s"`
		Found  bool                   `json:"found"`
		Side   string                 `json:"side"`
		View   string                 `json:"view,omitempty"`
		Joints map[string]sampleJoint `json:"joints,omitempty"`
	}
	sampleJoint struct {
		FlexionDeg float64 `json:"flexion_deg"`
		SEDeg      float64 `json:"se_deg"`
		Judged     bool    `json:"judged"`
		Why        string  `json:"why,omitempty"`
	}
)

func entryJSON(e *vault.Entry) entryShown {
	return entryShown{
		ID: e.ID.String(), Client: e.Client, Program: e.Program, Version: e.Version, Started: e.Started.Format(time.RFC3339), Zone: e.Zone,
		State: string(e.State), DurationS: secs(e.Ended), Samples: e.Samples, Found: e.Found, Exercises: e.Exercises, Stopped: e.Stopped, Skipped: e.Skipped,
		Prescribed: e.Prescribed, Counted: e.Counted, Partial: e.Partial, Unjudged: e.Unjudged,
		PainBefore: e.PainBefore, PainAfter: e.PainAfter, Effort: e.Effort, Hurt: e.Hurt, Sharp: e.Sharp,
		Flags: e.Flags, Limits: e.Limits, NewFlags: e.NewFlags, Pictures: e.Pictures, Read: !e.Read.IsZero(), Why: slices.Concat([]review.Why{}, e.Why),
	}
}

func shownJSON(entry *vault.Entry, s *session.Session, reviews []review.Review, samples bool) sessionShown {
	r := sessionShown{entryShown: entryJSON(entry), Done: []exerciseShown{}, Answers: []answerShown{}, Reviews: []reviewShown{}}
	flags, spans := session.Flags(s.Events), review.Spans(s)
	for _, y := range review.Summarize(s).Standing {
		r.Steady = append(r.Steady, steadyShown{y.Joint, sideName(y.Side), round(y.Deg, 1)})
	}
	for i := range s.Exercises {
		e := &s.Exercises[i]
		x := exerciseShown{
			Number: e.Number, Item: e.Item, Movement: e.Movement, Side: e.Side.String(), Object: e.Object, Grade: e.Grade,
			StartS: secs(e.Start), EndS: secs(e.End), Outcome: string(e.Outcome), StopReason: e.StopReason,
			Prescribed: e.Prescribed(), Counted: e.Counted, Partial: e.Partial, Unjudged: e.Unjudged,
			PainBefore: e.PainBefore, PainAfter: e.PainAfter, Effort: e.Effort, Sharp: e.Sharp,
			Angles: map[string]rangeShown{}, Flags: []flagShown{},
		}
		for _, a := range e.Ranges {
			g := rangeShown{round(a.MinDeg, 1), round(a.MaxDeg, 1), a.MinJudged}
			if cmp.Or(a.Side, e.Side) == e.Side {
				x.Angles[a.Joint.String()] = g
				continue
			}
			if x.OtherAngles == nil {
				x.OtherAngles = map[string]rangeShown{}
			}
			x.OtherAngles[a.Joint.String()] = g
		}
		for _, d := range review.ByHand(e, spans) {
			x.Hands = append(x.Hands, handShown{d.Side.String(), d.Counted, d.FellShort, d.NotJudged, d.Held, d.Holds})
		}
		for j := range flags {
			if flags[j].Exercise == e.Number {
				x.Flags = append(x.Flags, flagJSON(&flags[j]))
			}
		}
		r.Done = append(r.Done, x)
	}
	for _, a := range s.Answers {
		r.Answers = append(r.Answers, answerShown{secs(a.At), a.Exercise, string(a.Kind), a.Value, a.Text})
	}
	for _, v := range reviews {
		x := reviewShown{v.By, v.At.UTC().Format(time.RFC3339), v.Note, v.Read, v.Seconds, map[int]review.Judgement{}}
		for _, m := range v.Marks {
			x.Marks[m.Flag] = m.Judgement
		}
		r.Reviews = append(r.Reviews, x)
	}
	if samples {
		for i := range s.Samples {
			r.Samples = append(r.Samples, sampleJSON(&s.Samples[i]))
		}
	}
	return r
}

// sideName is a hand that has to be named, else empty.
func sideName(s hand.Side) string {
	if s == hand.UnknownSide {
		return ""
	}
	return s.String()
}

func flagJSON(f *session.Flag) flagShown {
	x := flagShown{
		Number: f.Number, Kind: f.Kind, Subject: f.Subject, Side: f.Side.String(), Repetition: f.Repetition, StartS: secs(f.Start),
		PeakDeg: round(f.PeakDeg, 1), LimitDeg: round(f.LimitDeg, 1), SEDeg: round(f.SEDeg, 1), TookS: secs(f.Took), WantedS: secs(f.Wanted),
	}
	if f.Ended {
		end := secs(f.End)
		x.EndS = &end
	}
	return x
}

func sampleJSON(s *session.Sample) sampleShown {
	r := sampleShown{AtS: secs(s.Time), Found: s.Found, Side: s.Side.String()}
	if !s.Found {
		return r
	}
	r.View, r.Joints = s.View.Name(), map[string]sampleJoint{}
	for j := range hand.Joint(hand.NumJoints) {
		m := &s.Joints[j]
		r.Joints[j.String()] = sampleJoint{round(m.FlexionDeg, 1), round(m.SEDeg, 1), m.Judged, strings.TrimSpace(string(m.Why))}
	}
	return r
}
