// Package models holds the neural networks that find hands in pictures and read their joints,
// as ONNX files inside the program. README.md beside this file is their model
// card: inputs, outputs, units, limits, source and licence.
//
// Every file is compared with SHA256SUMS each time it is handed out, because
// an inference engine that is given damaged weights may well run and be
// wrong.
package models

import (
	"crypto/sha256"
	_ "embed" // for the files
	"encoding/hex"
	"fmt"
	"strings"
)

// File names, as Verify and SHA256SUMS know them.
const (
	HandLandmarkFile  = "hand_landmark.onnx"
	PalmDetectionFile = "palm_detection.onnx"
	HandAnglesFile    = "hand_angles.onnx"
)

// The models are kept as strings so that nobody can write to them.
var (
	//go:embed hand_landmark.onnx
	handLandmark string
	//go:embed palm_detection.onnx
	palmDetection string
	//go:embed hand_angles.onnx
	handAngles string
	//go:embed SHA256SUMS
	sums string
)

// HandLandmark returns the network that places 21 landmarks on a hand in a
// 224×224 crop. The caller owns the bytes.
func HandLandmark() ([]byte, error) { return verified(HandLandmarkFile, handLandmark) }

// PalmDetection returns the network that finds palms in a 192×192 picture.
// The caller owns the bytes.
func PalmDetection() ([]byte, error) { return verified(PalmDetectionFile, palmDetection) }

// HandAngles returns the landmark network with the angle head on it: the
// outputs of HandLandmark, the same to the bit, and each joint's angle beside
// them. The caller owns the bytes.
func HandAngles() ([]byte, error) { return verified(HandAnglesFile, handAngles) }

func verified(name, content string) ([]byte, error) {
	b := []byte(content)
	if err := Verify(name, b); err != nil {
		return nil, err
	}
	return b, nil
}

// MismatchError says that a model file is not the one this program was made
// for.
type MismatchError struct {
	Name      string // of the file
	Want, Got string // SHA-256 in hexadecimal digits
}

func (e *MismatchError) Error() string {
	return fmt.Sprintf("model %s is damaged or of another version: SHA-256 is %s, want %s; restore models/%s from the source tree or make it again with: go run ./scripts/convert-models",
		e.Name, e.Got, e.Want, e.Name)
}

// Verify compares b with the known hash of the named model. The error is a
// *MismatchError when they differ.
func Verify(name string, b []byte) error {
	want, err := known(name)
	if err != nil {
		return err
	}
	sum := sha256.Sum256(b)
	if got := hex.EncodeToString(sum[:]); got != want {
		return &MismatchError{Name: name, Want: want, Got: got}
	}
	return nil
}

// Known says whether b is one of the project's models, whatever its name: it
// returns nil, or an error that says what to do.
func Known(b []byte) error {
	sum := sha256.Sum256(b)
	got := hex.EncodeToString(sum[:])
	for line := range strings.Lines(sums) {
		if f := strings.Fields(line); len(f) == 2 && f[0] == got {
			return nil
		}
	}
	return fmt.Errorf("a model of %d bytes with SHA-256 %s is not among those of SHA256SUMS; restore the models from the source tree or make them again with: go run ./scripts/convert-models", len(b), got)
}

// known looks a file up in SHA256SUMS, whose lines are those of sha256sum(1).
func known(name string) (string, error) {
	for line := range strings.Lines(sums) {
		if f := strings.Fields(line); len(f) == 2 && f[1] == name {
			return f[0], nil
		}
	}
	return "", fmt.Errorf("model %q is unknown; there are %s and %s", name, HandLandmarkFile, PalmDetectionFile)
}
