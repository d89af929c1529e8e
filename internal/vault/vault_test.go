package vault

import (
	"context"
	"encoding/binary"
	"errors"
	"io/fs"
	"math/rand/v2"
	"os"
	"path/filepath"
	"strconv"
	"strings"
	"testing"
	"time"

	"github.com/stretchr/testify/require"
	"lukechampine.com/adiantum"

	"volar/internal/coach"
	"volar/internal/hand"
	"volar/internal/review"
	"volar/internal/session"
)

func TestFilesAreTheOwnersAlone(t *testing.T) {
	dir := filepath.Join(t.TempDir(), "store")
	v := create(t, dir, Options{keyring: memoryKeyring(nil)})
	require.NotEmpty(t, v.Warning(), "the key lies in a file")
	_, err := v.Backup(context.Background(), BackupOptions{})
	require.NoError(t, err)
	files := 0
	require.NoError(t, filepath.WalkDir(dir, func(name string, d fs.DirEntry, err error) error {
		require.NoError(t, err)
		fi, err := d.Info()
		require.NoError(t, err)
		want := fs.FileMode(0o600)
		if d.IsDir() {
			want = 0o700
		} else {
			files++
		}
		require.Equal(t, want, fi.Mode().Perm(), name)
		return nil
	}))
	require.GreaterOrEqual(t, files, 8)
}

func TestKeys(t *testing.T) {
	ctx := context.Background()
	dir := t.TempDir()
	v := create(t, dir, clinic())
	require.Empty(t, v.Warning())
	require.NoError(t, v.Close())
	has, err := HasPassphrase(dir)
	require.NoError(t, err)
	require.True(t, has)
	for _, wrong := range []Secret{Passphrase("correct horsE"), Device()} {
		o := clinic()
		o.Secret = wrong
		_, err := Open(ctx, dir, o)
		require.ErrorIs(t, err, ErrWrongKey)
		require.NotErrorIs(t, err, ErrDamaged)
	}
	require.NoError(t, reopen(t, dir, clinic()).Close())

	ring := memoryKeyring{}
	home := t.TempDir()
	v = create(t, home, Options{keyring: ring})
	require.Empty(t, v.Warning())
	require.NoError(t, v.Close())
	require.NoError(t, reopen(t, home, Options{keyring: ring}).Close())
	for k := range ring {
		ring[k] = ring[k][:10]
	}
	_, err = Open(ctx, home, Options{keyring: ring})
	require.ErrorIs(t, err, ErrWrongKey)
	_, err = Open(ctx, home, Options{keyring: memoryKeyring(nil)})
	require.ErrorIs(t, err, errNoKeyring, "a keyring that is away is not a wrong key")
	require.NotErrorIs(t, err, ErrWrongKey)

	_, err = Create(ctx, home, Options{keyring: ring})
	require.ErrorIs(t, err, fs.ErrExist)
	_, err = Open(ctx, t.TempDir(), Options{})
	require.ErrorIs(t, err, fs.ErrNotExist)
}

// Nothing that is stored can be read from the files.
func TestNothingInTheClear(t *testing.T) {
	dir := t.TempDir()
	v := create(t, dir, clinic())
	require.NoError(t, v.PutClient(context.Background(), Client{Code: "C-018", Precautions: "pulley repair, ring finger"}))
	look := func() {
		require.NoError(t, filepath.WalkDir(dir, func(name string, d fs.DirEntry, err error) error {
			require.NoError(t, err)
			if !d.IsDir() {
				data, err := os.ReadFile(name)
				require.NoError(t, err)
				for _, s := range []string{"pulley", "C-018", "SQLite format", "CREATE TABLE", "correct horse"} {
					require.NotContains(t, string(data), s, name)
				}
			}
			return nil
		}))
	}
	look()
	require.NoError(t, v.Close())
	look()
}

