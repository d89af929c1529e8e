package reading

import "strings"

// newSigns says what the signs of a replay mean and which keys work it.
func newSigns(v *viewer) *says {
	s := &says{base: base{r: v.r, title: "Signs and keys of the replay"}, back: func() { v.r.show(v.again()) }}
	s.words = strings.Join([]string{
		"The line is a joint's angle as it was estimated, the band to either side its standard error. The dashed line is the limit that was in force on that day; what lies past it is tinted. Where the curve is hatched the joint could not be judged.",
		"Below the curve stand the repetitions, and below them the holds: full ones counted, hollow ones fell short, hatched ones could not be judged. A wedge at the top is a flagged moment; it is tinted where it is of this joint.",
		"The hand is drawn from the estimated angles of that moment; nothing of it is filmed. A joint that was not judged is drawn as it was read all the same, and is named beside the hand. The points are those that were found in the camera's picture, which stands behind them where it was kept.",
		"Left and Right go by a picture; with Shift, or Page Up and Page Down, by a second; Home and End to the ends. N and P go to the next flag and the one before. Up and Down change the joint, + and − the stretch of time. O shows the other hand where an exercise takes both. V shows the hand from another side, J and L turn it, I and K tip it. 1, 2 and 3 say whether a flag was right, wrong or unclear.",
	}, "\n\n")
	return s
}
