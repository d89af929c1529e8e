// Package sound gives a client who looks at their hand, and not at the screen,
// what there is to hear: a short tone for each counted repetition, another for
// a hold that is met, a third as a warning, and the coach's sentences spoken,
// where the computer has a program that speaks. Both can be off. Nothing that
// is sounded is said by sound alone; the screen says it too.
//
// Tones are generated here (16 bit, mono, 44 100 Hz) and played by a program
// that desktops have: pw-play, paplay, aplay, or afplay on macOS. Where there
// is none, the Player is silent and Status says so.
//
// A Player owns two goroutines, one for tones and one for speech, so that a
// long sentence holds no tone back; Close waits for both. Its methods never
// wait: a tone or sentence that comes while two are still waiting is left out,
// since a late one tells a wrong moment.
package sound

import (
	"context"
	"fmt"
	"os"
	"os/exec"
	"path/filepath"
	"slices"
	"sync"
	"time"
)

// Tone is one of the sounds.
type Tone int8

// The tones.
const (
	Counted Tone = iota
	HoldMet
	Warning
	tones
)

// Options of a Player. The zero value plays tones and speaks, with whatever
// programs are there.
type Options struct {
	NoTones, NoSpeech bool
	// Find looks a program up; nil is exec.LookPath. Run runs one; nil runs it
	// for at most ten seconds.
	Find func(name string) (string, error)
	Run  func(ctx context.Context, path string, args ...string) error
}

// Player plays; New makes one.
type Player struct {
	opt         Options
	dir         string
	play, speak *program
	toPlay      chan Tone
	toSay       chan sentence
	stop        context.CancelFunc
	done        sync.WaitGroup

	mu            sync.Mutex
	tones, speech bool
	trouble       error
	// hush breaks off the sentence that is being said, nil while none is.
	hush   context.CancelFunc
	urgent bool
}

type sentence struct {
	text   string
	urgent bool
}

// program is a player or speaker and how it is called; urgent are arguments for
// what must not wait.
type program struct {
	path         string
	args, urgent []string
}

var (
	players = []program{{path: "pw-play"}, {path: "paplay"}, {path: "aplay", args: []string{"-q"}}, {path: "afplay"}}
	// spd-say waits until it has spoken with -w, so that sentences do not
	// pile up in its own queue. It hands them to a service, which speaks on when
	// spd-say is ended; an important one breaks off what is being said there
	// (its manual page, version 0.11).
	speakers = []program{{"spd-say", []string{"-w"}, []string{"-P", "important"}}, {path: "espeak-ng"}, {path: "espeak"}, {path: "say"}}
)

// New looks for the programs and writes the tones where they can be played
// from, into a folder that Close removes.
func New(o Options) (*Player, error) {
	if o.Find == nil {
		o.Find = exec.LookPath
	}
	if o.Run == nil {
		o.Run = run
	}
	p := &Player{
		opt: o, play: find(o.Find, players), speak: find(o.Find, speakers),
		tones: !o.NoTones, speech: !o.NoSpeech, toPlay: make(chan Tone, 2), toSay: make(chan sentence, 2),
	}
	if p.play != nil {
		var err error
		if p.dir, err = os.MkdirTemp("", "volar-tones-"); err != nil {
			return nil, fmt.Errorf("make room for the tones: %w", err)
		}
		for t := range tones {
			if err := os.WriteFile(p.file(t), t.wav(), 0o600); err != nil {
				os.RemoveAll(p.dir)
				return nil, fmt.Errorf("write the tones: %w", err)
			}
		}
	}
	ctx, stop := context.WithCancel(context.Background())
	p.stop = stop
	p.done.Go(func() { each(ctx, p.toPlay, p.sound) })
	p.done.Go(func() { each(ctx, p.toSay, p.say) })
	return p, nil
}

func find(look func(string) (string, error), list []program) *program {
	for _, p := range list {
		if path, err := look(p.path); err == nil {
			p.path = path
			return &p
		}
	}
	return nil
}

func run(ctx context.Context, path string, args ...string) error {
	ctx, stop := context.WithTimeout(ctx, 10*time.Second)
	defer stop()
	return exec.CommandContext(ctx, path, args...).Run()
}

func (p *Player) file(t Tone) string { return filepath.Join(p.dir, fmt.Sprintf("%d.wav", t)) }

// Set turns tones and speech on and off.
func (p *Player) Set(tones, speech bool) {
	p.mu.Lock()
	defer p.mu.Unlock()
	p.tones, p.speech = tones, speech
	if !speech && p.hush != nil {
		p.hush()
	}
}

// Status says what there is to be heard with.
type Status struct {
	// Tones and Speech are true where they are on and a program for them was
	// found.
	Tones, Speech bool
	// CanTone and CanSpeak are true where a program was found.
	CanTone, CanSpeak bool
	// Trouble is the last error of such a program; nil once it works again.
	Trouble error
}

// Status may be called from any goroutine.
func (p *Player) Status() Status {
	p.mu.Lock()
	defer p.mu.Unlock()
	can, speak := p.play != nil, p.speak != nil
	return Status{p.tones && can, p.speech && speak, can, speak, p.trouble}
}

// Tone plays a tone.
func (p *Player) Tone(t Tone) {
	p.mu.Lock()
	on := p.tones && p.play != nil
	p.mu.Unlock()
	if on {
		offer(p.toPlay, t)
	}
}

// Say speaks a sentence. An urgent one breaks off what is being said.
func (p *Player) Say(text string, urgent bool) {
	p.mu.Lock()
	on := p.speech && p.speak != nil && text != ""
	if on && urgent && p.hush != nil && !p.urgent {
		p.hush()
	}
	p.mu.Unlock()
	if on {
		offer(p.toSay, sentence{text, urgent})
	}
}

func offer[T any](to chan<- T, x T) {
	select {
	case to <- x:
	default:
	}
}

// each does one thing after the other until the context ends.
func each[T any](ctx context.Context, from <-chan T, do func(context.Context, T)) {
	for {
		select {
		case <-ctx.Done():
			return
		case x := <-from:
			do(ctx, x)
		}
	}
}

func (p *Player) sound(ctx context.Context, t Tone) {
	p.note(ctx, p.opt.Run(ctx, p.play.path, p.play.with(false, p.file(t))...))
}

func (p *Player) say(ctx context.Context, s sentence) {
	ctx, cancel := context.WithCancel(ctx)
	defer cancel()
	p.mu.Lock()
	p.hush, p.urgent = cancel, s.urgent
	p.mu.Unlock()
	err := p.opt.Run(ctx, p.speak.path, p.speak.with(s.urgent, s.text)...)
	p.mu.Lock()
	p.hush = nil
	p.mu.Unlock()
	p.note(ctx, err)
}

// with are the program's arguments with one more.
func (x *program) with(urgent bool, last string) []string {
	args := slices.Clone(x.args)
	if urgent {
		args = append(args, x.urgent...)
	}
	return append(args, last)
}

// note keeps a program's error, unless it was told to stop.
func (p *Player) note(ctx context.Context, err error) {
	if ctx.Err() == nil {
		p.mu.Lock()
		p.trouble = err
		p.mu.Unlock()
	}
}

// Close stops what is sounding, and waits.
func (p *Player) Close() error {
	p.stop()
	p.done.Wait()
	if p.dir == "" {
		return nil
	}
	return os.RemoveAll(p.dir)
}
