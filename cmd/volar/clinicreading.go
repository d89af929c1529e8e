package main

import (
	"volar/internal/session"
	"volar/ui/clinic"
	"volar/ui/parts"
	"volar/ui/reading"
)

// A note that is half written asks before it is lost.
var _ clinic.Drafting = (*reading.Reader)(nil)

// readingOptions passes on what the clinic's window gives a screen.
func readingOptions(v clinic.Visit) reading.Options {
	return reading.Options{
		Store: v.Store, Window: v.Window, Client: v.Client.Code, Now: v.Now, Do: v.Do, Back: v.Back, Edit: v.Edit, Stir: v.Stir,
		Words: v.Words, Software: "volar " + version(),
	}
}

// withReading gives the clinic's window the screens in which sessions are read.
func withReading(o clinic.Options) clinic.Options {
	o.Queue = func(v clinic.Visit) parts.Screen { return reading.Queue(readingOptions(v)) }
	o.Sessions = o.Queue
	o.Progress = func(v clinic.Visit) parts.Screen { return reading.Progress(readingOptions(v)) }
	o.Report = func(v clinic.Visit) parts.Screen { return reading.Report(readingOptions(v)) }
	o.Session = func(v clinic.Visit, id session.ID) parts.Screen { return reading.Session(readingOptions(v), id) }
	return o
}
