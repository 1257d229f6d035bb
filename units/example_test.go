package units_test

import (
	"fmt"

	"rambook/units"
)

func ExampleConvert() {
	number, unit, err := units.Convert("2900 psi", "MPa")
	if err != nil {
		fmt.Println(err.Message, "-", err.Hint)
		return
	}
	fmt.Printf("%.4g %s\n", number, unit.Symbol)
	// Output: 19.99 MPa
}

func ExampleParse() {
	unit, err := units.Parse("L/min")
	if err != nil {
		fmt.Println(err.Message, "-", err.Hint)
		return
	}
	fmt.Println(unit.Dim.Name(), "in", unit.Dim)
	fmt.Println(unit.ToSI(60))
	// Output:
	// flow in m^3 s^-1
	// 0.001
}

func ExampleParse_refused() {
	for _, text := range []string{"Mpa", "hp", "W/degC", "m/s2"} {
		_, err := units.Parse(text)
		fmt.Println(err.Message, "-", err.Hint)
	}
	// Output:
	// unknown unit `Mpa` - did you mean `MPa` or `mPa`?
	// the unit `hp` is ambiguous - write `hp_mech` or `hp_metric`
	// the temperature scale `degC` cannot be part of a larger unit - write `W/K`
	// unknown unit `s2` - write `s^2`; only lengths take a bare 2 or 3
}

func ExampleParseValue_refused() {
	for _, text := range []string{"1,5", "0x1F", "20MPa"} {
		_, err := units.ParseValue(text)
		fmt.Println(err.Message, "-", err.Hint)
	}
	// Output:
	// `1,5` is not a number - the decimal mark is a point and thousands have no mark: write `1.5`
	// `0x1F` is not a number - write a number such as `25`, `-12.5e3` or `2900 psi`
	// `20MPa` is not a number - put a blank before the unit: write `20 MPa`
}

func ExampleUnit_DiffToSI() {
	celsius, _ := units.Parse("degC")
	fmt.Println(celsius.ToSI(40), "K, plus or minus", celsius.DiffToSI(2), "K")
	// Output: 313.15 K, plus or minus 2 K
}

func ExampleReserved() {
	meaning, _ := units.Reserved("h")
	fmt.Printf("`h` is %s\n", meaning)
	// Output: `h` is the unit hour
}
