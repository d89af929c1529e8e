package main

import (
	"bufio"
	"encoding/json"
	"errors"
	"fmt"
	"os"
	"strings"
	"time"

	"golang.org/x/term"

	"volar/internal/session"
	"volar/internal/vault"
)

// passphraseEnv may hold the passphrase, for scripts.
const passphraseEnv = "VOLAR_PASSPHRASE"

// storeFlags are shared by the commands that read a store.
type storeFlags struct {
	Store          string `help:"The folder of the store; without it the one in your data folder." type:"path" placeholder:"DIR"`
	PassphraseFile string `help:"A file whose first line is the passphrase; without it $$VOLAR_PASSPHRASE, else it is asked for." type:"path" placeholder:"FILE"`
}

// dir finds the store: the one that is named, else the only one there is.
func (f *storeFlags) dir() (string, error) {
	if f.Store != "" {
		return f.Store, nil
	}
	var found, looked []string
	for _, side := range []string{"home", "clinic"} {
		dir, err := vault.DefaultDir(side)
		if err != nil {
			return "", err
		}
		looked = append(looked, dir)
		if vault.Exists(dir) {
			found = append(found, dir)
		}
	}
	switch len(found) {
	case 0:
		return "", &inputError{fmt.Errorf("there is no store in %s; name one with --store", strings.Join(looked, " or "))}
	case 1:
		return found[0], nil
	}
	return "", &usageError{fmt.Errorf("there are two stores; name one with --store %s or --store %s", found[0], found[1])}
}

// secret is what opens the store in a folder: the passphrase where it has one,
// else the device's own key.
func (f *storeFlags) secret(e *environment, dir string) (vault.Secret, error) {
	asked, err := vault.HasPassphrase(dir)
	if err != nil {
		return vault.Secret{}, &inputError{err}
	}
	if !asked {
		return vault.Device(), nil
	}
	p, err := f.passphrase(e)
	return vault.Passphrase(p), err
}

// open opens the store to read, beside a window that may be writing to it.
func (f *storeFlags) open(e *environment) (*vault.Vault, error) {
	dir, err := f.dir()
	if err != nil {
		return nil, err
	}
	secret, err := f.secret(e, dir)
	if err != nil {
		return nil, err
	}
	v, err := vault.Open(e.ctx, dir, vault.Options{Secret: secret, ReadOnly: true})
	if errors.Is(err, vault.ErrOlder) {
		// Bringing it up to date is what opening it for writing does.
		if v, err = vault.Open(e.ctx, dir, vault.Options{Secret: secret}); err == nil {
			if err = v.Close(); err == nil {
				v, err = vault.Open(e.ctx, dir, vault.Options{Secret: secret, ReadOnly: true})
			}
		}
	}
	if err != nil {
		return nil, &inputError{err}
	}
	if w := v.Warning(); w != "" {
		fmt.Fprintf(e.err, "volar: %s\n", w)
	}
	return v, nil
}

// passphrase takes the passphrase from where it is given.
func (f *storeFlags) passphrase(e *environment) (string, error) {
	if f.PassphraseFile != "" {
		file, err := os.Open(f.PassphraseFile)
		if err != nil {
			return "", &inputError{err}
		}
		defer file.Close()
		line := bufio.NewScanner(file)
		line.Scan()
		if err := line.Err(); err != nil {
			return "", &inputError{fmt.Errorf("%s: %w", f.PassphraseFile, err)}
		}
		if line.Text() == "" {
			return "", &inputError{fmt.Errorf("%s: its first line is empty", f.PassphraseFile)}
		}
		return line.Text(), nil
	}
	if p := os.Getenv(passphraseEnv); p != "" {
		return p, nil
	}
	stdin := int(os.Stdin.Fd())
	if !term.IsTerminal(stdin) {
		return "", &usageError{fmt.Errorf("the store needs its passphrase: set %s or use --passphrase-file", passphraseEnv)}
	}
	fmt.Fprint(e.err, "Passphrase: ")
	p, err := term.ReadPassword(stdin)
	fmt.Fprintln(e.err)
	return string(p), err
}

