// Package session holds what happened while a client exercised: the measured
// samples, what the coach said, what the client answered, and, where both
// sides agreed to it, a few small pictures of flagged moments.
//
// A Session is the whole of it as plain values. A Recorder takes the live
// results and hands them on in batches of about a second to a Sink, which keeps
// them. Encode and Decode turn a whole session into a sequence of CBOR items
// and back, for files that leave the computer; EncodeBatch and DecodeBatch do
// the same for one batch, for the store.
//
// # Time, units, frames
//
// Every At, Start and End is the capture time since the session began, from a
// monotonic clock, so that a clock that is set back while recording changes
// nothing. Started is the wall clock in UTC when the session began, Zone the
// name of the client's time zone. A session that was interrupted and continued
// has one Segment for each stretch, and its times go on rising.
//
// Angles are as in package hand: degrees, flexion positive, past straight
// negative. Points are shares of the picture's width and height, 0 to 1 from
// the left and the top, unmirrored. Exercises, flags and pictures are numbered
// from 1 in the order in which they began; number 0 means none.
//
// # What is kept of a sample
//
// Angles to 0.1 degree, standard errors to 0.5 degree, points to 1/4096 of the
// picture, times to a microsecond; whether each joint could be judged, and why
// not. Depth and the world points are not kept.
//
// # Format
//
// A session is a CBOR sequence (RFC 8742) of maps in the core deterministic
// encoding of RFC 8949, 4.2.1: one header with the format's name and version,
// then batches, then one footer with the counts of all that went before, so
// that a sequence that was cut short is told from a whole one. Within a batch
// the samples of each hand are columns of whole numbers, the first value and
// then the differences, and columns that seldom change are lists of runs. The
// file samples.go names every column. A reader takes every version up to its
// own, and refuses a newer one with ErrNewer.
//
// Decode holds hostile input to limits before it allocates: see Limits.
//
// # Errors
//
// ErrMalformed is input that is not a whole, well-formed session; ErrNewer one
// of a later version of the format. A Recorder reports the last error of its
// Sink in its Status and tries again with the next batch.
package session
