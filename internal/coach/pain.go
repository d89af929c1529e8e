package coach

import "fmt"

// StopReason says why an exercise was stopped; empty where it was not.
type StopReason string

// The reasons. Hurting is the client's "it hurts": it stops the set. The other
// two end the session.
const (
	Hurting   StopReason = "it hurts"
	PainRose  StopReason = "pain rose"
	SharpPain StopReason = "sharp pain"
)

// EndsSession is true where the client is to do nothing more today and contact
// the therapist.
func (r StopReason) EndsSession() bool { return r == PainRose || r == SharpPain }

// The stop rules are common practice: sharp, shooting or burning pain stops the
// session, and so does a rise of more than two points on the scale from 0 to
// 10, two points being what patients notice as a change (Farrar et al. 2001,
// Pain 94:149-158). Where the pain before is not known, an answer above 5 counts
// instead: more than mild pain (Boonstra et al. 2016, Front Psychol 7:1466).
const (
	greatestRise = 2
	mildPain     = 5
	greatestPain = 10
)

// PainStop says whether a client with this pain after an exercise, or after a
// session, has to stop, and why. before is nil where it is not known.
func PainStop(before *int, after int, sharp bool) StopReason {
	switch {
	case sharp:
		return SharpPain
	case before != nil && after-*before > greatestRise, before == nil && after > mildPain:
		return PainRose
	}
	return ""
}

func checkScale(what string, n int) error {
	if n < 0 || n > greatestPain {
		return fmt.Errorf("coach: %s of %d is not on the scale from 0 to %d", what, n, greatestPain)
	}
	return nil
}
