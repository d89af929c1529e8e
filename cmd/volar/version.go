package main

import "runtime/debug"

// version is read from what the Go tool wrote into the program.
func version() string {
	info, ok := debug.ReadBuildInfo()
	if !ok {
		return "unknown"
	}
	v, rev, dirty := info.Main.Version, "", ""
	for _, s := range info.Settings {
		switch s.Key {
		case "vcs.revision":
			rev = s.Value
		case "vcs.modified":
			if s.Value == "true" {
				dirty = " with local changes"
			}
		}
	}
	if v == "" || v == "(devel)" {
		v = "development"
	}
	if len(rev) >= 12 {
		v += " (" + rev[:12] + dirty + ")"
	}
	return v
}
