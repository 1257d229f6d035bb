package main

import (
	"bufio"
	"cmp"
	"errors"
	"fmt"
	"io"
	"io/fs"
	"maps"
	"os"
	"path/filepath"
	"slices"
	"strings"
	"time"

	"golang.org/x/term"

	"rambook/calc"
	"rambook/cmd/rambook/page"
	"rambook/sheets"
	"rambook/units"
	"rambook/units/words"
)

type fillCommand struct {
	Path  string `arg:"" optional:"" help:"Folder or CSV file. Default: this folder."`
	Only  string `placeholder:"SHEET" complete:"sheets" help:"Ask for this sheet only."`
	Again bool   `help:"Ask for what is filled in as well; an empty line keeps it."`
	entryFlags
}

func (fillCommand) Help() string {
	return "One question for each cell that is open, in the order of the sheets, which is the walk round the machine; each answer is saved at once. " +
		"Answer with a number, with its unit or without; several numbers are repeated runs; `n/a WHY` where the machine has none; an empty line skips, " +
		"`?` tells more, `<` goes back, `q` ends, NAME=ENTRY answers another question. Over a pipe it takes one answer a line. Example:\n\n" +
		"  rambook fill mypress --who Ada\n  rambook fill mypress --only seating"
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
	if c.Only != "" && r.book.Sheet(c.Only) == nil {
		return problem("there is no sheet "+words.Quoted(c.Only),
			words.DidYouMean(c.Only, sheetNames(r.book), "the sheets are "+words.Listed(sheetNames(r.book), page.MostNames)))
	}
	if err := beginLogbook(r.path); err != nil {
		return err
	}
	w := &walk{session: s, command: c, path: r.path, lines: bufio.NewReader(s.in), failing: map[string]bool{}}
	if err := w.read(); err != nil {
		return err
	}
	w.questions = w.ask()
	return w.lead()
}

