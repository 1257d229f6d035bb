package units

import "math"

// A group holds the units of one dimension. Their factors share the power of
// pi, which is kept out of the numbers so that those stay exact.
type group struct {
	dim  Dimension
	pi   int
	rows []row
}

// A row is one unit symbol: 1 of it is num/den × pi^(pi of its group) of the
// coherent SI unit. Numerator and denominator are exact float64 numbers.
// The definition is checked against them by the tests, so it is written with
// numbers, unit symbols, ×, /, brackets and superscripts only, or says that
// the unit is a base unit.
type row struct {
	symbol     string
	name       string // in words, as in "`h` is the unit hour"
	num, den   float64
	definition string
	source     string
}

// Sources of the definitions, cited from memory. The figures of NIST SP 811
// that testdata/conversions.csv repeats were compared with it.
const (
	siBase       = "SI Brochure, 9th ed., Table 2"
	siDerived    = "SI Brochure, 9th ed., Table 4"
	siPrefix     = "SI Brochure, 9th ed., Table 7"
	siBeside     = "SI Brochure, 9th ed., Table 8"
	nistB8       = "NIST SP 811 (2008), B.8"
	iso80000     = "ISO 80000-5"
	byDefinition = "by definition"
	byTrade      = "common practice, no source"
)

const baseUnit = "base unit"

