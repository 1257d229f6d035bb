package units

import (
	"math"
	"strconv"
	"strings"
	"testing"

	"rambook/units/problem"
)

var numberTests = []struct {
	text string
	want float64
}{
	{"0", 0}, {"25", 25}, {"+25", 25}, {"-25", -25}, {"−25", -25},
	{"-12.5e3", -12500}, {"1E-3", 0.001}, {"2e+6", 2e6}, {"1e−3", 0.001}, {"−1e−3", -0.001},
	{".5", 0.5}, {"5.", 5}, {"007", 7}, {"0e999", 0}, {"-0.000", 0},
	{"1e308", 1e308}, {"5e-324", 5e-324},
	{" 25 ", 25}, {"\u00a025\u00a0", 25}, {"\u202f25\t", 25},
}

const (
	marks      = "the decimal mark is a point and thousands have no mark"
	anyNumber  = "write a number such as `25`, `-12.5e3` or `2900 psi`"
	ofSpread   = "the half-width alone goes in the spread, without the sign"
	ofLimit    = "a limit goes in `low` or `high`, without the sign"
	anyDate    = dateHint
	aRange     = "a range goes in `low` and `high`, or in the spread; a calculation starts with `=`"
	lostToSave = "enter again what the cell held before it was saved there"
)

// numberProblems are no numbers.
var numberProblems = []wanted{
	{"‹›", "a number is missing", ""},
	{"‹›  ", "a number is missing", ""},

	// Marks of other countries and programs.
	{"‹1,5›", "`1,5` is not a number", marks + ": write `1.5`"},
	{" ‹-0,250› ", "`-0,250` is not a number", marks + ": write `-0.250`"},
	{"‹1,234›", "`1,234` is not a number", marks +
		": write `1234` if the mark parts thousands, `1.234` if it is the decimal mark"},
	{"‹12,5e3›", "`12,5e3` is not a number", marks + ": write `12.5e3`"},
	{"‹1.234,5›", "`1.234,5` is not a number", marks + ": write `1234.5`"},
	{"‹1,234.5›", "`1,234.5` is not a number", marks + ": write `1234.5`"},
	{"‹1,234,567›", "`1,234,567` is not a number", marks + ": write `1234567`"},
	{"‹1.234.567›", "`1.234.567` is not a number", marks + ": write `1234567`"},
	{"‹1 234›", "`1 234` is not a number", marks + ": write `1234`"},
	{"‹1\u00a0234,5›", "`1\u00a0234,5` is not a number", marks + ": write `1234.5`"},
	{"‹1'234›", "`1'234` is not a number", marks + ": write `1234`"},
	{"‹1’234›", "`1’234` is not a number", marks + ": write `1234`"},
	{"‹1_000›", "`1_000` is not a number", marks + ": write `1000`"},
	{"‹12,34,5›", "`12,34,5` is not a number", marks},
	{"‹5,›", "`5,` is not a number", marks + ": write `5.`"},

	// Signs.
	{"‹–5›", "`–5` is not a number", "the minus sign is `-`"},
	{"‹- 5›", "`- 5` is not a number", "write `-5`"},
	{"‹--5›", "`--5` is not a number", anyNumber},
	{"‹±0.5›", "`±0.5` is not a number", ofSpread},
	{"‹<5›", "`<5` is not a number", ofLimit},
	{"‹≥5›", "`≥5` is not a number", ofLimit},
	{"‹~5›", "`~5` is not a number", "leave out the sign and write how far off it may be into the spread"},

	// A unit without a blank.
	{"‹2900psi›", "`2900psi` is not a number", "put a blank before the unit: write `2900 psi`"},
	{"‹20°C›", "`20°C` is not a number", "put a blank before the unit: write `20 °C`"},
	{"‹68F›", "`68F` is not a number", "put a blank before the unit: write `68 degF`"},
	{"‹3600PSI›", "`3600PSI` is not a number", "put a blank before the unit: write `3600 psi`"},
	{"‹3600psig›", "`3600psig` is not a number",
		"put a blank before the unit, and write `psi`; a pressure here is gauge pressure"},
	{"‹12h›", "`12h` is not a number", "put a blank before the unit: write `12 h`"},
	{"‹30L/min›", "`30L/min` is not a number", "put a blank before the unit: write `30 L/min`"},

	// Calculations.
	{"‹1/2›", "`1/2` is not a number", "a calculation starts with `=`"},
	{"‹2*(3+4)›", "`2*(3+4)` is not a number", "a calculation starts with `=`"},
	{"‹=3+4›", "`=3+4` is not a number", "a formula cannot stand here"},

	// Ranges.
	{"‹20-25›", "`20-25` is not a number", aRange},
	{"‹20–25›", "`20–25` is not a number", aRange},
	{"‹1e3-2e3›", "`1e3-2e3` is not a number", aRange},

	// Spoilt by a spreadsheet.
	{"‹#NAME?›", "`#NAME?` is an error that a spreadsheet left here", lostToSave},
	{"‹#REF!›", "`#REF!` is an error that a spreadsheet left here", lostToSave},
	{"‹#VALUE!›", "`#VALUE!` is an error that a spreadsheet left here", lostToSave},
	{"‹Err:508›", "`Err:508` is an error that a spreadsheet left here", lostToSave},

	// Dates of other countries.
	{"‹04.05.2026›", "`04.05.2026` is not a number", anyDate},
	{"‹5/4/2026›", "`5/4/2026` is not a number", anyDate},

	// Everything else.
	{"‹abc›", "`abc` is not a number", anyNumber},
	{"‹0x1F›", "`0x1F` is not a number", anyNumber},
	{"‹0b1›", "`0b1` is not a number", anyNumber},
	{"‹Inf›", "`Inf` is not a number", anyNumber},
	{"‹-inf›", "`-inf` is not a number", anyNumber},
	{"‹NaN›", "`NaN` is not a number", anyNumber},
	{"‹1e›", "`1e` is not a number", anyNumber},
	{"‹.›", "`.` is not a number", anyNumber},
	{"‹-›", "`-` is not a number", anyNumber},
	{"‹bell\arings›", "`bell rings` is not a number", anyNumber},
	{"‹" + strings.Repeat("µ", 100) + "›", "`" + strings.Repeat("µ", 60-1) + "…` is not a number", anyNumber},
	{"‹１２›", "`１２` is not a number", anyNumber},
	{"‹1e400›", "the number `1e400` is out of range", ""},
	{"‹-1e400›", "the number `-1e400` is out of range", ""},
	{"‹1e-400›", "the number `1e-400` is out of range", ""},
}

