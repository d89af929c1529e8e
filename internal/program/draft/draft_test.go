package draft

import (
	"slices"
	"strings"
	"testing"
	"time"

	"github.com/stretchr/testify/require"
	"pgregory.net/rapid"

	"volar/internal/exercise"
	"volar/internal/hand"
	"volar/internal/program"
)

// everywhere are the limits of all exercises, of the program's hand.
var everywhere = Where{Of: All}

var now = time.Date(2026, 11, 26, 9, 0, 0, 0, time.UTC)

func fresh(t require.TestingT, precautions ...program.PrecautionKind) *Draft {
	o := Options{Client: "K-104", Side: program.Side(hand.Right), Zone: "Europe/Berlin", Now: now}
	for _, k := range precautions {
		o.Precautions = append(o.Precautions, program.Precaution{Kind: k})
	}
	d, err := New(o)
	require.NoError(t, err)
	return d
}

func day(s string) program.Date {
	d, err := program.ParseDate(s)
	if err != nil {
		panic(err)
	}
	return d
}

func TestAFirstVersionIsWhatTheProgramPackageMakes(t *testing.T) {
	for _, k := range program.PrecautionKinds {
		t.Run(string(k), func(t *testing.T) {
			ids := []string{"hook-fist", "full-fist"}
			want, _, err := program.New(program.Options{Client: "K-104", Side: program.Side(hand.Right), Precautions: []program.Precaution{{Kind: k}}, Exercises: ids, Zone: "Europe/Berlin", Now: now}, program.Source{})
			require.NoError(t, err)
			d := fresh(t, k)
			text, fault := d.Beside("exercises")
			require.True(t, fault)
			require.Contains(t, text, "at least one exercise")
			for _, id := range ids {
				_, err := d.Add(id)
				require.NoError(t, err)
			}
			got, err := d.Finish(now)
			require.NoError(t, err)
			require.Equal(t, string(want.Format()), string(got.Format()))
		})
	}
}

func TestAnObjectThatIsToBeAvoidedIsNotTaken(t *testing.T) {
	d := fresh(t, program.SensationLoss)
	_, err := d.Add("whole-hand-grip")
	require.NoError(t, err)
	m, err := exercise.Find("whole-hand-grip")
	require.NoError(t, err)
	o, err := m.Object(d.Program().Exercises[0].Object)
	require.NoError(t, err)
	require.False(t, o.Hard || o.Warm)
	_, fault := d.Beside(Field(0, "object"))
	require.False(t, fault)
	_, err = d.Add("no-such-movement")
	require.ErrorIs(t, err, exercise.ErrUnknown)
}

func TestExercisesInOrder(t *testing.T) {
	d := fresh(t)
	for _, id := range []string{"hook-fist", "full-fist", "hook-fist"} {
		_, err := d.Add(id)
		require.NoError(t, err)
	}
	names := func() (all []string) {
		for _, e := range d.Program().Exercises {
			all = append(all, e.Name())
		}
		return all
	}
	require.Equal(t, []string{"hook-fist", "full-fist", "hook-fist-2"}, names())
	require.Zero(t, d.Faults(), "a movement twice gets a name of its own: %v", d.Problems())
	require.Equal(t, 0, d.Move(2, -5))
	require.Equal(t, []string{"hook-fist-2", "hook-fist", "full-fist"}, names())
	d.Remove(1)
	require.Equal(t, []string{"hook-fist-2", "full-fist"}, names())
}

func TestWhatCannotBeReadStandsBesideItsField(t *testing.T) {
	d := fresh(t)
	_, err := d.Add("hook-fist")
	require.NoError(t, err)
	require.Error(t, d.SetDose(0, Sets, "two"))
	require.Equal(t, "two", d.DoseText(0, Sets))
	text, fault := d.Beside(Field(0, "dose.sets"))
	require.True(t, fault)
	require.Equal(t, "type a whole number", text)
	_, err = d.Finish(now)
	require.ErrorContains(t, err, "exercises[1].dose.sets")
	require.NoError(t, d.SetDose(0, Sets, "12"))
	text, _ = d.At(Field(0, "dose"))
	require.Empty(t, text, "that is one of its parts'")
	text, fault = d.Beside(Field(0, "dose"))
	require.True(t, fault, "the program's own check stands beside it")
	require.Contains(t, text, "12 is outside 1 to 10")
	require.NoError(t, d.SetDose(0, Rest, "30"))
	require.NoError(t, d.SetDose(0, Sets, "2"))
	require.NoError(t, d.SetDose(0, Hold, "7,5"))
	require.Equal(t, "7.5", d.DoseText(0, Hold))
	text, fault = d.At(Field(0, "dose"))
	require.False(t, fault)
	require.NotEmpty(t, text, "more than the usual dose is a warning: %s", text)
	for f, s := range map[DoseField]string{Repetitions: "8", Rest: "45", TimesADay: "3", DaysAWeek: "5"} {
		require.NoError(t, d.SetDose(0, f, s))
		require.Equal(t, s, d.DoseText(0, f))
	}
	require.Error(t, d.SetDose(0, Rest, "long"))
	d.Remove(0)
	require.Empty(t, d.unread, "a field that is gone has no problem")
}

