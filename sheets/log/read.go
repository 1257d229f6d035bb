package log

import (
	"bytes"
	"context"
	"errors"
	"fmt"
	"io"
	"io/fs"
	"runtime"
	"sync"
	"sync/atomic"
	"time"

	"rambook/sheets"
)

const (
	batchSize = 256 << 10 // bytes of the lines of a batch, nearly
	maxLine   = 64 << 10  // bytes
	// inFlight is how many batches there are for each worker: enough that none
	// waits for a slower one.
	inFlight = 3
)

// Ask is a column to be read. Of a column of texts, Values hold the numbers of
// the texts, and Texts are filled with them.
type Ask struct {
	Column int // in Log.Columns
	Texts  *Texts
}

// Options are how a log is read.
type Options struct {
	Gap     float64 // what stands for a cell without a number; NaN, or one of its kind
	Workers int     // 0: one per core
	Texts   bool    // a cell that is no number is a gap, and counted, where it is wrong otherwise
}

// End is what is known of a log after its last row.
type End struct {
	Rows     int64
	Short    int  // lines with fewer cells than the header, which were left out
	ShortAt  int  // line of the first of them
	Unended  bool // the last line has no line end, so it may be half of one, and was left out
	LastLine int  // lines of the file that were read
}

// Words are warnings of what was left out.
func (e *End) Words(l *Log) (warnings []sheets.Problem) {
	if e.Short > 0 {
		message := "the line has fewer cells than the header, and is left out"
		if e.Short > 1 {
			message = fmt.Sprintf("%d lines, of which this is the first, have fewer cells than the header, "+
				"and are left out", e.Short)
		}
		warnings = append(warnings, sheets.Problem{File: l.Shown, Line: e.ShortAt, Message: message})
	}
	if e.Unended {
		warnings = append(warnings, sheets.Problem{File: l.Shown, Line: e.LastLine + 1,
			Message: "the last line has no line end: it may be half of one, and is left out",
			Hint:    "end the file with a line break once it is complete"})
	}
	return warnings
}

// errChanged is the error where another program writes into a log that is read.
var errChanged = errors.New("the log was changed while it was read")

// Read takes the rows of a log through in batches. Each has a T of its own
// while it is in flight: work gets both in any goroutine and any order, then
// use gets them in the calling goroutine, in the order of the rows. The number
// of batches is fixed, so memory does not grow with the log. Reading stops when
// the context ends, at what is wrong in the log, and when use returns an error.
//
// What another program appends meanwhile is not read, and a file that takes the
// place of the log leaves the old one to be read to its end; one that is
// written over is refused.
func Read[T any](ctx context.Context, l *Log, ask []Ask, opt Options, newT func() T, work func(*Batch, T),
	use func(*Batch, T) error) (*End, []sheets.Problem) {
	refuse := func(err error) (*End, []sheets.Problem) {
		p := sheets.Problem{File: l.Shown, Message: err.Error()}
		if err == errChanged {
			p.Hint = "run the command again once it is written, or give it a copy"
		}
		return nil, []sheets.Problem{p}
	}
	f, err := l.open()
	if err != nil {
		return refuse(err)
	}
	defer f.Close()
	src, err := sourceOf(f)
	if err != nil {
		return refuse(err)
	}
	workers := opt.Workers
	if workers <= 0 {
		workers = runtime.GOMAXPROCS(0)
	}
	p := l.plan(ask, opt)
	type inWork struct {
		*Batch
		t T
	}
	window := inFlight * workers
	free := make(chan inWork, window)
	done := make([]chan inWork, window)
	for i := range window {
		b := &Batch{Values: make([][]float64, len(ask)), buffer: make([]byte, 1+batchSize+maxLine+padding)}
		free <- inWork{b, newT()}
		done[i] = make(chan inWork, 1)
	}
	batches := (src.size - l.start + batchSize - 1) / batchSize
	ctx, stop := context.WithCancel(ctx)
	var next atomic.Int64
	var wait sync.WaitGroup
	for range workers {
		wait.Go(func() {
			for {
				var w inWork
				select {
				case <-ctx.Done():
					return
				case w = <-free:
				}
				w.number = next.Add(1) - 1
				if w.number >= batches {
					return
				}
				if w.err = src.load(w.Batch, l.start); w.err == nil {
					p.read(w.Batch)
					work(w.Batch, w.t)
				}
				done[w.number%int64(window)] <- w
			}
		})
	}
	defer wait.Wait()
	defer stop()
	end := &End{LastLine: l.lines}
	var problems []sheets.Problem
	for number := range batches {
		var w inWork
		select {
		case <-ctx.Done():
			return refuse(ctx.Err())
		case w = <-done[number%int64(window)]:
		}
		if w.err != nil {
			return refuse(w.err)
		}
		w.First, w.line = end.Rows, end.LastLine
		if w.short > 0 && end.Short == 0 {
			end.ShortAt = w.line + w.shortAt + 1
		}
		end.Rows, end.LastLine, end.Short = end.Rows+int64(w.N), end.LastLine+w.lines, end.Short+w.short
		end.Unended = end.Unended || w.cut
		if len(w.faults) > 0 {
			problems = append(problems, w.problems(l)...)
			if len(problems) >= mostFaults {
				return nil, append(problems[:mostFaults],
					sheets.Problem{File: l.Shown, Message: "the rest of this log was not read"})
			}
		}
		if len(problems) == 0 {
			if err := use(w.Batch, w.t); err != nil {
				return refuse(err)
			}
		}
		free <- w
	}
	if err := src.unchanged(f); err != nil {
		return refuse(err)
	}
	return end, problems
}

