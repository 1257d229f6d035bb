// Package report puts together the page that is handed over with a machine, and the
// sheets of questions and answers of a class, and writes them as one HTML file or as
// Markdown.
package report

import (
	"fmt"
	"slices"
	"strings"

	"rambook/calc"
	"rambook/cmd/rambook/figure"
	"rambook/cmd/rambook/page"
	"rambook/sheets"
	"rambook/sheets/table"
	"rambook/units/sorting"
	"rambook/units/words"
)

// Page is a report before it is written in one of its forms. All its texts are
// as they stand in the notebook: a form has to escape them.
type Page struct {
	Title    string // the machine
	Mark     string // what every sheet of paper says of it: that it is invented
	Handout  bool   // for a class: neither verdicts nor signatures
	Facts    []Fact
	Headline Sentence   // the worst verdict that there is
	Findings []Sentence // what comes to it, worst first
	Cautions []string
	Chapters []chapter
}

// Fact is a line of the page's head.
type Fact struct{ Name, Value string }

// Sentence is a finding, and the verdict it comes to or nothing.
type Sentence struct{ Verdict, Text string }

// chapter is a part of the page with a heading of its own.
type chapter struct {
	Title string
	Lead  []string // paragraphs
	Parts []part
}

// part is one thing in a chapter; one of its fields is filled.
type part struct {
	Table  *table.Table
	Figure *figure.Captioned
	Fold   *fold
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
	if kind == "figures" {
		return len(c.Parts) > 0 && !slices.ContainsFunc(c.Parts, func(p part) bool { return p.Figure == nil })
	}
	return slices.ContainsFunc(c.Parts, func(p part) bool { return kind == "fold" && p.Fold != nil })
}

func (c *chapter) addTables(tables ...table.Table) {
	for _, t := range tables {
		if len(t.Rows) > 0 {
			c.Parts = append(c.Parts, part{Table: &t})
		}
	}
}

// NewPage gathers a report.
func NewPage(how *Options, model *calc.Model, r *calc.Report) (*Page, error) {
	w := newWriter(how)
	p := &Page{
		Title: table.Visible(machineName(model, r)),
		Facts: facts(how, model, r),
		Cautions: []string{
			page.Cautions,
			"Take readings with the guards closed and nobody near moving parts. " +
				"Before a hand goes in: power locked off, load propped, pressure released.",
			"This page records a calculation and readings. It replaces no inspection, " +
				"no manual and no signature of the person responsible for the machine.",
		},
	}
	diagnosis := w.diagnosis(model)
	p.Headline = overall(r)
	p.Findings = w.findings(model, r, diagnosis)
	steps := model.Steps(r, page.ShownWith(w.Numbers))
	charts, err := w.charts(model, r, steps)
	if err != nil {
		return nil, err
	}
	compared, err := w.comparisons(how, model)
	if err != nil {
		return nil, err
	}
	p.Chapters = slices.DeleteFunc([]chapter{
		charts,
		compared,
		diagnosis,
		w.stillToMeasure(model, r),
		notOnThisMachine(model, r),
		w.round(how, model, r),
		w.sheetChapter("Sheets", model, r),
		w.rankings(model, r),
		derivations(w.Numbers, steps),
		remarks(r),
		{Title: "How to read this page", Lead: ReadingGuide},
	}, func(c chapter) bool { return len(c.Lead) == 0 && len(c.Parts) == 0 })
	return p, nil
}

const (
	mostFindings  = 30 // of one verdict
	mostDiffering = 6  // readings in one sentence
)

