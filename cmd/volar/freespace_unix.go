//go:build unix

package main

import (
	"fmt"

	"golang.org/x/sys/unix"
)

// freeSpace is how many bytes may still be written by a user in the file system
// of the folder.
func freeSpace(dir string) (uint64, error) {
	var s unix.Statfs_t
	if err := unix.Statfs(dir, &s); err != nil {
		return 0, fmt.Errorf("%s: %w", dir, err)
	}
	return s.Bavail * uint64(s.Bsize), nil
}
