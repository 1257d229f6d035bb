package main

import (
	"bufio"
	"context"
	"errors"
	"fmt"
	"io"
	"os"
	"os/signal"
	"syscall"
	"time"

	"golang.org/x/term"

	"rambook/sheets"
	"rambook/units/words"
)

// untilInterrupted returns a context that ends when the user interrupts.
//
//go:noinline
func (s *session) untilInterrupted() (context.Context, context.CancelFunc) {
	return signal.NotifyContext(s.context, os.Interrupt, syscall.SIGTERM)
}

// interrupted is the error of a command that the user stopped.
func interrupted(s *session) error {
	if s.output.Output != "" {
		return problem("interrupted; "+s.output.Output+" is as it was", "")
	}
	return problem("interrupted", "")
}

// stream lets write send an answer that is too long to keep back. With -o the
// file appears only when all of it is there.
func (s *session) stream(write func(ctx context.Context, w io.Writer) error) error {
	ctx, stop := s.untilInterrupted()
	defer stop()
	s.streamed = true
	out := s.stdout
	var file *sheets.AtomicFile
	if s.output.Output != "" {
		var err error
		if file, err = sheets.CreateAtomic(s.output.Output); err != nil {
			return err
		}
		defer file.Abort()
		out = file
	}
	buffer := bufio.NewWriterSize(out, 1<<16)
	answer := write(ctx, buffer)
	err := answer
	if err == nil || errors.Is(err, errFails) {
		err = buffer.Flush()
	}
	switch {
	case ctx.Err() != nil:
		return interrupted(s)
	case readerGone(err): // the reader has seen enough
		return nil
	case err != nil && file == nil:
		return fmt.Errorf("cannot write the output: %w", sheets.PlainError(err))
	case err != nil:
		return err
	case file != nil:
		if err := file.Commit(); err != nil {
			return err
		}
	}
	return answer
}

// progress shows on a terminal how far a long run has come. It stays silent
// for the first second, and where the answer itself runs over a terminal.
type progress struct {
	screen      io.Writer // nil where nothing is shown
	now         func() time.Time
	total, done int
	from, told  time.Time
	shown       int // characters in the line
}

const (
	patience = time.Second            // how long a run may take before it prints how far it is
	between  = 100 * time.Millisecond // from one word to the next
)

func (s *session) newProgress(total int) *progress {
	p := &progress{now: s.now, total: total, from: s.now()}
	if file, ok := s.stderr.(*os.File); ok && term.IsTerminal(int(file.Fd())) && !(s.streamed && s.terminal() != nil) {
		p.screen = file
	}
	return p
}

// add counts cases that are done.
func (p *progress) add(n int) {
	p.done += n
	now := p.now()
	spent := now.Sub(p.from)
	if p.screen == nil || spent < patience || now.Sub(p.told) < between {
		return
	}
	p.told = now
	left := time.Duration(float64(spent) * float64(p.total-p.done) / float64(max(1, p.done)))
	p.show(fmt.Sprintf("%d %% of %s, %v left", 100*p.done/max(1, p.total), words.Counted(p.total, "case"),
		left.Round(time.Second)))
}

// end takes the line off the screen.
func (p *progress) end() {
	if p.shown > 0 {
		p.show("")
		fmt.Fprint(p.screen, "\r")
	}
}

// show writes over the line that stands there with nothing but blanks, which
// every terminal has.
func (p *progress) show(line string) {
	fmt.Fprintf(p.screen, "\r%-*s", p.shown, line)
	p.shown = len(line)
}