func TestTempoAndTargets(t *testing.T) {
	d := fresh(t)
	_, err := d.Add("hook-fist")
	require.NoError(t, err)
	require.Empty(t, d.TempoText(0))
	require.NoError(t, d.SetTempo(0, "1.5"))
	require.Equal(t, "1.5", d.TempoText(0))
	require.Error(t, d.SetTempo(0, "slow"))
	require.Error(t, d.SetTempo(0, "0"))
	require.NoError(t, d.SetTempo(0, ""))
	require.Zero(t, d.Program().Exercises[0].Tempo.LeastSeconds)
	require.NoError(t, d.SetTargets(0, "index.pip 80; middle.pip 90 %"))
	got := d.Program().Exercises[0].Targets
	require.Len(t, got, 2)
	require.InDelta(t, 80, *got[0].Deg, 0)
	require.InDelta(t, 0.9, *got[1].Share, 1e-12)
	require.Equal(t, "index.pip 80; middle.pip 90 %", d.TargetText(0))
	for _, bad := range []string{"index.pip", "elbow 20", "index.pip -20", "index.pip x %"} {
		require.Error(t, d.SetTargets(0, bad), bad)
		require.Equal(t, bad, d.TargetText(0))
	}
}

// The written forms are this project's own; that signs are refused follows from
// Mulder and Wittmeier 2009 (Physiother Can 61:266-267), who found plus and
// minus used for both.
func TestAnglesAreTypedWithoutASign(t *testing.T) {
	for text, want := range map[string]program.End{
		"": {}, " free ": program.Free(), "straight": program.Deg(0), "0": program.Deg(0), "20": program.Deg(20), "20°": program.Deg(20),
		"10 past": program.Deg(-10), "10° past straight": program.Deg(-10), "7,5": program.Deg(7.5), "FREE": program.Free(),
	} {
		got, err := ParseEnd(text)
		require.NoError(t, err, text)
		require.Equal(t, want, got, text)
	}
	for _, bad := range []string{"-10", "+10", "−10", "ten", "past", "nan", "inf past", "1e999"} {
		_, err := ParseEnd(bad)
		require.Error(t, err, bad)
	}
	rapid.Check(t, func(t *rapid.T) {
		deg := float64(rapid.IntRange(-400, 1200).Draw(t, "tenths")) / 10
		for _, e := range []program.End{program.Deg(deg), program.Free(), {}} {
			back, err := ParseEnd(EndText(e))
			require.NoError(t, err)
			require.Equal(t, e, back)
		}
	})
	require.Equal(t, "not straighter than 30°", EndWords(program.Deg(30), true))
	require.Equal(t, "not past straight", EndWords(program.Deg(0), true))
	require.Equal(t, "not beyond 12° past straight", EndWords(program.Deg(-12), true))
	require.Equal(t, "not bent beyond 70°", EndWords(program.Deg(70), false))
	require.Equal(t, "as before", EndWords(program.End{}, false))
	require.Equal(t, "no limit", EndWords(program.Free(), false))
}

