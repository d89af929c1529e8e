package main

import "math"

// tally sums something over each group, so that a mean or a share can be had
// for any draw of groups.
type tally struct {
	sum, count []float64
	n          int
}

func newTally(groups int) *tally {
	return &tally{sum: make([]float64, groups), count: make([]float64, groups)}
}

// add counts a value of a group.
func (t *tally) add(group int, x float64) { t.over(group, x, 1) }

// over counts what happened in a group over some time or length.
func (t *tally) over(group int, x, length float64) {
	t.sum[group] += x
	t.count[group] += length
	t.n++
}

// length is all that was counted over.
func (t *tally) length() (sum float64) {
	for _, c := range t.count {
		sum += c
	}
	return sum
}

// is counts a yes or no of a group.
func (t *tally) is(group int, yes bool) {
	x := 0.0
	if yes {
		x = 1
	}
	t.add(group, x)
}

// mean over the groups as many times as each is taken; NaN over nothing. Nil
// takes each once.
func (t *tally) mean(times []int) float64 {
	var sum, count float64
	for g := range t.sum {
		k := 1.0
		if times != nil {
			k = float64(times[g])
		}
		sum += k * t.sum[g]
		count += k * t.count[g]
	}
	return sum / count
}

// taken is how many groups have anything to say.
func (t *tally) taken() (n int) {
	for _, c := range t.count {
		if c > 0 {
			n++
		}
	}
	return n
}

// errorsOf sums what readings are off by, for one joint or many.
type errorsOf struct {
	size, bias, over20, judged *tally
	// Within one and two stated standard errors; judged readings alone, since
	// the error is stated for them.
	in1, in2 *tally
}

func newErrors(groups int) *errorsOf {
	t := func() *tally { return newTally(groups) }
	return &errorsOf{t(), t(), t(), t(), t(), t()}
}

// add counts a reading that is off by err with the standard error se.
func (e *errorsOf) add(group int, err, se float64, judged bool) {
	e.size.add(group, math.Abs(err))
	e.bias.add(group, err)
	e.over20.is(group, math.Abs(err) > 20)
	e.judged.is(group, judged)
	if judged {
		e.in1.is(group, math.Abs(err) <= se)
		e.in2.is(group, math.Abs(err) <= 2*se)
	}
}

// worstToBest is the greatest of some means over the least. Means over nothing
// take no part; with less than two there is nothing to compare.
func worstToBest(of []*tally, times []int) float64 {
	least, greatest, n := math.Inf(1), 0.0, 0
	for _, t := range of {
		m := t.mean(times)
		if math.IsNaN(m) {
			continue
		}
		least, greatest, n = min(least, m), max(greatest, m), n+1
	}
	if n < 2 {
		return math.NaN()
	}
	return greatest / least
}
