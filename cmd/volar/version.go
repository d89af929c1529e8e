package main

import "runtime/debug"

// release is the version of a packaged build, which sets it with the linker;
// empty in a build from source.
var release string

// version is the release, or what the Go tool wrote into the program, and the
// commit it was built from.
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
	switch {
	case release != "":
		v = release
	case v == "" || v == "(devel)":
		v = "development"
	}
	if len(rev) >= 12 {
		v += " (" + rev[:12] + dirty + ")"
	}
	return v
}
