// Package stage is where the client stands: it takes pictures from a camera,
// has them measured, gives what was measured to the check of the camera or to
// a practice, and draws the picture that the client sees. It knows no window;
// a window, a test and a soak run drive it alike.
//
//	camera ─▶ feed goroutine ─▶ stage goroutine: watcher ─▶ check or practice
//	           opens, retries                        │            │ events
//	                                                 ▼            ▼
//	                            picture with skeleton ─▶ View   session, sounds
//
// A Stage owns both goroutines and Close waits for them. Everything that the
// client does (Start, Pause, Hurt and so on) is carried out on the stage
// goroutine between two pictures, or at once while no picture comes, so that a
// lost camera never keeps an "it hurts" waiting.
//
// # Time
//
// Times count from Open, on the monotonic clock, and carry on when a camera is
// lost and opened again. A picture's time is its capture time. While no
// picture comes, the stage says twice a second that the hand is not seen, so
// that rests end and the clock of a hold stands.
//
// # Pictures
//
// The View's picture is mirrored, as in a mirror on the wall; nothing else is.
// Three pictures take turns: one is drawn, one waits, one is shown. The newest
// replaces one that waits, so that a slow window skips pictures and is never
// late.
//
// # Errors
//
// A camera that is missing, busy or unplugged is a state of the View with the
// error in it, not an end: the stage tries again until it is closed. An error
// of the models is final and shows in the View as Failed. What the recorder
// does not keep is told in the View as Unkept, and the exercise goes on.
package stage
