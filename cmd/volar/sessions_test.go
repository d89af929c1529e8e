package main

import (
	"context"
	"os"
	"path/filepath"
	"testing"
	"time"

	"github.com/rogpeppe/go-internal/testscript"

	"volar/internal/hand"
	"volar/internal/review"
	"volar/internal/session"
	"volar/internal/vault"
)

// TestSessionScripts reads recorded sessions as a user would. The scripts find
// a clinic's store in $CLINIC, opened by "open sesame", the same one damaged
// in $DAMAGED, an empty home store in $HOMESTORE whose key is the device's, and
// the vault's kept sample of its first version in $OLDER; $CLIP is the bundled
// clip.
func TestSessionScripts(t *testing.T) {
	dir := t.TempDir()
	clinic, damaged, home := filepath.Join(dir, "clinic"), filepath.Join(dir, "damaged"), filepath.Join(dir, "home")
	ctx := context.Background()
	secret := vault.Options{Secret: vault.Passphrase("open sesame"), KDF: vault.KDF{Time: 1, MemoryKiB: 64, Threads: 1}}
	for _, name := range []string{clinic, damaged} {
		v, err := vault.Create(ctx, name, secret)
		must(t, err)
		must(t, v.PutClient(ctx, vault.Client{Code: "C-017", Side: "right"}))
		must(t, v.PutClient(ctx, vault.Client{Code: "C-018", Side: "left"}))
		must(t, v.Import(ctx, recorded("C-017", 1)))
		must(t, v.Import(ctx, recorded("C-018", 2)))
		must(t, v.PutReview(ctx, review.Review{
			Format: 1, Session: recorded("C-018", 2).ID, Client: "C-018", By: "T-1", At: time.Date(2026, 11, 3, 9, 0, 0, 0, time.UTC), Read: true,
			Marks: []review.Mark{{Flag: 1, Judgement: review.Right}}, Note: review.Note{Plan: "Limit stays as it is."},
		}))
		must(t, v.Close())
	}
	must(t, os.Truncate(filepath.Join(damaged, "store-1.db"), 5000))
	t.Setenv("DBUS_SESSION_BUS_ADDRESS", "unix:path="+filepath.Join(dir, "nobody"))
	v, err := vault.Create(ctx, home, vault.Options{})
	must(t, err)
	must(t, v.Close())
	sample, err := filepath.Abs("../../internal/vault/testdata/store-v1")
	must(t, err)
	clip, err := filepath.Abs("demo/clip.avi")
	must(t, err)
	testscript.Run(t, testscript.Params{
		Dir: "testdata/sessions",
		Setup: func(e *testscript.Env) error {
			older := filepath.Join(e.WorkDir, "older")
			if err := os.CopyFS(older, os.DirFS(sample)); err != nil {
				return err
			}
			e.Vars = append(e.Vars, "OLDER="+older, "CLIP="+clip, "CLINIC="+clinic, "DAMAGED="+damaged, "HOMESTORE="+home, "XDG_DATA_HOME="+filepath.Join(e.WorkDir, "data"))
			return nil
		},
	})
}

// recorded is the n-th session of a client: four seconds, one flag, stopped
// for pain where n is 1.
func recorded(client string, n int) *session.Session {
	started := time.Date(2026, 11, n, 16, 30, 0, 0, time.UTC)
	two, five := 2, 5
	s := &session.Session{
		Header: session.Header{
			ID: session.ID{0x01, 0x9a, byte(n), 0, 0, 0, 0x70, 0, 0x80, 0, 0, 0, 0, 0, 0, byte(n)}, Client: client,
			Program: "grip", Version: 3, Started: started, Zone: "Europe/Berlin",
		},
		State: session.Closed, Ended: 4 * time.Second,
		Segments: []session.Segment{{Clock: started}},
		Exercises: []session.Exercise{{
			Number: 1, Movement: "whole-hand-grip", Side: hand.Right, Sets: 2, Repetitions: 5, Outcome: session.Done,
			End: 4 * time.Second, Counted: 10, Measured: 0.9,
			Ranges:    []session.Range{{Joint: hand.IndexPIP, MinDeg: -14, MaxDeg: 92, MinJudged: true}},
			NotJudged: []session.NotJudged{{Joint: hand.LittleDIP, Share: 0.4, Why: hand.Hidden}},
		}},
		Events: []session.Event{{
			At: 2 * time.Second, Exercise: 1, Kind: session.FlagEnded, Subject: "index.pip", Repetition: 4, Flag: 1,
			Numbers: map[string]float64{"start_s": 1, "end_s": 1.9, "peak_deg": -14, "limit_deg": 0, "se_deg": 3.1},
			Words:   map[string]string{"kind": "hyperextension"},
		}},
	}
	if n == 1 {
		e := &s.Exercises[0]
		e.Outcome, e.StopReason, e.Counted, e.PainBefore, e.PainAfter = session.Stopped, "it hurts", 4, &two, &five
		s.Answers = []session.Answer{{At: 3 * time.Second, Exercise: 1, Kind: session.Hurt}, {At: 4 * time.Second, Exercise: 1, Kind: session.PainAfter, Value: &five}}
	}
	for i := range 40 {
		x := session.Sample{Sample: hand.Sample{Time: time.Duration(i) * 100 * time.Millisecond, Found: i != 0, Side: hand.Right}}
		for j := range x.Joints {
			x.Joints[j] = hand.Measurement{FlexionDeg: 30, RawDeg: 30, SEDeg: 4, Judged: true}
		}
		s.Samples = append(s.Samples, x)
	}
	return s
}
