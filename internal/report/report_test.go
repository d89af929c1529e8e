package report

import (
	"bytes"
	"encoding/csv"
	"encoding/json"
	"fmt"
	"io"
	"os"
	"path/filepath"
	"strings"
	"testing"
	"time"

	"github.com/santhosh-tekuri/jsonschema/v6"
	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"volar/internal/coach"
	"volar/internal/hand"
	"volar/internal/program"
	"volar/internal/review"
	"volar/internal/session"
)

const programText = `volar_program: 1
client: C-017
side: right
version: %d
valid_from: %s
zone: Europe/Berlin
next_review: 2026-12-21
message: Go slowly, and stop each movement before it hurts.
exercises:
  - movement: whole-hand-grip
    dose: {sets: 2, repetitions: 10, hold_s: %d, rest_s: 60, times_a_day: 1, days_a_week: 7}
  - movement: straight-finger-hold
    dose: {sets: 1, repetitions: 5, hold_s: 5, rest_s: 30, times_a_day: 1, days_a_week: 7}
`

func written(t *testing.T, version int, from string, hold int) *program.Program {
	t.Helper()
	p, _, err := program.Parse([]byte(fmt.Sprintf(programText, version, from, hold)), program.Source{})
	require.NoError(t, err)
	return p
}

func some(n int) *int { return &n }

// input is three weeks of an invented client.
func input(t *testing.T) Input {
	h, err := program.NewHistory(written(t, 1, "2026-11-23", 3), written(t, 2, "2026-12-07", 5))
	require.NoError(t, err)
	berlin, err := time.LoadLocation("Europe/Berlin")
	require.NoError(t, err)
	in := Input{
		Client: "C-017", Side: hand.Right, Zone: berlin, History: h, Software: "volar test",
		From: program.Date{Year: 2026, Month: 11, Day: 23}, To: program.Date{Year: 2026, Month: 12, Day: 13},
		Made:     time.Date(2026, 12, 14, 8, 0, 0, 0, time.UTC),
		Baseline: map[hand.Joint]coach.Range{hand.IndexPIP: {Start: 4, End: 78}, hand.MiddlePIP: {Start: 3, End: 82}}, BaselineOn: program.Date{Year: 2026, Month: 11, Day: 20},
		Reviews: map[session.ID][]review.Review{},
	}
	for n := range 14 {
		at := time.Date(2026, 11, 23, 17, 0, 0, 0, time.UTC).AddDate(0, 0, n*3/2)
		s := &session.Session{Header: session.Header{ID: session.ID{byte(n + 1)}, Client: "C-017", Program: "C-017", Version: 1, Started: at, Zone: "Europe/Berlin"}, State: session.Closed, Ended: 90 * time.Second}
		var ranges []session.Range
		for j := hand.Joint(0); j < 12; j++ {
			ranges = append(ranges, session.Range{Joint: j, MinDeg: 6 - float64(n)/3 - float64(j%3), MaxDeg: 60 + 2*float64(n) + float64(j), MinJudged: j.Finger() == hand.Index})
		}
		s.Exercises = []session.Exercise{
			{Number: 1, Item: "whole-hand-grip", Movement: "whole-hand-grip", Sets: 2, Repetitions: 10, Start: 0, End: 60 * time.Second, Outcome: session.Done, Counted: 17 + n%4, Partial: 1, Measured: 0.95,
				PainBefore: some(2), PainAfter: some(3), Ranges: ranges, NotJudged: []session.NotJudged{{Joint: hand.LittlePIP, Extension: true, Share: 1, Why: hand.WrongView}, {Joint: hand.RingDIP, Share: 0.3, Why: hand.Hidden}}},
			{Number: 2, Item: "straight-finger-hold", Movement: "straight-finger-hold", Sets: 1, Repetitions: 5, Start: 62 * time.Second, End: 90 * time.Second, Outcome: session.Done, Counted: 5, Measured: 0.9},
		}
		for k := range 300 {
			x := session.Sample{Sample: hand.Sample{Time: time.Duration(k) * 300 * time.Millisecond, Found: true}}
			for j := range x.Joints {
				x.Joints[j] = hand.Measurement{FlexionDeg: 30 + float64(j), SEDeg: 4, Judged: true, ExtensionJudged: j < 3}
			}
			if k%3 == 0 {
				for j := range x.Joints { // near the ends that the ranges state
					x.Joints[j].FlexionDeg = 60 + 2*float64(n) + float64(j)
				}
			}
			if k > 230 && k < 242 {
				x.Joints[hand.IndexPIP].FlexionDeg = -9 - float64(n)
			}
			s.Samples = append(s.Samples, x)
		}
		if n%3 == 0 {
			f := coach.Flag{Kind: coach.Hyperextension, OnJoint: true, Joint: hand.IndexPIP, Start: 70 * time.Second, End: 72 * time.Second, PeakDeg: -9 - float64(n), SEDeg: 4, Repetition: 2}
			e := session.Flatten(coach.FlagEnded{Flag: f}, 0)
			e.At, e.Exercise, e.Flag = f.End, 2, 1
			s.Events = append(s.Events, e)
			in.Reviews[s.ID] = []review.Review{{Format: 1, Session: s.ID, Client: "C-017", At: at.Add(time.Hour), Marks: []review.Mark{{Flag: 1, Judgement: review.Right}}, Seconds: 150}}
		}
		if n == 5 {
			s.Answers = append(s.Answers, session.Answer{Kind: session.Note, Text: "=stiff in the morning, “better” later"})
		}
		in.Sessions = append(in.Sessions, s)
	}
	return in
}