func TestParseNumbers(t *testing.T) {
	for _, test := range numberTests {
		if v, err := ParseValue(test.text); err != nil || v != (Value{Number: test.want}) {
			t.Errorf("ParseValue(%q) = %v, %v; want %v", test.text, v, err, test.want)
		}
	}
	for _, p := range numberProblems {
		_, err := ParseValue(p.text())
		p.check(t, err)
	}
}

var valueTests = []struct {
	text   string
	number float64
	symbol string
}{
	{"2900 psi", 2900, "psi"},
	{"2900  psi ", 2900, "psi"},
	{"2900\u00a0psi", 2900, "psi"},
	{"-20 degC", -20, "degC"},
	{"−20 °C", -20, "°C"},
	{"5 %", 5, "%"},
	{"1.5 in", 1.5, "in"},
	{"1e3 N*m", 1000, "N*m"},
	{"1450 1/min", 1450, "1/min"},
	{"1450 1 / min", 1450, "1 / min"},
	{"16 cm³/rev", 16, "cm³/rev"},
	{"1970-01-01", 0, "date"},
	{"2026-05-04", 1777852800, "date"},
}

var valueProblems = []wanted{
	{"‹1 234› mm", "`1 234` is not a number", marks + ": write `1234`"},
	{"‹2,900› psi", "`2,900` is not a number", marks +
		": write `2900` if the mark parts thousands, `2.900` if it is the decimal mark"},
	{"‹psi 2900›", "`psi 2900` is not a number", anyNumber},
	{"‹1e308 km›", "the number `1e308 km` is out of range", ""},
	{"20 ‹mpa›", "unknown unit `mpa`", "did you mean `MPa` or `mPa`?"},
	{"−20 ‹ton›", "the unit `ton` is ambiguous", "write `tonne`, `uston`, `ukton`, `tonnef`, `ustonf` or `uktonf`"},
	{"20 W/‹degC›", "the temperature scale `degC` cannot be part of a larger unit", "write `W/K`"},
	{"5 ‹-›", "unknown unit `-`", "leave the unit of a plain number empty"},
	{"5 ‹±› 0.1", "unexpected `±` in a unit", ofSpread},
	{"5 % ‹of reading›", "unexpected `of reading` after a unit", "remarks go in the note"},
	{"5 ‹text›", "`text` cannot follow a number", ""},
	{"‹5 date›", "`5 date` is not a date", anyDate},
	{"‹2026-5-4›", "`2026-5-4` is not a date", "write `2026-05-04`"},
	{"‹2026-02-30›", "the calendar has no `2026-02-30`", ""},
	{"‹26-05-04›", "`26-05-04` is not a date", anyDate},
	{"‹2026-05-04 12:00›", "`2026-05-04 12:00` is not a date", anyDate},
}

