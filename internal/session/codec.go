package session

import (
	"bufio"
	"errors"
	"fmt"
	"io"
	"time"

	"github.com/fxamacker/cbor/v2"
)

// ErrMalformed is input that is not a whole, well-formed session.
var ErrMalformed = errors.New("not a whole session record")

// ErrNewer is input of a later version of the format.
var ErrNewer = errors.New("the session record was written by a newer volar; update this one")

// The name and version of the format. A change that an older reader would
// misread raises the version; a new optional key does not.
const (
	formatName    = "volar-session"
	formatVersion = 1
)

// Limits on what Decode takes. Every one is far beyond an honest session: four
// hours at 60 samples a second of two hands, and 2000 pictures.
const (
	maxTime     = 48 * time.Hour
	maxSamples  = 2 * 60 * 3600 * 4
	maxPerBatch = 4096
	maxEvents   = 200_000
	maxAnswers  = 10_000
	maxExercise = 1000
	maxPictures = 2000
	maxJPEG     = 512 << 10
	maxText     = 16 << 10
	// maxItem is the longest item of the sequence and MaxEncoded the longest
	// sequence, in bytes.
	maxItem    = 4 << 20
	MaxEncoded = 512 << 20
)

// The kinds of item in the sequence.
const (
	itemHeader = "header"
	itemBatch  = "batch"
	itemFooter = "footer"
)

type wireHeader struct {
	Item     string    `cbor:"item"`
	Format   string    `cbor:"format"`
	Version  int       `cbor:"version"`
	ID       []byte    `cbor:"id"`
	Client   string    `cbor:"client"`
	Program  string    `cbor:"program,omitempty"`
	Number   int       `cbor:"program_version,omitempty"`
	Started  time.Time `cbor:"started"`
	Zone     string    `cbor:"zone"`
	Pictures bool      `cbor:"pictures"`
	Software string    `cbor:"software,omitempty"`
	State    State     `cbor:"state"`
}

type wireBatch struct {
	Item      string        `cbor:"item"`
	Version   int           `cbor:"version"`
	Seq       int           `cbor:"seq"`
	Segments  []Segment     `cbor:"segments,omitempty"`
	Exercises []Exercise    `cbor:"exercises,omitempty"`
	Samples   []wireSamples `cbor:"samples,omitempty"`
	Events    []Event       `cbor:"events,omitempty"`
	Answers   []Answer      `cbor:"answers,omitempty"`
	Pictures  []Picture     `cbor:"pictures,omitempty"`
}

type wireFooter struct {
	Item     string        `cbor:"item"`
	Ended    time.Duration `cbor:"ended"`
	Batches  int           `cbor:"batches"`
	Samples  int           `cbor:"samples"`
	Events   int           `cbor:"events"`
	Answers  int           `cbor:"answers"`
	Pictures int           `cbor:"pictures"`
}

// encMode is the core deterministic encoding with times as text in UTC.
func encMode() (cbor.EncMode, error) {
	o := cbor.CoreDetEncOptions()
	o.Time = cbor.TimeRFC3339Nano
	o.TimeTag = cbor.EncTagNone
	return o.EncMode()
}

func decMode() (cbor.DecMode, error) {
	return cbor.DecOptions{
		DupMapKey:        cbor.DupMapKeyEnforcedAPF,
		IndefLength:      cbor.IndefLengthForbidden,
		TagsMd:           cbor.TagsForbidden,
		MaxNestedLevels:  8,
		MaxArrayElements: maxPerBatch * 4,
		MaxMapPairs:      256,
		NaN:              cbor.NaNDecodeForbidden,
		Inf:              cbor.InfDecodeForbidden,
	}.DecMode()
}

// EncodeBatch turns a batch into one CBOR item.
func EncodeBatch(b *Batch) ([]byte, error) {
	m, err := encMode()
	if err != nil {
		return nil, err
	}
	return encodeBatch(m, b)
}

func encodeBatch(m cbor.EncMode, b *Batch) ([]byte, error) {
	if err := b.check(); err != nil {
		return nil, err
	}
	return m.Marshal(wireBatch{
		Item: itemBatch, Version: formatVersion, Seq: b.Seq, Segments: b.Segments, Exercises: b.Exercises,
		Samples: encodeSamples(b.Samples), Events: b.Events, Answers: b.Answers, Pictures: b.Pictures,
	})
}

