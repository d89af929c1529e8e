package main

import (
	"archive/tar"
	"bytes"
	"compress/gzip"
	"os"
	"path/filepath"
	"testing"

	"github.com/stretchr/testify/require"
)

func archive(t *testing.T, files map[string]string) []byte {
	t.Helper()
	var b bytes.Buffer
	z := gzip.NewWriter(&b)
	w := tar.NewWriter(z)
	for name, content := range files {
		require.NoError(t, w.WriteHeader(&tar.Header{Name: "package/" + name, Mode: 0o644, Size: int64(len(content))}))
		_, err := w.Write([]byte(content))
		require.NoError(t, err)
	}
	require.NoError(t, w.Close())
	require.NoError(t, z.Close())
	return b.Bytes()
}

func TestMembers(t *testing.T) {
	b := archive(t, map[string]string{"a.tflite": "AAA", "other": "x", "b.js": ""})
	got, err := members(b, "a.tflite", "b.js")
	require.NoError(t, err)
	require.Equal(t, map[string][]byte{"a.tflite": []byte("AAA"), "b.js": {}}, got)

	_, err = members(b, "missing")
	require.ErrorContains(t, err, "missing is missing")
	_, err = members(b[:len(b)/2], "a.tflite")
	require.ErrorContains(t, err, "unpack @mediapipe/hands")
	_, err = members([]byte("not an archive"), "a.tflite")
	require.ErrorContains(t, err, "unpack @mediapipe/hands")
}

func TestPacked(t *testing.T) {
	// As the Emscripten packager writes it: the name appears first as a
	// function, then as a call with the list.
	loader := []byte(`function loadPackage(metadata) { } loadPackage({"files": [
		{"filename": "/a/labels.txt", "start": 0, "end": 3},
		{"filename": "/a/b/net.tflite", "start": 3, "end": 7},
		{"filename": "/a/b/long.tflite", "start": 3, "end": 99},
		{"filename": "/a/b/back.tflite", "start": 5, "end": 4}], "remote_package_size": 7}); })();`)
	got, err := packed(loader, []byte("abcNET!"), "net.tflite")
	require.NoError(t, err)
	require.Equal(t, "NET!", string(got))
	for name, c := range map[string]struct {
		loader []byte
		file   string
		says   string
	}{
		"not in the list":  {loader, "foot.tflite", "is not among the packed files"},
		"past the end":     {loader, "long.tflite", "stands at 3 to 99 of 7 packed bytes"},
		"end before start": {loader, "back.tflite", "stands at 5 to 4"},
		"no list":          {[]byte("function loadPackage(metadata) { }"), "net.tflite", "no list of packed files"},
		"a broken list":    {loader[:80], "net.tflite", "list of packed files"},
	} {
		t.Run(name, func(t *testing.T) {
			_, err := packed(c.loader, []byte("abcNET!"), c.file)
			require.ErrorContains(t, err, c.says)
		})
	}
}

// TestHashes uses the hashes of the empty string in FIPS 180-4 test data.
func TestHashes(t *testing.T) {
	const empty512 = "sha512-z4PhNX7vuL3xVChQ1m2AB9Yg5AULVxXcg/SpIdNs6c5H0NE8XYXysP+DGNKHfuwvY7kxvUdBeoGlODJ6+SfaPg=="
	const empty256 = "e3b0c44298fc1c149afbf4c8996fb92427ae41e4649b934ca495991b7852b855"
	require.NoError(t, checkIntegrity(nil, empty512))
	require.ErrorContains(t, checkIntegrity([]byte("x"), empty512), "the download is damaged")
	require.NoError(t, checkSHA256("a.tflite", nil, empty256))
	require.ErrorContains(t, checkSHA256("a.tflite", []byte("x"), empty256), "a.tflite: SHA-256 is")
}

func TestRunRefusesAnotherPackage(t *testing.T) {
	dir := t.TempDir()
	other := filepath.Join(dir, "other.tgz")
	require.NoError(t, os.WriteFile(other, archive(t, map[string]string{"package.json": "{}"}), 0o600))
	require.ErrorContains(t, run(t.Context(), other, dir, "", false), "integrity is")
	require.ErrorIs(t, run(t.Context(), filepath.Join(dir, "none.tgz"), dir, "", false), os.ErrNotExist)
	left, err := filepath.Glob(filepath.Join(dir, "*.onnx"))
	require.NoError(t, err)
	require.Empty(t, left, "nothing was written")
}

func TestCompareAndWriteFile(t *testing.T) {
	dir := t.TempDir()
	p := filepath.Join(dir, "a.onnx")
	require.NoError(t, writeFile(p, []byte("old")))
	require.NoError(t, writeFile(p, []byte("new")))
	require.NoError(t, compare(dir, map[string][]byte{"a.onnx": []byte("new")}))
	require.ErrorContains(t, compare(dir, map[string][]byte{"a.onnx": []byte("other")}), "differs from a fresh conversion")
	require.ErrorIs(t, compare(dir, map[string][]byte{"b.onnx": nil}), os.ErrNotExist)
	left, err := os.ReadDir(dir)
	require.NoError(t, err)
	require.Len(t, left, 1, "no temporary file stays")
}