type sessionsCmd struct {
	storeFlags
	Client    string `help:"Only this client's." placeholder:"CODE"`
	Since     string `help:"Only from this day on, as 2026-11-25." placeholder:"DAY"`
	Until     string `help:"Only to this day." placeholder:"DAY"`
	Unread    bool   `help:"Only those that nobody has marked as read."`
	NeedsEyes bool   `help:"First what was not read: stopped for pain, limits passed, new faults, little done."`
	Limit     int    `help:"At most this many; 0 is all." default:"50"`
	JSON      bool   `name:"json" help:"One JSON object a line."`
}

// filter turns the flags into what is asked of the store. Days are those of
// this computer's time zone.
func (c *sessionsCmd) filter() (vault.Filter, error) {
	f := vault.Filter{Client: c.Client, Unread: c.Unread, Limit: c.Limit}
	if c.Limit < 0 {
		return f, &usageError{fmt.Errorf("--limit %d is less than 0", c.Limit)}
	}
	if c.NeedsEyes {
		f.Order = vault.NeedsEyes
	}
	for _, d := range []struct {
		flag, text string
		days       int
		to         *time.Time
	}{{"--since", c.Since, 0, &f.From}, {"--until", c.Until, 1, &f.To}} {
		if d.text == "" {
			continue
		}
		t, err := time.ParseInLocation(time.DateOnly, d.text, time.Local)
		if err != nil {
			return f, &usageError{fmt.Errorf("%s %q is not a day such as 2026-11-25", d.flag, d.text)}
		}
		*d.to = t.AddDate(0, 0, d.days)
	}
	return f, nil
}

func (c *sessionsCmd) Run(e *environment) (err error) {
	f, err := c.filter()
	if err != nil {
		return err
	}
	v, err := c.open(e)
	if err != nil {
		return err
	}
	defer func() { err = errors.Join(err, v.Close()) }()
	all, err := v.Sessions(e.ctx, f)
	if err != nil {
		return &inputError{err}
	}
	if c.JSON {
		out := json.NewEncoder(e.out)
		for i := range all {
			if err := out.Encode(entryJSON(&all[i])); err != nil {
				return err
			}
		}
		return nil
	}
	total, err := v.Count(e.ctx, f)
	if err != nil {
		return &inputError{err}
	}
	return listSessions(&printer{w: e.out}, all, total)
}

func listSessions(b *printer, all []vault.Entry, total int) error {
	if total == 0 {
		b.f("No sessions.\n")
		return b.err
	}
	b.f("%-13s  %-16s  %-8s %5s  %9s  %-7s %5s  %s\n", "id", "begun", "client", "min", "done", "pain", "flags", "what to look at")
	for i := range all {
		e := &all[i]
		b.f("%-13s  %-16s  %-8s %5.1f  %9s  %-7s %5d  %s\n", e.ID.String()[:13], localTime(e.Started, e.Zone), e.Client,
			e.Ended.Minutes(), doneText(e.Counted, e.Prescribed), painText(e.PainBefore, e.PainAfter), e.Flags, strings.Join(signs(e), "; "))
	}
	if len(all) < total {
		b.f("%d of %s; --limit 0 shows all.\n", len(all), plural(total, "session", "sessions"))
	}
	b.f("volar show ID shows one; the beginning of its id is enough.\n")
	return b.err
}

// signs are the reasons to look at a session, most pressing first.
func signs(e *vault.Entry) []string {
	var s []string
	for _, w := range e.Why {
		s = append(s, string(w.Reason))
	}
	if e.State == session.Open {
		s = append(s, "being recorded")
	}
	if e.Read.IsZero() {
		s = append(s, "not read")
	}
	return s
}

func doneText(done, wanted int) string {
	if wanted == 0 {
		return fmt.Sprint(done)
	}
	return fmt.Sprintf("%d of %d", done, wanted)
}

// painText is pain before and after, from 0 to 10.
func painText(before, after *int) string {
	if before == nil && after == nil {
		return "-"
	}
	one := func(n *int) string {
		if n == nil {
			return "?"
		}
		return fmt.Sprint(*n)
	}
	return one(before) + " to " + one(after)
}

// localTime writes a moment in the client's own time zone, or in UTC where
// this computer does not know it.
func localTime(t time.Time, zone string) string {
	loc, err := time.LoadLocation(zone)
	if err != nil {
		loc = time.UTC
	}
	return t.In(loc).Format("2006-01-02 15:04")
}
