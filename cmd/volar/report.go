package main

import (
	"cmp"
	"context"
	"errors"
	"fmt"
	"io"
	"os"
	"path/filepath"
	"time"

	"volar/internal/goniometry"
	"volar/internal/hand"
	"volar/internal/homestore"
	"volar/internal/program"
	"volar/internal/report"
	"volar/internal/score"
	"volar/internal/today"
	"volar/internal/vault"
)

// stretch is what a report or an export is made of.
type stretch struct {
	storeFlags
	Client string `arg:"" help:"The client's code."`
	From   string `help:"The first day, as 2026-11-25; 27 days before the last one if not given." placeholder:"DAY"`
	To     string `help:"The last day; today if not given." placeholder:"DAY"`
	Out    string `short:"o" help:"The file to write; an existing one is left alone." type:"path" placeholder:"FILE"`
	Force  bool   `help:"Replace an existing file."`
}

type reportCmd struct {
	stretch
	Style string `help:"How ranges are written: neutral-zero or plus-minus." enum:"neutral-zero,plus-minus" default:"neutral-zero"`
	Norms string `help:"The set of norms beside them." placeholder:"ID"`
}

type exportCmd struct {
	stretch
	Format string `help:"csv (RFC 4180), json, or fhir (HL7 FHIR R4, as JSON)." enum:"csv,json,fhir" default:"csv"`
	JSON   bool   `name:"json" help:"The same as --format json."`
}

type handoutCmd struct {
	File  string `arg:"" help:"The program file."`
	Date  string `help:"The day that the handout is for; today if not given." placeholder:"DAY"`
	Out   string `short:"o" help:"The PDF file to write; an existing one is left alone." type:"path" placeholder:"FILE"`
	Force bool   `help:"Replace an existing file."`
}

// Run writes a report as PDF.
func (c *reportCmd) Run(e *environment) error {
	in, err := c.gather(e)
	if err != nil {
		return err
	}
	in.Style = score.Style(c.Style)
	if c.Norms != "" {
		set, ok := score.FindNormSet(c.Norms)
		if !ok {
			var ids []string
			for _, s := range score.NormSets() {
				ids = append(ids, s.ID)
			}
			return &usageError{fmt.Errorf("norms %q are not known; there are %v", c.Norms, ids)}
		}
		in.Norms = set
	}
	r, err := report.Gather(in)
	if err != nil {
		return nothing(err)
	}
	return writeFile(e, cmp.Or(c.Out, fmt.Sprintf("%s-%s.pdf", c.Client, in.To)), c.Force, r.PDF)
}

// Run writes the numbers for other software, to a file or to standard output.
func (c *exportCmd) Run(e *environment) error {
	in, err := c.gather(e)
	if err != nil {
		return err
	}
	r, err := report.Gather(in)
	if err != nil {
		return nothing(err)
	}
	write := r.CSV
	switch {
	case c.JSON || c.Format == "json":
		write = r.JSON
	case c.Format == "fhir":
		write = r.FHIR
	}
	if c.Out == "" {
		return write(e.out)
	}
	return writeFile(e, c.Out, c.Force, write)
}

// Run writes the handout of a program.
func (c *handoutCmd) Run(e *environment) error {
	p, err := loadProgram(e, c.File)
	if err != nil {
		return err
	}
	day := program.DateOf(time.Now(), p.Location())
	if c.Date != "" {
		if day, err = program.ParseDate(c.Date); err != nil {
			return &usageError{fmt.Errorf("--date: %w", err)}
		}
	}
	out := cmp.Or(c.Out, fmt.Sprintf("%s-home-program-%d.pdf", p.Client, p.Version))
	return writeFile(e, out, c.Force, func(w io.Writer) error { return report.Handout(w, p.On(day), time.Now()) })
}

// nothing tells a stretch without sessions from a failure.
func nothing(err error) error {
	if errors.Is(err, report.ErrNothing) {
		return &inputError{err}
	}
	return err
}

