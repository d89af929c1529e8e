package main

import (
	"math"
	"slices"
	"time"

	"volar/internal/camera"
	"volar/internal/coach"
	"volar/internal/hand"
)

// checkResult is check's JSON.
type checkResult struct {
	Video       string                `json:"video"`
	Exercise    string                `json:"exercise"`
	Program     *programResult        `json:"program,omitempty"`
	Side        string                `json:"side"`
	DurationS   float64               `json:"duration_s"`
	Frames      int                   `json:"frames"`
	Measured    float64               `json:"measured"`
	Repetitions repetitionsResult     `json:"repetitions"`
	Holds       []holdResult          `json:"holds"`
	Flags       []flagResult          `json:"flags"`
	NotJudged   []notJudgedResult     `json:"not_judged"`
	Angles      map[string]angleRange `json:"angles"`
	// Sets and Rests are there with a program, Other and Both where it is done with two
	// hands.
	Sets   []setResult  `json:"sets,omitempty"`
	Rests  []restResult `json:"rests,omitempty"`
	Other  *otherResult `json:"other,omitempty"`
	Both   *bothResult  `json:"both,omitempty"`
	Timing timingResult `json:"timing"`

	summary        coach.Summary
	found, crowded int
	breaksOff      error
}

type repetitionsResult struct {
	Counted  int `json:"counted"`
	Partial  int `json:"partial"`
	Unjudged int `json:"unjudged"`
	// Each are the hand's own attempts in a movement of two hands.
	Each []repetitionResult `json:"each,omitempty"`
}

type repetitionResult struct {
	Side    string        `json:"side"`
	Number  int           `json:"number"`
	Verdict coach.Verdict `json:"verdict"`
	StartS  float64       `json:"start_s"`
	EndS    float64       `json:"end_s"`
}

// holdResult and flagResult have a side in a movement of two hands.
type holdResult struct {
	Side    string  `json:"side,omitempty"`
	StartS  float64 `json:"start_s"`
	EndS    float64 `json:"end_s"`
	HeldS   float64 `json:"held_s"`
	WantedS float64 `json:"wanted_s"`
	Met     bool    `json:"met"`
	// Unsure is true where the hold may have been met unseen.
	Unsure bool `json:"unsure,omitempty"`
}

type flagResult struct {
	Kind  coach.FlagKind `json:"kind"`
	Side  string         `json:"side,omitempty"`
	Joint string         `json:"joint"`
	// Repetition counts attempts from 1.
	Repetition int     `json:"repetition"`
	StartS     float64 `json:"start_s"`
	EndS       float64 `json:"end_s"`
	PeakDeg    float64 `json:"peak_deg"`
	LimitDeg   float64 `json:"limit_deg"`
	SEDeg      float64 `json:"se_deg"`
	TookS      float64 `json:"took_s,omitempty"`
	WantedS    float64 `json:"wanted_s,omitempty"`
}

type notJudgedResult struct {
	Joint string `json:"joint"`
	// What is "angle", or "extension" where only the question whether the
	// joint passed straight stayed open.
	What  string      `json:"what"`
	Share float64     `json:"share"`
	Why   hand.Reason `json:"why"`
}

type angleRange struct {
	MinDeg float64 `json:"min_deg"`
	MaxDeg float64 `json:"max_deg"`
	// MinJudged is false where the least angle lay near straight in a view
	// that cannot show whether the joint went past it.
	MinJudged bool `json:"min_judged"`
}

type timingResult struct {
	FrameMSMedian float64 `json:"frame_ms_median"`
	FrameMSP95    float64 `json:"frame_ms_p95"`
	Realtime      float64 `json:"realtime"`
}

func (r *checkResult) fill(s coach.Summary, side hand.Side, last time.Duration, info camera.Info) {
	r.summary = s
	r.Side = side.String()
	// The last picture is shown for one interval too.
	length := last
	if r.Frames > 1 {
		length += last / time.Duration(r.Frames-1)
	} else if info.FPS > 0 {
		length += time.Duration(float64(time.Second) / info.FPS)
	}
	r.DurationS = round(length.Seconds(), 3)
	r.Measured = round(s.Measured, 3)
	r.Repetitions = repetitionsResult{s.Counted, s.Partial, s.Unjudged, nil}
	r.Holds, r.Flags, r.NotJudged = holdResults(s.Holds), flagResults(s.Flags), notJudgedResults(s.NotJudged)
	r.Angles = angleRanges(s.Angles)
}

func angleRanges(list []coach.AngleRange) map[string]angleRange {
	all := map[string]angleRange{}
	for _, a := range list {
		all[a.Joint.String()] = angleRange{round(a.MinDeg, 1), round(a.MaxDeg, 1), a.MinJudged}
	}
	return all
}

func holdResults(holds []coach.Hold) []holdResult {
	out := []holdResult{}
	for _, h := range holds {
		out = append(out, holdResult{"", secs(h.Start), secs(h.End), secs(h.Held), secs(h.Wanted), h.Met, h.Unsure})
	}
	return out
}

func flagResults(flags []coach.Flag) []flagResult {
	out := []flagResult{}
	for _, f := range flags {
		out = append(out, flagResult{f.Kind, "", f.Subject(), f.Repetition, secs(f.Start), secs(f.End),
			round(f.PeakDeg, 1), round(f.LimitDeg, 1), round(f.SEDeg, 1), secs(f.Took), secs(f.Wanted)})
	}
	return out
}

func notJudgedResults(joints []coach.NotJudged) []notJudgedResult {
	out := []notJudgedResult{}
	for _, n := range joints {
		what := "angle"
		if n.Extension {
			what = "extension"
		}
		out = append(out, notJudgedResult{n.Joint.String(), what, round(n.Share, 3), n.Why})
	}
	return out
}

func secs(d time.Duration) float64 { return round(d.Seconds(), 3) }

// timing says what a picture cost, from asking for it to the coach's answer.
func timing(took []time.Duration, seconds float64, spent time.Duration) timingResult {
	slices.Sort(took)
	at := func(share float64) float64 {
		i := min(len(took)-1, int(share*float64(len(took))))
		return round(float64(took[i].Microseconds())/1000, 2)
	}
	return timingResult{at(0.5), at(0.95), round(seconds/math.Max(spent.Seconds(), 1e-9), 2)}
}
