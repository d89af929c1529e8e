package post

import (
	"errors"
	"io/fs"
	"net"
	"syscall"

	"volar/internal/exchange"
	"volar/internal/session"
	"volar/internal/vault"
)

// Words put an error into a sentence for a person, with what to do.
func Words(err error) string {
	var refused *exchange.RefusedError
	switch {
	case errors.Is(err, exchange.ErrCode):
		return "The code does not add up: a digit was misheard or mistyped. Compare each group of four with what was read out."
	case errors.Is(err, exchange.ErrNewer), errors.Is(err, session.ErrNewer):
		return "It was written by a newer volar. Update this one, then fetch again."
	case errors.Is(err, exchange.ErrTooLarge):
		return "It is larger than any file that volar writes. It was left where it is."
	case errors.Is(err, exchange.ErrForged):
		return "Its signature does not fit: it was altered, or somebody else wrote it. It was left where it is; tell whoever keeps the folder or bucket."
	case errors.Is(err, ErrOtherClinic):
		return "This store belongs to another clinic. Ask your therapist; a second therapist needs a store of its own."
	case errors.Is(err, exchange.ErrForeign):
		return "It comes from a sender that is not known here. If that is a client's new computer, make a new invitation."
	case errors.Is(err, exchange.ErrNotForUs):
		return "It is sealed for someone else, or the code is another file's."
	case errors.Is(err, exchange.ErrWrongClient):
		return "It is for another client."
	case errors.Is(err, exchange.ErrWrongKind):
		return "It is a sealed file, but not of the kind that belongs here."
	case errors.Is(err, exchange.ErrStale):
		return "It is not newer than what is here already. Nothing was changed."
	case errors.Is(err, ErrConflict):
		return "Another machine of the clinic saved a different version under the same number. What is here stays; compare both, and save what is to hold as a new version."
	case errors.Is(err, exchange.ErrDamaged), errors.Is(err, session.ErrMalformed):
		return "It is damaged or was not copied to the end. Copy or send it once more."
	case errors.Is(err, vault.ErrLocked):
		return "Another volar is open and writes to the store. Close it, then try again."
	case errors.Is(err, ErrNoPlace):
		return "Nothing is chosen yet to carry the files: choose a folder or a bucket."
	case errors.Is(err, syscall.ENOSPC):
		return "The disk or the stick is full. Make room, then try again."
	case errors.Is(err, fs.ErrPermission):
		return "The folder may not be written to or read. Choose another, or ask whoever keeps it. (" + err.Error() + ")"
	case errors.As(err, &refused):
		return "The bucket refuses: the key, the secret or the bucket's name is not right. (" + refused.Err.Error() + ")"
	}
	var line net.Error
	if errors.As(err, &line) {
		return "The bucket cannot be reached. See whether this computer is connected to the network; it is tried again. (" + innermost(line).Error() + ")"
	}
	return err.Error()
}

// innermost is the cause of an error, without the addresses that it came by.
func innermost(err error) error {
	for {
		in := errors.Unwrap(err)
		if in == nil {
			return err
		}
		err = in
	}
}

// Refused reports whether an error is a file's own fault, such as damage or a
// sender who is not known here.
func Refused(err error) bool {
	for _, e := range []error{
		exchange.ErrDamaged, exchange.ErrNotForUs, exchange.ErrForeign, exchange.ErrForged, exchange.ErrWrongKind, exchange.ErrWrongClient,
		exchange.ErrStale, exchange.ErrNewer, exchange.ErrTooLarge, ErrOtherClinic, session.ErrMalformed, session.ErrNewer,
	} {
		if errors.Is(err, e) {
			return true
		}
	}
	return false
}