func TestSecondInstance(t *testing.T) {
	ctx := context.Background()
	dir := t.TempDir()
	v := create(t, dir, clinic())
	_, err := Open(ctx, dir, clinic())
	require.ErrorIs(t, err, ErrLocked)
	require.Contains(t, err.Error(), strconv.Itoa(os.Getpid()))

	o := clinic()
	o.ReadOnly = true
	r, err := Open(ctx, dir, o)
	require.NoError(t, err)
	defer r.Close()
	require.NoError(t, v.PutClient(ctx, Client{Code: "C-020"}))
	all, err := r.Clients(ctx)
	require.NoError(t, err)
	require.Len(t, all, 2, "the reader sees what was written since")
	require.ErrorIs(t, r.PutClient(ctx, Client{Code: "C-021"}), errReadOnly)
	require.ErrorIs(t, r.Begin(session.Header{Client: "C-017"}), errReadOnly)
	require.ErrorIs(t, Restore(ctx, dir, dir, clinic()), ErrLocked)
}

func TestRecordLoadAndResume(t *testing.T) {
	ctx := context.Background()
	dir := t.TempDir()
	v := create(t, dir, clinic())
	rec, err := session.NewRecorder(session.Options{Sink: v, Header: session.Header{Client: "C-017", Program: "P", Version: 2, Zone: "Europe/Berlin"}})
	require.NoError(t, err)
	n, err := rec.StartExercise(session.Exercise{Movement: "whole-hand-grip", Sets: 2, Repetitions: 5})
	require.NoError(t, err)
	for i := range 90 {
		f := session.Frame{Sample: hand.Sample{Time: time.Duration(i) * 33 * time.Millisecond, Found: i%9 != 0, Side: hand.Right}}
		if i == 40 {
			f.Events = []coach.Event{coach.FlagRaised{Flag: coach.Flag{Kind: coach.Hyperextension, Joint: hand.RingPIP, OnJoint: true, PeakDeg: -9}}}
		}
		require.NoError(t, rec.Frame(f))
	}
	require.NoError(t, rec.Answer(session.Answer{At: 2 * time.Second, Kind: session.Hurt}))
	require.NoError(t, rec.Flush())
	require.Error(t, v.ChangeSecret(ctx, Passphrase("x")), "not while recording")

	list, err := v.Sessions(ctx, Filter{})
	require.NoError(t, err)
	require.Len(t, list, 1)
	e := list[0]
	require.Equal(t, []int{90, 80, 1, 10, 1, 1, 1, 1}, []int{e.Samples, e.Found, e.Exercises, e.Prescribed, e.Flags, e.Limits, e.NewFlags, e.Hurt})
	require.Equal(t, session.Open, e.State)

	// The program dies here: the recorder is never closed.
	defer rec.Close()
	require.NoError(t, v.Close())
	v = reopen(t, dir, clinic())
	require.Equal(t, 1, v.Interrupted())
	s, err := v.Load(ctx, rec.ID())
	require.NoError(t, err)
	require.Equal(t, session.Interrupted, s.State)
	require.Len(t, s.Samples, 90)
	require.Equal(t, session.Running, s.Exercises[n-1].Outcome)

	h, p, err := v.Resume(ctx, rec.ID())
	require.NoError(t, err)
	require.Equal(t, "Europe/Berlin", h.Zone)
	_, _, err = v.Resume(ctx, rec.ID())
	require.Error(t, err, "it is open now")
	again, err := session.NewRecorder(session.Options{Sink: v, Header: h, Resume: &p})
	require.NoError(t, err)
	require.NoError(t, again.Frame(session.Frame{Sample: hand.Sample{Time: time.Second}}))
	require.NoError(t, again.Close())
	s, err = v.Load(ctx, rec.ID())
	require.NoError(t, err)
	require.Equal(t, session.Closed, s.State)
	require.Len(t, s.Samples, 91)
	require.Len(t, s.Segments, 2)
	require.Equal(t, 89*33*time.Millisecond+time.Second, s.Samples[90].Time)
	require.ErrorContains(t, v.Append(rec.ID(), &session.Batch{Seq: 99}), "closed")
	require.NoError(t, v.Check(ctx))
	_, err = v.Load(ctx, session.ID{1})
	require.ErrorIs(t, err, fs.ErrNotExist)
	_, err = session.NewRecorder(session.Options{Sink: v, Header: session.Header{Client: "C-999"}})
	require.ErrorIs(t, err, fs.ErrNotExist)
}

