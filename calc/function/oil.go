package function

import (
	"fmt"
	"math"

	"rambook/calc/tape"
	"rambook/units"
)

var (
	temperaturePoint   = Type{Dim: units.Temperature, Point: true}
	kinematicViscosity = Type{Dim: units.KinematicViscosity}

	oilHints = map[Type]string{
		{Dim: units.Temperature}:      "a quantity in K is a difference; give the temperature its own row in degC",
		{Dim: units.DynamicViscosity}: "divide it by the density",
		temperaturePoint:              "each temperature stands before its viscosity",
	}
)

// The standards state their equations for viscosities in mm²/s.
const perSquareMillimetre = 1e6

// thinnest is the viscosity in mm²/s above which both equations hold.
const thinnest = 2

var oilFunctions = []*Function{
	{Name: "viscosity", Params: "T, T1, nu1, T2, nu2",
		Doc:    "kinematic viscosity at temperature T of an oil that has nu1 at T1 and nu2 at T2, from 2 mm2/s up",
		Source: "ASTM D341, with Z = nu + 0.7 mm2/s",
		least:  5, most: 5, Rule: hinted(takes(kinematicViscosity,
			temperaturePoint, temperaturePoint, kinematicViscosity, temperaturePoint, kinematicViscosity), oilHints),
		Eval: viscosity, slopes: viscositySlopes, domain: viscosityDomain},
	{Name: "viscosity_index", Params: "nu40, nu100",
		Doc: "viscosity index of an oil from its viscosities at 40 degC and 100 degC; " +
			"to be rounded to a whole number",
		Source: "ASTM D2270; L and H up to 70 mm2/s by the polynomials of an older edition's appendix, from memory",
		least:  2, most: 2, Rule: hinted(takes(Plain, kinematicViscosity), oilHints),
		Eval: viscosityIndex, slopes: viscosityIndexSlopes, domain: viscosityIndexDomain},
}

// thickness is ln ln Z, which falls along a straight line over the logarithm
// of the temperature. The standard uses logarithms to the base 10, which only
// shifts both scales.
func thickness(nu float64) float64 {
	return math.Log(math.Log(nu*perSquareMillimetre + 0.7))
}

// thicknessSlope is the derivative of thickness.
func thicknessSlope(nu float64) float64 {
	z := nu*perSquareMillimetre + 0.7
	return perSquareMillimetre / (z * math.Log(z))
}

func viscosity(x []float64, _ []Column) float64 {
	t, t1, nu1, t2, nu2 := x[0], x[1], x[2], x[3], x[4]
	if !(t > 0) || !(t1 > 0) || !(t2 > 0) || t1 == t2 || tooThin(nu1) || tooThin(nu2) || (nu1-nu2)*(t2-t1) < 0 {
		return tape.Failed
	}
	w1, w2 := thickness(nu1), thickness(nu2)
	w := w1 + (w2-w1)*math.Log(t/t1)/math.Log(t2/t1)
	if nu := (math.Exp(math.Exp(w)) - 0.7) / perSquareMillimetre; !tooThin(nu) {
		return nu
	}
	return tape.Failed
}

// tooThin reports whether a viscosity lies below the equations' range.
func tooThin(nu float64) bool { return !(nu*perSquareMillimetre >= thinnest*(1-slack)) }

func viscositySlopes(x []float64, y float64, _ []Column, d []float64) {
	t, t1, nu1, t2, nu2 := x[0], x[1], x[2], x[3], x[4]
	span := math.Log(t2 / t1)
	share := math.Log(t/t1) / span // of the second point
	fall := (thickness(nu2) - thickness(nu1)) / span
	byThickness := 1 / thicknessSlope(y)
	d[0] = byThickness * fall / t
	d[1] = -byThickness * fall * (1 - share) / t1
	d[2] = byThickness * (1 - share) * thicknessSlope(nu1)
	d[3] = -byThickness * fall * share / t2
	d[4] = byThickness * share * thicknessSlope(nu2)
}

func viscosityDomain(x []float64, _ []Column) string {
	t, t1, nu1, t2, nu2 := x[0], x[1], x[2], x[3], x[4]
	for _, t := range []float64{t, t1, t2} {
		if !(t > 0) {
			return fmt.Sprintf("a temperature must be above absolute zero, here it is %.6g K", t)
		}
	}
	for _, nu := range []float64{nu1, nu2} {
		if tooThin(nu) {
			return fmt.Sprintf("the equation holds from %d mm2/s up, here the oil has %.6g mm2/s", thinnest,
				nu*perSquareMillimetre)
		}
	}
	switch {
	case t1 == t2:
		return fmt.Sprintf("the two known viscosities must belong to different temperatures, "+
			"here both belong to %.6g degC", celsius(t1))
	case (nu1-nu2)*(t2-t1) < 0:
		return fmt.Sprintf("oil thins as it warms, here it has %.6g mm2/s at %.6g degC and %.6g mm2/s at %.6g degC",
			nu1*perSquareMillimetre, celsius(t1), nu2*perSquareMillimetre, celsius(t2))
	case (t-t1)*(t2-t1) > 0:
		return fmt.Sprintf("at %.6g degC the oil is thinner than the %d mm2/s from which the equation holds",
			celsius(t), thinnest)
	}
	return fmt.Sprintf("at %.6g degC the viscosity is too large to hold", celsius(t))
}

