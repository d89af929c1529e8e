package main

import (
	"os"
	"runtime"
	"syscall"
	"time"
)

// usage reads what the process has used so far. What a system does not tell is
// 0.
func usage() used {
	var u used
	var r syscall.Rusage
	if syscall.Getrusage(syscall.RUSAGE_SELF, &r) == nil {
		u.cpu = time.Duration(r.Utime.Nano() + r.Stime.Nano())
	}
	var m runtime.MemStats
	runtime.ReadMemStats(&m)
	u.heap = float64(m.HeapAlloc) / (1 << 20)
	u.memory = statusMB("VmRSS")
	if d, err := os.ReadDir("/proc/self/fd"); err == nil {
		u.files = len(d)
	}
	return u
}
