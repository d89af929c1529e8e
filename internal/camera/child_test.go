package camera

import (
	"context"
	"fmt"
	"os"
	"os/exec"
	"testing"

	"github.com/stretchr/testify/require"
)

// Some things can be seen only from outside a process: what it writes to
// standard error. The test binary runs itself with childEnv set.
const childEnv = "VOLAR_CAMERA_TEST_CHILD"

func child(path string) int {
	src, err := OpenVideo(path, VideoOptions{})
	if err != nil {
		fmt.Println(err)
		return 1
	}
	defer src.Close()
	frames := 0
	for {
		if _, err = src.Next(context.Background()); err != nil {
			break
		}
		frames++
	}
	// The device does not exist; OpenCV would warn of it.
	_, none := openCVDevice(250, 640, 480, 30)
	fmt.Println(frames, err, none)
	return 0
}

func TestOthersAreQuiet(t *testing.T) {
	b := readFile(t, tinyVideos()[0])
	for i := indexOf(b, "mdat") + 200; i < len(b); i += 37 {
		b[i] ^= 0x55
	}
	cmd := exec.Command(os.Args[0])
	cmd.Env = append(os.Environ(), childEnv+"="+saved(t, "damaged.mp4", b))
	var stderr, stdout limited
	cmd.Stderr, cmd.Stdout = &stderr, &stdout
	require.NoError(t, cmd.Run(), string(stderr))
	require.Contains(t, string(stdout), "close other programs")
	require.Empty(t, string(stderr))
}

type limited []byte

func (l *limited) Write(p []byte) (int, error) {
	*l = append(*l, p[:min(len(p), 4096)]...)
	return len(p), nil
}
