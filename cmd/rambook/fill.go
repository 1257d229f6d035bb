package main

import (
	"errors"
	"fmt"
	"io/fs"
	"maps"
	"os"
	"path/filepath"
	"slices"
	"strings"

	"rambook/cmd/rambook/page"
	"rambook/sheets"
	"rambook/units"
	"rambook/units/words"
)

type fillCommand struct {
	Path  string `arg:"" optional:"" help:"Folder or CSV file. Default: this folder."`
	Only  string `placeholder:"SHEET" complete:"sheets" help:"Ask for this sheet only, and for the gauges it is read with."`
	Again bool   `help:"Ask for what is filled in as well; an empty line keeps it."`
	entryFlags
}

func (fillCommand) Help() string {
	return "One question for each cell that is open, in the order of the sheets, which is the walk round the " +
		"machine: the plate first, each gauge just before what it is read for. Each answer is saved at once. " +
		"Answer with a number, with its unit or without; several numbers are repeated runs; " +
		"`- WHY` (or `n/a WHY`) where the machine has none; an empty line skips, `?` shows more, `<` goes back, " +
		"`q` or Ctrl-C ends, NAME=ENTRY answers another question. Over a pipe it takes one answer a line, " +
		"blank to skip; one that is refused leaves its row open, and the end names it (status 2). " +
		"With --only, a sheet of dated cases, such as visits, gets new ones. Example:\n\n" +
		"  rambook fill mypress --who Ada\n  rambook fill mypress --only visits\n  rambook fill mypress < answers.txt"
}

// Run leads through the open cells of a notebook.
func (c *fillCommand) Run(s *session) error {
	r, err := revise(c.Path)
	if err != nil {
		return err
	}
	if r.model == nil {
		return wrong(r.problems...)
	}
	known := sheetNames(r.book.Sheets)
	c.Only = words.Spelled(c.Only, known)
	if c.Only != "" && r.book.Sheet(c.Only) == nil {
		return problem("there is no sheet "+words.Quoted(c.Only),
			words.DidYouMean(c.Only, known, "the sheets are "+words.Listed(known, page.MostNames)))
	}
	if err := beginLogbook(r.path); err != nil {
		return err
	}
	ctx, stop := s.untilInterrupted()
	defer stop()
	w := &walk{session: s, command: c, path: r.path, lines: newLineReader(s.in), interrupted: ctx.Done(),
		told: map[string]bool{}, failing: map[string]bool{}, taken: map[string]string{}}
	if err := w.read(); err != nil {
		return err
	}
	return w.lead()
}

// beginLogbook gives a notebook that is a folder its logbook.
func beginLogbook(path string) error {
	book, _ := sheets.Open(path)
	if book.Logbook() != nil || strings.EqualFold(filepath.Ext(path), ".csv") {
		return nil
	}
	err := sheets.CreateFile(filepath.Join(path, sheets.LogbookFile), sheets.LogbookHeader(), 0o666)
	if errors.Is(err, fs.ErrExist) {
		return nil
	}
	return err
}

// walk is one round of questions.
type walk struct {
	*session
	command     *fillCommand
	path        string
	lines       *lineReader
	interrupted <-chan struct{}
	revision    *revision // as the notebook is now
	stamp       string    // of its files, as they were read or written last
	broken      error     // why no answer can be written any more
	over        bool      // no answer comes any more
	questions   []question

	place                     string          // that was printed last
	told                      map[string]bool // notes of columns that stood above an earlier case
	answered, skipped, absent int
	failing                   map[string]bool   // by cell: beyond a limit
	taken                     map[string]string // by cell: the readings of this round as they were typed
	refused                   refusals          // over a pipe: what was not taken
	failures                  *[]sheets.Problem // what could not be computed before a column that is half filled
}

// read reads the notebook as it is now.
func (w *walk) read() error {
	r, err := revise(w.path)
	if err == nil && r.model == nil {
		err = wrong(r.problems...)
	}
	w.revision, w.stamp = r, stampOf(w.path)
	return err
}

// goOn goes on with the notebook as an answer has left it.
func (w *walk) goOn() error {
	next := w.revision.next()
	if next == nil {
		return w.read()
	}
	w.revision, w.stamp = next, stampOf(w.path)
	return nil
}

// catchUp reads the notebook anew if somebody else has changed a file of it since.
func (w *walk) catchUp() error {
	if w.stamp == stampOf(w.path) {
		return nil
	}
	return w.read()
}

// stampOf is when the files of a notebook were changed last.
func stampOf(path string) string {
	var stamp strings.Builder
	add := func(info fs.FileInfo, err error) {
		if err == nil {
			fmt.Fprintln(&stamp, info.Name(), info.Size(), info.ModTime().UnixNano())
		}
	}
	entries, err := os.ReadDir(path)
	if err != nil { // a single file
		add(os.Stat(path))
	}
	for _, entry := range entries {
		add(entry.Info())
	}
	return stamp.String()
}

// errEnded is that of a prompt behind which no answer comes any more.
var errEnded = errors.New("the answers have ended")

