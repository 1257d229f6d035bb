package calc_test

import (
	"math/rand/v2"
	"os"
	"slices"
	"strings"
	"testing"

	"rambook/calc"
	"rambook/sheets"
	"rambook/units"
)

// blankPress reads the press starter as it is written: nothing of a machine in it.
// fill is which blank entries get their example.
func blankPress(t *testing.T, fill func(name string) bool) *sheets.Notebook {
	t.Helper()
	return blankStarter(t, "press", fill)
}

// blankStarter is blankPress for any starter.
func blankStarter(t *testing.T, starter string, fill func(name string) bool) *sheets.Notebook {
	t.Helper()
	list, _ := sheets.StarterFiles(starter)
	book := &sheets.Notebook{Path: starter}
	for _, f := range list {
		s, problems := sheets.Read(f.Name, f.Data)
		if len(problems) > 0 {
			t.Fatal(problems)
		}
		for i := range s.Rows {
			if row := &s.Rows[i]; !row.Example.Blank() && fill(row.Name.Text) {
				row.Entry = row.Example
			}
		}
		book.Sheets = append(book.Sheets, s)
	}
	return book
}

func recalculated(t *testing.T, book *sheets.Notebook) (*calc.Model, *calc.Report) {
	t.Helper()
	m, problems := calc.Compile(book, calc.Options{})
	if m == nil {
		t.Fatal(problems)
	}
	r, problems := m.Check(calc.CheckOptions{})
	if r == nil {
		t.Fatal(problems)
	}
	return m, r
}

// common are the numbers that stand in the press starter before anybody has
// typed one: physics, standards, and common practice that every workshop shares.
// A new one is to be read as the owner of another press: is it true of mine?
var common = strings.Fields("lower_point upper_point density_point orifice_coefficient roughness bend_constant " +
	"shear_ratio blank_share wall_transfer drift_time decay_time load_offset heaviest_share")

// TestStarterHoldsNoMachine reads what stands in a fresh notebook: every number
// is common to all machines, or an assumption that says how far off it may be.
func TestStarterHoldsNoMachine(t *testing.T) {
	for _, starter := range []string{"press", "pumps"} {
		t.Run(starter, func(t *testing.T) { holdsNoMachine(t, starter) })
	}
}

func holdsNoMachine(t *testing.T, starter string) {
	m, r := recalculated(t, blankStarter(t, starter, func(string) bool { return false }))
	for i, q := range m.Quantities {
		j := &r.Quantities[i]
		if q.IsFormula() || q.IsVerdict() {
			if j.Verdict == calc.Pass || j.Verdict == calc.Fail || j.Verdict == calc.Unsure {
				t.Errorf("%s is judged, %v, and nothing of the machine was typed", q.Name, j.Verdict)
			}
			continue
		}
		switch {
		case q.Row.Entry.Blank(), slices.Contains(common, q.Name):
		case q.IsAssumed() && calc.Has(j.Spread) && j.Spread > 0:
			if j.Verdict != calc.NoVerdict {
				t.Errorf("%s is assumed and judged %v", q.Name, j.Verdict)
			}
		default:
			t.Errorf("%s is %s in a fresh notebook", q.Name, q.Row.Entry.Text)
		}
	}
	for _, result := range r.Cases {
		for _, c := range result.Cases {
			if c.Verdict > calc.Open || c.Verdict == calc.Pass {
				t.Errorf("%s[%s] is judged %v", result.Sheet.Name, c.Name, c.Verdict)
			}
		}
	}
}

// TestNoVerdictWithoutItsNumbers fills random subsets of the examples in. No
// quantity has a verdict that depends on a number of the machine that was not
// filled in: what it needs is typed, common, or assumed.
func TestNoVerdictWithoutItsNumbers(t *testing.T) {
	rounds := 30
	switch {
	case testing.Short():
		rounds = 8
	case os.Getenv("RAMBOOK_LONG") != "":
		rounds = 300
	}
	for _, starter := range sheets.StarterNames() {
		t.Run(starter, func(t *testing.T) {
			for round := range rounds {
				needsItsNumbers(t, starter, round)
			}
		})
	}
}

