package function

import (
	"fmt"
	"math"

	"rambook/calc/tape"
	"rambook/units"
)

// hydraulicFunctions are of pipes and tanks.
var hydraulicFunctions = []*Function{
	{Name: "friction_factor", Params: "reynolds, relative_roughness",
		Doc:    "Darcy friction factor: 64/Re up to 2300, Colebrook-White from 4000, a straight line between them",
		Source: "Hagen-Poiseuille; Colebrook 1939; the straight line is common practice, no source",
		least:  2, most: 2, Rule: hinted(plainRule, map[Type]string{
			{Dim: units.Length}: "divide the roughness by the bore",
		}),
		Eval:   func(x []float64, _ []Column) float64 { return frictionFactor(x[0], x[1]) },
		slopes: frictionSlopes, domain: frictionDomain, corner: corners(laminarEnd, turbulentStart)},
	{Name: "lying_tank_volume", Params: "level, diameter, length",
		Doc:    "volume of liquid in a lying cylinder with flat ends, filled up to the level",
		Source: "area of a circular segment, plane geometry",
		least:  3, most: 3, Rule: takes(Type{Dim: units.Volume}, Type{Dim: units.Length}),
		Eval:   func(x []float64, _ []Column) float64 { return lyingTankVolume(x[0], x[1], x[2]) },
		slopes: lyingTankSlopes, domain: lyingTankDomain},
}

const (
	laminarEnd     = 2300 // Reynolds number up to which a pipe flows laminar
	turbulentStart = 4000 // Reynolds number from which Colebrook-White holds
	roughest       = 0.05 // relative roughness up to which Colebrook-White was tested
)

// frictionFactor is the Darcy friction factor of a round pipe. Between the end
// of the laminar range and the start of the turbulent one the flow is
// unsteady and no formula holds; a straight line over the Reynolds number
// joins the two ends, so that the factor has no step and only rises there.
func frictionFactor(reynolds, roughness float64) float64 {
	switch {
	case !(reynolds > 0) || roughness < 0 || roughness > roughest*(1+slack):
		return tape.Failed
	case reynolds <= laminarEnd:
		return 64 / reynolds
	case reynolds < turbulentStart:
		start, end := 64./laminarEnd, colebrook(turbulentStart, roughness)
		return start + (end-start)*transition(reynolds)
	}
	return colebrook(reynolds, roughness)
}

// transition is how far a Reynolds number lies on the way from laminar to
// turbulent, 0 to 1.
func transition(reynolds float64) float64 {
	return (reynolds - laminarEnd) / (turbulentStart - laminarEnd)
}

// colebrook solves 1/√f = -2 log10(ε/3.7 + 2.51/(Re √f)) for f by Newton's
// method in 1/√f. The equation is nearly straight in that variable, so the
// start of Haaland (1983), good to 2 %, needs three or four steps to the last
// bit.
func colebrook(reynolds, roughness float64) float64 {
	const k = 2 / math.Ln10
	a, b := roughness/3.7, 2.51/reynolds
	x := -1.8 * math.Log10(math.Pow(a, 1.11)+6.9/reynolds)
	for range 10 {
		inner := a + b*x
		step := (x + k*math.Log(inner)) / (1 + k*b/inner)
		x -= step
		if math.Abs(step) <= 1e-15*x {
			break
		}
	}
	return 1 / (x * x)
}

// colebrookSlopes gives the derivatives of a factor f that solves the
// equation, by the theorem of implicit functions.
func colebrookSlopes(reynolds, roughness, f float64) (byReynolds, byRoughness float64) {
	const k = 2 / math.Ln10
	x := 1 / math.Sqrt(f)
	a, b := roughness/3.7, 2.51/reynolds
	inner := a + b*x
	byX := 1 + k*b/inner
	df := -2 * f / x // of one unit of x
	return df * k * x * b / reynolds / inner / byX, -df * k / 3.7 / inner / byX
}

func frictionSlopes(x []float64, y float64, _ []Column, d []float64) {
	switch reynolds, roughness := x[0], x[1]; {
	case reynolds <= laminarEnd:
		d[0], d[1] = -y/reynolds, 0
	case reynolds < turbulentStart:
		end := colebrook(turbulentStart, roughness)
		_, byRoughness := colebrookSlopes(turbulentStart, roughness, end)
		d[0] = (end - 64./laminarEnd) / (turbulentStart - laminarEnd)
		d[1] = byRoughness * transition(reynolds)
	default:
		d[0], d[1] = colebrookSlopes(reynolds, roughness, y)
	}
}

func frictionDomain(x []float64, _ []Column) string {
	switch {
	case !(x[0] > 0):
		return fmt.Sprintf("the Reynolds number must be above 0, here it is %.6g", x[0])
	case x[1] < 0 || x[1] > roughest*(1+slack):
		return fmt.Sprintf("the relative roughness, roughness / bore, must lie between 0 and %g, here it is %.6g",
			roughest, x[1])
	}
	return "the Reynolds number is too small"
}

// lyingTankVolume is the length times the area of the segment below the level.
// theta is half the angle under which the axis sees the liquid's surface.
func lyingTankVolume(level, diameter, length float64) float64 {
	if !(diameter > 0) || !(length > 0) || level < -slack*diameter || level > diameter*(1+slack) {
		return tape.Failed
	}
	share := min(max(level/diameter, 0), 1)
	theta := 2 * math.Atan2(math.Sqrt(share), math.Sqrt(1-share))
	sin, cos := 2*math.Sqrt(share*(1-share)), 1-2*share
	return length * diameter * diameter / 4 * (theta - sin*cos)
}

// lyingTankSlopes: the level adds the surface, and since the volume is
// homogeneous of degree 2 in level and diameter, Euler's theorem gives the
// derivative by the diameter.
func lyingTankSlopes(x []float64, y float64, _ []Column, d []float64) {
	level, diameter, length := x[0], x[1], x[2]
	surface := 2 * math.Sqrt(max(level*(diameter-level), 0)) * length
	d[0], d[1], d[2] = surface, (2*y-level*surface)/diameter, y/length
}

func lyingTankDomain(x []float64, _ []Column) string {
	switch level, diameter, length := x[0], x[1], x[2]; {
	case !(diameter > 0):
		return fmt.Sprintf("the diameter must be above 0, here it is %.6g mm", 1e3*diameter)
	case !(length > 0):
		return fmt.Sprintf("the length must be above 0, here it is %.6g mm", 1e3*length)
	default:
		return fmt.Sprintf("the level must lie between 0 and the diameter of %.6g mm, here it is %.6g mm", 1e3*diameter,
			1e3*level)
	}
}
