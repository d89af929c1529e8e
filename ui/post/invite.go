package post

import (
	"context"
	"errors"
	"fmt"
	"os"
	"path/filepath"
	"strings"

	"fyne.io/fyne/v2"
	"fyne.io/fyne/v2/theme"

	domain "volar/internal/post"
	"volar/internal/vault"
	"volar/ui/look"
	"volar/ui/parts"
)

// invitation is the clinic's screen that connects a client's home.
type invitation struct {
	*flow
	clinic *domain.Clinic
	client string
}

// NewInvite is the screen on which a client is invited.
func NewInvite(v *vault.Vault, client string, o Options) Screen {
	s := &invitation{flow: newFlow(o), client: client}
	s.clinic = domain.NewClinic(v, domain.Options{Clock: s.o.Now})
	s.start = s.ask
	return s
}

// ask says what an invitation is and where its file is to be saved.
func (s *invitation) ask() *page {
	p := newPage("Connect the home of " + s.client)
	body := parts.Column(gap,
		text("An invitation is a file for the client's computer, with the home program in it. It opens only with sixteen digits, which you read out."))
	boxes, err := s.clinic.Boxes(s.ctx, s.client)
	if err != nil {
		body.Add(signed(parts.CautionSign, sentence(domain.Words(err))))
	}
	for i, b := range boxes {
		switch {
		case !b.Answered.IsZero():
			body.Add(signed(parts.DoneSign, "Invited "+s.day(b.Invited)+"; the home answered "+s.day(b.Answered)+". A new invitation is for a new computer."))
		case i == 0:
			body.Add(signed(parts.ToDo, "Invited "+s.day(b.Invited)+"; no answer has come yet. If the code was lost, make a new invitation."))
		}
	}
	path := parts.NewField(freeName(s.saveFolder(), "invitation-"+s.client), nil)
	row := parts.NewFormRow("Save the file as", path)
	body.Add(row.Content())
	said := text("")
	body.Add(said)
	do := func() {
		if s.busy {
			return
		}
		to := strings.TrimSpace(path.Text)
		if !filepath.IsAbs(to) {
			row.Problem("Name the file from the root.")
			return
		}
		row.Problem("")
		said.Set("The invitation is being sealed …")
		parts.Settle(said)
		var inv domain.Invitation
		s.background(func(ctx context.Context) (err error) {
			if inv, err = s.clinic.Invite(ctx, s.client); err != nil {
				return err
			}
			return writeNew(to, inv.File)
		}, func(err error) {
			switch {
			case errors.Is(err, domain.ErrNoProgram):
				said.Set("There is no program for this client yet. Go back and write one first.")
			case err != nil:
				said.Set(sentence(domain.Words(err)))
			default:
				s.show(s.read(inv, to))
				return
			}
			parts.Settle(said)
		})
	}
	p.first = path
	return p.lay(parts.Measure(body), p.action(parts.Lead, "Make the invitation", fyne.KeyReturn, do),
		p.action(parts.Plain, "Back", fyne.KeyEscape, s.o.Back))
}

// freeName is the path of a file that is not there yet.
func freeName(folder, name string) string {
	path := filepath.Join(folder, name+fileSuffix)
	for i := 2; i < 1000; i++ {
		if _, err := os.Lstat(path); err != nil {
			break
		}
		path = filepath.Join(folder, fmt.Sprintf("%s-%d%s", name, i, fileSuffix))
	}
	return path
}

// read shows the code and what to say with it.
func (s *invitation) read(inv domain.Invitation, path string) *page {
	p := newPage("Read this code out to " + s.client)
	groups := strings.Fields(inv.Code.String())
	var cards []fyne.CanvasObject
	weights := make([]float32, len(groups))
	for i, g := range groups {
		weights[i] = 1
		cards = append(cards, parts.NewCard(parts.NewWords(g, parts.Style{Size: look.SizeCue, Bold: true, Centre: true})))
	}
	say := parts.Column(6, parts.NewWords("What to say", parts.Style{Size: theme.SizeNameCaptionText, Colour: look.Quiet, Bold: true}),
		text("“I give you a file for your computer. In volar, choose ‘Therapist’, then ‘Take a file’. It asks for sixteen digits: I read them to you in four groups of four.”"))
	body := parts.Column(gap, parts.Row(gap, weights, cards...), say,
		signed(parts.DoneSign, "The file is "+path+". It may go by mail, on a stick, or by any way you like."),
		signed(parts.CautionSign, "Read the code in person or by telephone. Never write it into the message that carries the file. It is shown only here and kept nowhere."))
	return p.lay(body, p.action(parts.Lead, "The code is read out", fyne.KeyReturn, s.o.Back))
}