// The protocol of a PIP fracture-dislocation that is blocked at 30° and given
// 10° more each week from week 3 (eatonhand.com, extension block splinting).
func TestALimitWithDates(t *testing.T) {
	d := fresh(t)
	_, err := d.Add("hook-fist")
	require.NoError(t, err)
	require.NoError(t, d.PutStep(everywhere, "index.pip", "2026-12-17", "10", "", "by the surgeon's protocol"))
	require.NoError(t, d.PutStep(everywhere, "index.pip", "", "30", "", "by the surgeon's protocol"))
	require.NoError(t, d.PutStep(everywhere, "index.pip", "2026-12-10", "20", "", "by the surgeon's protocol"))
	require.Len(t, d.Rows(everywhere), 3)
	for date, want := range map[string]float64{"2026-11-26": 30, "2026-12-09": 30, "2026-12-10": 20, "2026-12-16": 20, "2026-12-17": 10, "2027-01-01": 10} {
		low := d.Program().On(day(date)).Limits[hand.IndexPIP]
		require.NotNil(t, low.Lower, date)
		require.InDelta(t, want, *low.Lower, 0, date)
	}
	r, ok := d.Step(everywhere, "index.pip", day("2026-12-10"))
	require.True(t, ok)
	require.Equal(t, "limits[1].schedule[2]", r.Field)
	require.NoError(t, d.PutStep(everywhere, "index.pip", "2026-12-10", "15", "", ""), "the same day is replaced")
	require.Len(t, d.Rows(everywhere), 3)
	d.RemoveStep(everywhere, "index.pip", day("2026-12-10"))
	d.RemoveStep(everywhere, "index.pip", day("2026-12-17"))
	require.Len(t, d.Rows(everywhere), 1)
	d.RemoveStep(everywhere, "index.pip", program.Date{})
	require.Empty(t, d.Limits(All), "a limit goes with its last step")
	d.RemoveStep(everywhere, "index.pip", program.Date{})

	require.ErrorContains(t, d.PutStep(everywhere, "", "", "30", "", ""), "choose a joint")
	require.ErrorContains(t, d.PutStep(everywhere, "index.pip", "soon", "30", "", ""), "no date")
	require.ErrorContains(t, d.PutStep(everywhere, "index.pip", "", "", "", ""), "at least")
	require.Error(t, d.PutStep(everywhere, "index.pip", "", "-3", "", ""))
	require.Error(t, d.PutStep(everywhere, "index.pip", "", "", "x", ""))
	require.Empty(t, d.Limits(All), "what cannot be read changes nothing")
}

func TestAGeneralLimitGoesBeforeAParticularOne(t *testing.T) {
	d := fresh(t)
	_, err := d.Add("hook-fist")
	require.NoError(t, err)
	require.NoError(t, d.PutStep(everywhere, "index.pip", "", "30", "", ""))
	require.NoError(t, d.PutStep(everywhere, "*.pip", "", "0", "", ""))
	require.NoError(t, d.PutStep(Where{}, "middle.pip", "2027-01-01", "5", "90", ""))
	require.Equal(t, []program.Joints{"*.pip", "index.pip"}, []program.Joints{d.Limits(All)[0].Joints, d.Limits(All)[1].Joints})
	limits := d.Program().On(day("2026-11-26")).Limits
	require.InDelta(t, 30, *limits[hand.IndexPIP].Lower, 0)
	require.InDelta(t, 0, *limits[hand.RingPIP].Lower, 0)
	marked, later := d.Marked(Where{}, day("2026-11-26"))
	require.True(t, marked[hand.IndexPIP] && marked[hand.MiddlePIP])
	require.True(t, later[hand.MiddlePIP])
	require.False(t, marked[hand.IndexDIP] || later[hand.IndexDIP])
	require.Equal(t, "exercises[1].limits[1].schedule[1]", d.Rows(Where{})[0].Field)
}