// table lists every symbol that may stand in a formula. Each becomes a name
// that quantities cannot have, so a symbol is added only where the trade
// writes it, and prefixed forms are spelled out one by one.
var table = []group{
	{dim: Plain, rows: []row{
		{"ppm", "part per million", 1, 1e6, "10⁻⁶", byDefinition},
	}},
	{dim: Length, rows: []row{
		{"um", "micrometre", 1, 1e6, "10⁻⁶ m", siPrefix},
		{"mil", "mil", 127, 5e6, "0.001 × 25.4 mm", nistB8},
		{"mm", "millimetre", 1, 1e3, "10⁻³ m", siPrefix},
		{"cm", "centimetre", 1, 1e2, "10⁻² m", siPrefix},
		{"inch", "inch", 127, 5e3, "25.4 mm", nistB8},
		{"dm", "decimetre", 1, 10, "10⁻¹ m", siPrefix},
		{"ft", "foot", 381, 1250, "12 × 25.4 mm", nistB8},
		{"yd", "yard", 1143, 1250, "36 × 25.4 mm", nistB8},
		{"m", "metre", 1, 1, baseUnit, siBase},
		{"km", "kilometre", 1e3, 1, "10³ m", siPrefix},
		{"mile", "mile", 201168, 125, "5280 × 12 × 25.4 mm", nistB8},
	}},
	{dim: Volume, rows: []row{
		{"mL", "millilitre", 1, 1e6, "10⁻³ L", siPrefix},
		{"cL", "centilitre", 1, 1e5, "10⁻² L", siPrefix},
		{"usqt", "US liquid quart", 473176473, 5e11, "(231/4) × (25.4 mm)³", nistB8},
		{"L", "litre", 1, 1e3, "1 dm³", siBeside},
		{"usgal", "US gallon", 473176473, 125e9, "231 × (25.4 mm)³", nistB8},
		{"impgal", "imperial gallon", 454609, 1e8, "4.54609 L", nistB8},
		{"hL", "hectolitre", 1, 10, "100 L", siPrefix},
	}},
	{dim: Mass, rows: []row{
		{"mg", "milligram", 1, 1e6, "10⁻³ g", siPrefix},
		{"g", "gram", 1, 1e3, "10⁻³ kg", siPrefix},
		{"oz", "ounce", 45359237, 16e8, "0.45359237 kg / 16", nistB8},
		{"lb", "pound", 45359237, 1e8, "0.45359237 kg", nistB8},
		{"kg", "kilogram", 1, 1, baseUnit, siBase},
		{"slug", "slug", 8896443230521, 609600000000, "1 lbf × s²/ft", nistB8},
		{"uston", "US short ton", 45359237, 5e4, "2000 × 0.45359237 kg", nistB8},
		{"t", "tonne", 1e3, 1, "1000 kg", siBeside},
		{"ukton", "UK long ton", 317514659, 312500, "2240 × 0.45359237 kg", nistB8},
	}},
	{dim: Time, rows: []row{
		{"ms", "millisecond", 1, 1e3, "10⁻³ s", siPrefix},
		{"s", "second", 1, 1, baseUnit, siBase},
		{"min", "minute", 60, 1, "60 s", siBeside},
		{"h", "hour", 3600, 1, "60 min", siBeside},
		{"d", "day", 86400, 1, "24 h", siBeside},
		{"week", "week", 604800, 1, "7 d", byDefinition},
	}},
	{dim: Frequency, rows: []row{
		{"Hz", "hertz", 1, 1, "1 / s", siDerived},
		{"kHz", "kilohertz", 1e3, 1, "10³ Hz", siPrefix},
	}},
	{dim: Angle, rows: []row{
		{"rad", "radian", 1, 1, baseUnit, "a base unit here; SI Brochure, 9th ed., Table 4 counts it as 1"},
	}},
	{dim: Angle, pi: 1, rows: []row{
		{"arcsec", "second of arc", 1, 648000, "π rad / 648000", siBeside},
		{"arcmin", "minute of arc", 1, 10800, "π rad / 10800", siBeside},
		{"deg", "degree of angle", 1, 180, "π rad / 180", siBeside},
		{"rev", "revolution", 2, 1, "2 × π rad", nistB8},
	}},
	{dim: AngularVelocity, pi: 1, rows: []row{
		{"rpm", "revolution per minute", 1, 30, "1 rev/min", nistB8},
	}},
	{dim: Force, rows: []row{
		{"N", "newton", 1, 1, "1 kg × m/s²", siDerived},
		{"lbf", "pound-force", 8896443230521, 2e12, "0.45359237 kg × 9.80665 m/s²", nistB8},
		{"kgf", "kilogram-force", 196133, 2e4, "1 kg × 9.80665 m/s²", nistB8},
		{"daN", "decanewton", 10, 1, "10 N", siPrefix},
		{"kN", "kilonewton", 1e3, 1, "10³ N", siPrefix},
		{"kip", "kip", 8896443230521, 2e9, "1000 lbf", nistB8},
		{"ustonf", "US short ton-force", 8896443230521, 1e9, "2000 lbf", nistB8},
		{"tonnef", "tonne-force", 196133, 20, "1000 kgf", byDefinition},
		{"uktonf", "UK long ton-force", 62275102613647, 625e7, "2240 lbf", byDefinition},
		{"MN", "meganewton", 1e6, 1, "10⁶ N", siPrefix},
	}},
	{dim: Pressure, rows: []row{
		{"mPa", "millipascal", 1, 1e3, "10⁻³ Pa", siPrefix},
		{"Pa", "pascal", 1, 1, "1 N/m²", siDerived},
		{"mmH2O", "millimetre of water", 196133, 2e4, "1000 kg/m³ × 9.80665 m/s² × 1 mm", nistB8},
		{"mbar", "millibar", 100, 1, "10⁻³ bar", siPrefix},
		{"hPa", "hectopascal", 100, 1, "100 Pa", siPrefix},
		{"torr", "torr", 20265, 152, "101325 Pa / 760", nistB8},
		{"mmHg", "millimetre of mercury", 26664477483, 2e8, "13595.1 kg/m³ × 9.80665 m/s² × 1 mm", nistB8},
		{"inH2O", "inch of water", 24908891, 1e5, "1000 kg/m³ × 9.80665 m/s² × 25.4 mm", nistB8},
		{"kPa", "kilopascal", 1e3, 1, "10³ Pa", siPrefix},
		{"inHg", "inch of mercury", 3386388640341, 1e9, "13595.1 kg/m³ × 9.80665 m/s² × 25.4 mm", nistB8},
		{"psi", "pound-force per square inch", 8896443230521, 1290320000, "0.45359237 kg × 9.80665 m/s² / (25.4 mm)²",
			nistB8},
		{"mH2O", "metre of water", 196133, 20, "1000 kg/m³ × 9.80665 m/s² × 1 m", "cmH2O in " + nistB8},
		{"bar", "bar", 1e5, 1, "10⁵ Pa", nistB8},
		{"atm", "standard atmosphere", 101325, 1, "101325 Pa", nistB8},
		{"MPa", "megapascal", 1e6, 1, "10⁶ Pa", siPrefix},
		{"ksi", "thousand pound-force per square inch", 8896443230521, 1290320, "1000 psi", nistB8},
		{"GPa", "gigapascal", 1e9, 1, "10⁹ Pa", siPrefix},
	}},
	{dim: Energy, rows: []row{
		{"J", "joule", 1, 1, "1 N × m", siDerived},
		{"kJ", "kilojoule", 1e3, 1, "10³ J", siPrefix},
		{"Btu_IT", "British thermal unit (International Table)", 52752792631, 5e7,
			"4186.8 J/(kg × K) × 0.45359237 kg × (5/9) K", iso80000},
		{"Wh", "watt hour", 3600, 1, "1 W × h", nistB8},
		{"kcal_IT", "kilocalorie (International Table)", 20934, 5, "4186.8 J", nistB8},
		{"kcal_th", "kilocalorie (thermochemical)", 4184, 1, "4184 J", nistB8},
		{"MJ", "megajoule", 1e6, 1, "10⁶ J", siPrefix},
		{"kWh", "kilowatt hour", 36e5, 1, "1 kW × h", nistB8},
	}},
	{dim: Power, rows: []row{
		{"W", "watt", 1, 1, "1 J/s", siDerived},
		{"VA", "volt-ampere", 1, 1, "1 V × A", byTrade},
		{"hp_metric", "metric horsepower", 588399, 800, "75 kgf × m/s", nistB8},
		{"hp_mech", "mechanical horsepower", 37284993579113511, 5e13, "550 × 12 × 25.4 mm × lbf/s", nistB8},
		{"kW", "kilowatt", 1e3, 1, "10³ W", siPrefix},
		{"kVA", "kilovolt-ampere", 1e3, 1, "10³ VA", siPrefix},
		{"MW", "megawatt", 1e6, 1, "10⁶ W", siPrefix},
	}},
	{dim: DynamicViscosity, rows: []row{
		{"cP", "centipoise", 1, 1e3, "10⁻² P", nistB8},
		{"P", "poise", 1, 10, "0.1 Pa × s", nistB8},
		{"reyn", "reyn", 8896443230521, 1290320000, "1 psi × s", "lbf·s/in² in " + nistB8},
	}},
	{dim: KinematicViscosity, rows: []row{
		{"cSt", "centistokes", 1, 1e6, "10⁻² St", nistB8},
		{"St", "stokes", 1, 1e4, "1 cm²/s", nistB8},
	}},
	{dim: Temperature, rows: []row{
		{"degR", "degree Rankine", 5, 9, "(5/9) K", nistB8},
		{"K", "kelvin", 1, 1, baseUnit, siBase},
	}},
	{dim: Current, rows: []row{
		{"mA", "milliampere", 1, 1e3, "10⁻³ A", siPrefix},
		{"A", "ampere", 1, 1, baseUnit, siBase},
	}},
	{dim: Voltage, rows: []row{
		{"mV", "millivolt", 1, 1e3, "10⁻³ V", siPrefix},
		{"V", "volt", 1, 1, "1 W/A", siDerived},
		{"kV", "kilovolt", 1e3, 1, "10³ V", siPrefix},
	}},
	{dim: Resistance, rows: []row{
		{"ohm", "ohm", 1, 1, "1 V/A", siDerived},
		{"kohm", "kiloohm", 1e3, 1, "10³ ohm", siPrefix},
	}},
	{dim: Charge, rows: []row{
		{"C", "coulomb", 1, 1, "1 A × s", siDerived},
	}},
	{dim: Capacitance, rows: []row{
		{"uF", "microfarad", 1, 1e6, "10⁻⁶ F", siPrefix},
		{"F", "farad", 1, 1, "1 C/V", siDerived},
	}},
	{dim: Amount, rows: []row{
		{"mol", "mole", 1, 1, baseUnit, siBase},
		{"kmol", "kilomole", 1e3, 1, "10³ mol", siPrefix},
	}},
	{dim: Luminosity, rows: []row{
		{"cd", "candela", 1, 1, baseUnit, siBase},
	}},
}

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

// A columnRow is a unit that unit columns, cells and conversions have but
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
	{row: row{"%", "percent", 1, 1e2, "10⁻²", byDefinition}},
	{row: row{"degC", "degree Celsius", 1, 1, celsius, siDerived}, dim: Temperature, kind: Point, zero: 273.15,
		reserved: true},
	{row: row{"degF", "degree Fahrenheit", 5, 9, fahrenheit, nistB8}, dim: Temperature, kind: Point, zero: 459.67,
		reserved: true},
	{row: row{"date", "date", 1, 1, "YYYY-MM-DD", "ISO 8601"}, dim: Time, kind: Date},
	{row: row{"text", "text", 1, 1, "not a number", byDefinition}, kind: Text},
	{row: row{"tick", "tick", 1, 1, "yes or no", byDefinition}, kind: Tick},
	{row: row{"verdict", "verdict", 1, 1, "the worst of other rows", byDefinition}, kind: Verdict},
}

// A Constant is a fixed number that stands in formulas by its name.
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
