package program_test

import (
	"testing"

	"github.com/stretchr/testify/require"

	"volar/internal/program"
)

func TestDiff(t *testing.T) {
	for name, c := range map[string]struct {
		change func(*program.Program)
		want   []program.Change
	}{
		"nothing": {func(p *program.Program) {}, nil},
		"the next step earlier": {
			func(p *program.Program) { p.Limits[1].Schedule[1].From.Day = 5 },
			[]program.Change{{"limits", "limit: index PIP: not straighter than 30° short of straight, not bent beyond 90°; from 5 December 2026 not straighter than 20° short of straight; from 15 December 2026 not straighter than 10° short of straight, free towards the fist; was not straighter than 30° short of straight, not bent beyond 90°; from 8 December 2026 not straighter than 20° short of straight; from 15 December 2026 not straighter than 10° short of straight, free towards the fist"}},
		},
		"past straight without a sign": {
			func(p *program.Program) { p.Limits[0].Schedule[0].Lower = program.Deg(-5) },
			[]program.Change{{"limits", "limit: all PIP: not more than 5° past straight; was not past straight"}},
		},
		"a limit more and one less": {
			func(p *program.Program) {
				p.Limits[0] = program.Limit{Joints: "thumb.ip", Schedule: []program.Step{{Upper: program.Deg(60)}}}
			},
			[]program.Change{{"limits", "limit, new: thumb IP: not bent beyond 60°"}, {"limits", "limit, no longer: all PIP: not past straight"}},
		},
		"a limit of the other hand": {
			func(p *program.Program) {
				p.Limits = append(p.Limits, program.Limit{Joints: "*.pip", Side: p.Side.Other(), Schedule: []program.Step{{Lower: program.Deg(5)}}})
			},
			[]program.Change{{"limits", "limit, new: all PIP of the right hand: not straighter than 5° short of straight"}},
		},
		"the same for the other hand": {
			func(p *program.Program) { p.Limits[0].Side = p.Side.Other() },
			[]program.Change{{"limits", "limit, new: all PIP of the right hand: not past straight"}, {"limits", "limit, no longer: all PIP: not past straight"}},
		},
		"limits in another order": {
			func(p *program.Program) { p.Limits[0], p.Limits[1] = p.Limits[1], p.Limits[0] },
			[]program.Change{{"limits", "limits are in another order"}},
		},
		"dose": {
			func(p *program.Program) { n := 8; p.Exercises[0].Dose.Repetitions = &n },
			[]program.Change{{"exercises.hook-fist.dose", "hook-fist: dose: 1 set of 8 repetitions, hold 3 s, 3 times a day, 7 days a week, was 1 set of 5 repetitions, hold 3 s, 3 times a day, 7 days a week"}},
		},
		"grade": {
			func(p *program.Program) { p.Exercises[1].Grade = "usual" },
			[]program.Change{{"exercises.whole-hand-grip.object", "whole-hand-grip: object: towel, usual, was thick-towel, easier"}},
		},
		"target": {
			func(p *program.Program) { d := 70.0; p.Exercises[0].Targets[0].Deg = &d },
			[]program.Change{{"exercises.hook-fist.targets", "hook-fist: target, new: index PIP to 70°"}, {"exercises.hook-fist.targets", "hook-fist: target, no longer: index PIP to 60°"}},
		},
		"one exercise less": {
			func(p *program.Program) { p.Exercises = p.Exercises[:2] },
			[]program.Change{{"exercises", "exercise removed, other-hand: Whole-hand grip (cylindrical grip and release)"}},
		},
		"one more, first": {
			func(p *program.Program) {
				p.Exercises = append([]program.Exercise{{Movement: "tabletop"}}, p.Exercises...)
			},
			[]program.Change{{"exercises", "new exercise 1, tabletop: Tabletop (intrinsic plus), 1 set of 10 repetitions, hold 5 s, 3 times a day, 7 days a week"}},
		},
		"order": {
			func(p *program.Program) { p.Exercises[0], p.Exercises[1] = p.Exercises[1], p.Exercises[0] },
			[]program.Change{{"exercises", "order: whole-hand-grip, hook-fist, other-hand, was hook-fist, whole-hand-grip, other-hand"}},
		},
		"head": {
			func(p *program.Program) {
				p.NextReview, p.Cue, p.Zone, p.History, p.Notes = p.NextReview.AddDays(7), "", "America/New_York", "", "Ask about work."
				p.Precautions, p.Avoid, p.SideViewCheck = nil, nil, false
			},
			[]program.Change{
				{"next_review", "next review: 29 December 2026, was 22 December 2026"},
				{"zone", "time zone: America/New_York, was Europe/Berlin"},
				{"history", "history removed"},
				{"notes", "notes rewritten"},
				{"precautions", "precaution, no longer: healing-fracture (index finger, base of the middle phalanx)"},
				{"avoid", "to avoid, no longer: harder-grade"},
				{"cue", "cue at a limit: usual, was early"},
				{"side_view_check", "side view before the first exercise: no, was yes"},
			},
		},
	} {
		t.Run(name, func(t *testing.T) {
			a, b := parse(t, block), parse(t, block)
			c.change(b)
			faults, _ := b.Check(program.Source{})
			require.Empty(t, faults)
			require.Equal(t, c.want, program.Diff(a, b))
		})
	}
}
