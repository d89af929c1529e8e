package main

import (
	"fmt"
	"io"
	"math"
	"strconv"
	"strings"
	"unicode/utf8"
)

// printer keeps the first error of many prints, so that a table can be
// written plainly and checked once.
type printer struct {
	w   io.Writer
	err error
}

func (p *printer) f(format string, a ...any) {
	if p.err == nil {
		_, p.err = fmt.Fprintf(p.w, format, a...)
	}
}

// round keeps JSON short; a value that is not a number becomes 0 because JSON
// has no word for it, and goes only with judged false.
func round(v float64, digits int) float64 {
	if math.IsNaN(v) || math.IsInf(v, 0) {
		return 0
	}
	s := math.Pow(10, float64(digits))
	return math.Round(v*s) / s
}

func plural(n int, one, many string) string {
	if n == 1 {
		return "1 " + one
	}
	return fmt.Sprintf("%d %s", n, many)
}

// lineWidth is where long text is broken.
const lineWidth = 88

// wrapped prints text broken at spaces, the first line after first and the
// others after rest.
func (p *printer) wrapped(first, rest, text string) {
	line := first
	empty := true
	for _, word := range strings.Fields(text) {
		if !empty && utf8.RuneCountInString(line)+1+utf8.RuneCountInString(word) > lineWidth {
			p.f("%s\n", line)
			line, empty = rest, true
		}
		if !empty {
			line += " "
		}
		line += word
		empty = false
	}
	p.f("%s\n", line)
}

func pad(s string, n int) string {
	return s + strings.Repeat(" ", max(1, n-utf8.RuneCountInString(s)))
}

// trim writes a number without needless zeros.
func trim(v float64) string { return strconv.FormatFloat(v, 'f', -1, 64) }
