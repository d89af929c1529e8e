package vault

import (
	"bufio"
	"context"
	"errors"
	"fmt"
	"math/rand/v2"
	"os"
	"os/exec"
	"path/filepath"
	"strconv"
	"strings"
	"syscall"
	"testing"
	"time"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
	"go.uber.org/goleak"

	"volar/internal/hand"
	"volar/internal/session"
)

const (
	// childEnv makes the test binary record into the store that it names.
	childEnv = "VOLAR_TEST_RECORD"
	// momentsEnv asks for more moments than the ordinary test has time for.
	momentsEnv = "VOLAR_TEST_CRASHES"
)

func TestMain(m *testing.M) {
	if dir := os.Getenv(childEnv); dir != "" {
		if err := recordUntilKilled(dir); err != nil {
			fmt.Fprintln(os.Stderr, err)
			os.Exit(1)
		}
		return
	}
	goleak.VerifyTestMain(m)
}

// recordUntilKilled records thirty pictures a second in real time and prints
// the time of each once the recorder has it.
func recordUntilKilled(dir string) error {
	v, err := Open(context.Background(), dir, clinic())
	if err != nil {
		return err
	}
	rec, err := session.NewRecorder(session.Options{Sink: v, Header: session.Header{Client: "C-017"}})
	if err != nil {
		return err
	}
	r := rand.New(rand.NewPCG(1, 2))
	start := time.Now()
	for i := 0; ; i++ {
		s := sampleAt(time.Since(start), r)
		o := &hand.Observation{}
		for p, q := range s.Points {
			o.Image[p] = hand.Point{X: 640 * q[0], Y: 480 * q[1]}
		}
		if err := rec.Frame(session.Frame{Sample: s.Sample, Hand: o, Width: 640, Height: 480}); err != nil {
			return err
		}
		if i == 0 {
			fmt.Println("session", rec.ID())
		}
		fmt.Println(s.Time.Microseconds())
		time.Sleep(time.Until(start.Add(time.Duration(i+1) * time.Second / 30)))
	}
}

// A recording process is killed, or aborts as OpenCV makes it do, at moments
// drawn from a seed. The store opens, is sound, and has everything that is
// older than a second; the session is marked as interrupted and can go on.
func TestKilledWhileRecording(t *testing.T) {
	moments := 50
	if s := os.Getenv(momentsEnv); s != "" {
		n, err := strconv.Atoi(s)
		require.NoError(t, err)
		moments = n
	}
	base := filepath.Join(t.TempDir(), "base")
	require.NoError(t, create(t, base, clinic()).Close())
	r := rand.New(rand.NewPCG(20261125, 5))
	type moment struct {
		after  time.Duration
		signal syscall.Signal
	}
	var all []moment
	for i := range moments {
		all = append(all, moment{time.Duration(r.Int64N(int64(2200 * time.Millisecond))), []syscall.Signal{syscall.SIGKILL, syscall.SIGABRT}[i%2]})
	}
	lost := make([]time.Duration, moments)
	parallel(moments, func(i int) {
		dir := filepath.Join(t.TempDir(), "store")
		copyStore(t, base, dir)
		loss, err := killAt(dir, all[i].after, all[i].signal)
		lost[i] = loss
		assert.NoError(t, err, "moment %d: %v after %v", i, all[i].signal, all[i].after)
	})
	worst := time.Duration(0)
	for _, l := range lost {
		worst = max(worst, l)
	}
	t.Logf("%d moments; the most that was lost is %v", moments, worst)
}

// killAt lets a child record, ends it, and looks at what it left. It returns
// how much of what the child had given to its recorder is missing.
func killAt(dir string, after time.Duration, signal syscall.Signal) (lost time.Duration, err error) {
	self, err := os.Executable()
	if err != nil {
		return 0, err
	}
	c := exec.Command(self)
	c.Env = append(os.Environ(), childEnv+"="+dir, "GOTRACEBACK=none")
	out, err := c.StdoutPipe()
	if err != nil {
		return 0, err
	}
	if err := c.Start(); err != nil {
		return 0, err
	}
	lines := bufio.NewScanner(out)
	if !lines.Scan() {
		return 0, errors.Join(errors.New("the child said nothing"), c.Wait())
	}
	id, err := session.ParseID(strings.TrimPrefix(lines.Text(), "session "))
	if err != nil {
		return 0, err
	}
	killed := make(chan error, 1)
	time.AfterFunc(after, func() { killed <- c.Process.Signal(signal) })
	given := time.Duration(0)
	for lines.Scan() {
		us, err := strconv.ParseInt(lines.Text(), 10, 64)
		if err != nil {
			// The line that the end cut off.
			break
		}
		given = max(given, time.Duration(us)*time.Microsecond)
	}
	if err := <-killed; err != nil {
		return 0, err
	}
	var exit *exec.ExitError
	if err := c.Wait(); !errors.As(err, &exit) {
		return 0, fmt.Errorf("the child was to be killed and ended with %v", err)
	}

	ctx := context.Background()
	v, err := Open(ctx, dir, clinic())
	if err != nil {
		return 0, err
	}
	defer func() { err = errors.Join(err, v.Close()) }()
	if err := v.Check(ctx); err != nil {
		return 0, err
	}
	s, err := v.Load(ctx, id)
	if err != nil {
		return 0, err
	}
	if s.State != session.Interrupted || v.Interrupted() != 1 {
		return 0, fmt.Errorf("the session is %s, and %d were interrupted", s.State, v.Interrupted())
	}
	last := time.Duration(0)
	for i := range s.Samples {
		last = s.Samples[i].Time
	}
	if lost = given - last; lost > time.Second {
		return lost, fmt.Errorf("%v of %v are lost", lost, given)
	}
	// Nothing is missing in between.
	for i := 1; i < len(s.Samples); i++ {
		if s.Samples[i].Time <= s.Samples[i-1].Time {
			return lost, fmt.Errorf("sample %d does not follow the one before", i)
		}
	}
	if _, _, err := v.Resume(ctx, id); err != nil {
		return lost, err
	}
	return lost, nil
}
