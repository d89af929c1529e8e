// Package landmark finds hands in pictures and follows them from picture to
// picture: 21 points of each hand in the picture and in space, and the
// client's own side.
//
// # How
//
// A palm detector draws boxes around palms in a picture scaled to 192 by 192.
// A square laid around a palm is cut out upright, scaled to 224 by 224 and
// shown to the landmark model, which gives the points and how sure it is that
// there is a hand. From the points, the fingers where the angle head has them,
// follows the square of the next picture, so that in a video the palm detector runs
// only while hands are missing: Options.SearchEvery says how often. A followed hand
// is believed in at half the presence that begins one, and is read once more from a
// wider square where it is seen faintly. Fingers or a thumb that were taken for a
// hand give way to the whole hand once that is surely seen. Where no hand is
// followed, and one is seen faintly only, as dark ones from the side often are, the
// picture is searched in squares of other sizes and turned, and a hand that several
// of them show in one place is taken; where two hands are expected that is so until
// both are followed, and each half of the picture is searched, too. Where all that
// shows none, the picture is looked at in other light, mirrored, turned and in
// parts, a video's in one such way at a time, and a hand is taken on the word of the
// angle head and of several views. Detect is for pictures that stand alone.
// The square of a followed hand is moved a little in every picture, so that what
// the model errs with its place scatters and can be averaged away; the points
// that are reported are calmed over time.
//
// The models, the constants and the rules are those of MediaPipe Hands (Zhang
// et al. 2020, arXiv:2006.10214; Apache-2.0). What a still picture is tried
// for when no hand is found, the checks of a followed hand, track numbers and
// the settling of the side, the fingers' places, the wandering of the square and
// the calming of the points are this project's own.
//
// # Units and frames
//
// Image points are in pixels of the picture given, which must not be mirrored,
// counted from its upper left corner; the centre of the first pixel is at
// (0.5, 0.5). z has the scale of x and y, is 0 at the wrist and smaller nearer
// to the camera: the model's z divided by 0.4 and scaled as x is. World points
// are in metres about the middle of the hand, in axes parallel to the
// picture's. Rotation is in radians, clockwise on the screen, 0 for fingers
// that point up. Scores are 0 to 1.
//
// The model names sides as in a mirror. They are turned into the client's own
// once, where the model's output is read, and nowhere else.
//
// # Time
//
// The caller passes the capture time of every picture. All intervals are in
// that time, none in numbers of pictures, but for the place of the square, which
// hangs on how many pictures of the track there were: the same pictures give the
// same hands.
//
// # Invariants
//
// One hand is never reported twice in a picture. A Track number belongs to one
// hand of one Tracker and is not given again; a hand out of sight for more than
// 200 ms, or gone over the rim, is lost and comes back with a new number. The
// side of a followed hand changes only when the mean of its scores has spoken
// for the other side for 100 ms, or when a second hand of the same side is in
// sight: then the one of which palm and back were seen less is the other hand,
// unless both have been seen for half a second. A picture counts as much for the side as it
// shows of the palm or the back; from the side of the hand it says next to
// nothing, and nothing where the network has the fingers elsewhere than the angle
// head. Until the palm or the back has been seen the side is reported as guessed,
// unless it follows from that of a hand beside it.
//
// # Errors
//
// A picture without pixels and a failing model are errors; a picture without a
// hand is not.
package landmark
