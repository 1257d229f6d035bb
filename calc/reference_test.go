package calc_test

import (
	"encoding/csv"
	"fmt"
	"maps"
	"math"
	"os"
	"path/filepath"
	"regexp"
	"slices"
	"strconv"
	"strings"
	"testing"

	"rambook/calc"
	"rambook/sheets"
)

// The check values of the outside world stand in testdata/reference, one file
// for each kind of source, and the notebook beside them computes their rows.
// testdata/README.md tells where they come from.
const (
	referenceDir = "../testdata/reference"

	// leastCovered is the number of rows that the notebook computes. It is
	// stated here so that a row cannot drop out unnoticed.
	leastCovered = 469

	// recomputed figures are printed to eight significant digits or more,
	// those of the conversions to fifteen or more.
	relativeTolerance   = 1e-7
	conversionTolerance = 1e-12
	zeroTolerance       = 1e-10
)

// The conversions stand one folder up, because the units package tests with
// the same file.
var referenceFiles = []string{
	"fluid_power_examples", "bending", "standards", "numerics", "uncertainty", "../conversions", "practice",
}

// rambookUnits tells how rambook writes the unit that a source prints. The
// unit of the quantity must be one of them, so that a figure cannot be right
// in a wrong unit.
var rambookUnits = map[string][]string{
	"":                   {""},
	"%":                  {"%"},
	"(ft/s).in2/gpm":     {"ft/s"},                 // the factor of 1 gpm over 1 in2
	"(mm/s).cm2/(L/min)": {"mm/s"},                 // the factor of 1 L/min over 1 cm2
	"Btu/(lb.degF)":      {"", "Btu_IT/(lb*degR)"}, // an empirical formula computes it as a plain number
	"Btu/h":              {"Btu_IT/h"},
	"J/(kg.K)":           {"J/(kg*K)"},
	"L":                  {"L", "L/rev"},
	"L/min/sqrt(kPa)":    {"L/min/kPa^0.5"},
	"N.m":                {"N*m"},
	"N.m.rpm/kW":         {"N*m"}, // the factor of 1 kW at 1 rpm
	"Pa.s":               {"Pa*s"},
	"SUS":                {""}, // an empirical formula in seconds
	"USD":                {""},
	"bar abs":            {"bar"},
	"bar.L/min/kW":       {""},
	"bar.cm3/(N.m)":      {""},
	"cP":                 {"mPa*s"},
	"cm2":                {"cm^2"},
	"cm3":                {"cm3/rev"},
	"cycles":             {""},
	"deg":                {"degC", "deg"},   // degC where degF and degC are equal
	"degC":               {"degC", "K", ""}, // K and plain numbers where it is a difference
	"degF":               {"degF", "degR"},
	"ft of oil":          {"ft"},
	"gal":                {"usgal"},
	"gpm":                {"usgal/min"},
	"gpm.psi/hp":         {""},
	"gpm/(ft3/s)":        {"usgal/min"},
	"gpm/sqrt(psi)":      {"usgal/min/psi^0.5"},
	"hp":                 {"hp_mech"},
	"kg/m3":              {"kg/m^3"},
	"lbf.ft":             {"lbf*ft"},
	"lbf.ft.rpm/hp":      {"lbf*ft"}, // the factor of 1 hp at 1 rpm
	"lbf.in":             {"lbf*in"},
	"lbf.in.rpm/hp":      {"lbf*in"},
	"m of oil":           {"m"},
	"m/s2":               {"m/s^2"},
	"m2":                 {"m^2"},
	"m2/s":               {"m^2/s"},
	"m3":                 {"m^3"},
	"m3/rev":             {"m^3/rev"},
	"m3/s":               {"m^3/s"},
	"metric hp":          {"hp_metric"},
	"mm2/s":              {"mm^2/s"},
	"psia":               {"psi"},
	"psig":               {"psi"},
	"rpm":                {"rev/min"},
	"strokes":            {""},
	"tonne-force":        {"tonnef"},
	"1/s":                {"rev/s"}, // the source counts revolutions as 1
	"nm":                 {"um"},    // see scale
}

// scale turns the number that a source prints into rambook's unit where no
// symbol is the same size.
var scale = map[string]float64{"nm": 1e-3}

