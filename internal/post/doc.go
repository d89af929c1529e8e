// Package post stands between a side's store and the sealed files that travel:
// what is sealed, what is done with what came, and what must never happen twice
// or get lost on the way. Clinic is the clinic's half, Home the client's.
//
// # What travels
//
//	invitation  clinic → home    by hand, opened with the spoken code
//	greeting    home → clinic    the home's keys, once
//	program     clinic → home    what is prescribed from now on
//	session     home → clinic    a session that is over
//	record      clinic → clinic  a client, whole versions of the program,
//	                             recorded hands, mailboxes
//	review      clinic → clinic  one reviewer's reading of a session
//
// Records and reviews are written in files of their own, so that two machines
// of a clinic never overwrite each other and a machine's store can be made again
// from the carrier and the clinic's keys.
//
// # Once, and never lost
//
// Every step may be the last one before the power goes. What is sealed gets a
// name that follows from its content or from its session, and the outbox takes a
// name once; what came is put into the store by calls that change nothing when
// they come again, and is noted in the inbox last. A file leaves the outbox only
// once it lies on the carrier, however many weeks that takes.
//
// # What is refused
//
// A file that is not taken changes nothing but a note of what was wrong with it;
// see Trouble. It is tried again after a day, when its size changes (another
// program may still be bringing it), or at once where what was missing may have
// come since, such as the keys of its sender.
//
// # Units, time and errors
//
// Times are instants of the clock in Options, days are local. Errors are those
// of packages exchange and vault, and those below.
package post

import (
	"errors"
	"time"

	"volar/internal/exchange"
)

// What can be wrong beside a sealed file's own errors.
var (
	// ErrNoProgram: a client without a program cannot be invited.
	ErrNoProgram = errors.New("this client has no program yet; save one first")
	// ErrNotConnected: the home has not taken an invitation.
	ErrNotConnected = errors.New("no invitation from a therapist has been taken here")
	// ErrOtherClinic: the home is connected to another clinic.
	ErrOtherClinic = errors.New("this store is connected to another clinic; use a store of its own for this one")
	// ErrNotAnswered: the home has not sent its keys yet.
	ErrNotAnswered = errors.New("this client's home has not answered its invitation yet; fetch first, or make a new invitation")
	// ErrConflict: another machine gave the same number to another version.
	ErrConflict = errors.New("two machines gave the same number to different versions")
	// ErrNoPlace: nobody said where files are to be carried.
	ErrNoPlace = errors.New("no folder or bucket is chosen to carry files")
	// ErrKeysInUse: keys that homes rely on are not replaced.
	ErrKeysInUse = errors.New("this store has clinic keys of its own that are in use; import into a new store")
)

// Options of a side. The zero value is what both windows use.
type Options struct {
	// Retry says how often a transfer is tried before it is left for later.
	Retry exchange.Retry
	// Clock is the wall clock; nil is time.Now.
	Clock func() time.Time
	// Progress is told how many files of how many are through; may be nil.
	Progress func(done, total int)

	// step is called before each change; tests make it fail.
	step func(what string) error
}

func (o Options) withDefaults() Options {
	if o.Clock == nil {
		o.Clock = time.Now
	}
	if o.Progress == nil {
		o.Progress = func(int, int) {}
	}
	if o.step == nil {
		o.step = func(string) error { return nil }
	}
	return o
}
