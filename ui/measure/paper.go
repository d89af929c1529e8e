package measure

import (
	"errors"
	"fmt"
	"io"
	"os"
	"path/filepath"

	"fyne.io/fyne/v2"

	"volar/internal/hand"
)

// print writes a PDF file into the user's documents, and says where. A file
// that is there already is left alone.
func (f *frame) print(say func(string), what string, side hand.Side, write func(io.Writer) error) {
	path, err := f.write(fmt.Sprintf("%s-%s-%s-%s", f.opt.Client, side, what, f.opt.Now().Format("2006-01-02")), write)
	if err != nil {
		say("The file could not be written: " + f.opt.Words(err))
	} else {
		say("Written to " + path + ". The file is not encrypted.")
	}
}

// most is how many files of one name are kept beside each other.
const most = 100

func (f *frame) write(name string, write func(io.Writer) error) (path string, err error) {
	dir, err := f.folder()
	if err != nil {
		return "", err
	}
	var file *os.File
	for n := 1; n <= most; n++ {
		path = filepath.Join(dir, name+".pdf")
		if n > 1 {
			path = filepath.Join(dir, fmt.Sprintf("%s-%d.pdf", name, n))
		}
		file, err = os.OpenFile(path, os.O_WRONLY|os.O_CREATE|os.O_EXCL, 0o600)
		if !errors.Is(err, os.ErrExist) {
			break
		}
	}
	if err != nil {
		return "", err
	}
	if err := errors.Join(write(file), file.Close()); err != nil {
		return "", errors.Join(err, os.Remove(path))
	}
	return path, nil
}

func (f *frame) folder() (string, error) {
	if f.opt.Folder != "" {
		return f.opt.Folder, nil
	}
	home, err := os.UserHomeDir()
	if err != nil {
		return "", err
	}
	docs := filepath.Join(home, "Documents")
	if i, err := os.Stat(docs); err == nil && i.IsDir() {
		return docs, nil
	}
	return home, nil
}

// copy puts a text on the clipboard.
func (f *frame) copy(say func(string), s string) {
	fyne.CurrentApp().Clipboard().SetContent(s)
	say("Copied as text.")
}
