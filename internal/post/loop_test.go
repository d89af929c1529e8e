package post_test

import (
	"bytes"
	"context"
	"errors"
	"io"
	"path/filepath"
	"testing"
	"time"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"volar/internal/camera"
	"volar/internal/clinicstore"
	"volar/internal/coach"
	"volar/internal/exchange"
	"volar/internal/exchange/buckettest"
	"volar/internal/hand"
	"volar/internal/homestore"
	"volar/internal/infer"
	"volar/internal/live"
	"volar/internal/post"
	"volar/internal/program"
	"volar/internal/session"
	"volar/internal/vault"
)

// clip is the bundled video of a rendered hand: three grips held for two
// seconds, and a right index finger's middle knuckle 18 degrees past straight
// once; cmd/volar/demo/truth.json says when.
const clip = "../../cmd/volar/demo/clip.avi"

// picture is what the models saw in one picture of the clip.
type picture struct {
	at   time.Duration
	seen []hand.Observation
}

// watch runs the whole clip through the live path and gives each result to got;
// it returns what was seen, so that the same pictures can be judged again by
// other limits without looking twice.
func watch(t *testing.T, o live.Options, got func(live.Result)) []picture {
	t.Helper()
	engine, err := infer.OpenRuntime(infer.RuntimeOptions{})
	require.NoError(t, err)
	defer engine.Close()
	j, err := live.New(engine, o)
	require.NoError(t, err)
	defer j.Close()
	path, err := filepath.Abs(clip)
	require.NoError(t, err)
	src, err := camera.OpenVideo(path, camera.VideoOptions{})
	require.NoError(t, err)
	defer src.Close()
	var all []picture
	for {
		f, err := src.Next(t.Context())
		if errors.Is(err, io.EOF) {
			return all
		}
		require.NoError(t, err)
		r, err := j.Frame(f.Image, f.Time)
		require.NoError(t, err)
		got(r)
		p := picture{at: f.Time}
		if r.Hand != nil {
			p.seen = []hand.Observation{*r.Hand}
		}
		all = append(all, p)
	}
}

// side of the loop.
type loop struct {
	now    time.Time
	vault  *vault.Vault
	clinic *post.Clinic
	store  *homestore.Store
	home   *post.Home
	seen   []picture
}

func (l *loop) clock() time.Time { l.now = l.now.Add(time.Second); return l.now }

// practise does the exercise that the home's program asks for, as it stands
// now, before the clip, and keeps it.
func (l *loop) practise(t *testing.T) session.ID {
	t.Helper()
	r, ok, err := l.store.Program(l.now)
	require.NoError(t, err)
	require.True(t, ok, "a program is in force")
	q := r.Exercises[0]
	config, err := q.Config(nil)
	require.NoError(t, err)
	rec, err := l.store.Record(r.Program.Client, r.Program.Version)
	require.NoError(t, err)
	n, err := rec.StartExercise(session.Exercise{Item: q.ID, Movement: q.Movement.ID, Side: q.Side, Sets: 1, Repetitions: 3})
	require.NoError(t, err)
	counted, last := 0, time.Duration(0)
	take := func(res live.Result) {
		last = res.Sample.Time
		for _, e := range res.Events {
			if _, ok := e.(coach.RepetitionCounted); ok {
				counted++
			}
		}
		require.NoError(t, rec.Frame(session.Frame{Sample: res.Sample, Hand: res.Hand, Width: 640, Height: 480, Events: res.Events}))
	}
	o := live.Options{Side: q.Side, Coach: config}
	if l.seen == nil {
		l.seen = watch(t, o, take)
	} else {
		j, err := live.Of(o)
		require.NoError(t, err)
		for _, p := range l.seen {
			res, err := j.Observed(p.seen, p.at)
			require.NoError(t, err)
			take(res)
		}
	}
	require.NoError(t, rec.FinishExercise(n, last, func(e *session.Exercise) { e.Outcome, e.Counted = session.Done, counted }))
	id := rec.ID()
	require.NoError(t, rec.Close())
	return id
}

