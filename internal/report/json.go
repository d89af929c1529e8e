package report

import (
	"encoding/json"
	"fmt"
	"io"
	"math"
	"time"

	"volar/internal/hand"
	"volar/internal/review"
	"volar/internal/session"
)

// The JSON export. A number that is not known or was not judged is null, never
// zero.
type (
	exported struct {
		// Format is the version of this form, 1.
		Format   int    `json:"volar_export"`
		Client   string `json:"client"`
		Side     string `json:"side"`
		From     string `json:"from"`
		To       string `json:"to"`
		Made     string `json:"made_utc"`
		Software string `json:"software"`
		// Angles says how to read every angle.
		Angles    string             `json:"angles"`
		Adherence exportedAdherence  `json:"adherence"`
		Doses     []exportedDose     `json:"doses"`
		Sessions  []exportedSession  `json:"sessions"`
		Unjudged  []exportedUnjudged `json:"not_judged"`
		Steady    []exportedSteady   `json:"past_straight_whenever_straight,omitempty"`
		Marks     exportedMarks      `json:"flags_marked"`
		Minutes   float64            `json:"minutes_of_review"`
	}
	exportedAdherence struct {
		Prescribed float64  `json:"prescribed_repetitions"`
		Done       float64  `json:"done_repetitions"`
		Share      *float64 `json:"share"`
		Active     int      `json:"days_with_data"`
		Last30     int      `json:"days_with_data_in_last_30"`
	}
	exportedDose struct {
		Item        string  `json:"item"`
		Movement    string  `json:"movement"`
		Object      string  `json:"object,omitempty"`
		Sets        int     `json:"sets"`
		Repetitions int     `json:"repetitions"`
		HoldS       float64 `json:"hold_s"`
		TimesADay   int     `json:"times_a_day"`
		DaysAWeek   int     `json:"days_a_week"`
		Limits      string  `json:"limits,omitempty"`
		Prescribed  float64 `json:"prescribed_repetitions"`
		Done        int     `json:"done_repetitions"`
		// Hands are there for an exercise of two hands.
		Hands []exportedHand `json:"hands,omitempty"`
	}
	exportedHand struct {
		Side      string `json:"side"`
		Counted   int    `json:"counted_repetitions"`
		FellShort int    `json:"partial_repetitions"`
		NotJudged int    `json:"unjudged_repetitions"`
		Held      int    `json:"holds_met"`
		Holds     int    `json:"holds"`
	}
	exportedSteady struct {
		Joint    string  `json:"joint"`
		Side     string  `json:"side,omitempty"`
		Deg      float64 `json:"deg"`
		Sessions int     `json:"sessions"`
	}
	exportedSession struct {
		ID         string   `json:"id"`
		Date       string   `json:"date"`
		Started    string   `json:"started_utc"`
		DurationS  float64  `json:"duration_s"`
		State      string   `json:"state"`
		Version    int      `json:"program_version,omitempty"`
		Prescribed int      `json:"prescribed_repetitions"`
		Counted    int      `json:"counted_repetitions"`
		PainBefore *int     `json:"pain_before"`
		PainAfter  *int     `json:"pain_after"`
		Movements  []string `json:"movements"`
		// Joints are those of the export's side; those of the other hand are there
		// where it was judged too.
		Joints      map[string]exportedJoint `json:"joints"`
		OtherJoints map[string]exportedJoint `json:"other_joints,omitempty"`
		Flags       []exportedFlag           `json:"flags"`
	}
	exportedJoint struct {
		Least      *float64 `json:"least_flexion_deg"`
		LeastSE    *float64 `json:"least_flexion_se_deg"`
		Greatest   *float64 `json:"greatest_flexion_deg"`
		GreatestSE *float64 `json:"greatest_flexion_se_deg"`
	}
	exportedFlag struct {
		Number    int      `json:"number"`
		Kind      string   `json:"kind"`
		Subject   string   `json:"subject,omitempty"`
		Side      string   `json:"side"`
		Exercise  string   `json:"movement"`
		StartS    float64  `json:"start_s"`
		EndS      *float64 `json:"end_s"`
		PeakDeg   float64  `json:"peak_deg"`
		LimitDeg  float64  `json:"limit_deg"`
		SEDeg     float64  `json:"se_deg"`
		TookS     float64  `json:"took_s"`
		WantedS   float64  `json:"wanted_s"`
		Judgement string   `json:"judgement,omitempty"`
	}
	exportedUnjudged struct {
		Joint     string  `json:"joint"`
		Side      string  `json:"side,omitempty"`
		Extension bool    `json:"past_straight"`
		Share     float64 `json:"share"`
		Why       string  `json:"why"`
	}
	exportedMarks struct {
		Right   int      `json:"right"`
		Wrong   int      `json:"wrong"`
		Unclear int      `json:"unclear"`
		Share   *float64 `json:"share_right"`
	}
)

// known is a number rounded to tenths, or null.
func known(x float64) *float64 {
	if math.IsNaN(x) || math.IsInf(x, 0) {
		return nil
	}
	x = math.Round(x*10)/10 + 0 // + 0 turns minus zero round
	return &x
}

