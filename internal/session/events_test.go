package session_test

import (
	"go/ast"
	"go/parser"
	"go/token"
	"os"
	"path/filepath"
	"strings"
	"testing"
	"time"

	"github.com/stretchr/testify/require"

	"volar/internal/coach"
	"volar/internal/hand"
	"volar/internal/session"
)

// Every kind of event of the coach has its own case in Flatten: the types are
// read from the coach's source, the cases from this package's.
func TestFlattenIsComplete(t *testing.T) {
	var missing []string
	text, err := os.ReadFile("events.go")
	require.NoError(t, err)
	files, err := filepath.Glob("../coach/*.go")
	require.NoError(t, err)
	types := 0
	for _, name := range files {
		if strings.HasSuffix(name, "_test.go") {
			continue
		}
		f, err := parser.ParseFile(token.NewFileSet(), name, nil, 0)
		require.NoError(t, err)
		ast.Inspect(f, func(n ast.Node) bool {
			spec, ok := n.(*ast.TypeSpec)
			if !ok {
				return true
			}
			s, ok := spec.Type.(*ast.StructType)
			if !ok {
				return true
			}
			for _, field := range s.Fields.List {
				id, ok := field.Type.(*ast.Ident)
				if ok && len(field.Names) == 0 && id.Name == "stamp" && spec.Name.IsExported() {
					types++
					if !strings.Contains(string(text), "case coach."+spec.Name.Name+":") {
						missing = append(missing, spec.Name.Name)
					}
				}
			}
			return true
		})
	}
	require.GreaterOrEqual(t, types, 14, "the coach's events were not found")
	require.Empty(t, missing, "events of the coach without a case in Flatten")
}

func TestFlatten(t *testing.T) {
	const by = 10 * time.Second
	for _, c := range []struct {
		in   coach.Event
		want session.Event
	}{
		{coach.PhaseChanged{From: coach.AtRest, To: coach.Approach}, session.Event{Kind: session.PhaseChanged, Words: map[string]string{"from": "rest", "to": "approach"}}},
		{coach.HoldEnded{Hold: coach.Hold{Start: time.Second, End: 3 * time.Second, Held: 2 * time.Second, Wanted: 5 * time.Second, Repetition: 4}},
			session.Event{Kind: session.HoldEnded, Repetition: 4, Words: map[string]string{"result": "short"}, Numbers: map[string]float64{"start_s": 11, "end_s": 13, "held_s": 2, "wanted_s": 5}}},
		{coach.HoldEnded{Hold: coach.Hold{Repetition: 2, Side: hand.Left, Met: true}},
			session.Event{Kind: session.HoldEnded, Repetition: 2, Words: map[string]string{"result": "met", "side": "left"}, Numbers: map[string]float64{"start_s": 10, "end_s": 10, "held_s": 0, "wanted_s": 0}}},
		{coach.CannotJudge{Joints: []hand.Joint{hand.IndexPIP, hand.ThumbIP}, Extension: true, Why: hand.WrongView},
			session.Event{Kind: session.CannotJudge, Words: map[string]string{"joints": "index.pip thumb.ip", "extension": "yes", "why": "wrong view"}}},
		{coach.Resumed{Away: 1500 * time.Millisecond}, session.Event{Kind: session.Resumed, Numbers: map[string]float64{"away_s": 1.5}}},
		{coach.Cue{Text: "Slower."}, session.Event{Kind: session.Cue, Words: map[string]string{"text": "Slower."}}},
	} {
		c.want.At = by
		require.Equal(t, c.want, session.Flatten(c.in, by))
	}
}

// RFC 9562, appendix A.6 gives 017F22E2-79B0-7CC3-98C4-DC0C0C07398F for
// 2022-02-22 14:22:22 -05:00, a Unix time of 1645557742000 ms.
func TestIDs(t *testing.T) {
	at := time.UnixMilli(1645557742000)
	id := session.NewID(at)
	require.Equal(t, "017f22e2-79b0-7", id.String()[:15])
	require.Contains(t, "89ab", id.String()[19:20], "variant")
	require.NotEqual(t, id, session.NewID(at))
	require.Less(t, id.String(), session.NewID(at.Add(time.Millisecond)).String())
	back, err := session.ParseID("017F22E2-79B0-7CC3-98C4-DC0C0C07398F")
	require.NoError(t, err)
	require.Equal(t, "017f22e2-79b0-7cc3-98c4-dc0c0c07398f", back.String())
	for _, bad := range []string{"", "017f", "zzzzzzzz-79b0-7cc3-98c4-dc0c0c07398f", back.String() + "00"} {
		_, err := session.ParseID(bad)
		require.Error(t, err, bad)
	}
}
