package main

import (
	"errors"
	"fmt"
	"image"
	"image/color"
	"image/png"
	"io"
	"os"
	"os/exec"
	"path/filepath"
	"strings"
	"testing"
	"time"

	"github.com/rogpeppe/go-internal/testscript"

	"volar/internal/camera"
	"volar/internal/hand"
	"volar/internal/handrender"
	"volar/internal/infer"
)

func TestMain(m *testing.M) {
	testscript.Main(m, map[string]func(){"volar": main})
}

// TestScripts runs the command line as a user would. Pictures and videos that
// the scripts name are made by prepare.
func TestScripts(t *testing.T) {
	dir := t.TempDir()
	prepare(t, dir)
	testscript.Run(t, testscript.Params{
		Dir: "testdata/script",
		Setup: func(e *testscript.Env) error {
			e.Vars = append(e.Vars, "MADE="+dir, infer.LibraryEnv+"="+os.Getenv(infer.LibraryEnv))
			return nil
		},
	})
}

func must(t *testing.T, err error) {
	t.Helper()
	if err != nil {
		t.Fatal(err)
	}
}

// TestManyPictures: the library dies on a long command line unless it is
// started with the stack for it; a folder of photographs makes one.
func TestManyPictures(t *testing.T) {
	args := []string{"measure", "--json"}
	for i := range 3000 {
		args = append(args, fmt.Sprintf("no-such-folder/with-quite-a-long-name/%05d-%s.png", i, strings.Repeat("x", 60)))
	}
	self, err := os.Executable()
	must(t, err)
	// The test binary stands in for the program under that name.
	program := filepath.Join(t.TempDir(), "volar")
	must(t, os.Symlink(self, program))
	out, err := exec.Command(program, args...).Output()
	var exit *exec.ExitError
	if !errors.As(err, &exit) || exit.ExitCode() != exitUnreadable {
		t.Fatalf("want exit code %d, got %v", exitUnreadable, err)
	}
	if n := strings.Count(string(out), "\n"); n != 3000 {
		t.Fatalf("%d lines for 3000 pictures", n)
	}
}

// prepare makes good and bad input.
func prepare(t *testing.T, dir string) {
	t.Helper()
	at := func(name string) string { return filepath.Join(dir, name) }
	save := func(name string, img image.Image) {
		f, err := os.Create(at(name))
		must(t, err)
		must(t, png.Encode(f, img))
		must(t, f.Close())
	}
	film := func(name string, img *image.RGBA, n int) {
		w, err := camera.NewVideoWriter(at(name), img.Rect.Dx(), img.Rect.Dy(), 15)
		must(t, err)
		for range n {
			must(t, w.Write(img))
		}
		must(t, w.Close())
	}
	h, err := handrender.Default()
	must(t, err)
	r := handrender.NewRenderer(h, handrender.Options{})
	frame := image.NewRGBA(image.Rect(0, 0, 640, 480))
	r.Render(frame, handrender.Scene{Pose: handrender.Straight()})
	save("hand.png", frame)
	film("still.avi", frame, 20)
	aside := image.NewRGBA(image.Rect(0, 0, 640, 480))
	r.Render(aside, handrender.Scene{Pose: handrender.Hook(), View: handrender.View{Yaw: 90}})
	save("aside.png", aside)

	for name, scene := range map[string]handrender.Scene{
		"straight": {Pose: handrender.Straight()}, "fist": {Pose: handrender.FullFist()}, "side": {Pose: handrender.Straight(), View: handrender.View{Yaw: 85, Pitch: 4}},
		"left": {Pose: handrender.Straight(), Side: hand.Left}, "leftfist": {Pose: handrender.FullFist(), Side: hand.Left}, "dim": {Pose: handrender.Straight(), Effects: handrender.Effects{Exposure: -4}},
	} {
		scene.Camera = handrender.Camera{Distance: 0.38, OffsetY: 0.05}
		img := image.NewRGBA(image.Rect(0, 0, 480, 360))
		r.Render(img, scene)
		save(name+"-pose.png", img)
		film(name+"-pose.avi", img, 30)
	}

	grey, deep := image.NewGray(frame.Rect), image.NewRGBA64(frame.Rect)
	for y := range 480 {
		for x := range 640 {
			grey.Set(x, y, frame.At(x, y))
			deep.Set(x, y, frame.At(x, y))
		}
	}
	save("grey.png", grey)
	save("deep.png", deep)

	two := image.NewRGBA(image.Rect(0, 0, 640, 480))
	half := image.NewRGBA(image.Rect(0, 0, 320, 480))
	for i, side := range []hand.Side{hand.Right, hand.Left} {
		r.Render(half, handrender.Scene{Pose: handrender.Straight(), Side: side, Camera: handrender.Camera{HFOV: 40}})
		for y := range 480 {
			copy(two.Pix[two.PixOffset(320*i, y):], half.Pix[half.PixOffset(0, y):half.PixOffset(0, y)+4*320])
		}
	}
	save("two.png", two)
	film("two.avi", two, 15)

	empty := image.NewRGBA(image.Rect(0, 0, 640, 480))
	for i := range empty.Pix {
		empty.Pix[i] = 200
	}
	save("empty.png", empty)
	film("empty.avi", empty, 15)

	big := image.NewRGBA(image.Rect(0, 0, 7680, 4320))
	for y := range 4320 {
		for x := range 7680 {
			big.SetRGBA(x, y, frame.RGBAAt(min(x*480/4320, 639), y*480/4320))
		}
	}
	save("big.png", big)

	dot := image.NewRGBA(image.Rect(0, 0, 1, 1))
	dot.Set(0, 0, color.White)
	save("dot.png", dot)
	film("dot.avi", dot, 5)

	must(t, os.WriteFile(at("grip.avi"), demoClip, 0o600))
	pause(t, at("grip.avi"), at("rest.avi"))
	whole, err := os.ReadFile(at("still.avi"))
	must(t, err)
	must(t, os.WriteFile(at("cut.avi"), whole[:len(whole)*3/5], 0o600))
	must(t, os.WriteFile(at("stub.avi"), whole[:40], 0o600))
	must(t, os.WriteFile(at("zero.avi"), nil, 0o600))
	must(t, os.WriteFile(at("text.avi"), []byte("this is a letter and not a video\n"), 0o600))
	must(t, os.WriteFile(at("text.png"), []byte("this is a letter and not a picture\n"), 0o600))
	must(t, os.Mkdir(at("folder.avi"), 0o700))
}

// pause copies the bundled clip, and holds its picture of 6.5 s, in which the
// hand is open between the first grip and the second, for 12 s.
func pause(t *testing.T, from, to string) {
	t.Helper()
	src, err := camera.OpenVideo(from, camera.VideoOptions{})
	must(t, err)
	defer src.Close()
	info := src.Info()
	w, err := camera.NewVideoWriter(to, info.Width, info.Height, info.FPS)
	must(t, err)
	defer w.Abort()
	held := false
	for {
		frame, err := src.Next(t.Context())
		if errors.Is(err, io.EOF) {
			break
		}
		must(t, err)
		n := 1
		if !held && frame.Time >= 6500*time.Millisecond {
			held, n = true, int(12*info.FPS)
		}
		for range n {
			must(t, w.Write(frame.Image))
		}
	}
	must(t, w.Close())
}
