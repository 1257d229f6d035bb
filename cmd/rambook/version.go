package main

import (
	"fmt"
	"runtime/debug"
)

type versionCommand struct{}

func (versionCommand) Help() string {
	return "Example:\n\n  rambook version"
}

// Run prints the version, and that of the Go toolchain.
func (versionCommand) Run(s *session) error {
	goVersion := ""
	if info, ok := debug.ReadBuildInfo(); ok {
		goVersion = ", " + info.GoVersion
	}
	fmt.Fprintf(&s.out, "rambook %s%s\n", version(), goVersion)
	return nil
}

// version is what the Go toolchain recorded when it built the program: a
// release, or the commit of the source tree.
func version() string {
	info, ok := debug.ReadBuildInfo()
	if !ok {
		return "(unknown)"
	}
	for _, setting := range info.Settings {
		if setting.Key == "vcs.revision" && info.Main.Version == "(devel)" {
			return "commit " + setting.Value[:min(12, len(setting.Value))]
		}
	}
	return info.Main.Version
}
