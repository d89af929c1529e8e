package exercise

import (
	"fmt"
	"maps"
	"math"
	"slices"
	"strings"

	"volar/internal/hand"
)

// leastTravel is how far, in weighted degrees over all joints and percent of
// the palm's length over all distances, the end pose must lie from the start
// pose for the way between them to be measured: well beyond the error of a
// single joint.
const leastTravel = 30

func (c *checker) measure(m *Movement, f measureFile) Measure {
	o := Measure{
		From: f.From, To: f.To, Combine: f.Combine,
		Enter: orDefault(f.Enter, 0.75), Leave: orDefault(f.Leave, 0.6),
		Rest: orDefault(f.Rest, 0.25), Attempt: orDefault(f.Attempt, 0.4),
	}
	c.combined("measure", &o)
	known := c.knownPose(m, "measure.from", o.From)
	if m.Kind == Unmeasured || m.Kind == Sequence {
		if f.To != "" || len(f.Weights) > 0 || len(f.Channels) > 0 {
			c.fault("measure", "a movement of kind %q has only a start pose (from) here", string(m.Kind))
		}
		if m.Kind == Sequence {
			c.thresholds("measure", o)
		}
		return o
	}
	if f.To == "" {
		c.fault("measure.to", "is missing")
		return o
	}
	known = c.knownPose(m, "measure.to", o.To) && known
	c.thresholds("measure", o)
	c.weigh("measure", &o, f.Weights, f.Channels)
	if known && o.Weights != [hand.NumChannels]float64{} {
		c.travel(m, o, "measure.to", o.To)
	}
	return o
}

// steps reads the steps of a sequence.
func (c *checker) steps(m *Movement, f *file) {
	if m.Kind != Sequence {
		switch {
		case len(f.Steps) > 0:
			c.fault("steps", "only a sequence has steps")
		case m.Between != "":
			c.fault("between", "only a sequence has a pose between its steps")
		case m.BackSeconds != 0:
			c.fault("back_s", "only a sequence has this; other movements have a phase for the way back")
		}
		return
	}
	if len(f.Steps) < 2 {
		c.fault("steps", "a sequence wants at least two steps")
	}
	if m.Between != "" {
		c.knownPose(m, "between", m.Between)
	}
	if m.BackSeconds != 0 {
		c.within("back_s", m.BackSeconds, 0.3, 60)
	}
	from, names := m.Measure.From, map[string]bool{}
	for i := range f.Steps {
		s := f.Steps[i].Step
		field := fmt.Sprintf("steps[%d]", i+1)
		if !idForm.MatchString(s.Name) || names[s.Name] {
			c.fault(field+".name", "%q is no name of its own", s.Name)
		}
		names[s.Name] = true
		c.words(field+".say", s.Say)
		c.within(field+".seconds", s.Seconds, 0.3, 60)
		c.within(field+".hold_s", s.HoldSeconds, 0, 120)
		for k, keep := range s.Keep {
			c.keep(fmt.Sprintf("%s.keep[%d]", field, k+1), keep)
		}
		s.Measure = c.stepMeasure(m, field, from, &f.Steps[i])
		m.Steps = append(m.Steps, s)
		if from = s.To; m.Between != "" {
			from = m.Between
		}
		m.Measure.To = s.To
	}
}

func (c *checker) stepMeasure(m *Movement, field, from string, f *stepFile) Measure {
	o := m.Measure
	o.From, o.To, o.Enter, o.Leave = from, f.To, orDefault(f.Enter, o.Enter), orDefault(f.Leave, o.Leave)
	if f.Combine != "" {
		o.Combine = f.Combine
		c.combined(field, &o)
	}
	known := c.knownPose(m, field+".to", o.To)
	if o.To == from {
		c.fault(field+".to", "the hand is at pose %q already", from)
		return o
	}
	c.thresholds(field, o)
	c.weigh(field, &o, f.Weights, f.Channels)
	if _, ok := m.Poses[from]; ok && known && o.Weights != [hand.NumChannels]float64{} {
		c.travel(m, o, field+".to", o.To)
	}
	return o
}

func (c *checker) combined(field string, o *Measure) {
	if o.Combine == "" {
		o.Combine = Mean
	}
	oneOf(c, field+".combine", o.Combine, Mean, Least)
}

func (c *checker) thresholds(field string, o Measure) {
	if !(0 < o.Rest && o.Rest < o.Attempt && o.Attempt <= o.Leave && o.Leave < o.Enter && o.Enter < 1) {
		c.fault(field, "wants 0 < rest < attempt <= leave < enter < 1, has %g, %g, %g, %g", o.Rest, o.Attempt, o.Leave, o.Enter)
	}
}

// weigh reads which channels take part in a measure. One whose way is stated
// and that has no weight weighs 1.
func (c *checker) weigh(field string, o *Measure, weights map[string]float64, ways map[string]Way) {
	o.Weights, o.Ways = [hand.NumChannels]float64{}, nil
	for _, pattern := range slices.Sorted(maps.Keys(weights)) {
		at, w := field+".weights."+pattern, weights[pattern]
		c.within(at, w, 0.05, 10)
		channels, err := hand.ParseChannels(pattern)
		if err != nil {
			c.fault(at, "%v", err)
		}
		for _, ch := range channels {
			if o.Weights[ch] != 0 {
				c.fault(at, "%s has a weight already", ch)
			}
			o.Weights[ch] = w
		}
	}
	for _, pattern := range slices.Sorted(maps.Keys(ways)) {
		at, way := field+".channels."+pattern, ways[pattern]
		channels, err := hand.ParseChannels(pattern)
		if err != nil {
			c.fault(at, "%v", err)
		}
		for _, ch := range channels {
			if _, joint := ch.Joint(); joint {
				c.fault(at, "%s is a joint: its way is that between the poses, give it a weight only", ch)
				continue
			}
			if _, twice := o.Ways[ch]; twice {
				c.fault(at, "%s has a way already", ch)
			}
			c.value(at+".from", ch, way.From)
			c.value(at+".to", ch, way.To)
			if o.Ways == nil {
				o.Ways = map[hand.Channel]Way{}
			}
			if o.Ways[ch] = way; o.Weights[ch] == 0 {
				o.Weights[ch] = 1
			}
		}
	}
	if len(weights) == 0 && len(ways) == 0 {
		c.fault(field+".weights", "wants at least one joint or channel")
	}
	for ch := hand.Channel(hand.NumJoints); ch < hand.NumChannels; ch++ {
		if _, stated := o.Ways[ch]; o.Weights[ch] != 0 && !stated {
			c.fault(field+".channels", "%s has a weight but no way; give from and to", ch)
		}
	}
}

// travel refuses an end pose that cannot be told from the start pose.
func (c *checker) travel(m *Movement, o Measure, field, end string) {
	o.To = end
	var far float64
	for ch, w := range o.Weights {
		way := m.Way(&o, hand.Channel(ch))
		far += w * math.Abs(way.To-way.From)
	}
	if far < leastTravel {
		c.fault(field, "pose %q lies only %.0f weighted degrees from pose %q; the way between them cannot be measured (wants %d)", end, far, o.From, leastTravel)
	}
}

func (c *checker) knownPose(m *Movement, field, name string) bool {
	if _, ok := m.Poses[name]; ok {
		return true
	}
	c.fault(field, "there is no pose %q; poses are %s", name, strings.Join(slices.Sorted(maps.Keys(m.Poses)), ", "))
	return false
}
