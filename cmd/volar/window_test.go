package main

import (
	"bytes"
	"context"
	"fmt"
	"image"
	"os"
	"os/exec"
	"path/filepath"
	"strings"
	"sync"
	"testing"
	"time"

	"github.com/stretchr/testify/require"

	"volar/internal/camera"
	"volar/internal/coach"
	"volar/internal/demonstration"
	"volar/internal/exercise"
	"volar/internal/hand"
	"volar/internal/handrender"
	"volar/internal/infer"
	"volar/internal/program"
	"volar/internal/session"
	"volar/internal/vault"
)

// desktop is an X server of the test's own, with OpenGL done in software. Its
// programs come with ./scripts/setup.
type desktop struct {
	t       *testing.T
	display string
	env     []string
}

func newDesktop(t *testing.T, args ...string) *desktop {
	t.Helper()
	r, w, err := os.Pipe()
	require.NoError(t, err)
	defer r.Close()
	x := exec.Command("Xvfb", append([]string{"-displayfd", "3", "-screen", "0", "1280x720x24", "-nolisten", "tcp", "-noreset"}, args...)...)
	x.ExtraFiles = []*os.File{w}
	require.NoError(t, x.Start(), "Xvfb is installed by ./scripts/setup")
	w.Close()
	t.Cleanup(func() {
		x.Process.Kill()
		x.Wait()
	})
	var number string
	_, err = fmt.Fscanln(r, &number)
	require.NoError(t, err, "Xvfb did not start")
	d := &desktop{t: t, display: ":" + number}
	home := t.TempDir()
	d.env = append(os.Environ(), "DISPLAY="+d.display, "WAYLAND_DISPLAY=", "LIBGL_ALWAYS_SOFTWARE=1", "LANG=en_US.UTF-8",
		"DBUS_SESSION_BUS_ADDRESS=", "HOME="+home, "XDG_CONFIG_HOME="+home, "XDG_DATA_HOME="+home)
	if lib := os.Getenv(infer.LibraryEnv); lib == "" {
		// The library is looked for beside the repository's root.
		found, err := filepath.Glob("../../.cache/onnxruntime/*/libonnxruntime.so.1")
		require.NoError(t, err)
		if len(found) > 0 {
			abs, err := filepath.Abs(found[0])
			require.NoError(t, err)
			d.env = append(d.env, infer.LibraryEnv+"="+abs)
		}
	}
	return d
}

// running is the program with its window.
type running struct {
	d    *desktop
	cmd  *exec.Cmd
	done chan error
	mu   sync.Mutex
	out  bytes.Buffer
	// listens is true once the window has had the focus: a key that comes
	// before is lost, which a busy computer leaves much time for.
	listens bool
}

func (r *running) Write(p []byte) (int, error) {
	r.mu.Lock()
	defer r.mu.Unlock()
	return r.out.Write(p)
}

func (r *running) said() string {
	r.mu.Lock()
	defer r.mu.Unlock()
	return r.out.String()
}

// start runs volar; the test binary stands in for it under that name, built
// without the tag that turns off fyne's checks of goroutines.
func (d *desktop) start(args ...string) *running {
	d.t.Helper()
	self, err := os.Executable()
	require.NoError(d.t, err)
	program := filepath.Join(d.t.TempDir(), "volar")
	require.NoError(d.t, os.Symlink(self, program))
	r := &running{d: d, cmd: exec.Command(program, args...), done: make(chan error, 1)}
	r.cmd.Env, r.cmd.Stdout, r.cmd.Stderr = d.env, r, r
	require.NoError(d.t, r.cmd.Start())
	go func() { r.done <- r.cmd.Wait() }()
	d.t.Cleanup(func() {
		if r.cmd.ProcessState == nil {
			r.cmd.Process.Kill()
		}
	})
	return r
}

func (r *running) xdotool(args ...string) (string, error) {
	c := exec.Command("xdotool", args...)
	c.Env = r.d.env
	out, err := c.Output()
	return strings.TrimSpace(string(out)), err
}

// title is the title of the window: which screen is shown. It is empty until the
// window takes keys.
func (r *running) title() string {
	id, err := r.xdotool("search", "--all", "--onlyvisible", "--pid", fmt.Sprint(r.cmd.Process.Pid), "--name", "volar$")
	if err != nil || id == "" {
		return ""
	}
	id = strings.Fields(id)[0]
	if !r.listens {
		focus, _ := r.xdotool("getwindowfocus")
		if r.listens = focus == id; !r.listens {
			return ""
		}
	}
	name, _ := r.xdotool("getwindowname", id)
	return strings.TrimSuffix(name, " – volar")
}

