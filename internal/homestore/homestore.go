// Package homestore is the encrypted store as the home side uses it: one
// client, the programs that the therapist sent, and what was done. It puts
// package vault into the words of package today, and decides which session goes
// on after one was cut short.
//
// The client is the one of the last program that was taken in. Until there is
// one, what is tried is kept for TrialClient.
//
// Times are wall-clock times in the client's zone where they say a day, else
// instants. Errors are those of package vault and name the item; what a store
// needs to be mended is said by vault's own errors.
package homestore

import (
	"bytes"
	"context"
	"encoding/json"
	"errors"
	"fmt"
	"strconv"
	"syscall"
	"time"

	"volar/internal/coach"
	"volar/internal/goniometry"
	"volar/internal/hand"
	"volar/internal/program"
	"volar/internal/session"
	"volar/internal/today"
	"volar/internal/vault"
)

// TrialClient is the code under which exercises are kept that are tried
// without a program.
const TrialClient = "trial"

// Names of the settings.
const (
	settingClient  = "home.client"
	settingConsent = "home.consent"
	settingClean   = "home.clean."
)

// Options of a Store. The zero value is what a client's computer uses.
type Options struct {
	// Secret opens the store; the zero Secret is the device's own.
	Secret vault.Secret
	// Estimator names what reads the angles in this program; see
	// goniometry.Options.
	Estimator string
	// Software is the program's version, for the records.
	Software string
	// Clock is the wall clock; nil is time.Now.
	Clock func() time.Time
}

// Store is the home side's store. Its methods may be called from any
// goroutine.
type Store struct {
	v   *vault.Vault
	opt Options
	// dir is the store's folder; empty where another made the vault.
	dir string
}

// Open opens the store in a folder, or makes it, and removes what is past its
// retention date.
func Open(ctx context.Context, dir string, o Options) (*Store, error) {
	if o.Clock == nil {
		o.Clock = time.Now
	}
	open := vault.Create
	if vault.Exists(dir) {
		open = func(ctx context.Context, dir string, o vault.Options) (*vault.Vault, error) {
			return vault.Open(ctx, dir, o)
		}
	}
	v, err := open(ctx, dir, vault.Options{Secret: o.Secret})
	if err != nil {
		return nil, err
	}
	s := &Store{v: v, opt: o, dir: dir}
	gone, err := v.Purge(ctx, o.Clock())
	if err == nil && len(gone) > 0 {
		err = s.forget(ctx)
	}
	if err != nil {
		v.Close()
		return nil, err
	}
	return s, nil
}

// Close closes the store.
func (s *Store) Close() error { return s.v.Close() }

// Warning says what the client should know of how the key is kept; empty where
// there is nothing to say.
func (s *Store) Warning() string { return s.v.Warning() }

// Client is the code of the client; empty before the first program.
func (s *Store) Client(ctx context.Context) (string, error) {
	b, err := s.v.Setting(ctx, settingClient)
	return string(b), err
}

// TakeProgram keeps a program, which may be a new version, and makes its
// client the store's.
func (s *Store) TakeProgram(ctx context.Context, p *program.Program) error {
	body, err := Pack(p)
	if err != nil {
		return err
	}
	if err := s.client(ctx, vault.Client{Code: p.Client, Side: p.Side.String()}); err != nil {
		return err
	}
	err = s.v.PutProgram(ctx, vault.Program{Client: p.Client, Name: p.Client, Number: p.Version, ValidFrom: p.ValidFrom.String(), Body: body})
	if err != nil {
		return err
	}
	return s.v.PutSetting(ctx, settingClient, []byte(p.Client))
}

// client sees to it that a client is in the store.
func (s *Store) client(ctx context.Context, c vault.Client) error {
	all, err := s.v.Clients(ctx)
	if err != nil {
		return err
	}
	for _, have := range all {
		if have.Code == c.Code {
			return nil
		}
	}
	return s.v.PutClient(ctx, c)
}

// packed is a program with movement files beside it, as it is kept.
type packed struct {
	Program string            `json:"program"`
	Files   map[string][]byte `json:"files"`
}

// Pack turns a program into the bytes that are kept: the program's own text,
// or with movement files a JSON object of both.
func Pack(p *program.Program) ([]byte, error) {
	if len(p.Files) == 0 {
		return p.Format(), nil
	}
	return json.Marshal(packed{string(p.Format()), p.Files})
}

// Unpack reads what Pack wrote.
func Unpack(body []byte) (*program.Program, error) {
	text, files := body, map[string][]byte(nil)
	if bytes.HasPrefix(body, []byte("{")) {
		var k packed
		if err := json.Unmarshal(body, &k); err != nil {
			return nil, fmt.Errorf("read a program from the store: %w", err)
		}
		text, files = []byte(k.Program), k.Files
	}
	p, _, err := program.Parse(text, program.Carried(files))
	if err != nil {
		return nil, fmt.Errorf("read a program from the store: %w", err)
	}
	return p, nil
}

// Program is what is prescribed for the moment; ok is false where there is no
// program, or none that is in force yet.
func (s *Store) Program(now time.Time) (r program.Resolved, ok bool, err error) {
	ctx := context.Background()
	code, err := s.Client(ctx)
	if err != nil || code == "" {
		return program.Resolved{}, false, err
	}
	list, err := s.v.Programs(ctx, code)
	if err != nil || len(list) == 0 {
		return program.Resolved{}, false, err
	}
	var all []*program.Program
	for _, v := range list {
		whole, err := s.v.Program(ctx, code, v.Number)
		if err != nil {
			return program.Resolved{}, false, err
		}
		p, err := Unpack(whole.Body)
		if err != nil {
			return program.Resolved{}, false, fmt.Errorf("program %d of %s: %w", v.Number, code, err)
		}
		all = append(all, p)
	}
	h, err := program.NewHistory(all...)
	if err != nil {
		return program.Resolved{}, false, err
	}
	r, ok = h.Resolve(now, nil)
	return r, ok, nil
}

