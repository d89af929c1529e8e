package exercise

import (
	"maps"
	"slices"
)

// clone returns a movement that shares nothing with m that can be changed.
func (m *Movement) clone() *Movement {
	n := *m
	n.Objects = slices.Clone(m.Objects)
	n.Poses = maps.Clone(m.Poses)
	n.PoseWords = maps.Clone(m.PoseWords)
	n.Phases = slices.Clone(m.Phases)
	n.Measure.Ways = maps.Clone(m.Measure.Ways)
	n.Steps = slices.Clone(m.Steps)
	for i := range n.Steps {
		s := &n.Steps[i]
		s.Measure.Ways = maps.Clone(s.Measure.Ways)
		s.Keep = cloneKeeps(s.Keep)
	}
	n.Judge.Lower = cloneBounds(m.Judge.Lower)
	n.Judge.Upper = cloneBounds(m.Judge.Upper)
	n.Judge.Keep = cloneKeeps(m.Judge.Keep)
	for _, texts := range []*[]string{&n.Cautions, &n.AskFirst, &n.Poor, &n.Sources, &n.Notes} {
		*texts = slices.Clone(*texts)
	}
	return &n
}

func cloneBounds(all []Bound) []Bound {
	all = slices.Clone(all)
	for i := range all {
		all[i].Joints = slices.Clone(all[i].Joints)
	}
	return all
}

func cloneKeeps(all []Keep) []Keep {
	all = slices.Clone(all)
	for i := range all {
		k := &all[i]
		k.Joints, k.Channels = slices.Clone(k.Joints), slices.Clone(k.Channels)
		k.From, k.To = clonePointer(k.From), clonePointer(k.To)
	}
	return all
}

func clonePointer(p *float64) *float64 {
	if p == nil {
		return nil
	}
	v := *p
	return &v
}
