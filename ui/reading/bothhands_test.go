package reading

import (
	"fmt"
	"image/png"
	"os"
	"path/filepath"
	"slices"
	"strings"
	"testing"
	"time"

	"fyne.io/fyne/v2"
	"fyne.io/fyne/v2/test"
	"github.com/stretchr/testify/require"

	"volar/internal/clinicstore"
	"volar/internal/coach"
	"volar/internal/demonstration"
	"volar/internal/hand"
	"volar/internal/program"
	"volar/internal/review"
	"volar/internal/review/reviewtest"
	"volar/internal/session"
	"volar/ui/parts"
)

// wrung is a session of an exercise that takes both hands, in which the left,
// which the program is not for, goes past straight; it is kept with its program.
func wrung(t *testing.T, store *clinicstore.Store) *session.Session {
	t.Helper()
	p, _, err := program.New(program.Options{Client: "K-105", Side: program.Side(hand.Right), Exercises: []string{"wringing-alternating"}, Zone: "UTC", Now: evening.AddDate(0, 0, -2)}, program.Source{})
	require.NoError(t, err)
	p.Limits = []program.Limit{
		{Joints: "index.pip", Schedule: []program.Step{{Upper: program.Deg(80)}}},
		{Joints: "index.pip", Side: program.Side(hand.Left), Schedule: []program.Step{{Lower: program.Deg(0)}}},
	}
	require.NoError(t, store.PutProgram(t.Context(), p))
	straight, eighty := 0.0, 80.0
	s, err := reviewtest.Make(reviewtest.Options{
		Client: "K-105", Program: "K-105", Version: 1, Side: hand.Right, Started: evening.Add(-time.Hour), Seed: 11, FPS: 15,
		Exercises: []reviewtest.Exercise{{
			Movement: "wringing-alternating", Item: "wringing-alternating", Repetitions: 2,
			Limits: coach.Limits{hand.IndexPIP: {Upper: &eighty}}, OtherLimits: coach.Limits{hand.IndexPIP: {Lower: &straight}},
			OtherFaults: []demonstration.Fault{{Kind: demonstration.PastStraight, Repetition: 0, Joints: []hand.Joint{hand.IndexPIP}, Deg: 18}},
		}},
	})
	require.NoError(t, err)
	require.NoError(t, store.PutSession(t.Context(), s))
	return s
}

// A flagged moment of the hand that the program is not for is shown of that
// hand, beside that hand's limit, and leads to that hand's limits.
func TestAMomentOfTheOtherHand(t *testing.T) {
	store := kept(t)
	s := wrung(t, store)
	for _, percent := range []int{100, 200} {
		d := sit(t, store, size(1280, 720), percent, func(o Options) *Reader { return Session(o, s.ID) })
		o := at[*overview](d)
		n := slices.IndexFunc(o.f.moments, func(m review.Moment) bool { return m.Side == hand.Left && m.Kind == string(coach.Hyperextension) })
		require.GreaterOrEqual(t, n, 0, "%+v", o.f.moments)
		m := &o.f.moments[n]
		d.press(fyne.KeyP)
		v := at[*viewer](d)
		require.Equal(t, hand.Right, v.side, "the program's hand, where nothing was flagged")
		require.Equal(t, "limit: not bent beyond 80°", v.traces[0].limit())
		v.seek(m.Worst)
		require.Contains(t, v.where.Text(), "left hand")
		require.Contains(t, v.what.Text(), ", left hand. Hyperextension of the index PIP")
		require.Equal(t, hand.IndexPIP, v.traces[0].c.trace.Joint)
		require.Equal(t, "limit: not past straight", v.traces[0].limit())
		require.Contains(t, v.traces[0].name(), "past straight", "the left hand's own curve")
		if *pictures != "" {
			// What was asked for before may have come in between.
			d.painted(v)
			d.painted(v)
			capture(t, d, fmt.Sprintf("replay-other-hand-%d.png", percent))
		}
		// The other hand's reading at the same time.
		d.press(fyne.KeyO)
		require.Contains(t, v.where.Text(), "right hand")
		require.NotContains(t, v.traces[0].name(), "past straight")
		require.Equal(t, "limit: not bent beyond 80°", v.traces[0].limit())
		d.press(fyne.KeyO, fyne.KeyE)
		require.Equal(t, "K-105 wringing-alternating left", d.edited)
	}
}

