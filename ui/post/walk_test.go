package post

import (
	"context"
	"os"
	"path/filepath"
	"regexp"
	"strings"
	"testing"
	"time"

	"fyne.io/fyne/v2"
	"fyne.io/fyne/v2/test"
	"github.com/stretchr/testify/require"

	"volar/internal/exchange"
	domain "volar/internal/post"
	"volar/internal/session"
	"volar/internal/vault"
	"volar/ui/parts"
)

// words are all the words that are drawn.
func (b *bench) words() string {
	var all []string
	for _, o := range test.LaidOutObjects(b.w.Canvas().Content()) {
		switch o := o.(type) {
		case *parts.Words:
			if o.Visible() {
				all = append(all, o.Text())
			}
		case *parts.Button:
			if o.Visible() {
				all = append(all, o.Label())
			}
		}
	}
	return strings.Join(all, "\n")
}

// A therapist invites a client, the client takes the file by its digits, sends
// a practice by a folder, and the therapist has it: all by keys.
func TestThereAndBackByKeys(t *testing.T) {
	b := newBench(t, desk(100))
	keepProgram(t, b.vault)
	stick := t.TempDir()

	// The clinic says where letters are carried.
	l := NewLetters(b.vault, false, b.options()).(*letters)
	b.router.Show(l)
	b.press(fyne.KeyW)
	b.reach("Where letters are carried")
	b.press(fyne.KeyTab, fyne.KeyTab)
	b.instead(filepath.Join(stick, "gone"))
	b.press(fyne.KeyReturn)
	require.Contains(t, b.words(), "There is no such folder now")
	b.instead(stick)
	b.press(fyne.KeyF5)
	b.q.until(t, func() bool { return strings.Contains(b.words(), "It can be reached. 0 sealed files lie there.") })
	b.press(fyne.KeyReturn)
	b.reach("Letters")

	// And invites the client.
	i := NewInvite(b.vault, "K-104", b.options()).(*invitation)
	b.router.Show(i)
	b.press(fyne.KeyReturn)
	b.reach("Read this code out to K-104")
	code := strings.Join(regexp.MustCompile(`(?m)^\d{4}$`).FindAllString(b.words(), -1), "")
	require.Len(t, code, 16)
	file := filepath.Join(b.folder, "invitation-K-104.volar")
	require.FileExists(t, file)
	b.press(fyne.KeyReturn)
	require.Equal(t, 1, b.backs)
	require.Equal(t, filepath.Join(b.folder, "invitation-K-104-2.volar"), freeName(b.folder, "invitation-K-104"))

	// The client takes the file: first with a slip, then with another code.
	home := domain.NewHome(b.store, domain.Options{Clock: func() time.Time { return morning }})
	c := NewClient(home, b.options()).(*client)
	b.router.Show(c)
	b.press(fyne.KeySpace, fyne.Key1)
	b.reach("Type the sixteen digits that you were told")
	digit := func(s string) {
		for _, r := range s {
			b.press(fyne.KeyName(r))
		}
	}
	digit(code[:15])
	b.press(fyne.KeyReturn)
	require.Contains(t, b.words(), "1 digit more.")
	digit(string('0' + (code[15]-'0'+1)%10))
	b.press(fyne.KeyReturn)
	require.Contains(t, b.words(), "does not add up")
	other, err := exchange.NewCode()
	require.NoError(t, err)
	for range 16 {
		b.press(fyne.KeyBackspace)
	}
	digit(string(other))
	b.press(fyne.KeyReturn)
	b.q.until(t, func() bool { return strings.Contains(b.words(), "the code is another file's") })
	for range 16 {
		b.press(fyne.KeyBackspace)
	}
	digit(code)
	b.press(fyne.KeyReturn)
	b.reach("Your exercises are here")
	b.press(fyne.KeySpace)
	require.Contains(t, b.words(), "It is not chosen yet")
	require.NoError(t, home.SetPlace(t.Context(), domain.Place{Where: stick}))

	// A practice, and it is sent.
	r, err := b.store.Record("K-104", 1)
	require.NoError(t, err)
	id := r.ID()
	require.NoError(t, r.Close())
	c.show(c.overview())
	require.Contains(t, b.words(), "1 practice waits to be sent.")
	b.press(fyne.KeySpace)
	b.q.until(t, func() bool { return strings.Contains(b.words(), "It is sent.") })
	require.Contains(t, b.words(), "All is sent")
	b.press(fyne.KeyA)
	b.q.until(t, func() bool { return strings.Contains(b.words(), "Send by itself after each practice: on") })

	// The clinic fetches it.
	l = NewLetters(b.vault, false, b.options()).(*letters)
	b.router.Show(l)
	b.press(fyne.KeyReturn)
	b.q.until(t, func() bool { return strings.Contains(b.words(), "1 session came in") })
	require.Contains(t, b.words(), "1 home answered its invitation.")
	all, err := b.vault.Sessions(t.Context(), vault.Filter{})
	require.NoError(t, err)
	require.Len(t, all, 1)
	require.Equal(t, id, all[0].ID)
	require.Equal(t, session.Closed, all[0].State)

	// A client who was removed leaves nothing on the carrier, once the therapist
	// says so twice.
	require.NoError(t, b.vault.DeleteClient(t.Context(), "K-104"))
	l.show(l.overview())
	b.press(fyne.KeyR)
	require.Contains(t, b.words(), "No machine of the clinic can bring them back")
	b.press(fyne.KeyD)
	b.q.until(t, func() bool { return strings.Contains(b.words(), "files were taken away.") })
	left, err := filepath.Glob(filepath.Join(stick, "*", "*", "*.volar"))
	require.NoError(t, err)
	require.Empty(t, left)

	// A stick that was pulled out is told, and nothing is lost.
	require.NoError(t, os.RemoveAll(stick))
	b.press(fyne.KeyReturn)
	b.q.until(t, func() bool { return strings.Contains(b.words(), "plug it in") })
}

