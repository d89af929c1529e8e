package main

import (
	"bytes"
	"encoding/json"
	"errors"
	"fmt"
	"io/fs"
	"os"

	"volar/internal/exchange"
	"volar/internal/homestore"
	"volar/internal/post"
	"volar/internal/vault"
)

type inviteCmd struct {
	storeFlags
	Client  string `arg:"" help:"The client's code." name:"client"`
	Program string `help:"Keep this program in the clinic's store first; a client who is not there yet is made." placeholder:"FILE.yaml"`
	Out     string `short:"o" required:"" help:"Write the invitation to this file, which must not exist." placeholder:"FILE.volar"`
	JSON    bool   `name:"json" help:"One JSON object, with the code."`
}

func (c *inviteCmd) Run(e *environment) (err error) {
	v, err := c.clinic(e, c.Program != "")
	if err != nil {
		return err
	}
	defer func() { err = errors.Join(err, v.Close()) }()
	if c.Program != "" {
		if err := keepProgram(e, v, c.Program, c.Client); err != nil {
			return err
		}
	}
	inv, err := post.NewClinic(v, post.Options{}).Invite(e.ctx, c.Client)
	if err != nil {
		return err
	}
	if err := writeNew(c.Out, inv.File); err != nil {
		return err
	}
	if c.JSON {
		return json.NewEncoder(e.out).Encode(map[string]any{"client": inv.Client, "version": inv.Version, "file": c.Out, "code": inv.Code.String()})
	}
	b := &printer{w: e.out}
	b.f("Invitation for %s, with version %d of the program: %s\n\n", inv.Client, inv.Version, c.Out)
	b.f("    %s\n\n", inv.Code)
	b.f("Give the file to the client in any way. Read the code out, in person or by telephone; never send it\n")
	b.f("along with the file. It is shown once and kept nowhere. If it is lost, make a new invitation.\n")
	return b.err
}

// keepProgram puts a program's file into the clinic's store.
func keepProgram(e *environment, v *vault.Vault, path, client string) error {
	p, err := loadProgram(e, path)
	if err != nil {
		return err
	}
	if client != "" && p.Client != client {
		return &usageError{fmt.Errorf("%s is a program for %s, not for %s", path, p.Client, client)}
	}
	body, err := homestore.Pack(p)
	if err != nil {
		return err
	}
	if _, err := v.Client(e.ctx, p.Client); errors.Is(err, fs.ErrNotExist) {
		if err := v.PutClient(e.ctx, vault.Client{Code: p.Client, Side: p.Side.String(), NextReview: p.NextReview.String()}); err != nil {
			return err
		}
	} else if err != nil {
		return err
	}
	return v.PutProgram(e.ctx, vault.Program{Client: p.Client, Name: p.Client, Number: p.Version, ValidFrom: p.ValidFrom.String(), Body: body})
}

type programSealCmd struct {
	storeFlags
	File string `arg:"" help:"The next version of a client's program." name:"file"`
	Out  string `short:"o" help:"Also write it as a file for the client's home, to be carried by hand; it must not exist." placeholder:"FILE.volar"`
}

// Run keeps a version; the next volar send carries it.
func (c *programSealCmd) Run(e *environment) (err error) {
	v, err := c.clinic(e, false)
	if err != nil {
		return err
	}
	defer func() { err = errors.Join(err, v.Close()) }()
	p, err := loadProgram(e, c.File)
	if err != nil {
		return err
	}
	if err := keepProgram(e, v, c.File, ""); err != nil {
		return err
	}
	box := post.NewClinic(v, post.Options{})
	made, err := box.Collect(e.ctx)
	if err != nil {
		return err
	}
	b := &printer{w: e.out}
	b.f("Version %d for %s is kept; %s to be carried by volar send.\n", p.Version, p.Client, plural(made, "sealed file waits", "sealed files wait"))
	if c.Out == "" {
		return b.err
	}
	file, number, err := box.SealProgram(e.ctx, p.Client)
	if err != nil {
		return err
	}
	if err := writeNew(c.Out, file); err != nil {
		return err
	}
	b.f("Version %d for the home: %s\n", number, c.Out)
	return b.err
}

