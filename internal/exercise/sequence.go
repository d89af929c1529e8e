package exercise

// Step is one of the poses that a sequence goes through.
//
// The hand has done a step where the step's measure is in its end zone and
// every Keep of the step is kept. That tells a hook from a full fist, which
// bends the same joints and one more.
type Step struct {
	// Name is lower case with hyphens, such as "hook"; flags name it.
	Name string `yaml:"name,required" json:"name"`
	// To names the step's pose.
	To string `yaml:"to,required" json:"to"`
	// Seconds is how long the way there usually takes, HoldSeconds how long the
	// pose is held; 0 is the dose's hold.
	Seconds     float64 `yaml:"seconds,required" json:"seconds"`
	HoldSeconds float64 `yaml:"hold_s" json:"hold_s,omitempty"`
	// Say is what the client is told as the step begins.
	Say string `yaml:"say,required" json:"say"`
	// Measure drives the step. It begins at the pose that the hand comes from:
	// the movement's Between, or else the step before, or the start pose.
	Measure Measure `yaml:"-" json:"-"`
	// Keep lists what must stay in a range in this pose.
	Keep []Keep `yaml:"keep" json:"keep,omitempty"`
}

// steps lays the steps of a sequence out as phases.
func (m *Movement) stepPhases() []Phase {
	var out []Phase
	back := m.BackSeconds
	if back == 0 {
		back = 1
	}
	for i, s := range m.Steps {
		out = append(out, Phase{Name: Approach, To: s.To, Seconds: s.Seconds, Say: s.Say, Step: i + 1})
		if s.HoldSeconds > 0 || m.Dose.HoldSeconds > 0 {
			out = append(out, Phase{Name: HoldPhase, To: s.To, Seconds: s.HoldSeconds, Step: i + 1})
		}
		if m.Between != "" && i < len(m.Steps)-1 {
			out = append(out, Phase{Name: Return, To: m.Between, Seconds: back, Step: i + 1})
		}
	}
	if n := len(m.Steps); n > 0 && m.Steps[n-1].To != m.Measure.From {
		out = append(out, Phase{Name: Return, To: m.Measure.From, Seconds: back})
	}
	// A moment of rest parts one repetition from the next.
	return append(out, Phase{Name: HoldPhase, To: m.Measure.From, Seconds: 1})
}
