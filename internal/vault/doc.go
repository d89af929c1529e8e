// Package vault keeps everything that a side has to remember in one encrypted
// SQLite database: clients, program versions, baselines, measurements,
// sessions, reviews, and what waits to be sent. It is the only package that
// speaks SQL.
//
// # Files
//
// A store is a folder, mode 0700, whose files are mode 0600:
//
//	vault.key       how the data key is wrapped, and which database is current
//	vault.key.copy  the same again, for the day that vault.key is damaged
//	vault.lock      the process that writes, held locked while it runs
//	vault.new       there only while the store is made for the first time
//	store-N.db      the database, with -wal and -shm while it is open
//	device-ID.key   only where the system has no keyring: see Device
//	damaged-N.*     a database that was replaced from a backup, and its key
//	backups/        where Backup puts copies unless told otherwise
//
// N grows when the database is replaced, by a new key or from a backup. The
// rename of vault.key is the moment at which the new one counts; a database
// that vault.key does not name is a leftover and is removed at the next start.
//
// A backup is a folder of the same layout, and can be opened as a store.
//
// # Keys
//
// The database is encrypted page by page (Adiantum, by the VFS of
// ncruces/go-sqlite3) with a random data key. The data key lies in vault.key,
// sealed with XChaCha20-Poly1305 under a key that comes from a passphrase
// (Argon2id; RFC 9106, 4, second recommended option), from the system's
// keyring, or from a device file. The seal tells a wrong passphrase, and a
// checksum over the file tells damage; so the two are never confused.
//
// Page encryption hides content. It does not stop someone who can write to the
// folder from putting an older page back; what leaves the computer is sealed
// and signed elsewhere. Pages carry checksums, so that chance damage is found
// when the page is read.
//
// # Writing
//
// One process writes, through one connection; others may open the store to
// read. The journal is a write-ahead log, synchronous is FULL: what a call
// returned from is on the disk. A Vault is a session.Sink: each batch is one
// transaction. A session that is open when the store is opened for writing was
// interrupted, and is marked so.
//
// What is deleted is overwritten (secure_delete), the database is rebuilt and
// the log cut. A backup that was made before still holds it.
//
// # Tables
//
//	client    a code, the side, precautions, dates, consent to pictures
//	program   versions of the prescription: opaque bytes, number, first day
//	baseline  recorded straight hand and range: opaque JSON
//	measurement
//	          a hand's angles at one moment: opaque JSON
//	session   one row a session with everything that a list shows or sorts by
//	batch     what was recorded, about a second a row, as session.EncodeBatch
//	          wrote it, compressed with zstd
//	picture   kept pictures
//	exercise, flag, answer
//	          what lists and trends read; drawn from the batches
//	reading   what reviewers left on a session, as review.Encode wrote it
//	judgement the latest of each flag
//	outbox, inbox
//	          sealed files on their way: opaque bytes
//	setting   small values by name
//
// Times are milliseconds of Unix time in UTC, days are text as 2006-01-02,
// times within a session are microseconds. The schema's version is
// user_version; migrations are embedded, each is one transaction, and a sample
// store of every version is kept in testdata.
//
// # Errors
//
// ErrWrongKey, ErrDamaged, ErrLocked, ErrNewer, ErrOlder; fs.ErrNotExist for what is not
// there, and syscall.ENOSPC for a full disk. No error text holds more of a
// client than the code.
package vault
