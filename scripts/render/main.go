// Command render makes pictures and clips of the rendered hand for developers.
//
//	go run ./scripts/render still -o hook.png --pose hook --yaw 90
//	go run ./scripts/render sheet -o sheet.png
//	go run ./scripts/render clip -o fist.avi --from straight --to fist --count 5
package main

import (
	"context"
	"fmt"
	"image"
	"image/draw"
	"image/png"
	"maps"
	"os"
	"os/signal"
	"path/filepath"
	"slices"
	"strings"
	"time"

	"github.com/alecthomas/kong"

	"volar/internal/hand"
	"volar/internal/handrender"
)

type look struct {
	Hand     string  `help:"GLB file with WebXR joint names; the built-in hand if empty" type:"existingfile"`
	Side     string  `help:"left or right" default:"right"`
	Tone     float64 `help:"skin tone, 0 very light to 1 very dark" default:"0.3"`
	Quality  string  `help:"draft, normal or high" enum:"draft,normal,high" default:"normal"`
	Width    int     `default:"640"`
	Height   int     `default:"480"`
	Sleeve   bool
	Backdrop string  `enum:"plain,gradient,clutter" default:"gradient"`
	Distance float64 `help:"metres" default:"0.42"`
	Roll     float64
	Pitch    float64
	Object   string `help:"ball, roll, lump, sheet or band; the fingers close on the first three" default:""`
	Worn     string `help:"any of rings, splint, tape, joined by commas"`
	mesh     *handrender.Hand
}

func (l *look) renderer() (*handrender.Renderer, error) {
	h, err := handrender.Default()
	if l.Hand != "" {
		b, rerr := os.ReadFile(l.Hand)
		if rerr != nil {
			return nil, rerr
		}
		if h, err = handrender.Load(b); err != nil {
			err = fmt.Errorf("%s: %w", l.Hand, err)
		}
	}
	if err != nil {
		return nil, err
	}
	l.mesh = h
	q := map[string]handrender.Quality{"draft": handrender.Draft, "normal": handrender.Normal, "high": handrender.High}
	return handrender.NewRenderer(h, handrender.Options{Quality: q[l.Quality]}), nil
}

func (l *look) scene(r *handrender.Renderer, pose handrender.Pose, yaw float64) (handrender.Scene, error) {
	side, err := hand.ParseSide(l.Side)
	if err != nil {
		return handrender.Scene{}, err
	}
	k := map[string]handrender.BackgroundKind{"plain": handrender.Plain, "gradient": handrender.Gradient, "clutter": handrender.Clutter}
	s := handrender.Scene{
		Hand: l.mesh, Pose: pose, Side: side,
		View:       handrender.View{Yaw: yaw, Pitch: l.Pitch, Roll: l.Roll},
		Camera:     handrender.Camera{Distance: l.Distance},
		Skin:       handrender.Skin{Tone: l.Tone},
		Background: handrender.Background{Kind: k[l.Backdrop]},
		Sleeve:     handrender.Sleeve{On: l.Sleeve},
	}
	objects := map[string]handrender.ObjectKind{"": handrender.NoObject, "ball": handrender.Ball, "roll": handrender.Roll, "lump": handrender.Lump, "sheet": handrender.Sheet, "band": handrender.Band}
	o, ok := objects[l.Object]
	if !ok {
		return s, fmt.Errorf("object %q is not known", l.Object)
	}
	s.Object.Kind = o
	if o == handrender.Roll {
		s.Object.Fabric.Pattern = handrender.Terry
	}
	if strings.Contains(l.Worn, "rings") {
		s.Worn.Rings[hand.Ring] = true
	}
	s.Worn.Splint = strings.Contains(l.Worn, "splint")
	if strings.Contains(l.Worn, "tape") {
		s.Worn.Tape[hand.Index] = true
	}
	s.Pose = r.Grip(s)
	return s, nil
}

var poses = map[string]func() handrender.Pose{
	"straight": handrender.Straight, "hook": handrender.Hook, "fist": handrender.FullFist,
	"straight-fist": handrender.StraightFist, "tabletop": handrender.Tabletop,
	"relaxed": handrender.Relaxed, "pinch": handrender.Pinch,
	"hyper": func() handrender.Pose { return handrender.Hyperextended(18) },
}