// What an exercise of two hands brought is told of each: in the session's overview,
// in the replay, beside another session and over the weeks.
func TestTwoHandsAreToldApart(t *testing.T) {
	store := kept(t)
	s := wrung(t, store)
	d := sit(t, store, size(1280, 720), 100, func(o Options) *Reader { return Session(o, s.ID) })
	o := at[*overview](d)
	words := said(o.exerciseCard(&o.f.s.Exercises[0]))
	require.Contains(t, words, "Right hand: 2 repetitions, 4 of 4 holds kept.\nLeft hand: 2 repetitions, 4 of 4 holds kept.")
	require.Contains(t, words, "Not judged: right middle PIP past straight")
	capture(t, d, "overview-two-hands.png")

	all := len(o.f.spans)
	right, left := o.f.spansOf(hand.Right), o.f.spansOf(hand.Left)
	require.Equal(t, all, len(right)+len(left))
	d.press(fyne.KeyP)
	v := at[*viewer](d)
	require.Len(t, v.traces[0].c.spans, len(right), "the replay has those of the hand that it shows")

	d.press(fyne.KeyEscape, fyne.KeyW)
	w := at[*weeks](d)
	d.q.until(t, func() bool { return w.report != nil })
	names := map[string]bool{}
	for i := range w.report.Ranges {
		names[w.name(i)] = true
	}
	require.True(t, names["index PIP"] && names["index PIP, left hand"], "%v", names)
	own, other := w.report.Ranges[1], w.report.Ranges[len(w.report.Ranges)/2+1]
	require.Equal(t, []hand.Joint{hand.IndexPIP, hand.IndexPIP}, []hand.Joint{own.Joint, other.Joint})
	require.Equal(t, 1, own.Last.Sessions)
	require.Equal(t, 2, other.Last.Sessions, "the client has a session of the left hand alone too")
	require.Greater(t, own.Last.Reach.MinDeg, other.Last.Reach.MinDeg+5, "nothing of the left hand in the treated one's")
	capture(t, d, "weeks-two-hands.png")
}

// said is every text within an object.
func said(o fyne.CanvasObject) string {
	var all []string
	for _, x := range test.LaidOutObjects(o) {
		if w, ok := x.(*parts.Words); ok {
			all = append(all, w.Text())
		}
	}
	return strings.Join(all, "\n")
}

// capture keeps a picture of the window where the test was asked for pictures.
func capture(t *testing.T, d *desk, name string) {
	t.Helper()
	if *pictures == "" {
		return
	}
	out, err := os.Create(filepath.Join(*pictures, name))
	require.NoError(t, err)
	require.NoError(t, png.Encode(out, d.w.Canvas().Capture()))
	require.NoError(t, out.Close())
}

// Of two moments at the same time, as two hands can have, the place belongs to
// the one whose worst reading is nearer.
func TestTwoMomentsAtOnce(t *testing.T) {
	moment := func(worst time.Duration) review.Moment {
		return review.Moment{Flag: session.Flag{Start: 5 * time.Second, End: 8 * time.Second}, From: 3 * time.Second, To: 10 * time.Second, Worst: worst}
	}
	f := &file{moments: []review.Moment{moment(6 * time.Second), moment(7 * time.Second)}}
	require.Equal(t, 0, f.momentAt(6*time.Second))
	require.Equal(t, 1, f.momentAt(7*time.Second))
	require.Equal(t, 1, f.momentAt(8*time.Second))
	require.Equal(t, -1, f.momentAt(11*time.Second))
}
