package calc

import (
	"fmt"
	"regexp"
	"strings"
	"testing"

	"pgregory.net/rapid"

	"rambook/sheets"
	"rambook/units"
)

// withHints writes problems with their hints, one a line.
func withHints(problems []sheets.Problem) string {
	var lines []string
	for _, p := range problems {
		line := p.Error()
		if p.Hint != "" {
			line += " (" + p.Hint + ")"
		}
		lines = append(lines, line)
	}
	return strings.Join(lines, "\n")
}

const quantityHeader = "name,entry,unit,reading,spread,low,high\n"

// TestCellFaults gives rows of a quantity sheet that cannot be read, with all
// that is said about each.
func TestCellFaults(t *testing.T) {
	for _, test := range []struct{ row, want string }{
		// names
		{"2nd,3,mm", "a.csv:2:1: `2nd` cannot be a name (use letters, digits and _, with a letter first)"},
		{"große,3,mm", "a.csv:2:1: `große` cannot be a name (use letters, digits and _, with a letter first)"},
		{"let,3,mm", "a.csv:2:1: `let` is a word of the formula language (choose another name)"},
		{"h,3,mm", "a.csv:2:1: `h` is the unit hour (call it `height`)"},
		{"t,3,degC", "a.csv:2:1: `t` is the unit tonne (call it `temperature`, or better what it is of)"},
		{"d,3,", "a.csv:2:1: `d` is the unit day (choose another name, such as `d_value`)"},
		{"pi,3,", "a.csv:2:1: `pi` is the constant pi (choose another name, such as `pi_value`)"},
		// numbers
		{"x,#NAME?,mm", "a.csv:2:3: #NAME? was saved by a spreadsheet in place of what stood here " +
			"(type it again, a formula without `=`, which a spreadsheet leaves alone)"},
		{"x,Err:508,mm", "a.csv:2:3: Err:508 was saved by a spreadsheet in place of what stood here " +
			"(type it again, a formula without `=`, which a spreadsheet leaves alone)"},
		{"x,3 MPa,mm", "a.csv:2:3: 3 MPa is a pressure, but the row is in mm"},
		{"x,3 mm,", "a.csv:2:3: 3 mm is a length, but the row is a plain number"},
		{"x,1e308,km", "a.csv:2:3: 1e308 is out of range in the unit km"},
		{"x,1e-320,um", "a.csv:2:3: 1e-320 is out of range in the unit um"},
		{"x,3,date", "a.csv:2:3: a date is needed here, found a number (write it as 2026-05-04)"},
		{"x,2026-05-04,mm", "a.csv:2:3: 2026-05-04 is a date, but the row is in mm"},
		{"x,2026-05-04,h", "a.csv:2:3: 2026-05-04 is a date, but the row is in h"},
		{"x,3 h,date", "a.csv:2:3: 3 h is a time, but the row is a date"},
		// what is neither a number nor a formula
		{"x,2*3,mm", "a.csv:2:3: the formula yields a plain number, but the row is in mm " +
			"(multiply by its unit, as in 24*MPa)"},
		{"x,20-25,", "a.csv:2:3: `20-25` is not a number (a range goes in `low` and `high`, or in the spread; " +
			"a calculation starts with `=`)"},
		{"x,5/4/2026,", "a.csv:2:3: `5/4/2026` is not a number " +
			"(a date is written year-month-day, as in `2026-05-04`; a spreadsheet may have rewritten it)"},
		{"x,5-4-2026,date", "a.csv:2:3: `5-4-2026` is not a date " +
			"(a date is written year-month-day, as in `2026-05-04`; a spreadsheet may have rewritten it)"},
		{"x,25kN,kN", "a.csv:2:3: `25kN` is not a number (put a blank before the unit: write `25 kN`)"},
		{"x,25 kNN,kN", "a.csv:2:6: unknown unit `kNN`"},
		{"x,yes,", "a.csv:2:3: `yes` is neither a number nor the name of a row " +
			"(give the row the unit tick for yes and no)"},
		{"x,see note,", "a.csv:2:3: `see` is not a number (write a number such as `25`, `-12.5e3` or `2900 psi`)"},
		{"x,done,tick", "a.csv:2:3: `done` is neither yes nor no (write yes once it is done)"},
		{"x,yes,tick,1", "a.csv:2:12: a tick has no reading, spread or limits (leave the cell blank)"},
		{"x,=2*3,,other\n" +
			"other,3,", "a.csv:2:9: `other` is not a number " +
			"(write a number; what is computed stands in an entry)"},
		{"x,3,mm,,n/a", "a.csv:2:9: n/a stands in the entry of a row, not in its spread (leave the cell blank)"},
		// a formula where none may stand
		{"x,=2,,=3", "a.csv:2:7: a formula stands where a number is needed (write a number, with or without a unit)"},
		{"x,=2,text", "a.csv:2:4: the formula yields a plain number, but the row is a text " +
			"(give the row the unit of what it yields)"},
		{"x,'=2,text", "a.csv:2:5: the formula yields a plain number, but the row is a text " +
			"(give the row the unit of what it yields)"},
		// readings, spreads and limits
		{"x,abc,text,1,2,3,4", "a.csv:2:12: a text has no reading, spread or limits (leave the cell blank)\n" +
			"a.csv:2:14: a text has no reading, spread or limits (leave the cell blank)\n" +
			"a.csv:2:16: a text has no reading, spread or limits (leave the cell blank)\n" +
			"a.csv:2:18: a text has no reading, spread or limits (leave the cell blank)"},
		{"x,3,mm,4", "a.csv:2:8: a reading stands against a formula, but x is none " +
			"(put what was measured into the entry, or give the row a formula to compare it with)"},
		{"x,,mm,4", "a.csv:2:7: a reading stands against a formula, but x is none " +
			"(put what was measured into the entry, or give the row a formula to compare it with)"},
		{"x,3,mm,,,5,4", "a.csv:2:10: low 5 is above high 4 (correct one)"},
		{"x,3,mm,,,1 m,999", "a.csv:2:10: low 1 m is above high 999 (correct one)"},
		{"x,3,mm,,-1", "a.csv:2:9: a spread cannot be negative " +
			"(write the half-width of the interval, as in 0.5 for ± 0.5)"},
		{"x,3,mm,,-1 %", "a.csv:2:9: a spread cannot be negative " +
			"(write the half-width of the interval, as in 0.5 for ± 0.5)"},
		{"x,3,km,,1e307", "a.csv:2:9: 1e307 is out of range in the unit km"},
		{"x,3,%,,1.5 %", "a.csv:2:8: a spread in % of a quantity in % is ambiguous (write 1.5 for percentage points)"},
		{"x,20,degC,,1 %", "a.csv:2:12: a spread in percent of a temperature has no meaning: " +
			"percent from which zero? (write it in degrees, as in 2)"},
		{"x,2026-05-04,date,,1 %", "a.csv:2:20: a spread in percent of a date has no meaning " +
			"(write it in a unit of time, as in 2 d)"},
		{"x,2026-05-04,date,,2", "a.csv:2:20: the spread of a date needs a unit of time (write it as 2 d)"},
		{"x,2026-05-04,date,,2026-05-04", "a.csv:2:20: 2026-05-04 is a date, but a spread is a time " +
			"(write how far off it may be, as in 2 d)"},
		{"x,3,mm,,2 s", "a.csv:2:9: 2 s is a time, but the row is in mm"},
		{"x,20,degC,,=y\ny,20,degC", "a.csv:2:13: a spread is a difference, found a temperature point"},
		{"x,3,mm,,,=y\n" +
			"y,20,degC", "a.csv:2:11: the formula yields a temperature point, but the low limit is in mm " +
			"(y is in degC)"},
		{"x,3,mm,,,,=1 > 2", "a.csv:2:12: a truth value is no result (write condition ? 1 : 0)"},
		{"x,3,mm,,1.5 % of value", ""},
		// several mistakes of one row are all told; what follows from one is not
		{"h,3 MPa,mm,,-1", "a.csv:2:1: `h` is the unit hour (call it `height`)\n" +
			"a.csv:2:3: 3 MPa is a pressure, but the row is in mm\n" +
			"a.csv:2:13: a spread cannot be negative (write the half-width of the interval, as in 0.5 for ± 0.5)"},
		{"x,3,zz\n" +
			"y,=x + 2*mm,mm\n" +
			"z,=y + 2,zz", "a.csv:2:5: unknown unit `zz`\n" +
			"a.csv:4:4: cannot add length to a plain number (give the plain number a unit, as in 24*MPa)\n" +
			"a.csv:4:10: unknown unit `zz`"},
		{"x,3,mm\n" +
			"x,4,mm", "a.csv:3:1: x stands already in a.csv, line 2 " +
			"(a name is used once in the whole notebook; rename one of the two)"},
		{"x,=a1 + b1 + c1 + d1 + e1 + f1 + g1,s\na1,1,mm\nb1,1,mm\nc1,1,mm\nd1,1,mm\ne1,1,mm\nf1,1,mm\ng1,1,mm",
			"a.csv:2:4: the formula yields a length, but the row is in s " +
				"(a1 is in mm, b1 is in mm, c1 is in mm, d1 is in mm, e1 is in mm and 2 more)"},
	} {
		_, problems := Compile(files(t, "a.csv", quantityHeader+test.row+"\n"), Options{})
		if got := withHints(problems); got != test.want {
			t.Errorf("%s: got\n%s\nexpected\n%s\n", strings.ReplaceAll(test.row, "\n", "; "), got, test.want)
		}
	}
}

