package main

import (
	"errors"
	"fmt"
	"os"
	"path/filepath"
	"runtime"
	"runtime/debug"
	"strings"
	"sync"

	"rambook/calc"
	"rambook/cmd/rambook/answer"
	"rambook/cmd/rambook/page"
	"rambook/sheets"
	"rambook/sheets/table"
	"rambook/units"
	"rambook/units/words"
)

// machine is one of several notebooks that are checked at once.
type machine struct {
	path   string
	counts calc.Counts
	faults int   // rows and cases that could not be computed
	err    error // it cannot be read

	// What is left of the notebook, which may go.
	worst, due, trend string // in words
	object            jsonMachine
	invented          bool // it does not exist
}

// checkShop checks several notebooks, each on a line. One that cannot be read
// is told of, and does not stop the others.
func (c *checkCommand) checkShop(s *session) error {
	if c.Watch || c.Blind || len(c.Only) > 0 {
		return problem("--watch, --blind and --only are for one notebook, and here are several", "name one of them")
	}
	options, err := c.sampleFlags.options()
	if err != nil {
		return err
	}
	machines := make([]*machine, 0, 1+len(c.More))
	for _, path := range append([]string{c.Path}, c.More...) {
		for _, one := range expanded(path) {
			if info, err := os.Stat(one); err == nil && !info.IsDir() && !strings.EqualFold(filepath.Ext(one), ".csv") {
				continue // the notes beside the notebooks
			}
			machines = append(machines, &machine{path: one})
		}
	}
	if len(machines) == 0 {
		return problem("there is no notebook among these files", "name the folders of the notebooks")
	}
	// Each notebook is done with as soon as it has its line, so that collecting
	// what is left of them may wait.
	defer debug.SetGCPercent(debug.SetGCPercent(1000))
	options.Quiet = true
	view := shopView{machines, s.screen()}
	next := make(chan *machine)
	var wait sync.WaitGroup
	for range min(runtime.GOMAXPROCS(0), len(machines)) {
		wait.Go(func() {
			for one := range next {
				view.check(one, c.Set, options)
			}
		})
	}
	for _, one := range machines {
		next <- one
	}
	close(next)
	wait.Wait()

	if err := s.answer(&answer.Answer{
		Title:  view.title(c.Set),
		Page:   view.page,
		Rows:   view.rows,
		Object: func() any { return view.object() },
	}); err != nil {
		return err
	}
	fails := false
	for _, one := range machines {
		if one.err != nil {
			printError(s.stderr, one.err, false)
		}
		fails = fails || one.err != nil || one.counts.Fail > 0 || one.faults > 0 || c.Strict && one.counts.Unsure > 0
	}
	if fails {
		return errFails
	}
	return nil
}

// expanded lists what a pattern stands for, where no shell has done so.
func expanded(path string) []string {
	if _, err := os.Stat(path); err == nil || !strings.ContainsAny(path, "*?[") {
		return []string{path}
	}
	if list, err := filepath.Glob(path); err == nil && len(list) > 0 {
		return list
	}
	return []string{path}
}

// check recalculates one notebook and looks at what comes first.
func (v shopView) check(one *machine, sets []string, options calc.CheckOptions) {
	model, err := notebookFlags{Path: one.path, lookFlags: lookFlags{Set: sets}}.load()
	if err == nil {
		one.invented = model.Book.Invented()
		report, problems := model.Check(options)
		if report == nil {
			err = refused(model, problems)
		} else {
			one.counts, one.faults = report.Counts, len(report.Failures)
			glance := model.Glance(report)
			one.worst, one.due, one.trend = v.worst(&glance), v.due(&glance), v.trend(&glance)
			one.object = glanceObject(one.path, &glance, one.counts)
			one.object.Invented = one.invented
			return
		}
	}
	one.err, one.worst, one.object = err, firstLine(err), brokenObject(one.path, err)
}

// shopView puts several notebooks into a table.
type shopView struct {
	machines []*machine
	page.Layout
}

func (v shopView) title(sets []string) string {
	text := words.Counted(len(v.machines), "notebook")
	if invented := v.invented(); len(invented) > 0 {
		text += ", " + words.Listed(invented, page.MostNames) + " of an invented machine"
	}
	if len(sets) > 0 {
		text += ", with " + page.Printable(strings.Join(sets, ", "))
	}
	return text
}