func TestParseValue(t *testing.T) {
	for _, test := range valueTests {
		v, err := ParseValue(test.text)
		if err != nil || v.Number != test.number || v.Unit.Symbol != test.symbol || !v.HasUnit {
			t.Errorf("ParseValue(%q) = %v, %v; want %v %s", test.text, v, err, test.number, test.symbol)
		}
	}
	for _, p := range valueProblems {
		if v, err := ParseValue(p.text()); err == nil || v != (Value{}) {
			t.Errorf("ParseValue(%q) = %v, %v; want an error and no value", p.text(), v, err)
		} else {
			p.check(t, err)
		}
	}
}

func TestDates(t *testing.T) {
	// The first is the definition of the scale; the day numbers of the others
	// are counted by hand: 56 years with 14 leap days and 123 days of 2026,
	// and one day to either side of a leap day.
	tests := []struct {
		text string
		days float64
	}{
		{"1970-01-01", 0},
		{"1969-12-31", -1},
		{"2026-05-04", 56*365 + 14 + 123},
		{"1972-02-29", 2*365 + 59},
		{"1972-03-01", 2*365 + 60},
	}
	for _, test := range tests {
		si, err := parseDate(" " + test.text)
		if err != nil || si != test.days*86400 {
			t.Errorf("parseDate(%q) = %v, %v; want %v days", test.text, si, err, test.days)
		}
		for _, offset := range []float64{0, -0.4, 43200, 86399} {
			if got := FormatDate(si + offset); got != test.text {
				t.Errorf("FormatDate(%v + %v s) = %q", test.text, offset, got)
			}
		}
	}
	for text, want := range map[float64]string{
		-62167219200: "0000-01-01",
		253402300799: "9999-12-31",
		253402300800: "2.534e+11 s after 1970-01-01",
		math.Inf(-1): "-Inf s after 1970-01-01",
	} {
		if got := FormatDate(text); got != want {
			t.Errorf("FormatDate(%v) = %q, want %q", text, got, want)
		}
	}
	_, err := parseDate(" ")
	wanted{"‹› ", "a date is missing", anyDate}.check(t, err)
	_, err = parseDate("tomorrow")
	wanted{"‹tomorrow›", "`tomorrow` is not a date", anyDate}.check(t, err)
}

func FuzzParseValue(f *testing.F) {
	for _, test := range numberTests {
		f.Add(test.text)
	}
	for _, test := range valueTests {
		f.Add(test.text)
	}
	for _, problems := range [][]wanted{numberProblems, valueProblems, parseProblems} {
		for _, p := range problems {
			f.Add(p.text())
			f.Add("25 " + p.text())
		}
	}
	f.Fuzz(func(t *testing.T, text string) {
		v, err := ParseValue(text)
		if err != nil {
			checkError(t, text, err)
			checkHint(t, err)
			return
		}
		if math.IsNaN(v.Number) || math.IsInf(v.Unit.ToSI(v.Number), 0) {
			t.Errorf("ParseValue(%q) = %v", text, v)
		}
		again := strconv.FormatFloat(v.Number, 'g', -1, 64) + " " + v.Unit.Symbol
		if v.Unit.Kind == Date {
			again = FormatDate(v.Number)
		}
		if w, err := ParseValue(again); err != nil || w != v {
			t.Errorf("ParseValue(%q) = %v, but %q gives %v, %v", text, v, again, w, err)
		}
	})
}

// checkHint makes sure that a hint which says what to write is itself
// accepted, when it is a rewriting of the text and not an example.
func checkHint(t *testing.T, err *problem.Problem) {
	t.Helper()
	_, rewritten, ok := strings.Cut(err.Hint, marks+": write ")
	if !ok {
		return
	}
	for i, part := range strings.Split(rewritten, "`") {
		if i%2 == 0 || strings.HasSuffix(part, "…") {
			continue
		}
		if _, err := parseNumber(part, 0, len(part)); err != nil && !strings.Contains(err.Message, "out of range") {
			t.Errorf("%q: the hint %q is no good: %v", err.Text, err.Hint, err)
		}
	}
}

func BenchmarkParseValue(b *testing.B) {
	for _, text := range []string{"25", "2900 psi", "-12.5e3 N*m"} {
		b.Run(text, func(b *testing.B) {
			for b.Loop() {
				if _, err := ParseValue(text); err != nil {
					b.Fatal(err)
				}
			}
		})
	}
}