// Each hand has limits of its own; an edit of one leaves those of the other.
func TestLimitsOfTheOtherHand(t *testing.T) {
	d := fresh(t)
	_, err := d.Add("hook-fist")
	require.NoError(t, err)
	other := Where{Of: All, Other: true}
	left := program.Side(hand.Left)
	require.Equal(t, left, d.Hand(other))
	require.NoError(t, d.PutStep(other, "index.pip", "", "7", "", "lax"))
	require.Equal(t, left, d.Limits(All)[0].Side)
	require.Empty(t, d.Rows(everywhere))
	require.Contains(t, d.Unjudged(other), "no exercise is done with the left hand")
	require.Empty(t, d.Unjudged(everywhere))
	now, _ := d.Marked(Where{}, day("2026-11-26"))
	require.False(t, now[hand.IndexPIP])
	now, _ = d.Marked(Where{Other: true}, day("2026-11-26"))
	require.True(t, now[hand.IndexPIP])

	require.NoError(t, d.PutStep(everywhere, "index.pip", "", "30", "", ""))
	require.NoError(t, d.PutStep(other, "*.pip", "", "0", "", ""))
	r := d.Program().On(day("2026-11-26"))
	require.InDelta(t, 30, *r.Limits[hand.IndexPIP].Lower, 0)
	require.Nil(t, r.Limits[hand.RingPIP].Lower)
	require.InDelta(t, 7, *r.OtherLimits[hand.IndexPIP].Lower, 0, "the general one comes before it")
	require.InDelta(t, 0, *r.OtherLimits[hand.RingPIP].Lower, 0)
	require.Equal(t, []string{"index PIP: not straighter than 30° short of straight"}, d.Words(everywhere))
	l, ok := d.Find(other, "index.pip")
	require.True(t, ok)
	require.Equal(t, "lax", l.Reason)
	_, ok = d.Find(everywhere, "*.pip")
	require.False(t, ok)

	d.SetHand(0, left)
	require.Empty(t, d.Unjudged(other), "in an exercise of that hand it counts")
	now, _ = d.Marked(Where{}, day("2026-11-26"))
	require.True(t, now[hand.IndexPIP])
	d.RemoveStep(everywhere, "index.pip", program.Date{})
	require.Empty(t, d.Rows(everywhere))
	require.Len(t, d.Rows(other), 2)
	d.RemoveStep(other, "index.pip", program.Date{})
	d.RemoveStep(other, "*.pip", program.Date{})
	require.Empty(t, d.Limits(All))
}

// What a precaution brings is for the program's hand; where an exercise takes
// both, the draft says so until the other hand has limits too.
func TestAPrecautionLeavesTheOtherHandToTheTherapist(t *testing.T) {
	d := fresh(t)
	other := Where{Of: All, Other: true}
	one, err := d.Add("hook-fist")
	require.NoError(t, err)
	i, err := d.Add("wringing-alternating")
	require.NoError(t, err)
	require.Negative(t, d.Lacking(other), "neither hand has limits")
	d.SetPrecaution(program.LaxJoints, true)
	require.Equal(t, i, d.Lacking(other))
	require.Equal(t, i, d.Lacking(Where{Of: i, Other: true}))
	require.Negative(t, d.Lacking(Where{Of: one, Other: true}), "it takes one hand")
	require.Negative(t, d.Lacking(everywhere))
	text, fault := d.At(Field(i, "limits"))
	require.Equal(t, "wringing-alternating takes both hands, and no limit is set for the "+d.Hand(other).String()+" hand", text)
	require.False(t, fault)
	d.Same(everywhere)
	require.Negative(t, d.Lacking(other))
	d.SetHand(i, d.Hand(other))
	require.Negative(t, d.Lacking(other))

	d = fresh(t, program.LaxJoints)
	i, err = d.Add("wringing-alternating")
	require.NoError(t, err)
	require.Equal(t, i, d.Lacking(other))
	d.Remove(i)
	require.Negative(t, d.Lacking(other), "no exercise takes it")
}

func TestTheSameLimitsForTheOtherHand(t *testing.T) {
	d := fresh(t, program.LaxJoints)
	_, err := d.Add("wringing-alternating")
	require.NoError(t, err)
	other := Where{Of: All, Other: true}
	require.NoError(t, d.PutStep(everywhere, "index.pip", "", "30", "", "by the surgeon's protocol"))
	require.NoError(t, d.PutStep(everywhere, "index.pip", "2026-12-10", "20", "", "by the surgeon's protocol"))
	d.Same(everywhere)
	require.Equal(t, d.Words(everywhere), d.Words(other))
	for _, date := range []string{"2026-11-26", "2026-12-10"} {
		r := d.Program().On(day(date))
		require.Equal(t, r.Limits, r.OtherLimits, date)
	}
	require.NoError(t, d.PutStep(other, "index.pip", "2026-12-10", "0", "", ""))
	require.InDelta(t, 20, *d.Program().On(day("2026-12-10")).Limits[hand.IndexPIP].Lower, 0, "they share nothing")
	before := d.Words(other)
	d.Same(everywhere)
	require.Equal(t, before, d.Words(other), "what is there is not replaced")

	// Where a file has the general limit last, and so undoes the particular one,
	// it does so for both hands.
	d = fresh(t)
	d.p.Limits = []program.Limit{
		{Joints: "index.pip", Schedule: []program.Step{{Lower: program.Deg(30)}}},
		{Joints: "*.pip", Schedule: []program.Step{{Lower: program.Deg(0)}}},
	}
	d.Same(everywhere)
	r := d.Program().On(day("2026-11-26"))
	require.Equal(t, r.Limits, r.OtherLimits)
	require.InDelta(t, 0, *r.OtherLimits[hand.IndexPIP].Lower, 0)
}