// reach waits until a screen is shown.
func (r *running) reach(title string) {
	r.d.t.Helper()
	late := time.Now().Add(2 * time.Minute)
	var last string
	for time.Now().Before(late) {
		if last = r.title(); last == title {
			return
		}
		select {
		case err := <-r.done:
			require.Fail(r.d.t, "volar has ended", "%v: %s", err, r.said())
		case <-time.After(50 * time.Millisecond):
		}
	}
	require.Equal(r.d.t, title, last, r.said())
}

// press presses keys as a keyboard does.
func (r *running) press(keys ...string) {
	r.d.t.Helper()
	for _, k := range keys {
		_, err := r.xdotool("key", k)
		require.NoError(r.d.t, err, "xdotool is installed by ./scripts/setup")
	}
}

// ends waits for the program and looks at what it said.
func (r *running) ends() {
	r.d.t.Helper()
	select {
	case err := <-r.done:
		require.NoError(r.d.t, err, r.said())
	case <-time.After(time.Minute):
		require.Fail(r.d.t, "volar does not end", r.said())
	}
	require.NotContains(r.d.t, r.said(), "Error in Fyne call thread")
	require.NotContains(r.d.t, r.said(), "goroutine")
}

const grip = "Whole-hand grip (cylindrical grip and release)"

// gripClip is a right hand that rests for some time, does two grips of two
// seconds, after the first of which the index finger gives way as the hand
// opens, and rests again.
func gripClip(t *testing.T) (path string, perf *demonstration.Performance) {
	t.Helper()
	m, err := exercise.Find("whole-hand-grip")
	require.NoError(t, err)
	perf, err = demonstration.New(demonstration.Plan{Movement: m, Side: hand.Right, Repetitions: 2, Hold: 2 * time.Second, Rest: 14 * time.Second,
		Faults: []demonstration.Fault{{Kind: demonstration.PastStraight, Repetition: 0, Joints: []hand.Joint{hand.IndexPIP}, Deg: 18, Start: 100 * time.Millisecond, Duration: 900 * time.Millisecond}}})
	require.NoError(t, err)
	mesh, err := handrender.Default()
	require.NoError(t, err)
	path = filepath.Join(t.TempDir(), "clip.avi")
	const fps = 15
	w, err := camera.NewVideoWriter(path, 480, 360, fps)
	require.NoError(t, err)
	defer w.Abort()
	r := handrender.NewRenderer(mesh, handrender.Options{})
	drawn := map[demonstration.Moment]*image.RGBA{}
	for i := 0; ; i++ {
		at := time.Duration(i) * time.Second / fps
		if at >= perf.Duration {
			break
		}
		img := drawn[perf.At(at)]
		if img == nil {
			img = image.NewRGBA(image.Rect(0, 0, 480, 360))
			r.Render(img, handrender.Scene{
				Pose: perf.PoseAt(at), Side: hand.Right, View: handrender.View{Yaw: m.View.Best.YawDeg + 5, Pitch: 4},
				Skin: handrender.Skin{Tone: 0.35, Seed: 7}, Camera: handrender.Camera{Distance: 0.38, OffsetY: 0.05},
			})
			drawn[perf.At(at)] = img
		}
		require.NoError(t, w.Write(img))
	}
	require.NoError(t, w.Close())
	return path, perf
}

// gripProgram is a program file of one set of two grips.
func gripProgram(t *testing.T) string {
	t.Helper()
	p, _, err := program.New(program.Options{Client: "C-017", Side: program.Side(hand.Right), Dominant: program.Side(hand.Right),
		Exercises: []string{"whole-hand-grip"}, Now: time.Now().AddDate(0, 0, -1)}, program.Source{})
	require.NoError(t, err)
	p.Exercises[0].Dose = program.FullDose(exercise.Dose{Sets: 1, Repetitions: 2, HoldSeconds: 2, RestSeconds: 30, TimesADay: 1, DaysAWeek: 7})
	path := filepath.Join(t.TempDir(), "program.yaml")
	require.NoError(t, os.WriteFile(path, p.Format(), 0o600))
	return path
}

