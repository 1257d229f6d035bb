package main

import (
	"fmt"
	"path/filepath"
	"slices"
	"strings"
	"time"

	"rambook/calc"
	"rambook/cmd/rambook/answer"
	"rambook/cmd/rambook/chart"
	"rambook/sheets"
	"rambook/sheets/table"
)

type reportCommand struct {
	notebookFlags
	Example bool   `help:"Report on the built-in press, which is an invented machine."`
	Blind   bool   `help:"For a class: a page of questions, with what is given and room for each answer."`
	Key     bool   `help:"With --blind: the page of answers, for the trainer."`
	Verify  string `placeholder:"PAGE" help:"Say whether a page and the notebook still belong together, and which cells have changed since the page was written."`
	sampleFlags
	outputFlags
}

func (reportCommand) Help() string {
	return "One page to hand over, to print and to sign: the answer first, then charts, the diagnosis, all sheets and the derivations. " +
		"It needs no network and no script. Without -o it is Markdown on the screen. A page in a file is sealed: it carries digests of itself and of all files it was made from, and the sheets as they were. Exit status 1: something fails. Example:\n\n" +
		"  rambook report -o press.html mypress\n  rambook report -o REPORT.md mypress\n" +
		"  rambook report --verify press.html mypress\n" +
		"  rambook report --blind -o questions.html mylesson\n  rambook report --blind --key -o key.html mylesson"
}

// papers write a report.
var papers = map[answer.Paper]func(*page) ([]byte, error){answer.Text: (*page).markdown, answer.Web: (*page).html}

// Run writes the report.
func (c *reportCommand) Run(s *session) error {
	if c.Key && !c.Blind || c.Blind && c.Sample != nil {
		return problem("--key goes with --blind, and --blind not with --sample", "")
	}
	if c.Verify != "" {
		return c.verify(s)
	}
	form, err := c.form(s)
	if err != nil {
		return err
	}
	sealed, err := c.seal(s)
	if err != nil {
		return err
	}
	model, checked, err := c.check(c.sampleFlags)
	if err != nil {
		return err
	}
	if model.Book.Embedded && !c.Example {
		return problem("this folder holds no notebook, and a report on the built-in press would be one on an invented machine",
			"name the notebook's folder; `rambook report --example` shows what a report looks like")
	}
	var p *page
	how := s.paper(c.title(model), model)
	if c.Blind {
		p, err = newHandout(how, model, checked, c.Key)
	} else {
		p, err = newPage(how, model, checked)
	}
	if err != nil {
		return err
	}
	if sealed != nil {
		p.Facts = append(p.Facts, fact{"Made from", fmt.Sprintf("%s, digest %s; rambook report --verify compares them",
			counted(len(sealed.Files), "file"), sealed.ofFiles())})
	}
	text, err := form(p.mark(model))
	if err != nil {
		return err
	}
	if sealed != nil {
		if text, err = sealed.on(text); err != nil {
			return err
		}
	}
	s.out.Write(text)
	if c.Blind { // a handout judges nothing
		return nil
	}
	printWarnings(s.stderr, checked.Warnings)
	printProblems(s.stderr, "", checked.Failures)
	if checked.Counts.Fail > 0 || len(checked.Failures) > 0 {
		return errFails
	}
	return nil
}

// paper is what a page on a notebook is told beside the model.
func (s *session) paper(title string, model *calc.Model) *paperOptions {
	return &paperOptions{
		Numbers: s.output.numbers(), Title: title, Date: s.now(), Program: "rambook " + version(),
		Read: readInCases(model.Book), Changed: changedSince(model.Book.Logbook()),
		Crossed: notebookFlags{lookFlags: lookFlags{Set: model.Sets}}.crossed,
	}
}

// form picks the form of the report: that of --format, else by the ending of
// the file, else Markdown.
func (c *reportCommand) form(s *session) (func(*page) ([]byte, error), error) {
	if file := s.output.Output; s.form.Name == "" || s.form.Screen && file != "" {
		message := fmt.Sprintf("a report is no `%s` file", printable(filepath.Ext(file)))
		if filepath.Ext(file) == "" {
			message = "a report in a file needs an ending that says its form"
		}
		return nil, problem(message, "-o FILE.html is a page to print, -o FILE.md is text for a repository")
	}
	form := papers[s.form.Paper]
	if form == nil {
		format := s.form.Name
		return nil, problem("a report is "+reportWords()+", not "+format,
			"`rambook check --format "+format+"` gives the numbers")
	}
	return form, nil
}