func gathered(t *testing.T) *Report {
	r, err := Gather(input(t))
	require.NoError(t, err)
	return r
}

func TestGather(t *testing.T) {
	r := gathered(t)
	assert.Len(t, r.Sessions, 14)
	require.Len(t, r.Doses, 2)
	// 21 days of 2 x 10 once a day; 21 of 5.
	assert.InDelta(t, 420, r.Doses[0].Prescribed, 1e-9)
	assert.InDelta(t, 105, r.Doses[1].Prescribed, 1e-9)
	assert.Equal(t, 70, r.Doses[1].Done)
	assert.EqualValues(t, 5, r.Doses[0].Dose.HoldSeconds, "the dose in force on the last day")
	assert.Equal(t, 14, r.Adhered.Active)
	assert.Len(t, r.Flags, 5)
	assert.Equal(t, 5, r.HitRate.Right)
	assert.InDelta(t, 12.5, r.Minutes, 1e-9)
	require.Len(t, r.Changes, 2)
	assert.NotEmpty(t, r.Changes[1].Words)
	require.Equal(t, []hand.Side{hand.Right}, r.Hands)
	require.Equal(t, hand.IndexPIP, r.Ranges[1].Joint)
	require.Len(t, r.Ranges[1].Weeks, 3)
	assert.True(t, r.Flags[0].HasPose)
	for _, u := range r.Unjudged {
		switch u.Joint {
		case hand.LittlePIP:
			// All of the 60 s of one exercise, of 88 s in all.
			assert.InDelta(t, 60.0/88, u.Share, 1e-9)
			assert.True(t, u.Extension)
		case hand.RingDIP:
			assert.InDelta(t, 18.0/88, u.Share, 1e-9)
		default:
			t.Errorf("%v", u)
		}
	}
	in := input(t)
	in.From, in.To = in.To.AddDays(10), in.To.AddDays(20)
	_, err := Gather(in)
	assert.ErrorIs(t, err, ErrNothing)
	in.From, in.To = in.To, in.From
	_, err = Gather(in)
	assert.ErrorContains(t, err, "comes before")
}

// RFC 4180: lines end in CR LF, every line has as many fields as the head.
// No limit reads as "not straighter than straight", and none has a bare sign.
func TestLimitInWords(t *testing.T) {
	deg := func(d float64) *float64 { return &d }
	for words, l := range map[string]coach.Limit{
		"not past straight":                         {Lower: deg(0)},
		"not beyond 5° past straight":               {Lower: deg(-5)},
		"not straighter than 10° short of straight": {Lower: deg(10)},
		"not past straight, not bent beyond 70°":    {Lower: deg(0), Upper: deg(70)},
		"not bent beyond 70°":                       {Upper: deg(70)},
	} {
		require.Equal(t, words, oneLimit(l))
	}
}

