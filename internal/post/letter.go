package post

import (
	"encoding/json"
	"fmt"
	"path/filepath"
	"slices"
	"strings"

	"volar/internal/exchange"
	"volar/internal/goniometry"
	"volar/internal/program"
)

// letter is the body of a program file, and of the program in an invitation,
// as JSON: what the home needs to be judged as the therapist meant it. It holds
// more than one version where an earlier one is still in force, and the hand as
// the clinic recorded it.
type letter struct {
	Version  int         `json:"version"`
	Programs []prescript `json:"programs"`
	// Baselines are as goniometry encodes them.
	Baselines []json.RawMessage `json:"baselines,omitempty"`
	// Pictures is true where the therapist agreed that pictures of flagged
	// moments are kept; the client has to agree too.
	Pictures bool `json:"pictures,omitempty"`
}

// prescript is one version: the program's own text, and the movement files that
// it names.
type prescript struct {
	Program string            `json:"program"`
	Files   map[string][]byte `json:"files,omitempty"`
}

const letterVersion = 1

// prescription is a letter after it was read and checked.
type prescription struct {
	programs  []*program.Program // oldest first
	baselines []*goniometry.Baseline
	pictures  bool
}

func (p *prescription) encode() ([]byte, error) {
	l := letter{Version: letterVersion, Pictures: p.pictures}
	for _, q := range p.programs {
		q = q.ForHome()
		l.Programs = append(l.Programs, prescript{string(q.Format()), q.Files})
	}
	for _, b := range p.baselines {
		body, err := b.Encode()
		if err != nil {
			return nil, err
		}
		l.Baselines = append(l.Baselines, body)
	}
	return json.Marshal(l)
}

// readLetter reads the body of a file whose sender is known, and refuses what
// its header does not speak of.
func readLetter(h exchange.Header, body []byte) (*prescription, error) {
	bad := func(format string, a ...any) (*prescription, error) {
		return nil, fmt.Errorf("%w: %s", exchange.ErrDamaged, fmt.Sprintf(format, a...))
	}
	var l letter
	if err := decodeJSON(body, letterVersion, &l); err != nil {
		return nil, fmt.Errorf("its letter: %w", err)
	}
	if len(l.Programs) == 0 {
		return bad("its letter holds no program")
	}
	out := &prescription{pictures: l.Pictures}
	for i, one := range l.Programs {
		for name := range one.Files {
			if !plainName(name) {
				return bad("%.40q is not the name of a movement file", name)
			}
		}
		p, _, err := program.Parse([]byte(one.Program), program.Carried(one.Files))
		if err != nil {
			return bad("program %d: %v", i+1, err)
		}
		if p.Client != h.Client {
			return nil, fmt.Errorf("%w: the program inside is for %q", exchange.ErrWrongClient, p.Client)
		}
		out.programs = append(out.programs, p)
	}
	slices.SortFunc(out.programs, func(a, b *program.Program) int { return a.Version - b.Version })
	if last := out.programs[len(out.programs)-1]; uint64(last.Version) != h.Number {
		return bad("version %d is inside, the file says %d", last.Version, h.Number)
	}
	for i, b := range l.Baselines {
		own, err := goniometry.DecodeBaseline(b)
		if err != nil {
			return bad("recorded hand %d: %v", i+1, err)
		}
		out.baselines = append(out.baselines, own)
	}
	return out, nil
}

// plainName reports whether a name stays in whatever folder it is put into.
func plainName(s string) bool {
	return filepath.IsLocal(s) && !strings.ContainsAny(s, `/\:`+"\x00") && !strings.HasPrefix(s, ".")
}
