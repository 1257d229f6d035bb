//go:build !windows

package main

import (
	"errors"
	"os"
	"syscall"
)

// knowsEscapes reports whether a terminal obeys escape sequences.
func knowsEscapes(*os.File) bool { return os.Getenv("TERM") != "dumb" }

// readerGone reports whether a pipe was closed at its other end.
func readerGone(err error) bool { return errors.Is(err, syscall.EPIPE) }
