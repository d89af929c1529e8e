// Command sideviews shows the program rendered hands of shapes that the angle
// head never saw, from the thumb side, with every PIP joint straight or past
// straight, and prints how often the index finger is called hyperextended: by
// one picture, and by the median of an event of 0.3 seconds.
//
//	go run ./scripts/angle-head/sideviews -meshes FOLDER [-hands 4]
//
// The folder holds the meshes that the generator keeps for testing, or any
// others. Pictures go through the whole of the program: palm detection,
// tracking, head and goniometer.
package main

import (
	"errors"
	"flag"
	"fmt"
	"image"
	"math"
	"math/rand/v2"
	"os"
	"path/filepath"
	"slices"
	"time"

	"volar/internal/goniometry"
	"volar/internal/hand"
	"volar/internal/handrender"
	"volar/internal/infer"
	"volar/internal/landmark"
)

const (
	frames = 9 // of an event, 0.3 s at 30 pictures a second
	settle = 3 // before it, for the tracker to lay its region
)

var (
	steps = [...]float64{0, -10, -15, -20}
	yaws  = [...]float64{75, 90, 105}
)

func main() {
	meshes := flag.String("meshes", "", "folder of rigged hands (.glb)")
	hands := flag.Int("hands", 4, "hands of each mesh: other bones, skin, light")
	flag.Parse()
	if err := run(*meshes, *hands); err != nil {
		fmt.Fprintln(os.Stderr, "sideviews:", err)
		os.Exit(1)
	}
}

// reading is what was said of one event: each picture's angle, by the head
// alone and by the goniometer.
type reading struct{ head, goniometer []float64 }

func run(folder string, hands int) (err error) {
	files, err := filepath.Glob(filepath.Join(folder, "*.glb"))
	if err != nil || len(files) == 0 {
		return errors.Join(err, fmt.Errorf("no .glb file in %q", folder))
	}
	engine, err := infer.OpenRuntime(infer.RuntimeOptions{})
	if err != nil {
		return err
	}
	defer func() { err = errors.Join(err, engine.Close()) }()
	tracker, err := landmark.New(engine, landmark.Options{})
	if err != nil {
		return err
	}
	defer func() { err = errors.Join(err, tracker.Close()) }()
	var events [len(steps)][]reading
	lost := 0
	for n, f := range files {
		b, err := os.ReadFile(f)
		if err != nil {
			return err
		}
		h, err := handrender.Load(b)
		if err != nil {
			return fmt.Errorf("%s: %w", f, err)
		}
		r := handrender.NewRenderer(h, handrender.Options{})
		for k := range hands {
			for v, yaw := range yaws {
				for s := range steps {
					rnd := rand.New(rand.NewPCG(uint64(n), uint64(1000*k+10*v+s)))
					e, err := event(r, tracker, rnd, yaw, steps[s])
					if err != nil {
						return err
					}
					lost += frames - len(e.head)
					events[s] = append(events[s], e)
				}
			}
		}
	}
	fmt.Printf("%d meshes, %d events of each kind; pictures without a hand: %d\n\n", len(files), len(events[0]), lost)
	table("head alone", &events, func(e reading) []float64 { return e.head })
	table("goniometer", &events, func(e reading) []float64 { return e.goniometer })
	return nil
}