// TestCells gives cells in the forms that may stand in a row, and what becomes
// of them in the row's unit.
func TestCells(t *testing.T) {
	for _, test := range []struct {
		row  string
		want string // value ± spread, reading ± spread, low to high
	}{
		{"x,3,mm,,,,", "3 ± NaN, NaN ± NaN, NaN to NaN"},
		{"x,3 m,mm,,1 cm,2 m,4 m", "3000 ± 10, NaN ± NaN, 2000 to 4000"},
		{"x,200,mm,,2 %,,", "200 ± 4, NaN ± NaN, NaN to NaN"},
		{"x,-200,mm,,2 %,,", "-200 ± 4, NaN ± NaN, NaN to NaN"},
		{"x,25,%,,2,,", "25 ± 2, NaN ± NaN, NaN to NaN"},
		{"x,=1/4,%,26,2,20,30", "25 ± NaN, 26 ± 2, 20 to 30"},
		{"x,=50*mm,mm,48 mm,1 %,,=2*30*mm", "50 ± NaN, 48 ± 0.48000000000000004, NaN to 60"},
		{"x,20,degC,,2,10,300 K", "20 ± 2, NaN ± NaN, 10 to 26.85"},
		{"x,20,degC,,2 K,,", "20 ± 2, NaN ± NaN, NaN to NaN"},
		{"x,293.15 K,degC,,9 degF,,", "20 ± 5, NaN ± NaN, NaN to NaN"},
		{"x,20 degC,K,,2,,", "293.15 ± 2, NaN ± NaN, NaN to NaN"},
		{"x,'=2*3,,,,,", "6 ± NaN, NaN ± NaN, NaN to NaN"},
		{"x,3,mm,,0,,", "3 ± 0, NaN ± NaN, NaN to NaN"},
		{"x,3,mm,,=0.1*mm,,", "3 ± 0.1, NaN ± NaN, NaN to NaN"},
		{"x,−3,mm,,,,", "-3 ± NaN, NaN ± NaN, NaN to NaN"},
	} {
		m, problems := Compile(files(t, "a.csv", quantityHeader+test.row+"\n"), Options{})
		if m == nil {
			t.Errorf("%s: %s", test.row, withHints(problems))
			continue
		}
		r, problems := m.Check(CheckOptions{})
		if r == nil {
			t.Errorf("%s: %s", test.row, withHints(problems))
			continue
		}
		j := r.find(t, "x")
		if got := fmt.Sprintf("%v ± %v, %v ± %v, %v to %v", j.Value, j.Spread, j.Reading, j.ReadingSpread, j.Low,
			j.High); got != test.want {
			t.Errorf("%s: got %s, expected %s", test.row, got, test.want)
		}
	}
}

