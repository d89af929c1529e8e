package main

import (
	"encoding/json"
	"errors"
	"fmt"
	"time"

	"volar/internal/hand"
	"volar/internal/program"
	"volar/internal/review"
	"volar/internal/session"
	"volar/internal/vault"
)

type showCmd struct {
	storeFlags
	Session string `arg:"" help:"The session's id, or the beginning of it; 'last' is the newest."`
	Samples bool   `help:"With --json: every sample too."`
	JSON    bool   `name:"json" help:"One JSON object."`
}

func (c *showCmd) Run(e *environment) (err error) {
	if c.Samples && !c.JSON {
		return &usageError{errors.New("--samples goes with --json")}
	}
	v, err := c.open(e)
	if err != nil {
		return err
	}
	defer func() { err = errors.Join(err, v.Close()) }()
	entry, err := c.find(e, v)
	if err != nil {
		return err
	}
	s, err := v.Load(e.ctx, entry.ID)
	if err != nil {
		return &inputError{err}
	}
	reviews, err := v.Reviews(e.ctx, entry.ID)
	if err != nil {
		return &inputError{err}
	}
	if c.JSON {
		return json.NewEncoder(e.out).Encode(shownJSON(entry, s, reviews, c.Samples))
	}
	return showSession(&printer{w: e.out}, s, reviews)
}

// find looks a session up by the beginning of its id.
func (c *showCmd) find(e *environment, v *vault.Vault) (*vault.Entry, error) {
	f := vault.Filter{IDPrefix: c.Session, Limit: 2}
	if c.Session == "last" {
		f = vault.Filter{Limit: 1}
	}
	all, err := v.Sessions(e.ctx, f)
	switch {
	case err != nil:
		return nil, &inputError{err}
	case len(all) == 0:
		return nil, &inputError{fmt.Errorf("no session has an id that begins with %q; volar sessions lists them", c.Session)}
	case len(all) > 1:
		return nil, &usageError{fmt.Errorf("more than one session has an id that begins with %q; write more of it", c.Session)}
	}
	return &all[0], nil
}

func showSession(b *printer, s *session.Session, reviews []review.Review) error {
	b.f("Session %s\n", s.ID)
	b.f("  client   %s\n", s.Client)
	if s.Program != "" {
		b.f("  program  %s, version %d\n", s.Program, s.Version)
	}
	b.f("  begun    %s (%s), %s recorded, %s\n", localTime(s.Started, s.Zone), zoneName(s.Zone), sinceBegun(s.Ended), s.State)
	if n := len(s.Segments); n > 1 {
		b.f("  recorded in %d stretches, because it was interrupted\n", n)
	}
	if len(s.Samples) > 0 {
		b.f("  hand seen in %.0f %% of %s\n", 100*seen(s.Samples), plural(len(s.Samples), "picture", "pictures"))
	}
	flags, spans := session.Flags(s.Events), review.Spans(s)
	for i := range s.Exercises {
		showExercise(b, &s.Exercises[i], flags, spans)
	}
	if steady := review.Summarize(s).Standing; len(steady) > 0 {
		b.f("\n")
		for _, x := range steady {
			b.wrapped("", "", x.Words())
		}
	}
	if len(s.Answers) > 0 {
		b.f("\nThe client said\n")
		for _, a := range s.Answers {
			b.wrapped(fmt.Sprintf("  %-8s ", sinceBegun(a.At)), "           ", answerText(a))
		}
	}
	if n := len(s.Pictures); n > 0 {
		b.f("\n%s kept.\n", plural(n, "picture is", "pictures are"))
	}
	for _, r := range reviews {
		by := ""
		if r.By != "" {
			by = " by " + r.By
		}
		b.f("\nReview%s, %s\n", by, r.At.UTC().Format("2006-01-02 15:04 UTC"))
		for _, part := range r.Note.Parts() {
			b.wrapped("  "+part.Name+": ", "  ", part.Text)
		}
		for _, m := range r.Marks {
			b.f("  flag %d: %s\n", m.Flag, m.Judgement)
		}
	}
	b.f("\nAngles are estimates, for review by your therapist.\n")
	return b.err
}

func showExercise(b *printer, e *session.Exercise, flags []session.Flag, spans []review.Span) {
	b.f("\n%d. %s, %s hand\n", e.Number, e.Movement, e.Side)
	b.f("  done     %s repetitions", doneText(e.Counted, e.Prescribed()))
	if e.Partial > 0 {
		b.f(", %d fell short", e.Partial)
	}
	if e.Unjudged > 0 {
		b.f(", %d could not be judged", e.Unjudged)
	}
	b.f("; %s", e.Outcome)
	if e.StopReason != "" {
		b.f(": %s", e.StopReason)
	}
	b.f("\n")
	for _, d := range review.ByHand(e, spans) {
		b.f("  %-8s %s\n", d.Side, d.Words())
	}
	if e.PainBefore != nil || e.PainAfter != nil {
		b.f("  pain     %s, of 10\n", painText(e.PainBefore, e.PainAfter))
	}
	if e.Effort != nil {
		b.f("  effort   %d of 10\n", *e.Effort)
	}
	for i := range flags {
		if f := &flags[i]; f.Exercise == e.Number {
			b.wrapped("  flag "+pad(fmt.Sprint(f.Number), 4), "           ", flagLine(f, e.Side))
		}
	}
	for _, r := range e.Ranges {
		least := review.AngleWords(r.MinDeg)
		if !r.MinJudged {
			least = "not judged near straight"
		}
		b.f("  range    %-11s %s to %s\n", program.JointWords(r.Joint)+review.HandWords(r.Side), least, review.AngleWords(r.MaxDeg))
	}
	for _, n := range e.NotJudged {
		what := program.JointWords(n.Joint)
		if n.Extension {
			what += " past straight"
		}
		if n.Side != hand.UnknownSide {
			what = n.Side.String() + " " + what
		}
		b.f("  unseen   %s for %.0f %% of the time: %s\n", what, 100*n.Share, n.Why)
	}
}

// flagLine says what a flag is in words, and its hand where the exercise is for
// the other.
func flagLine(f *session.Flag, usual hand.Side) string {
	s := sinceBegun(f.Start)
	if f.Ended && f.End > f.Start {
		s += " to " + sinceBegun(f.End)
	}
	s += ": " + review.FlagWords(f) + review.WhoseWords(f, usual)
	if f.Repetition > 0 {
		s += fmt.Sprintf(", repetition %d", f.Repetition)
	}
	return s
}

func answerText(a session.Answer) string {
	words := map[session.AnswerKind]string{
		session.PainBefore: "pain before", session.PainAfter: "pain after", session.Effort: "effort",
		session.Hurt: "it hurts", session.SharpPain: "sharp or shooting pain", session.Note: "note",
	}
	s := words[a.Kind]
	if s == "" {
		s = string(a.Kind)
	}
	if a.Value != nil {
		s += fmt.Sprintf(": %d of 10", *a.Value)
	}
	if a.Text != "" {
		s += ": " + a.Text
	}
	return s
}

// sinceBegun writes a time within the session as minutes and seconds.
func sinceBegun(t time.Duration) string {
	t = t.Round(100 * time.Millisecond)
	return fmt.Sprintf("%d:%04.1f", int(t.Minutes()), (t % time.Minute).Seconds())
}

func zoneName(zone string) string {
	if _, err := time.LoadLocation(zone); err != nil || zone == "" {
		return "UTC"
	}
	return zone
}

func seen(samples []session.Sample) float64 {
	n := 0
	for i := range samples {
		if samples[i].Found {
			n++
		}
	}
	return float64(n) / float64(len(samples))
}