// firstProgram is a program with the limit that no joint goes past straight.
func firstProgram(t *testing.T, now time.Time) *program.Program {
	t.Helper()
	p, _, err := program.New(program.Options{Client: "K-104", Side: program.Side(hand.Right), Exercises: []string{"whole-hand-grip"}, Now: now}, program.Source{})
	require.NoError(t, err)
	sets, repetitions, hold := 1, 3, 2.0
	p.Exercises[0].Dose.Sets, p.Exercises[0].Dose.Repetitions, p.Exercises[0].Dose.HoldSeconds = &sets, &repetitions, &hold
	p.Limits = []program.Limit{{Joints: "*.pip", Schedule: []program.Step{{Lower: program.Deg(0)}}}}
	return p
}

// kept checks a program and puts it into the clinic's store.
func (l *loop) kept(t *testing.T, p *program.Program) *program.Program {
	t.Helper()
	faults, _ := p.Check(program.Source{})
	require.Empty(t, faults)
	s := clinicstore.On(l.vault, clinicstore.Options{Clock: l.clock})
	ok, err := s.HasClient(t.Context(), p.Client)
	require.NoError(t, err)
	if !ok {
		require.NoError(t, s.PutClient(t.Context(), clinicstore.Client{Code: p.Client, Hands: "right"}))
	}
	require.NoError(t, s.PutProgram(t.Context(), p))
	return p
}

// equal says that the clinic has what the home recorded: every sample, event
// and answer, and what lists and trends draw from them.
func (l *loop) equal(t *testing.T, clinic *vault.Vault, id session.ID) {
	t.Helper()
	var whole [2]bytes.Buffer
	var flags [2][]vault.FlagEntry
	var entries [2][]vault.Entry
	var done [2][]vault.ExerciseEntry
	for i, v := range []*vault.Vault{l.store.Vault(), clinic} {
		s, err := v.Load(t.Context(), id)
		require.NoError(t, err)
		require.NoError(t, session.Encode(&whole[i], s))
		flags[i], err = v.Flags(t.Context(), "K-104", time.Time{}, time.Time{})
		require.NoError(t, err)
		entries[i], err = v.Sessions(t.Context(), vault.Filter{IDPrefix: id.String()})
		require.NoError(t, err)
		done[i], err = v.Exercises(t.Context(), "K-104", time.Time{}, time.Time{})
		require.NoError(t, err)
	}
	assert.True(t, bytes.Equal(whole[0].Bytes(), whole[1].Bytes()), "traces")
	assert.Equal(t, flags[0], flags[1])
	assert.Equal(t, entries[0], entries[1])
	assert.Equal(t, done[0], done[1])
}

// bent lists the flags of one session for a joint past its limit.
func bent(t *testing.T, v *vault.Vault, id session.ID) (all []session.Flag) {
	t.Helper()
	s, err := v.Load(context.Background(), id)
	require.NoError(t, err)
	for _, f := range session.Flags(s.Events) {
		if f.Kind == string(coach.Hyperextension) {
			all = append(all, f)
		}
	}
	return all
}

func newVault(t *testing.T, dir, secret string) *vault.Vault {
	t.Helper()
	v, err := vault.Create(t.Context(), dir, vault.Options{Secret: vault.Passphrase(secret), KDF: vault.KDF{Time: 1, MemoryKiB: 64, Threads: 1}})
	require.NoError(t, err)
	t.Cleanup(func() { assert.NoError(t, v.Close()) })
	return v
}

