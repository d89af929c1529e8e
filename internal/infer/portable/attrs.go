package portable

import "fmt"

// Attributes of a node, with the default that the ONNX operator specification
// gives, as the caller states it.

func (c *call) int(name string, otherwise int) (int, error) {
	switch v := c.attrs[name].(type) {
	case nil:
		return otherwise, nil
	case int64:
		if v < -maxElements || v > maxElements {
			return 0, fmt.Errorf("attribute %s is %d", name, v)
		}
		return int(v), nil
	default:
		return 0, fmt.Errorf("attribute %s is not a whole number", name)
	}
}

func (c *call) float(name string, otherwise float32) (float32, error) {
	switch v := c.attrs[name].(type) {
	case nil:
		return otherwise, nil
	case float32:
		return v, nil
	default:
		return 0, fmt.Errorf("attribute %s is not a number", name)
	}
}

// ints returns nil where the attribute is absent.
func (c *call) ints(name string) ([]int, error) {
	switch v := c.attrs[name].(type) {
	case nil:
		return nil, nil
	case []int64:
		r := make([]int, len(v))
		for i, x := range v {
			if x < -maxElements || x > maxElements {
				return nil, fmt.Errorf("attribute %s holds %d", name, x)
			}
			r[i] = int(x)
		}
		return r, nil
	default:
		return nil, fmt.Errorf("attribute %s is not a list of whole numbers", name)
	}
}

// only says that an attribute, if it is there, has the one supported value.
func (c *call) only(name string, want any) error {
	if v, ok := c.attrs[name]; ok && v != want {
		return fmt.Errorf("attribute %s is %v, only %v is supported", name, v, want)
	}
	return nil
}

// axis brings an axis from -rank…rank-1 into 0…rank-1.
func axis(a, rank int) (int, error) {
	if a < -rank || a >= rank {
		return 0, fmt.Errorf("axis %d of %d", a, rank)
	}
	if a < 0 {
		a += rank
	}
	return a, nil
}

// axes reads a list of axes and marks them; nothing in the list stands for
// all.
func axes(list []int, rank int) ([]bool, error) {
	marked := make([]bool, rank)
	for _, a := range list {
		a, err := axis(a, rank)
		if err != nil {
			return nil, err
		}
		if marked[a] {
			return nil, fmt.Errorf("axis %d twice", a)
		}
		marked[a] = true
	}
	for i := range marked {
		marked[i] = marked[i] || len(list) == 0
	}
	return marked, nil
}
