package portable

import (
	"errors"
	"fmt"

	"google.golang.org/protobuf/encoding/protowire"
)

// Limits of what is read: generous for the project's graphs, and small enough
// that no file makes the decoder ask for more memory than a laptop has.
const (
	maxElements = 1 << 24 // of one tensor; whole numbers to here are exact in float32
	maxNodes    = 1 << 14
	maxRank     = 6
	minOpset    = 10
	maxOpset    = 12
)

// Field numbers of onnx.proto, ONNX 1.6.
const (
	modelGraph, modelOpset                                      = 7, 8
	opsetDomain, opsetVersion                                   = 1, 2
	graphNode, graphConstant, graphInput, graphOutput, graphVal = 1, 5, 11, 12, 13
	nodeAttribute, attributeTensor                              = 5, 5
	tensorDims, tensorType, tensorRaw                           = 1, 2, 9
	valueType, typeTensor, tensorShape, shapeDim, dimValue      = 2, 1, 2, 1, 1
)

var errBounds = errors.New("the file is damaged, or larger than this engine reads")

// checkBounds walks over the file before it is decoded: the decoder allocates
// whatever a shape says, and stops the program where a shape and its data
// differ. It also reads the operator set, which the decoder does not tell.
func checkBounds(model []byte) error {
	opset, graphs := uint64(0), 0
	err := fields(model, func(num protowire.Number, v uint64, b []byte) error {
		switch num {
		case modelGraph:
			graphs++
			return checkGraph(b)
		case modelOpset:
			standard := true
			version := uint64(0)
			err := fields(b, func(num protowire.Number, v uint64, b []byte) error {
				switch num {
				case opsetDomain:
					standard = len(b) == 0
				case opsetVersion:
					version = v
				}
				return nil
			})
			if standard {
				opset = version
			}
			return err
		}
		return nil
	})
	switch {
	case err != nil:
		return err
	case graphs != 1:
		return fmt.Errorf("%w: %d graphs, want 1", errBounds, graphs)
	case opset < minOpset || opset > maxOpset:
		return fmt.Errorf("operator set %d, want %d to %d", opset, minOpset, maxOpset)
	}
	return nil
}

func checkGraph(graph []byte) error {
	nodes := 0
	return fields(graph, func(num protowire.Number, _ uint64, b []byte) error {
		switch num {
		case graphNode:
			if nodes++; nodes > maxNodes {
				return fmt.Errorf("%w: more than %d nodes", errBounds, maxNodes)
			}
			return fields(b, func(num protowire.Number, _ uint64, b []byte) error {
				if num != nodeAttribute {
					return nil
				}
				return fields(b, func(num protowire.Number, _ uint64, b []byte) error {
					if num != attributeTensor {
						return nil
					}
					return checkConstant(b)
				})
			})
		case graphConstant:
			return checkConstant(b)
		case graphInput, graphOutput, graphVal:
			return checkDeclared(b)
		}
		return nil
	})
}

// elementBytes is the size of an element by TensorProto.DataType: FLOAT and
// INT64.
var elementBytes = map[uint64]int{1: 4, 7: 8}

// checkConstant wants a tensor with as much data as its shape says.
func checkConstant(b []byte) error {
	n, rank, size, raw := 1, 0, 0, -1
	dim := func(v uint64) error {
		if rank++; v < 1 || v > maxElements || uint64(n)*v > maxElements || rank > maxRank {
			return fmt.Errorf("%w: a constant with dimension %d", errBounds, int64(v))
		}
		n *= int(v)
		return nil
	}
	err := fields(b, func(num protowire.Number, v uint64, b []byte) error {
		switch {
		case num == tensorDims && b != nil: // packed
			for len(b) > 0 {
				v, l := protowire.ConsumeVarint(b)
				if l < 0 {
					return errBounds
				}
				if err := dim(v); err != nil {
					return err
				}
				b = b[l:]
			}
		case num == tensorDims:
			return dim(v)
		case num == tensorType:
			size = elementBytes[v]
		case num == tensorRaw:
			raw = len(b)
		}
		return nil
	})
	if err != nil {
		return err
	}
	if size == 0 || raw != n*size {
		return fmt.Errorf("%w: a constant of %d elements has %d bytes, or is neither float32 nor int64", errBounds, n, raw)
	}
	return nil
}

// checkDeclared wants a shape of fixed, sensible dimensions, if any.
func checkDeclared(b []byte) error {
	n, rank := uint64(1), 0
	within := func(want protowire.Number, then func([]byte) error) func(protowire.Number, uint64, []byte) error {
		return func(num protowire.Number, _ uint64, b []byte) error {
			if num != want {
				return nil
			}
			return then(b)
		}
	}
	return fields(b, within(valueType, func(b []byte) error {
		return fields(b, within(typeTensor, func(b []byte) error {
			return fields(b, within(tensorShape, func(b []byte) error {
				return fields(b, within(shapeDim, func(b []byte) error {
					return fields(b, func(num protowire.Number, v uint64, _ []byte) error {
						if num != dimValue {
							return nil
						}
						if rank++; v < 1 || v > maxElements || n*v > maxElements || rank > maxRank {
							return fmt.Errorf("%w: an input or output with dimension %d", errBounds, int64(v))
						}
						n *= v
						return nil
					})
				}))
			}))
		}))
	}))
}

// fields calls f with each field of a message: v for a varint, b for bytes.
func fields(msg []byte, f func(num protowire.Number, v uint64, b []byte) error) error {
	for len(msg) > 0 {
		num, kind, l := protowire.ConsumeTag(msg)
		if l < 0 {
			return errBounds
		}
		msg = msg[l:]
		var v uint64
		var b []byte
		switch kind {
		case protowire.VarintType:
			v, l = protowire.ConsumeVarint(msg)
		case protowire.BytesType:
			if b, l = protowire.ConsumeBytes(msg); b == nil {
				b = []byte{}
			}
		default:
			l = protowire.ConsumeFieldValue(num, kind, msg)
		}
		if l < 0 {
			return errBounds
		}
		if err := f(num, v, b); err != nil {
			return err
		}
		msg = msg[l:]
	}
	return nil
}