// compared are the numbers of a judged quantity that a figure can belong to.
var compared = map[string]func(j *calc.Judged) float64{
	"value":      func(j *calc.Judged) float64 { return j.Value },
	"spread/2":   func(j *calc.Judged) float64 { return j.Spread / 2 },
	"inside":     func(j *calc.Judged) float64 { return j.Inside },
	"1 - inside": func(j *calc.Judged) float64 { return 1 - j.Inside },
	"agreement":  func(j *calc.Judged) float64 { return j.Agreement },
}

// A referenceRow is one check value with its source.
type referenceRow struct {
	file, id, quantity, inputs string
	expected, recomputed, unit string
	source, confidence, note   string
}

// text is all that the row says, in which a figure of figures.csv must occur.
func (r *referenceRow) text() string {
	return strings.Join([]string{r.quantity, r.inputs, r.expected, r.recomputed, r.note}, "\n")
}

// A figure is a number of a row beyond its result, or a result that is not the
// value of the quantity that has the row's name.
type figure struct {
	id, name, compared, figure, unit string
}

func TestReferenceValues(t *testing.T) {
	rows := readReferenceRows(t)
	skipped := readSkipped(t)
	further := readFigures(t)
	judged := judge(t, openReference(t))

	covered := map[string]bool{}
	for _, r := range rows {
		if r.source == "" || r.confidence == "" {
			t.Errorf("%s: no source, or no word on how it was got", r.id)
		}
		name := strings.ToLower(strings.ReplaceAll(r.id, "-", "_"))
		figures := further[r.id]
		delete(further, r.id)
		own := figure{r.id, name, "value", "", r.unit}
		hasOwn := judged[name] != nil
		for _, f := range figures {
			if f.figure == "" {
				own, hasOwn = figure{r.id, f.name, f.compared, "", r.unit}, true
			}
		}
		if hasOwn {
			covered[r.id] = true
			compareResult(t, r, own, judged)
		}
		for _, f := range figures {
			if f.figure != "" {
				covered[r.id] = true
				compareFigure(t, r, f, judged)
			}
		}
		switch reason := skipped[r.id]; {
		case !covered[r.id] && reason == "":
			t.Errorf("%s (%s) is neither computed nor listed in skipped.csv", r.id, r.quantity)
		case covered[r.id] && reason != "":
			t.Errorf("%s is computed, yet skipped.csv says %q", r.id, reason)
		case strings.HasPrefix(reason, "tested in "):
			file := strings.TrimPrefix(reason, "tested in ")
			if data, err := os.ReadFile(filepath.Join("..", file)); err != nil ||
				!strings.Contains(string(data), r.id) {
				t.Errorf("%s: %s does not name the row", r.id, file)
			}
		case reason != "":
			t.Logf("%s not covered: %s", r.id, reason)
		}
		delete(skipped, r.id)
	}
	for id := range skipped {
		t.Errorf("skipped.csv: %s is no row of a source", id)
	}
	for id := range further {
		t.Errorf("figures.csv: %s is no row of a source", id)
	}
	perFile := map[string]int{}
	for _, r := range rows {
		if covered[r.id] {
			perFile[r.file]++
		}
	}
	for _, file := range slices.Sorted(maps.Keys(perFile)) {
		t.Logf("%s: %d rows covered", file, perFile[file])
	}
	t.Logf("%d of %d rows covered", len(covered), len(rows))
	if len(covered) < leastCovered {
		t.Errorf("%d rows covered, expected %d", len(covered), leastCovered)
	}
}

