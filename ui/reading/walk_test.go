package reading

import (
	"bytes"
	"context"
	"encoding/csv"
	"encoding/json"
	"os"
	"path/filepath"
	"strings"
	"testing"
	"time"

	"fyne.io/fyne/v2"
	"github.com/stretchr/testify/require"
	"go.uber.org/goleak"

	"volar/internal/review"
	"volar/internal/vault"
	"volar/ui/parts"
)

func TestMain(m *testing.M) {
	goleak.VerifyTestMain(m, goleak.IgnoreAnyFunction("fyne.io/fyne/v2/internal/async.(*UnboundedChan[...]).processing"),
		goleak.IgnoreAnyFunction("fyne.io/fyne/v2/widget.(*entryCursorAnimation).start.func1"))
}

// From the list to a judged flag, a note and a session that is read, by keys
// alone, and all of it is in the store.
func TestReadingByKeys(t *testing.T) {
	store := kept(t)
	ctx := context.Background()
	d := sit(t, store, size(1280, 720), 100, Queue)
	q := at[*queue](d)
	require.Equal(t, "K-104", q.entries[0].Client, "what was stopped for pain comes first")
	id := q.entries[0].ID
	require.Equal(t, review.StoppedForPain, q.entries[0].Why[0].Reason)
	d.press(fyne.KeyReturn)
	o := at[*overview](d)
	require.Len(t, o.f.moments, 2)
	d.press(fyne.KeyN)
	v := at[*viewer](d)
	require.Equal(t, o.f.moments[0].Worst, v.at.At())
	require.Contains(t, v.traces[0].name(), "past straight", "the joint is shown where it was worst")
	d.press(fyne.KeyN)
	require.Equal(t, o.f.moments[1].Worst, v.at.At())
	d.press(fyne.Key1)
	require.Contains(t, v.what.Text(), "Marked right")
	d.press(fyne.KeyP, fyne.Key2)
	require.Contains(t, v.what.Text(), "Marked wrong")
	d.press(fyne.KeyT)
	n := at[*note](d)
	n.Control(fyne.KeyS)
	require.Equal(t, "Nothing is written yet.", n.problem.Told())
	d.w.Canvas().FocusNext()
	d.w.Canvas().FocusNext()
	d.w.Canvas().FocusNext()
	d.typed("Limit stays.")
	d.r.Control(fyne.KeyS)
	v = at[*viewer](d)
	require.Equal(t, o.f.moments[0].Worst, v.at.At(), "the replay stands where it was left")
	d.press(fyne.KeyR)
	v = at[*viewer](d)
	require.Nil(t, v.Does(fyne.KeyR), "it is read")
	d.press(fyne.KeyEscape)
	at[*overview](d)
	d.press(fyne.KeyEscape)
	q = at[*queue](d)
	require.NotEqual(t, id, q.entries[0].ID, "what was read is gone from the list")

	said, err := store.Reviews(ctx, id)
	require.NoError(t, err)
	var marks []review.Mark
	seconds := 0
	for _, r := range said {
		marks = append(marks, r.Marks...)
		seconds += r.Seconds
		require.Equal(t, "T-1", r.By)
	}
	require.Equal(t, []review.Mark{{Flag: 2, Judgement: review.Right}, {Flag: 1, Judgement: review.Wrong}}, marks)
	require.Equal(t, "Limit stays.", said[2].Note.Plan)
	require.InDelta(t, 8, seconds, 4, "a second a key")
	list, err := store.Sessions(ctx, vault.Filter{Read: true})
	require.NoError(t, err)
	require.Len(t, list, 2)
}

