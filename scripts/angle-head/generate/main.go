// Command generate renders hand crops with their labels, and backgrounds, for
// the training of the angle head.
//
//	generate -mode train -meshes FOLDER -seed 1 -n 4096 -shards 8 -out data/train
//
// Each shard is three files: PREFIXi.img, n pictures of 224 x 224 pixels, four
// bytes each with premultiplied alpha; PREFIXi.lab, n rows of 32-bit floats;
// and an empty PREFIXi.done once both are complete. layout.json beside them
// names the columns of a row. With -mode backgrounds it writes n pictures of
// 256 x 256 pixels of three bytes into the file -out.
//
// Modes: train draws from the training meshes, poses and lights; test from
// meshes, lights and pose families that training never shows; hyper lays out a
// grid of straight and hyperextended fingers by view, on test meshes; moments
// shows test meshes amid the movements of the catalogue. The same arguments
// give the same pictures on any number of processors.
package main

import (
	"bufio"
	"encoding/binary"
	"encoding/json"
	"errors"
	"flag"
	"fmt"
	"image"
	"image/png"
	"math"
	"math/rand/v2"
	"os"
	"path/filepath"
	"runtime"
	"sort"
	"sync"
	"sync/atomic"
	"time"

	"volar/internal/handrender"
)

type config struct {
	mode, meshes, out, sheet string
	seed                     uint64
	n, first, shards         int
	workers                  int
}

func main() {
	var c config
	flag.StringVar(&c.mode, "mode", "train", "train, test, hyper, moments or backgrounds")
	flag.StringVar(&c.meshes, "meshes", "", "folder of more rigged hands (.glb), beside the renderer's own")
	flag.StringVar(&c.out, "out", "", "prefix of the shards, or the file of backgrounds")
	flag.StringVar(&c.sheet, "sheet", "", "also draw the first 48 crops into this PNG")
	flag.Uint64Var(&c.seed, "seed", 1, "seed of everything random")
	flag.IntVar(&c.n, "n", 4096, "pictures a shard")
	flag.IntVar(&c.first, "first", 0, "number of the first shard")
	flag.IntVar(&c.shards, "shards", 0, "number of shards; 0 = one without a number")
	flag.IntVar(&c.workers, "workers", runtime.GOMAXPROCS(0), "goroutines")
	flag.Parse()
	if err := run(c); err != nil {
		fmt.Fprintln(os.Stderr, "generate:", err)
		os.Exit(1)
	}
}

func run(c config) error {
	if c.out == "" || c.n < 1 {
		return errors.New("-out and a positive -n are needed")
	}
	if err := os.MkdirAll(filepath.Dir(c.out), 0o755); err != nil {
		return err
	}
	if c.mode == "backgrounds" {
		return backgrounds(c)
	}
	hands, err := load(c.meshes)
	if err != nil {
		return err
	}
	s := sampler{mode: c.mode}
	if s.exercises, err = exercises(); err != nil {
		return err
	}
	for _, h := range hands {
		if h.test != (c.mode == "train") {
			s.hands = append(s.hands, h)
		}
	}
	if len(s.hands) == 0 {
		// Without a folder of meshes the test has only the renderer's own.
		s.hands = hands
	}
	if err := writeLayout(filepath.Join(filepath.Dir(c.out), "layout.json"), hands); err != nil {
		return err
	}
	names := []string{c.out}
	if c.shards > 0 {
		names = names[:0]
		for i := range c.shards {
			names = append(names, fmt.Sprint(c.out, c.first+i))
		}
	}
	for i, name := range names {
		start := time.Now()
		if err := shard(c, &s, name, uint64(c.first+i)); err != nil {
			return fmt.Errorf("shard %s: %w", name, err)
		}
		fmt.Printf("%s: %d crops, %.0f a second\n", name, c.n, float64(c.n)/time.Since(start).Seconds())
	}
	return nil
}

