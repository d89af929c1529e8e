package main

import (
	"bufio"
	"cmp"
	"errors"
	"fmt"
	"io"
	"os"
	"path/filepath"
	"strings"

	"golang.org/x/term"

	"volar/internal/clinicstore"
	"volar/internal/exchange"
	"volar/internal/homestore"
	"volar/internal/post"
	"volar/internal/vault"
)

// The credentials of a bucket that a clinic gives to its homes, for scripts;
// those of this side are VOLAR_S3_KEY and VOLAR_S3_SECRET.
const (
	homeKeyEnv    = "VOLAR_S3_HOME_KEY"
	homeSecretEnv = "VOLAR_S3_HOME_SECRET"
)

// postError is an error of sealed files with what it is about.
type postError struct {
	what string
	err  error
}

func (e *postError) Error() string { return e.what + ": " + e.err.Error() }
func (e *postError) Unwrap() error { return e.err }

// write opens a store to write, which no window may have open meanwhile.
func (f *storeFlags) write(e *environment, dir string) (*vault.Vault, error) {
	secret, err := f.secret(e, dir)
	if err != nil {
		return nil, err
	}
	v, err := vault.Open(e.ctx, dir, vault.Options{Secret: secret})
	if err != nil {
		return nil, &postError{"store " + dir, err}
	}
	return v, nil
}

// sideDir is the folder that is named, else the one of a side.
func (f *storeFlags) sideDir(side string) (string, error) {
	if f.Store != "" {
		return f.Store, nil
	}
	dir, err := vault.DefaultDir(side)
	if err != nil {
		return "", fmt.Errorf("find the folder for the store: %w; name one with --store", err)
	}
	return dir, nil
}

// clinic opens the clinic's store to write; with make, one that is not there is
// made.
func (f *storeFlags) clinic(e *environment, make bool) (*vault.Vault, error) {
	dir, err := f.sideDir("clinic")
	if err != nil {
		return nil, err
	}
	if vault.Exists(dir) {
		return f.write(e, dir)
	}
	if !make {
		return nil, &inputError{fmt.Errorf("there is no store in %s; volar clinic makes one", dir)}
	}
	fmt.Fprintf(e.err, "volar: a new clinic store is made in %s; its passphrase cannot be recovered\n", dir)
	p, err := f.passphrase(e)
	if err != nil {
		return nil, err
	}
	s, err := clinicstore.Create(e.ctx, dir, p, clinicstore.Options{})
	if err != nil {
		return nil, &usageError{err}
	}
	return s.Vault(), nil
}

// home opens the home's store to write; with make, one that is not there is
// made, with a key that this computer keeps.
func (f *storeFlags) home(e *environment, make bool) (*homestore.Store, error) {
	dir, err := f.sideDir("home")
	if err != nil {
		return nil, err
	}
	var v *vault.Vault
	switch {
	case vault.Exists(dir):
		v, err = f.write(e, dir)
	case make:
		v, err = vault.Create(e.ctx, dir, vault.Options{Secret: vault.Device()})
	default:
		err = &inputError{fmt.Errorf("there is no store in %s; volar accept makes one", dir)}
	}
	if err != nil {
		return nil, err
	}
	if w := v.Warning(); w != "" {
		fmt.Fprintf(e.err, "volar: %s\n", w)
	}
	return homestore.On(v, homestore.Options{Software: version()}), nil
}

// placeFlags say where files are carried.
type placeFlags struct {
	Keep bool `help:"Use this place from now on, with the credentials that are in the environment."`
}

// choose is the place that is named, else the one in the store.
func (f *placeFlags) choose(named string, stored post.Place, keep func(post.Place) error) (post.Place, error) {
	if named == "" {
		if f.Keep {
			return stored, &usageError{errors.New("--keep needs a place to keep")}
		}
		if stored.IsZero() {
			return stored, post.ErrNoPlace
		}
		return stored, nil
	}
	p := post.Place{Where: named}
	if !strings.Contains(named, "://") {
		abs, err := filepath.Abs(named)
		if err != nil {
			return p, err
		}
		p.Where = abs
	}
	if p.Where == stored.Where {
		p = stored
	}
	if err := p.Check(); err != nil {
		return p, &usageError{err}
	}
	if !f.Keep {
		return p, nil
	}
	if p.Bucket() {
		p.Key, p.Secret = cmp.Or(os.Getenv("VOLAR_S3_KEY"), p.Key), cmp.Or(os.Getenv("VOLAR_S3_SECRET"), p.Secret)
		p.HomeKey, p.HomeSecret = cmp.Or(os.Getenv(homeKeyEnv), p.HomeKey), cmp.Or(os.Getenv(homeSecretEnv), p.HomeSecret)
	}
	return p, keep(p)
}

// openPlace opens a folder or bucket. A folder that is not there is not made: it
// may be a stick that is not plugged in.
func openPlace(p post.Place) (post.Carrier, error) {
	if !p.Bucket() {
		if i, err := os.Stat(p.Where); err != nil || !i.IsDir() {
			return nil, &inputError{fmt.Errorf("%s is not a folder; is the stick plugged in?", p.Where)}
		}
	}
	return p.Open()
}

// ask reads a line that a person types, or that a script pipes in.
func ask(e *environment, what string) (string, error) {
	if term.IsTerminal(int(os.Stdin.Fd())) {
		fmt.Fprint(e.err, what)
	}
	line, err := bufio.NewReader(io.LimitReader(os.Stdin, 4096)).ReadString('\n')
	if err != nil && !(errors.Is(err, io.EOF) && line != "") {
		return "", &usageError{errors.New("nothing was typed")}
	}
	return strings.TrimSpace(line), nil
}

// maxSealed bounds a file that is read whole.
const maxSealed = exchange.MaxFile

// readSealed reads a sealed file.
func readSealed(path string) ([]byte, error) {
	i, err := os.Stat(path)
	if err != nil {
		return nil, &inputError{err}
	}
	if i.IsDir() {
		return nil, &usageError{fmt.Errorf("%s is a folder; volar fetch --from %s looks into it", path, path)}
	}
	if i.Size() > maxSealed {
		return nil, &inputError{fmt.Errorf("%s is no sealed file: it has %d MB", path, i.Size()>>20)}
	}
	b, err := os.ReadFile(path)
	if err != nil {
		return nil, &inputError{err}
	}
	return b, nil
}

// askSecret is ask without showing what is typed.
func askSecret(e *environment, what string) (string, error) {
	if !term.IsTerminal(int(os.Stdin.Fd())) {
		return ask(e, what)
	}
	fmt.Fprint(e.err, what)
	p, err := term.ReadPassword(int(os.Stdin.Fd()))
	fmt.Fprintln(e.err)
	return string(p), err
}
