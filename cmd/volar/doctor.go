package main

import (
	"encoding/json"
	"fmt"
	"image"
	"runtime"
	"slices"
	"time"

	"volar/internal/infer"
	"volar/internal/landmark"
	"volar/models"
)

// doctorCmd looks at this computer, never at clients' data, so that what it
// prints can be sent to whoever helps.
type doctorCmd struct {
	JSON   bool   `name:"json" help:"One JSON object."`
	Camera string `help:"Camera to try: a number or a path, or file:CLIP for a video played as one; the first one if not named." placeholder:"CAMERA"`
	Bucket string `help:"Bucket to try; nothing is written to it." placeholder:"s3://HOST/BUCKET"`
	engineFlags
}

// finding is one line of the doctor's answer.
type finding struct {
	What  string `json:"what"`
	Works bool   `json:"works"`
	// Needed is false for what only some commands use.
	Needed bool   `json:"needed"`
	Detail string `json:"detail"`
	Do     string `json:"do,omitempty"`
}

func (c *doctorCmd) Run(e *environment) error {
	found := []finding{programFinding()}
	found = append(found, modelFindings()...)
	found = append(found, c.engineFindings()...)
	found = append(found, c.cameraFindings(e)...)
	found = append(found, displayFinding(), openGLFinding(), soundFinding())
	found = append(found, storeFindings(e.ctx)...)
	found = append(found, bucketFinding(e.ctx, c.Bucket))
	broken := 0
	for _, f := range found {
		if f.Needed && !f.Works {
			broken++
		}
	}
	if c.JSON {
		enc := json.NewEncoder(e.out)
		enc.SetIndent("", "  ")
		if err := enc.Encode(map[string]any{"findings": found, "ready": broken == 0}); err != nil {
			return err
		}
	} else {
		b := &printer{w: e.out}
		for _, f := range found {
			mark := "works"
			switch {
			case !f.Works && f.Needed:
				mark = "BROKEN"
			case !f.Works:
				mark = "absent"
			}
			b.f("%-7s %-18s %s\n", mark, f.What, f.Detail)
			if f.Do != "" {
				b.f("%-26s what to do: %s\n", "", f.Do)
			}
		}
		if b.err != nil {
			return b.err
		}
	}
	if broken > 0 {
		return fmt.Errorf("%s needed for measuring %s not work; see above", plural(broken, "part", "parts"), map[bool]string{true: "does", false: "do"}[broken == 1])
	}
	return nil
}

func programFinding() finding {
	return finding{What: "program", Works: true, Needed: true, Detail: fmt.Sprintf("volar %s, %s %s/%s, %d processors", version(), runtime.Version(), runtime.GOOS, runtime.GOARCH, runtime.NumCPU())}
}

func modelFindings() []finding {
	var out []finding
	for _, m := range []struct {
		name string
		load func() ([]byte, error)
	}{{"palm model", models.PalmDetection}, {"hand model", models.HandAngles}} {
		f := finding{What: m.name, Needed: true}
		b, err := m.load()
		if err != nil {
			f.Detail, f.Do = sentence(err), "install the program again"
		} else {
			f.Works, f.Detail = true, fmt.Sprintf("%.1f MB, as published with this version", float64(len(b))/1e6)
		}
		out = append(out, f)
	}
	return out
}

// engineFindings loads the engine and times what a live picture costs.
func (c *doctorCmd) engineFindings() []finding {
	f := finding{What: "engine", Needed: true, Do: "run ./scripts/setup, or set VOLAR_ONNXRUNTIME to the library's path"}
	engine, why, err := c.engineFlags.choose()
	if err != nil {
		f.Detail = sentence(err)
		return []finding{f}
	}
	defer engine.Close()
	f.Works, f.Do, f.Detail = true, "", engine.Name()
	if why != nil {
		f.Detail += ", as ONNX Runtime, which is faster, cannot be loaded"
		f.Do = sentence(why)
	}
	s := finding{What: "speed", Needed: true}
	ms, err := medianSearch(engine, c.Threads)
	switch {
	case err != nil:
		s.Detail = sentence(err)
	case ms > 66:
		s.Works, s.Detail = true, fmt.Sprintf("looking for a hand in a picture takes %.0f ms: live judging will be slow", ms)
		s.Do = "close other programs, or use a computer with a newer processor"
	default:
		s.Works, s.Detail = true, fmt.Sprintf("looking for a hand in a picture takes %.0f ms (median)", ms)
	}
	return []finding{f, s}
}

// medianSearch times the slower of the two models, on an empty picture, in
// milliseconds.
func medianSearch(engine infer.Engine, threads int) (float64, error) {
	t, err := landmark.New(engine, landmark.Options{Threads: threads})
	if err != nil {
		return 0, err
	}
	defer t.Close()
	img := image.NewRGBA(image.Rect(0, 0, 640, 480))
	const runs = 9
	var took []time.Duration
	for i := range runs + 1 {
		t.Reset()
		start := time.Now()
		if _, err := t.Track(img, time.Duration(i)*time.Second); err != nil {
			return 0, err
		}
		if i > 0 { // the first run also warms up
			took = append(took, time.Since(start))
		}
	}
	slices.Sort(took)
	return float64(took[len(took)/2].Microseconds()) / 1000, nil
}