// A half-written note is not lost by leaving it, by Escape or by closing the
// window: it is asked about, as often as it is tried, and can be written on, kept
// or thrown away.
func TestAHalfWrittenNoteAsks(t *testing.T) {
	store := kept(t)
	all, err := sessions()
	require.NoError(t, err)
	id := all[3].ID
	d := sit(t, store, size(1280, 720), 100, func(o Options) *Reader { return Session(o, id) })
	at[*overview](d)
	d.press(fyne.KeyT)
	n := at[*note](d)
	require.False(t, d.r.Unsaved(), "nothing is written")
	d.typed(" ")
	require.False(t, d.r.Unsaved(), "a space is nothing")
	d.typed("Less stiff.")
	require.True(t, d.r.Unsaved())
	d.press(fyne.KeyEscape)
	at[*leaveNote](d)
	require.True(t, d.r.Unsaved(), "while it is asked nothing is thrown away")
	d.press(fyne.KeyEscape)
	require.Same(t, n, at[*note](d))
	require.Equal(t, " Less stiff.", d.w.Canvas().Focused().(*parts.Field).Text)

	// Closing the window, and once more.
	closed := 0
	shut := func() { closed++ }
	d.r.Ask(shut)
	d.r.Ask(shut)
	at[*leaveNote](d)
	require.Zero(t, closed)
	d.press(fyne.KeyEscape)
	at[*note](d)
	d.r.Ask(shut)
	d.r.Control(fyne.KeyS)
	require.Equal(t, 1, closed)
	require.False(t, d.r.Unsaved())
	said, err := store.Reviews(context.Background(), id)
	require.NoError(t, err)
	require.Equal(t, "Less stiff.", said[len(said)-1].Note.Subjective)

	// Thrown away, it is gone, and the way leads where it led.
	d = sit(t, store, size(1280, 720), 100, func(o Options) *Reader { return Session(o, id) })
	at[*overview](d)
	d.press(fyne.KeyT)
	at[*note](d)
	d.typed("Not this.")
	d.press(fyne.KeyEscape)
	at[*leaveNote](d)
	d.press(fyne.KeyT)
	at[*overview](d)
	require.False(t, d.r.Unsaved())
	now, err := store.Reviews(context.Background(), id)
	require.NoError(t, err)
	for _, r := range now[len(said):] {
		require.True(t, r.Note.Empty())
	}

	// Nothing written, nothing asked.
	d.press(fyne.KeyT)
	at[*note](d)
	d.press(fyne.KeyEscape)
	at[*overview](d)
}

func TestScrubbingByKeys(t *testing.T) {
	store := kept(t)
	all, err := sessions()
	require.NoError(t, err)
	d := sit(t, store, size(1280, 720), 100, func(o Options) *Reader { return Session(o, all[3].ID) })
	at[*overview](d)
	d.press(fyne.KeyP)
	v := at[*viewer](d)
	d.press(fyne.KeyRight, fyne.KeyRight)
	require.Equal(t, all[3].Samples[2].Time, v.at.At())
	d.press(fyne.KeyLeft)
	require.Equal(t, all[3].Samples[1].Time, v.at.At())
	d.press(fyne.KeyPageDown)
	require.Equal(t, all[3].Samples[1].Time+time.Second, v.at.At())
	d.press(fyne.KeyEnd)
	require.Equal(t, v.at.End(), v.at.At())
	d.press(fyne.KeyHome)
	require.Zero(t, v.at.At())
	// The line stands where the place is, and a touch there leads back to it.
	d.press(fyne.KeyN)
	tr := v.traces[0]
	x := tr.axis() + float32(tr.c.lens.Share(v.at.At()))*(tr.Size().Width-tr.axis())
	place := v.at.At()
	tr.Tapped(&fyne.PointEvent{Position: fyne.NewPos(x, 80)})
	require.InDelta(t, place.Seconds(), v.at.At().Seconds(), 0.02)
	// Other joints, another stretch, another side.
	first := v.joints[v.from]
	d.press(fyne.KeyDown)
	require.NotEqual(t, first, v.joints[v.from])
	span := v.lens.Span
	d.press(fyne.KeyPlus)
	require.Less(t, v.lens.Span, span)
	d.press(fyne.KeyV, fyne.KeyV)
	require.Contains(t, v.doubt.Text(), "from the back")
	// It plays by the clock and ends at the end.
	d.press(fyne.KeyHome, fyne.KeySpace)
	require.NotNil(t, v.play)
	d.now = d.now.Add(3 * time.Second)
	d.q.until(t, func() bool { return v.at.At() >= 3*time.Second })
	require.InDelta(t, 3, v.at.At().Seconds(), 0.01)
	d.now = d.now.Add(time.Hour)
	d.q.until(t, func() bool { return v.play == nil })
	require.Equal(t, v.at.End(), v.at.At())
	d.press(fyne.KeyE)
	require.Equal(t, "K-104 straight-finger-hold right", d.edited)
}

