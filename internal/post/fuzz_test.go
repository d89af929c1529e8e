package post

import (
	"testing"

	"github.com/stretchr/testify/require"

	"volar/internal/exchange"
)

// A letter that is taken is for the client and the version that its header
// names, and every file in it stays in its folder.
func FuzzLetter(f *testing.F) {
	p, _, err := prescribedProgram("K-104")
	require.NoError(f, err)
	l := prescription{}
	l.programs = append(l.programs, p)
	good, err := l.encode()
	require.NoError(f, err)
	f.Add(good)
	f.Add([]byte(`{"version":1,"programs":[{"program":"x","files":{"a.yaml":"eA=="}}]}`))
	f.Add([]byte(`{"version":2}`))
	h := exchange.Header{Kind: exchange.KindProgram, Client: "K-104", Number: 1}
	f.Fuzz(func(t *testing.T, body []byte) {
		got, err := readLetter(h, body)
		if err != nil {
			if !Refused(err) {
				t.Fatalf("%v has no name", err)
			}
			return
		}
		for _, p := range got.programs {
			if p.Client != h.Client || uint64(p.Version) > h.Number {
				t.Fatalf("version %d for %s under another header", p.Version, p.Client)
			}
			for name := range p.Files {
				if !plainName(name) {
					t.Fatalf("%q leads out of its folder", name)
				}
			}
		}
	})
}

// A record that is taken has a version that is known.
func FuzzRecord(f *testing.F) {
	f.Add([]byte(`{"version":1,"at":"2026-11-20T09:00:00Z","client":{"side":"right","precautions":"","next_review":"","retain_until":"","pictures_client":false,"pictures_therapist":false}}`))
	f.Add([]byte(`{"version":2}`))
	f.Fuzz(func(t *testing.T, body []byte) {
		var r record
		if err := decodeJSON(body, recordVersion, &r); err != nil {
			if !Refused(err) {
				t.Fatalf("%v has no name", err)
			}
		} else if r.Version > recordVersion {
			t.Fatal("a later version was taken")
		}
	})
}