// plan is what is read of each line.
func (l *Log) plan(ask []Ask, opt Options) *plan {
	p := &plan{log: l, slots: make([]int, len(l.Columns)), slow: make([]bool, len(l.Columns)), gap: opt.Gap,
		lenient: opt.Texts}
	p.slow[0] = l.Dated
	for i := range p.slots {
		p.slots[i] = -1
	}
	for i, a := range ask {
		p.slots[a.Column] = i
		p.last = max(p.last, a.Column)
		if a.Texts != nil {
			if p.texts == nil {
				p.texts = make([]*Texts, len(l.Columns))
			}
			p.texts[a.Column], p.slow[a.Column] = a.Texts, true
		}
	}
	return p
}

// source is the file of a log as it was when reading began.
type source struct {
	io.ReaderAt
	size       int64
	changed    time.Time
	head, tail []byte // some of its bytes
}

const sampleSize = 4 << 10

func sourceOf(f fs.File) (*source, error) {
	info, err := f.Stat()
	if err != nil {
		return nil, err
	}
	s := &source{size: info.Size(), changed: info.ModTime()}
	at, ok := f.(io.ReaderAt)
	if !ok {
		all, err := io.ReadAll(f)
		if err != nil {
			return nil, err
		}
		at, s.size = bytes.NewReader(all), int64(len(all))
	}
	s.ReaderAt = at
	s.head, s.tail, err = s.sample()
	return s, err
}

// sample reads the first and the last bytes.
func (s *source) sample() (head, tail []byte, err error) {
	n := min(sampleSize, s.size)
	head, tail = make([]byte, n), make([]byte, n)
	if err = s.fill(head, 0); err == nil {
		err = s.fill(tail, s.size-n)
	}
	return head, tail, err
}

// fill reads a whole slice from a place in the file, which has so many bytes
// unless it was cut off meanwhile.
func (s *source) fill(b []byte, at int64) error {
	n, err := s.ReadAt(b, at)
	switch {
	case n == len(b):
		return nil
	case err == io.EOF:
		return errChanged
	}
	return err
}

// unchanged reports whether what was read is still what the file holds. One that
// has only grown is.
func (s *source) unchanged(f fs.File) error {
	info, err := f.Stat()
	if err != nil {
		return err
	}
	if info.Size() == s.size && info.ModTime().Equal(s.changed) {
		return nil
	}
	if info.Size() <= s.size {
		return errChanged
	}
	head, tail, err := s.sample()
	if err == nil && !(bytes.Equal(head, s.head) && bytes.Equal(tail, s.tail)) {
		err = errChanged
	}
	return err
}

// load reads the lines that begin in the batch's share of the file. The byte
// before it decides whether a line begins with its first one.
func (s *source) load(b *Batch, start int64) error {
	first := start + b.number*batchSize - 1
	end := min(first+1+batchSize, s.size)
	data := b.buffer[:end-first]
	if err := s.fill(data, first); err != nil {
		return err
	}
	b.cut = false
	b.from, b.to = bytes.IndexByte(data, '\n')+1, 0
	if b.from == 0 { // a line from before the share fills it, and is read there
		return nil
	}
	for {
		if n := len(data); data[n-1] == '\n' {
			b.to = n
			break
		}
		if end == s.size { // so the last line has no line end
			b.to = max(b.from, bytes.LastIndexByte(data, '\n')+1)
			b.cut = len(bytes.TrimSpace(data[b.to:])) > 0
			break
		}
		more := min(end+4<<10, s.size)
		if int(more-first) > len(b.buffer)-padding {
			return fmt.Errorf("a line of this log is longer than %d KiB", maxLine>>10)
		}
		from := len(data)
		data = b.buffer[:more-first]
		if err := s.fill(data[from:], end); err != nil {
			return err
		}
		end = more
		if i := bytes.IndexByte(data[from:], '\n'); i >= 0 {
			b.to = from + i + 1
			break
		}
	}
	clear(b.buffer[len(data):min(len(data)+padding, len(b.buffer))])
	return nil
}
