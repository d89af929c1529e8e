package main

import (
	"encoding/json"
	"errors"
	"fmt"

	"volar/internal/homestore"
	"volar/internal/post"
	"volar/internal/vault"
)

type sendCmd struct {
	storeFlags
	placeFlags
	To     string `help:"A folder, or s3://host/bucket; without it the place that is kept in the store." placeholder:"PLACE"`
	Client string `help:"Only what belongs to this client; for a stick." placeholder:"CODE"`
	Sweep  bool   `help:"Clinic: first take the files of clients who were removed from this store off the place; no machine can bring them back from there."`
	JSON   bool   `name:"json" help:"One JSON object."`
}

func (c *sendCmd) Run(e *environment) (err error) {
	s, err := c.openEither(e)
	if err != nil {
		return err
	}
	defer func() { err = errors.Join(err, s.close()) }()
	p, err := c.choose(c.To, s.stored, s.keep)
	if err != nil {
		return err
	}
	if s.home != nil && (c.Client != "" || c.Sweep) {
		return &usageError{errors.New("--client and --sweep are for the clinic")}
	}
	to, err := openPlace(p)
	if err != nil {
		return err
	}
	defer func() { err = errors.Join(err, to.Close()) }()
	if c.Sweep {
		n, err := s.clinic.Sweep(e.ctx, to)
		if err != nil {
			return &postError{fmt.Sprintf("%s taken away from %s", plural(n, "file", "files"), to), err}
		}
		fmt.Fprintf(e.err, "volar: %s of removed clients taken away\n", plural(n, "file", "files"))
	}
	bar := newProgress(e.err, "sending", 0)
	s.progress = func(done, total int) { bar.total = int64(total); bar.at(done) }
	var sent int
	if s.home != nil {
		sent, err = s.home.Send(e.ctx, to)
	} else {
		sent, err = s.clinic.Send(e.ctx, to, c.Client)
	}
	bar.done()
	waiting, werr := s.v.Outbox(e.ctx, true)
	if err != nil {
		if sent > 0 {
			fmt.Fprintf(e.err, "volar: %s arrived before that\n", plural(sent, "file", "files"))
		}
		return &postError{fmt.Sprintf("sending to %s; %s, to be tried again", to, plural(len(waiting), "file waits", "files wait")), err}
	}
	if werr != nil {
		return werr
	}
	if c.JSON {
		return json.NewEncoder(e.out).Encode(map[string]any{"to": to.String(), "sent": sent, "waiting": len(waiting)})
	}
	b := &printer{w: e.out}
	if sent == 0 {
		b.f("Nothing new to send to %s.\n", to)
	} else {
		b.f("%s sent to %s.\n", plural(sent, "file", "files"), to)
	}
	if len(waiting) > 0 {
		b.f("%s of other clients.\n", plural(len(waiting), "file waits", "files wait"))
	}
	return b.err
}

type fetchCmd struct {
	storeFlags
	placeFlags
	From string `help:"A folder, or s3://host/bucket; without it the place that is kept in the store." placeholder:"PLACE"`
	JSON bool   `name:"json" help:"One JSON object."`
}

func (c *fetchCmd) Run(e *environment) (err error) {
	s, err := c.openEither(e)
	if err != nil {
		return err
	}
	defer func() { err = errors.Join(err, s.close()) }()
	p, err := c.choose(c.From, s.stored, s.keep)
	if err != nil {
		return err
	}
	from, err := openPlace(p)
	if err != nil {
		return err
	}
	defer func() { err = errors.Join(err, from.Close()) }()
	bar := newProgress(e.err, "fetching", 0)
	s.progress = func(done, total int) { bar.total = int64(total); bar.at(done) }
	var got post.Fetched
	if s.home != nil {
		got, err = s.home.Fetch(e.ctx, from)
	} else {
		got, err = s.clinic.Fetch(e.ctx, from)
	}
	bar.done()
	if err != nil {
		return &postError{fmt.Sprintf("fetching from %s", from), err}
	}
	if c.JSON {
		trouble := []map[string]string{}
		for _, t := range got.Trouble {
			trouble = append(trouble, map[string]string{"name": t.Name, "client": t.Client, "problem": t.Problem, "words": t.Words})
		}
		return json.NewEncoder(e.out).Encode(map[string]any{
			"from": from.String(), "sessions": got.Sessions, "programs": got.Programs, "homes": got.Greetings, "reviews": got.Reviews, "trouble": trouble,
		})
	}
	b := &printer{w: e.out}
	found := false
	for _, k := range []struct {
		n         int
		one, many string
	}{
		{got.Greetings, "home answered its invitation", "homes answered their invitations"},
		{got.Sessions, "session came in", "sessions came in"},
		{got.Programs, "new version of a program", "new versions of programs"},
		{got.Reviews, "review by another machine", "reviews by other machines"},
	} {
		if k.n > 0 {
			found = true
			b.f("%s.\n", plural(k.n, k.one, k.many))
		}
	}
	if !found {
		b.f("Nothing new in %s.\n", from)
	}
	for _, t := range got.Trouble {
		b.f("Not taken: %s\n  %s\n", t.Name, t.Words)
	}
	if s.home == nil && got.Sessions > 0 {
		b.f("volar sessions --needs-eyes lists what to look at first.\n")
	}
	return b.err
}

// either is a store of whichever side, with its half of the post.
type either struct {
	v      *vault.Vault
	home   *post.Home
	clinic *post.Clinic
	stored post.Place
	keep   func(post.Place) error
	// progress is told of files, once it is set.
	progress func(done, total int)
}

func (s *either) close() error { return s.v.Close() }

func (f *storeFlags) openEither(e *environment) (_ *either, err error) {
	dir, err := f.dir()
	if err != nil {
		return nil, err
	}
	v, err := f.write(e, dir)
	if err != nil {
		return nil, err
	}
	defer func() {
		if err != nil {
			err = errors.Join(err, v.Close())
		}
	}()
	isHome, err := homestore.IsHome(e.ctx, v)
	if err != nil {
		return nil, err
	}
	s := &either{v: v}
	o := post.Options{Progress: func(done, total int) {
		if s.progress != nil {
			s.progress(done, total)
		}
	}}
	if isHome {
		s.home = post.NewHome(homestore.On(v, homestore.Options{Software: version()}), o)
		s.keep = func(p post.Place) error { return s.home.SetPlace(e.ctx, p) }
		s.stored, err = s.home.Place(e.ctx)
	} else {
		s.clinic = post.NewClinic(v, o)
		s.keep = func(p post.Place) error { return s.clinic.SetPlace(e.ctx, p) }
		s.stored, err = s.clinic.Place(e.ctx)
	}
	return s, err
}
