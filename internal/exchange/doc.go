// Package exchange carries programs from the clinic to a client's home and
// what was done back, as signed and sealed files, through any folder or
// S3-compatible bucket. Neither the carrier nor who reads over its shoulder
// learns more than how many files there are, how large, and when.
//
// # The sealed file
//
// From the outside in, open formats only:
//
//	age (age-encryption.org/v1)    for the readers' X25519 keys, or a spoken code
//	  Zstandard (RFC 8878)         one frame
//	    CBOR sequence (RFC 8742)   header, body chunks, signature
//
// The header is a map with text keys: see Header. Each body chunk is a byte
// string of at most 1 MiB; the body is the chunks joined. The last item is a
// COSE_Sign1 message (RFC 9052, tag 18, EdDSA) whose payload is the CBOR map
// {"items": how many items come before, "sha256": of their bytes}. It is
// signed inside the encryption, and the header names sender and reader, so that
// a reader cannot pass a file on as though it had been written to someone else.
//
// With the key at hand, any tools open one:
//
//	age -d -i KEYFILE FILE.volar | zstd -d > FILE.cbor
//
// # Who trusts whom
//
// A clinic has one Identity for all its machines. An Invitation is the first
// file to a home: sealed with a code that is read out to the client, it carries
// the clinic's public keys, the home's address (a random mailbox) and a secret.
// The home pins those keys: from then on it takes programs of this clinic only,
// for this client only, newer ones only. Its first answer, a Greeting, carries
// the home's own public keys and gives the secret back, which is how the clinic
// knows that they belong to the one who was told the code.
//
// # Files are never changed
//
// Names are mailbox/kind/id.volar, where mailbox and id are 32 hexadecimal
// digits. A file is written once, under a name that no one else uses, so that
// two machines never overwrite each other, sending twice does no harm, and a
// store can be built again from the files alone.
//
// # Errors and limits
//
// Everything that can be wrong with a file has a named error below; all of them
// come before a single byte of the body is handed out. A file takes at most
// MaxFile bytes, sealed or opened, and CBOR nests at most 8 deep.
//
// # Older files
//
// Files of Version 1 stay readable. A file of a later version is ErrNewer.
package exchange

import "errors"

// What can be wrong with a sealed file.
var (
	// ErrDamaged: cut off, altered, or not a sealed file at all.
	ErrDamaged = errors.New("the file is damaged or incomplete")
	// ErrNotForUs: sealed for other keys, or with another code.
	ErrNotForUs = errors.New("the file is sealed for someone else")
	// ErrForeign: signed by a key that is not known here.
	ErrForeign = errors.New("the file comes from an unknown sender")
	// ErrForged: names a known sender whose signature does not fit.
	ErrForged = errors.New("the signature does not fit the file")
	// ErrWrongKind: a sealed file, but not of the kind asked for.
	ErrWrongKind = errors.New("the file is of another kind")
	// ErrWrongClient: made for another client or mailbox.
	ErrWrongClient = errors.New("the file is for another client")
	// ErrStale: a program that is not newer than the one in force.
	ErrStale = errors.New("the file is not newer than what is here")
	// ErrNewer: written by a later version of this program.
	ErrNewer = errors.New("the file needs a newer version of this program")
	// ErrTooLarge: larger than MaxFile, sealed or opened.
	ErrTooLarge = errors.New("the file is too large")
	// ErrCode: not a code; a digit was misheard or mistyped.
	ErrCode = errors.New("the code does not add up")
)

// Version of the sealed files written here.
const Version = 1

// MaxFile is the greatest length in bytes of a sealed file and of what is in
// it: some hours of exercise with pictures of every flagged moment.
const MaxFile = 256 << 20
