package main

import (
	"github.com/alecthomas/kong"

	"volar/internal/commandline"
)

// completionCmd prints what a shell reads; a package puts it in place.
type completionCmd struct {
	Shell string `arg:"" help:"bash, zsh or fish." enum:"bash,zsh,fish"`
}

func (c *completionCmd) Run(k *kong.Context, e *environment) error {
	return commandline.WriteCompletion(e.out, k.Model, c.Shell)
}

// manCmd prints the man page; a package puts it in place.
type manCmd struct{}

func (manCmd) Run(k *kong.Context, e *environment) error {
	return commandline.WriteMan(e.out, k.Model, commandline.Page{
		Title:   "home hand exercises before a camera, measured and counted",
		Version: version(),
		Sections: []commandline.Section{
			{Heading: "Exit status", Items: [][2]string{
				{"0", "done"},
				{"1", "failed"},
				{"2", "wrong use"},
				{"3", "an input cannot be read"},
				{"4", "nothing was measured: no hand was found"},
			}},
			{Heading: "Environment", Items: [][2]string{
				{"VOLAR_ONNXRUNTIME", "The ONNX Runtime library to use, or the folder it is in."},
				{passphraseEnv, "The passphrase of the clinic's store, where no file of it is named."},
				{keysEnv, "The passphrase of a file of keys."},
				{"VOLAR_S3_KEY, VOLAR_S3_SECRET", "The key and the secret of a bucket."},
				{homeKeyEnv + ", " + homeSecretEnv, "Those that an invitation gives to the client's computer."},
				{"XDG_DATA_HOME", "Where the store is, in the folder volar; ~/.local/share if not set."},
			}},
			{Heading: "Files", Items: [][2]string{
				{"~/.local/share/volar/home", "A client's encrypted store: programs, sessions, kept pictures. Removing the program does not remove it."},
				{"~/.local/share/volar/clinic", "A clinic's encrypted store."},
			}},
			{Heading: "Cautions", Paragraphs: []string{
				"Begin only with the consent of the clinician who knows your hand. Work gently and below pain. Mild tiredness afterwards is common, but pain that stabs, burns or radiates, new numbness, swelling or a joint that locks means stop and call your therapist.",
				"Angles are estimates, for review by a therapist. What the program can and cannot judge is said in its documentation, and by each command about each joint. It defers to the treating clinician and to local rules.",
			}},
		},
	})
}