// Limits that were typed below the heading of a hand stay that hand's, whichever
// hand the program is for; limits of one hand alone go along, as when the wrong
// hand was picked at the beginning.
func TestLimitsStayWithTheirHand(t *testing.T) {
	d := fresh(t)
	_, err := d.Add("hook-fist")
	require.NoError(t, err)
	right, left := program.Side(hand.Right), program.Side(hand.Left)
	require.NoError(t, d.PutStep(everywhere, "index.pip", "", "30", "", ""))
	d.SetSide(left)
	require.Len(t, d.Rows(everywhere), 1)
	require.NoError(t, d.PutStep(Where{Of: All, Other: true}, "index.pip", "", "10", "", ""))
	require.NoError(t, d.PutStep(Where{}, "index.dip", "", "", "60", ""))
	require.NoError(t, d.PutStep(Where{Other: true}, "index.dip", "", "", "50", ""))
	of := func(s program.Side) (all [2][]string) {
		for i, of := range []int{All, 0} {
			all[i] = d.Words(Where{of, d.side(of) != s})
		}
		return all
	}
	ofLeft, ofRight := of(left), of(right)
	require.NotEqual(t, ofLeft, ofRight)
	for _, change := range []func(){
		func() { d.SetSide(right) }, func() { d.SetSide(left) }, func() { d.SetHand(0, right) }, func() { d.SetSide(right) }, func() { d.SetHand(0, left) },
	} {
		change()
		require.Equal(t, ofLeft, of(left))
		require.Equal(t, ofRight, of(right))
	}
	require.NoError(t, d.PutStep(Where{Of: All, Other: d.Program().Side == right}, "index.pip", "", "25", "", ""))
	require.Equal(t, []string{"index PIP: not straighter than 25° short of straight"}, of(left)[0], "edited, not added")
}

func TestAPrecautionBringsItsDefaultsAndLeavesThem(t *testing.T) {
	d := fresh(t)
	_, err := d.Add("hook-fist")
	require.NoError(t, err)
	d.SetPrecaution(program.LaxJoints, true)
	d.SetPrecautionWords(program.LaxJoints, "index finger")
	require.Equal(t, program.EarlyCue, d.Program().Cue)
	require.True(t, d.Program().SideViewCheck)
	require.Equal(t, program.Joints("*.pip"), d.Limits(All)[0].Joints)
	require.Equal(t, "index finger", d.Program().Precautions[0].Words)
	d.SetPrecaution(program.LaxJoints, true)
	require.Len(t, d.Limits(All), 1)
	d.SetPrecaution(program.LaxJoints, false)
	require.Empty(t, d.Program().Precautions)
	require.Len(t, d.Limits(All), 1, "what it brought stays until it is taken away")
	d.SetEarlyCue(false)
	d.SetSideView(false)
	d.SetAvoid(program.Heat, true)
	d.SetAvoid(program.Heat, true)
	require.Equal(t, []program.Avoid{program.Heat}, d.Program().Avoid)
	d.SetAvoid(program.Heat, false)
	require.Empty(t, d.Program().Avoid)
	require.Equal(t, program.UsualCue, d.Program().Cue)
	require.False(t, d.Program().SideViewCheck)
}

func TestTheNextVersion(t *testing.T) {
	d := fresh(t)
	_, err := d.Add("hook-fist")
	require.NoError(t, err)
	one, err := d.Finish(now)
	require.NoError(t, err)
	later := now.AddDate(0, 0, 20)
	d, err = Next(one, later)
	require.NoError(t, err)
	require.Equal(t, 2, d.Program().Version)
	require.Equal(t, day("2026-12-30"), d.Program().NextReview, "14 days on, since the old one has passed")
	require.False(t, d.Touched())
	require.NoError(t, d.SetDose(0, Repetitions, "8"))
	require.True(t, d.Touched())
	require.NotEmpty(t, d.Changes())
	two, err := d.Finish(later)
	require.NoError(t, err)
	require.Equal(t, later, two.Issued.Time)
	require.Equal(t, 1, one.Version, "the version before is as it was")
	require.NotEqual(t, *one.Exercises[0].Dose.Repetitions, *two.Exercises[0].Dose.Repetitions)

	same, err := Next(two, later)
	require.NoError(t, err)
	_, err = same.Finish(later)
	require.ErrorContains(t, err, "nothing was changed")
}

