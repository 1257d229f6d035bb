package calc_test

import (
	"fmt"
	"math"
	"os"
	"regexp"
	"slices"
	"strconv"
	"strings"
	"testing"

	"rambook/calc"
	"rambook/sheets"
)

// The tests here change the formulas of the starters, one at a time, and look
// whether anybody notices: a factor on the whole, its sign, every number in
// it, every operator, two names that change places, a max that is a min. A
// formula that can be changed unnoticed is not held by anything. What notices:
// the units, the books that a press has to keep, and a second way to every
// quantity in `physics`. Limits, and spreads that are formulas, are changed too;
// what they are stands a second time in `bounds_test.go`.

// mutant is a formula that says something else.
type mutant struct {
	sheet, name, column, was, is string
	swap                         bool // two names change places
}

var (
	inFormula = regexp.MustCompile(`"[^"]*"|[A-Za-z_][A-Za-z_0-9]*(?:[.\[][A-Za-z_0-9]+\]?(?:\.[A-Za-z_0-9]+)?)?|` +
		`\d+(?:\.\d+)?(?:e-?\d+)?|<=|>=|==|[-+*/^<>?:(),]`)
	startsNumber = regexp.MustCompile(`^\d`)
	startsName   = regexp.MustCompile(`^[A-Za-z_]`)
)

// mutantsOf lists the mutants of one formula.
func mutantsOf(sheet, name, formula string, isDate bool) []mutant {
	body := strings.TrimPrefix(formula, "=")
	var list []mutant
	swap := false
	add := func(changed string) {
		list = append(list, mutant{sheet, name, "entry", body, changed, swap})
	}
	if isDate {
		add("(" + body + ") + 1*d")
	} else {
		add("1.1*(" + body + ")")
		add("-(" + body + ")")
	}
	at := inFormula.FindAllStringIndex(body, -1)
	word := func(i int) string { return body[at[i][0]:at[i][1]] }
	with := func(i int, text string) string { return body[:at[i][0]] + text + body[at[i][1]:] }
	other := map[string]string{"+": "-", "-": "+", "*": "/", "/": "*", "<=": ">", "<": ">=", "max": "min", "min": "max"}
	var names []string
	for i := range at {
		w := word(i)
		switch {
		case other[w] != "":
			add(with(i, other[w]))
		case startsNumber.MatchString(w):
			add(with(i, map[bool]string{true: "0.1", false: "(1.1*" + w + ")"}[w == "0"]))
		case startsName.MatchString(w) && (i+1 == len(at) || word(i+1) != "("):
			if !slices.Contains(names, w) {
				names = append(names, w)
			}
		}
	}
	swap = true
	for i, a := range names {
		for _, b := range names[i+1:] {
			add(swapNames(body, a, b))
		}
	}
	return list
}

// boundMutantsOf lists the mutants of a limit or a spread: of a formula all that a
// formula has, of a number another one. Spreads that are numbers are the user's.
func boundMutantsOf(sheet string, row sheets.Row) []mutant {
	var list []mutant
	for column, cell := range map[string]string{"low": row.Low.Text, "high": row.High.Text, "spread": row.Spread.Text,
		"doubt": row.Doubt.Text} {
		x, err := strconv.ParseFloat(cell, 64)
		switch {
		case cell == "" || column == "spread" && (err == nil || strings.HasSuffix(cell, "% of value")):
		case err == nil:
			other := fmt.Sprint(1.1 * x)
			if x == 0 {
				other = "0.1"
			}
			list = append(list, mutant{sheet: sheet, name: row.Name.Text, column: column, was: cell, is: other})
		default:
			for _, m := range mutantsOf(sheet, row.Name.Text, cell, row.Unit.Text == "date") {
				m.column = column
				if column == "spread" && !strings.HasPrefix(m.is, "=") {
					m.is = "=" + m.is // a number in brackets would be one in the row's unit
				}
				list = append(list, m)
			}
		}
	}
	return list
}

// caseMutantsOf lists other numbers in the rows :spread, :low and :high of a case sheet.
func caseMutantsOf(s *sheets.Sheet) []mutant {
	var list []mutant
	for _, head := range s.Columns {
		for row, cell := range map[string]string{":spread": head.Spread.Text, ":low": head.Low.Text,
			":high": head.High.Text} {
			x, err := strconv.ParseFloat(strings.TrimSuffix(cell, " %"), 64)
			if err == nil {
				list = append(list, mutant{sheet: s.Name, name: row, column: head.Name.Text, was: cell,
					is: fmt.Sprint(1.1*x) + strings.TrimPrefix(cell, fmt.Sprint(x))})
			}
		}
	}
	return list
}