// invented names the machines that do not exist.
func (v shopView) invented() []string {
	var list []string
	for _, one := range v.machines {
		if one.invented {
			list = append(list, one.name())
		}
	}
	return list
}

// name is what a machine is called: the end of its path.
func (one *machine) name() string {
	if abs, err := filepath.Abs(one.path); err == nil {
		return page.Printable(filepath.Base(abs))
	}
	return page.Printable(one.path)
}

// broken stands in place of the verdict of a notebook that cannot be read.
const broken = "unread"

func (one *machine) verdict() string {
	if one.err != nil {
		return broken
	}
	return one.object.Verdict
}

// page is the table, and below it how many have which verdict.
func (v shopView) page() []table.Table {
	t := table.Table{}
	rows := v.machines[:v.Cut(&t, len(v.machines))]
	t.Rows = make([]table.Row, len(rows))
	addColumn := func(head string, align table.Align, text func(*machine) string) {
		cells, some := make([]string, len(rows)), false
		for i, one := range rows {
			cells[i] = text(one)
			some = some || cells[i] != ""
		}
		if some {
			v.AddColumn(&t, head, align, cells)
		}
	}
	addColumn("machine", table.Left, (*machine).name)
	addColumn(page.VerdictHeader, table.Left, (*machine).verdict)
	addColumn("worst", table.Left, func(one *machine) string { return one.worst })
	addColumn("due next", table.Left, func(one *machine) string { return one.due })
	addColumn("trend", table.Left, func(one *machine) string { return one.trend })
	counts := map[string]int{}
	for _, one := range v.machines {
		counts[one.verdict()]++
	}
	var parts []string
	for _, word := range []string{broken, calc.Fail.String(), calc.Unsure.String(), calc.Open.String(),
		calc.Pass.String(), ""} {
		if n := counts[word]; n > 0 {
			parts = append(parts, fmt.Sprintf("%d %s", n,
				strings.TrimSpace(map[bool]string{true: "not judged"}[word == ""]+word)))
		}
	}
	lines := []string{words.Listed(parts, len(parts)) + "."}
	if counts[calc.Fail.String()] > 0 {
		lines = append(lines, page.Cautions)
	}
	return []table.Table{t, v.Sentences(2, lines...)}
}

// worst is what makes the verdict of a machine.
func (v shopView) worst(g *calc.Glance) string {
	j := g.Worst
	if j == nil {
		return ""
	}
	text := j.Quantity.Name
	if g.Where.Case != "" {
		text = page.Printable(g.Where.Case) + ": " + text
	}
	switch {
	case j.Error != "":
		text += ": " + j.Error
	case j.Quantity.IsTick() && j.Verdict == calc.Fail:
		text += " not done"
	case j.Verdict == calc.Fail:
		text += " " + v.Margin(j)
	case j.Verdict == calc.Unsure && calc.Has(j.Inside):
		text += " " + page.Likely(j)
	case j.Verdict == calc.Open && len(j.Needs) > 0 && j.Needs[0].Name != j.Quantity.Name:
		text += " needs " + j.Needs[0].Name
	}
	if g.More > 0 {
		text += fmt.Sprintf(", and %d more", g.More)
	}
	return text
}

// due is what falls due first, and when.
func (v shopView) due(g *calc.Glance) string {
	if g.Due == nil {
		return ""
	}
	what := g.Due.Name
	if g.Due.Case != "" {
		what = page.Printable(g.Due.Case)
	}
	return units.FormatDate(g.DueOn) + " " + what
}

// trend is what goes to a limit first, and when it gets there.
func (v shopView) trend(g *calc.Glance) string {
	m := g.Meets
	if m == nil {
		return ""
	}
	side := "high"
	if m.Meets.Low {
		side = "low"
	}
	return fmt.Sprintf("%s %s, %s limit", units.FormatDate(m.On), m.Name, side)
}

// firstLine is the first of what is wrong.
func firstLine(err error) string {
	var all *problemsError
	if errors.As(err, &all) && len(all.Problems) > 0 {
		text := page.Printable(all.Problems[0].Message)
		if n := len(all.Problems) - 1; n > 0 {
			text += fmt.Sprintf(", and %d more", n)
		}
		return text
	}
	return page.Printable(err.Error())
}