// reportWords are the words of the formats for reports in files.
func reportWords() string {
	var list []string
	for _, f := range answer.Formats {
		if f.Paper != answer.NoPaper && !f.Screen {
			list = append(list, f.Name)
		}
	}
	return strings.Join(list, " or ")
}

// page is a report before it is written in one of its forms. All its texts are
// as they stand in the notebook: a form has to escape them.
type page struct {
	Title    string // the machine
	Mark     string // what every sheet of paper says of it: that it is invented
	Handout  bool   // for a class: neither verdicts nor signatures
	Facts    []fact
	Headline sentence   // the worst verdict that there is
	Findings []sentence // what comes to it, worst first
	Cautions []string
	Chapters []chapter
}

// fact is a line of the page's head.
type fact struct{ Name, Value string }

// sentence is a finding, and the verdict it comes to or nothing.
type sentence struct{ Verdict, Text string }

// chapter is a part of the page with a heading of its own.
type chapter struct {
	Title string
	Lead  []string // paragraphs
	Parts []part
}

// part is one thing in a chapter; one of its fields is filled.
type part struct {
	Table  *table.Table
	Figure *figurePart
	Fold   *fold
}

// figurePart is a figure with what there is to say of it.
type figurePart struct {
	*chart.Figure
	Caption []string
	Numbers *table.Table
	Sampled bool // of samples, which nobody reads as a table
}

// fold is the derivations of one sheet, which are folded away.
type fold struct {
	Title string
	Steps []derived
}

// derived is one formula, with numbers put in, and its result.
type derived struct {
	Name, Formula, Filled, Result string
	From                          []string
}

// Holds reports whether a chapter has a part of that kind.
func (c chapter) Holds(kind string) bool {
	return slices.ContainsFunc(c.Parts, func(p part) bool {
		return kind == "figure" && p.Figure != nil || kind == "fold" && p.Fold != nil
	})
}

func (c *chapter) addTables(tables ...table.Table) {
	for _, t := range tables {
		if len(t.Rows) > 0 {
			c.Parts = append(c.Parts, part{Table: &t})
		}
	}
}

// paperOptions are what a page shows beside what the model holds.
type paperOptions struct {
	Numbers numberStyle
	Title   string // which names the notebook
	Date    time.Time
	Program string // which has made it, with its version
	Read    []readCell
	Changed []sheets.EntryRow // of the logbook, what was not taken back

	// Crossed is the model with the cases of one sheet in those of another.
	Crossed func(model *calc.Model, first, second string) (*calc.Model, error)
}

// readCell is a cell of a case sheet that was read with a gauge.
type readCell struct {
	Sheet, Cell string
	Line        sheets.EntryRow // of the logbook
}

// newPage gathers a report.
func newPage(how *paperOptions, model *calc.Model, r *calc.Report) (*page, error) {
	layout := screen{numbers: how.Numbers, width: unbounded}
	p := &page{
		Title: machineName(model, r),
		Facts: facts(how, model, r),
		Cautions: []string{
			cautions,
			"Take readings with the guards closed and nobody near what moves. Before a hand goes in: power locked off, pressure let go, the load propped.",
			"This page records a calculation and readings. It replaces no inspection, no manual and no signature of the one who answers for the machine.",
		},
	}
	diagnosis := layout.diagnosis(model)
	p.Headline = overall(r)
	p.Findings = layout.findings(model, r, diagnosis)
	steps := model.Steps(r, shownWith(layout.numbers))
	charts, err := layout.charts(model, r, steps)
	if err != nil {
		return nil, err
	}
	compared, err := layout.comparisons(how, model)
	if err != nil {
		return nil, err
	}
	p.Chapters = slices.DeleteFunc([]chapter{
		charts,
		compared,
		diagnosis,
		layout.stillToMeasure(r),
		notOnThisMachine(model, r),
		layout.round(how, model, r),
		layout.sheetChapter("Sheets", model, r),
		layout.rankings(model, r),
		derivations(layout.numbers, steps),
		remarks(r),
		{Title: "How to read this page", Lead: readingGuide},
	}, func(c chapter) bool { return len(c.Lead) == 0 && len(c.Parts) == 0 })
	return p, nil
}

const (
	mostFindings  = 30 // of one verdict
	mostDiffering = 6  // readings in one sentence
)