func TestImport(t *testing.T) {
	ctx := context.Background()
	v := create(t, t.TempDir(), clinic())
	long := whole("C-017", 3, day0, 5, 4)
	short := whole("C-017", 3, day0, 5, 4)
	short.State, short.Samples, short.Ended = session.Interrupted, short.Samples[:60], 2*time.Second
	short.Exercises[0].End = 2 * time.Second
	require.NoError(t, v.Import(ctx, short))
	require.NoError(t, v.PutReview(ctx, review.Review{Format: 1, Session: short.ID, Client: "C-017", By: "T-1", Note: review.Note{Plan: "see flag 2"}, At: day0, Read: true, Marks: []review.Mark{{Flag: 2, Judgement: review.Right}}}))
	require.NoError(t, v.Import(ctx, long), "the longer one takes its place")
	require.NoError(t, v.Import(ctx, long), "twice is once")
	require.NoError(t, v.Import(ctx, short), "an older state changes nothing")
	got, err := v.Load(ctx, long.ID)
	require.NoError(t, err)
	require.Equal(t, long.Events, got.Events)
	require.Equal(t, long.Exercises, got.Exercises)
	require.Len(t, got.Samples, len(long.Samples))
	reviews, err := v.Reviews(ctx, long.ID)
	require.NoError(t, err)
	require.Len(t, reviews, 1)
	require.Equal(t, []review.Mark{{Flag: 2, Judgement: review.Right}}, reviews[0].Marks)

	// A fault that was new stops being so when an earlier session has it.
	list, err := v.Sessions(ctx, Filter{})
	require.NoError(t, err)
	require.Equal(t, 3, list[0].NewFlags)
	require.NoError(t, v.Import(ctx, whole("C-017", 3, day0.Add(-time.Hour), 1, 1)))
	list, err = v.Sessions(ctx, Filter{})
	require.NoError(t, err)
	require.Equal(t, []int{2, 1}, []int{list[0].NewFlags, list[1].NewFlags})

	foreign := whole("C-017", 3, day0, 5, 4)
	foreign.Client = "C-018"
	require.NoError(t, v.PutClient(ctx, Client{Code: "C-018"}))
	require.Error(t, v.Import(ctx, foreign))
	foreign.Client, foreign.ID = "C-404", session.NewID(day0)
	require.ErrorIs(t, v.Import(ctx, foreign), fs.ErrNotExist)
}

