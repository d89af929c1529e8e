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

func (q square) of(w, h int) hand.Region {
	r := wholePicture(w, h)
	r.Size *= q.size
	r.Rotation = q.turn
	return r
}