// TestTradeUnits reads what people of the trade write behind a number by what
// the row is.
func TestTradeUnits(t *testing.T) {
	for _, test := range []struct{ entry, unit, hint string }{
		{"2000 lbs", "kN", "write `2000 lbf`"}, {"2000 lbs", "kg", "write `2000 lb`"},
		{"2000 LBS", "lbf", "write `2000 lbf`"},
		{"100 ton", "kN", "write `100 tonnef`, `100 ustonf` or `100 uktonf`; 1 tonnef is 9.80665 kN"},
		{"100 tons", "kg", "write `100 tonne`, `100 uston` or `100 ukton`"},
		{"8 gpm", "L/min", "write `8 usgal/min` or `8 impgal/min`"},
		{"20 hp", "kW", "write `20 hp_metric` or `20 hp_mech`"},
		{"20 HP", "kW", "write `20 hp_metric` or `20 hp_mech`"}, {"3600 PSI", "MPa", "did you mean `psi`?"},
	} {
		_, problems := Compile(files(t, "a.csv", quantityHeader+"x,"+test.entry+","+test.unit+"\n"), Options{})
		if len(problems) != 1 || problems[0].Hint != test.hint {
			t.Errorf("%s in a row in %s: %s", test.entry, test.unit, withHints(problems))
		}
	}
}

// TestComputes: what computes is none of the texts that are answered as numbers, ranges
// and dates, so that no such text goes by its pattern.
func TestComputes(t *testing.T) {
	for _, pattern := range []func() *regexp.Regexp{isoGrade, bareNumbers, onlyNumber} {
		rapid.Check(t, func(t *rapid.T) {
			if text := rapid.StringMatching(pattern().String()).Draw(t, "text"); computes(text) {
				t.Errorf("%q computes, and matches %s", text, pattern())
			}
		})
	}
	for _, text := range []string{`6"`, `6 1/4"`, "6-1/4 inch", "15/16", "5'", "12 ″"} {
		if _, found := units.Decimal(text); !found || computes(text) {
			t.Errorf("%s: Decimal finds it: %v, it computes: %v", text, found, computes(text))
		}
	}
}
