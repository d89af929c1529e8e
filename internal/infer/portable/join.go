package portable

// tail is what is done with the rows of a convolution or matrix product while
// they are still in the cache: the values of another tensor are added, then
// one activation is applied.
type tail struct {
	add   *value // or nil
	slope *value // of a PRelu, or nil
	clip  *node  // a Clip or Relu, or nil
}

// join finds chains Conv → Add → activation and Gemm → activation of which
// each value is read only by the next, and makes one call of each, in the
// place of its last node: by then the other tensor of the addition is there.
func join(f *file) []call {
	readers := map[*value][]int{}
	for i, n := range f.nodes {
		for _, v := range n.in {
			readers[v] = append(readers[v], i)
		}
	}
	for _, o := range f.outputs {
		readers[o] = append(readers[o], -1, -1) // somebody outside
	}
	gone := make([]bool, len(f.nodes))
	at := make([]call, len(f.nodes))
	for i, n := range f.nodes {
		if gone[i] {
			continue
		}
		c, place := call{node: n}, i
		next := func() (int, *node) {
			// Of two convolutions that are added, only one takes the addition.
			if r := readers[c.out]; len(r) == 1 && !gone[r[0]] {
				return r[0], &f.nodes[r[0]]
			}
			return -1, nil
		}
		take := func(j int) {
			c.out = f.nodes[j].out
			gone[j], place = true, j
		}
		if n.op == "Conv" {
			if j, a := next(); a != nil && a.op == "Add" && len(a.in) == 2 && a.in[0] != nil && a.in[1] != nil {
				other := a.in[0]
				if other == c.out {
					other = a.in[1]
				}
				// A constant may be of another shape: leave it to Add.
				if !other.known {
					c.then.add = other
					take(j)
				}
			}
			if j, p := next(); p != nil && p.op == "PRelu" && len(p.in) == 2 && p.in[0] == c.out && p.in[1] != nil && p.in[1].known {
				c.then.slope = p.in[1]
				take(j)
			}
		}
		if n.op == "Conv" || n.op == "Gemm" {
			if j, a := next(); a != nil && c.then.slope == nil && (a.op == "Relu" || a.op == "Clip" && len(a.in) == 1) {
				c.then.clip = a
				take(j)
			}
		}
		at[place] = c
	}
	var calls []call
	for i := range at {
		if at[i].out != nil {
			calls = append(calls, at[i])
		}
	}
	return calls
}