// overall is the worst verdict of a report, and how often there is which.
func overall(r *calc.Report) sentence {
	if r.Counts == (calc.Counts{}) {
		return sentence{"", countLine(r.Counts)}
	}
	worst := calc.NoVerdict
	var parts []string
	if n := len(r.Failures); n > 0 {
		parts = append(parts, fmt.Sprintf("%d could not be computed", n))
	}
	for _, count := range []struct {
		verdict calc.Verdict
		n       int
		words   string
	}{
		{calc.Fail, r.Counts.Fail, "fail"},
		{calc.Unsure, r.Counts.Unsure, "unsure"},
		{calc.Open, r.Counts.Open, "still open"},
		{calc.Pass, r.Counts.Pass, "pass"},
	} {
		if count.n == 0 {
			continue
		}
		worst = max(worst, count.verdict)
		parts = append(parts, fmt.Sprintf("%d %s", count.n, count.words))
	}
	text := strings.Join(parts, ", ")
	switch {
	case worst == calc.Open || worst == calc.Unsure:
		text = "none fail, " + text
	case len(parts) == 1 && r.Counts.Pass > 1:
		text = "all " + text
	}
	return sentence{worst.String(), text}
}

// findings tell what has been found: whether the machine may run, then the rest,
// worst first, and what is of safety before all else. What the readings say of the
// notebook as a whole stands behind what they say of single answers, and before
// what is open.
func (s screen) findings(model *calc.Model, r *calc.Report, diagnosis chapter) []sentence {
	found := make(map[calc.Verdict][]string)
	add := func(verdict calc.Verdict, text string) { found[verdict] = append(found[verdict], text) }
	var list []sentence
	first, urgent := headline(r), safety(r)
	for i := range r.Quantities {
		if j := &r.Quantities[i]; j.Quantity.IsVerdict() && j.Verdict != calc.NoVerdict {
			list = append(list, sentence{j.Verdict.String(), s.sentence(j)})
		}
	}
	extra := make(map[calc.Verdict]int)
	tell := func(safety bool) {
		for i := range r.Quantities {
			j := &r.Quantities[i]
			switch bad := j.Verdict == calc.Fail || j.Verdict == calc.Unsure; {
			case !bad || j == first || j.Quantity.IsVerdict() || urgent[j.Quantity.Name] != safety:
			case len(found[j.Verdict]) < mostFindings:
				add(j.Verdict, s.sentence(j))
			default:
				extra[j.Verdict]++
			}
		}
	}
	tell(true)
	if first != nil {
		text := s.sentence(first)
		if calc.Has(first.Value) && !calc.Has(first.Reading) {
			text += " (computed, not measured)"
		}
		add(first.Verdict, text)
	}
	tell(false)
	for verdict, n := range extra {
		add(verdict, counted(n, "more quantity")+", in the sheets below")
	}
	if list := waiting(r, first); len(list) > 0 {
		add(calc.Open, counted(len(list), "answer")+" still to come: "+listed(list, mostNames))
	}
	for _, result := range r.Cases {
		worst := calc.NoVerdict
		for _, c := range result.Cases {
			worst = max(worst, c.Verdict)
		}
		if line := s.caseLine(result); line != "" {
			add(worst, line)
		}
	}
	if list := s.assumptions(r); len(list) > 0 {
		add(calc.NoVerdict, "Assumed by common practice, not of this machine: "+listed(list, len(list)))
		if line := s.improvement(model, r); line != "" {
			add(calc.NoVerdict, line)
		}
	}
	if len(diagnosis.Lead) > 0 {
		add(calc.NoVerdict, diagnosis.Lead[0])
	}
	if list := s.differing(r); len(list) > 0 {
		add(calc.NoVerdict, "Reading and notebook differ: "+listed(list, mostDiffering))
	}
	if todo := toMeasure(r); len(todo) > 0 {
		verdict := calc.NoVerdict // planned readings keep nothing open
		if slices.ContainsFunc(todo, func(m measurement) bool { return !m.reading }) {
			verdict = calc.Open
		}
		add(verdict, counted(len(todo), "cell")+" of the notebook still to measure, listed below")
	}
	for _, verdict := range []calc.Verdict{calc.Fail, calc.Unsure, calc.NoVerdict, calc.Open, calc.Pass} {
		for _, text := range found[verdict] {
			list = append(list, sentence{verdict.String(), text})
		}
	}
	return list
}

// waiting names the formulas with a limit that are open, but for one. Those
// that wait for most come first: what sums up a notebook, such as whether it
// is ready to be handed over, is among them.
func waiting(r *calc.Report, but *calc.Judged) []string {
	var open []*calc.Judged
	for i := range r.Quantities {
		j := &r.Quantities[i]
		row := j.Quantity.Row
		if j.Verdict == calc.Open && j != but && j.Quantity.Formula != "" && !(row.Low.Blank() && row.High.Blank()) {
			open = append(open, j)
		}
	}
	slices.SortStableFunc(open, func(a, b *calc.Judged) int { return len(b.Needs) - len(a.Needs) })
	var list []string
	for _, j := range open {
		list = append(list, j.Quantity.Name)
	}
	return list
}