// A program that was written in the afternoon is that of its first day too; one
// that replaces another in the afternoon is that of the next.
func TestProgramOfTheDay(t *testing.T) {
	berlin, err := time.LoadLocation("Europe/Berlin")
	require.NoError(t, err)
	first, second := written(t, 1, "2026-11-23", 3), written(t, 2, "2026-11-25", 5)
	first.Issued = program.Instant{Time: time.Date(2026, 11, 23, 15, 0, 0, 0, berlin).UTC()}
	second.Issued = program.Instant{Time: time.Date(2026, 11, 25, 15, 0, 0, 0, berlin).UTC()}
	h, err := program.NewHistory(first, second)
	require.NoError(t, err)
	r := &Report{Input: Input{History: h, Zone: berlin}}
	for day, version := range map[int]int{22: 0, 23: 1, 24: 1, 25: 1, 26: 2} {
		q, ok := r.resolve(program.Date{Year: 2026, Month: 11, Day: day})
		require.Equal(t, version > 0, ok, "day %d", day)
		if ok {
			require.Equal(t, version, q.Program.Version, "day %d", day)
		}
	}
}

func TestCSV(t *testing.T) {
	var b bytes.Buffer
	require.NoError(t, gathered(t).CSV(&b))
	assert.Equal(t, strings.Count(b.String(), "\n"), strings.Count(b.String(), "\r\n"))
	rows, err := csv.NewReader(&b).ReadAll()
	require.NoError(t, err)
	require.Len(t, rows, 1+14*12)
	col := map[string]int{}
	for i, h := range rows[0] {
		col[h] = i
	}
	for _, row := range rows[1:] {
		judged := row[col["least_judged"]] == "true"
		assert.Equal(t, judged, row[col["least_flexion_deg"]] != "", "not judged is never a number")
	}
	assert.Equal(t, "2026-11-23", rows[1][col["date"]])
}

// OWASP, CSV injection: fields that a spreadsheet would take for a formula.
func TestCSVIsTamed(t *testing.T) {
	for in, want := range map[string]string{
		"=1+1": "'=1+1", "+cmd": "'+cmd", "-2+3": "'-2+3", "@SUM(A1)": "'@SUM(A1)", "\tx": "'\tx", "-12.5": "-12.5", "+3": "+3", "index.pip": "index.pip", "": "",
	} {
		assert.Equal(t, want, tame(in), "%q", in)
	}
	assert.Equal(t, "0.0", number(-0.01))
}

// HL7 FHIR R4: against the schema that is published with the standard.
func TestFHIR(t *testing.T) {
	var b bytes.Buffer
	require.NoError(t, gathered(t).FHIR(&b))
	c := jsonschema.NewCompiler()
	text, err := os.ReadFile(filepath.Join("testdata", "fhir-r4-observation.schema.json"))
	require.NoError(t, err)
	schema, err := jsonschema.UnmarshalJSON(bytes.NewReader(text))
	require.NoError(t, err)
	require.NoError(t, c.AddResource("r4.json", schema))
	s, err := c.Compile("r4.json#/definitions/Bundle")
	require.NoError(t, err)
	doc, err := jsonschema.UnmarshalJSON(bytes.NewReader(b.Bytes()))
	require.NoError(t, err)
	require.NoError(t, s.Validate(doc))

	var got struct {
		Entry []struct {
			FullURL  string `json:"fullUrl"`
			Resource struct {
				ID        string `json:"id"`
				Status    string `json:"status"`
				Component []struct {
					Code   struct{ Text string }
					Value  *struct{ Value float64 } `json:"valueQuantity"`
					Absent *struct{ Text string }   `json:"dataAbsentReason"`
				}
			}
		}
	}
	require.NoError(t, json.Unmarshal(b.Bytes(), &got))
	// Twelve joints, and pain before and after, of fourteen sessions.
	assert.Len(t, got.Entry, 14*(12+2))
	ids := map[string]bool{}
	for _, e := range got.Entry {
		assert.False(t, ids[e.Resource.ID])
		ids[e.Resource.ID] = true
		assert.Equal(t, "preliminary", e.Resource.Status)
		for _, k := range e.Resource.Component {
			assert.NotEqual(t, k.Value == nil, k.Absent == nil, "a value or a reason")
		}
	}
	// The schema can refuse.
	bad := strings.Replace(b.String(), `"status": "preliminary"`, `"status": 5`, 1)
	doc, err = jsonschema.UnmarshalJSON(strings.NewReader(bad))
	require.NoError(t, err)
	assert.Error(t, s.Validate(doc))
}