func TestListAndFilter(t *testing.T) {
	ctx := context.Background()
	v := create(t, t.TempDir(), clinic())
	require.NoError(t, v.PutClient(ctx, Client{Code: "C-018"}))
	for i := range 14 {
		require.NoError(t, v.Import(ctx, whole([]string{"C-017", "C-018"}[i%2], uint64(i), day0.AddDate(0, 0, i), 0, i%3)))
	}
	seeds := func(f Filter) (days []int) {
		all, err := v.Sessions(ctx, f)
		require.NoError(t, err)
		for _, e := range all {
			days = append(days, int(e.Started.Sub(day0).Hours()/24))
		}
		if f.Limit == 0 && f.Offset == 0 {
			n, err := v.Count(ctx, f)
			require.NoError(t, err)
			require.Equal(t, n, len(days))
		}
		return days
	}
	require.Equal(t, []int{13, 12, 11, 10, 9, 8, 7, 6, 5, 4, 3, 2, 1, 0}, seeds(Filter{}))
	require.Equal(t, []int{0, 2, 4, 6, 8, 10, 12}, seeds(Filter{Client: "C-017", Order: Oldest}))
	require.Empty(t, seeds(Filter{Client: "C-404"}))
	require.Len(t, seeds(Filter{ClientPrefix: "c-01"}), 14)
	require.Equal(t, []int{13, 11, 9, 7, 5, 3, 1}, seeds(Filter{ClientPrefix: "c-018"}))
	require.Empty(t, seeds(Filter{ClientPrefix: "%"}))
	require.Equal(t, []int{4, 3}, seeds(Filter{From: day0.AddDate(0, 0, 3), To: day0.AddDate(0, 0, 5)}))
	require.Equal(t, []int{10, 3}, seeds(Filter{Pain: true}), "seed 3 of 7 hurts")
	require.Equal(t, []int{12, 11}, seeds(Filter{Limit: 2, Offset: 1}))
	require.Equal(t, []int{1, 0}, seeds(Filter{Offset: 12}))
	all, err := v.Sessions(ctx, Filter{Order: NeedsEyes})
	require.NoError(t, err)
	require.Equal(t, review.StoppedForPain, all[0].Why[0].Reason)
	require.Equal(t, review.StoppedForPain, all[1].Why[0].Reason)
	require.Equal(t, review.PainRose, all[2].Why[0].Reason)
	one, err := v.Sessions(ctx, Filter{IDPrefix: all[5].ID.String()[:23]})
	require.NoError(t, err)
	require.Len(t, one, 1)
	require.Equal(t, all[5], one[0])
	for _, e := range all {
		if e.Limits > 0 {
			require.Contains(t, seeds(Filter{Limits: true}), int(e.Started.Sub(day0).Hours()/24))
		}
	}
	require.NoError(t, v.PutReview(ctx, review.Review{Format: 1, Session: all[0].ID, Client: all[0].Client, By: "T-1", At: day0, Read: true}))
	require.Len(t, seeds(Filter{Unread: true}), 13)
	require.Len(t, seeds(Filter{Read: true}), 1)

	ex, err := v.Exercises(ctx, "C-017", day0, day0.AddDate(0, 0, 5))
	require.NoError(t, err)
	require.Len(t, ex, 3)
	require.Equal(t, 90.0, ex[2].Ranges[0].MaxDeg)
	flags, err := v.Flags(ctx, "C-018", time.Time{}, time.Time{})
	require.NoError(t, err)
	require.Len(t, flags, 0+1+2+1+0+2+1)
	require.Equal(t, "whole-hand-grip", flags[0].Movement)
	require.True(t, flags[0].Ended)
	require.Equal(t, 500*time.Millisecond, flags[0].End-flags[0].Start)
}

func TestReviews(t *testing.T) {
	ctx := context.Background()
	v := create(t, t.TempDir(), clinic())
	s := whole("C-017", 1, day0, 1, 3)
	require.NoError(t, v.Import(ctx, s))
	at := day0.Add(time.Hour)
	put := func(who string, at time.Time, marks ...review.Mark) review.Review {
		r := review.Review{Format: 1, Session: s.ID, Client: "C-017", By: who, At: at, Read: true, Seconds: 90, Note: review.Note{Plan: "note of " + who}, Marks: marks}
		require.NoError(t, v.PutReview(ctx, r))
		return r
	}
	first := put("T-1", at, review.Mark{Flag: 1, Judgement: review.Right}, review.Mark{Flag: 2, Judgement: review.Wrong})
	second := put("T-2", at.Add(time.Minute), review.Mark{Flag: 1, Judgement: review.Unclear})
	// They come in any order, and again.
	early := put("T-1", at.Add(-time.Minute), review.Mark{Flag: 2, Judgement: review.Right})
	require.NoError(t, v.PutReview(ctx, first))
	all, err := v.Reviews(ctx, s.ID)
	require.NoError(t, err)
	require.Equal(t, []review.Review{early, first, second}, all)
	of, err := v.ReviewsOf(ctx, "C-017")
	require.NoError(t, err)
	require.Equal(t, map[session.ID][]review.Review{s.ID: all}, of)
	list, err := v.Sessions(ctx, Filter{})
	require.NoError(t, err)
	require.Equal(t, early.At, list[0].Read, "the first reading counts")
	counts, err := v.MarkCounts(ctx, "C-017")
	require.NoError(t, err)
	require.Equal(t, []MarkCount{{"incomplete-grip", 0, 0, 1}, {"too-fast", 0, 1, 0}}, counts, "the latest judgement counts")
	spent, err := v.ReviewTime(ctx, "C-017", day0, day0.AddDate(0, 1, 0))
	require.NoError(t, err)
	require.Equal(t, 270*time.Second, spent)
	bad := first
	bad.Marks = []review.Mark{{Flag: 1, Judgement: "maybe"}}
	require.Error(t, v.PutReview(ctx, bad))
	bad = first
	bad.Client = "C-018"
	require.ErrorContains(t, v.PutReview(ctx, bad), "another client")
	bad.Session = session.ID{9}
	require.ErrorIs(t, v.PutReview(ctx, bad), fs.ErrNotExist)
}

