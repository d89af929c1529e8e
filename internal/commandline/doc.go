// Package commandline turns the model of a command line into what a packaged
// program comes with: a man page and completion for shells. Both are drawn from
// the same definition that reads the arguments, so that they cannot tell of a
// flag that is not there.
//
// Hidden commands and flags are left out. Nothing here reads the environment or
// a clock: the same model gives the same text.
package commandline
