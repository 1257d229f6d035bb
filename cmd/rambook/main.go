// Command rambook is a diagnostic notebook for hydraulic systems: a folder of
// CSV worksheets, recalculated with every unit checked, each answer with its
// doubt and its verdict.
//
// This is the only package that prints or exits. Each command has a file of
// its own; run.go holds what they share.
package main

import (
	"os"
	"os/signal"
	"syscall"

	"rambook/units/cores"
)

func main() {
	collectLate()
	cores.LayPages()
	// A reader that closes the pipe, as head does, has seen enough: run is stopped
	// by the write and ends in order, with the status of what it found.
	signal.Ignore(syscall.SIGPIPE)
	os.Exit(run(os.Args[1:], os.Stdin, os.Stdout, os.Stderr))
}