func TestPDF(t *testing.T) {
	r := gathered(t)
	var b bytes.Buffer
	require.NoError(t, r.PDF(&b))
	assert.True(t, bytes.HasPrefix(b.Bytes(), []byte("%PDF-1.")))
	assert.True(t, bytes.HasSuffix(bytes.TrimSpace(b.Bytes()), []byte("%%EOF")))
	pages := bytes.Count(b.Bytes(), []byte("/Type /Page\n"))
	assert.True(t, pages >= 3 && pages <= 5, "%d pages", pages)
	keep(t, "report.pdf", b.Bytes())
	// No sessions but one, nothing but words.
	in := input(t)
	in.Sessions, in.History, in.Baseline = in.Sessions[:1], nil, nil
	in.Sessions[0].Events, in.Sessions[0].Exercises[0].Ranges, in.Sessions[0].Exercises[0].PainBefore = nil, nil, nil
	r, err := Gather(in)
	require.NoError(t, err)
	require.NoError(t, r.PDF(io.Discard))
}

func TestHandout(t *testing.T) {
	p := written(t, 1, "2026-11-23", 3)
	var b bytes.Buffer
	require.NoError(t, Handout(&b, p.On(program.Date{Year: 2026, Month: 12, Day: 1}), time.Date(2026, 12, 1, 8, 0, 0, 0, time.UTC)))
	assert.True(t, bytes.HasPrefix(b.Bytes(), []byte("%PDF-1.")))
	keep(t, "handout.pdf", b.Bytes())
}

// keep writes a file to look at where VOLAR_KEEP names a folder.
func keep(t *testing.T, name string, b []byte) {
	t.Helper()
	if dir := os.Getenv("VOLAR_KEEP"); dir != "" {
		require.NoError(t, os.WriteFile(filepath.Join(dir, name), b, 0o644))
	}
}

func TestDoseForClient(t *testing.T) {
	p := written(t, 1, "2026-11-23", 3)
	q := p.On(program.Date{Year: 2026, Month: 12, Day: 1})
	assert.Equal(t, "10 times, holding 3 seconds each; do this 2 times over, with a rest of 60 seconds between; 1 time a day.", doseForClient(q.Exercises[0].Dose))
}

// What the therapist wrote stands in its own part, with the session's day; the
// assessment has nothing else in it.
func TestWhatWasWrittenIsInItsPart(t *testing.T) {
	in := input(t)
	s := in.Sessions[0]
	in.Reviews[s.ID] = append(in.Reviews[s.ID], review.Review{Format: 1, Session: s.ID, Client: "C-017", By: "T-1", At: s.Started, Note: review.Note{Assessment: "Steady."}})
	in.Note = review.Note{Assessment: "All in all steady."}
	r, err := Gather(in)
	require.NoError(t, err)
	assert.Equal(t, "On "+review.LocalDay(s.Started, s.Zone).String()+" (T-1): Steady.\nAll in all steady.", r.written(func(n review.Note) string { return n.Assessment }))
	assert.Empty(t, r.written(func(n review.Note) string { return n.Plan }))
	assert.NotContains(t, r.subjective()+r.objective(), "steady")
}

// A flag of the hand that the report is not of is drawn and named as that hand.
func TestAFlagOfTheOtherHand(t *testing.T) {
	r := gathered(t)
	d, err := newDrawer()
	require.NoError(t, err)
	f := r.Flags[0]
	require.True(t, f.HasPose)
	for side, whose := range map[hand.Side]string{hand.Left: ", left hand", hand.Right: "", hand.UnknownSide: ""} {
		f.Side = side
		got, _, caption, err := r.flagPicture(d, &f)
		require.NoError(t, err)
		assert.Contains(t, caption, "hyperextension of the index PIP"+whose+": drawn")
		drawn := hand.Right
		if side == hand.Left {
			drawn = hand.Left
		}
		want, err := d.pose(f.Pose, drawn, 85)
		require.NoError(t, err)
		assert.True(t, bytes.Equal(want, got), "the %s hand is drawn", drawn)
	}
}
