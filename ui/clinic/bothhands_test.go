package clinic

import (
	"testing"

	"fyne.io/fyne/v2"
	"fyne.io/fyne/v2/test"
	"github.com/stretchr/testify/require"

	"volar/internal/hand"
	"volar/internal/program"
	"volar/internal/program/draft"
	"volar/ui/parts"
)

// A therapist gives the other hand the same limits, changes one, and takes one
// out, by keys alone; what is in the store then holds for each hand what stood
// below its heading.
func TestLimitsOfTheOtherHandByKeys(t *testing.T) {
	b := atClients(t, benchOptions{})
	editing(b, func(d *draft.Draft) {
		_, err := d.Add("wringing-alternating")
		require.NoError(t, err)
	}).open(1)
	shown := func() *limits { return b.router.Screen().(*limits) }
	require.Equal(t, "Right hand, index PIP, in all exercises", shown().name.Text())
	own := shown().e.d.Words(shown().where)
	b.press(fyne.KeyM, fyne.KeyH)
	require.Equal(t, "Left hand, index PIP, in all exercises", shown().name.Text())
	require.Len(t, shown().table.Rows(), 3)
	b.press(fyne.KeyReturn)
	b.instead("15")
	b.press(fyne.KeyReturn)
	// The step of 8 December is taken out.
	b.w.Canvas().Focus(shown().table)
	b.press(fyne.KeyEnd, fyne.KeyDelete)
	require.Len(t, shown().table.Rows(), 2)
	b.press(fyne.KeyH)
	require.Equal(t, "Right hand, index PIP, in all exercises", shown().name.Text())
	require.Equal(t, own, shown().e.d.Words(shown().where))
	b.control(fyne.KeyS)
	b.reach("K-104")
	p, err := b.store.Program(b.ctx, "K-104", 0)
	require.NoError(t, err)
	for date, want := range map[string][2]float64{"2026-11-26": {30, 15}, "2026-12-08": {20, 15}} {
		day, err := program.ParseDate(date)
		require.NoError(t, err)
		r := p.On(day)
		require.InDelta(t, want[0], *r.Limits[hand.IndexPIP].Lower, 0, date)
		require.InDelta(t, want[1], *r.OtherLimits[hand.IndexPIP].Lower, 0, date)
		require.InDelta(t, 0, *r.OtherLimits[hand.RingPIP].Lower, 0, date)
		q := r.Exercises[len(r.Exercises)-1]
		require.InDelta(t, want[1], *q.OtherLimits[hand.IndexPIP].Lower, 0, date)
	}
}

// What is edited is the hand in the heading, also where the exercise is given to
// the hand that the program is not for; a hand that an exercise does not use has
// no limits there.
func TestWhichHandIsEdited(t *testing.T) {
	b := atClients(t, benchOptions{})
	e := editing(b, func(d *draft.Draft) {
		_, err := d.Add("wringing-alternating")
		require.NoError(t, err)
		d.SetHand(3, program.Side(hand.Left))
	})
	shown := func() *limits { return b.router.Screen().(*limits) }
	e.of = 3
	e.open(1)
	require.Equal(t, "Left hand, index PIP, in wringing-alternating", shown().name.Text())
	b.press(fyne.KeyH)
	require.Equal(t, "Right hand, index PIP, in wringing-alternating", shown().name.Text())
	b.press(fyne.KeyReturn)
	b.typed("40")
	b.press(fyne.KeyReturn)
	require.Equal(t, program.Side(hand.Right), e.d.Limits(3)[0].Side)
	e.of = 2
	e.open(1)
	require.Equal(t, "Right hand, index PIP, in hook-fist", shown().name.Text())
	b.press(fyne.KeyH)
	require.Equal(t, "Right hand, index PIP, in hook-fist", shown().name.Text(), "it takes one hand")
	e.of = draft.All
	e.open(1)
	require.Equal(t, "Right hand, index PIP, in all exercises", shown().name.Text(), "the hand that was chosen stays")
	require.Equal(t, "30", shown().lower.Text)
	b.press(fyne.KeyH)
	require.Equal(t, "Left hand, index PIP, in all exercises", shown().name.Text())
	require.Empty(t, shown().lower.Text)
}

// A precaution's limits come for the program's hand alone: right below the tick
// it stands that the other has none and an exercise takes it, and M gives it the
// same.
func TestAPrecautionSaysThatTheOtherHandHasNoLimit(t *testing.T) {
	b := atClients(t, benchOptions{})
	e := editing(b, func(d *draft.Draft) {
		for _, of := range []bool{false, true} {
			for _, r := range d.Rows(draft.Where{Of: draft.All, Other: of}) {
				d.RemoveStep(draft.Where{Of: draft.All, Other: of}, r.Joints, r.Step.From)
			}
		}
		d.SetPrecaution(program.LaxJoints, false)
		_, err := d.Add("wringing-alternating")
		require.NoError(t, err)
	})
	other := draft.Where{Of: draft.All, Other: true}
	const warning = "Left hand: no limit yet, and wringing-alternating takes both hands."
	e.open(2)
	require.NotContains(t, said(b), warning)
	b.press(fyne.KeySpace)
	require.Contains(t, said(b), warning)
	require.Empty(t, e.d.Rows(other), "nothing is written without being asked for")
	b.control(fyne.Key2)
	require.Contains(t, said(b), warning)
	b.control(fyne.Key3)
	b.press(fyne.KeyM)
	require.NotContains(t, said(b), warning)
	require.Equal(t, e.d.Words(draft.Where{Of: draft.All}), e.d.Words(other))
	require.NotEmpty(t, e.d.Words(other))
}

// said are the words within the window's edges.
func said(b *bench) []string {
	var all []string
	for _, o := range test.LaidOutObjects(b.w.Canvas().Content()) {
		w, ok := o.(*parts.Words)
		if ok && w.Visible() && fyne.CurrentApp().Driver().AbsolutePositionForObject(w).Y+w.Size().Height <= b.w.Canvas().Size().Height {
			all = append(all, w.Text())
		}
	}
	return all
}