// event renders and measures one event.
func event(r *handrender.Renderer, t *landmark.Tracker, rnd *rand.Rand, yaw, pip float64) (reading, error) {
	u := func(a, b float64) float64 { return a + (b-a)*rnd.Float64() }
	n := func(s float64) float64 { return s * rnd.NormFloat64() }
	s := handrender.Scene{
		Side:       hand.Side(1 + rnd.IntN(2)),
		View:       handrender.View{Yaw: yaw + u(-5, 5), Pitch: u(-12, 12), Roll: u(-25, 25)},
		Camera:     handrender.Camera{Distance: u(.35, .6), OffsetX: u(-.1, .1), OffsetY: u(-.1, .1)},
		Skin:       handrender.Skin{Tone: rnd.Float64(), Seed: rnd.Uint32()},
		Light:      handrender.Light{Azimuth: u(-90, 90), Elevation: u(10, 60), Key: u(.6, 1.3), Ambient: u(.6, 1.4)},
		Background: handrender.Background{Kind: handrender.Clutter, Seed: rnd.Uint32()},
		Sleeve:     handrender.Sleeve{On: rnd.IntN(2) == 0},
		Shape:      handrender.Shape{PalmLength: u(-.1, .1), PalmWidth: u(-.1, .1), JointBulk: u(0, .12)},
	}
	for d := range s.Shape.FingerLength {
		s.Shape.FingerLength[d], s.Shape.FingerThickness[d] = u(-.1, .1), u(-.1, .1)
	}
	mcp, dip := u(-5, 20), u(0, 22)
	for k := range s.Pose.Fingers {
		s.Pose.Fingers[k] = handrender.FingerPose{MCP: mcp + n(2), Abduction: 2 + n(1.5), PIP: pip, DIP: dip + n(3)}
	}
	s.Pose.Thumb = handrender.ThumbPose{Palmar: 6 + n(6), Radial: 6 + n(6), MP: 6 + n(6), IP: n(8)}
	still := s
	img := image.NewRGBA(image.Rect(0, 0, 640, 480))
	g := goniometry.New(goniometry.Options{})
	t.Reset()
	var out reading
	for i := range settle + frames {
		// A hand that is held still trembles a little.
		s.View.Yaw, s.View.Pitch, s.View.Roll = still.View.Yaw+n(.6), still.View.Pitch+n(.6), still.View.Roll+n(.4)
		s.Camera.OffsetX = still.Camera.OffsetX + n(.002)
		s.Effects = handrender.Effects{Noise: 3, NoiseSeed: uint32(i)}
		r.Render(img, s)
		at := time.Duration(i) * time.Second / 30
		o, err := t.Track(img, at)
		if err != nil {
			return out, err
		}
		if i < settle || len(o) == 0 || o[0].Angles == nil {
			continue
		}
		o[0].Side = s.Side
		out.head = append(out.head, o[0].Angles.FlexionDeg[hand.IndexPIP])
		out.goniometer = append(out.goniometer, g.Measure(o[0]).Joints[hand.IndexPIP].FlexionDeg)
	}
	return out, nil
}

// table prints, for one way of reading, means and the share called
// hyperextended at the cut that 1 % of straight fingers fall under.
func table(name string, events *[len(steps)][]reading, of func(reading) []float64) {
	var single, median [len(steps)][]float64
	for s := range events {
		for _, e := range events[s] {
			v := slices.Clone(of(e))
			if len(v) == 0 {
				continue
			}
			single[s] = append(single[s], v...)
			slices.Sort(v)
			median[s] = append(median[s], v[len(v)/2])
		}
	}
	fmt.Printf("| %s | true 0 | -10 | -15 | -20 |\n|---|---|---|---|---|\n", name)
	fmt.Printf("| reads, mean ± sd |")
	for _, v := range single {
		m, d := spread(v)
		fmt.Printf(" %+.1f ± %.1f |", m, d)
	}
	fmt.Print("\n| error of size, mean |")
	for s, v := range single {
		sum := 0.0
		for _, x := range v {
			sum += max(x-steps[s], steps[s]-x)
		}
		fmt.Printf(" %.1f |", sum/float64(len(v)))
	}
	for _, k := range []struct {
		what string
		of   *[len(steps)][]float64
	}{{"one picture", &single}, {"median of 0.3 s", &median}} {
		straight := slices.Sorted(slices.Values(k.of[0]))
		cut := straight[len(straight)/100]
		for _, c := range []float64{cut, -6} {
			fmt.Printf("\n| %s, below %.1f |", k.what, c)
			for _, v := range k.of {
				found := 0
				for _, x := range v {
					if x < c {
						found++
					}
				}
				fmt.Printf(" %.1f %% |", 100*float64(found)/float64(len(v)))
			}
		}
	}
	fmt.Print("\n\n")
}

func spread(v []float64) (mean, sd float64) {
	for _, x := range v {
		mean += x / float64(len(v))
	}
	for _, x := range v {
		sd += (x - mean) * (x - mean) / float64(len(v))
	}
	return mean, math.Sqrt(sd)
}
