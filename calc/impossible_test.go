package calc

import (
	"fmt"
	"math"
	"math/rand/v2"
	"os"
	"slices"
	"strings"
	"testing"

	"rambook/sheets"
	"rambook/units"
)

// signed are what may be below 0 although such things are not, and why.
var signed = map[string]string{
	"oil_growth":          "oil that is colder than it was filled takes less room",
	"hottest_growth":      "oil that is colder than it was filled takes less room",
	"inlet_pressure":      "a vacuum gauge shows it, down to no pressure at all",
	"least_inlet":         "a vacuum gauge shows it, down to no pressure at all",
	"cold_inlet_pressure": "a vacuum gauge shows it, down to no pressure at all",
}

// wholes are what is in % and may be above 100 %, and why.
var wholes = map[string]string{
	"blank_share": "above 100 % counts as 100 %: a limit of its own would pass in a press of which nothing is measured",
	"reserve":     "a force may be more than twice the rated one",
}

// vacuum is no pressure at all beside the atmosphere (standard atmosphere, ISO 2533).
const vacuum = -101325.0

// impossible says why a machine cannot have a value, "" if it can. That areas,
// volumes, masses, times, powers, flows and speeds are not below 0, and that no
// efficiency and no share is above 1, follows from what they are.
func impossible(q *Quantity, si float64) string {
	const rounding = 1e-9
	if !Has(si) || q.Unit.Kind != units.Ordinary {
		return ""
	}
	if _, may := signed[q.Name]; may {
		if si < vacuum && q.Unit.Dim.Name() == "pressure" {
			return "less than no pressure"
		}
		return ""
	}
	_, whole := wholes[q.Name]
	part := q.Unit.Symbol == "%" && !whole
	switch name := q.Unit.Dim.Name(); {
	case part && si > 1+rounding:
		return "a part is above the whole"
	case part && si < -rounding:
		return "a part is below nothing"
	case si < 0 && slices.Contains([]string{"area", "volume", "mass", "time", "power", "flow", "speed", "length",
		"pressure",
		"force", "energy or torque", "density", "frequency", "angle per time", "volume per angle"}, name):
		return "a negative " + name
	}
	return ""
}

// TestStartersCatchTheImpossible draws the givens of each starter within their
// limits. Where something comes out that no machine can have, it does not pass by
// unseen: it fails itself, or what it is computed from does.
func TestStartersCatchTheImpossible(t *testing.T) {
	draws := 100
	if os.Getenv("RAMBOOK_LONG") != "" {
		draws = 1000
	}
	for _, starter := range []string{"press", "pumps", "lesson"} {
		files, _ := sheets.StarterFiles(starter)
		files, err := sheets.WithExamples(files)
		if err != nil {
			t.Fatal(err)
		}
		book := bookOf(t, files)
		m, problems := Compile(book, Options{})
		if m == nil {
			t.Fatalf("%s: %s", starter, told(problems))
		}
		base, _ := m.Check(CheckOptions{Quiet: true})
		var drawn, asked []*Quantity
		for _, q := range m.Quantities {
			switch {
			case q.IsText() || q.IsVerdict() || q.IsTick() || q.cutting != nil || q.unknown != nil:
			case q.IsFormula():
				asked = append(asked, q)
			case Has(base.find(t, q.Name).Value) && q.Unit.Kind != units.Date:
				drawn = append(drawn, q)
			}
		}
		r := rand.New(rand.NewPCG(11, 12))
		missed := map[string]int{}
		var sheet strings.Builder
		sheet.WriteString("draw")
		for _, q := range append(slices.Clone(drawn), asked...) {
			sheet.WriteString("," + q.Name)
		}
		sheet.WriteString("\n:unit" + strings.Repeat(",", len(drawn)+len(asked)))
		givens := make([]map[*Quantity]float64, draws)
		for n := range draws {
			givens[n] = map[*Quantity]float64{}
			fmt.Fprintf(&sheet, "\n%d", n)
			for _, q := range drawn {
				j := base.find(t, q.Name)
				x := j.Value
				if r.IntN(3) == 0 {
					x *= math.Exp((2*r.Float64() - 1) * math.Log(3))
				}
				if Has(j.Low) {
					x = math.Max(x, j.Low)
				}
				if Has(j.High) {
					x = math.Min(x, j.High)
				}
				fmt.Fprintf(&sheet, ",%.6g", x)
				givens[n][q] = q.Unit.ToSI(x)
			}
			sheet.WriteString(strings.Repeat(",", len(asked)))
		}
		files = append(files, sheets.StarterFile{Name: "99-draws.csv", Data: []byte(sheet.String() + "\n")})
		m, problems = Compile(bookOf(t, files), Options{})
		if m == nil {
			t.Fatalf("%s: %s", starter, told(problems))
		}
		report, _ := m.Check(CheckOptions{Quiet: true})
		caught := 0
		for i := range report.Cases {
			result := &report.Cases[i]
			if result.Sheet.Name != "draws" {
				continue
			}
			for k := range result.Cases {
				c := &result.Cases[k]
				bad := map[string]bool{}
				for v := range c.Values {
					if c.Values[v].Verdict > Pass || c.Values[v].Error != "" {
						bad[c.Values[v].Quantity.Name] = true
					}
				}
				for q, x := range givens[k] { // what is impossible itself, or what uses it
					if why := impossible(q, x); why != "" && !bad[q.Name] &&
						!slices.ContainsFunc(asked, func(user *Quantity) bool {
							return bad[user.Name] && slices.Contains(user.uses(), q)
						}) {
						missed[q.Name+": "+why]++
					}
				}
				for v := range c.Values {
					j := &c.Values[v]
					why := impossible(j.Quantity, j.Unit.ToSI(j.Value))
					if why == "" {
						continue
					}
					if slices.ContainsFunc(append(ancestorsOf(j.Quantity), j.Quantity),
						func(q *Quantity) bool { return bad[q.Name] }) {
						caught++
					} else {
						missed[j.Quantity.Name+": "+why]++
					}
				}
			}
		}
		t.Logf("%s: %d caught", starter, caught)
		if caught < draws/20 {
			t.Errorf("%s: only %d values are impossible: the test tries too little", starter, caught)
		}
		for what, n := range missed {
			t.Errorf("%s: %s, in %d of %d draws, and nothing fails", starter, what, n, draws)
		}
	}
}

// ancestorsOf are all quantities that one is computed from.
func ancestorsOf(q *Quantity) []*Quantity {
	var list []*Quantity
	known := map[*Quantity]bool{}
	queue := []*Quantity{q}
	for len(queue) > 0 {
		for _, used := range queue[0].uses() {
			if !known[used] {
				known[used] = true
				list, queue = append(list, used), append(queue, used)
			}
		}
		queue = queue[1:]
	}
	return list
}

// bookOf is the notebook of some files.
func bookOf(t *testing.T, list []sheets.StarterFile) *sheets.Notebook {
	t.Helper()
	book := &sheets.Notebook{Path: "starter"}
	for _, f := range list {
		s, problems := sheets.Read(f.Name, f.Data)
		if len(problems) > 0 {
			t.Fatal(told(problems))
		}
		book.Sheets = append(book.Sheets, s)
	}
	return book
}
