package units

import (
	"math"
	"slices"
	"strconv"
	"strings"
)

// readLike lists the units that stand on the scales of instruments beside each
// other, so that a number is read in one and typed as if it were in another.
var readLike = [][]string{
	{"MPa", "bar", "psi", "kgf/cm2", "kPa"},
	{"mm", "inch", "cm", "m"},
	{"kN", "N", "kgf", "lbf", "tonnef", "ustonf", "uktonf"},
	{"kg", "lb", "tonne", "uston", "ukton"},
	{"cm2", "mm2", "in2", "m2"},
	{"degC", "degF"},
	{"L/min", "usgal/min", "m3/h", "cm3/min", "L/s"},
	{"L", "usgal", "cm3", "in3"},
	{"mm/s", "m/min", "in/s", "in/min", "mm/min"},
	{"rev/min", "rev/s"},
	{"1/min", "1/s"},
	{"s", "ms", "min"},
	{"kW", "W", "hp_mech", "hp_metric"},
	{"N*m", "lbf*ft", "kgf*m"},
	{"%", ""},
}

// Slip is what a number would be if one slip of the hand or of the eye were
// undone, such as a decimal point that slipped or a scale that was misread.
type Slip struct {
	Value Value  // what was probably meant
	Text  string // as it would be typed
	Why   string // such as "a decimal point slipped" or "read in psi"
}

// nearExpected is how near a number is to what was expected if it is what was
// meant, as a share of it.
const nearExpected = 0.1

// besideNear is how many times further off a unit of the row's own world may lie than
// one of another that is near: the three tons lie within an eighth of each other, and
// which of them meets the number of another machine best is chance.
const besideNear = 1.5

// FindSlip finds the slip that explains why a number in unit u, typed in a row in
// unit row, is far from what was expected, in SI: a factor of ten or a hundred, another
// scale, or a ratio that is upside down. Of several the unit of the row comes first, and what is nearest among
// those of one world. spread is how far off what was expected may be itself. A number
// that is not twice as large or half as large is no slip, but for a temperature, whose
// scales meet.
func FindSlip(number float64, u, row Unit, expected, spread float64) (Slip, bool) {
	if expected == 0 || math.IsNaN(expected) || number == 0 {
		return Slip{}, false
	}
	room := math.Max(nearExpected*math.Abs(expected), math.Min(spread, math.Abs(expected)/2))
	if u.Kind == Point {
		room = math.Max(spread, 3) // kelvin
	}
	near := func(si float64) bool { return math.Abs(si-expected) <= room }
	given := u.ToSI(number)
	ratio := given / expected
	switch {
	case near(given), u.Kind > Point:
		return Slip{}, false
	case u.Kind == Ordinary && ratio > 0.5 && ratio < 2:
		return Slip{}, false
	}
	var best Slip
	found, least, nearest := false, math.Inf(1), foreignWorld+1
	try := func(x float64, in Unit, of world, why string) {
		off := math.Abs(in.ToSI(x) - expected)
		if off > besideNear*room {
			return
		}
		if found = found || off <= room; of < nearest || of == nearest && off < least*(1-1e-9) {
			best, least, nearest = slipTo(x, in, why), off, of
		}
	}
	factors := []float64{0.1, 10, 0.01, 100}
	if u.Kind == Point { // a hundredth of a temperature is one like others
		factors = factors[:2]
	}
	for _, factor := range factors {
		why := "the decimal point slipped"
		if u.Symbol == "%" && factor == 100 {
			why = "it is a fraction of 1, not per cent"
		}
		try(number*factor, u, ownWorld, why)
	}
	if u.Kind == Ordinary && u.Dim == Plain {
		turned, _ := strconv.ParseFloat(strconv.FormatFloat(u.FromSI(1/given), 'g', 4, 64), 64)
		try(turned, u, ownWorld, "it is upside down")
	}
	for _, other := range u.onScales() {
		if other.Symbol != u.Symbol {
			try(number, other, row.worldOf(other), "it was read in "+nameOr(other.Symbol))
		}
	}
	if !found {
		return Slip{}, false
	}
	return best, true
}

// FarFactor is how many times larger or smaller than that of another machine of its
// kind a number may be before it is asked for again (common practice, no source).
const FarFactor = 5

// nearFactor is how near a number in another unit of the row's own world is then worth
// naming, and nearForeign how near it is in a unit of another, which has less for it.
// The size of a machine is told in tons, so that there it is enough if the number is
// not far any more (common practice, no source).
const nearFactor, nearForeign = 2, 1.3

var sizes = []string{"tonnef", "ustonf"}

// IsFar reports whether a number in unit u, typed in a row in unit row, is far from what
// a machine of its kind has, expected in SI, and lists how it would be typed on the
// scales beside it on which it is nearer: those of the row's own world, or else others.
func IsFar(number float64, u, row Unit, expected float64) (nearer []string, far bool) {
	ratio := u.ToSI(number) / expected
	if u.Kind != Ordinary || u.Symbol == "" || !(ratio > 0) || math.IsInf(ratio, 0) ||
		ratio < FarFactor && ratio > 1.0/FarFactor {
		return nil, false
	}
	worlds := [foreignWorld + 1][]string{}
	for _, other := range Alike(u) {
		world, within := row.worldOf(other), float64(nearFactor)
		switch {
		case world > ownWorld:
			within = nearForeign
		case slices.Contains(sizes, other.Symbol):
			within = FarFactor
		}
		if other.Symbol != "" && math.Abs(math.Log(other.ToSI(number)/expected)) < math.Log(within) {
			worlds[world] = append(worlds[world], slipTo(number, other, "").Text)
		}
	}
	for _, nearer = range worlds {
		if len(nearer) > 0 {
			break
		}
	}
	return nearer, true
}

