package main

import (
	"fmt"

	"golang.org/x/sys/windows"
)

// freeSpace is how many bytes may still be written by a user in the file system
// of the folder.
func freeSpace(dir string) (uint64, error) {
	p, err := windows.UTF16PtrFromString(dir)
	if err != nil {
		return 0, err
	}
	var free uint64
	if err := windows.GetDiskFreeSpaceEx(p, &free, nil, nil); err != nil {
		return 0, fmt.Errorf("%s: %w", dir, err)
	}
	return free, nil
}
