package units

import "math"

// aliases are other spellings of symbols in the table.
var aliases = []struct {
	alias, symbol string
	column        bool // for unit columns and cells only
}{
	{"\u00b5m", "um", false}, // with the micro sign
	{"\u03bcm", "um", false}, // with the Greek letter, which looks the same
	{"\u00b5F", "uF", false},
	{"\u03bcF", "uF", false},
	{"thou", "mil", false},
	{"tonne", "t", false},
	{"in", "inch", true},
	{"°", "deg", true},
	{"°C", "degC", true},
	{"°F", "degF", true},
}

// A columnRow is a unit that unit columns, cells and conversions know but
// formulas do not, because the formula language reads its symbol in another
// way or because it is more than a scale.
type columnRow struct {
	row
	dim      Dimension
	kind     Kind
	zero     float64 // added to a value before the factor
	reserved bool    // no quantity may be called so
}

const (
	celsius    = "T/K = t/degC + 273.15"
	fahrenheit = "T/K = (t/degF + 459.67) × 5/9"
)

var columnTable = []columnRow{
	{row: row{"%", "percent", 1, 1e2, "10⁻²", byName}},
	{row: row{"degC", "degree Celsius", 1, 1, celsius, siDerived}, dim: Temperature, kind: Point, zero: 273.15, reserved: true},
	{row: row{"degF", "degree Fahrenheit", 5, 9, fahrenheit, nistB8}, dim: Temperature, kind: Point, zero: 459.67, reserved: true},
	{row: row{"date", "date", 1, 1, "YYYY-MM-DD", "ISO 8601"}, dim: Time, kind: Date},
	{row: row{"text", "text", 1, 1, "not a number", byName}, kind: Text},
}

// ambiguous lists trade names that mean different things in different places,
// with what to write instead.
var ambiguous = []struct {
	symbol  string
	choices []string
}{
	{"ton", []string{"uston", "ukton", "tonne"}},
	{"tonf", []string{"ustonf", "uktonf", "tonnef"}},
	{"gal", []string{"usgal", "impgal"}},
	{"hp", []string{"hp_mech", "hp_metric"}},
	{"Btu", []string{"Btu_IT"}},
	{"kcal", []string{"kcal_IT", "kcal_th"}},
}

// advice says what to write for spellings that people bring from elsewhere.
// Words among them are not reserved: a quantity may be called gpm.
var advice = []struct{ word, hint string }{
	{"-", "leave the unit of a plain number empty"},
	{"–", "leave the unit of a plain number empty"},
	{"—", "leave the unit of a plain number empty"},
	{"none", "leave the unit of a plain number empty"},

	{"l", "the litre is `L`"},
	{"liter", "the litre is `L`"},
	{"ml", "the millilitre is `mL`"},
	{"cc", "write `cm3`"},
	{"ccm", "write `cm3`"},
	{"cbm", "write `m3`"},
	{"sq in", "write `in2`"},
	{"sq ft", "write `ft2`"},
	{"sq mm", "write `mm2`"},
	{"cu in", "write `in3`"},
	{"cu ft", "write `ft3`"},
	{"qt", "write `usqt`"},
	{"gallon", "write `usgal` or `impgal`"},
	{"gpm", "write `usgal/min` or `impgal/min`"},
	{"lpm", "write `L/min`"},
	{"cfm", "write `ft3/min`"},

	{"meter", "the metre is `m`"},
	{"foot", "write `ft`"},
	{"feet", "write `ft`"},
	{"micron", "write `um`"},
	{"fpm", "write `ft/min`"},
	{"ipm", "write `in/min`"},
	{"mph", "write `mile/h`"},
	{"kph", "write `km/h`"},

	{"psig", "write `psi`; pressure is gauge pressure unless the row says otherwise"},
	{"barg", "write `bar`; pressure is gauge pressure unless the row says otherwise"},
	{"bar(g)", "write `bar`; pressure is gauge pressure unless the row says otherwise"},
	{"psia", "write `psi`, and say in the note that it is absolute pressure"},
	{"bara", "write `bar`, and say in the note that it is absolute pressure"},
	{"bar(a)", "write `bar`, and say in the note that it is absolute pressure"},
	{"psid", "write `psi`"},
	{"kp", "write `kgf`"},
	{"at", "write `kgf/cm2`"},
	{"ata", "write `kgf/cm2`, and say in the note that it is absolute pressure"},
	{"atü", "write `kgf/cm2`"},

	{"#", "write `lb` for mass, `lbf` for force"},
	{"lbs", "write `lb` for mass, `lbf` for force"},
	{"Nm", "write `N*m`"},
	{"kNm", "write `kN*m`"},
	{"Ncm", "write `N*cm`"},
	{"Nmm", "write `N*mm`"},
	{"ft-lb", "write `lbf*ft`"},
	{"ft-lbs", "write `lbf*ft`"},
	{"ft-lbf", "write `lbf*ft`"},
	{"ft lb", "write `lbf*ft`"},
	{"lb-ft", "write `lbf*ft`"},
	{"in-lb", "write `lbf*in`"},
	{"in-lbs", "write `lbf*in`"},
	{"in-lbf", "write `lbf*in`"},
	{"in lb", "write `lbf*in`"},
	{"lb-in", "write `lbf*in`"},

	{"sec", "write `s`"},
	{"hr", "write `h`"},
	{"mins", "write `min`"},
	{"year", "write `d`; years differ in length"},
	{"month", "write `d`; months differ in length"},
	{"cpm", "write `1/min`"},
	{"U", "write `rev`"},
	{"r", "write `rev`"},
	{"degC", "temperature scales are for unit columns and cells; formulas work in `K`"},
	{"degF", "temperature scales are for unit columns and cells; formulas work in `K`"},
	{"° C", "write `degC`"},
	{"° F", "write `degF`"},
	{"deg C", "write `degC`"},
	{"deg F", "write `degF`"},
	{"℃", "write `degC`"},
	{"℉", "write `degF`"},

	{"PS", "write `hp_metric`"},
	{"horsepower", "write `hp_mech` or `hp_metric`"},
	{"cal", "write `kcal_IT` or `kcal_th`, a thousand times as large"},
	{"mPas", "write `mPa*s`"},
	{"Pas", "write `Pa*s`"},
	{"SUS", "Saybolt seconds have no fixed factor; convert by ASTM D2161 and write `cSt`"},
	{"SSU", "Saybolt seconds have no fixed factor; convert by ASTM D2161 and write `cSt`"},
	{"\u03a9", "write `ohm`"}, // the Greek capital omega
	{"\u2126", "write `ohm`"}, // the ohm sign
	{"k\u03a9", "write `kohm`"},
	{"k\u2126", "write `kohm`"},
}

// A Constant is a fixed number that formulas know by name.
type Constant struct {
	Name   string
	Value  float64 // in Unit, which is the coherent SI unit
	Unit   Unit
	Doc    string
	Source string
}

// Constants are the named constants of the formula language.
var Constants = []Constant{
	{"pi", math.Pi, Unit{}, "the ratio of a circle's circumference to its diameter", "ISO 80000-2"},
	{"g_n", 9.80665, Unit{Symbol: "m/s^2", Dim: Acceleration}, "the standard acceleration of free fall", nistB8},
}
