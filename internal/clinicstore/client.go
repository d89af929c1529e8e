package clinicstore

import (
	"context"
	"encoding/json"
	"errors"
	"fmt"
	"io/fs"
	"regexp"
	"slices"
	"strings"
	"time"

	"volar/internal/hand"
	"volar/internal/program"
	"volar/internal/vault"
)

// Both stands for both hands in Client.Hands.
const Both = "both"

// Client is one client of the clinic.
type Client struct {
	// Code is the clinic's own, such as K-104; never a name.
	Code string
	// Hands is what is treated: "left", "right" or Both.
	Hands       string
	Precautions []program.Precaution
	// NextReview is when the therapist means to look at it again; the zero
	// Date is not set.
	NextReview program.Date
	// KeepUntil is the last day on which anything of the client is kept; the
	// zero Date is no end. Opening the store after that day removes all of it.
	KeepUntil program.Date
	// PicturesClient and PicturesTherapist say who agreed that pictures of
	// flagged moments are kept; both must.
	PicturesClient, PicturesTherapist bool
	// Created is set by the store.
	Created time.Time
}

// Side is the hand that a first program is for: the treated one, the right of
// both.
func (c Client) Side() hand.Side {
	if c.Hands == hand.Left.String() {
		return hand.Left
	}
	return hand.Right
}

// FieldError says what is wrong with a field of a client.
type FieldError struct {
	// Field is the name of the field in Client.
	Field, Problem string
}

func (e *FieldError) Error() string { return e.Problem }

// codeForm is the form that a program's file asks of a client's code.
var codeForm = regexp.MustCompile(`^[A-Za-z0-9](?:[A-Za-z0-9._-]{0,38}[A-Za-z0-9])?$`)

// Check says what is wrong with a client; today is the clinic's. The error
// holds a *FieldError for each field.
func (c Client) Check(today program.Date) error {
	var all []error
	bad := func(field, format string, a ...any) {
		all = append(all, &FieldError{field, fmt.Sprintf(format, a...)})
	}
	if !codeForm.MatchString(c.Code) {
		bad("Code", "a code has up to 40 letters, digits, points, hyphens and underlines, such as K-104; never a name")
	}
	if c.Hands != Both && c.Hands != hand.Left.String() && c.Hands != hand.Right.String() {
		bad("Hands", "choose the left hand, the right hand or both")
	}
	seen := map[program.PrecautionKind]bool{}
	for _, p := range c.Precautions {
		if !slices.Contains(program.PrecautionKinds[:], p.Kind) {
			bad("Precautions", "%q is no precaution that is known", p.Kind)
		} else if seen[p.Kind] {
			bad("Precautions", "%s is there twice", p.Kind)
		}
		seen[p.Kind] = true
	}
	if !c.KeepUntil.IsZero() && c.KeepUntil.Before(today) {
		bad("KeepUntil", "the last day of keeping, %s, is over; everything of this client would be removed at once", c.KeepUntil.Words())
	}
	return errors.Join(all...)
}

// ParseDay reads a day as a therapist types it; empty is the zero Date.
func ParseDay(s string) (program.Date, error) {
	if s = strings.TrimSpace(s); s == "" {
		return program.Date{}, nil
	}
	return program.ParseDate(s)
}

// FieldErrors lists the fields that an error of Check is about.
func FieldErrors(err error) map[string]string {
	out := map[string]string{}
	var add func(error)
	add = func(err error) {
		var one *FieldError
		if many, ok := err.(interface{ Unwrap() []error }); ok {
			for _, e := range many.Unwrap() {
				add(e)
			}
		} else if errors.As(err, &one) {
			out[one.Field] = one.Problem
		}
	}
	if err != nil {
		add(err)
	}
	return out
}

// Today is the clinic's present day.
func (s *Store) Today() program.Date { return program.DateOf(s.opt.Clock(), s.opt.Clock().Location()) }

// Now is the clinic's wall clock.
func (s *Store) Now() time.Time { return s.opt.Clock() }

// Clients returns all clients by code.
func (s *Store) Clients(ctx context.Context) ([]Client, error) {
	rows, err := s.v.Clients(ctx)
	if err != nil {
		return nil, err
	}
	all := make([]Client, 0, len(rows))
	for _, r := range rows {
		c, err := clientOf(r)
		if err != nil {
			return nil, err
		}
		all = append(all, c)
	}
	return all, nil
}

// Client returns one client; fs.ErrNotExist where there is none of that code.
func (s *Store) Client(ctx context.Context, code string) (Client, error) {
	r, err := s.v.Client(ctx, code)
	if err != nil {
		return Client{}, err
	}
	return clientOf(r)
}

// HasClient says whether there is a client of that code.
func (s *Store) HasClient(ctx context.Context, code string) (bool, error) {
	_, err := s.v.Client(ctx, code)
	if errors.Is(err, fs.ErrNotExist) {
		return false, nil
	}
	return err == nil, err
}

// PutClient makes or changes a client, once Check finds nothing.
func (s *Store) PutClient(ctx context.Context, c Client) error {
	if err := c.Check(s.Today()); err != nil {
		return err
	}
	words, err := json.Marshal(c.Precautions)
	if err != nil {
		return err
	}
	return s.v.PutClient(ctx, vault.Client{
		Code: c.Code, Side: c.Hands, Precautions: string(words), NextReview: c.NextReview.String(), RetainUntil: c.KeepUntil.String(),
		PicturesClient: c.PicturesClient, PicturesTherapist: c.PicturesTherapist,
	})
}

// DeleteClient removes a client and everything that is known of them. Backups
// that were made before still hold it.
func (s *Store) DeleteClient(ctx context.Context, code string) error {
	return s.v.DeleteClient(ctx, code)
}

func clientOf(r vault.Client) (c Client, err error) {
	c = Client{Code: r.Code, Hands: r.Side, PicturesClient: r.PicturesClient, PicturesTherapist: r.PicturesTherapist, Created: r.Created}
	switch {
	case r.Precautions == "":
	case strings.HasPrefix(r.Precautions, "[") || r.Precautions == "null":
		err = json.Unmarshal([]byte(r.Precautions), &c.Precautions)
	default:
		err = fmt.Errorf("%q is no list of precautions", r.Precautions)
	}
	if err != nil {
		return c, fmt.Errorf("client %s: precautions: %w", r.Code, err)
	}
	for _, d := range []struct {
		text string
		to   *program.Date
	}{{r.NextReview, &c.NextReview}, {r.RetainUntil, &c.KeepUntil}} {
		if d.text == "" {
			continue
		}
		if *d.to, err = program.ParseDate(d.text); err != nil {
			return c, fmt.Errorf("client %s: %w", r.Code, err)
		}
	}
	return c, nil
}