// rows holds the machines for CSV.
func (v shopView) rows() table.Table {
	t := table.Table{}
	for _, head := range []string{"notebook", "verdict", "worst", "worst_sheet", "worst_case", "more", "due", "due_on",
		"trend", "trend_meets", "pass", "fail", "unsure", "open", "error", "invented"} {
		t.Columns = append(t.Columns, table.Column{Header: head})
	}
	for _, one := range v.machines {
		o := &one.object
		cells := []string{o.Notebook, o.Verdict}
		placed := func(p *jsonPlaced) []string {
			if p == nil {
				return []string{"", "", ""}
			}
			return []string{p.Name, p.Sheet, p.Case}
		}
		cells = append(cells, placed(o.Worst)...)
		cells = append(cells, fmt.Sprint(o.More))
		due := placed(o.Due)
		name := due[0]
		if due[2] != "" {
			name = due[2]
		}
		cells = append(cells, name, o.DueOn)
		if o.Trend == nil {
			cells = append(cells, "", "")
		} else {
			cells = append(cells, o.Trend.Name, o.Trend.Meets)
		}
		for _, n := range []int{o.Counts.Pass, o.Counts.Fail, o.Counts.Unsure, o.Counts.Open} {
			cells = append(cells, fmt.Sprint(n))
		}
		invented := ""
		if one.invented {
			invented = "yes"
		}
		t.Rows = append(t.Rows, table.Row{Cells: append(cells, o.Error, invented)})
	}
	return t
}

type jsonPlaced struct {
	Name  string `json:"name"`
	Sheet string `json:"sheet"`
	Case  string `json:"case,omitempty"`
}

type jsonForesight struct {
	Sheet string `json:"sheet"`
	Name  string `json:"name"`
	Limit any    `json:"limit"`
	Unit  string `json:"unit"`
	Meets string `json:"meets"`
}

type jsonMachine struct {
	Notebook string             `json:"notebook"`
	Invented bool               `json:"invented,omitempty"`
	Verdict  string             `json:"verdict,omitempty"`
	Worst    *jsonPlaced        `json:"worst,omitempty"`
	Value    *page.JSONValue    `json:"value,omitempty"`
	More     int                `json:"more"`
	Due      *jsonPlaced        `json:"due,omitempty"`
	DueOn    string             `json:"due_on,omitempty"`
	Trend    *jsonForesight     `json:"trend,omitempty"`
	Counts   page.JSONCounts    `json:"counts"`
	Error    string             `json:"error,omitempty"`
	Problems []page.JSONProblem `json:"problems,omitempty"`
}

type jsonShop struct {
	Notebooks []jsonMachine `json:"notebooks"`
}

func (v shopView) object() jsonShop {
	var out jsonShop
	for _, one := range v.machines {
		out.Notebooks = append(out.Notebooks, one.object)
	}
	return out
}

// brokenObject is a notebook that cannot be read.
func brokenObject(path string, err error) jsonMachine {
	out := jsonMachine{Notebook: path, Error: firstLine(err)}
	var all *problemsError
	if errors.As(err, &all) {
		out.Problems = page.JSONProblems(all.Problems)
	} else {
		out.Problems = page.JSONProblems([]sheets.Problem{{Message: err.Error()}})
	}
	return out
}

func glanceObject(path string, g *calc.Glance, counts calc.Counts) jsonMachine {
	out := jsonMachine{Notebook: path}
	placed := func(p *calc.Placed) *jsonPlaced {
		if p == nil {
			return nil
		}
		return &jsonPlaced{p.Name, p.Sheet, p.Case}
	}
	out.Verdict, out.More, out.Counts = g.Verdict.String(), g.More, page.JSONCounts(counts)
	if g.Worst != nil {
		value := page.NewJSONValue(g.Worst)
		out.Worst, out.Value = placed(g.Where), &value
	}
	if g.Due != nil {
		out.Due, out.DueOn = placed(g.Due), units.FormatDate(g.DueOn)
	}
	if m := g.Meets; m != nil {
		out.Trend = &jsonForesight{m.Sheet.Name, m.Name, page.JSONNumber(m.Unit, m.Meets.Limit), m.Unit.Symbol,
			units.FormatDate(m.On)}
	}
	return out
}
