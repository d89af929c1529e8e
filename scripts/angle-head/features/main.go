// Command features runs a graph over pictures from standard input and writes
// its outputs to standard output: what the trainer does itself where it has a
// graphics processor, several times faster than PyTorch where it has none.
//
//	features -model reader.onnx < pictures > rows
//
// A picture is 224 x 224 pixels of three bytes, row by row. A row is all
// outputs of the graph in its order, 32-bit floats.
package main

import (
	"bufio"
	"encoding/binary"
	"errors"
	"flag"
	"fmt"
	"io"
	"math"
	"os"

	"volar/internal/infer"
)

const side = 224

func main() {
	model := flag.String("model", "", "ONNX file")
	threads := flag.Int("threads", 2, "threads of a run")
	flag.Parse()
	if err := run(*model, *threads); err != nil {
		fmt.Fprintln(os.Stderr, "features:", err)
		os.Exit(1)
	}
}

func run(model string, threads int) (err error) {
	b, err := os.ReadFile(model)
	if err != nil {
		return err
	}
	engine, err := infer.OpenRuntime(infer.RuntimeOptions{})
	if err != nil {
		return err
	}
	defer func() { err = errors.Join(err, engine.Close()) }()
	g, err := engine.Load(b, infer.Options{Threads: threads})
	if err != nil {
		return err
	}
	defer func() { err = errors.Join(err, g.Close()) }()
	in, out := infer.NewTensors(g.Inputs()), infer.NewTensors(g.Outputs())
	r, w := bufio.NewReaderSize(os.Stdin, 1<<20), bufio.NewWriterSize(os.Stdout, 1<<20)
	packed := make([]byte, 3*side*side)
	for {
		if _, err := io.ReadFull(r, packed); err == io.EOF {
			return w.Flush()
		} else if err != nil {
			return fmt.Errorf("read a picture: %w", err)
		}
		for i := range side * side {
			for c := range 3 {
				in[0].Data[c*side*side+i] = float32(packed[3*i+c]) / 255
			}
		}
		if err := g.Run(in, out); err != nil {
			return err
		}
		var word [4]byte
		for _, t := range out {
			for _, v := range t.Data {
				binary.LittleEndian.PutUint32(word[:], math.Float32bits(v))
				if _, err := w.Write(word[:]); err != nil {
					return err
				}
			}
		}
	}
}