// ownHand is a mesh and whether it is kept for testing.
type ownHand struct {
	name string
	*handrender.Hand
	test   bool
	number int
}

// testHands are kept out of training, whole: both sexes, three ages, three
// builds, three origins.
var testHands = map[string]bool{
	"african-female-old-maxweight":       true,
	"african-male-young-minweight":       true,
	"asian-female-child-averageweight":   true,
	"asian-male-old-minweight":           true,
	"caucasian-female-young-maxweight":   true,
	"caucasian-male-child-minweight":     true,
	"caucasian-male-young-averageweight": true,
}

// load reads the renderer's own hand, number 0, and a folder of others.
func load(folder string) ([]ownHand, error) {
	d, err := handrender.Default()
	if err != nil {
		return nil, err
	}
	hands := []ownHand{{name: "default", Hand: d}}
	if folder == "" {
		return hands, nil
	}
	files, err := filepath.Glob(filepath.Join(folder, "*.glb"))
	if err != nil {
		return nil, err
	}
	if len(files) == 0 {
		return nil, fmt.Errorf("no .glb file in %s", folder)
	}
	sort.Strings(files)
	for i, f := range files {
		b, err := os.ReadFile(f)
		if err != nil {
			return nil, err
		}
		h, err := handrender.Load(b)
		if err != nil {
			return nil, fmt.Errorf("%s: %w", f, err)
		}
		name := filepath.Base(f)
		name = name[:len(name)-len(".glb")]
		hands = append(hands, ownHand{name: name, Hand: h, test: testHands[name], number: i + 1})
	}
	return hands, nil
}

// perSubject is how many pictures are taken of one shape and skin: working
// them out costs more than a pose.
const perSubject = 4

// shard renders one shard. Pictures are numbered through, and each subject has
// a random source of its own, so the result does not depend on the workers.
func shard(c config, s *sampler, name string, number uint64) (err error) {
	img, err := os.Create(name + ".img")
	if err != nil {
		return err
	}
	defer func() { err = errors.Join(err, img.Close()) }()
	rows := make([]float32, c.n*width)
	sheet := newSheet(c)
	var next atomic.Int64
	var failed atomic.Value
	var wg sync.WaitGroup
	for range c.workers {
		wg.Go(func() {
			r := handrender.NewRenderer(s.hands[0].Hand, handrender.Options{Quality: handrender.Draft, Workers: 1})
			dst := image.NewRGBA(image.Rect(0, 0, crop, crop))
			for {
				subject := int(next.Add(1) - 1)
				if subject*perSubject >= c.n {
					return
				}
				rnd := random{rand.New(rand.NewPCG(c.seed<<32|number, uint64(subject)))}
				who := s.subject(rnd, subject)
				for k := subject * perSubject; k < min((subject+1)*perSubject, c.n); k++ {
					s.picture(rnd, r, dst, who, k, rows[k*width:(k+1)*width])
					if _, err := img.WriteAt(dst.Pix, int64(k)*int64(len(dst.Pix))); err != nil {
						failed.Store(err)
						return
					}
					sheet.add(k, dst, rows[k*width:(k+1)*width])
				}
			}
		})
	}
	wg.Wait()
	if err, ok := failed.Load().(error); ok {
		return err
	}
	if err := sheet.write(); err != nil {
		return err
	}
	lab, err := os.Create(name + ".lab")
	if err != nil {
		return err
	}
	w := bufio.NewWriter(lab)
	err = binary.Write(w, binary.LittleEndian, rows)
	if err := errors.Join(err, w.Flush(), lab.Close()); err != nil {
		return err
	}
	return os.WriteFile(name+".done", nil, 0o644)
}

// contact sheet of the first crops, with the labelled points on them.
type contact struct {
	path string
	img  *image.RGBA
	mu   sync.Mutex
}

const sheetColumns, sheetRows = 8, 6

func newSheet(c config) *contact {
	if c.sheet == "" {
		return &contact{}
	}
	return &contact{path: c.sheet, img: image.NewRGBA(image.Rect(0, 0, sheetColumns*crop, sheetRows*crop))}
}

