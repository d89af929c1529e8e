package landmark

import (
	"image"
	"math"

	"volar/internal/hand"
)

// lookTurn is how far a further look at a still picture is turned to either
// side, radians. Larger turns and other sizes gave nothing more on rendered
// hands and on photographs of counting hands.
const lookTurn = 10 * math.Pi / 180

// lookAgain reads the angles of a hand that was found in further crops of the
// same picture, turned to both sides and mirrored, and joins them with those
// of the reading. The angle outputs err a little differently in each; the
// points, which depend less on the crop, stay those of the reading. A look
// that finds no hand does not count.
func (l *landmarker) lookAgain(img *image.RGBA, r *reading, minPresence float64) error {
	if r.angles == nil {
		return nil
	}
	all := []*hand.ModelAngles{r.angles}
	for _, mirrored := range [...]bool{false, true} {
		for _, turn := range [...]float64{0, lookTurn, -lookTurn} {
			if turn == 0 && !mirrored {
				continue // the reading itself
			}
			where := r.region
			where.Rotation += turn
			a, err := l.look(img, where, mirrored, minPresence)
			if err != nil {
				return err
			}
			if a != nil {
				all = append(all, a)
			}
		}
	}
	r.angles = joinAngles(all)
	return nil
}

// look reads the angles in one crop, as they are in the picture even where the
// crop was mirrored; nil where no hand is seen.
func (l *landmarker) look(img *image.RGBA, where hand.Region, mirrored bool, minPresence float64) (*hand.ModelAngles, error) {
	l.cropper.crop(l.model.input, handSide, img, where, edgeBorder)
	if mirrored {
		mirror(l.model.input, handSide)
	}
	if err := l.model.run(); err != nil {
		return nil, err
	}
	if !(float64(l.presence[0]) >= minPresence) {
		return nil, nil
	}
	if mirrored {
		for _, v := range [...][]float32{l.normal, l.axis} {
			if v != nil {
				v[0] = -v[0]
			}
		}
	}
	return l.readAngles(place(where)), nil
}

// mirror turns left and right round in a picture of rows of n samples.
func mirror(crop []float32, n int) {
	for ; len(crop) >= n; crop = crop[n:] {
		for i, j := 0, n-1; i < j; i, j = i+1, j-1 {
			crop[i], crop[j] = crop[j], crop[i]
		}
	}
}

// joinAngles is the mean of several looks at one hand, for each joint weighted
// by the inverse of the stated spread, so that a look that is unsure of a joint
// says less of it. The spread is the weighted mean too: the looks share most of
// their error, so that joining them makes none of it certain.
func joinAngles(looks []*hand.ModelAngles) *hand.ModelAngles {
	out := new(hand.ModelAngles)
	n := float64(len(looks))
	for j := range out.FlexionDeg {
		var sum float64
		for _, a := range looks {
			w := 1 / max(a.SpreadDeg[j], 1)
			out.FlexionDeg[j] += w * a.FlexionDeg[j]
			out.SpreadDeg[j] += w * a.SpreadDeg[j]
			sum += w
		}
		out.FlexionDeg[j] /= sum
		out.SpreadDeg[j] /= sum
	}
	for _, a := range looks {
		out.Normal, out.Axis = out.Normal.Add(a.Normal), out.Axis.Add(a.Axis)
		for i := range out.Visible {
			out.Visible[i] += a.Visible[i] / n
		}
		for i := range out.BendDeg {
			out.BendDeg[i] += a.BendDeg[i] / n
		}
	}
	out.Normal, out.Axis = unitVector(out.Normal), unitVector(out.Axis)
	return out
}
