package report

import (
	"bytes"
	"fmt"
	"image"
	"image/png"
	"time"

	"volar/internal/demonstration"
	"volar/internal/exercise"
	"volar/internal/hand"
	"volar/internal/handrender"
)

// drawer draws hands for the page, before white paper.
type drawer struct{ r *handrender.Renderer }

func newDrawer() (*drawer, error) {
	h, err := handrender.Default()
	if err != nil {
		return nil, fmt.Errorf("drawing hands: %w", err)
	}
	return &drawer{handrender.NewRenderer(h, handrender.Options{})}, nil
}

// Pixels of a drawn hand: 30 mm on paper at about 300 to the inch.
const drawnWidth, drawnHeight = 360, 300

var paper = handrender.Background{Kind: handrender.Plain, Colour: handrender.RGB{R: 1, G: 1, B: 1}}

// pose draws a hand at measured angles as a PNG file, as a camera sees it: only
// what a client sees of the own hand is mirrored.
func (d *drawer) pose(p hand.Pose, side hand.Side, yaw float64) ([]byte, error) {
	s := demonstration.Scene(side, exercise.View{YawDeg: yaw})
	s.Pose = p
	return encoded(d.draw(s))
}

// steps draws the key poses of a movement as the client sees the own hand, or
// both where it takes two, in order, each with what is said then; at most most of them.
func (d *drawer) steps(m *exercise.Movement, object string, side hand.Side, most int) (pictures [][]byte, said []string, err error) {
	plan := demonstration.Plan{Movement: m, Object: object, Side: side, Hold: time.Second, Rest: time.Second}
	shown, err := demonstration.Show(plan, m.View.Best)
	if err != nil {
		return nil, nil, err
	}
	add := func(at time.Duration, say string) error {
		img := d.draw(shown.Scene(at))
		demonstration.Mirror(img)
		b, err := encoded(img)
		pictures, said = append(pictures, b), append(said, say)
		return err
	}
	if err := add(0, "Begin"); err != nil {
		return nil, nil, err
	}
	at := plan.Rest
	last := m.Measure.From
	for _, p := range m.Phases {
		length := time.Duration(p.Seconds * float64(time.Second))
		if p.Name == exercise.HoldPhase && p.Seconds == 0 {
			length = plan.Hold
		}
		at += length
		same := p.To == last
		last = p.To
		if same || p.To == m.Measure.From || len(pictures) >= most {
			continue
		}
		if err := add(at, p.Say); err != nil {
			return nil, nil, err
		}
	}
	return pictures, said, nil
}

func (d *drawer) draw(s handrender.Scene) *image.RGBA {
	img := image.NewRGBA(image.Rect(0, 0, drawnWidth, drawnHeight))
	s.Background = paper
	if s.Behind == nil {
		s.Camera.Distance *= 0.78 // small on the page, so large in the picture
	}
	d.r.Render(img, s)
	return img
}

func encoded(img image.Image) ([]byte, error) {
	var b bytes.Buffer
	if err := png.Encode(&b, img); err != nil {
		return nil, fmt.Errorf("drawing: %w", err)
	}
	return b.Bytes(), nil
}
