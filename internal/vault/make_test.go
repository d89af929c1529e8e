package vault

import (
	"context"
	"errors"
	"fmt"
	"math/rand/v2"
	"os"
	"testing"
	"time"

	"github.com/stretchr/testify/require"

	"volar/internal/hand"
	"volar/internal/session"
)

// cheap are costs of the passphrase that a test can pay often.
var cheap = KDF{Time: 1, MemoryKiB: 64, Threads: 1}

// memoryKeyring stands in for the system's.
type memoryKeyring map[string]string

var errNoKeyring = errors.New("no keyring here")

func (m memoryKeyring) Get(service, user string) (string, error) {
	if s, ok := m[service+"/"+user]; ok {
		return s, nil
	}
	return "", errNoKeyring
}

func (m memoryKeyring) Set(service, user, secret string) error {
	if m == nil {
		return errNoKeyring
	}
	m[service+"/"+user] = secret
	return nil
}

// clinic are the options of a store with a passphrase.
func clinic() Options {
	return Options{Secret: Passphrase("correct horse"), KDF: cheap, keyring: memoryKeyring(nil)}
}

// create makes a store with one client and opens it.
func create(t testing.TB, dir string, o Options) *Vault {
	t.Helper()
	v, err := Create(context.Background(), dir, o)
	require.NoError(t, err)
	t.Cleanup(func() { require.NoError(t, v.Close()) })
	require.NoError(t, v.PutClient(context.Background(), Client{Code: "C-017", Side: "right"}))
	return v
}

func reopen(t testing.TB, dir string, o Options) *Vault {
	t.Helper()
	v, err := Open(context.Background(), dir, o)
	require.NoError(t, err)
	t.Cleanup(func() { require.NoError(t, v.Close()) })
	return v
}

// sampleAt is a sample of a hand with some noise.
func sampleAt(at time.Duration, r *rand.Rand) session.Sample {
	s := session.Sample{Sample: hand.Sample{Time: at, Found: true, Side: hand.Right, Track: 1}}
	for j := range s.Joints {
		v := 45 + 5*r.NormFloat64()
		s.Joints[j] = hand.Measurement{FlexionDeg: v, RawDeg: v + r.NormFloat64(), SEDeg: 4, Judged: true, ExtensionWhy: hand.WrongView}
	}
	for p := range s.Points {
		s.Points[p] = [2]float64{0.3 + 0.01*float64(p) + 0.001*r.NormFloat64(), 0.7 - 0.02*float64(p) + 0.001*r.NormFloat64()}
	}
	return s
}

// day0 is the first day of the tests' calendar.
var day0 = time.Date(2026, 3, 2, 8, 0, 0, 0, time.UTC)

// whole is a session of some seconds with n flags, repeatable by its seed.
func whole(client string, seed uint64, started time.Time, seconds, flags int) *session.Session {
	r := rand.New(rand.NewPCG(seed, 9))
	id := session.NewID(started)
	for i := 6; i < 16; i++ {
		id[i] = byte(r.Uint32())
	}
	two, five := 2, 2+int(seed%5)
	s := &session.Session{
		Header: session.Header{ID: id, Client: client, Program: "P", Version: 1, Started: started.UTC(), Zone: "UTC", Pictures: true},
		State:  session.Closed, Ended: time.Duration(seconds) * time.Second,
		Segments: []session.Segment{{Clock: started.UTC()}},
		Exercises: []session.Exercise{{
			Number: 1, Movement: "whole-hand-grip", Side: hand.Right, Sets: 2, Repetitions: 10, Outcome: session.Done,
			End: time.Duration(seconds) * time.Second, Counted: 8 + int(seed%12), PainBefore: &two, PainAfter: &five,
			Ranges: []session.Range{{Joint: hand.IndexPIP, MinDeg: -2, MaxDeg: 90, MinJudged: true}},
		}},
	}
	if seconds == 0 {
		s.Ended, s.Exercises[0].End = time.Minute, time.Minute
	}
	for i := range seconds * 30 {
		s.Samples = append(s.Samples, sampleAt(time.Duration(i)*time.Second/30/time.Microsecond*time.Microsecond, r))
	}
	kinds := []string{"hyperextension", "incomplete-grip", "too-fast"}
	for i := range flags {
		at := time.Duration(i+1) * 100 * time.Millisecond
		s.Events = append(s.Events, session.Event{
			At: at, Exercise: 1, Kind: session.FlagEnded, Subject: "index.pip", Repetition: i + 1, Flag: i + 1,
			Numbers: map[string]float64{"start_s": at.Seconds(), "end_s": at.Seconds() + 0.5, "peak_deg": -12, "limit_deg": 0, "se_deg": 3},
			Words:   map[string]string{"kind": kinds[(int(seed)+i)%len(kinds)]},
		})
	}
	if seed%7 == 3 {
		s.Exercises[0].Outcome, s.Exercises[0].StopReason = session.Stopped, "it hurts"
		s.Answers = append(s.Answers, session.Answer{At: time.Second, Exercise: 1, Kind: session.Hurt})
	}
	return s
}

// copyStore copies a closed store's files.
func copyStore(t testing.TB, from, to string) {
	t.Helper()
	require.NoError(t, os.CopyFS(to, os.DirFS(from)))
}

func code(n int) string { return fmt.Sprintf("C-%03d", n) }
