package session_test

import (
	"bytes"
	"encoding/hex"
	"errors"
	"flag"
	"io"
	"math"
	"os"
	"testing"
	"testing/iotest"
	"time"

	"github.com/fxamacker/cbor/v2"
	"github.com/stretchr/testify/require"
	"pgregory.net/rapid"

	"volar/internal/hand"
	"volar/internal/session"
)

var update = flag.Bool("update", false, "write the golden files")

func encode(t require.TestingT, s *session.Session) []byte {
	var b bytes.Buffer
	require.NoError(t, session.Encode(&b, s))
	return b.Bytes()
}

// near holds a sample to what the format keeps of it: half a step.
func near(t require.TestingT, want, got *session.Sample) {
	require.Equal(t, want.Time, got.Time)
	require.Equal(t, want.Found, got.Found)
	require.Equal(t, want.Side, got.Side)
	require.Equal(t, want.Track, got.Track)
	close := func(a, b, step float64) {
		if math.IsNaN(a) || math.IsNaN(b) {
			require.Equal(t, math.IsNaN(a), math.IsNaN(b))
			return
		}
		require.InDelta(t, a, b, step/2+1e-9)
	}
	for c := range hand.Channel(hand.NumChannels) {
		a, b := want.Channel(c), got.Channel(c)
		require.Equal(t, []any{a.Judged, a.ExtensionJudged, a.Why, a.ExtensionWhy}, []any{b.Judged, b.ExtensionJudged, b.Why, b.ExtensionWhy}, "%s", c)
		close(a.FlexionDeg, b.FlexionDeg, 0.1)
		close(a.RawDeg, b.RawDeg, 0.1)
		close(a.SEDeg, b.SEDeg, 0.5)
	}
	for i := range want.AbductionDeg {
		close(want.AbductionDeg[i], got.AbductionDeg[i], 0.1)
	}
	if want.Found {
		close(want.View.YawDeg, got.View.YawDeg, 0.1)
		close(want.View.PitchDeg, got.View.PitchDeg, 0.1)
		close(want.PalmPixels, got.PalmPixels, 1)
		close(want.SpeedPalms, got.SpeedPalms, 0.01)
		for i := range want.Points {
			close(want.Points[i][0], got.Points[i][0], 1.0/4096)
			close(want.Points[i][1], got.Points[i][1], 1.0/4096)
		}
	}
}

func TestRoundTrip(t *testing.T) {
	want := example()
	got, err := session.Decode(iotest.OneByteReader(bytes.NewReader(encode(t, want))))
	require.NoError(t, err)
	require.Len(t, got.Samples, len(want.Samples))
	for i := range want.Samples {
		near(t, &want.Samples[i], &got.Samples[i])
	}
	a, b := *want, *got
	a.Samples, b.Samples = nil, nil
	require.Equal(t, a, b)
	require.Equal(t, encode(t, got), encode(t, got), "deterministic")
	again, err := session.Decode(bytes.NewReader(encode(t, got)))
	require.NoError(t, err)
	require.Equal(t, encode(t, got), encode(t, again), "what was rounded once stays")
}

// What two hands did is kept for each. A recording that does not say whose a
// range is reads as it did, with the exercise's own hand.
func TestTwoHandsRoundTrip(t *testing.T) {
	want := example()
	require.False(t, want.Exercises[0].TwoHands())
	e := &want.Exercises[0]
	e.Ranges = []session.Range{{Joint: hand.IndexPIP, Side: hand.Left, MinDeg: 5, MaxDeg: 60}, {Joint: hand.IndexPIP, Side: hand.Right, MinDeg: -4, MaxDeg: 90, MinJudged: true}}
	e.NotJudged[0].Side = hand.Left
	got, err := session.Decode(bytes.NewReader(encode(t, want)))
	require.NoError(t, err)
	require.Equal(t, want.Exercises, got.Exercises)
	require.True(t, got.Exercises[0].TwoHands())
	e.Ranges[0].Side = hand.Right + 1
	require.ErrorIs(t, session.Encode(io.Discard, want), session.ErrMalformed)
}

// The format is a promise to later versions: the kept file reads as it did.
func TestGolden(t *testing.T) {
	const name = "testdata/session-v1.cborseq"
	if *update {
		require.NoError(t, os.MkdirAll("testdata", 0o755))
		require.NoError(t, os.WriteFile(name, encode(t, example()), 0o644))
	}
	kept, err := os.ReadFile(name)
	require.NoError(t, err)
	require.Equal(t, hex.Dump(kept), hex.Dump(encode(t, example())))
	s, err := session.Decode(bytes.NewReader(kept))
	require.NoError(t, err)
	require.Equal(t, "C-017", s.Client)
	require.Len(t, s.Samples, 6)
}

