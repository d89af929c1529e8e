package portable

import (
	"cmp"
	"slices"
)

// align is the distance of places in the arena, in float32: a line of the
// cache.
const align = 16

// layOut gives every computed value memory. Values that are needed at
// different times share it; a value that only shows another in a new shape has
// that one's. Inputs and outputs keep theirs to themselves.
func layOut(g *network) {
	last := len(g.steps)
	var places []*value
	seen := map[*value]bool{}
	need := func(v *value, at int) {
		v = v.root()
		if v.known {
			return
		}
		if !seen[v] {
			seen[v] = true
			v.from, v.to = at, at
			places = append(places, v)
		}
		v.to = max(v.to, at)
	}
	for _, v := range g.in {
		need(v, 0)
		need(v, last)
	}
	for i, s := range g.steps {
		need(s.writes, i)
		for _, r := range s.reads {
			need(r, i)
		}
	}
	for _, v := range g.out {
		need(v, last)
	}

	// The largest first, each at the lowest place that is free while it is
	// needed.
	slices.SortStableFunc(places, func(a, b *value) int { return cmp.Compare(b.len(), a.len()) })
	size := 0
	for i, v := range places {
		var taken []*value
		for _, o := range places[:i] {
			if o.from <= v.to && v.from <= o.to {
				taken = append(taken, o)
			}
		}
		slices.SortFunc(taken, func(a, b *value) int { return cmp.Compare(a.offset, b.offset) })
		for _, o := range taken {
			if v.offset+room(v) <= o.offset {
				break
			}
			v.offset = max(v.offset, o.offset+room(o))
		}
		size = max(size, v.offset+room(v))
	}
	g.arena = make([]float32, size)
	give := func(v *value) {
		if r := v.root(); !r.known {
			v.data = g.arena[r.offset:][:r.len():r.len()]
		} else {
			v.data = r.data
		}
	}
	for _, s := range g.steps {
		give(s.writes)
		for _, r := range s.reads {
			give(r)
		}
	}
	for _, v := range slices.Concat(g.in, g.out) {
		give(v)
	}
}

func room(v *value) int { return (v.len() + align - 1) / align * align }
