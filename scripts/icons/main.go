// Command icons writes the program's icon as a desktop wants it: PNGs in the
// sizes of the hicolor theme (freedesktop.org, Icon Theme Specification), below
// the folder that is named.
//
//	go run ./scripts/icons FOLDER
package main

import (
	"fmt"
	"image/png"
	"os"
	"path/filepath"

	"volar/ui/look"
)

func main() {
	if len(os.Args) != 2 {
		fmt.Fprintln(os.Stderr, "usage: icons FOLDER")
		os.Exit(2)
	}
	for _, n := range []int{16, 24, 32, 48, 64, 128, 256, 512} {
		if err := write(os.Args[1], n); err != nil {
			fmt.Fprintln(os.Stderr, "icons:", err)
			os.Exit(1)
		}
	}
}

func write(folder string, n int) error {
	dir := filepath.Join(folder, fmt.Sprintf("%dx%d", n, n), "apps")
	if err := os.MkdirAll(dir, 0o755); err != nil {
		return err
	}
	f, err := os.Create(filepath.Join(dir, "volar.png"))
	if err != nil {
		return err
	}
	if err := png.Encode(f, look.IconImage(n)); err != nil {
		f.Close()
		return err
	}
	return f.Close()
}
