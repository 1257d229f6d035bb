package main

import (
	"errors"
	"os"
	"syscall"

	"golang.org/x/sys/windows"
)

// knowsEscapes makes a console obey escape sequences, which the older ones do
// only when they are asked to, and the oldest never.
func knowsEscapes(console *os.File) bool {
	var mode uint32
	h := windows.Handle(console.Fd())
	if windows.GetConsoleMode(h, &mode) != nil {
		return false
	}
	const wanted = windows.ENABLE_PROCESSED_OUTPUT | windows.ENABLE_VIRTUAL_TERMINAL_PROCESSING
	return mode&wanted == wanted || windows.SetConsoleMode(h, mode|wanted) == nil
}

// readerGone reports whether a pipe was closed at its other end.
func readerGone(err error) bool {
	return errors.Is(err, windows.ERROR_BROKEN_PIPE) || errors.Is(err, windows.ERROR_NO_DATA) ||
		errors.Is(err, syscall.EPIPE)
}