// gather reads what the report needs from the store.
func (c *stretch) gather(e *environment) (in report.Input, err error) {
	in = report.Input{Client: c.Client, Made: time.Now(), Zone: time.Local, Software: "volar " + version()}
	in.To = program.DateOf(in.Made, in.Zone)
	if c.To != "" {
		if in.To, err = program.ParseDate(c.To); err != nil {
			return in, &usageError{fmt.Errorf("--to: %w", err)}
		}
	}
	in.From = in.To.AddDays(-27)
	if c.From != "" {
		if in.From, err = program.ParseDate(c.From); err != nil {
			return in, &usageError{fmt.Errorf("--from: %w", err)}
		}
	}
	v, err := c.open(e)
	if err != nil {
		return in, err
	}
	defer v.Close()
	client, err := v.Client(e.ctx, c.Client)
	if err != nil {
		return in, &inputError{err}
	}
	if side, err := hand.ParseSide(client.Side); err == nil {
		in.Side = side
	}
	if in.History, err = history(e.ctx, v, c.Client); err != nil {
		return in, err
	}
	if err := baseline(e.ctx, v, &in); err != nil {
		return in, err
	}
	return in, recordings(e.ctx, v, &in)
}

// history reads every version of a client's program; nil where there is none.
func history(ctx context.Context, v *vault.Vault, client string) (*program.History, error) {
	list, err := v.Programs(ctx, client)
	if err != nil || len(list) == 0 {
		return nil, err
	}
	var all []*program.Program
	for _, entry := range list {
		whole, err := v.Program(ctx, client, entry.Number)
		if err != nil {
			return nil, err
		}
		p, err := homestore.Unpack(whole.Body)
		if err != nil {
			return nil, fmt.Errorf("program %d of %s: %w", entry.Number, client, err)
		}
		all = append(all, p)
	}
	return program.NewHistory(all...)
}

// baseline takes the newest recorded one of the treated hand.
func baseline(ctx context.Context, v *vault.Vault, in *report.Input) error {
	list, err := v.Baselines(ctx, in.Client)
	if err != nil {
		return err
	}
	for _, b := range list {
		if in.Side != hand.UnknownSide && b.Side != in.Side.String() {
			continue
		}
		own, err := goniometry.DecodeBaseline(b.Body)
		if err != nil {
			return fmt.Errorf("baseline of %s: %w", in.Client, err)
		}
		in.Baseline, in.BaselineOn = today.OwnOf(own, "").Ranges, program.DateOf(b.Captured, in.Zone)
		return nil
	}
	return nil
}

// recordings reads the sessions of the days, and what was said of them. A day
// more on either side is read, since a session's own day is that of its zone.
func recordings(ctx context.Context, v *vault.Vault, in *report.Input) error {
	at := func(d program.Date) time.Time { return time.Date(d.Year, d.Month, d.Day, 0, 0, 0, 0, in.Zone) }
	list, err := v.Sessions(ctx, vault.Filter{Client: in.Client, From: at(in.From.AddDays(-1)), To: at(in.To.AddDays(2))})
	if err != nil {
		return err
	}
	if in.Reviews, err = v.ReviewsOf(ctx, in.Client); err != nil {
		return err
	}
	for i := range list {
		s, err := v.Load(ctx, list[i].ID)
		if err != nil {
			return err
		}
		in.Sessions = append(in.Sessions, s)
	}
	return nil
}

// writeFile writes a whole file or none: beside it first, then under its name.
func writeFile(e *environment, name string, force bool, write func(io.Writer) error) (err error) {
	if _, err := os.Lstat(name); err == nil && !force {
		return &usageError{fmt.Errorf("%s exists; name another file with --out, or replace it with --force", name)}
	}
	tmp, err := os.CreateTemp(filepath.Dir(name), ".volar-*")
	if err != nil {
		return fmt.Errorf("writing %s: %w", name, err)
	}
	defer func() {
		if err != nil {
			err = errors.Join(err, os.Remove(tmp.Name()))
		}
	}()
	if err := errors.Join(write(tmp), tmp.Sync(), tmp.Close()); err != nil {
		return fmt.Errorf("writing %s: %w", name, err)
	}
	if err := os.Rename(tmp.Name(), name); err != nil {
		return fmt.Errorf("writing %s: %w", name, err)
	}
	_, err = fmt.Fprintln(e.out, name)
	return err
}