// code is the client under whom what is done now is kept.
func (s *Store) code(ctx context.Context) (string, error) {
	code, err := s.Client(ctx)
	if code == "" {
		code = TrialClient
	}
	return code, err
}

// Past lists the exercises begun since a moment.
func (s *Store) Past(since time.Time) ([]today.Past, error) {
	ctx := context.Background()
	code, err := s.code(ctx)
	if err != nil {
		return nil, err
	}
	all, err := s.v.Exercises(ctx, code, since, time.Time{})
	if err != nil {
		return nil, err
	}
	var past []today.Past
	for _, e := range all {
		past = append(past, today.Past{Item: e.Item, At: e.Started.Add(e.Start), Outcome: e.Outcome, StopReason: coach.StopReason(e.StopReason)})
	}
	return past, nil
}

// Clean is how many clean sets in a row of an exercise came last; KeepClean
// keeps that.
func (s *Store) Clean(item string) (int, error) {
	b, err := s.v.Setting(context.Background(), settingClean+item)
	if err != nil || b == nil {
		return 0, err
	}
	n, err := strconv.Atoi(string(b))
	if err != nil {
		return 0, fmt.Errorf("clean sets of %s: %w", item, err)
	}
	return n, nil
}

// KeepClean keeps how many clean sets in a row came last.
func (s *Store) KeepClean(item string, n int) error {
	return s.v.PutSetting(context.Background(), settingClean+item, []byte(strconv.Itoa(n)))
}

// Own is what was recorded last of the client's own hand; the zero Own where
// nothing was.
func (s *Store) Own(side hand.Side) (today.Own, error) {
	ctx := context.Background()
	code, err := s.Client(ctx)
	if err != nil || code == "" {
		return today.Own{}, err
	}
	all, err := s.v.Baselines(ctx, code)
	if err != nil {
		return today.Own{}, err
	}
	for _, b := range all {
		if b.Side != side.String() {
			continue
		}
		own, err := goniometry.DecodeBaseline(b.Body)
		if err != nil {
			return today.Own{}, fmt.Errorf("recorded hand of %s: %w", code, err)
		}
		return today.OwnOf(own, s.opt.Estimator), nil
	}
	return today.Own{}, nil
}

// TakeOwn keeps a recorded hand of the store's client.
func (s *Store) TakeOwn(ctx context.Context, b *goniometry.Baseline) error {
	code, err := s.code(ctx)
	if err != nil {
		return err
	}
	body, err := b.Encode()
	if err != nil {
		return err
	}
	return s.v.PutBaseline(ctx, vault.Baseline{Client: code, Side: b.Side, Captured: b.CapturedAt, Body: body})
}

// Record begins a session, or goes on with today's where that was cut short.
func (s *Store) Record(name string, version int) (*session.Recorder, error) {
	ctx := context.Background()
	code, err := s.code(ctx)
	if err != nil {
		return nil, err
	}
	if err := s.client(ctx, vault.Client{Code: code}); err != nil {
		return nil, err
	}
	c, err := s.v.Client(ctx, code)
	if err != nil {
		return nil, err
	}
	now := s.opt.Clock()
	o := session.Options{
		Header: session.Header{Client: code, Program: name, Version: version, Zone: zone(now), Software: s.opt.Software},
		Sink:   s.v, Clock: s.opt.Clock,
		Pictures: session.PictureOptions{ClientAgrees: c.PicturesClient, TherapistAgrees: c.PicturesTherapist},
	}
	cut, err := s.v.Sessions(ctx, vault.Filter{Client: code, State: session.Interrupted, From: now.Add(-resumable), Limit: 1})
	if err != nil {
		return nil, err
	}
	if len(cut) == 1 && cut[0].Program == name && cut[0].Version == version {
		h, r, err := s.v.Resume(ctx, cut[0].ID)
		if err != nil {
			return nil, err
		}
		o.Header, o.Resume = h, &r
	}
	return session.NewRecorder(o)
}

// resumable is how long after its beginning a session that was cut short is
// gone on with; a later one is a new session (a choice).
const resumable = 2 * time.Hour

// zone is the name of the local time zone, or its offset where it has none.
func zone(t time.Time) string {
	if name := t.Location().String(); name != "" && name != "Local" {
		return name
	}
	return t.Format("-07:00")
}

// Consented is true once the client has confirmed that the clinician agrees.
func (s *Store) Consented() (bool, error) {
	b, err := s.v.Setting(context.Background(), settingConsent)
	return b != nil, err
}

// Consent keeps when the client confirmed that.
func (s *Store) Consent(now time.Time) error {
	return s.v.PutSetting(context.Background(), settingConsent, []byte(now.UTC().Format(time.RFC3339)))
}

// Words put an error of the store into a sentence with what to do.
func Words(err error) string {
	var damaged *vault.DamagedError
	switch {
	case errors.Is(err, vault.ErrLocked):
		return "Another volar is open and writes to the store. Close that window, then try again."
	case errors.Is(err, syscall.ENOSPC):
		return "The disk is full. Remove something else from this computer; the program then goes on keeping."
	case errors.As(err, &damaged) && len(damaged.Backups) > 0:
		return fmt.Sprintf("The store is damaged. There is a backup of %s that can be restored. (%v)", damaged.Backups[0].Made.Format("2 January 2006"), err)
	}
	return err.Error()
}
