package page

import (
	"fmt"
	"slices"
	"strings"

	"rambook/calc"
	"rambook/sheets/table"
	"rambook/units/words"
)

// Page is for people: what was found, then case by case.
func (v *CaseDiagnosisView) Page() []table.Table {
	tables := []table.Table{v.Layout.Sentences(2, v.headline()...), v.Layout.Sentences(2, v.faults()...), v.table()}
	if v.anyFound() {
		tables = append(tables, v.Layout.Sentences(2, Cautions))
	}
	return WithoutEmpty(tables)
}

// CaseDiagnosisView puts the diagnosis of many cases into words and a table.
type CaseDiagnosisView struct {
	CaseDiagnosis *calc.CaseDiagnosis
	Layout        Layout
}

// headline is in how many cases what came out.
func (v *CaseDiagnosisView) headline() []string {
	var count [4]int
	for i := range v.CaseDiagnosis.Cases {
		count[v.CaseDiagnosis.Cases[i].Finding()]++
	}
	var parts []string
	add := func(f calc.Finding, text string) {
		if n := count[f]; n > 0 {
			parts = append(parts, fmt.Sprintf("in %d %s", n, text))
		}
	}
	add(calc.NothingWrong, "nothing is wrong within the spread of the readings")
	add(calc.Explained, "what was found explains the readings")
	add(calc.Unexplained, "something is left that no suspect explains")
	add(calc.NoReadings, "there is no reading to work with")
	lines := []string{fmt.Sprintf("%s of %s: %s.", words.Counted(len(v.CaseDiagnosis.Cases), "case"),
		v.CaseDiagnosis.Sheet.Name,
		strings.Join(parts, ", "))}
	if len(v.CaseDiagnosis.Suspects) == 0 {
		lines = append(lines, "There is no suspect to try: list in a suspect sheet which givens may be off.")
	}
	return append(lines, aside(v.CaseDiagnosis.LeftOut, v.CaseDiagnosis.Unfreed)...)
}

// faults gives a line to each suspect that was found in some case: since when it
// is there, or that it is there no more.
func (v *CaseDiagnosisView) faults() []string {
	var lines []string
	for _, s := range v.CaseDiagnosis.Suspects {
		if line := v.Fault(s); line != "" {
			lines = append(lines, line)
		}
	}
	return lines
}

// Fault is the line of one suspect, "" if it was never found.
func (v *CaseDiagnosisView) Fault(s *calc.Suspect) string {
	n, last := 0, -1
	for i := range v.CaseDiagnosis.Cases {
		if v.CaseDiagnosis.Cases[i].Fault(s) != nil {
			n, last = n+1, i
		}
	}
	if n == 0 {
		return ""
	}
	name := s.Quantity.Name
	if cause := s.Row.Note.Text; cause != "" {
		name += " (" + Printable(cause) + ")"
	}
	text := fmt.Sprintf("%s: in %s", name, words.Counted(n, "case"))
	if since := v.CaseDiagnosis.Since(s); since >= 0 {
		text += fmt.Sprintf(", there since %s; most recently %s", Printable(v.CaseDiagnosis.Cases[since].Name),
			v.value(v.CaseDiagnosis.Cases[last].Fault(s)))
		if check := s.Row.NextCheck.Text; check != "" {
			text += ". " + nextCheck(check, v.read(v.CaseDiagnosis.Cases[last].Name))
		}
	} else {
		text += fmt.Sprintf(", the last of them %s; not there at the end", Printable(v.CaseDiagnosis.Cases[last].Name))
	}
	return text + "."
}

// read lists the columns in which a case has something.
func (v *CaseDiagnosisView) read(name string) (list []string) {
	s := v.CaseDiagnosis.Sheet
	for i := range s.Cases {
		for k, cell := range s.Cases[i].Cells {
			if s.Cases[i].Name.Text == name && !cell.Blank() {
				list = append(list, s.Columns[k].Name.Text)
			}
		}
	}
	return list
}

// value is what was found, in a sentence.
func (v *CaseDiagnosisView) value(f *calc.FoundFault) string {
	u := f.Suspect.Quantity.Unit
	text := Beside(v.Layout.Numbers.WithSpread(u, f.Value, f.Spread), u)
	if f.AtEnd {
		text = Beside(v.Layout.Numbers.TypedOn(u, f.Value, NoSpread), u) + " or beyond"
	}
	return text + " instead of " + Beside(v.Layout.Numbers.TypedOn(u, f.Nominal, NoSpread), u)
}

func (v *CaseDiagnosisView) anyFound() bool {
	for i := range v.CaseDiagnosis.Cases {
		if len(v.CaseDiagnosis.Cases[i].Found) > 0 {
			return true
		}
	}
	return false
}

// table has a line for each case and a column for each suspect found in any.
func (v *CaseDiagnosisView) table() table.Table {
	t := table.Table{Title: v.CaseDiagnosis.Sheet.Name}
	shown := v.Layout.Cut(&t, len(v.CaseDiagnosis.Cases))
	cases := v.CaseDiagnosis.Cases[:shown]
	names, misfits, left := make([]string, shown), make([]string, shown), make([]string, shown)
	remarks := make([][]string, shown)
	for i := range cases {
		c := &cases[i]
		t.Rows = append(t.Rows, table.Row{Heading: Printable(v.CaseDiagnosis.Sheet.Cases[i].Heading)})
		names[i] = Printable(c.Name)
		if calc.Has(c.Misfit) {
			misfits[i], left[i] = rough(c.Misfit), rough(c.Left)
		}
		remarks[i] = v.remark(c)
	}
	v.Layout.AddColumn(&t, v.CaseDiagnosis.Sheet.Key.Text, table.Left, names)
	v.Layout.AddColumn(&t, "misfit", table.Decimal, misfits)
	for _, s := range v.CaseDiagnosis.Suspects {
		cells, any := make([]string, shown), false
		u := s.Quantity.Unit
		for i := range cases {
			if f := cases[i].Fault(s); f != nil {
				any = true
				cells[i] = v.Layout.Numbers.WithSpread(u, f.Value, f.Spread)
			}
		}
		if any {
			v.Layout.AddColumn(&t, HeaderBelow(s.Quantity.Name, u), table.Decimal, cells)
		}
	}
	v.Layout.AddColumn(&t, "left", table.Decimal, left)
	if slices.ContainsFunc(misfits, func(text string) bool { return text != "" }) {
		v.Layout.addNote(&t, "misfit: how far off all readings of a case are together; "+
			"left: how much of that remains once what was found is allowed for.")
	}
	v.Layout.addRemarks(&t, remarks, mostBelow)
	return t
}