// The order of the store's list is that of package review, which says it in
// words: two ways to the same list, sessions coming in any order.
func TestNeedsEyesIsTheOrderOfReview(t *testing.T) {
	ctx := context.Background()
	v := create(t, t.TempDir(), clinic())
	require.NoError(t, v.PutClient(ctx, Client{Code: "C-018"}))
	var summaries []review.Summary
	read := map[session.ID]bool{}
	r := rand.New(rand.NewPCG(4, 4))
	for _, n := range r.Perm(40) {
		s := whole([]string{"C-017", "C-018"}[n%2], uint64(n), day0.AddDate(0, 0, n), 0, n%4)
		if n%5 == 0 {
			s.State = session.Interrupted
		}
		for i := range s.Events {
			if side := hand.Side((n/4 + i) % 3); side != hand.UnknownSide {
				s.Events[i].Words["side"] = side.String()
			}
		}
		require.NoError(t, v.Import(ctx, s))
		summaries = append(summaries, review.Summarize(s))
		if n%6 == 1 {
			read[s.ID] = true
			require.NoError(t, v.PutReview(ctx, review.Review{Format: 1, Session: s.ID, Client: s.Client, At: s.Started.Add(time.Hour), Read: true}))
		}
	}
	list, err := v.Sessions(ctx, Filter{Order: NeedsEyes})
	require.NoError(t, err)
	for i, item := range review.Queue(summaries, func(id session.ID) bool { return read[id] }) {
		require.Equal(t, item.ID, list[i].ID, "place %d", i)
		require.Equal(t, item.Why, list[i].Why)
		require.Equal(t, item.Read, !list[i].Read.IsZero())
	}
}

