package landmark

import (
	"math"

	"volar/internal/hand"
)

// square is a way to lay the searched square over a picture: so many times its
// long side, turned, radians clockwise. The palm detector sees some hands, such
// as dark ones bent before a bright wall or from the side, in one size or
// direction and not in another.
type square struct{ size, turn float64 }

const degree = math.Pi / 180

// squares are what is tried for a hand that is not seen at first sight: in
// successive pictures of a video with no hand in sight, one after another in a
// still picture. In a video the plain one, number 0, has every second picture:
// it is the likeliest to show a hand that has just come. Squares turned by 45°
// and more showed more hands, but in wrong places, too, as did parts of the
// picture.
var squares = [...]square{
	{1, 0}, {1.25, 0}, {1.25, -30 * degree}, {1.5, 0}, {1.25, 15 * degree},
	{2, 0}, {1.25, -15 * degree}, {3, 0}, {1.25, 30 * degree},
}

// halves are searched besides where two hands are expected, one to each side of
// the picture: side is which, and size the square's, as shares of the long side.
// Two hands and what they hold between them take the whole picture, each is
// small in it, and in rendered rooms the detector scored fists 0.1 to 0.4 in
// all of the squares above and 0.8 to 0.98 in its half.
var halves = [...]struct{ side, size float64 }{{-0.25, 0.625}, {0.25, 0.625}}

// lookAt returns where to search after so many fruitless searches in a row, and
// the number of that square; 0 is the plain one.
func lookAt(fruitless, expect, w, h int) (where hand.Region, number int) {
	if expect > 1 {
		if k := fruitless % (1 + len(halves)); k > 0 {
			half := halves[k-1]
			r := wholePicture(w, h)
			r.CX += half.side * r.Size
			r.Size *= half.size
			return r, len(squares) + k - 1
		}
		fruitless /= 1 + len(halves)
	}
	// Every second picture is searched plainly.
	if fruitless%2 == 1 {
		number = 1 + fruitless/2%(len(squares)-1)
	}
	return squares[number].of(w, h), number
}

func (q square) of(w, h int) hand.Region {
	r := wholePicture(w, h)
	r.Size *= q.size
	r.Rotation = q.turn
	return r
}