// What is typed narrows the list; what a filter leaves out is not shown.
func TestFindingAClient(t *testing.T) {
	d := sit(t, kept(t), size(1280, 720), 100, Queue)
	q := at[*queue](d)
	d.press(fyne.KeyF)
	d.typed("k-105")
	require.Len(t, q.entries, 1)
	require.Equal(t, "K-105", q.entries[0].Client)
	require.Equal(t, "1 session", q.count.Text())
	q.field.SetText("")
	require.Len(t, q.entries, 4)
	q.focus()
	d.press(fyne.KeyU)
	require.Len(t, q.entries, 5)
	d.press(fyne.KeyU)
	require.Len(t, q.entries, 1)
	d.press(fyne.KeyEscape)
	require.Equal(t, 1, d.back)
	// One client's list has no field for another.
	d = sit(t, d.store, size(1280, 720), 100, func(o Options) *Reader {
		o.Client = "K-105"
		return Queue(o)
	})
	q = at[*queue](d)
	require.Len(t, q.entries, 1)
	require.Nil(t, q.field)
}

// The weeks become files by keys: as PDF and as another form, beside what is
// there already, and what cannot be written is said.
func TestAReportIsWritten(t *testing.T) {
	dir := t.TempDir()
	d := sit(t, kept(t), size(1280, 720), 100, func(o Options) *Reader {
		o.Client, o.Folder = "K-104", dir
		return Report(o)
	})
	p := at[*paper](d)
	require.Equal(t, filepath.Join(dir, "K-104-report-2026-11-25.pdf"), p.field.Text)
	d.press(fyne.KeyReturn)
	d.q.until(t, func() bool { return !p.busy })
	body, err := os.ReadFile(p.field.Text)
	require.NoError(t, err)
	// ISO 32000-1, 7.5.2: a PDF file begins so.
	require.True(t, strings.HasPrefix(string(body), "%PDF-1."))
	require.Contains(t, p.said.Text(), "Written to "+p.field.Text)
	require.True(t, p.open.Visible())
	d.r.Control(fyne.KeyS)
	d.q.until(t, func() bool { return !p.busy })
	require.Contains(t, p.row.Told(), "a file of this name")

	p.as(1)
	require.Equal(t, filepath.Join(dir, "K-104-report-2026-11-25.csv"), p.field.Text)
	d.r.Control(fyne.KeyS)
	d.q.until(t, func() bool { return !p.busy })
	body, err = os.ReadFile(p.field.Text)
	require.NoError(t, err)
	_, err = csv.NewReader(bytes.NewReader(body)).ReadAll() // RFC 4180
	require.NoError(t, err)
	for _, form := range []int{2, 3} {
		p.as(form)
		d.r.Control(fyne.KeyS)
		d.q.until(t, func() bool { return !p.busy })
		body, err = os.ReadFile(p.field.Text)
		require.NoError(t, err)
		require.True(t, json.Valid(body))
	}
	p.as(0)
	p.field.SetText(filepath.Join(dir, "nowhere", "x.pdf"))
	d.r.Control(fyne.KeyS)
	d.q.until(t, func() bool { return !p.busy })
	require.NotEmpty(t, p.row.Told())
	d.press(fyne.KeyEscape)
	require.Equal(t, 1, d.back)

	d = sit(t, d.store, size(1280, 720), 200, func(o Options) *Reader {
		o.Client, o.Folder = "K-105", dir
		o.Now = func() time.Time { return evening.AddDate(1, 0, 0) }
		return Report(o)
	})
	p = at[*paper](d)
	d.r.Control(fyne.KeyS)
	d.q.until(t, func() bool { return !p.busy })
	require.Equal(t, "There is no session in these 4 weeks.", p.row.Told())
	require.Less(t, fyne.CurrentApp().Driver().AbsolutePositionForObject(p.field).Y+p.field.Size().Height, float32(600), "it is in view at twice the text")
	left, err := filepath.Glob(filepath.Join(dir, "K-105*"))
	require.NoError(t, err)
	require.Empty(t, left)
}

// A replay that is left stops drawing and playing.
func TestLeavingEndsWhatRuns(t *testing.T) {
	store := kept(t)
	all, err := sessions()
	require.NoError(t, err)
	d := sit(t, store, size(1280, 720), 100, func(o Options) *Reader { return Session(o, all[3].ID) })
	at[*overview](d)
	d.press(fyne.KeyP)
	v := at[*viewer](d)
	d.press(fyne.KeySpace)
	require.NotNil(t, v.play)
	d.now = d.now.Add(30 * time.Second)
	d.r.Leave()
	require.Nil(t, v.play)
	said, err := store.Reviews(context.Background(), all[3].ID)
	require.NoError(t, err)
	require.Len(t, said, 1, "the time is kept")
	require.Positive(t, said[0].Seconds)
}
