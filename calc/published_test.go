package calc_test

import (
	"fmt"
	"slices"
	"strconv"
	"strings"
	"testing"

	"rambook/calc"
	"rambook/sheets"
	"rambook/units"
)

// TestPublishedExamplesInStarters types published examples into the starters' own
// sheets, as a person would, and holds what comes out against the printed figure.
// A copy of a rule in a test would say nothing of the rule that people get.
//
// reference/shipped.csv has every row of the outside: the starter that has its
// formula, what is typed in, and the quantity that answers; or why no starter has
// it. Names in `sets` are givens, formulas set aside, `NAME.spread`, and
// `SHEET[CASE].COLUMN`; `stops` are all ten stops.
func TestPublishedExamplesInStarters(t *testing.T) {
	rows := map[string]*referenceRow{}
	for _, r := range readReferenceRows(t) {
		rows[r.id] = r
	}
	told := map[string]bool{}
	answered, formulas := map[string]bool{}, map[string]bool{}
	few := testing.Short() // every fifth then, as each is a starter compiled anew
	for i, entry := range readRecords(t, "shipped.csv") {
		r := rows[entry["id"]]
		if r == nil {
			t.Errorf("shipped.csv: %s is no row of a source", entry["id"])
			continue
		}
		told[r.id] = true
		if entry["starter"] == "" {
			if entry["reason"] == "" {
				t.Errorf("shipped.csv: %s neither runs nor says why", r.id)
			}
			continue
		}
		if few && i%5 != 0 {
			continue
		}
		j := typedIn(t, entry, r.unit)
		if j == nil {
			continue
		}
		answered[r.id] = true
		formulas[entry["starter"]+"."+entry["result"]] = true
		f := figure{id: r.id, name: entry["result"], compared: "value", unit: r.unit}
		if entry["compared"] != "" {
			f.compared = entry["compared"]
		}
		compareResult(t, r, f, map[string]*calc.Judged{f.name: j})
	}
	for id := range rows {
		if !told[id] {
			t.Errorf("shipped.csv: nothing is said of %s", id)
		}
	}
	t.Logf("%d of %d rows run through %d formulas of the starters", len(answered), len(rows), len(formulas))
	if len(answered) < leastShipped && !few {
		t.Errorf("%d rows run through the starters, expected %d", len(answered), leastShipped)
	}
}

// leastShipped is stated so that a row cannot drop out unnoticed.
const leastShipped = 171

// typedIn types an entry of shipped.csv into its starter, and returns the answer in
// the unit of the source.
func typedIn(t *testing.T, entry map[string]string, unit string) *calc.Judged {
	t.Helper()
	book, problems := sheets.Starter(entry["starter"])
	if len(problems) > 0 {
		t.Fatal(problems)
	}
	var sets []string
	for set := range strings.SplitSeq(entry["sets"], "; ") {
		name, text, _ := strings.Cut(set, " = ")
		switch {
		case name == "stops":
			number, unit, _ := strings.Cut(text, " ")
			sets = append(sets, "timed_stop = runs"+strings.Repeat(" "+number, 10)+" "+unit)
		case strings.Contains(name, "."):
			if !typeCell(book, name, text) {
				t.Errorf("%s: %s has no cell %s", entry["id"], entry["starter"], name)
			}
		default:
			sets = append(sets, name+" = "+inNumbers(t, book, name, text))
		}
	}
	m, problems := calc.Compile(book, calc.Options{Sets: sets})
	if m == nil || len(problems) > 0 {
		t.Errorf("%s: %v", entry["id"], problems)
		return nil
	}
	r, _ := m.Check(calc.CheckOptions{}) // other rows may have lost what they need
	if r == nil {
		t.Errorf("%s: nothing comes out", entry["id"])
		return nil
	}
	k := slices.IndexFunc(r.Quantities, func(j calc.Judged) bool { return j.Quantity.Name == entry["result"] })
	if k < 0 {
		t.Errorf("%s: %s has no %s", entry["id"], entry["starter"], entry["result"])
		return nil
	}
	j := &r.Quantities[k]
	source := unit
	if symbols := rambookUnits[unit]; len(symbols) > 0 {
		source = symbols[0]
	}
	symbol := source
	if entry["in"] != "" {
		symbol = entry["in"]
	}
	u, err := units.Parse(symbol)
	if err != nil {
		t.Fatal(entry["id"], err)
	}
	if u.Dim != j.Unit.Dim && j.Unit.Symbol != "" {
		t.Errorf("%s: %s is in %s, the source in %s", entry["id"], entry["result"], j.Unit.Symbol, symbol)
	}
	times := 1.0
	if entry["times"] != "" {
		x, err := strconv.ParseFloat(entry["times"], 64)
		if err != nil {
			t.Fatal(entry["id"], err)
		}
		times = x
	}
	answer := *j
	answer.Value = times * u.FromSI(j.Unit.ToSI(j.Value))
	answer.Spread = times * u.Difference().FromSI(j.Unit.Difference().ToSI(j.Spread))
	answer.Unit, _ = units.Parse(source)
	return &answer
}

