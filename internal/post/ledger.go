package post

import (
	"context"
	"crypto/sha256"
	"encoding/hex"
	"encoding/json"
	"time"

	"volar/internal/exchange"
	"volar/internal/vault"
)

const settingLedger = "post.clinic"

// ledger is what the clinic's half keeps beside the store's own tables.
type ledger struct {
	Boxes []box `json:"boxes,omitempty"`
	// Clients are those that were shared, as they were then, by code.
	Clients map[string]shared `json:"clients,omitempty"`
	// Gone are clients that were removed here, by code, and when: nothing of them
	// is taken in again, until somebody makes the client anew.
	Gone map[string]gone `json:"gone,omitempty"`
}

// gone is a client who was removed.
type gone struct {
	At time.Time `json:"at"`
	// Mailboxes are those of the client's homes.
	Mailboxes []string `json:"mailboxes,omitempty"`
	// Swept is true once the client's files were taken off the carrier.
	Swept bool `json:"swept,omitempty"`
}

// box is the mailbox of one invitation.
type box struct {
	Mailbox string    `json:"mailbox"`
	Client  string    `json:"client"`
	Secret  []byte    `json:"secret"`
	Invited time.Time `json:"invited"`
	// Number is the version of the program in the invitation.
	Number int `json:"number"`
	// Recipient and Signer are the home's keys, once its greeting came.
	Recipient string    `json:"recipient,omitempty"`
	Signer    []byte    `json:"signer,omitempty"`
	Greeted   time.Time `json:"greeted,omitzero"`
}

func (b *box) answered() bool { return b.Recipient != "" }

func (b *box) home() exchange.Public {
	return exchange.Public{Recipient: b.Recipient, Signer: b.Signer}
}

// shared says which state of a client was shared last.
type shared struct {
	Digest string    `json:"digest"`
	At     time.Time `json:"at"`
}

func (c *Clinic) ledger(ctx context.Context) (*ledger, error) {
	l := &ledger{Clients: map[string]shared{}, Gone: map[string]gone{}}
	err := setting(ctx, c.v, settingLedger, l)
	return l, err
}

func (c *Clinic) keepLedger(ctx context.Context, l *ledger) error {
	if err := c.o.step("keep the ledger"); err != nil {
		return storeError{err}
	}
	return stored(putSetting(ctx, c.v, settingLedger, l))
}

// box finds a mailbox; nil where it is none of ours.
func (l *ledger) box(mailbox string) *box {
	for i := range l.Boxes {
		if l.Boxes[i].Mailbox == mailbox {
			return &l.Boxes[i]
		}
	}
	return nil
}

// open is the mailbox to which a client's programs go: the newest that was
// answered; nil where there is none.
func (l *ledger) open(client string) *box {
	var b *box
	for i := range l.Boxes {
		if x := &l.Boxes[i]; x.Client == client && x.answered() && (b == nil || x.Invited.After(b.Invited)) {
			b = x
		}
	}
	return b
}

// settle notes which clients were removed since the last time, and lets go of
// their mailboxes.
func (l *ledger) settle(clients []vault.Client, now time.Time) (changed bool) {
	here := map[string]bool{}
	for _, c := range clients {
		here[c.Code] = true
		if _, ok := l.Gone[c.Code]; ok {
			delete(l.Gone, c.Code)
			changed = true
		}
	}
	for code := range l.Clients {
		if !here[code] {
			delete(l.Clients, code)
			l.Gone[code], changed = gone{At: now.UTC()}, true
		}
	}
	var kept []box
	for _, b := range l.Boxes {
		if here[b.Client] {
			kept = append(kept, b)
			continue
		}
		g, ok := l.Gone[b.Client]
		if !ok {
			g.At = now.UTC()
		}
		g.Mailboxes, g.Swept = append(g.Mailboxes, b.Mailbox), false
		l.Gone[b.Client], changed = g, true
	}
	changed = changed || len(kept) != len(l.Boxes)
	l.Boxes = kept
	return changed
}

// record is the body of a record file, as JSON: one thing that a clinic's
// machines share. Exactly one of the pointers is set.
type record struct {
	Version int `json:"version"`
	// At is when it was so.
	At       time.Time      `json:"at"`
	Client   *clientRecord  `json:"client,omitempty"`
	Box      *box           `json:"box,omitempty"`
	Program  *programRecord `json:"program,omitempty"`
	Baseline *handRecord    `json:"baseline,omitempty"`
	Measured *handRecord    `json:"measured,omitempty"`
}

const recordVersion = 1

// clientRecord is a client as the store has it. Days are as 2006-01-02.
type clientRecord struct {
	Side              string `json:"side"`
	Precautions       string `json:"precautions"`
	NextReview        string `json:"next_review"`
	RetainUntil       string `json:"retain_until"`
	PicturesClient    bool   `json:"pictures_client"`
	PicturesTherapist bool   `json:"pictures_therapist"`
}

func recordOf(c vault.Client) clientRecord {
	return clientRecord{c.Side, c.Precautions, c.NextReview, c.RetainUntil, c.PicturesClient, c.PicturesTherapist}
}

func (r clientRecord) client(code string) vault.Client {
	return vault.Client{Code: code, Side: r.Side, Precautions: r.Precautions, NextReview: r.NextReview, RetainUntil: r.RetainUntil,
		PicturesClient: r.PicturesClient, PicturesTherapist: r.PicturesTherapist}
}

func (r clientRecord) digest() (string, error) {
	b, err := json.Marshal(r)
	if err != nil {
		return "", err
	}
	h := sha256.Sum256(b)
	return hex.EncodeToString(h[:8]), nil
}

// programRecord is a whole version, with what stays in the clinic.
type programRecord struct {
	Number    int    `json:"number"`
	ValidFrom string `json:"valid_from"`
	Body      []byte `json:"body"`
}

// handRecord is a recorded or a measured hand. Its body is kept byte by byte,
// so that all machines name it alike.
type handRecord struct {
	Side string    `json:"side"`
	At   time.Time `json:"at"`
	Body []byte    `json:"body"`
}
