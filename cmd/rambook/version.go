package main

import (
	"fmt"
	"runtime/debug"
)

type versionCommand struct{}

func (versionCommand) Help() string {
	return "Example:\n\n  rambook version"
}

// Run prints the version that the Go toolchain recorded when it built the
// program: a release, or the commit of the source tree.
func (versionCommand) Run(s *session) error {
	version, goVersion := "(unknown)", ""
	if info, ok := debug.ReadBuildInfo(); ok {
		version, goVersion = info.Main.Version, ", "+info.GoVersion
		for _, setting := range info.Settings {
			if setting.Key == "vcs.revision" && version == "(devel)" {
				version = "commit " + setting.Value[:min(12, len(setting.Value))]
			}
		}
	}
	fmt.Fprintf(&s.out, "rambook %s%s\n", version, goVersion)
	return nil
}