func TestSmallThings(t *testing.T) {
	ctx := context.Background()
	v := create(t, t.TempDir(), clinic())
	require.NoError(t, v.PutClient(ctx, Client{Code: "C-017", Side: "left", Precautions: "none", NextReview: "2026-04-01", PicturesClient: true}))
	c, err := v.Client(ctx, "C-017")
	require.NoError(t, err)
	require.Equal(t, []any{"left", "2026-04-01", true, false}, []any{c.Side, c.NextReview, c.PicturesClient, c.PicturesTherapist})
	_, err = v.Client(ctx, "C-404")
	require.ErrorIs(t, err, fs.ErrNotExist)
	require.Error(t, v.PutClient(ctx, Client{}))
	require.Error(t, v.PutClient(ctx, Client{Code: "C-1", RetainUntil: "1.4.2026"}))

	require.NoError(t, v.PutProgram(ctx, Program{Client: "C-017", Name: "P", Number: 1, ValidFrom: "2026-03-01", Body: []byte("a: 1\n")}))
	require.NoError(t, v.PutProgram(ctx, Program{Client: "C-017", Name: "P", Number: 1, ValidFrom: "2026-03-01", Body: []byte("a: 1\n")}))
	require.Error(t, v.PutProgram(ctx, Program{Client: "C-017", Name: "P", Number: 1, ValidFrom: "2026-03-01", Body: []byte("a: 2\n")}))
	require.NoError(t, v.PutProgram(ctx, Program{Client: "C-017", Name: "P", Number: 2, ValidFrom: "2026-04-01", Body: []byte("a: 2\n")}))
	p, err := v.Program(ctx, "C-017", 0)
	require.NoError(t, err)
	require.Equal(t, "a: 2\n", string(p.Body))
	p, err = v.Program(ctx, "C-017", 1)
	require.NoError(t, err)
	require.Equal(t, "a: 1\n", string(p.Body))
	_, err = v.Program(ctx, "C-017", 3)
	require.ErrorIs(t, err, fs.ErrNotExist)
	ps, err := v.Programs(ctx, "C-017")
	require.NoError(t, err)
	require.Equal(t, []int{2, 1}, []int{ps[0].Number, ps[1].Number})

	require.NoError(t, v.PutBaseline(ctx, Baseline{Client: "C-017", Side: "right", Captured: day0, Body: []byte(`{"v":1}`)}))
	require.Error(t, v.PutBaseline(ctx, Baseline{Client: "C-017", Body: []byte(`{`)}))
	bs, err := v.Baselines(ctx, "C-017")
	require.NoError(t, err)
	require.Len(t, bs, 1)
	require.Equal(t, day0, bs[0].Captured)

	for i, body := range []string{`{"n":1}`, `{"n":2}`} {
		require.NoError(t, v.PutMeasurement(ctx, Measurement{Client: "C-017", Side: "left", Taken: day0.Add(time.Duration(i) * time.Minute), Body: []byte(body)}))
	}
	require.Error(t, v.PutMeasurement(ctx, Measurement{Client: "C-017", Body: []byte(`{`)}))
	require.ErrorIs(t, v.PutMeasurement(ctx, Measurement{Client: "C-900", Body: []byte(`{}`)}), fs.ErrNotExist)
	ms, err := v.Measurements(ctx, "C-017")
	require.NoError(t, err)
	require.Len(t, ms, 2)
	require.JSONEq(t, `{"n":2}`, string(ms[0].Body), "the newest first")
	bs, err = v.Baselines(ctx, "C-017")
	require.NoError(t, err)
	require.Len(t, bs, 1, "a measurement is no baseline")

	require.NoError(t, v.PutOutgoing(ctx, Outgoing{Name: "a.volar", Kind: "session", Client: "C-017", Body: []byte("x")}))
	require.NoError(t, v.PutOutgoing(ctx, Outgoing{Name: "a.volar", Kind: "session", Client: "C-017", Body: []byte("y")}))
	out, err := v.Outbox(ctx, true)
	require.NoError(t, err)
	require.Len(t, out, 1)
	body, err := v.OutgoingBody(ctx, out[0].ID)
	require.NoError(t, err)
	require.Equal(t, "x", string(body))
	require.NoError(t, v.MarkTried(ctx, out[0].ID, day0, "no network"))
	require.NoError(t, v.MarkSent(ctx, out[0].ID, day0))
	out, err = v.Outbox(ctx, true)
	require.NoError(t, err)
	require.Empty(t, out)
	out, err = v.Outbox(ctx, false)
	require.NoError(t, err)
	require.Equal(t, 2, out[0].Attempts)

	in := Incoming{Name: "b.volar", Kind: "program", Client: "C-017", Digest: [32]byte{1}, State: "new", Body: []byte("z")}
	require.NoError(t, v.PutIncoming(ctx, in))
	in.State = "opened"
	require.NoError(t, v.PutIncoming(ctx, in))
	got, err := v.IncomingNamed(ctx, "b.volar")
	require.NoError(t, err)
	require.Equal(t, []string{"opened", "z"}, []string{got.State, string(got.Body)})
	in.Digest = [32]byte{2}
	require.Error(t, v.PutIncoming(ctx, in))
	inbox, err := v.Inbox(ctx)
	require.NoError(t, err)
	require.Len(t, inbox, 1)

	require.NoError(t, v.PutSetting(ctx, "sound", []byte("off")))
	s, err := v.Setting(ctx, "sound")
	require.NoError(t, err)
	require.Equal(t, "off", string(s))
	require.NoError(t, v.PutSetting(ctx, "sound", nil))
	s, err = v.Setting(ctx, "sound")
	require.NoError(t, err)
	require.Nil(t, s)
	require.NoError(t, v.Close())
	require.ErrorIs(t, v.PutSetting(ctx, "a", nil), errClosed)
	_, err = v.Clients(ctx)
	require.ErrorIs(t, err, errClosed)
}

