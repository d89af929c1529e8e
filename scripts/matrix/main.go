// Command matrix holds the judge against clips of known truth for every
// movement of the catalogue and writes the table of what came of it.
//
//	go run ./scripts/matrix [-only PATTERN] [-out testdata/matrix.md] [-workers N] [-stale] [-film FOLDER] [-hands FOLDER]
//
// What the hand model found in each clip is kept in .cache/observed, so that a
// run that was cut off goes on where it was, and one after a change of the
// judge alone takes a minute. scripts/test-full calls it.
//
// With -hands the clips are of rigged hands in a folder, those that the hand
// model never saw in training: what the table's one hand cannot say, for a
// threshold or a model that suits it may suit no other.
package main

import (
	"context"
	"flag"
	"fmt"
	"os"
	"os/signal"
	"path"
	"path/filepath"
	"runtime"
	"strings"
	"time"

	"volar/internal/exercise"
	"volar/internal/infer"
	"volar/internal/matrix"
	"volar/scripts/unseen"
)

func main() {
	only := flag.String("only", "", "do only the cases whose movement/case fits this pattern, such as 'hook-fist/*'")
	out := flag.String("out", "", "write the table to this file as Markdown")
	workers := flag.Int("workers", runtime.GOMAXPROCS(0), "cases done at once")
	commit := flag.String("commit", "unknown", "the commit that the table is of")
	stale := flag.Bool("stale", false, "take what was observed by an earlier hand model where it is kept")
	film := flag.String("film", "", "write the clips into this folder as videos, and judge nothing")
	hands := flag.String("hands", "", "instead of the renderer's own hand, film each rigged hand (.glb) of this folder that training never saw, by scripts/unseen/trained.txt")
	flag.Parse()
	ctx, stop := signal.NotifyContext(context.Background(), os.Interrupt)
	defer stop()
	if err := run(ctx, *only, *hands, *film, *out, *commit, *workers, *stale); err != nil {
		fmt.Fprintln(os.Stderr, "matrix:", err)
		os.Exit(1)
	}
}

func run(ctx context.Context, only, hands, film, out, commit string, workers int, stale bool) error {
	all, err := exercise.Catalogue()
	if err != nil {
		return err
	}
	var cases []matrix.Case
	for _, m := range all {
		for _, c := range matrix.Cases(m) {
			fits, err := path.Match(only, c.ID())
			if err != nil {
				return fmt.Errorf("pattern %q: %w", only, err)
			}
			if only == "" || fits {
				cases = append(cases, c)
			}
		}
	}
	if len(cases) == 0 {
		return fmt.Errorf("no case fits %q; cases are movement/case such as hook-fist/good", only)
	}
	if hands != "" {
		if cases, err = of(hands, cases); err != nil {
			return err
		}
	}
	if film != "" {
		for i := range cases {
			name := strings.NewReplacer("/", " ", ":", "").Replace(strings.TrimSpace(cases[i].ID()+" "+cases[i].HandName)) + ".avi"
			if err := cases[i].Film(ctx, filepath.Join(film, name)); err != nil {
				return err
			}
		}
		return nil
	}
	stamps, err := matrix.Stamp(".")
	if err != nil {
		return err
	}
	engine, err := infer.OpenRuntime(infer.RuntimeOptions{})
	if err != nil {
		return err
	}
	defer engine.Close()
	start := time.Now()
	r := matrix.Runner{Engine: engine, Dir: filepath.Join(".cache", "observed"), Stamps: stamps, Stale: stale, Workers: workers,
		Done: func(done, all int, c matrix.Cell) {
			mark := "met"
			if !c.Met() {
				mark = fmt.Sprintf("NOT MET %q", c.Misses)
			}
			fmt.Fprintf(os.Stderr, "%d of %d, %s: %s/%s %s: %s\n", done, all, time.Since(start).Round(time.Second), c.Movement, c.Case, c.Hand, mark)
		}}
	cells, err := r.Run(ctx, cases)
	if err != nil {
		return err
	}
	t := matrix.Table{Cells: cells, Date: start, Commit: commit, Took: time.Since(start)}
	if err := t.Write(os.Stdout); err != nil || out == "" {
		return err
	}
	f, err := os.Create(out)
	if err != nil {
		return err
	}
	if err := t.Write(f); err != nil {
		f.Close()
		return err
	}
	return f.Close()
}

// of makes the cases those of every hand in the folder that training never saw.
func of(folder string, cases []matrix.Case) (all []matrix.Case, err error) {
	hands, err := unseen.Hands(folder)
	if err != nil {
		return nil, err
	}
	for _, h := range hands {
		for _, c := range cases {
			c.Hand, c.HandName = h.Hand, h.Name
			all = append(all, c)
		}
	}
	return all, nil
}
