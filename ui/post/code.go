package post

import (
	"context"
	"fmt"
	"strings"

	"fyne.io/fyne/v2"
	"fyne.io/fyne/v2/theme"

	"volar/internal/exchange"
	domain "volar/internal/post"
	"volar/ui/look"
	"volar/ui/parts"
)

const (
	digits = 16
	group  = 4
)

// code asks for the digits that the therapist read out: by the digit keys, or
// by ten large buttons.
func (s *client) code(file []byte, typed string) *page {
	p := newPage("Type the sixteen digits that you were told")
	var cards []fyne.CanvasObject
	var groups []*parts.Words
	weights := make([]float32, digits/group)
	for i := range digits / group {
		weights[i] = 1
		w := parts.NewWords("", parts.Style{Size: look.SizeCue, Bold: true, Centre: true})
		groups = append(groups, w)
		cards = append(cards, parts.NewCard(w))
	}
	said := parts.NewWords("", parts.Style{Colour: look.Caution, Bold: true, Size: theme.SizeNameText})
	open := p.action(parts.Lead, "Open the file", fyne.KeyReturn, nil)
	draw := func() {
		for i, w := range groups {
			from := min(i*group, len(typed))
			to := min(from+group, len(typed))
			w.Set(typed[from:to] + strings.Repeat("·", group-(to-from)))
		}
	}
	problem := func(words string) {
		said.Set(words)
		parts.Settle(said)
	}
	try := func() {
		if len(typed) < digits {
			problem(fmt.Sprintf("%s more.", count(digits-len(typed), "digit", "digits")))
			return
		}
		c, err := exchange.ParseCode(typed)
		if err != nil {
			problem(domain.Words(err))
			return
		}
		s.show(s.wait("One moment", "The file is being opened …"))
		s.take(func(ctx context.Context) (domain.Accepted, error) { return s.home.Accept(ctx, file, c) }, true, func(err error) {
			q := s.code(file, typed)
			s.show(q)
			q.say(domain.Words(err))
		})
	}
	p.On(fyne.KeyReturn, try)
	p.On(fyne.KeyEnter, try)
	open.Set(open.Label(), try)
	press := func(n int) func() {
		return func() {
			if len(typed) == digits {
				return
			}
			typed += fmt.Sprint(n)
			problem("")
			draw()
		}
	}
	undo := func() {
		if len(typed) > 0 {
			typed = typed[:len(typed)-1]
		}
		problem("")
		draw()
	}
	var pad []fyne.CanvasObject
	for n, k := range digitKeys {
		p.On(k, press(n))
		pad = append(pad, p.Add(parts.NewButton(parts.Plain, fmt.Sprint(n), "", press(n)).AtLeast(look.Target+6)))
	}
	over := func() { s.show(s.files()) }
	del := p.action(parts.Plain, "Take back", fyne.KeyBackspace, undo)
	p.On(fyne.KeyEscape, over)
	back := p.action(parts.Plain, "Another file", fyne.KeyF, over)
	p.say = problem
	p.first = open
	draw()
	return p.lay(parts.Column(gap, parts.Row(gap, weights, cards...), parts.Flow(6, pad...), said,
		quiet("The file opens with its own digits only. If they were lost, ask your therapist for a new file.")), open, del, back)
}
