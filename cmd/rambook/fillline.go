package main

import (
	"bufio"
	"io"
	"os"
	"unicode/utf8"

	"golang.org/x/term"
)

// lineReader reads the lines that somebody types, on a terminal, or that come byte by
// byte over a serial line. Such a line may end in either sign, or in both, and
// what was rubbed out on it is still in it.
type lineReader struct {
	bytes  *bufio.Reader
	behind bool // the line before ended in a carriage return
	count  int  // the lines read
}

func newLineReader(r io.Reader) *lineReader { return &lineReader{bytes: bufio.NewReader(r)} }

// read returns the next line without its end; io.EOF where there is none.
func (l *lineReader) read() (string, error) {
	var line []byte
	l.count++
	for {
		b, err := l.bytes.ReadByte()
		if err != nil {
			if err == io.EOF && len(line) > 0 {
				return string(line), nil
			}
			return "", err
		}
		second := b == '\n' && l.behind
		l.behind = false
		switch b {
		case '\n':
			if !second {
				return string(line), nil
			}
		case '\r':
			l.behind = true
			return string(line), nil
		case '\b', 0x7f:
			_, n := utf8.DecodeLastRune(line)
			line = line[:len(line)-n]
		default:
			line = append(line, b)
		}
	}
}

// isPiped reports whether the answers come from a file or a program.
func (w *walk) isPiped() bool {
	file, ok := w.in.(*os.File)
	return !ok || !term.IsTerminal(int(file.Fd()))
}