// The whole way there and back, by a bucket on a real server that goes away in
// the middle, and by a folder: the clinic makes client and program, the home
// takes them with the code, a session before the clip goes to the clinic and is
// there what it was at home; the limit is changed, the home gets it, and the
// next session is judged by it. A second machine of the clinic has it all too.
func TestLoop(t *testing.T) {
	server := buckettest.Start(t)
	var seen []picture
	for _, way := range []string{"bucket", "folder"} {
		t.Run(way, func(t *testing.T) {
			place := post.Place{Where: t.TempDir()}
			if way == "bucket" {
				a := server.Address
				place = post.Place{Where: a.String(), Key: a.Key, Secret: a.Secret, HomeKey: a.Key, HomeSecret: a.Secret}
			}
			ctx := t.Context()
			l := &loop{now: time.Date(2026, 11, 20, 9, 0, 0, 0, time.UTC), seen: seen}
			l.vault = newVault(t, filepath.Join(t.TempDir(), "clinic"), "the clinic")
			l.store = homestore.On(newVault(t, filepath.Join(t.TempDir(), "home"), "the home"), homestore.Options{Clock: l.clock, Software: "test"})
			o := post.Options{Clock: l.clock, Retry: exchange.Retry{Times: 2, Pause: time.Millisecond}}
			l.clinic, l.home = post.NewClinic(l.vault, o), post.NewHome(l.store, o)

			// In the clinic: a client, a program, an invitation.
			first := l.kept(t, firstProgram(t, l.now))
			require.NoError(t, l.clinic.SetPlace(ctx, place))
			inv, err := l.clinic.Invite(ctx, "K-104")
			require.NoError(t, err)

			// At home: the file, and the code as it was read out.
			code, err := exchange.ParseCode(inv.Code.String())
			require.NoError(t, err)
			_, err = l.home.Accept(ctx, inv.File, code)
			require.NoError(t, err)
			if way == "folder" {
				require.NoError(t, l.home.SetPlace(ctx, place))
			}
			atHome, err := l.home.Place(ctx)
			require.NoError(t, err)
			assert.Equal(t, place.Where, atHome.Where)
			one := l.practise(t)
			seen = l.seen
			assert.Len(t, bent(t, l.store.Vault(), one), 1, "past straight, as the clip's truth says")

			home, err := atHome.Open()
			require.NoError(t, err)
			defer home.Close()
			if way == "bucket" {
				server.Down()
				_, err = l.home.Send(ctx, home)
				require.Error(t, err)
				assert.Contains(t, post.Words(err), "cannot be reached")
				server.Up()
			}
			sent, err := l.home.Send(ctx, home)
			require.NoError(t, err)
			assert.Equal(t, 2, sent, "greeting and session")

			// In the clinic: it is what was recorded.
			clinic, err := place.Open()
			require.NoError(t, err)
			defer clinic.Close()
			got, err := l.clinic.Fetch(ctx, clinic)
			require.NoError(t, err)
			assert.Empty(t, got.Trouble)
			l.equal(t, l.vault, one)

			// The limit is changed.
			l.now = l.now.Add(24 * time.Hour)
			next := first.Next(l.now)
			next.Limits[0].Schedule = append(next.Limits[0].Schedule, program.Step{From: next.ValidFrom, Lower: program.Deg(-40)})
			l.kept(t, next)
			_, err = l.clinic.Send(ctx, clinic, "")
			require.NoError(t, err)

			// At home the next session is judged by it.
			in, err := l.home.Fetch(ctx, home)
			require.NoError(t, err)
			assert.Equal(t, 1, in.Programs)
			two := l.practise(t)
			s, err := l.store.Vault().Load(ctx, two)
			require.NoError(t, err)
			assert.Equal(t, 2, s.Version)
			assert.Empty(t, bent(t, l.store.Vault(), two), "40° past straight is allowed now")
			_, err = l.home.Send(ctx, home)
			require.NoError(t, err)

			// A second machine has nothing but the keys.
			var keys bytes.Buffer
			require.NoError(t, l.clinic.ExportKeys(ctx, &keys, "words for the keys"))
			v2 := newVault(t, filepath.Join(t.TempDir(), "second"), "the second machine")
			second := post.NewClinic(v2, o)
			require.NoError(t, second.ImportKeys(ctx, &keys, "words for the keys"))
			for _, c := range []*post.Clinic{l.clinic, second} {
				got, err := c.Fetch(ctx, clinic)
				require.NoError(t, err)
				assert.Empty(t, got.Trouble)
			}
			for _, v := range []*vault.Vault{l.vault, v2} {
				l.equal(t, v, one)
				l.equal(t, v, two)
			}
		})
	}
}
