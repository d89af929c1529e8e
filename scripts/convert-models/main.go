// Command convert-models makes the ONNX files in models/ from the TensorFlow
// Lite models of the npm package @mediapipe/hands (Apache-2.0).
//
//	go run ./scripts/convert-models            write models/*.onnx and models/SHA256SUMS
//	go run ./scripts/convert-models -check     convert, compare with what is there, write nothing
//
// The package comes through the npm client (npm pack) and is checked against
// a pinned hash, and so is each model in it. The conversion changes the
// layout of the weights and their width (float16 to float32, exactly), never a
// value, and gives the same bytes on every run.
package main

import (
	"bytes"
	"context"
	"crypto/sha256"
	"flag"
	"fmt"
	"io"
	"os"
	"os/signal"
	"path/filepath"

	"volar/scripts/convert-models/convert"
	"volar/scripts/convert-models/tflite"
)

// model is one network of the package and how it is written.
type model struct {
	source string // file name in the package
	sha256 string // of the source, as listed by the models' publisher
	packed bool   // inside the packed assets rather than a file of its own
	spec   convert.Spec
}

const origin = "Converted from %s of the npm package " + packageName + " " + packageVersion + ", Apache-2.0. Weights widened to float32, layout NCHW, values unchanged."

func catalogue() []model {
	return []model{
		{
			source: "hand_landmark_full.tflite",
			sha256: "8c026882c9ec059ce0f8e75266bee5a9a23c341a40e0000df755374d3d1b9b68",
			spec: convert.Spec{
				Name: "hand_landmark", Opset: 10, Input: "input",
				Outputs: []string{"landmarks", "presence", "handedness", "world"},
				Doc:     fmt.Sprintf(origin, "hand_landmark_full.tflite"),
			},
		},
		{
			source: "palm_detection_full.tflite",
			sha256: "2f25e740121983f68ffc05f99991d524dc0ea812134f6316a26125816941ee85",
			packed: true,
			spec: convert.Spec{
				Name: "palm_detection", Opset: 11, Input: "input",
				Outputs: []string{"boxes", "scores"},
				Doc:     fmt.Sprintf(origin, "palm_detection_full.tflite"),
			},
		},
	}
}

func main() {
	ctx, stop := signal.NotifyContext(context.Background(), os.Interrupt)
	defer stop()
	out := flag.String("out", "models", "folder to write to")
	archive := flag.String("package", "", "use this .tgz of the package instead of fetching it")
	check := flag.Bool("check", false, "compare with the files in the folder; write nothing")
	originals := flag.String("originals", "", "also write the original .tflite files to this folder")
	flag.Parse()
	if flag.NArg() > 0 {
		flag.Usage()
		os.Exit(2)
	}
	if err := run(ctx, *archive, *out, *originals, *check); err != nil {
		fmt.Fprintln(os.Stderr, "convert-models:", err)
		os.Exit(1)
	}
}

func run(ctx context.Context, archive, out, originals string, check bool) error {
	var b []byte
	var err error
	if archive != "" {
		b, err = os.ReadFile(archive)
	} else {
		b, err = fetch(ctx)
	}
	if err != nil {
		return err
	}
	if err := checkIntegrity(b, packageIntegrity); err != nil {
		return err
	}
	sources, err := unpack(b)
	if err != nil {
		return err
	}
	var sums bytes.Buffer
	files := map[string][]byte{}
	for _, m := range catalogue() {
		net, err := tflite.Parse(sources[m.source])
		if err != nil {
			return fmt.Errorf("%s: %w", m.source, err)
		}
		onnx, err := convert.ToONNX(net, m.spec)
		if err != nil {
			return fmt.Errorf("%s: %w", m.source, err)
		}
		name := m.spec.Name + ".onnx"
		files[name] = onnx
		fmt.Fprintf(&sums, "%x  %s\n", sha256.Sum256(onnx), name)
	}
	files["SHA256SUMS"] = sums.Bytes()
	if originals != "" {
		for name, b := range sources {
			if err := writeFile(filepath.Join(originals, name), b); err != nil {
				return err
			}
		}
	}
	if check {
		return compare(out, files)
	}
	for name, b := range files {
		if err := writeFile(filepath.Join(out, name), b); err != nil {
			return err
		}
	}
	_, err = io.Copy(os.Stdout, &sums)
	return err
}

// unpack returns the models in the package, each checked against its hash.
func unpack(archive []byte) (map[string][]byte, error) {
	const assets, loader = "hands_solution_packed_assets.data", "hands_solution_packed_assets_loader.js"
	names := []string{assets, loader}
	for _, m := range catalogue() {
		if !m.packed {
			names = append(names, m.source)
		}
	}
	all, err := members(archive, names...)
	if err != nil {
		return nil, err
	}
	r := map[string][]byte{}
	for _, m := range catalogue() {
		b := all[m.source]
		if m.packed {
			if b, err = packed(all[loader], all[assets], m.source); err != nil {
				return nil, err
			}
		}
		if err := checkSHA256(m.source, b, m.sha256); err != nil {
			return nil, err
		}
		r[m.source] = b
	}
	return r, nil
}

// compare says which of the files on disk differ from the converted ones.
func compare(dir string, files map[string][]byte) error {
	for name, want := range files {
		got, err := os.ReadFile(filepath.Join(dir, name))
		if err != nil {
			return err
		}
		if !bytes.Equal(got, want) {
			return fmt.Errorf("%s differs from a fresh conversion; run: go run ./scripts/convert-models", filepath.Join(dir, name))
		}
	}
	fmt.Printf("%d files in %s are as converted\n", len(files), dir)
	return nil
}

// writeFile replaces a file in one step, so that a broken run leaves the old
// one.
func writeFile(path string, b []byte) error {
	f, err := os.CreateTemp(filepath.Dir(path), ".convert-*")
	if err != nil {
		return err
	}
	defer os.Remove(f.Name())
	_, err = f.Write(b)
	if e := f.Chmod(0o644); err == nil {
		err = e
	}
	if e := f.Close(); err == nil {
		err = e
	}
	if err != nil {
		return fmt.Errorf("write %s: %w", path, err)
	}
	return os.Rename(f.Name(), path)
}
