package page

import (
	"fmt"
	"path/filepath"
	"strings"

	"rambook/calc"
	"rambook/sheets"
	"rambook/sheets/table"
	"rambook/units"
	"rambook/units/words"
)

// Machine is one of several notebooks that are looked at together.
type Machine struct {
	Path     string
	Invented bool // it does not exist

	problems []sheets.Problem // for which it cannot be read

	// What is left of the notebook, which may go.
	worst, due, trend string // in words
	object            jsonMachine
}

// NewMachine keeps what comes first of a notebook. The model and its results are
// not held by it.
func (s Layout) NewMachine(path string, model *calc.Model, g *calc.Glance, counts calc.Counts) *Machine {
	one := &Machine{Path: path, Invented: model.Book.Invented(), object: glanceObject(path, g, counts),
		worst: s.worst(g), due: due(g), trend: trend(g)}
	one.object.Invented = one.Invented
	return one
}

// NewBrokenMachine is a notebook that cannot be read; there is at least one problem.
func NewBrokenMachine(path string, problems []sheets.Problem) *Machine {
	first := Printable(problems[0].Message)
	if n := len(problems) - 1; n > 0 {
		first += fmt.Sprintf(", and %d more", n)
	}
	return &Machine{Path: path, problems: problems, worst: first,
		object: jsonMachine{Notebook: path, Error: first, Problems: JSONProblems(problems)}}
}

// Broken reports whether a notebook cannot be read.
func (one *Machine) Broken() bool { return len(one.problems) > 0 }

// ShopView puts several notebooks into a table.
type ShopView struct {
	Machines []*Machine
	Layout   Layout
}

// Title counts the notebooks, with the givens that were replaced in all of them.
func (v *ShopView) Title(sets []string) string {
	text := words.Counted(len(v.Machines), "notebook")
	if invented := v.invented(); len(invented) > 0 {
		text += ", " + words.Listed(invented, MostNames) + " of an invented machine"
	}
	if len(sets) > 0 {
		text += ", with " + Printable(strings.Join(sets, ", "))
	}
	return text
}

// invented names the machines that do not exist.
func (v *ShopView) invented() []string {
	var list []string
	for _, one := range v.Machines {
		if one.Invented {
			list = append(list, one.name())
		}
	}
	return list
}

// name is what a machine is called: the end of its path.
func (one *Machine) name() string {
	if abs, err := filepath.Abs(one.Path); err == nil {
		return Printable(filepath.Base(abs))
	}
	return Printable(one.Path)
}

// unread stands in place of the verdict of a notebook that cannot be read.
const unread = "unread"

func (one *Machine) verdict() string {
	if one.Broken() {
		return unread
	}
	return one.object.Verdict
}

// Page is the table, and below it how many have which verdict.
func (v *ShopView) Page() []table.Table {
	t := table.Table{}
	rows := v.Machines[:v.Layout.Cut(&t, len(v.Machines))]
	t.Rows = make([]table.Row, len(rows))
	addColumn := func(head string, align table.Align, text func(*Machine) string) {
		cells, some := make([]string, len(rows)), false
		for i, one := range rows {
			cells[i] = text(one)
			some = some || cells[i] != ""
		}
		if some {
			v.Layout.AddColumn(&t, head, align, cells)
		}
	}
	addColumn("machine", table.Left, (*Machine).name)
	addColumn(VerdictHeader, table.Left, (*Machine).verdict)
	addColumn("worst", table.Left, func(one *Machine) string { return one.worst })
	addColumn("due next", table.Left, func(one *Machine) string { return one.due })
	addColumn("trend", table.Left, func(one *Machine) string { return one.trend })
	counts := map[string]int{}
	for _, one := range v.Machines {
		counts[one.verdict()]++
	}
	var parts []string
	for _, word := range []string{unread, calc.Fail.String(), calc.Unsure.String(), calc.Open.String(),
		calc.Pass.String(), ""} {
		if n := counts[word]; n > 0 {
			parts = append(parts, fmt.Sprintf("%d %s", n,
				strings.TrimSpace(map[bool]string{true: "not judged"}[word == ""]+word)))
		}
	}
	lines := []string{words.Listed(parts, len(parts)) + "."}
	if counts[calc.Fail.String()] > 0 {
		lines = append(lines, Cautions)
	}
	return []table.Table{t, v.Layout.Sentences(2, lines...)}
}