type acceptCmd struct {
	storeFlags
	File string `arg:"" help:"The file from your therapist: an invitation, or a newer program." name:"file"`
	JSON bool   `name:"json" help:"One JSON object."`
}

func (c *acceptCmd) Run(e *environment) (err error) {
	file, err := readSealed(c.File)
	if err != nil {
		return err
	}
	var opened post.Opened
	invitation := exchange.NeedsCode(file)
	if invitation {
		// Opened before anything is made, so that a mistyped code leaves nothing.
		text, err := ask(e, "The 16 digits that your therapist read out: ")
		if err != nil {
			return err
		}
		code, err := exchange.ParseCode(text)
		if err != nil {
			return err
		}
		if opened, err = post.OpenInvitation(file, code); err != nil {
			return &postError{c.File, err}
		}
	}
	s, err := c.home(e, invitation)
	if err != nil {
		return err
	}
	defer func() { err = errors.Join(err, s.Close()) }()
	h := post.NewHome(s, post.Options{})
	var got post.Accepted
	if invitation {
		got, err = h.AcceptOpened(e.ctx, opened)
	} else {
		got, err = h.Take(e.ctx, file)
	}
	if err != nil {
		return &postError{c.File, err}
	}
	if c.JSON {
		return json.NewEncoder(e.out).Encode(map[string]any{"client": got.Client, "version": got.Version, "invitation": invitation})
	}
	b := &printer{w: e.out}
	b.f("Version %d of the home program for %s is taken in.\n", got.Version, got.Client)
	if invitation && got.Carried {
		b.f("volar send tells your therapist's program that you are there, and later brings what you practised.\n")
	} else if invitation {
		b.f("volar send --to FOLDER writes what goes back to your therapist.\n")
	}
	return b.err
}

type keysCmd struct {
	Export keysExportCmd `cmd:"" help:"Write the clinic's keys, sealed with a passphrase, for a further machine of the clinic."`
	Import keysImportCmd `cmd:"" help:"Take the clinic's keys on a further machine."`
}

type keysExportCmd struct {
	storeFlags
	File string `arg:"" help:"The file to write; it must not exist." name:"file"`
}

func (c *keysExportCmd) Run(e *environment) (err error) {
	v, err := c.clinic(e, false)
	if err != nil {
		return err
	}
	defer func() { err = errors.Join(err, v.Close()) }()
	p, err := keysPassphrase(e)
	if err != nil {
		return err
	}
	f := new(bytes.Buffer)
	if err := post.NewClinic(v, post.Options{}).ExportKeys(e.ctx, f, p); err != nil {
		return err
	}
	if err := writeNew(c.File, f.Bytes()); err != nil {
		return err
	}
	b := &printer{w: e.out}
	b.f("Keys written to %s. Whoever has this file and its passphrase reads what every client sends:\nbring it over by hand and destroy it afterwards.\n", c.File)
	return b.err
}

type keysImportCmd struct {
	storeFlags
	File string `arg:"" help:"What volar keys export wrote." name:"file"`
}

func (c *keysImportCmd) Run(e *environment) (err error) {
	f, err := readSealed(c.File)
	if err != nil {
		return err
	}
	v, err := c.clinic(e, true)
	if err != nil {
		return err
	}
	defer func() { err = errors.Join(err, v.Close()) }()
	p, err := keysPassphrase(e)
	if err != nil {
		return err
	}
	if err := post.NewClinic(v, post.Options{}).ImportKeys(e.ctx, bytes.NewReader(f), p); err != nil {
		return &postError{c.File, err}
	}
	b := &printer{w: e.out}
	b.f("The clinic's keys are taken in; volar fetch brings its clients.\n")
	return b.err
}

// keysEnv may hold the passphrase of the file of keys, for scripts.
const keysEnv = "VOLAR_KEYS_PASSPHRASE"

// keysPassphrase takes the passphrase of a file of keys.
func keysPassphrase(e *environment) (string, error) {
	if p := os.Getenv(keysEnv); p != "" {
		return p, nil
	}
	p, err := askSecret(e, "Passphrase of the file of keys: ")
	if err == nil && p == "" {
		err = &usageError{fmt.Errorf("the file of keys needs a passphrase: type one, or set %s", keysEnv)}
	}
	return p, err
}
