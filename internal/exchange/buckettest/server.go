// Package buckettest starts a real S3-compatible server for tests: versitygw
// over a temporary folder, on a free port of this computer. scripts/test puts
// the program into .cache/bin; VOLAR_S3_SERVER names another copy.
package buckettest

import (
	"bytes"
	"fmt"
	"net"
	"net/http"
	"os"
	"os/exec"
	"path/filepath"
	"runtime"
	"testing"
	"time"

	"volar/internal/exchange"
)

// BucketName is the bucket that Start makes.
const BucketName = "clinic"

const key, secret = "volar-test", "volar-test-secret"

// Server is a running server.
type Server struct {
	// Address of the one bucket, with credentials.
	Address exchange.Address
	dir     string
	cmd     *exec.Cmd
	log     *bytes.Buffer
	tb      testing.TB
}

// Start starts a server that ends with the test.
func Start(tb testing.TB) *Server {
	tb.Helper()
	dir := tb.TempDir()
	for _, d := range []string{filepath.Join(dir, "data", BucketName), filepath.Join(dir, "meta")} {
		if err := os.MkdirAll(d, 0o700); err != nil {
			tb.Fatal(err)
		}
	}
	l, err := net.Listen("tcp", "127.0.0.1:0")
	if err != nil {
		tb.Fatal(err)
	}
	addr := l.Addr().String()
	l.Close()
	s := &Server{dir: dir, tb: tb, Address: exchange.Address{
		Endpoint: addr, Bucket: BucketName, Region: "us-east-1", Insecure: true, PathStyle: true, Key: key, Secret: secret,
	}}
	s.Up()
	tb.Cleanup(s.Down)
	return s
}

// Up starts the server again after Down, with what it held.
func (s *Server) Up() {
	s.tb.Helper()
	if s.cmd != nil {
		return
	}
	s.log = new(bytes.Buffer)
	s.cmd = exec.Command(program(s.tb), "--port", s.Address.Endpoint, "--access", key, "--secret", secret, "--region", "us-east-1", "--quiet",
		"posix", "--sidecar", filepath.Join(s.dir, "meta"), filepath.Join(s.dir, "data"))
	s.cmd.Stdout, s.cmd.Stderr = s.log, s.log
	if err := s.cmd.Start(); err != nil {
		s.tb.Fatal(err)
	}
	until := time.Now().Add(20 * time.Second)
	for {
		r, err := http.Get("http://" + s.Address.Endpoint + "/")
		if err == nil {
			r.Body.Close()
			return // any answer will do; it is a refusal
		}
		if time.Now().After(until) {
			s.Down()
			s.tb.Fatalf("the object storage server did not start: %v\n%s", err, s.log)
		}
		time.Sleep(50 * time.Millisecond)
	}
}

// Down kills the server, as a network that is gone would.
func (s *Server) Down() {
	if s.cmd == nil {
		return
	}
	_ = s.cmd.Process.Kill()
	_ = s.cmd.Wait() // says only that it was killed
	s.cmd = nil
}

// program finds the server.
func program(tb testing.TB) string {
	tb.Helper()
	if p := os.Getenv("VOLAR_S3_SERVER"); p != "" {
		return p
	}
	_, here, _, ok := runtime.Caller(0)
	if !ok {
		tb.Fatal("the source folder is not known")
	}
	p := filepath.Join(filepath.Dir(here), "..", "..", "..", ".cache", "bin", "versitygw")
	if _, err := os.Stat(p); err != nil {
		tb.Fatal(fmt.Errorf("%w; run ./scripts/test, or set VOLAR_S3_SERVER", err))
	}
	return p
}