// RFC 8949, 4.2.1 and RFC 8742: every item re-encodes to itself when its keys
// are sorted and its numbers as short as can be, and the items follow one
// another with nothing between.
func TestDeterministicSequence(t *testing.T) {
	em, err := cbor.CoreDetEncOptions().EncMode()
	require.NoError(t, err)
	rest, items := encode(t, example()), 0
	for len(rest) > 0 {
		var v any
		before := rest
		rest, err = cbor.UnmarshalFirst(rest, &v)
		require.NoError(t, err)
		again, err := em.Marshal(v)
		require.NoError(t, err)
		require.Equal(t, before[:len(before)-len(rest)], again)
		items++
	}
	require.GreaterOrEqual(t, items, 4)
}

func TestAnySamplesSurvive(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		s := example()
		s.Samples = nil
		at := time.Duration(0)
		for range rapid.IntRange(0, 40).Draw(t, "samples") {
			at += time.Duration(rapid.IntRange(0, 3_000_000).Draw(t, "step")) * time.Microsecond
			x := session.Sample{Sample: hand.Sample{Time: at, Side: hand.Side(rapid.IntRange(0, 2).Draw(t, "side")), Track: rapid.IntRange(-3, 90).Draw(t, "track")}}
			if x.Found = rapid.Bool().Draw(t, "found"); !x.Found {
				x.Sample.Joints, x.AbductionDeg = lostFrame(0).Sample.Joints, lostFrame(0).Sample.AbductionDeg
			} else {
				angle := rapid.OneOf(rapid.Float64Range(-200, 200), rapid.Just(math.NaN()), rapid.Just(1e6))
				for j := range x.Joints {
					x.Joints[j] = hand.Measurement{
						FlexionDeg: angle.Draw(t, "deg"), RawDeg: angle.Draw(t, "raw"), SEDeg: rapid.Float64Range(0, 90).Draw(t, "se"),
						Judged: rapid.Bool().Draw(t, "judged"), Why: hand.TooFast, ExtensionWhy: hand.TooDark,
					}
				}
				x.Extra[3] = hand.Measurement{FlexionDeg: 40, RawDeg: 41, SEDeg: 5, Judged: true}
				for i := range x.Points {
					x.Points[i] = [2]float64{rapid.Float64Range(-1, 2).Draw(t, "x"), rapid.Float64Range(-1, 2).Draw(t, "y")}
				}
			}
			s.Samples = append(s.Samples, x)
		}
		s.Ended = max(s.Ended, at)
		first := encode(t, s)
		got, err := session.Decode(bytes.NewReader(first))
		require.NoError(t, err)
		require.Len(t, got.Samples, len(s.Samples))
		require.Equal(t, first, encode(t, got))
	})
}