func needsItsNumbers(t *testing.T, starter string, round int) {
	random := rand.New(rand.NewPCG(uint64(round), 1))
	share := random.Float64()
	filled := map[string]bool{}
	m, r := recalculated(t, blankStarter(t, starter, func(name string) bool {
		filled[name] = random.Float64() < share
		return filled[name]
	}))
	verdicts := 0
	for i, q := range m.Quantities {
		if v := r.Quantities[i].Verdict; v != calc.Pass && v != calc.Unsure && v != calc.Fail || q.IsVerdict() {
			continue
		}
		verdicts++
		for _, name := range m.Needed(q) {
			g := m.Quantity(name)
			if !filled[name] && !isCommon(starter, name) && !g.IsAssumed() {
				t.Errorf("round %d: %s is %v without %s", round, q.Name, r.Quantities[i].Verdict, name)
			}
		}
	}
	for _, result := range r.Cases {
		for _, c := range result.Cases {
			for _, j := range c.Values {
				if j.Verdict != calc.Pass && j.Verdict != calc.Unsure && j.Verdict != calc.Fail {
					continue
				}
				for _, name := range m.Needed(j.Quantity) {
					inCase := slices.ContainsFunc(result.Sheet.Columns,
						func(c sheets.Column) bool { return c.Name.Text == name })
					if !inCase && !filled[name] && !isCommon(starter, name) && !m.Quantity(name).IsAssumed() {
						t.Errorf("round %d: %s[%s].%s is %v without %s", round, result.Sheet.Name, c.Name,
							j.Quantity.Name,
							j.Verdict, name)
					}
				}
			}
		}
	}
	if share > 0.5 && verdicts == 0 && starter == "press" {
		t.Errorf("round %d: nothing is judged", round)
	}
}

// isCommon reports whether a number may stand in a fresh notebook. Those of the
// lesson are the exercise itself and of no machine, which its first line says.
func isCommon(starter, name string) bool { return starter == "lesson" || slices.Contains(common, name) }

// TestLessonSaysItsNumbersAreInvented: they stand in it as they are.
func TestLessonSaysItsNumbersAreInvented(t *testing.T) {
	list, _ := sheets.StarterFiles("lesson")
	first, _, _ := strings.Cut(string(list[0].Data), "\n")
	if !strings.Contains(first, "All numbers are invented for the lesson") {
		t.Errorf("the lesson begins with %s", first)
	}
}

// isGiven reports whether a row holds a number or a text of a machine, or waits for
// one.
func isGiven(row sheets.Row) bool {
	entry := row.Entry.Text
	_, err := units.ParseValue(entry)
	return entry == "" || err == nil || !row.Example.Blank()
}

// TestEachSheetAside sets every sheet of each invented machine aside in turn, and
// marks every given n/a in turn: the rest goes on computing, with the values that
// do not need it as they were.
func TestEachSheetAside(t *testing.T) {
	for _, starter := range sheets.StarterNames() {
		t.Run(starter, func(t *testing.T) { eachAside(t, starter) })
	}
}

func eachAside(t *testing.T, starter string) {
	whole, problems := sheets.Starter(starter)
	if len(problems) > 0 {
		t.Fatal(problems)
	}
	_, before := recalculated(t, whole)
	same := func(t *testing.T, after *calc.Report, gone string) {
		t.Helper()
		values := 0
		for i := range after.Quantities {
			j := &after.Quantities[i]
			was := before.Of(j.Quantity.Name)
			if j.Error != "" && was.Error == "" {
				t.Errorf("without %s: %s: %s", gone, j.Quantity.Name, j.Error)
			}
			if calc.Has(j.Value) {
				values++
			} else if calc.Has(was.Value) && j.State != calc.Absent {
				t.Errorf("without %s: %s is %v, needs %v", gone, j.Quantity.Name, j.State, j.Needs)
			}
		}
		if values == 0 {
			t.Errorf("without %s nothing is computed", gone)
		}
	}
	for i, s := range whole.Sheets {
		if s.Kind == sheets.Unknowns {
			continue // what it finds is open then, and can be typed in
		}
		book := *whole
		book.Sheets = slices.Delete(slices.Clone(whole.Sheets), i, i+1)
		book.Aside = []*sheets.Sheet{s}
		_, after := recalculated(t, &book)
		same(t, after, "sheet "+s.Name)
	}
	step := 1
	if testing.Short() {
		step = 7
	}
	count := 0
	for _, s := range whole.Sheets {
		for i := range s.Rows {
			if count++; !isGiven(s.Rows[i]) || count%step != 0 {
				continue
			}
			entry := s.Rows[i].Entry
			s.Rows[i].Entry.Text = "n/a"
			_, after := recalculated(t, whole)
			same(t, after, s.Rows[i].Name.Text)
			s.Rows[i].Entry = entry
		}
	}
}