// compareResult holds a quantity against the recomputed figure of a row, and
// against the printed one within its rounding.
func compareResult(t *testing.T, r *referenceRow, f figure, judged map[string]*calc.Judged) {
	t.Helper()
	got, ok := number(t, r, f, judged)
	if !ok {
		return
	}
	tolerance := relativeTolerance
	if r.file == "conversions" {
		tolerance = conversionTolerance
	}
	checked := false
	if want, err := strconv.ParseFloat(r.recomputed, 64); err == nil &&
		!strings.Contains(r.note, "recomputed column is") {
		checked = true
		want *= factor(r.unit)
		if off := math.Abs(got - want); off > tolerance*math.Abs(want) && !(want == 0 && off <= zeroTolerance) {
			t.Errorf("%s %s: %s of %s is %.10g %s, recomputed %s", r.id, r.quantity, f.compared, f.name, got, r.unit,
				r.recomputed)
		}
	}
	if want, err := strconv.ParseFloat(r.expected, 64); err == nil {
		checked = true
		want *= factor(r.unit)
		most := math.Max(printedTolerance(r)*factor(r.unit), math.Min(tolerance, 1e-10)*math.Abs(want))
		if off := math.Abs(got*(1+statedDeviation(r)) - want); off > most*(1+1e-9) {
			t.Errorf("%s %s: %s of %s is %.10g %s, printed %s", r.id, r.quantity, f.compared, f.name, got, r.unit,
				r.expected)
		}
	}
	if !checked {
		t.Errorf("%s: row holds no number to compare %s with", r.id, f.name)
	}
}

// compareFigure holds a quantity against a further number of a row, within the
// rounding of that number.
func compareFigure(t *testing.T, r *referenceRow, f figure, judged map[string]*calc.Judged) {
	t.Helper()
	if !strings.Contains(r.text(), f.figure) {
		t.Errorf("figures.csv: %s does not say %s", r.id, f.figure)
	}
	got, ok := number(t, r, f, judged)
	if !ok {
		return
	}
	want, err := strconv.ParseFloat(f.figure, 64)
	if err != nil {
		t.Errorf("figures.csv: %s: %v", r.id, err)
		return
	}
	size := factor(f.unit)
	if f.unit == "%" && f.compared != "value" {
		size = 0.01 // probabilities have no unit of their own
	}
	if off := math.Abs(got - want*size); off > r.rounding(f.figure)*size*(1+1e-9) {
		t.Errorf("%s %s: %s of %s is %.10g, the row says %s %s", r.id, r.quantity, f.compared, f.name, got, f.figure,
			f.unit)
	}
}

// number gets what is compared out of a quantity, and sees that it is in the
// unit of the figure.
func number(t *testing.T, r *referenceRow, f figure, judged map[string]*calc.Judged) (float64, bool) {
	t.Helper()
	j := judged[f.name]
	if j == nil {
		t.Errorf("%s: no quantity %s", r.id, f.name)
		return 0, false
	}
	get := compared[f.compared]
	if get == nil {
		t.Errorf("figures.csv: %s: nothing is called %q", r.id, f.compared)
		return 0, false
	}
	if f.compared == "value" || f.compared == "spread/2" {
		symbols, listed := rambookUnits[f.unit]
		if !listed {
			symbols = []string{f.unit}
		}
		if !slices.Contains(symbols, j.Unit.Symbol) {
			t.Errorf("%s: %s is in %q, the source in %q", r.id, f.name, j.Unit.Symbol, f.unit)
			return 0, false
		}
	}
	if j.Error != "" || math.IsNaN(get(j)) {
		t.Errorf("%s: %s has no %s: %s", r.id, f.name, f.compared, j.Error)
		return 0, false
	}
	return get(j), true
}

// bookRounds are the rows whose printed figure is off by more than its own
// rounding without saying so, and by how much. The book's arithmetic was
// rounded on the way, or its last digits were cut off.
var bookRounds = map[string]float64{
	"FP-072": 0.04,  // lbf ft
	"FP-074": 0.006, // lbf ft
	"FP-075": 0.007, // lbf ft
	"FP-157": 4,     // Btu/h
	"BE-016": 1e-4,  // MN; pi = 3.14 and 4.448 N to the pound-force
	"ST-079": 0.006, // 156.375 cut off
	"UN-055": 0.77,  // 16.76 degrees of freedom cut off, JCGM 100 G.4.1
}

// printedTolerance is how far a value may lie from the printed figure.
func printedTolerance(r *referenceRow) float64 {
	if off, ok := bookRounds[r.id]; ok {
		return off
	}
	tolerance := r.rounding(r.expected)
	if stated := statedDeviation(r); stated != 0 {
		// The deviation is stated in percent, to three significant digits.
		printed, _ := strconv.ParseFloat(r.expected, 64)
		tolerance = 0.005 * math.Abs(stated*printed)
	}
	return tolerance
}

var deviation = regexp.MustCompile(`printed minus recomputed = ([-+.0-9]+) %`)

