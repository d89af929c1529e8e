package infer

import (
	"debug/elf"
	"errors"
	"fmt"
	"io/fs"
	"os"
	"path/filepath"
	"runtime"
	"slices"
	"strings"
)

// RuntimeOptions say which ONNX Runtime library to load.
type RuntimeOptions struct {
	// Library is the path of the library, or of the folder it is in. Empty
	// means to look for it: the variable VOLAR_ONNXRUNTIME, the project's
	// .cache/onnxruntime, the folder of the program, ../lib/volar from
	// there, and last the system's own libraries.
	Library string
}

// LibraryEnv names the environment variable that points at the ONNX Runtime
// library, or at the folder it is in.
const LibraryEnv = "VOLAR_ONNXRUNTIME"

// LibraryVersion is the release that the setup script fetches, and so the
// folder of the project's cache in which it is looked for.
const LibraryVersion = "1.30.0"

// fix is what the reader of an error can do about it.
const fix = "run ./scripts/setup, or set " + LibraryEnv + " to an ONNX Runtime library of version 1.24 or newer"

// libraryNames are the names of the library file on this system.
func libraryNames() []string {
	switch runtime.GOOS {
	case "windows":
		return []string{"onnxruntime.dll"}
	case "darwin":
		return []string{"libonnxruntime.1.dylib", "libonnxruntime.dylib"}
	}
	return []string{"libonnxruntime.so.1", "libonnxruntime.so"}
}

// candidates lists what to try, in order. A name without a folder is left to
// the system's loader. The second result says that the caller chose the
// library, so that no other may stand in for it.
//
// The working directory is not searched: a library found there would run with
// the rights of whoever happens to stand in that folder.
func candidates(o RuntimeOptions) (paths []string, chosen bool) {
	for _, p := range []string{o.Library, os.Getenv(LibraryEnv)} {
		if p == "" {
			continue
		}
		if s, err := os.Stat(p); err == nil && s.IsDir() {
			return inFolder(p), true
		}
		return []string{p}, true
	}
	for _, root := range projectRoots() {
		paths = append(paths, inFolder(filepath.Join(root, ".cache", "onnxruntime", LibraryVersion))...)
	}
	if exe, err := os.Executable(); err == nil {
		if real, err := filepath.EvalSymlinks(exe); err == nil {
			exe = real
		}
		dir := filepath.Dir(exe)
		paths = append(paths, inFolder(dir)...)
		paths = append(paths, inFolder(filepath.Join(dir, "..", "lib", "volar"))...)
	}
	return append(paths, libraryNames()...), false
}

func inFolder(dir string) []string {
	var r []string
	for _, n := range libraryNames() {
		r = append(r, filepath.Join(dir, n))
	}
	return r
}

// projectRoots returns the folders that may be the source tree with its
// cache: the one that this file was compiled from, which covers go run and go
// test, and the one above bin/ in which the program lies.
func projectRoots() []string {
	var r []string
	if _, file, _, ok := runtime.Caller(0); ok && filepath.IsAbs(file) { // not absolute in a -trimpath build
		r = append(r, filepath.Join(filepath.Dir(file), "..", ".."))
	}
	if exe, err := os.Executable(); err == nil {
		if dir := filepath.Dir(exe); filepath.Base(dir) == "bin" {
			r = append(r, filepath.Dir(dir))
		}
	}
	return slices.Compact(r)
}

// inspect checks a library file before the loader gets it: the loader
// crashes the process on a file that was cut short, and its messages do not
// say what to do. Only the file format of Linux is inspected.
func inspect(path string) error {
	info, err := os.Stat(path)
	switch {
	case errors.Is(err, fs.ErrNotExist):
		return err
	case err != nil:
		return fmt.Errorf("%s cannot be read: %w", path, err)
	case !info.Mode().IsRegular():
		return fmt.Errorf("%s is not a file", path)
	case runtime.GOOS != "linux":
		return nil
	}
	file, err := os.Open(path)
	if err != nil {
		return fmt.Errorf("%s cannot be read: %w", path, err)
	}
	defer file.Close()
	magic := make([]byte, len(elf.ELFMAG))
	if _, err := file.ReadAt(magic, 0); err != nil || string(magic) != elf.ELFMAG {
		return fmt.Errorf("%s is not a shared library", path)
	}
	// The table of sections stands at the end of the file.
	f, err := elf.NewFile(file)
	if err != nil {
		return fmt.Errorf("%s is damaged or cut short at %d bytes", path, info.Size())
	}
	if f.Type != elf.ET_DYN {
		return fmt.Errorf("%s is not a shared library", path)
	}
	if want, ok := machines[runtime.GOARCH]; ok && f.Machine != want {
		return fmt.Errorf("%s is made for another processor (%s, this is %s)", path, f.Machine, runtime.GOARCH)
	}
	for _, p := range f.Progs {
		if p.Type == elf.PT_LOAD && p.Off+p.Filesz > uint64(info.Size()) {
			return fmt.Errorf("%s is damaged or cut short at %d bytes", path, info.Size())
		}
	}
	symbols, err := f.DynamicSymbols()
	if err != nil {
		return fmt.Errorf("%s is damaged: %w", path, err)
	}
	if !slices.ContainsFunc(symbols, func(s elf.Symbol) bool {
		return s.Name == "OrtGetApiBase" && s.Section != elf.SHN_UNDEF
	}) {
		return fmt.Errorf("%s is a library, but not ONNX Runtime", path)
	}
	return nil
}

var machines = map[string]elf.Machine{"amd64": elf.EM_X86_64, "arm64": elf.EM_AARCH64}

// explain turns the loader's message into one sentence about the library.
func explain(path string, err error) error {
	s := err.Error()
	switch {
	case strings.Contains(s, "setting ORT API base"):
		return fmt.Errorf("%s is older than version 1.24", path)
	case strings.Contains(s, "looking up OrtGetApiBase"):
		return fmt.Errorf("%s is a library, but not ONNX Runtime", path)
	}
	if filepath.Base(path) == path && strings.Contains(s, "No such file") {
		return fmt.Errorf("%s is not among the system's libraries: %w", path, fs.ErrNotExist)
	}
	// What the system's loader said stands behind the quoted path.
	if i := strings.LastIndex(s, `": `); i >= 0 {
		s = s[i+len(`": `):]
	}
	return fmt.Errorf("%s cannot be loaded: %s", path, s)
}