// DecodeBatch reads what EncodeBatch wrote.
func DecodeBatch(data []byte) (Batch, error) {
	m, err := decMode()
	if err != nil {
		return Batch{}, err
	}
	return decodeBatch(m, data)
}

func decodeBatch(m cbor.DecMode, data []byte) (Batch, error) {
	var w wireBatch
	if len(data) > maxItem {
		return Batch{}, fmt.Errorf("%w: an item of %d bytes", ErrMalformed, len(data))
	}
	if err := m.Unmarshal(data, &w); err != nil {
		return Batch{}, fmt.Errorf("%w: %v", ErrMalformed, err)
	}
	if w.Item != itemBatch {
		return Batch{}, fmt.Errorf("%w: item %.20q where a batch belongs", ErrMalformed, w.Item)
	}
	if w.Version > formatVersion {
		return Batch{}, fmt.Errorf("batch of version %d: %w", w.Version, ErrNewer)
	}
	samples, err := decodeSamples(w.Samples)
	if err != nil {
		return Batch{}, err
	}
	b := Batch{
		Seq: w.Seq, Segments: w.Segments, Exercises: w.Exercises,
		Samples: samples, Events: w.Events, Answers: w.Answers, Pictures: w.Pictures,
	}
	return b, b.check()
}

// Encode writes the whole session as a CBOR sequence. The same session gives
// the same bytes.
func Encode(w io.Writer, s *Session) error {
	m, err := encMode()
	if err != nil {
		return err
	}
	s = s.sorted()
	b := bufio.NewWriter(w)
	put := func(v any) error {
		data, err := m.Marshal(v)
		if err == nil {
			_, err = b.Write(data)
		}
		return err
	}
	err = put(wireHeader{
		Item: itemHeader, Format: formatName, Version: formatVersion, ID: s.ID[:], Client: s.Client,
		Program: s.Program, Number: s.Version, Started: s.Started.UTC(), Zone: s.Zone,
		Pictures: s.Header.Pictures, Software: s.Software, State: s.State,
	})
	if err != nil {
		return fmt.Errorf("session %s: %w", s.ID, err)
	}
	batches := s.Batches()
	for i := range batches {
		data, err := encodeBatch(m, &batches[i])
		if err == nil {
			_, err = b.Write(data)
		}
		if err != nil {
			return fmt.Errorf("session %s: %w", s.ID, err)
		}
	}
	err = put(wireFooter{
		Item: itemFooter, Ended: s.Ended, Batches: len(batches), Samples: len(s.Samples),
		Events: len(s.Events), Answers: len(s.Answers), Pictures: len(s.Pictures),
	})
	if err != nil {
		return fmt.Errorf("session %s: %w", s.ID, err)
	}
	return b.Flush()
}

// Decode reads a whole session. Nothing may follow it.
func Decode(r io.Reader) (*Session, error) {
	m, err := decMode()
	if err != nil {
		return nil, err
	}
	in := newItems(m, r)
	head, err := in.next()
	if err != nil {
		return nil, err
	}
	s, err := decodeHeader(m, head)
	if err != nil {
		return nil, err
	}
	for n := 0; ; n++ {
		data, err := in.next()
		if err != nil {
			return nil, err
		}
		var kind struct {
			Item string `cbor:"item"`
		}
		if err := m.Unmarshal(data, &kind); err != nil {
			return nil, fmt.Errorf("%w: %v", ErrMalformed, err)
		}
		if kind.Item == itemFooter {
			return s, finish(m, in, data, s, n)
		}
		b, err := decodeBatch(m, data)
		if err != nil {
			return nil, err
		}
		if b.Seq != n+1 {
			return nil, fmt.Errorf("%w: batch %d where %d belongs", ErrMalformed, b.Seq, n+1)
		}
		s.Add(&b)
		if len(s.Samples) > maxSamples || len(s.Events) > maxEvents || len(s.Answers) > maxAnswers ||
			len(s.Pictures) > maxPictures || len(s.Exercises) > maxExercise || len(s.Segments) > maxExercise {
			return nil, fmt.Errorf("%w: longer than a session can be", ErrMalformed)
		}
	}
}