// swapNames lets two names change places.
func swapNames(formula, a, b string) string {
	return inFormula.ReplaceAllStringFunc(formula, func(w string) string {
		switch w {
		case a:
			return b
		case b:
			return a
		}
		return w
	})
}

// machinery is a state of a starter in which every formula has a value.
type machinery struct {
	sets  []string
	known func(t testing.TB, v func(string) float64) []account
}

// changed is a starter with one formula changed.
func changed(starter string, m mutant) *sheets.Notebook {
	book := &sheets.Notebook{Path: starter}
	for _, f := range filledStarter(starter) {
		data := f.Data
		s, problems := sheets.Read(f.Name, data)
		if m.name != "" && s.Name == m.sheet {
			for _, row := range s.Rows {
				if row.Name.Text == m.name {
					data, _ = sheets.SetCell(data, int(row.Name.Line), m.column, m.is)
				}
			}
			for _, head := range s.Columns {
				at := map[string]sheets.Cell{":spread": head.Spread, ":low": head.Low, ":high": head.High}[m.name]
				if head.Name.Text == m.column && at.Text != "" {
					data, _ = sheets.SetCell(data, int(at.Line), m.column, m.is)
				}
			}
			s, problems = sheets.Read(f.Name, data)
		}
		if len(problems) > 0 {
			return nil
		}
		if starter == "pumps" && (s.Name == "pumps" || s.Kind == sheets.Charts || s.Kind == sheets.Comparisons) {
			continue // twelve more runs of the model, which TestPumps looks at
		}
		book.Sheets = append(book.Sheets, s)
	}
	return book
}

// stationRows and faceRows are what was read at the stations and on the faces of
// the press: position, gap and gap after, slope and slope after.
var (
	stationRows = [][]string{{"0", "0.03", "0.02"}, {"600", "0.04", "0.03"}, {"1200", "0.02", "0.05"},
		{"1800", "0.07", "0.02"}, {"2400", "0.11", "0.06"}}
	faceRows = [][]string{{"0.06", "0.03"}, {"-0.03", "-0.02"}, {"-0.09", "-0.04"}, {"-0.02", "0.01"}}
)

// oddGrid is a map over pressure and speed of which the last pressures are read nowhere.
func oddGrid() [][]string {
	var rows [][]string
	for _, p := range []string{"3", "26", "26.5", "27"} {
		for _, n := range []string{"350", "900", "1500", "2000"} {
			v, m := "97", "80"
			switch {
			case p == "26":
				v, m = "91", "92"
			case p+n == "26.5350":
				v = "105"
			case p+n == "26.5900":
				m = "1.5"
			case p+n == "27350":
				v = "2.1"
			}
			rows = append(rows, []string{p, n, v, m})
		}
	}
	return rows
}

// filledStarter is a starter with its examples, and in the press with what is
// read at every station and on every face.
func filledStarter(starter string) []sheets.StarterFile {
	list, _ := sheets.StarterFiles(starter)
	list, err := sheets.WithExamples(list)
	if err != nil {
		panic(err)
	}
	fill := func(sheet string, rows [][]string, columns ...string) {
		for i := range list {
			s, _ := sheets.Read(list[i].Name, list[i].Data)
			for r, row := range s.Cases {
				if s.Name != sheet || r >= len(rows) {
					break
				}
				for k, column := range columns {
					if rows[r][k] == "" {
						continue
					}
					list[i].Data, _ = sheets.SetCell(list[i].Data, int(row.Name.Line), column, rows[r][k])
				}
			}
		}
	}
	for i := range list { // the spread of a formula is its reading's
		s, _ := sheets.Read(list[i].Name, list[i].Data)
		for _, row := range s.Rows {
			if row.Name.Text == "gauge_pressure" || row.Name.Text == "pressure_after" {
				list[i].Data, _ = sheets.SetCell(list[i].Data, int(row.Name.Line), "reading", "25")
			}
		}
	}
	// Maps that begin and end elsewhere than the others, with points that cannot be where nothing is read.
	odd := slices.Repeat([][]string{{"", "", ""}}, 24)
	copy(odd, [][]string{{"3", "98", "80"}, {"26", "91", "89"}, {"26.5", "105", "90"}, {"27", "1.5", "90"}})
	odd[22], odd[23] = []string{"26", "", ""}, []string{"", "2.1", ""}
	fill("maps", odd, "p", "eta_v", "eta_m")
	fill("speed_maps", oddGrid(), "p", "n", "eta_v", "eta_m")
	// A step that is neither near the pinch nor blank: its row is looked at, and left out by the text in it.
	fill("duty", [][]string{{""}, {"pinch"}, {""}, {"part"}, {""}, {""}, {""}, {""}, {""}}, "where")
	fill("stations", stationRows, "position", "gap", "gap_after")
	fill("faces", faceRows, "slope", "slope_after")
	return list
}

