package main

// errors adds one row of what a kind of joint is off by. The goals are those of
// the mean error and of the share over 20°.
func (s *sheet) errors(key, row string, e *errorsOf, size, over20 Goal) {
	s.mean(key+".error", row, "mean error", "°", e.size, size)
	s.mean(key+".bias", row, "bias", "°", e.bias, Goal{Better: Near})
	s.share(key+".over20", row, "over 20°", e.over20, over20)
	s.share(key+".judged", row, "judged", e.judged, Goal{})
	s.mean(key+".in1", row, "in 1 SE", "", e.in1, Goal{Better: Near, Target: .68, Within: .04})
	s.mean(key+".in2", row, "in 2 SE", "", e.in2, Goal{Better: Near, Target: .95, Within: .04})
}

// coverage adds a row of how honest the stated error is over all joints, which
// the project has aims for; where says on what it was measured.
func (s *sheet) coverage(key string, e *errorsOf, where string) {
	const honest = "stated error honest: within "
	s.mean(key+".in1", "all joints", "in 1 SE", "", e.in1, Goal{Better: Near, Target: .68, Within: .04, Name: honest + "1 SE, " + where, Before: "90 % interval covers 93–96 %"})
	s.mean(key+".in2", "all joints", "in 2 SE", "", e.in2, Goal{Better: Near, Target: .95, Within: .04, Name: honest + "2 SE, " + where, Before: "–"})
}

// ratio adds the greatest mean of some groups of people over the least. Chance
// alone puts it above 1, and its interval with it.
func (s *sheet) ratio(key, row string, of []*tally, aim string) {
	f := Figure{Key: key, Row: row, Column: "ratio", Unit: "×", Groups: s.groups, Goal: Goal{Better: Lower, Target: 1.25, Name: aim, Before: "none seen"}}
	for _, t := range of {
		f.N += t.n
	}
	s.add(f, func(times []int) float64 { return worstToBest(of, times) })
}