func decodeHeader(m cbor.DecMode, data []byte) (*Session, error) {
	var h wireHeader
	if err := m.Unmarshal(data, &h); err != nil {
		return nil, fmt.Errorf("%w: %v", ErrMalformed, err)
	}
	switch {
	case h.Item != itemHeader || h.Format != formatName:
		return nil, fmt.Errorf("%w: it does not begin with a %s header", ErrMalformed, formatName)
	case h.Version > formatVersion:
		return nil, fmt.Errorf("version %d: %w", h.Version, ErrNewer)
	case h.Version < 1 || len(h.ID) != len(ID{}):
		return nil, fmt.Errorf("%w: bad header", ErrMalformed)
	case len(h.Client) > 64 || len(h.Zone) > 64 || len(h.Program) > 256 || len(h.Software) > 256:
		return nil, fmt.Errorf("%w: a name in the header is too long", ErrMalformed)
	case h.State != Open && h.State != Closed && h.State != Interrupted:
		return nil, fmt.Errorf("%w: state %.20q", ErrMalformed, h.State)
	}
	return &Session{
		Header: Header{
			ID: ID(h.ID), Client: h.Client, Program: h.Program, Version: h.Number,
			Started: h.Started.UTC(), Zone: h.Zone, Pictures: h.Pictures, Software: h.Software,
		},
		State: h.State,
	}, nil
}

// finish checks the footer and that nothing follows it.
func finish(m cbor.DecMode, in *items, data []byte, s *Session, batches int) error {
	var f wireFooter
	if err := m.Unmarshal(data, &f); err != nil {
		return fmt.Errorf("%w: %v", ErrMalformed, err)
	}
	if f.Batches != batches || f.Samples != len(s.Samples) || f.Events != len(s.Events) ||
		f.Answers != len(s.Answers) || f.Pictures != len(s.Pictures) || f.Ended < s.Ended || f.Ended > maxTime {
		return fmt.Errorf("%w: the footer does not agree with what it closes", ErrMalformed)
	}
	if !in.end() {
		return fmt.Errorf("%w: something follows its end", ErrMalformed)
	}
	s.Ended = f.Ended
	return nil
}

// items cuts a stream into CBOR items and holds no more than one at a time.
type items struct {
	r   io.Reader
	dec *cbor.Decoder
	// left is how much may still be read, in all and for the coming item.
	left, item int
	// err is what stopped the reading, other than the end.
	err error
}

func newItems(m cbor.DecMode, r io.Reader) *items {
	in := &items{r: r, left: MaxEncoded}
	in.dec = m.NewDecoder(in)
	return in
}

// Read is the decoder's view of the stream. It ends the reading where an item
// grows too long, before the item is put together.
func (in *items) Read(p []byte) (int, error) {
	room := min(in.left, in.item)
	if room == 0 {
		in.err = fmt.Errorf("%w: an item of more than %d bytes, or more than %d in all", ErrMalformed, maxItem, MaxEncoded)
		return 0, in.err
	}
	n, err := in.r.Read(p[:min(len(p), room)])
	in.left -= n
	in.item -= n
	if err != nil && err != io.EOF {
		in.err = err
	}
	return n, err
}

// next returns the bytes of the next item.
func (in *items) next() ([]byte, error) {
	in.item = maxItem
	var raw cbor.RawMessage
	err := in.dec.Decode(&raw)
	switch {
	case err == nil:
		return raw, nil
	case errors.Is(err, io.EOF), errors.Is(err, io.ErrUnexpectedEOF):
		return nil, fmt.Errorf("%w: it ends early", ErrMalformed)
	case in.err != nil:
		return nil, in.err
	}
	return nil, fmt.Errorf("%w: %v", ErrMalformed, err)
}

// end says whether the stream ends here.
func (in *items) end() bool {
	var raw cbor.RawMessage
	in.item = 1
	return errors.Is(in.dec.Decode(&raw), io.EOF)
}