// JSON writes everything that the report has in one object, for software of
// one's own.
func (r *Report) JSON(w io.Writer) error {
	x := exported{
		Format: 1, Client: r.Client, Side: r.Side.String(), From: r.From.String(), To: r.To.String(), Made: r.Made.UTC().Format(time.RFC3339), Software: r.Software,
		Angles:    "estimates in degrees; flexion positive, past straight negative, 0 straight; se is the standard error of one reading; null was not judged",
		Adherence: exportedAdherence{r.Adhered.Prescribed, r.Adhered.Done, part(r.Adhered.Share), r.Adhered.Active, r.Adhered.Last30},
		Doses:     []exportedDose{}, Sessions: []exportedSession{}, Unjudged: []exportedUnjudged{},
		Marks:   exportedMarks{r.HitRate.Right, r.HitRate.Wrong, r.HitRate.Unclear, part(r.HitRate.Share)},
		Minutes: *known(r.Minutes),
	}
	for _, d := range r.Doses {
		dose := exportedDose{d.Item, d.Movement, d.Object, d.Dose.Sets, d.Dose.Repetitions, d.Dose.HoldSeconds, d.Dose.TimesADay, d.Dose.DaysAWeek, d.Limits, *known(d.Prescribed), d.Done, nil}
		for _, h := range d.Hands {
			dose.Hands = append(dose.Hands, exportedHand{h.Side.String(), h.Counted, h.FellShort, h.NotJudged, h.Held, h.Holds})
		}
		x.Doses = append(x.Doses, dose)
	}
	for i, s := range r.Sessions {
		x.Sessions = append(x.Sessions, r.exportSession(s, &r.Summary[i]))
	}
	for _, u := range r.Unjudged {
		x.Unjudged = append(x.Unjudged, exportedUnjudged{u.Joint.String(), r.sideName(u.Side), u.Extension, *part(u.Share), string(u.Why)})
	}
	for _, s := range r.Steady {
		x.Steady = append(x.Steady, exportedSteady{s.Joint, r.sideName(s.Side), *known(s.Deg), s.Sessions})
	}
	enc := json.NewEncoder(w)
	enc.SetIndent("", "  ")
	if err := enc.Encode(&x); err != nil {
		return fmt.Errorf("writing json: %w", err)
	}
	return nil
}

// part is a share rounded to thousandths, or null.
func part(x float64) *float64 {
	if math.IsNaN(x) {
		return nil
	}
	x = math.Round(x*1000) / 1000
	return &x
}

// sideName is a hand where that is not the export's own, else empty.
func (r *Report) sideName(side hand.Side) string {
	if side == hand.UnknownSide || side == r.Side {
		return ""
	}
	return side.String()
}

func exportJoints(s *session.Session, side hand.Side) map[string]exportedJoint {
	all := map[string]exportedJoint{}
	reach, ok := review.ReachOf(s, side)
	for j := hand.Joint(0); j < hand.NumJoints; j++ {
		if !ok[j] {
			continue
		}
		e := exportedJoint{Greatest: known(reach[j].MaxDeg), GreatestSE: known(reach[j].MaxSE)}
		if reach[j].MinJudged {
			e.Least, e.LeastSE = known(reach[j].MinDeg), known(reach[j].MinSE)
		}
		all[j.String()] = e
	}
	return all
}

func (r *Report) exportSession(s *session.Session, m *review.Summary) exportedSession {
	x := exportedSession{
		ID: s.ID.String(), Date: review.LocalDay(s.Started, s.Zone).String(), Started: s.Started.UTC().Format(time.RFC3339), DurationS: *known(s.Ended.Seconds()),
		State: string(s.State), Version: s.Version, Prescribed: m.Prescribed, Counted: m.Counted, PainBefore: m.PainBefore, PainAfter: m.PainAfter,
		Movements: []string{}, Flags: []exportedFlag{},
	}
	for i := range s.Exercises {
		x.Movements = append(x.Movements, s.Exercises[i].Movement)
	}
	for i, side := range r.Hands {
		joints := exportJoints(s, side)
		switch {
		case i == 0:
			x.Joints = joints
		case len(joints) > 0:
			x.OtherJoints = joints
		}
	}
	for i := range r.Flags {
		f := &r.Flags[i]
		if f.Session != s.ID {
			continue
		}
		e := exportedFlag{
			Number: f.Number, Kind: f.Kind, Subject: f.Subject, Side: f.Side.String(), Exercise: f.Exercise, StartS: *known(f.Start.Seconds()),
			PeakDeg: *known(f.PeakDeg), LimitDeg: *known(f.LimitDeg), SEDeg: *known(f.SEDeg), TookS: *known(f.Took.Seconds()), WantedS: *known(f.Wanted.Seconds()),
			Judgement: string(f.Judgement),
		}
		if f.Ended {
			e.EndS = known(f.End.Seconds())
		}
		x.Flags = append(x.Flags, e)
	}
	return x
}