// diagnosis tells what the readings say of the suspects, if there are readings.
func (s screen) diagnosis(model *calc.Model) chapter {
	c := chapter{Title: "Diagnosis"}
	d, _ := model.Diagnose(calc.DiagnoseOptions{}) // the model has been checked before
	if d == nil || d.Finding == calc.NoReadings || len(model.Suspects) == 0 {
		return c
	}
	view := diagnosisView{d, s}
	c.Lead = append([]string{view.headline()}, append(view.ranking(), view.further()...)...)
	c.addTables(view.suspectTable(), view.readingTable())
	return c
}

// stillToMeasure lists the open cells, with room to write into.
func (s screen) stillToMeasure(r *calc.Report) chapter {
	c := chapter{Title: "Still to measure"}
	todo := toMeasure(r)
	t := table.Table{Columns: []table.Column{{Header: "cell"}, {Header: "unit"}, {Header: "how"},
		{Header: "found", ByHand: true}}}
	for _, m := range todo[:s.cut(&t, len(todo))] {
		t.Rows = append(t.Rows, table.Row{Heading: m.quantity.Sheet.Name,
			Cells: []string{m.cell(), m.quantity.Unit.Symbol, printable(m.quantity.Row.Note.Text), ""}})
	}
	c.addTables(t)
	return c
}

// sheetChapter holds the tables of all sheets, case sheets among them.
func (s screen) sheetChapter(title string, model *calc.Model, r *calc.Report) chapter {
	c := chapter{Title: title}
	for _, t := range s.sheetTables(model.Book, r) {
		for _, result := range r.Cases {
			if result.Sheet.Name == t.Title && len(result.Cases) > 0 {
				c.addTables(s.inputTable(model, result))
			}
		}
		c.addTables(t)
	}
	return c
}

// derivations fold away how every formula came to its number, sheet by sheet.
func derivations(numbers numberStyle, steps []calc.Step) chapter {
	c := chapter{Title: "Derivations"}
	var current *fold
	left := mostRows
	for i := range steps {
		step := &steps[i]
		if step.Formula == "" || left == 0 {
			continue
		}
		if title := step.Quantity.Sheet.Name; current == nil || current.Title != title {
			current = &fold{Title: title}
			c.Parts = append(c.Parts, part{Fold: current})
		}
		// Without a limit to the width the lines are formula, numbers, result.
		lines := strings.Split(worked(step, numbers, unbounded), "\n")
		for i := range lines {
			_, lines[i], _ = strings.Cut(lines[i], "= ")
		}
		current.Steps = append(current.Steps, derived{step.Quantity.Name, lines[0], lines[1], lines[2], step.From})
		left--
	}
	if len(c.Parts) > 0 {
		c.Lead = []string{"Each formula as it stands in the notebook, with numbers put in, and what it comes to."}
		if left == 0 {
			c.Lead = append(c.Lead, fmt.Sprintf("The first %d formulas; `rambook explain` derives any of them.",
				mostRows))
		}
	}
	return c
}

// remarks are the warnings of the run and the cases that went wrong.
func remarks(r *calc.Report) chapter {
	c := chapter{Title: "Remarks on the notebook"}
	for _, list := range [][]sheets.Problem{r.Failures, r.Warnings} {
		for _, p := range list[:min(len(list), mostFindings)] {
			text := printable(p.Error())
			if p.Hint != "" {
				text += " (" + printable(p.Hint) + ")"
			}
			c.Lead = append(c.Lead, text)
		}
	}
	return c
}

// signatories are those who sign a report.
var signatories = []string{"Measured and checked", "Taken over"}

// readingGuide explains the words of a report to those who were not there.
var readingGuide = []string{
	"± is the spread: the true value lies within it about 95 times in 100 (coverage factor 2). It is computed from the spreads of the givens and of the gauges; " +
		"sampled, where it stands, is the same interval found by trying many values of them.",
	"pass: the whole of value ± spread is inside its limits. fail: the whole of it is beyond a limit. unsure: it reaches over a limit, so that a better reading is needed. " +
		"open: something is missing that has to be measured first.",
	"Where there is a reading, it is judged in place of the computed value. E_n compares the two: up to 1 they agree within their spreads.",
}
