// Command volar measures finger joints from a camera or a video, counts
// repetitions, times holds and flags joints that pass a limit.
//
// Results go to standard output, everything else to standard error. Each
// subcommand lives in a file of its own; errors.go turns an error into a
// sentence and an exit code.
package main

import (
	"context"
	"io"
	"os"
	"os/signal"
	"syscall"

	"github.com/alecthomas/kong"
)

func main() {
	quietNativeLibraries()
	ctx, stop := signal.NotifyContext(context.Background(), os.Interrupt, syscall.SIGTERM)
	defer stop()
	m := Main{Args: os.Args[1:], Stdout: os.Stdout, Stderr: os.Stderr}
	code := m.Run(ctx)
	stop()
	os.Exit(code)
}

// Main is the whole program, made so that a test can start it.
type Main struct {
	Args           []string
	Stdout, Stderr io.Writer
	// command is what was asked for, such as volar program check.
	command string
}

// commands is the command line, read by kong from the struct tags.
type commands struct {
	Window     windowCmd     `cmd:"" default:"withargs" help:"The window in which a client exercises; also what volar does without a command."`
	Clinic     clinicCmd     `cmd:"" help:"The window of a hand therapist: clients, programs, sessions."`
	Demo       demoCmd       `cmd:"" help:"The main job on a bundled clip: a video in; repetitions, holds and flags out."`
	Measure    measureCmd    `cmd:"" help:"Joint angles of the hands in pictures."`
	Baseline   baselineCmd   `cmd:"" help:"Record a hand, straight and in a fist, from videos, pictures or a camera: what later readings are measured against."`
	Check      checkCmd      `cmd:"" help:"One exercise in a video: repetitions, holds, flags."`
	Catalogue  catalogueCmd  `cmd:"" help:"The exercises: phases, view, object, cautions."`
	Program    programCmd    `cmd:"" help:"A home program: make, check, show, compare."`
	Sessions   sessionsCmd   `cmd:"" help:"The recorded sessions, and which of them need eyes."`
	Show       showCmd       `cmd:"" help:"One recorded session: exercises, flags, ranges, answers."`
	Soak       soakCmd       `cmd:"" hidden:"" help:"Run the window for a long time and print what it costs."`
	Report     reportCmd     `cmd:"" help:"A client's weeks as a PDF for the file."`
	Export     exportCmd     `cmd:"" help:"A client's weeks for other software: CSV, JSON or FHIR."`
	Handout    handoutCmd    `cmd:"" help:"A home program on paper, with drawn pictures."`
	Invite     inviteCmd     `cmd:"" help:"Clinic: the first file for a client's home, and the code that is read out."`
	Accept     acceptCmd     `cmd:"" help:"Home: take a file from your therapist, an invitation or a newer program."`
	Send       sendCmd       `cmd:"" help:"Carry what is sealed to a folder or bucket."`
	Fetch      fetchCmd      `cmd:"" help:"Pick up what the other side left in a folder or bucket."`
	Keys       keysCmd       `cmd:"" help:"Clinic: bring the keys to a further machine."`
	Doctor     doctorCmd     `cmd:"" help:"What works on this computer, and what to do about what does not."`
	Completion completionCmd `cmd:"" help:"Completion of commands and flags for a shell."`
	Licenses   licensesCmd   `cmd:"" help:"The licences of everything that this program is made with."`
	Man        manCmd        `cmd:"" hidden:"" help:"The man page."`
	Version    versionCmd    `cmd:"" help:"The version of this program."`
}

const description = `Home hand exercises before a camera: finger joint angles, repetitions, holds, and joints that pass the limit a therapist set.

Angles are estimates, for review by your therapist. Exercise only with the consent of the clinician who knows your hand, gently and below pain; pain that stabs, burns or spreads, new numbness, swelling or a joint that locks means stop and call your therapist.`

// Run parses the arguments, runs the command and returns the exit code.
func (m *Main) Run(ctx context.Context) int {
	var c commands
	exited, code := false, exitOK
	parser, err := kong.New(&c,
		kong.Name("volar"),
		kong.Description(description),
		kong.Writers(m.Stdout, m.Stderr),
		kong.Exit(func(n int) { exited, code = true, n }),
		kong.ConfigureHelp(kong.HelpOptions{Compact: true}),
		kong.Vars{"version": version()},
	)
	if err != nil {
		return m.fail(err)
	}
	kctx, err := parser.Parse(m.Args)
	if exited {
		// Help was asked for and has been printed.
		return code
	}
	if err != nil {
		return m.fail(m.misused(err))
	}
	m.command = m.named(kctx)
	return m.fail(kctx.Run(&environment{ctx: ctx, out: m.Stdout, err: m.Stderr}))
}

// environment is what a command may touch of the world outside.
type environment struct {
	ctx      context.Context
	out, err io.Writer
}

type versionCmd struct{}

func (versionCmd) Run(e *environment) error {
	_, err := io.WriteString(e.out, "volar "+version()+"\n")
	return err
}
