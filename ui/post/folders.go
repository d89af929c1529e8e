package post

import (
	"cmp"
	"os"
	"path/filepath"
	"slices"
	"strings"
	"time"
)

// fileSuffix is how sealed files are called.
const fileSuffix = ".volar"

// usualFolders are where a file from a therapist is likely to lie: what was
// downloaded, the desktop, the documents, and sticks.
func usualFolders() []string {
	var all []string
	home, err := os.UserHomeDir()
	if err == nil {
		for _, d := range []string{"Downloads", "Desktop", "Documents", ""} {
			all = append(all, filepath.Join(home, d))
		}
	}
	user := cmp.Or(os.Getenv("USER"), os.Getenv("USERNAME"))
	for _, at := range []string{filepath.Join("/media", user), filepath.Join("/run/media", user), "/Volumes"} {
		sticks, err := os.ReadDir(at)
		if err != nil {
			continue // not this system's way
		}
		for _, s := range sticks {
			all = append(all, filepath.Join(at, s.Name()))
		}
	}
	return slices.DeleteFunc(all, func(d string) bool {
		i, err := os.Stat(d)
		return err != nil || !i.IsDir()
	})
}

// found is a sealed file in one of the folders.
type found struct {
	path string
	at   time.Time
}

// maxFound is how many files are offered, each by a digit.
const maxFound = 6

// find looks for sealed files, newest first. Folders within the folders are left
// alone.
func find(folders []string) []found {
	var all []found
	for _, d := range folders {
		list, err := os.ReadDir(d)
		if err != nil {
			continue // a stick that was just pulled out
		}
		for _, e := range list {
			i, err := e.Info()
			if err != nil || !i.Mode().IsRegular() || !strings.EqualFold(filepath.Ext(e.Name()), fileSuffix) {
				continue
			}
			all = append(all, found{filepath.Join(d, e.Name()), i.ModTime()})
		}
	}
	slices.SortStableFunc(all, func(a, b found) int { return b.at.Compare(a.at) })
	return all[:min(len(all), maxFound)]
}
