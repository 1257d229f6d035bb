package page

import (
	"strings"

	"rambook/calc"
	"rambook/units"
)

// This file writes numbers on the scale of a unit, which may be a calendar. It
// is the one place where a date is no number, and where a difference
// may have another unit than the values.

// TypedOn is typed on the scale of a unit; absent numbers are no text.
func (s NumberStyle) TypedOn(u units.Unit, x, spread float64) string {
	if u.Kind == units.Date {
		return dateText(x)
	}
	return s.Typed(x, spread)
}

// computedOn is computed on the scale of a unit.
func (s NumberStyle) computedOn(u units.Unit, x, spread float64) string {
	if u.Kind == units.Date {
		return dateText(x)
	}
	return s.Computed(x, spread)
}

// apartOn is apart on the scale of a unit.
func (s NumberStyle) apartOn(u units.Unit, x, spread float64, limits ...float64) string {
	if u.Kind == units.Date {
		return dateText(x)
	}
	return s.apart(x, spread, limits...)
}

// SpreadOn is the spread of x as it stands beside it: without a unit where it
// is that of x, and of a date in days.
func (s NumberStyle) SpreadOn(u units.Unit, x, spread float64) string {
	if u.Kind != units.Date {
		return s.Spread(x, spread)
	}
	if half := s.Spread(spread, spread); half != "" {
		return half + " " + u.Difference().Symbol
	}
	return ""
}

// WithSpread writes a computed value and its spread, without the unit.
func (s NumberStyle) WithSpread(u units.Unit, x, spread float64) string {
	return PlusMinus(s.computedOn(u, x, spread), s.SpreadOn(u, x, spread))
}

// PlusMinus joins two numbers that are written already; either may be absent.
func PlusMinus(number, spread string) string {
	if number == "" || spread == "" {
		return number
	}
	return number + " ± " + spread
}

func dateText(x float64) string {
	if !calc.Has(x) {
		return ""
	}
	return units.FormatDate(x)
}

// ShownUnit is the symbol that stands beside a number; a date and a text speak
// for themselves.
//
//go:noinline
func ShownUnit(u units.Unit) string {
	if u.Kind == units.Date || u.Kind == units.Text {
		return ""
	}
	return u.Symbol
}

// Beside puts the unit behind a number that is written already.
func Beside(number string, u units.Unit) string {
	return strings.TrimSpace(number + " " + ShownUnit(u))
}

// stepUnit is the symbol that a change is given in. One of 2 % from 50 % could
// be 51 % or 52 %, so it is given in points.
//
//go:noinline
func stepUnit(u units.Unit) string {
	if u.Symbol == "%" {
		return "points"
	}
	return u.Difference().Symbol
}

// header is the head of a column: its name, and its unit in brackets.
//
//go:noinline
func header(name string, u units.Unit) string {
	if unit := ShownUnit(u); unit != "" {
		return name + " (" + unit + ")"
	}
	return name
}

// HeaderBelow is a head of two lines, the unit under the name.
func HeaderBelow(name string, u units.Unit) string {
	return strings.TrimSuffix(name+"\n"+ShownUnit(u), "\n")
}

// Exact is a number for other programs: the shortest text that reads back as
// the same number, "" if it is absent.
func Exact(u units.Unit, x float64) string {
	if u.Kind == units.Date {
		return dateText(x)
	}
	return Shortest(x)
}

// JSONNumber is a number for other programs, nil if it is absent. The encoder
// writes a float64 as the shortest text that reads back as the same number.
func JSONNumber(u units.Unit, x float64) any {
	if u.Kind == units.Date && calc.Has(x) {
		return units.FormatDate(x)
	}
	return Plain(x)
}

// Plain is a number without a scale, nil if it is absent.
//
//go:noinline
func Plain(x float64) any {
	if !calc.Has(x) {
		return nil
	}
	return x
}