// inNumbers works out an example whose inputs are not what the sheet asks for, such
// as the pressure of a force on an area: a number in the unit of the row.
func inNumbers(t *testing.T, book *sheets.Notebook, name, text string) string {
	if !strings.ContainsAny(text, "*/(") {
		return text
	}
	if _, err := units.ParseValue(text); err == nil {
		return text
	}
	value, dim, problems := calc.Evaluate(text)
	if len(problems) > 0 {
		t.Fatal(text, problems)
	}
	for _, s := range book.Sheets {
		for _, row := range s.Rows {
			if row.Name.Text != name {
				continue
			}
			u, err := units.Parse(row.Unit.Text)
			if err != nil || u.Dim != dim {
				t.Fatalf("%s is in %q, not like %s", name, row.Unit.Text, text)
			}
			return fmt.Sprintf("%.17g", u.FromSI(value))
		}
	}
	t.Fatalf("there is no row %s", name)
	return ""
}

// typeCell writes NAME.spread, or SHEET[CASE].COLUMN.
func typeCell(book *sheets.Notebook, name, text string) bool {
	where, column, _ := strings.Cut(name, ".")
	sheet, key, ofCase := strings.Cut(strings.TrimSuffix(where, "]"), "[")
	for _, s := range book.Sheets {
		for i := range s.Rows {
			if !ofCase && column == "spread" && s.Rows[i].Name.Text == name[:len(where)] {
				s.Rows[i].Spread.Text = text
				return true
			}
		}
		for i := range s.Cases {
			for k, head := range s.Columns {
				if ofCase && s.Name == sheet && s.Cases[i].Name.Text == key && head.Name.Text == column {
					s.Cases[i].Cells[k].Text = text
					return true
				}
			}
		}
	}
	return false
}

// TestAreasOfStarters: ISO 3320 pair 200/140, areas 314.159265 and 160.221225 cm²
// (the note of ST-012, computed).
func TestAreasOfStarters(t *testing.T) {
	for _, test := range []struct {
		starter, name string
		want          float64 // SI
	}{
		{"press", "bore_area", 314.159265e-4}, {"press", "annulus_area", 160.221225e-4},
		{"pumps", "bore_area", 314.159265e-4}, {"pumps", "annulus_area", 160.221225e-4},
		{"lesson", "area", 314.159265e-4}, {"lesson", "annulus", 160.221225e-4},
	} {
		book, problems := sheets.Starter(test.starter)
		if len(problems) > 0 {
			t.Fatal(problems)
		}
		sets := []string{"bore = 200 mm", "rod_diameter = 140 mm"}
		if test.starter != "lesson" {
			sets = append(sets, "rams = 1")
		}
		values, problems := valuesOf(book, sets)
		if len(problems) > 0 {
			t.Fatal(problems)
		}
		if got := values[test.name]; !near(got, test.want, 1e-8) {
			t.Errorf("%s of %s: %.9g, expected %.9g", test.name, test.starter, got, test.want)
		}
	}
}