// Deleted means gone: with the key in hand, no page of the database or its log
// holds what was deleted.
func TestDeletedMeansGone(t *testing.T) {
	ctx := context.Background()
	dir := t.TempDir()
	v := create(t, dir, clinic())
	const trace = "tenderness over the second pulley"
	const kept = "kept as it was written down"
	for i := range 6 {
		s := whole("C-017", uint64(i), day0.AddDate(0, 0, i), 2, 2)
		s.Answers = append(s.Answers, session.Answer{At: time.Second, Kind: session.Note, Text: trace})
		s.Pictures = []session.Picture{{Number: 1, Width: 1, Height: 1, JPEG: []byte(trace + " picture")}}
		require.NoError(t, v.Import(ctx, s))
	}
	require.NoError(t, v.PutClient(ctx, Client{Code: "C-017", Precautions: trace, RetainUntil: "2026-06-30"}))
	require.NoError(t, v.PutClient(ctx, Client{Code: "C-018", Precautions: kept, RetainUntil: "2026-07-01"}))
	require.NoError(t, v.PutOutgoing(ctx, Outgoing{Name: "a", Client: "C-017", Body: []byte(trace)}))
	require.NoError(t, v.PutIncoming(ctx, Incoming{Name: "a", Client: "C-017", Body: []byte(trace)}))
	require.Positive(t, occurrences(t, v, trace))
	require.Positive(t, occurrences(t, v, trace+" picture"))

	before := len(plain(t, v))
	gone, err := v.Purge(ctx, time.Date(2026, 7, 1, 0, 0, 0, 0, time.UTC))
	require.NoError(t, err)
	require.Equal(t, []string{"C-017"}, gone)
	require.Zero(t, occurrences(t, v, trace))
	require.Positive(t, occurrences(t, v, kept))
	require.Less(t, len(plain(t, v)), before)
	require.NoError(t, v.DeleteClient(ctx, "C-018"))
	require.Zero(t, occurrences(t, v, kept))
	require.ErrorIs(t, v.DeleteClient(ctx, "C-018"), fs.ErrNotExist)
	require.NoError(t, v.Check(ctx))
}

// occurrences counts a text in the database and its log.
func occurrences(t *testing.T, v *Vault, text string) int {
	return strings.Count(string(plain(t, v)), text)
}

// plain decrypts the database and its log with the data key, block by block as
// the VFS encrypts them.
func plain(t *testing.T, v *Vault) []byte {
	t.Helper()
	const block = 4096
	var all []byte
	for _, tail := range []string{"", "-wal"} {
		data, err := os.ReadFile(v.path() + tail)
		if errors.Is(err, fs.ErrNotExist) {
			continue
		}
		require.NoError(t, err)
		require.Zero(t, len(data)%block)
		c := adiantum.New(v.dataKey)
		for off := 0; off < len(data); off += block {
			c.Decrypt(data[off:off+block], binary.LittleEndian.AppendUint64(nil, uint64(off)))
		}
		all = append(all, data...)
	}
	require.Equal(t, "SQLite format 3", string(all[:15]))
	return all
}