func TestDamagedSequences(t *testing.T) {
	whole := encode(t, example())
	decode := func(b []byte) error { _, err := session.Decode(bytes.NewReader(b)); return err }
	require.NoError(t, decode(whole))
	for n := range whole {
		require.ErrorIs(t, decode(whole[:n]), session.ErrMalformed, "cut at %d", n)
	}
	require.ErrorIs(t, decode(append(bytes.Clone(whole), 0)), session.ErrMalformed, "something follows")
	require.ErrorIs(t, decode(append(bytes.Clone(whole), whole...)), session.ErrMalformed, "two in one")

	item := func(v any) []byte { b, err := cbor.Marshal(v); require.NoError(t, err); return b }
	header := map[string]any{"item": "header", "format": "volar-session", "version": 1, "id": make([]byte, 16), "client": "C", "zone": "", "started": "2026-01-01T00:00:00Z", "state": "closed"}
	with := func(k string, v any) []byte {
		m := map[string]any{}
		for k, v := range header {
			m[k] = v
		}
		m[k] = v
		return item(m)
	}
	footer := item(map[string]any{"item": "footer", "batches": 0})
	require.NoError(t, decode(append(item(header), footer...)), "the smallest there is")
	require.ErrorIs(t, decode(append(with("version", 2), footer...)), session.ErrNewer)
	deep := bytes.Repeat([]byte{0x81}, 100_000)
	huge := append([]byte{0x5a, 0x20, 0, 0, 0}, make([]byte, 5<<20)...)
	for name, b := range map[string][]byte{
		"empty": nil, "not cbor": []byte("hello, this is a letter"), "another format": with("format", "x"),
		"version 0": with("version", 0), "short id": with("id", []byte{1}), "state": with("state", "x"), "long client": with("client", string(make([]byte, 65))),
		"a batch first":    item(map[string]any{"item": "batch", "seq": 1}),
		"deep nesting":     append(item(header), deep...),
		"one huge item":    append(item(header), huge...),
		"indefinite":       append(item(header), 0xbf, 0xff),
		"a tag":            append(item(header), 0xc1, 0x00),
		"wrong sequence":   append(item(header), item(map[string]any{"item": "batch", "version": 1, "seq": 2})...),
		"twice a key":      append(item(header), 0xa2, 0x61, 'a', 1, 0x61, 'a', 2),
		"not a number":     append(item(header), 0xf9, 0x7e, 0x00),
		"wrong counts":     append(item(header), item(map[string]any{"item": "footer", "batches": 1})...),
		"unknown item":     append(item(header), item(map[string]any{"item": "x"})...),
		"pain of eleven":   append(item(header), item(map[string]any{"item": "batch", "version": 1, "seq": 1, "answers": []any{map[string]any{"at": 0, "exercise": 0, "kind": "pain-after", "value": 11}}})...),
		"before the start": append(item(header), item(map[string]any{"item": "batch", "version": 1, "seq": 1, "answers": []any{map[string]any{"at": -1, "exercise": 0, "kind": "hurt"}}})...),
	} {
		require.ErrorIs(t, decode(b), session.ErrMalformed, name)
	}
	broken := errors.New("the stick was pulled out")
	_, err := session.Decode(iotest.ErrReader(broken))
	require.ErrorIs(t, err, broken)
}

func FuzzDecode(f *testing.F) {
	s := example()
	f.Add(encode(f, s))
	s.Samples, s.Pictures = nil, nil
	f.Add(encode(f, s))
	f.Fuzz(func(t *testing.T, data []byte) {
		s, err := session.Decode(bytes.NewReader(data))
		if err != nil {
			require.True(t, errors.Is(err, session.ErrMalformed) || errors.Is(err, session.ErrNewer), "%v", err)
			return
		}
		first := encode(t, s)
		again, err := session.Decode(bytes.NewReader(first))
		require.NoError(t, err)
		require.Equal(t, first, encode(t, again))
	})
}

func FuzzDecodeBatch(f *testing.F) {
	for _, b := range example().Batches() {
		data, err := session.EncodeBatch(&b)
		require.NoError(f, err)
		f.Add(data)
	}
	f.Fuzz(func(t *testing.T, data []byte) {
		b, err := session.DecodeBatch(data)
		if err != nil {
			return
		}
		first, err := session.EncodeBatch(&b)
		require.NoError(t, err)
		again, err := session.DecodeBatch(first)
		require.NoError(t, err)
		second, err := session.EncodeBatch(&again)
		require.NoError(t, err)
		require.Equal(t, first, second)
	})
}

// A sample has to stay small: a client records half a million in a month.
func TestSampleSize(t *testing.T) {
	b := session.Batch{Seq: 1}
	for _, f := range film(30, 30, 7) {
		x := session.Sample{Sample: f.Sample}
		for i, p := range f.Hand.Image {
			x.Points[i] = [2]float64{p.X / 640, p.Y / 480}
		}
		b.Samples = append(b.Samples, x)
	}
	data, err := session.EncodeBatch(&b)
	require.NoError(t, err)
	t.Logf("%d bytes a sample in a batch of %d", len(data)/len(b.Samples), len(b.Samples))
	require.Less(t, len(data)/len(b.Samples), 130)
}

func BenchmarkEncodeBatch(b *testing.B) {
	batch := session.Batch{Seq: 1}
	for _, f := range film(30, 30, 7) {
		batch.Samples = append(batch.Samples, session.Sample{Sample: f.Sample})
	}
	for b.Loop() {
		if _, err := session.EncodeBatch(&batch); err != nil {
			b.Fatal(err)
		}
	}
}

func BenchmarkDecodeBatch(b *testing.B) {
	batch := session.Batch{Seq: 1}
	for _, f := range film(30, 30, 7) {
		batch.Samples = append(batch.Samples, session.Sample{Sample: f.Sample})
	}
	data, err := session.EncodeBatch(&batch)
	require.NoError(b, err)
	for b.Loop() {
		if _, err := session.DecodeBatch(data); err != nil {
			b.Fatal(err)
		}
	}
}