func (s *contact) add(k int, p *image.RGBA, row []float32) {
	if s.img == nil || k >= sheetColumns*sheetRows {
		return
	}
	s.mu.Lock()
	defer s.mu.Unlock()
	ox, oy := k%sheetColumns*crop, k/sheetColumns*crop
	for y := range crop {
		for x := range crop {
			o, q := s.img.Pix[s.img.PixOffset(ox+x, oy+y):][:4], p.Pix[p.PixOffset(x, y):][:4]
			for i := range 3 {
				o[i] = q[i] + uint8(int(255-q[3])*120/255)
			}
			o[3] = 255
		}
	}
	for i := range 21 {
		x := int((float64(row[at("points")+2*i]) + .5) * crop)
		y := int((float64(row[at("points")+2*i+1]) + .5) * crop)
		if x < 1 || y < 1 || x >= crop-1 || y >= crop-1 {
			continue
		}
		for _, d := range [5][2]int{{0, 0}, {1, 0}, {-1, 0}, {0, 1}, {0, -1}} {
			o := s.img.Pix[s.img.PixOffset(ox+x+d[0], oy+y+d[1]):][:4]
			o[0], o[1], o[2] = 255, 0, 0
			if row[at("visible")+i] > .5 {
				o[0], o[1] = 0, 255
			}
		}
	}
}

func (s *contact) write() error {
	if s.img == nil {
		return nil
	}
	f, err := os.Create(s.path)
	if err != nil {
		return err
	}
	return errors.Join(png.Encode(f, s.img), f.Close())
}

// columns of a label row.
var columns = []struct {
	Name string `json:"name"`
	At   int    `json:"at"`
	N    int    `json:"n"`
}{
	{Name: "flexion", N: 14},  // degrees, in the order of hand.Joint
	{Name: "bend", N: 4},      // degrees between wrist, MCP and PIP points, unsigned
	{Name: "abduction", N: 4}, // degrees
	{Name: "normal", N: 3},    // out of the palm, unit, crop axes: x right, y down, z away
	{Name: "axis", N: 3},      // wrist to middle MCP, unit
	{Name: "points", N: 42},   // x, y as shares of the crop, 0 in its middle
	{Name: "visible", N: 21},
	{Name: "view", N: 2}, // yaw and pitch, degrees
	{Name: "mesh", N: 1},
	{Name: "family", N: 1},
	{Name: "object", N: 1},
	{Name: "tone", N: 1},
	{Name: "side", N: 1},  // 0 left, 1 right
	{Name: "scale", N: 1}, // pixels of the crop a palm length covers, unforeshortened
	{Name: "tag", N: 1},   // cell of the hyper mode
}

var width = func() (w int) {
	for i := range columns {
		columns[i].At = w
		w += columns[i].N
	}
	return w
}()

func at(name string) int {
	for _, c := range columns {
		if c.Name == name {
			return c.At
		}
	}
	panic("no column " + name)
}

func writeLayout(path string, hands []ownHand) error {
	names := make([]string, len(hands))
	for i, h := range hands {
		names[i] = h.name
	}
	b, err := json.MarshalIndent(map[string]any{
		"width": width, "columns": columns,
		"names": map[string]any{"mesh": names, "family": familyNames},
	}, "", " ")
	if err != nil {
		return err
	}
	return os.WriteFile(path, b, 0o644)
}

// random draws from a seeded source.
type random struct{ *rand.Rand }

func (r random) between(a, b float64) float64 { return a + (b-a)*r.Float64() }
func (r random) normal(s float64) float64     { return r.NormFloat64() * s }
func (r random) chance(p float64) bool        { return r.Float64() < p }
func (r random) geometric(a, b float64) float64 {
	return math.Exp(r.between(math.Log(a), math.Log(b)))
}
func clamp(x, a, b float64) float64 { return min(max(x, a), b) }
