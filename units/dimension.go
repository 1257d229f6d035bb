package units

import (
	"fmt"
	"math"
	"strconv"
	"strings"
)

// A Dimension is what kind of quantity a number is: the exponents of the
// seven SI base quantities and of plane angle, each counted in sixths so that
// square and cube roots stay exact. It is comparable with ==, may be a map
// key, and its zero value is the dimension of a plain number.
//
// Angle is kept apart from plain numbers, unlike in the SI, so that rev/min
// cannot pass for 1/min.
type Dimension [8]int8

// The places of the base quantities in a Dimension.
const (
	baseLength = iota
	baseMass
	baseTime
	baseCurrent
	baseTemperature
	baseAmount
	baseLuminosity
	baseAngle
)

const (
	one = 6 // the first power, in sixths

	// maxSixths bounds an exponent to the 21st power either way. It is the
	// largest multiple of six that fits an int8.
	maxSixths = 21 * one

	// sixthSlack is how far a computed number of sixths may be off, so that
	// 1.0/3 passes for a third.
	sixthSlack = 1e-9
)

// Dimensions of the quantities a hydraulic notebook deals in.
var (
	Plain              = Dimension{}
	Length             = Dimension{baseLength: one}
	Mass               = Dimension{baseMass: one}
	Time               = Dimension{baseTime: one}
	Current            = Dimension{baseCurrent: one}
	Temperature        = Dimension{baseTemperature: one}
	Amount             = Dimension{baseAmount: one}
	Luminosity         = Dimension{baseLuminosity: one}
	Angle              = Dimension{baseAngle: one}
	Area               = Dimension{baseLength: 2 * one}
	Volume             = Dimension{baseLength: 3 * one}
	SecondMoment       = Dimension{baseLength: 4 * one}
	Velocity           = Dimension{baseLength: one, baseTime: -one}
	Acceleration       = Dimension{baseLength: one, baseTime: -2 * one}
	AngularVelocity    = Dimension{baseAngle: one, baseTime: -one}
	Frequency          = Dimension{baseTime: -one}
	Flow               = Dimension{baseLength: 3 * one, baseTime: -one}
	MassFlow           = Dimension{baseMass: one, baseTime: -one}
	Displacement       = Dimension{baseLength: 3 * one, baseAngle: -one} // of a pump or motor, per turn
	Density            = Dimension{baseMass: one, baseLength: -3 * one}
	Momentum           = Dimension{baseMass: one, baseLength: one, baseTime: -one}
	Force              = Dimension{baseMass: one, baseLength: one, baseTime: -2 * one}
	Stiffness          = Dimension{baseMass: one, baseTime: -2 * one}
	Pressure           = Dimension{baseMass: one, baseLength: -one, baseTime: -2 * one}
	Compressibility    = Dimension{baseMass: -one, baseLength: one, baseTime: 2 * one}
	Energy             = Dimension{baseMass: one, baseLength: 2 * one, baseTime: -2 * one} // torque too
	TorquePerAngle     = Dimension{baseMass: one, baseLength: 2 * one, baseTime: -2 * one, baseAngle: -one}
	Power              = Dimension{baseMass: one, baseLength: 2 * one, baseTime: -3 * one}
	Inertia            = Dimension{baseMass: one, baseLength: 2 * one}
	KinematicViscosity = Dimension{baseLength: 2 * one, baseTime: -one}
	DynamicViscosity   = Dimension{baseMass: one, baseLength: -one, baseTime: -one}
	Charge             = Dimension{baseCurrent: one, baseTime: one}
	Voltage            = Dimension{baseMass: one, baseLength: 2 * one, baseTime: -3 * one, baseCurrent: -one}
	Resistance         = Dimension{baseMass: one, baseLength: 2 * one, baseTime: -3 * one, baseCurrent: -2 * one}
	Capacitance        = Dimension{baseMass: -one, baseLength: -2 * one, baseTime: 4 * one, baseCurrent: 2 * one}
	SpecificHeat       = Dimension{baseLength: 2 * one, baseTime: -2 * one, baseTemperature: -one}
	HeatCapacity       = Dimension{baseMass: one, baseLength: 2 * one, baseTime: -2 * one, baseTemperature: -one}
	HeatTransfer       = Dimension{baseMass: one, baseTime: -3 * one, baseTemperature: -one}
	HeatConductance    = Dimension{baseMass: one, baseLength: 2 * one, baseTime: -3 * one, baseTemperature: -one}
	HeatConductivity   = Dimension{baseMass: one, baseLength: one, baseTime: -3 * one, baseTemperature: -one}
	HeatFlux           = Dimension{baseMass: one, baseTime: -3 * one}
	MassPerArea        = Dimension{baseMass: one, baseLength: -2 * one}
	ThermalExpansion   = Dimension{baseTemperature: -one}
)