func sheetNames(book *sheets.Notebook) []string {
	var names []string
	for _, sheet := range book.Sheets {
		names = append(names, sheet.Name)
	}
	return names
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

// question is one cell to fill in.
type question struct {
	cell     cellName
	quantity *calc.Quantity
	unit     units.Unit
	place    string   // sheet, and the heading or case that it stands under
	what     string   // the name of the cell
	note     string   // what to do
	reading  bool     // of what is computed
	date     cellName // of a case without a date
	done     bool     // answered out of its turn
	gauge    bool     // asks for what is known of a gauge
}

// walk is one round of questions.
type walk struct {
	*session
	command   *fillCommand
	path      string
	lines     *bufio.Reader
	revision  *revision // as the notebook is now
	questions []question

	place                     string // that was printed last
	hinted                    bool   // the question before was for a gauge
	answered, skipped, absent int
	differing                 []string
	failing                   map[string]bool // by cell: beyond a limit
}

// read reads the notebook as it is now.
func (w *walk) read() error {
	r, err := revise(w.path)
	if err == nil && r.model == nil {
		err = wrong(r.problems...)
	}
	w.revision = r
	return err
}

// ask lists the questions: what is open, in the order of the sheets, each behind
// what has to be done before it.
func (w *walk) ask() []question {
	r := w.revision
	var list []question
	for _, sheet := range r.book.Sheets {
		switch {
		case w.command.Only != "" && sheet.Name != w.command.Only:
		case sheet.Kind == sheets.Quantities:
			list = append(list, w.rows(sheet)...)
		case sheet.Kind == sheets.Cases && sheet.Name == calc.GaugeSheet: // in hand before anything is read
			list = append(w.gauges(sheet), list...)
		case sheet.Kind == sheets.Cases:
			list = append(list, w.cases(sheet)...)
		}
	}
	return inOrder(list)
}

// rows lists the questions of a quantity sheet.
func (w *walk) rows(sheet *sheets.Sheet) []question {
	var list []question
	for i := range sheet.Rows {
		row := &sheet.Rows[i]
		q := w.revision.model.Quantity(row.Name.Text)
		if q == nil || q.Row != row && q.Row.Name.Line != row.Name.Line {
			continue
		}
		one := question{quantity: q, unit: q.Unit, what: q.Name, note: row.Note.Text, place: sheet.Name}
		if row.Heading != "" {
			one.place += ": " + row.Heading
		} else if len(list) > 0 {
			one.place = list[len(list)-1].place
		}
		state := w.stateOf(q)
		switch {
		case state == calc.Absent && !w.command.Again, state == calc.ByCase, q.IsVerdict(),
			q.IsOpen() && w.revision.model.IsListed(q):
			continue
		case q.IsOpen(), w.command.Again && !q.IsFormula():
			one.cell = rowCell{q.Name, "entry"}
		case q.IsPlanned(), w.command.Again && !row.Reading.Blank() && !calc.ReadsAsFormula(row.Reading.Text):
			one.cell, one.reading = rowCell{q.Name, "reading"}, true
		default:
			continue
		}
		list = append(list, one)
	}
	return list
}

func (w *walk) stateOf(q *calc.Quantity) calc.State {
	if j := w.revision.before.Of(q.Name); j != nil {
		return j.State
	}
	return calc.Given
}

// cases lists the questions of a case sheet, row by row: the givens that only
// cases have, and the readings that a spread of the column or of the row plans.
// What lies in the past cannot be read any more.
func (w *walk) cases(sheet *sheets.Sheet) []question {
	model := w.revision.model
	date := slices.IndexFunc(sheet.Columns, func(c sheets.Column) bool { return c.Name.Text == model.DateColumn(sheet) })
	today := w.now().Format(time.DateOnly)
	var list []question
	for i := range sheet.Cases {
		row := &sheet.Cases[i]
		if date >= 0 && !row.Cells[date].Blank() && row.Cells[date].Text < today {
			continue
		}
		for k, column := range sheet.Columns {
			q := model.Quantity(column.Name.Text)
			cell := row.Cells[k]
			if q == nil || k == date || !cell.Blank() && !w.command.Again {
				continue
			}
			reading := q.IsFormula()
			switch {
			case reading && q.Row.Spread.Blank() && q.Row.With.Blank() && column.Spread.Blank():
				continue
			case !reading && w.stateOf(q) != calc.ByCase && !q.IsOpen():
				continue
			}
			unit, err := units.Parse(column.Unit.Text)
			if err != nil || column.Unit.Blank() {
				unit = q.Unit
			}
			one := question{cell: caseCell{sheet.Name, row.Name.Text, column.Name.Text}, quantity: q, unit: unit,
				place: sheet.Name + ": " + row.Name.Text, what: column.Name.Text, note: q.Row.Note.Text,
				reading: reading}
			if date >= 0 && row.Cells[date].Blank() {
				one.date = caseCell{sheet.Name, row.Name.Text, sheet.Columns[date].Name.Text}
			}
			list = append(list, one)
		}
	}
	return list
}

// inOrder puts each question behind those about what has to be done before.
func inOrder(list []question) []question {
	of := map[string]int{}
	for i, q := range list {
		if q.quantity != nil {
			if _, known := of[q.quantity.Name]; !known {
				of[q.quantity.Name] = i
			}
		}
	}
	var ordered []question
	put := make([]bool, len(list))
	var visit func(int)
	visit = func(i int) {
		if put[i] {
			return
		}
		put[i] = true
		for _, before := range list[i].quantity.After() {
			if k, known := of[before.Name]; known {
				visit(k)
			}
		}
		ordered = append(ordered, list[i])
	}
	for i := range list {
		visit(i)
	}
	return ordered
}

// lead asks one question after another.
func (w *walk) lead() error {
	if len(w.questions) == 0 {
		w.say(0, "Nothing is open: every cell that somebody has to fill in has its entry.")
		return nil
	}
	w.say(0, fmt.Sprintf("%s. Empty line: skip. ?: more. <: back. n/a WHY: there is none. q: end. Each answer is saved at once.", words.Counted(len(w.questions), "question")))
	for i := 0; i >= 0 && i < len(w.questions); {
		q := &w.questions[i]
		if q.done {
			q.done = false // asked if somebody goes back to it
			i++
			continue
		}
		w.introduce(i, q)
		answer, err := w.prompt(q)
		if err != nil {
			break
		}
		switch answer {
		case "":
			w.skipped++
			i++
		case "?":
			w.explain(q)
		case "<":
			i = max(0, i-1)
		case "q":
			return w.end()
		default:
			if w.take(q, answer) {
				i++
			}
		}
	}
	return w.end()
}

// end is what came of the round.
func (w *walk) end() error {
	left := 0
	if err := w.read(); err == nil {
		left = len(w.ask())
	}
	text := fmt.Sprintf("%s, %d n/a, %d skipped.", words.Counted(w.answered, "answer"), w.absent, w.skipped)
	if left > 0 && !w.command.Again {
		text += fmt.Sprintf(" %d still open: rambook fill goes on with them.", left)
	}
	fmt.Fprintln(w.stdout)
	w.say(0, text)
	if len(w.differing) > 0 {
		w.say(0, "Readings that differ: "+words.Listed(w.differing,
			page.MostNames)+". rambook diagnose looks for what explains them.")
	}
	if slices.Contains(slices.Collect(maps.Values(w.failing)), true) {
		w.say(0, page.Cautions)
	}
	return nil
}

// say prints a paragraph, wrapped for the screen.
func (w *walk) say(indent int, text string) {
	for line := range strings.SplitSeq(page.Wrapped(text, w.width()-indent, 0), "\n") {
		fmt.Fprintln(w.stdout, strings.Repeat(" ", indent)+line)
	}
}

// introduce prints what a question is about.
func (w *walk) introduce(i int, q *question) {
	if q.place != w.place {
		w.place = q.place
		fmt.Fprintln(w.stdout)
		w.say(0, page.Printable(q.place))
	}
	text := fmt.Sprintf("%d/%d %s", i+1, len(w.questions), q.what)
	if q.note != "" {
		text += ": " + page.Printable(q.note)
	}
	w.say(0, text)
	if hints := w.hints(q); hints != "" {
		w.say(4, hints)
	}
}

// hints are what to read with, and what to expect.
func (w *walk) hints(q *question) string {
	if q.gauge && w.hinted {
		return "class, span, step, serial number, day it is due"
	}
	if w.hinted = q.gauge; q.gauge {
		return gaugeHint
	}
	var parts []string
	if early := w.notBefore(q); early != "" {
		parts = append(parts, "not before "+early)
	}
	if g := w.gauge(q); g != "" {
		parts = append(parts, "with "+g)
	}
	if now := w.stands(q); now != "" {
		parts = append(parts, "now "+page.Printable(now))
	} else if e := q.quantity.Example; e != "" && !q.reading {
		parts = append(parts, "such as "+page.Beside(page.Printable(e), bare(e, q.unit)))
	}
	if j := w.judged(w.revision.before, q); q.reading && j != nil && calc.Has(j.Value) {
		layout := page.Layout{}
		parts = append(parts, "computed "+page.Beside(page.PlusMinus(layout.ComputedText(j), layout.SpreadText(j)), j.Unit))
	}
	return strings.Join(parts, "; ")
}

// bare is the unit that has to stand behind a text: none if it has one.
func bare(text string, u units.Unit) units.Unit {
	if v, err := units.ParseValue(text); err != nil || v.HasUnit || u.Kind > units.Point {
		return units.Unit{}
	}
	return u
}

// stands is what stands in the cell.
func (w *walk) stands(q *question) string {
	sheet, err := q.cell.sheet(w.revision.book)
	if err != nil {
		return ""
	}
	cell, _, err := restored{q.cell}.find(sheet, "")
	if err != nil {
		return ""
	}
	return cell.Text
}

// gauge names the gauge of a question, with its number.
func (w *walk) gauge(q *question) string {
	name := q.quantity.With
	if g := w.revision.model.Gauge(name); g != nil && g.Serial != "" {
		return page.Printable(name + " " + g.Serial)
	}
	return page.Printable(name)
}

// notBefore names what has to be done before and is not.
func (w *walk) notBefore(q *question) string {
	var early []string
	for _, before := range q.quantity.After() {
		if j := w.revision.before.Of(before.Name); j != nil && j.Verdict > calc.Pass {
			early = append(early, before.Name)
		}
	}
	return words.Listed(early, page.MostNames)
}

// judged is what a report says of a question's quantity.
func (w *walk) judged(r *calc.Report, q *question) *calc.Judged {
	if r == nil {
		return nil
	}
	if cell, ok := q.cell.(caseCell); ok {
		return r.InCase(cell.of, cell.key, cell.column)
	}
	return r.Of(q.quantity.Name)
}

// prompt reads one answer.
func (w *walk) prompt(q *question) (string, error) {
	unit := page.ShownUnit(q.unit)
	switch {
	case q.unit.Kind == units.Tick:
		unit = "yes/no"
	case q.unit.Kind == units.Date:
		unit = "such as " + w.now().Format(time.DateOnly)
	}
	prompt := q.what
	if unit != "" {
		prompt += " [" + unit + "]"
	}
	fmt.Fprint(w.stdout, prompt+"> ")
	line, err := w.lines.ReadString('\n')
	if err != nil && (!errors.Is(err, io.EOF) || line == "") {
		fmt.Fprintln(w.stdout)
		return "", err
	}
	answer := strings.TrimSpace(line)
	if w.isPiped() {
		fmt.Fprintln(w.stdout, page.Printable(answer)) // so that what is read back is a dialogue
	}
	return answer, nil
}

// isPiped reports whether the answers come from a file or a program.
func (w *walk) isPiped() bool {
	file, ok := w.in.(*os.File)
	return !ok || !term.IsTerminal(int(file.Fd()))
}

// explain tells more about a question.
func (w *walk) explain(q *question) {
	if q.gauge {
		w.say(4, gaugeHint+". Class: per cent of the span. Step: the finest division that is read. A gauge past its day gives a warning.")
		return
	}
	row := q.quantity.Row
	layout := page.Layout{}
	if q.quantity.Formula != "" {
		w.say(4, q.quantity.Name+" = "+page.Printable(q.quantity.Formula))
	}
	if j := w.judged(w.revision.before, q); j != nil {
		if calc.Has(j.Low) {
			w.say(4, "not below "+strings.TrimSpace(page.Beside(layout.LowText(j), j.Unit)+" "+bracketed(j.LowName)))
		}
		if calc.Has(j.High) {
			w.say(4, "not above "+strings.TrimSpace(page.Beside(layout.HighText(j), j.Unit)+" "+bracketed(j.HighName)))
		}
	}
	if q.quantity.With != "" {
		if g := w.revision.model.Gauge(q.quantity.With); g != nil {
			w.say(4, g.Describe())
		}
	}
	if !row.Spread.Blank() {
		w.say(4, "read to ± "+page.Printable(row.Spread.Text))
	}
	if users := w.revision.model.UsedBy(q.quantity.Name); len(users) > 0 {
		w.say(4, "needed for "+words.Listed(users, page.MostNames))
	}
	switch {
	case q.unit.Kind == units.Tick:
		w.say(4, "Answer yes once it is done, no if it is not, or n/a WHY if the machine has none.")
		return
	case q.unit.Kind > units.Point:
		w.say(4, "Answer with what stands there, or n/a WHY if the machine has none.")
		return
	}
	w.say(4, "Answer with a number in "+cmp.Or(page.ShownUnit(q.unit),
		"no unit")+", or with a unit of its own; several numbers, such as 4.4 4.5 4.3, are repeated runs. n/a WHY if the machine has none.")
}

func bracketed(name string) string {
	if name == "" {
		return ""
	}
	return "(" + name + ")"
}

// take writes an answer, and reports whether the walk goes on.
func (w *walk) take(q *question, answer string) bool {
	if name, entry, found := assigned(answer); found {
		for i := range w.questions {
			if other := &w.questions[i]; strings.TrimSuffix(strings.TrimSuffix(other.cell.String(), ".entry"),
				".reading") == strings.TrimSpace(name) {
				other.done = w.take(other, strings.TrimSpace(entry))
				return other == q && other.done
			}
		}
	}
	if q.gauge {
		return w.takeGauge(q, answer)
	}
	a, err := w.parse(q, answer)
	if err == nil {
		err = w.write(q, a)
	}
	if doubt := (*doubtError)(nil); errors.As(err, &doubt) {
		w.say(4, doubt.question+". Type "+words.Quoted(answer)+" again to keep it.")
		again, failed := w.prompt(q)
		switch {
		case failed != nil:
			return false
		case again == answer:
			a.sure = true
			err = w.write(q, a)
		case again == "", again == "?", again == "<", again == "q":
			w.say(4, "Not kept.")
			return false
		default:
			return w.take(q, again)
		}
	}
	if err != nil {
		w.sayWrong(err)
		return false
	}
	return true
}

// sayWrong tells why an answer is not taken.
func (w *walk) sayWrong(err error) {
	known := (*problemsError)(nil)
	if !errors.As(err, &known) {
		w.say(4, err.Error())
		return
	}
	for _, p := range known.Problems {
		text := p.Message
		if p.Hint != "" {
			text += "; " + p.Hint
		}
		w.say(4, text)
	}
}

// response is what an answer writes.
type response struct {
	entry    string
	note     string // for the logbook
	why      string // of n/a, for the row's note
	absent   bool
	repeated bool // several runs
	sure     bool
}

// parse reads an answer.
func (w *walk) parse(q *question, text string) (response, error) {
	switch first, rest, _ := strings.Cut(text, " "); {
	case calc.IsAbsent(first):
		if _, ok := q.cell.(rowCell); !ok || q.reading {
			return response{}, problem("n/a stands in the row of what the machine has none of, and this is a reading or a cell of a case", "an empty line skips it")
		}
		return response{entry: "n/a", why: strings.TrimSpace(rest), note: strings.TrimSpace(rest), absent: true}, nil
	case q.unit.Kind == units.Tick:
		return response{entry: map[string]string{"y": "yes", "n": "no"}[strings.ToLower(text)] + ifNot(text, "y", "n")},
			nil
	case q.unit.Kind > units.Point:
		return response{entry: text}, nil
	case calc.ReadsAsFormula(text):
		return response{}, problem(words.Quoted(text)+" is no number",
			"a formula is written into the sheet, or with rambook set")
	}
	if calc.IsRuns(text) {
		return response{entry: text, repeated: true}, nil
	}
	if runs, unit := calc.Repeated(text); len(runs) > 1 {
		return w.runs(runs, unit)
	}
	return response{entry: text}, nil
}

// ifNot is a text unless it is one of the words.
func ifNot(text string, words ...string) string {
	for _, word := range words {
		if strings.EqualFold(text, word) {
			return ""
		}
	}
	return text
}

// runs makes the answer of several numbers, which are kept as they are.
func (w *walk) runs(runs []string, unit string) (response, error) {
	if calc.MayBeOne(runs) {
		return response{}, problem(words.Quoted(strings.Join(runs, " "))+" may be one number or several runs",
			"write "+strings.Join(runs, "")+", or "+calc.JoinRuns(runs, unit))
	}
	return response{entry: calc.JoinRuns(runs, unit), repeated: true}, nil
}

// write puts an answer into the notebook, with its line in the logbook.
func (w *walk) write(q *question, a response) error {
	settings := []setting{{cellName: q.cell, entry: a.entry}}
	if a.why != "" {
		note := a.why
		if q.note != "" {
			note = q.note + "; " + a.why
		}
		settings = append(settings, setting{cellName: rowCell{q.quantity.Name, "note"}, entry: note})
	}
	if q.date != nil {
		settings = append(settings, setting{cellName: q.date, entry: w.now().Format(time.DateOnly)})
	}
	if err := w.writeAll(settings, a.note, func(after *calc.Report) error {
		if a.sure {
			return nil
		}
		if err := doubtReadings(settings, after); err != nil {
			return err
		}
		return doubtExample(q, a)
	}); err != nil {
		return err
	}
	if a.absent {
		w.absent++
	} else {
		w.answered++
	}
	w.tellResult(q, a, w.revision)
	return w.read()
}

// writeAll changes cells together and enters them in the logbook; doubts, which
// may be nil, may refuse what comes of it.
func (w *walk) writeAll(settings []setting, note string, doubts func(after *calc.Report) error) error {
	r := w.revision
	changing, err := place(settings, r)
	if err != nil {
		return err
	}
	by := w.command.entryFlags
	by.Note = cmp.Or(note, by.Note)
	r.enters(w.session, by, func() []sheets.Entry { return logged(settings, r.book) })
	r.verify = func(after *calc.Report) error {
		if err := r.refuseUnknown(entries(settings)); err != nil || doubts == nil {
			return err
		}
		return doubts(after)
	}
	return r.change(changing, func(now *sheets.Sheet, data []byte) ([]byte,
		error) {
		return write(settings, now, data)
	})
}

// doubtExample doubts a number of the machine that a slip would bring near to
// what such a machine has.
func doubtExample(q *question, a response) error {
	if q.reading || q.quantity.Example == "" || q.unit.Kind > units.Point {
		return nil
	}
	example, err := units.ParseValue(q.quantity.Example)
	typed, wrong := units.ParseValue(a.entry)
	if err != nil || wrong != nil {
		return nil
	}
	if !example.HasUnit {
		example.Unit = q.unit
	}
	if !typed.HasUnit {
		typed.Unit = q.unit
	}
	slip, found := units.FindSlip(typed.Number, typed.Unit, example.Unit.ToSI(example.Number), 0)
	if !found {
		return nil
	}
	return &doubtError{question: fmt.Sprintf("%s is far from %s, which a machine like this may have, and %s is near it: %s",
		page.Beside(a.entry, bare(a.entry, q.unit)), page.Beside(q.quantity.Example, bare(q.quantity.Example, q.unit)), slip.Text,
		slip.Why)}
}

// tellResult is what an answer comes to.
func (w *walk) tellResult(q *question, a response, r *revision) {
	layout := page.Layout{}
	var parts []string
	j := w.judged(r.after, q)
	if a.repeated && j != nil && (calc.Has(j.Reading) || calc.Has(j.Value)) {
		number, spread, _ := j.Subject()
		parts = append(parts, "mean "+page.Beside(page.PlusMinus(layout.Numbers.TypedOn(j.Unit, number, spread),
			layout.Numbers.SpreadOn(j.Unit, number, spread)), j.Unit))
	}
	w.failing[q.cell.String()] = j != nil && j.Verdict == calc.Fail && !q.quantity.IsTick()
	switch {
	case a.absent:
		parts = append(parts, "n/a")
	case j == nil:
	case q.reading && calc.Has(j.Reading) && calc.Has(j.Value):
		parts = append(parts, fmt.Sprintf("%s (computed %s)",
			strings.TrimPrefix(layout.AgreementInWords(j), "reading "),
			page.Beside(page.PlusMinus(layout.ComputedText(j), layout.SpreadText(j)), j.Unit)))
		name := strings.TrimSuffix(q.cell.String(), ".reading")
		w.differing = slices.DeleteFunc(w.differing, func(other string) bool { return other == name })
		if j.Agreement > 1 {
			w.differing = append(w.differing, name)
		}
		fallthrough
	case j.Verdict > calc.NoVerdict && j.Verdict != calc.Open:
		if text := layout.Trouble(j); text != "" {
			parts = append(parts, j.Verdict.String()+": "+text)
		} else if j.Verdict == calc.Pass {
			parts = append(parts, "passes")
		}
	}
	if len(parts) > 0 {
		w.say(4, strings.Join(parts, "; "))
	}
	for _, p := range fresh(r.after.Warnings, r.before.Warnings) {
		w.say(4, "warning: "+p.Message)
	}
	for _, p := range fresh(r.after.Failures, r.before.Failures) {
		w.say(4, "warning: "+p.Message)
	}
}