// statedDeviation is the share by which a printed figure is known to be off,
// as the row's note states it.
func statedDeviation(r *referenceRow) float64 {
	m := deviation.FindStringSubmatch(r.note)
	if m == nil {
		return 0
	}
	percent, _ := strconv.ParseFloat(m[1], 64)
	return percent / 100
}

// fourDigits are computed rows whose figures are rounded to four digits, as the
// standard prints them.
var fourDigits = map[string]bool{"UN-101": true, "UN-106": true}

// rounding is how far a value may lie from a figure of the row: half a unit in
// its last place. A computed row drops zeros at the end, so that 336 stands there
// for 336.000; four digits or fewer are taken as six.
func (r *referenceRow) rounding(figure string) float64 {
	half := halfLastDigit(figure)
	digits := strings.TrimLeft(strings.ReplaceAll(figure, ".", ""), "-0")
	x, err := strconv.ParseFloat(figure, 64)
	if err != nil || x == 0 || len(digits) > 4 || r.confidence != "computed" || r.recomputed != "" || fourDigits[r.id] {
		return half
	}
	return math.Min(half, 0.5*math.Pow10(int(math.Floor(math.Log10(math.Abs(x))))-5))
}

// halfLastDigit is half a unit in the last place that a figure shows.
func halfLastDigit(figure string) float64 {
	mantissa, exponent, _ := strings.Cut(strings.ToLower(figure), "e")
	_, decimals, _ := strings.Cut(mantissa, ".")
	power, _ := strconv.Atoi(exponent)
	return 0.5 * math.Pow10(power-len(decimals))
}

func factor(unit string) float64 {
	if f, ok := scale[unit]; ok {
		return f
	}
	return 1
}

// TestGuardBand follows JCGM 106, 8.3.2: with the guard band U a value on the
// acceptance limit passes, and one just below it is not sure.
func TestGuardBand(t *testing.T) {
	judged := judge(t, openReference(t))
	for name, want := range map[string]calc.Verdict{
		"un_096_at":    calc.Pass,
		"un_096_below": calc.Unsure,
		"un_091":       calc.Unsure, // 995 kN ± 20 kN against 1000 kN
	} {
		if j := judged[name]; j == nil || j.Verdict != want {
			t.Errorf("%s: got %v, expected %v", name, j, want)
		}
	}
}

// boresISO3320 are the cylinder bores of ISO 3320:2013, Table 2, in
// millimetres (from memory; the non-preferred ones are among them).
var boresISO3320 = []float64{
	8, 10, 12, 16, 20, 25, 32, 40, 50, 63, 80, 90, 100, 110, 125, 140, 160, 180,
	200, 220, 250, 280, 320, 360, 400, 450, 500,
}

// TestForceGrid runs the force of a ram over all bores and the pressures from
// 5 to 35 MPa as cases of one notebook, against plain arithmetic.
func TestForceGrid(t *testing.T) {
	const model = "name,entry,unit\n" +
		"bore,100,mm\n" +
		"pressure,10,MPa\n" +
		"force,=pressure*pi/4*bore^2,kN\n" +
		"force_ustonf,=force,ustonf\n" +
		"force_tonnef,=force,tonnef\n"
	grid := strings.Builder{}
	grid.WriteString("case,bore,pressure,force,force_ustonf,force_tonnef\n:unit,mm,MPa,kN,ustonf,tonnef\n")
	type point struct{ bore, pressure float64 }
	var points []point
	for _, bore := range boresISO3320 {
		for pressure := 5.0; pressure <= 35; pressure += 2.5 {
			points = append(points, point{bore, pressure})
			fmt.Fprintf(&grid, "%d,%g,%g,,,\n", len(points), bore, pressure)
		}
	}
	report := check(t, compile(t, map[string]string{"ram.csv": model, "grid.csv": grid.String()}))
	if len(report.Cases) != 1 || len(report.Cases[0].Cases) != len(points) {
		t.Fatalf("expected one case sheet of %d cases", len(points))
	}
	for i, c := range report.Cases[0].Cases {
		newtons := points[i].pressure * 1e6 * math.Pi / 4 * points[i].bore * 1e-3 * points[i].bore * 1e-3
		want := []float64{
			newtons / 1000,
			newtons / (2000 * 0.45359237 * 9.80665), // 2000 lbf
			newtons / (1000 * 9.80665),
		}
		for k, j := range c.Values {
			if math.Abs(j.Value-want[k]) > 1e-12*want[k] {
				t.Errorf("bore %g mm, %g MPa: %s is %.15g %s, expected %.15g", points[i].bore, points[i].pressure,
					j.Quantity.Name, j.Value, j.Unit.Symbol, want[k])
			}
		}
	}
}