// noticed is who notices a notebook that is not right, "" if nobody does.
func noticed(t testing.TB, starter string, book *sheets.Notebook, states []machinery) string {
	if book == nil {
		return "the reader"
	}
	if said := strayCaseBounds(starter, book); said != "" {
		return said
	}
	for i, state := range states {
		values, problems := valuesOf(book, state.sets)
		if len(problems) > 0 {
			return problems[0].Message
		}
		missing := ""
		v := func(name string) float64 {
			x, ok := values[name]
			if !ok || math.IsNaN(x) {
				missing = name
			}
			return x
		}
		for _, a := range slices.Concat(state.known(t, v), boundsOf(starter, v)) {
			if math.Abs(a.in-a.out) > 1e-9*math.Max(math.Abs(a.in), math.Abs(a.out)) && math.Abs(a.in-a.out) > 1e-15 {
				return fmt.Sprintf("%d: %s: %.12g goes in, %.12g comes out", i, a.name, a.in, a.out)
			}
		}
		if missing != "" {
			return missing + " is missing"
		}
	}
	return ""
}

// valuesIn is what a notebook computes in each state.
func valuesIn(t testing.TB, book *sheets.Notebook, states []machinery) []map[string]float64 {
	var list []map[string]float64
	for _, state := range states {
		values, problems := valuesOf(book, state.sets)
		if len(problems) > 0 {
			t.Fatal(problems)
		}
		list = append(list, values)
	}
	return list
}

// alikeIn reports whether a quantity has the same value in all states.
func alikeIn(a, b []map[string]float64, name string) bool {
	for i := range a {
		if !near(a[i][name], b[i][name], 1e-12) {
			return false
		}
	}
	return true
}

// TestMutants runs every eleventh mutant, with RAMBOOK_MUTATE=all every one, and with
// names of quantities, parted by commas, all of theirs.
func TestMutants(t *testing.T) {
	only := os.Getenv("RAMBOOK_MUTATE")
	picked := func(i int, m mutant) bool {
		switch only {
		case "":
			return i%11 == 0
		case "all":
			return true
		}
		return slices.Contains(strings.Split(only, ","), m.name)
	}
	for _, starter := range []string{"press", "pumps", "lesson"} {
		states := statesOf[starter]
		if said := noticed(t, starter, changed(starter, mutant{}), states); said != "" {
			t.Fatalf("%s as it is: %s", starter, said)
		}
		model, problems := calc.Compile(changed(starter, mutant{}), calc.Options{})
		if len(problems) > 0 {
			t.Fatal(problems)
		}
		formulas, count := map[string]bool{}, 0
		for _, q := range model.Quantities {
			formulas[q.Name] = q.IsFormula() && !q.IsText()
			if formulas[q.Name] {
				count++
			}
		}
		sound := valuesIn(t, changed(starter, mutant{}), states)
		var mutants, bounds []mutant
		for _, s := range changed(starter, mutant{}).Sheets {
			for _, row := range s.Rows {
				if formulas[row.Name.Text] {
					mutants = append(mutants, mutantsOf(s.Name, row.Name.Text, row.Entry.Text,
						row.Unit.Text == "date")...)
				}
				bounds = append(bounds, boundMutantsOf(s.Name, row)...)
			}
			bounds = append(bounds, caseMutantsOf(s)...)
		}
		slices.SortFunc(bounds, func(a, b mutant) int {
			return strings.Compare(a.name+a.column+a.is, b.name+b.column+b.is)
		})
		mutants = append(mutants, bounds...)
		run, alike, survivors := 0, 0, 0
		for i, m := range mutants {
			if !picked(i, m) {
				continue
			}
			run++
			if noticed(t, starter, changed(starter, m), states) == "" {
				// Factors and terms may change places, and nothing has changed.
				if m.swap && alikeIn(valuesIn(t, changed(starter, m), states), sound, m.name) {
					alike++
					continue
				}
				survivors++
				t.Errorf("%s: nobody notices %s.%s %s instead of %s", starter, m.name, m.column, m.is, m.was)
			}
		}
		t.Logf("%s: %d formulas, %d mutants of %d (%d of limits and spreads) run, %d of them say the same in other "+
			"words, %d not noticed", starter, count, run, len(mutants), len(bounds), alike, survivors)
	}
}