// A file that is damaged, and one that is no sealed file, are told and change
// nothing.
func TestAFileThatIsNotTaken(t *testing.T) {
	b := newBench(t, chair(100))
	require.NoError(t, os.WriteFile(filepath.Join(b.folder, "a.volar"), []byte("nothing of ours"), 0o600))
	c := NewClient(domain.NewHome(b.store, domain.Options{}), b.options()).(*client)
	b.router.Show(c)
	b.press(fyne.KeySpace, fyne.Key1)
	b.reach("The file was not taken")
	require.Contains(t, b.words(), "Nothing on this computer was changed.")
	b.press(fyne.KeySpace)
	b.reach("From and to your therapist")
	require.Contains(t, b.words(), "sixteen digits")
	b.press(fyne.KeyEscape)
	require.Equal(t, 1, b.backs)
}

// The clinic's keys go to another machine in a file.
func TestKeysToAnotherMachine(t *testing.T) {
	b := newBench(t, desk(100))
	l := NewLetters(b.vault, false, b.options()).(*letters)
	b.router.Show(l)
	b.press(fyne.KeyK, fyne.KeyTab)
	b.instead("words for the keys")
	b.press(fyne.KeyF2)
	require.Contains(t, b.words(), "Type the same passphrase twice.")
	b.press(fyne.KeyTab)
	b.instead("words for the keys")
	b.press(fyne.KeyF2)
	b.q.until(t, func() bool { return strings.Contains(b.words(), "The keys are in ") })

	first, err := l.clinic.Keys(t.Context())
	require.NoError(t, err)
	second := newVault(t)
	l2 := NewLetters(second, false, b.options()).(*letters)
	b.router.Show(l2)
	b.press(fyne.KeyK, fyne.KeyTab)
	b.instead("other words")
	b.press(fyne.KeyF3)
	b.q.until(t, func() bool { return strings.Contains(b.words(), "sealed for someone else") })
	b.instead("words for the keys")
	b.press(fyne.KeyF3)
	b.q.until(t, func() bool { return strings.Contains(b.words(), "keys are taken in") })
	there, err := l2.clinic.Keys(t.Context())
	require.NoError(t, err)
	require.True(t, first.Equal(there))
}

// Leaving a screen calls back what it does in the background.
func TestLeavingCallsBack(t *testing.T) {
	b := newBench(t, desk(100))
	l := NewLetters(b.vault, true, b.options()).(*letters)
	b.router.Show(l)
	require.NotContains(t, b.words(), "Where letters are carried", "a window that only reads changes nothing")
	l.background(func(ctx context.Context) error { <-ctx.Done(); return nil }, func(error) { t.Error("the screen was left") })
	b.router.Close()
	for len(b.q.waiting) > 0 {
		(<-b.q.waiting)()
	}
}