// openReference compiles the notebook of all check values.
func openReference(t *testing.T) *calc.Model {
	t.Helper()
	book, problems := sheets.Open(filepath.Join(referenceDir, "notebook"))
	return compiled(t, book, problems)
}

// compile makes a model of files that need no folder.
func compile(t *testing.T, files map[string]string) *calc.Model {
	t.Helper()
	book := &sheets.Notebook{Path: "test"}
	var problems []sheets.Problem
	for _, name := range slices.Sorted(maps.Keys(files)) {
		s, faults := sheets.Read(name, []byte(files[name]))
		book.Sheets = append(book.Sheets, s)
		problems = append(problems, faults...)
	}
	return compiled(t, book, problems)
}

func compiled(t *testing.T, book *sheets.Notebook, problems []sheets.Problem) *calc.Model {
	t.Helper()
	var model *calc.Model
	if len(problems) == 0 {
		model, problems = calc.Compile(book, calc.Options{})
	}
	for _, p := range problems {
		t.Errorf("%v\n\t%s\n\thint: %s", p, p.Text, p.Hint)
	}
	if len(problems) > 0 {
		t.FailNow()
	}
	return model
}

func check(t *testing.T, model *calc.Model) *calc.Report {
	t.Helper()
	report, problems := model.Check(calc.CheckOptions{})
	for _, p := range problems {
		t.Errorf("%v\n\t%s\n\thint: %s", p, p.Text, p.Hint)
	}
	if report == nil {
		t.FailNow()
	}
	for _, p := range report.Failures {
		t.Errorf("%v\n\t%s\n\thint: %s", p, p.Text, p.Hint)
	}
	return report
}

// judge runs a model and finds its quantities by name.
func judge(t *testing.T, model *calc.Model) map[string]*calc.Judged {
	t.Helper()
	report := check(t, model)
	judged := make(map[string]*calc.Judged, len(report.Quantities))
	for i := range report.Quantities {
		judged[report.Quantities[i].Quantity.Name] = &report.Quantities[i]
	}
	return judged
}

func readReferenceRows(t *testing.T) []*referenceRow {
	t.Helper()
	var rows []*referenceRow
	for _, file := range referenceFiles {
		for _, r := range readRecords(t, file+".csv") {
			rows = append(rows, &referenceRow{
				file: filepath.Base(file),
				id:   r["id"], quantity: r["quantity"], inputs: r["inputs"],
				expected: r["expected"], recomputed: r["recomputed"], unit: r["unit"],
				source: r["source"], confidence: r["confidence"], note: r["note"],
			})
		}
	}
	return rows
}

func readSkipped(t *testing.T) map[string]string {
	t.Helper()
	reasons := map[string]string{}
	for _, r := range readRecords(t, "skipped.csv") {
		reasons[r["id"]] = r["reason"]
	}
	return reasons
}

func readFigures(t *testing.T) map[string][]figure {
	t.Helper()
	figures := map[string][]figure{}
	for _, r := range readRecords(t, "figures.csv") {
		figures[r["id"]] = append(figures[r["id"]], figure{r["id"], r["name"], r["compared"], r["figure"], r["unit"]})
	}
	return figures
}

// readRecords reads a file of testdata/reference, each record by its header.
func readRecords(t *testing.T, name string) []map[string]string {
	t.Helper()
	file, err := os.Open(filepath.Join(referenceDir, name))
	if err != nil {
		t.Fatal(err)
	}
	defer file.Close()
	records, err := csv.NewReader(file).ReadAll()
	if err != nil {
		t.Fatalf("%s: %v", name, err)
	}
	var rows []map[string]string
	for _, record := range records[1:] {
		row := map[string]string{}
		for i, cell := range record {
			row[records[0][i]] = cell
		}
		rows = append(rows, row)
	}
	return rows
}