func celsius(kelvin float64) float64 { return kelvin - 273.15 }

// referenceOils is a row of the polynomials by which the appendix of an older
// edition of ASTM D2270 replaces its table, all in mm²/s: at 40 degC an oil
// with viscosity Y at 100 degC has L = aY² + bY + c if its index is 0 and
// H = dY² + eY + f if it is 100. From memory, but for the last row, which was
// read. They meet the table, and one another, within 0.2 % (TestReferenceOils).
type referenceOils struct{ top, a, b, c, d, e, f float64 }

var referenceOilRanges = []referenceOils{
	{3.8, 1.14673, 1.7576, -0.109, 0.84155, 1.5521, -0.077},
	{4.4, 3.38095, -15.4952, 33.196, 0.78571, 1.7929, -0.183},
	{5.0, 2.5000, -7.2143, 13.812, 0.82143, 1.5679, 0.119},
	{6.4, 0.10100, 16.6350, -45.469, 0.04985, 9.1613, -18.557},
	{7.0, 3.35714, -23.5643, 78.466, 0.22619, 7.7369, -16.656},
	{7.7, 0.01191, 21.4750, -72.870, 0.79762, -0.7321, 14.610},
	{9.0, 0.41858, 16.1558, -56.040, 0.05794, 10.5156, -28.240},
	{12, 0.88779, 7.5527, -16.600, 0.26665, 6.7015, -10.810},
	{15, 0.76720, 10.7972, -38.180, 0.20073, 8.4658, -22.490},
	{18, 0.97305, 5.3135, -2.200, 0.28889, 5.9741, -4.930},
	{22, 0.97256, 5.2500, -0.980, 0.24504, 7.4160, -16.730},
	{28, 0.91413, 7.4759, -21.820, 0.20323, 9.1267, -34.230},
	{40, 0.87031, 9.7157, -50.770, 0.18411, 10.1015, -46.750},
	{55, 0.84703, 12.6752, -133.310, 0.17029, 11.4866, -80.620},
	{70, 0.85921, 11.1009, -83.19, 0.17130, 11.3680, -76.940},
	{math.Inf(1), 0.8353, 14.67, -216, 0.1684, 11.85, -97},
}

// referenceOilsAt finds the row for a viscosity in mm²/s at 100 degC.
func referenceOilsAt(y float64) *referenceOils {
	i := 0
	for y > referenceOilRanges[i].top {
		i++
	}
	return &referenceOilRanges[i]
}

func (r *referenceOils) low(y float64) (value, slope float64) {
	return (r.a*y+r.b)*y + r.c, 2*r.a*y + r.b
}

func (r *referenceOils) high(y float64) (value, slope float64) {
	return (r.d*y+r.e)*y + r.f, 2*r.d*y + r.e
}

// indexScale is the constant of procedure B of ASTM D2270, for indices above 100.
const indexScale = 0.00715

func viscosityIndex(x []float64, _ []Column) float64 {
	if tooThin(x[1]) || !(x[0] > x[1]) {
		return tape.Failed
	}
	u, y := x[0]*perSquareMillimetre, x[1]*perSquareMillimetre
	r := referenceOilsAt(y)
	l, _ := r.low(y)
	h, _ := r.high(y)
	if u >= h {
		return 100 * (l - u) / (l - h)
	}
	n := math.Log(h/u) / math.Log(y)
	return (math.Pow(10, n)-1)/indexScale + 100
}

func viscosityIndexSlopes(x []float64, vi float64, _ []Column, d []float64) {
	u, y := x[0]*perSquareMillimetre, x[1]*perSquareMillimetre
	r := referenceOilsAt(y)
	l, dl := r.low(y)
	h, dh := r.high(y)
	if u >= h {
		d[0] = -100 / (l - h)
		d[1] = (100*dl - vi*(dl-dh)) / (l - h)
	} else {
		logY := math.Log(y)
		n := math.Log(h/u) / logY
		byN := (vi - 100 + 1/indexScale) * math.Ln10 // the derivative of 10^n/indexScale
		d[0] = -byN / (u * logY)
		d[1] = byN * (dh/h - n/y) / logY
	}
	d[0] *= perSquareMillimetre
	d[1] *= perSquareMillimetre
}

func viscosityIndexDomain(x []float64, _ []Column) string {
	if tooThin(x[1]) {
		return fmt.Sprintf("the index is defined from %d mm2/s at 100 degC up, here it is %.6g mm2/s", thinnest,
			x[1]*perSquareMillimetre)
	}
	return fmt.Sprintf("the viscosity at 40 degC comes first and is the larger one, here they are %.6g mm2/s and "+
		"%.6g mm2/s",
		x[0]*perSquareMillimetre, x[1]*perSquareMillimetre)
}