// pose finds a pose by name. Thumb opposition depends on the hand.
func (l *look) pose(r *handrender.Renderer, name string) (handrender.Pose, error) {
	for _, f := range hand.Fingers {
		if name == "oppose-"+f.String() {
			return r.Oppose(handrender.Scene{Hand: l.mesh, Pose: handrender.Relaxed()}, f), nil
		}
	}
	f, ok := poses[name]
	if !ok {
		return handrender.Pose{}, fmt.Errorf("pose %q is not known; poses are %s and oppose-index to oppose-little", name, strings.Join(slices.Sorted(maps.Keys(poses)), ", "))
	}
	return f(), nil
}

func writePNG(path string, img image.Image) error {
	f, err := os.Create(path)
	if err != nil {
		return err
	}
	if err := png.Encode(f, img); err != nil {
		f.Close()
		return fmt.Errorf("write %s: %w", path, err)
	}
	return f.Close()
}

type stillCmd struct {
	look `embed:""`
	Out  string `short:"o" required:"" help:"PNG to write"`
	Pose string `default:"straight"`
	Yaw  float64
}

func (c *stillCmd) Run() error {
	r, err := c.renderer()
	if err != nil {
		return err
	}
	p, err := c.pose(r, c.Pose)
	if err != nil {
		return err
	}
	s, err := c.scene(r, p, c.Yaw)
	if err != nil {
		return err
	}
	img := image.NewRGBA(image.Rect(0, 0, c.Width, c.Height))
	r.Render(img, s)
	return writePNG(c.Out, img)
}

type sheetCmd struct {
	look  `embed:""`
	Out   string    `short:"o" required:"" help:"PNG to write"`
	Poses string    `default:"straight,hook,fist,straight-fist,tabletop,pinch,hyper"`
	Yaws  []float64 `default:"0,45,75,90,105,180,-90"`
}

func (c *sheetCmd) Run() error {
	r, err := c.renderer()
	if err != nil {
		return err
	}
	names := strings.Split(c.Poses, ",")
	sheet := image.NewRGBA(image.Rect(0, 0, c.Width*len(c.Yaws), c.Height*len(names)))
	img := image.NewRGBA(image.Rect(0, 0, c.Width, c.Height))
	for j, n := range names {
		p, err := c.pose(r, n)
		if err != nil {
			return err
		}
		for i, yaw := range c.Yaws {
			s, err := c.scene(r, p, yaw)
			if err != nil {
				return err
			}
			r.Render(img, s)
			draw.Draw(sheet, img.Rect.Add(image.Pt(i*c.Width, j*c.Height)), img, image.Point{}, draw.Src)
		}
	}
	return writePNG(c.Out, sheet)
}

type clipCmd struct {
	look  `embed:""`
	Out   string        `short:"o" required:"" help:"AVI to write; the truth goes beside it as .json"`
	From  string        `default:"straight"`
	To    string        `default:"fist"`
	Count int           `default:"3"`
	Move  time.Duration `default:"1s"`
	Hold  time.Duration `default:"500ms"`
	Rest  time.Duration `default:"500ms"`
	Yaw   float64
	Noise float64 `default:"2"`
	Blur  float64 `help:"motion blur, share of the frame time" default:"0.5"`
}

func (c *clipCmd) Run() error {
	r, err := c.renderer()
	if err != nil {
		return err
	}
	from, err := c.pose(r, c.From)
	if err != nil {
		return err
	}
	to, err := c.pose(r, c.To)
	if err != nil {
		return err
	}
	s, err := c.scene(r, to, c.Yaw)
	if err != nil {
		return err
	}
	s.Effects.Noise = c.Noise
	// The scene's pose is the one that has closed on an object.
	m, events := handrender.Repetitions{From: from, To: s.Pose, Count: c.Count, Move: c.Move, Hold: c.Hold, Rest: c.Rest}.Motion()
	ctx, stop := signal.NotifyContext(context.Background(), os.Interrupt)
	defer stop()
	truth := strings.TrimSuffix(c.Out, filepath.Ext(c.Out)) + ".json"
	return handrender.WriteClip(ctx, handrender.ClipSpec{
		Motion: m, Events: events, Scene: s, Width: c.Width, Height: c.Height, MotionBlur: c.Blur,
	}, c.Out, truth)
}

func main() {
	var cli struct {
		Clip  clipCmd  `cmd:"" help:"a repeated movement as video with truth"`
		Still stillCmd `cmd:"" help:"one picture"`
		Sheet sheetCmd `cmd:"" help:"poses by views on one sheet"`
	}
	k := kong.Parse(&cli, kong.Name("render"))
	k.FatalIfErrorf(k.Run())
}
