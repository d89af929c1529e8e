package exercise

import (
	"bytes"
	"encoding"
	"encoding/json"
	"fmt"
	"reflect"
	"slices"
	"strings"

	"volar/internal/hand"
)

// MarshalJSON writes the movement as its file has it, with the same names.
// Since JSON is YAML, Parse reads what it writes.
func (m *Movement) MarshalJSON() ([]byte, error) {
	f := file{Movement: *m, Poses: map[string]poseFile{}, Measure: measureOf(&m.Measure)}
	if m.Kind == Sequence {
		f.Phases, f.Measure.To = nil, ""
	}
	for name, p := range m.Poses {
		f.Poses[name] = poseOf(m.PoseWords[name], p)
	}
	for _, s := range m.Steps {
		k := measureOf(&s.Measure)
		f.Steps = append(f.Steps, stepFile{Step: s, Weights: k.Weights, Channels: k.Channels, Combine: k.Combine, Enter: k.Enter, Leave: k.Leave})
	}
	var b bytes.Buffer
	if err := encode(&b, reflect.ValueOf(f)); err != nil {
		return nil, fmt.Errorf("movement %s: %w", m.ID, err)
	}
	return b.Bytes(), nil
}

// UnmarshalJSON reads what MarshalJSON writes, with all the checks of Parse.
func (m *Movement) UnmarshalJSON(data []byte) error {
	n, err := parse(data)
	if err != nil {
		return err
	}
	*m = *n
	return nil
}

func measureOf(k *Measure) measureFile {
	f := measureFile{From: k.From, To: k.To, Combine: k.Combine, Enter: &k.Enter, Leave: &k.Leave, Rest: &k.Rest, Attempt: &k.Attempt,
		Weights: map[string]float64{}, Channels: map[string]Way{}}
	for c := hand.Channel(0); c < hand.NumChannels; c++ {
		if k.Weights[c] != 0 {
			f.Weights[c.String()] = k.Weights[c]
		}
		if w, ok := k.Ways[c]; ok {
			f.Channels[c.String()] = w
		}
	}
	return f
}

func poseOf(words string, p Pose) poseFile {
	own := func(g FingerPose) *fingerFile {
		return &fingerFile{MCP: &g.MCP, PIP: &g.PIP, DIP: &g.DIP, Abduction: &g.Abduction}
	}
	return poseFile{Words: words, Index: own(p.Fingers[0]), Middle: own(p.Fingers[1]), Ring: own(p.Fingers[2]), Little: own(p.Fingers[3]),
		Thumb: thumbFile(p.Thumb), Wrist: wristFile(p.Wrist)}
}

// MarshalText writes the set as a pattern; an error where no pattern is
// exactly this set.
func (j Joints) MarshalText() ([]byte, error) {
	all := make([]hand.Channel, len(j))
	for i, x := range j {
		all[i] = hand.Channel(x)
	}
	return Channels(all).MarshalText()
}

// MarshalText writes the set as a pattern; an error where no pattern is
// exactly this set.
func (k Channels) MarshalText() ([]byte, error) {
	for c := hand.Channel(0); c < hand.NumChannels; c++ {
		digit, level, _ := strings.Cut(c.String(), ".")
		for _, pattern := range []string{c.String(), "*." + level, digit + ".*", "*"} {
			if set, err := hand.ParseChannels(pattern); err == nil && slices.Equal(set, []hand.Channel(k)) {
				return []byte(pattern), nil
			}
		}
	}
	return nil, fmt.Errorf("the joints %v cannot be written as one pattern", []hand.Channel(k))
}

// encode writes a value with the names that the file has, in the same order,
// and leaves out what is at its zero value and need not be there.
func encode(b *bytes.Buffer, v reflect.Value) error {
	if v.Kind() == reflect.Pointer {
		return encode(b, v.Elem())
	}
	if v.Kind() != reflect.Struct || v.Type().Implements(reflect.TypeFor[encoding.TextMarshaler]()) {
		return encodeOther(b, v)
	}
	b.WriteByte('{')
	first := true
	for _, f := range reflect.VisibleFields(v.Type()) {
		name, opt, _ := strings.Cut(f.Tag.Get("yaml"), ",")
		x := v.FieldByIndex(f.Index)
		if name == "" || name == "-" || opt != "required" && empty(x) {
			continue
		}
		if !first {
			b.WriteByte(',')
		}
		first = false
		fmt.Fprintf(b, "%q:", name)
		if err := encode(b, x); err != nil {
			return fmt.Errorf("%s: %w", name, err)
		}
	}
	b.WriteByte('}')
	return nil
}

func empty(v reflect.Value) bool {
	return v.IsZero() || (v.Kind() == reflect.Slice || v.Kind() == reflect.Map) && v.Len() == 0
}

func encodeOther(b *bytes.Buffer, v reflect.Value) error {
	_, text := v.Interface().(encoding.TextMarshaler)
	switch {
	case v.Kind() == reflect.Slice && !text:
		b.WriteByte('[')
		for i := range v.Len() {
			if i > 0 {
				b.WriteByte(',')
			}
			if err := encode(b, v.Index(i)); err != nil {
				return fmt.Errorf("[%d]: %w", i+1, err)
			}
		}
		b.WriteByte(']')
		return nil
	case v.Kind() == reflect.Map:
		keys := v.MapKeys()
		slices.SortFunc(keys, func(a, b reflect.Value) int { return strings.Compare(a.String(), b.String()) })
		b.WriteByte('{')
		for i, k := range keys {
			if i > 0 {
				b.WriteByte(',')
			}
			fmt.Fprintf(b, "%q:", k.String())
			if err := encode(b, v.MapIndex(k)); err != nil {
				return fmt.Errorf("%s: %w", k, err)
			}
		}
		b.WriteByte('}')
		return nil
	}
	enc := json.NewEncoder(b)
	enc.SetEscapeHTML(false)
	if err := enc.Encode(v.Interface()); err != nil {
		return err
	}
	b.Truncate(b.Len() - 1) // the encoder's line end
	return nil
}