// A whole practice at home, from opening to closing, by keyboard alone in a
// real window.
func TestHomePracticeByKeyboard(t *testing.T) {
	d := newDesktop(t, "+extension", "GLX")
	clip, perf := gripClip(t)
	store := filepath.Join(t.TempDir(), "store")
	v := d.start("--camera", "file:"+clip, "--program", gripProgram(t), "--store", store)
	v.reach("Before you begin")
	v.press("space")
	v.reach("Today")
	v.press("space")
	v.reach(grip)
	v.press("space")
	v.reach("How much does your hand hurt now?")
	v.press("2")
	v.reach("Can the camera see your hand?")
	v.reach(grip)
	v.press("space")
	v.reach("How much does your hand hurt now?")
	v.press("3")
	v.reach("Does it stab, shoot, burn or spread?")
	v.press("n")
	v.reach("How hard was it?")
	v.press("4")
	v.reach("How it went: " + grip)
	v.press("n")
	v.reach("A note for your therapist")
	v.press("o", "k", "Tab", "Return")
	v.reach("How it went: " + grip)
	v.press("space")
	v.reach("Today")
	v.press("q")
	v.ends()

	ctx := context.Background()
	opened, err := vault.Open(ctx, store, vault.Options{ReadOnly: true})
	require.NoError(t, err)
	defer opened.Close()
	list, err := opened.Sessions(ctx, vault.Filter{Client: "C-017"})
	require.NoError(t, err)
	require.Len(t, list, 1)
	require.Equal(t, session.Closed, list[0].State)
	s, err := opened.Load(ctx, list[0].ID)
	require.NoError(t, err)
	require.Equal(t, "C-017", s.Program)
	require.Len(t, s.Exercises, 1)
	e := s.Exercises[0]
	require.Equal(t, session.Done, e.Outcome)
	require.Equal(t, len(perf.Repetitions), e.Counted)
	require.Zero(t, e.Partial)
	require.Equal(t, []int{2, 3, 4}, []int{*e.PainBefore, *e.PainAfter, *e.Effort})
	flags := session.Flags(s.Events)
	require.Len(t, flags, 1)
	require.Equal(t, string(coach.Hyperextension), flags[0].Kind)
	require.Equal(t, hand.IndexPIP.String(), flags[0].Subject)
	require.Less(t, flags[0].PeakDeg, -5.0)
	require.Equal(t, "ok", s.Answers[len(s.Answers)-1].Text)
	require.Greater(t, len(s.Samples), 50)
	backups, err := vault.Backups(filepath.Join(store, "backups"))
	require.NoError(t, err)
	require.Len(t, backups, 1, "made on closing")
}

// A client without a camera is told so, and can still say that it hurts.
func TestWindowWithoutACamera(t *testing.T) {
	d := newDesktop(t, "+extension", "GLX")
	store := filepath.Join(t.TempDir(), "store")
	v := d.start("--camera", "/dev/video99", "--program", gripProgram(t), "--store", store)
	v.reach("Before you begin")
	v.press("space")
	v.reach("Today")
	// A second window on the same store says so and writes nothing.
	other := d.start("--camera", "/dev/video99", "--store", store)
	other.reach("What you did cannot be kept")
	require.NoError(t, other.cmd.Process.Signal(os.Interrupt))
	other.ends()
	v.press("space")
	v.reach(grip)
	v.press("Escape")
	v.reach("Stopped. How much does it hurt?")
	v.press("6")
	v.reach("Does it stab, shoot, burn or spread?")
	v.press("y")
	v.reach("Stop for today")
	v.press("space")
	v.reach("Rest for today")
	require.NoError(t, v.cmd.Process.Signal(os.Interrupt))
	v.ends()
}

// Without OpenGL there is an exit with a reason, not a window that stays grey.
func TestWindowWithoutOpenGL(t *testing.T) {
	d := newDesktop(t, "-extension", "GLX")
	d.env = append(d.env, "LIBGL_ALWAYS_INDIRECT=1")
	v := d.start("--store", filepath.Join(t.TempDir(), "store"))
	select {
	case err := <-v.done:
		require.Error(t, err)
	case <-time.After(time.Minute):
		require.Fail(t, "volar stays without a window", v.said())
	}
	require.Contains(t, v.said(), "OpenGL")
}

// A display that is named and not there, as after a log-in from afar, is told
// in a sentence.
func TestWindowWithoutItsDisplay(t *testing.T) {
	d := newDesktop(t)
	d.env = append(d.env, "DISPLAY=:987654")
	v := d.start("--store", filepath.Join(t.TempDir(), "store"))
	require.Error(t, <-v.done)
	require.Contains(t, v.said(), "the display :987654 cannot be opened")
	require.NotContains(t, v.said(), "goroutine")
}

// The short name of a demonstration that is shown, not printed.
func TestDemoOpensAWindow(t *testing.T) {
	d := newDesktop(t, "+extension", "GLX")
	v := d.start("demo")
	v.reach("Before you begin")
	v.press("n")
	v.ends()
	// The toolkit now and then finds its preferences while they are written,
	// and says so; that is not what this is about.
	require.NotContains(t, v.said(), "volar:")
	require.NotContains(t, v.said(), "Error in Fyne call thread")
}
