package page

import (
	"rambook/sheets/table"
	"rambook/units"
)

// Converted is a number that was converted. A conversion has no doubt, so ten digits
// of it are shown unless another number of them is asked for.
func Converted(unit units.Unit, x float64, numbers NumberStyle, digitsAsked bool) string {
	switch {
	case unit.Kind == units.Date:
		return units.FormatDate(x)
	case digitsAsked:
		return numbers.Computed(x, NoSpread)
	}
	return NumberStyle{Digits: 10}.Trimmed(x)
}

// Conversion is a converted number beside its unit.
func Conversion(number string, unit units.Unit) table.Table {
	return table.Table{
		Columns: []table.Column{{Header: "value", Align: table.Decimal}, {Header: "unit"}},
		Rows:    []table.Row{{Cells: []string{number, unit.Symbol}}},
	}
}

type jsonConversion struct {
	Value any    `json:"value"`
	Unit  string `json:"unit"`
}

// JSONConversion is what `convert --format json` promises.
func JSONConversion(unit units.Unit, x float64) any {
	return jsonConversion{JSONNumber(unit, x), unit.Symbol}
}