func TestDatesAndWords(t *testing.T) {
	d := fresh(t)
	_, err := d.Add("hook-fist")
	require.NoError(t, err)
	require.Error(t, d.SetValidFrom("tomorrow"))
	require.Equal(t, "tomorrow", d.Typed("valid_from", d.Program().ValidFrom.String()))
	require.NoError(t, d.SetValidFrom("2026-12-01"))
	require.NoError(t, d.SetNextReview("2026-11-30"))
	text, fault := d.Beside("next_review")
	require.True(t, fault)
	require.Contains(t, text, "before the program begins")
	require.NoError(t, d.SetNextReview(""))
	_, fault = d.Beside("next_review")
	require.False(t, fault)
	d.SetZone("Europe/Nowhere")
	_, fault = d.Beside("zone")
	require.True(t, fault)
	d.SetZone("Europe/Berlin")
	d.SetDominant(program.Side(hand.Left))
	d.SetSide(program.Side(hand.Left))
	d.SetMessage("Slowly.")
	d.SetHistory("fell on the hand")
	d.SetNotes("call in a week")
	d.SetHand(0, program.Side(hand.Right))
	d.SetView(0, program.SecondView)
	d.SetNote(0, "Wrist straight.")
	d.SetObject(0, "")
	p, err := d.Finish(now)
	require.NoError(t, err)
	require.Equal(t, hand.Right, p.Exercises[0].Side.Hand())
	require.True(t, strings.Contains(string(p.Format()), "Slowly."))
	d.SetHand(0, program.Side(hand.Left))
	require.Zero(t, d.Program().Exercises[0].Side, "the program's own hand is not written")
}

// Whatever is edited in whatever order, what Finish gives can be read back and
// is the same.
func TestWhatIsFinishedIsAProgram(t *testing.T) {
	catalogue, err := exercise.Catalogue()
	require.NoError(t, err)
	joints := []string{"index.pip", "*.pip", "*", "thumb.ip", "little.*"}
	rapid.Check(t, func(t *rapid.T) {
		d := fresh(t, rapid.SliceOfNDistinct(rapid.SampledFrom(program.PrecautionKinds[:]), 0, 3, rapid.ID).Draw(t, "precautions")...)
		for range rapid.IntRange(1, 12).Draw(t, "edits") {
			n := len(d.Program().Exercises)
			switch edit := rapid.IntRange(0, 7).Draw(t, "edit"); {
			case n == 0 || edit == 0:
				_, err := d.Add(rapid.SampledFrom(catalogue).Draw(t, "movement").ID)
				require.NoError(t, err)
			case edit == 1:
				d.Move(rapid.IntRange(0, n-1).Draw(t, "i"), rapid.IntRange(-3, 3).Draw(t, "by"))
			case edit == 2:
				d.Remove(rapid.IntRange(0, n-1).Draw(t, "i"))
			case edit == 3:
				d.SetSide(program.Side(rapid.SampledFrom([]hand.Side{hand.Right, hand.Left}).Draw(t, "side")))
			case edit == 4:
				d.SetDose(rapid.IntRange(0, n-1).Draw(t, "i"), rapid.SampledFrom(DoseFields[:]).Draw(t, "part"), rapid.SampledFrom([]string{"1", "2", "5", "x", "99", ""}).Draw(t, "text"))
			default:
				of := rapid.IntRange(All, n-1).Draw(t, "of")
				d.PutStep(Where{of, rapid.Bool().Draw(t, "other")}, program.Joints(rapid.SampledFrom(joints).Draw(t, "joints")), rapid.SampledFrom([]string{"", "2026-12-08", "2027-02-01", "no"}).Draw(t, "from"),
					rapid.SampledFrom([]string{"", "0", "20", "10 past", "free"}).Draw(t, "lower"), rapid.SampledFrom([]string{"", "90", "60", "free"}).Draw(t, "upper"), "")
			}
			for of := All; of < len(d.Program().Exercises); of++ {
				for _, l := range d.Limits(of) {
					require.True(t, slices.IsSortedFunc(l.Schedule, func(a, b program.Step) int { return a.From.Compare(b.From) }))
				}
			}
		}
		p, err := d.Finish(now)
		if err != nil {
			require.Positive(t, d.Faults())
			return
		}
		back, _, err := program.Parse(p.Format(), program.Source{})
		require.NoError(t, err)
		require.Equal(t, string(p.Format()), string(back.Format()))
	})
}