// worst is what makes the verdict of a machine.
func (s Layout) worst(g *calc.Glance) string {
	j := g.Worst
	if j == nil {
		return ""
	}
	text := j.Quantity.Name
	if g.Where.Case != "" {
		text = Printable(g.Where.Case) + ": " + text
	}
	switch {
	case j.Error != "":
		text += ": " + j.Error
	case j.Quantity.IsTick() && j.Verdict == calc.Fail:
		text += " not done"
	case j.Verdict == calc.Fail:
		text += " " + s.Margin(j)
	case j.Verdict == calc.Unsure && j.Unproven != nil:
		text += ": " + unproven(j)
	case j.Verdict == calc.Unsure && calc.Has(j.Inside):
		text += " " + Likely(j)
	case j.Verdict == calc.Open && len(j.Needs) > 0 && j.Needs[0].Name != j.Quantity.Name:
		text += " needs " + j.Needs[0].Name
	}
	if g.More > 0 {
		text += fmt.Sprintf(", and %d more", g.More)
	}
	return text
}

// due is what falls due first, and when.
func due(g *calc.Glance) string {
	if g.Due == nil {
		return ""
	}
	what := g.Due.Name
	if g.Due.Case != "" {
		what = Printable(g.Due.Case)
	}
	return units.FormatDate(g.DueOn) + " " + what
}

// trend is what goes to a limit first, and when it gets there.
func trend(g *calc.Glance) string {
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

// Rows holds the machines for CSV.
func (v *ShopView) Rows() table.Table {
	t := table.Table{}
	for _, head := range []string{"notebook", "verdict", "worst", "worst_sheet", "worst_case", "more", "due", "due_on",
		"trend", "trend_meets", "pass", "fail", "unsure", "open", "error", "invented"} {
		t.Columns = append(t.Columns, table.Column{Header: head})
	}
	for _, one := range v.Machines {
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
		if one.Invented {
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
	Notebook string         `json:"notebook"`
	Invented bool           `json:"invented,omitempty"`
	Verdict  string         `json:"verdict,omitempty"`
	Worst    *jsonPlaced    `json:"worst,omitempty"`
	Value    *JSONValue     `json:"value,omitempty"`
	More     int            `json:"more"`
	Due      *jsonPlaced    `json:"due,omitempty"`
	DueOn    string         `json:"due_on,omitempty"`
	Trend    *jsonForesight `json:"trend,omitempty"`
	Counts   JSONCounts     `json:"counts"`
	Error    string         `json:"error,omitempty"`
	Problems []JSONProblem  `json:"problems,omitempty"`
}

type jsonShop struct {
	Notebooks []jsonMachine `json:"notebooks"`
}

// Object is what `check --format json` promises of several notebooks.
func (v *ShopView) Object() any {
	var out jsonShop
	for _, one := range v.Machines {
		out.Notebooks = append(out.Notebooks, one.object)
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
	out.Verdict, out.More, out.Counts = g.Verdict.String(), g.More, JSONCounts(counts)
	if g.Worst != nil {
		value := NewJSONValue(g.Worst)
		out.Worst, out.Value = placed(g.Where), &value
	}
	if g.Due != nil {
		out.Due, out.DueOn = placed(g.Due), units.FormatDate(g.DueOn)
	}
	if m := g.Meets; m != nil {
		out.Trend = &jsonForesight{m.Sheet.Name, m.Name, JSONNumber(m.Unit, m.Meets.Limit), m.Unit.Symbol,
			units.FormatDate(m.On)}
	}
	return out
}
