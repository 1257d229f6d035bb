package page

import (
	"strings"

	"rambook/sheets/table"
	"rambook/units"
)

// ConversionView puts a converted number beside its unit.
type ConversionView struct {
	Value       float64 // in the unit
	Unit        units.Unit
	Numbers     NumberStyle
	DigitsAsked bool // for so many as Numbers has
}

// number is the number for people. A conversion has no doubt, so ten digits of it are
// shown unless another number of them is asked for.
func (v *ConversionView) number() string {
	switch {
	case v.Unit.Kind == units.Date:
		return units.FormatDate(v.Value)
	case v.DigitsAsked:
		return v.Numbers.Computed(v.Value, NoSpread)
	}
	return NumberStyle{Digits: 10}.Trimmed(v.Value)
}

// Screen is the number and the unit, and nothing else.
func (v *ConversionView) Screen() string {
	return strings.TrimSpace(v.number()+" "+v.Unit.Symbol) + "\n"
}

// Page is the number in a table.
func (v *ConversionView) Page() []table.Table { return []table.Table{v.beside(v.number())} }

// Rows is the number with all its digits.
func (v *ConversionView) Rows() table.Table { return v.beside(Exact(v.Unit, v.Value)) }

func (v *ConversionView) beside(number string) table.Table {
	return table.Table{
		Columns: []table.Column{{Header: "value", Align: table.Decimal}, {Header: "unit"}},
		Rows:    []table.Row{{Cells: []string{number, v.Unit.Symbol}}},
	}
}

type jsonConversion struct {
	Value any    `json:"value"`
	Unit  string `json:"unit"`
}

// Object is what `convert --format json` promises.
func (v *ConversionView) Object() any {
	return jsonConversion{JSONNumber(v.Unit, v.Value), v.Unit.Symbol}
}