// overall is the worst verdict of a report, and how often there is which.
func overall(r *calc.Report) Sentence {
	if r.Counts == (calc.Counts{}) {
		return Sentence{"", page.CountLine(r.Counts)}
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
	return Sentence{worst.String(), text}
}

// findings are what has been found: whether the machine may run, then the rest,
// worst first, and what is of safety before all else. What the readings say of the
// notebook as a whole stands behind what they say of single answers, and before
// what is open.
func (s writer) findings(model *calc.Model, r *calc.Report, diagnosis chapter) []Sentence {
	found := make(map[calc.Verdict][]string)
	add := func(verdict calc.Verdict, text string) { found[verdict] = append(found[verdict], text) }
	var list []Sentence
	first, urgent := page.Headline(r), safety(r)
	for i := range r.Quantities {
		if j := &r.Quantities[i]; j.Quantity.IsVerdict() && j.Verdict != calc.NoVerdict {
			list = append(list, Sentence{j.Verdict.String(), s.Sentence(j)})
		}
	}
	extra := make(map[calc.Verdict]int)
	tell := func(safety bool) {
		for i := range r.Quantities {
			j := &r.Quantities[i]
			switch bad := j.Verdict == calc.Fail || j.Verdict == calc.Unsure; {
			case !bad || j == first || j.Quantity.IsVerdict() || urgent[j.Quantity.Name] != safety,
				page.RestsOnOther(j):
			case len(found[j.Verdict]) < mostFindings:
				add(j.Verdict, s.Sentence(j))
			default:
				extra[j.Verdict]++
			}
		}
	}
	tell(true)
	if first != nil {
		text := s.Sentence(first)
		if calc.Has(first.Value) && !calc.Has(first.Reading) {
			text += " (computed, not measured)"
		}
		add(first.Verdict, text)
	}
	tell(false)
	for _, text := range page.Resting(r, first) {
		add(calc.Unsure, text)
	}
	for verdict, n := range extra {
		add(verdict, words.Counted(n, "more quantity")+", in the sheets below")
	}
	if list := waiting(r, first); len(list) > 0 {
		add(calc.Open, words.Counted(len(list), "answer")+" still to come: "+words.Listed(list, page.MostNames))
	}
	for _, result := range r.Cases {
		worst := calc.NoVerdict
		for _, c := range result.Cases {
			worst = max(worst, c.Verdict)
		}
		if line := s.CaseLine(result); line != "" {
			add(worst, line)
		}
	}
	if list := s.Assumptions(r); len(list) > 0 {
		add(calc.NoVerdict, "Assumed by common practice, not of this machine: "+words.Listed(list, len(list)))
		if line := s.Improvement(model, r); line != "" {
			add(calc.NoVerdict, line)
		}
	}
	if len(diagnosis.Lead) > 0 {
		add(calc.NoVerdict, diagnosis.Lead[0])
	}
	if list := s.Differing(r); len(list) > 0 {
		add(calc.NoVerdict, "Reading and notebook differ: "+words.Listed(list, mostDiffering))
	}
	if todo := page.ToMeasure(model, r); len(todo) > 0 {
		verdict := calc.NoVerdict // planned readings keep nothing open
		if slices.ContainsFunc(todo, func(m page.Measurement) bool { return !m.Reading }) {
			verdict = calc.Open
		}
		add(verdict, words.Counted(len(todo), "cell")+" of the notebook still to measure, listed below")
	}
	for _, verdict := range []calc.Verdict{calc.Fail, calc.Unsure, calc.NoVerdict, calc.Open, calc.Pass} {
		for _, text := range found[verdict] {
			list = append(list, Sentence{verdict.String(), text})
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
	sorting.Stable(open, func(a, b *calc.Judged) int { return len(b.Needs) - len(a.Needs) })
	var list []string
	for _, j := range open {
		list = append(list, j.Quantity.Name)
	}
	return list
}

// diagnosis is what the readings say of the suspects, if there are readings.
func (s writer) diagnosis(model *calc.Model) chapter {
	c := chapter{Title: "Diagnosis"}
	d, _ := model.Diagnose(calc.DiagnoseOptions{}) // the model has been checked before
	if d == nil || d.Finding == calc.NoReadings || len(model.Suspects) == 0 {
		return c
	}
	view := &page.DiagnosisView{Diagnosis: d, Layout: s.Layout}
	c.Lead = append([]string{view.Headline()}, append(view.Ranking(), view.Further()...)...)
	c.addTables(view.SuspectTable(), view.ReadingTable())
	return c
}

// stillToMeasure lists the open cells, with room to write into.
func (s writer) stillToMeasure(model *calc.Model, r *calc.Report) chapter {
	c := chapter{Title: "Still to measure"}
	todo := page.ToMeasure(model, r)
	t := table.Table{Columns: []table.Column{{Header: "cell"}, {Header: "unit"}, {Header: "how"},
		{Header: "found", ByHand: true}}}
	for _, m := range todo[:s.Cut(&t, len(todo))] {
		t.Rows = append(t.Rows, table.Row{Heading: m.Quantity.Sheet.Name,
			Cells: []string{m.Cell(), m.Quantity.Unit.Symbol, page.Printable(m.Quantity.Row.Note.Text), ""}})
	}
	c.addTables(t)
	return c
}

// sheetChapter holds the tables of all sheets, case sheets among them.
func (s writer) sheetChapter(title string, model *calc.Model, r *calc.Report) chapter {
	c := chapter{Title: title}
	for _, t := range s.SheetTables(model.Book, r) {
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
func derivations(numbers page.NumberStyle, steps []calc.Step) chapter {
	c := chapter{Title: "Derivations"}
	var current *fold
	left := page.MostRows
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
		lines := strings.Split(page.Worked(step, numbers, page.Unbounded), "\n")
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
				page.MostRows))
		}
	}
	return c
}

// remarks are the warnings of the run and the cases that went wrong.
func remarks(r *calc.Report) chapter {
	c := chapter{Title: "Remarks on the notebook"}
	for _, list := range [][]sheets.Problem{r.Failures, r.Warnings} {
		for _, p := range list[:min(len(list), mostFindings)] {
			text := page.Printable(p.Error())
			if p.Hint != "" {
				text += " (" + page.Printable(p.Hint) + ")"
			}
			c.Lead = append(c.Lead, text)
		}
	}
	return c
}

// mostFigures is how many figures a page has; a sheet of visits could ask for
// many more.
const mostFigures = 16

// charts draws what a notebook has the quantities for. All numbers are those
// of the report, or of the same model run for more cases.
func (s writer) charts(model *calc.Model, r *calc.Report, steps []calc.Step) (chapter, error) {
	c := chapter{Title: "Charts"}
	figures, err := s.wanted(&c, model, r)
	if len(model.Charts) == 0 {
		figures, err = s.WorthDrawing(model, r, steps)
	}
	if err != nil {
		return c, err
	}
	left, why := s.leftOver(model, r)
	figures, c.Lead = append(figures, left...), append(c.Lead, why...)
	logged, err := s.LoggedFigures(model, r)
	if err != nil {
		return c, err
	}
	figures = slices.Insert(figures, min(1, len(figures)), logged...) // behind what comes first
	figures = append(figures, s.Histograms(r)...)
	for _, result := range r.Cases {
		figures = append(figures, s.FaultFigures(model, result.Sheet.Name)...)
	}
	for _, f := range figures {
		if f != nil && !f.Empty() && len(c.Parts) < mostFigures {
			if !f.Sampled {
				f.Numbers = s.numbersOf(f.Figure)
			}
			c.Parts = append(c.Parts, part{Figure: f})
		}
	}
	return c, nil
}

// wanted are the figures that the sheets of charts ask for. Why one cannot be
// drawn is named at the head of the chapter.
func (s writer) wanted(c *chapter, model *calc.Model, r *calc.Report) ([]*figure.Captioned, error) {
	var figures []*figure.Captioned
	for _, ch := range model.Charts {
		f, why, err := s.FigureOf(ch, model, r)
		switch {
		case err != nil:
			return nil, err
		case why != "":
			c.Lead = append(c.Lead, page.Printable(ch.Title)+" is not drawn: "+why+".")
		default:
			f.Title = page.Printable(ch.Title)
			for _, note := range ch.Notes {
				f.Caption = append(f.Caption, page.Printable(note))
			}
			figures = append(figures, f)
		}
	}
	return figures, nil
}