// remark is what the numbers of a case leave out.
func (v *CaseDiagnosisView) remark(c *calc.CaseFaults) (parts []string) {
	switch c.Finding() {
	case calc.NoReadings:
		if c.Error {
			return []string{"cannot be computed"}
		}
		return []string{"no reading"}
	case calc.NothingWrong:
		return []string{"nothing wrong"}
	case calc.Unexplained:
		parts = append(parts, "unexplained")
	}
	for i := range c.Found {
		f := &c.Found[i]
		if len(f.Tied) > 0 {
			text := "or " + words.Listed(tiedNames(f), mostRanked) + " in place of " + f.Suspect.Quantity.Name
			if c.Next != nil {
				text += "; read " + c.Next.Name
			}
			parts = append(parts, text)
		}
		if f.AtEnd {
			parts = append(parts, f.Suspect.Quantity.Name+" or beyond")
		}
	}
	return parts
}

// Rows is the diagnosis for other programs, one line for each fault found.
func (v *CaseDiagnosisView) Rows() table.Table {
	t := table.Table{}
	for _, header := range []string{"case", "finding", "misfit", "misfit_left", "suspect", "value", "unit", "spread",
		"nominal", "tied"} {
		t.Columns = append(t.Columns, table.Column{Header: header})
	}
	for i := range v.CaseDiagnosis.Cases {
		c := &v.CaseDiagnosis.Cases[i]
		head := []string{c.Name, c.Finding().String(), Shortest(c.Misfit), Shortest(c.Left)}
		if len(c.Found) == 0 {
			t.Rows = append(t.Rows, table.Row{Cells: append(head, "", "", "", "", "", "")})
		}
		for k := range c.Found {
			f := &c.Found[k]
			u := f.Suspect.Quantity.Unit
			t.Rows = append(t.Rows, table.Row{Cells: append(head[:4:4], f.Suspect.Quantity.Name, Exact(u, f.Value),
				u.Symbol, Shortest(f.Spread),
				Exact(u, f.Nominal), strings.Join(tiedNames(f), " "))})
		}
	}
	return t
}

type jsonFault struct {
	Name    string   `json:"name"`
	Value   any      `json:"value,omitzero"`
	Unit    string   `json:"unit"`
	Spread  any      `json:"spread,omitzero"`
	Nominal any      `json:"nominal,omitzero"`
	Tied    []string `json:"tied,omitempty"`
}

type jsonCaseFaults struct {
	Case        string      `json:"case"`
	Finding     string      `json:"finding"`
	Misfit      any         `json:"misfit,omitzero"`
	P           any         `json:"p,omitzero"`
	Left        any         `json:"misfit_left,omitzero"`
	LeftP       any         `json:"p_left,omitzero"`
	Readings    int         `json:"readings"`
	Found       []jsonFault `json:"found"`
	NextReading string      `json:"next_reading,omitempty"`
}

type jsonCaseDiagnosis struct {
	Sheet string            `json:"sheet"`
	Cases []jsonCaseFaults  `json:"cases"`
	Since map[string]string `json:"since"`
}

func jsonFaults(found []calc.FoundFault) []jsonFault {
	list := []jsonFault{}
	for i := range found {
		f := &found[i]
		u := f.Suspect.Quantity.Unit
		list = append(list, jsonFault{Name: f.Suspect.Quantity.Name, Value: JSONNumber(u, f.Value), Unit: u.Symbol,
			Spread: Plain(f.Spread), Nominal: JSONNumber(u, f.Nominal), Tied: tiedNames(f)})
	}
	return list
}

// Object is what `--format json` promises.
func (v *CaseDiagnosisView) Object() any { return newJSONCaseDiagnosis(v.CaseDiagnosis) }

// newJSONCaseDiagnosis is the diagnosis of many cases as other programs read it.
func newJSONCaseDiagnosis(d *calc.CaseDiagnosis) jsonCaseDiagnosis {
	out := jsonCaseDiagnosis{Sheet: d.Sheet.Name, Cases: []jsonCaseFaults{}, Since: map[string]string{}}
	for i := range d.Cases {
		c := &d.Cases[i]
		one := jsonCaseFaults{Case: c.Name, Finding: c.Finding().String(), Misfit: Plain(c.Misfit), P: Plain(c.P),
			Left: Plain(c.Left), LeftP: Plain(c.LeftP),
			Readings: c.Readings, Found: jsonFaults(c.Found)}
		if c.Next != nil {
			one.NextReading = c.Next.Name
		}
		out.Cases = append(out.Cases, one)
	}
	for _, s := range d.Suspects {
		if i := d.Since(s); i >= 0 {
			out.Since[s.Quantity.Name] = d.Cases[i].Name
		}
	}
	return out
}