// dimensionNames lists what people call a dimension. It is searched only for
// messages and tables, so a slice in reading order will do.
var dimensionNames = []struct {
	dim  Dimension
	name string
}{
	{Plain, "plain number"},
	{Length, "length"},
	{Mass, "mass"},
	{Time, "time"},
	{Current, "electric current"},
	{Temperature, "temperature"},
	{Amount, "amount of substance"},
	{Luminosity, "luminous intensity"},
	{Angle, "angle"},
	{Area, "area"},
	{Volume, "volume"},
	{SecondMoment, "second moment of area"},
	{Velocity, "speed"},
	{Acceleration, "acceleration"},
	{AngularVelocity, "rotational speed"},
	{Frequency, "frequency"},
	{Flow, "flow"},
	{MassFlow, "mass flow"},
	{Displacement, "displacement per turn"},
	{Density, "density"},
	{Momentum, "momentum"},
	{Force, "force"},
	{Stiffness, "stiffness"},
	{Pressure, "pressure"},
	{Compressibility, "compressibility"},
	{Energy, "energy or torque"},
	{TorquePerAngle, "torque per angle"},
	{Power, "power"},
	{Inertia, "moment of inertia"},
	{KinematicViscosity, "kinematic viscosity"},
	{DynamicViscosity, "dynamic viscosity"},
	{Charge, "electric charge"},
	{Voltage, "voltage"},
	{Resistance, "electric resistance"},
	{Capacitance, "capacitance"},
	{SpecificHeat, "specific heat"},
	{HeatCapacity, "heat capacity"},
	{HeatTransfer, "heat transfer coefficient"},
	{HeatConductance, "heat conductance"},
	{HeatConductivity, "thermal conductivity"},
	{HeatFlux, "heat flux"},
	{MassPerArea, "mass per area"},
	{ThermalExpansion, "thermal expansion coefficient"},
}

// baseSymbols are the base units in the order String prints them, which is
// the order of the SI Brochure: kg before m before s.
var baseSymbols = []struct {
	place  int
	symbol string
}{
	{baseMass, "kg"}, {baseLength, "m"}, {baseTime, "s"}, {baseCurrent, "A"},
	{baseTemperature, "K"}, {baseAmount, "mol"}, {baseLuminosity, "cd"}, {baseAngle, "rad"},
}

// Mul returns the dimension of a product. It fails when an exponent leaves
// its range of 21 either way.
func (d Dimension) Mul(e Dimension) (Dimension, error) {
	return d.add(e, 1)
}

// Div returns the dimension of a quotient. It fails as Mul does.
func (d Dimension) Div(e Dimension) (Dimension, error) {
	return d.add(e, -1)
}

func (d Dimension) add(e Dimension, sign int) (Dimension, error) {
	for i := range d {
		n := int(d[i]) + sign*int(e[i])
		if n < -maxSixths || n > maxSixths {
			return Dimension{}, fmt.Errorf("a power of %s beyond %d", symbolAt(i), maxSixths/one)
		}
		d[i] = int8(n)
	}
	return d, nil
}

// Pow returns the dimension raised to the power p. It fails when p is not
// finite, when an exponent of the result is no whole number of sixths, or
// when it leaves the range of 21 either way.
func (d Dimension) Pow(p float64) (Dimension, error) {
	if math.IsNaN(p) || math.IsInf(p, 0) {
		return Dimension{}, fmt.Errorf("a power that is not a finite number")
	}
	for i := range d {
		exact := float64(d[i]) * p
		n := math.Round(exact)
		switch {
		case math.Abs(n) > maxSixths:
			return Dimension{}, fmt.Errorf("a power of %s beyond %d", symbolAt(i), maxSixths/one)
		case math.Abs(exact-n) > sixthSlack:
			return Dimension{}, fmt.Errorf("a power of %s that is no multiple of 1/6", symbolAt(i))
		}
		d[i] = int8(n)
	}
	return d, nil
}

func symbolAt(place int) string {
	for _, b := range baseSymbols {
		if b.place == place {
			return b.symbol
		}
	}
	panic("units: no base quantity " + strconv.Itoa(place))
}

// String writes the dimension in base units, positive powers first:
// "kg m^-1 s^-2". A plain number is "1".
func (d Dimension) String() string {
	if d == Plain {
		return "1"
	}
	var parts []string
	for _, positive := range []bool{true, false} {
		for _, b := range baseSymbols {
			if n := d[b.place]; n != 0 && (n > 0) == positive {
				parts = append(parts, b.symbol+exponent(n))
			}
		}
	}
	return strings.Join(parts, " ")
}

// exponent writes a number of sixths as the ending of a unit symbol, such as
// "", "^-2" or "^(1/2)".
func exponent(sixths int8) string {
	n, d := int(sixths), one
	for _, f := range []int{2, 3} {
		if n%f == 0 && d%f == 0 {
			n, d = n/f, d/f
		}
	}
	switch {
	case d != 1:
		return fmt.Sprintf("^(%d/%d)", n, d)
	case n != 1:
		return "^" + strconv.Itoa(n)
	}
	return ""
}

// Name is what people call the dimension, for messages such as "cannot add
// length to pressure". A dimension without a common name gives String().
//
//go:noinline
func (d Dimension) Name() string {
	for _, n := range dimensionNames {
		if n.dim == d {
			return n.name
		}
	}
	return d.String()
}
