package handrender

// Pattern is how a surface's two colours are laid out.
type Pattern int8

// The patterns.
const (
	Uniform Pattern = iota
	Stripes
	Dots
	Weave
)

// Object is something in the hand.
type Object struct {
	Kind ObjectKind
}

// ObjectKind names an object.
type ObjectKind int8

// The objects.
const (
	NoObject ObjectKind = iota
)

// Worn is what the hand wears.
type Worn struct{}

func (f *fabric) at(l *lattice, p vec) vec {
	return f.colour.mul(1 + 0.12*l.at(p.mul(60), f.seed))
}