// lead asks one question after another.
func (w *walk) lead() error {
	w.questions = w.ask()
	grows := w.grows()
	if len(w.questions) == 0 && grows == nil {
		w.say(0, "Nothing is open: every cell that somebody has to fill in has its entry.")
		return nil
	}
	how := "Enter: skip. ?: more. <: back. - WHY: there is none. q: end. Each answer is saved at once."
	if len(w.questions) > 0 {
		how = words.Counted(len(w.questions), "question") + w.untilVerdict() + ". " + how
	}
	w.say(0, how)
	ended := w.round()
	for grows != nil && !ended {
		if ended = w.another(grows) || w.broken != nil || w.over; ended {
			break
		}
		ended = w.round()
		grows = w.grows()
	}
	w.putRight(ended)
	return w.end()
}

// round asks the questions of the list, and reports whether the walk ends there.
func (w *walk) round() (ended bool) {
	for i := 0; i < len(w.questions); {
		q := &w.questions[i]
		if q.done {
			q.done = false // asked if somebody goes back to it
			i++
			continue
		}
		w.introduce(i, q)
		answer, err := w.prompt(q.prompted())
		if err != nil {
			return true
		}
		switch q.command(answer) {
		case "":
			w.skipped++
			i++
		case "?":
			w.explain(q)
		case "<":
			i = max(0, i-1)
		case "q":
			return true
		default:
			if w.take(q, answer) {
				i++
			}
			if w.broken != nil || w.over {
				return true
			}
		}
	}
	return false
}

// end is what came of the round.
func (w *walk) end() error {
	if w.broken != nil {
		fmt.Fprintln(w.stdout)
		return w.broken
	}
	left, assumed := 0, 0
	if err := w.read(); err == nil {
		for _, q := range w.ask() {
			if q.assumed {
				assumed++
			} else {
				left++
			}
		}
	}
	text := fmt.Sprintf("%s, %d n/a, %d skipped.", words.Counted(w.answered, "answer"), w.absent, w.skipped)
	if n := len(w.refused); n > 0 {
		text = strings.TrimSuffix(text, ".") + fmt.Sprintf(", %d not taken.", n)
	}
	if left > 0 && !w.command.Again {
		text += fmt.Sprintf(" %d still open: rambook fill goes on with them.", left)
	}
	if assumed > 0 && !w.command.Again {
		text += fmt.Sprintf(" %d still assumed by common practice.", assumed)
	}
	fmt.Fprintln(w.stdout)
	w.say(0, text)
	if differing := w.differing(w.revision.before); len(differing) > 0 {
		w.say(0, "Readings that differ: "+words.Listed(differing,
			page.MostNames)+". rambook diagnose looks for what explains them.")
	}
	if slices.Contains(slices.Collect(maps.Values(w.failing)), true) {
		w.say(0, page.Cautions)
	}
	if problems := w.refused.problems(); len(problems) > 0 {
		return wrong(problems...)
	}
	return nil
}

// say prints a paragraph, wrapped for the screen. No text of a file or an answer
// steers the terminal.
func (w *walk) say(indent int, text string) {
	for line := range strings.SplitSeq(page.Wrapped(page.Printable(text), w.width()-indent, 0), "\n") {
		fmt.Fprintln(w.stdout, strings.Repeat(" ", indent)+line)
	}
}

// introduce prints what a question is about. What a column of cases is about is
// printed above the first of them.
func (w *walk) introduce(i int, q *question) {
	if q.place != w.place {
		w.place = q.place
		fmt.Fprintln(w.stdout)
		w.say(0, q.place)
	}
	text := fmt.Sprintf("%d/%d %s", i+1, len(w.questions), q.what)
	if q.readBy != "" {
		text += ", the gauge for " + q.readBy
	}
	column, isCase := q.cell.(caseCell)
	if q.note != "" && (!isCase || q.gauge || !w.told[column.of+"."+column.column]) {
		text += ": " + q.note
	}
	if isCase {
		w.told[column.of+"."+column.column] = true
	}
	w.say(0, text)
	if hints := w.hints(q); hints != "" {
		w.say(4, hints)
	}
}

// prompted is what a question is answered behind.
func (q *question) prompted() string {
	unit := page.ShownUnit(q.unit)
	switch {
	case q.unit.Kind == units.Tick:
		unit = "yes/no"
	case q.unit.Kind == units.Date:
		unit = "YYYY-MM-DD or today"
	}
	if unit == "" {
		return q.what
	}
	return q.what + " [" + unit + "]"
}

// prompt reads one answer, unless somebody interrupts: an answer half typed is
// none.
func (w *walk) prompt(text string) (string, error) {
	fmt.Fprint(w.stdout, page.Printable(text)+"> ")
	type reply struct {
		line string
		err  error
	}
	replies := make(chan reply, 1)
	go func() {
		line, err := w.lines.read()
		replies <- reply{line, err}
	}()
	select {
	case <-w.interrupted:
	case r := <-replies:
		if r.err == nil {
			answer := strings.TrimSpace(r.line)
			if w.isPiped() {
				fmt.Fprintln(w.stdout, page.Printable(answer)) // so that what is read back is a dialogue
			}
			return answer, nil
		}
	}
	fmt.Fprintln(w.stdout)
	return "", errEnded
}