// world is how near a unit stands to those in which a row and the sheets around it
// are written.
type world int

// The worlds. Tons and gallons of the United Kingdom are on no gauge that is sold today,
// so that they come last wherever something else fits.
const (
	sameUnit world = iota
	ownWorld
	otherWorld
	foreignWorld
)

// worldOf is how near another unit stands to the one of a row.
func (u Unit) worldOf(other Unit) world {
	switch {
	case other.Symbol == u.Symbol:
		return sameUnit
	case strings.HasPrefix(other.Symbol, "uk"), strings.HasPrefix(other.Symbol, "imp"):
		return foreignWorld
	case other.isUS() == u.isUS():
		return ownWorld
	}
	return otherWorld
}

// isUS reports whether a unit is one that US shops have in place of a metric one.
func (u Unit) isUS() bool { return u.In(US).Symbol == u.Symbol && u.In(SI).Symbol != u.Symbol }

func slipTo(x float64, u Unit, why string) Slip {
	text := strings.TrimSpace(strconv.FormatFloat(x, 'g', 12, 64) + " " + u.Symbol)
	return Slip{Value: Value{Number: x, Unit: u, HasUnit: true}, Text: text, Why: why}
}

func nameOr(symbol string) string {
	if symbol == "" {
		return "parts of one"
	}
	return symbol
}

// factor is a slip that makes a number too large or too small by a number that
// has to do with circles or with counting.
type factor struct {
	times float64
	why   string
}

// factors are looked for in this order.
var factors = []factor{
	{2, "a factor of 2"},
	{4, "a factor of 4, as between a radius and a diameter squared"},
	{math.Pi, "a factor of pi"},
	{4 / math.Pi, "a factor of 4/pi, as between a square and a circle"},
	{2 * math.Pi, "a factor of 2 pi, as between a radius and a circumference, or rev and rad"},
}

// timeFactors are those of what goes on in time, as flows, speeds and powers do.
var timeFactors = []factor{
	{60, "a factor of 60, as between minutes and seconds"},
	{30 / math.Pi, "a factor of 60/(2 pi), as between rev/min and rad/s"},
}

// isPaced reports whether a unit is of a kind that a minute taken for a second makes
// wrong: its power of time is odd, as that of a flow, a speed, a power or a time, and
// unlike that of a force or a pressure.
func (u Unit) isPaced() bool { return u.Kind == Ordinary && u.Dim[baseTime]%(2*one) != 0 }

// mostZeros is how far a decimal point slips.
const mostZeros = 6

// Misreading is a slip that makes a number Times as large as is right.
type Misreading struct {
	Times float64
	Why   string
}

// dualScales are the units that gauges show on two scales beside each other: what was
// read on one is taken for the other.
var dualScales = [][2]string{{"bar", "psi"}}

// Misreadings lists the slips that explain by themselves why a number is ratio
// times what is right: a power of ten, another unit of the same scale, a factor
// of the circle, one of time. within is how near to it they must come, as a share. They name
// the slip and not the answer.
func Misreadings(ratio float64, u Unit, within float64) []Misreading {
	var list []Misreading
	try := func(times float64, why string) {
		if math.Abs(ratio/times-1) <= within {
			list = append(list, Misreading{times, why})
		}
	}
	for zeros := 1; zeros <= mostZeros; zeros++ {
		try(math.Pow10(zeros), "a power of ten, too large")
		try(math.Pow10(-zeros), "a power of ten, too small")
	}
	for _, other := range Alike(u) {
		try(u.DiffToSI(1)/other.DiffToSI(1), "the unit: it would be right in "+other.Symbol)
	}
	for _, s := range Swapped(u) {
		if s.From.Symbol != u.Symbol && s.To.Symbol != u.Symbol {
			try(s.To.DiffToSI(1)/s.From.DiffToSI(1), s.From.Symbol+" is taken for "+s.To.Symbol)
		}
	}
	for _, f := range factors {
		try(f.times, f.why+", too large")
		try(1/f.times, f.why+", too small")
	}
	if u.isPaced() && len(list) == 0 { // a unit that is named is the same slip
		for _, f := range timeFactors {
			try(f.times, f.why+", too large")
			try(1/f.times, f.why+", too small")
		}
	}
	return list
}

// Swap is two scales of one gauge, of which one is taken for the other.
type Swap struct{ From, To Unit }

// Swapped lists the scales that may be taken for each other in the dimension of a unit.
func Swapped(u Unit) []Swap {
	var list []Swap
	for _, pair := range dualScales {
		a, first := Parse(pair[0])
		b, second := Parse(pair[1])
		if first == nil && second == nil && a.Dim == u.Dim && u.Kind == Ordinary {
			list = append(list, Swap{a, b}, Swap{b, a})
		}
	}
	return list
}

// Alike lists the units that stand on the scales of instruments, or in books,
// beside a unit.
func Alike(u Unit) []Unit {
	if u.Kind != Ordinary {
		return nil
	}
	return slices.DeleteFunc(u.onScales(), func(other Unit) bool {
		return other.Kind != Ordinary || other.DiffToSI(1) == u.DiffToSI(1)
	})
}

// onScales lists the units of instruments that measure what u does. Shares are read in
// per cent; hours a day, or mm/m, are not.
func (u Unit) onScales() (list []Unit) {
	if u.Dim == Plain && u.Symbol != "%" && u.Symbol != "" {
		return nil
	}
	for _, family := range readLike {
		for _, symbol := range family {
			if other, err := Parse(symbol); err == nil && other.Dim == u.Dim {
				list = append(list, other)
			}
		}
	}
	return list
}
