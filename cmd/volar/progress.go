package main

import (
	"io"
	"os"
	"time"

	"github.com/schollz/progressbar/v3"
	"golang.org/x/term"
)

// progressAfter is how long work may run before a bar appears; shorter work
// would only flash it.
const progressAfter = 2 * time.Second

// progress shows a bar on a terminal for work that takes long; elsewhere, and
// for short work, it prints nothing.
type progress struct {
	bar   *progressbar.ProgressBar
	out   io.Writer
	what  string
	total int64
	start time.Time
	term  bool
}

func newProgress(out io.Writer, what string, total int) *progress {
	f, ok := out.(*os.File)
	return &progress{out: out, what: what, total: int64(total), start: time.Now(), term: ok && term.IsTerminal(int(f.Fd()))}
}

// at tells how much has been done.
func (p *progress) at(done int) {
	if !p.term {
		return
	}
	if p.bar == nil {
		if time.Since(p.start) < progressAfter {
			return
		}
		total := p.total
		if total <= 0 {
			total = -1
		}
		p.bar = progressbar.NewOptions64(total,
			progressbar.OptionSetWriter(p.out),
			progressbar.OptionSetDescription(p.what),
			progressbar.OptionThrottle(100*time.Millisecond),
			progressbar.OptionClearOnFinish())
	}
	// The bar only draws; an error writing to the terminal must not stop work.
	_ = p.bar.Set(done)
}

// done takes the bar away.
func (p *progress) done() {
	if p.bar != nil {
		_ = p.bar.Finish()
	}
}
