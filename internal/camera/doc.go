// Package camera turns whatever shows a hand into frames with capture times: a
// webcam, a video file, pictures, a renderer, or a video file played as though
// it were a webcam. It is the only package that uses OpenCV (gocv v0.31.0 on
// OpenCV 4.6).
//
// # Frames
//
// A frame is a tightly packed, opaque *image.RGBA with its origin at 0,0 and
// its time. The picture is upright (rotation in a video's metadata and EXIF
// orientation are already applied) and never mirrored.
//
// The picture belongs to the source: it may be read until the next call of
// Next or Close, and not after. Frame.Retain makes a copy that lasts. A source
// is used by one goroutine at a time, except Close, which any goroutine may
// call; a Next that is waiting then returns ErrClosed, and Close returns when
// all that the source started has ended.
//
// # Time
//
// Frame.Time counts from the opening of the source, on a clock that only goes
// forward: it strictly increases from frame to frame (pictures excepted, which
// have no time). For a video file it is the presentation time written in the
// file, or index/fps where the file has none. For a webcam it is the driver's
// time stamp of the picture, moved onto the clock of this source, or the time
// of arrival where the driver's stamp does not move. Speeds and hold times
// must be computed from it and never from Frame.Index.
//
// # Live sources
//
// A live source (Info.Live) delivers the newest picture and drops those that
// nobody fetched in time; Health counts them. One goroutine owns the device
// and writes into one of three buffers: one being filled, one waiting, one
// lent. A picture that is the same as the last one, to the byte and to the
// time stamp, is a repeat and does not count as a new one. Where no new
// picture comes for a second, Next returns ErrStalled; that is a state and not
// the end, and Next may be called again. Meanwhile the owner closes and opens
// the device again, waiting longer after each failure. When it gives up, Next
// returns ErrNoCamera from then on.
//
// # Errors
//
//   - ErrUnreadable: the file is missing, empty, damaged, too large or of a
//     kind that cannot be read; the text names the file and what to do.
//   - ErrTruncated, always together with io.EOF: a video that breaks off. What
//     could be read has been delivered.
//   - ErrNoCamera: there is no such camera, it may not be used, or it is gone.
//   - ErrStalled: no new picture in time; may pass.
//   - ErrClosed: the source was closed.
//   - io.EOF: the end, regular. Test for it with errors.Is.
//
// # What can still end the process
//
// An exception inside OpenCV cannot be caught from Go with gocv v0.31.0: the
// process aborts. Therefore OpenCV is given nothing that has not been looked
// at: files must be regular and not empty, known by their first bytes, with a
// sound outline and a picture size within MaxSide and MaxPixels; a device must
// exist and be open to us; every picture is checked for type and size before it
// is converted. The one call that decodes outside data, reading a frame, goes
// through a C++ function of this package that turns exceptions into errors.
// Pictures are decoded in Go, and videos are written in Go, without OpenCV.
//
// What remains: memory running out while a picture is converted, and a codec
// that writes where it must not. Callers that record should store as they go.
//
// One thing OpenCV 4.6 does not tell: where the coded pictures of a file change
// their size in the middle, it repeats the last picture of the old size to the
// end. Cameras do not write such files.
//
// OpenCV's and FFmpeg's own messages are switched off, as ours say the same
// with a name and a remedy. Left on standard error is libjpeg's "Corrupt JPEG
// data", for a damaged picture of an MJPG webcam.
package camera
