package main

import (
	"strings"

	"rambook/calc"
	"rambook/units"
)

// This file writes numbers on the scale of a unit, which may be a calendar. It
// is the one place that knows that a date is no number, and that a difference
// may be told in another unit than the values.

// typedOn is typed on the scale of a unit; absent numbers are no text.
func (s numberStyle) typedOn(u units.Unit, x, spread float64) string {
	if u.Kind == units.Date {
		return dateText(x)
	}
	return s.typed(x, spread)
}

// computedOn is computed on the scale of a unit.
func (s numberStyle) computedOn(u units.Unit, x, spread float64) string {
	if u.Kind == units.Date {
		return dateText(x)
	}
	return s.computed(x, spread)
}

// apartOn is apart on the scale of a unit.
func (s numberStyle) apartOn(u units.Unit, x, spread float64, limits ...float64) string {
	if u.Kind == units.Date {
		return dateText(x)
	}
	return s.apart(x, spread, limits...)
}

// spreadOn is the spread of x as it stands beside it: without a unit where it
// is that of x, and of a date in days.
func (s numberStyle) spreadOn(u units.Unit, x, spread float64) string {
	if u.Kind != units.Date {
		return s.spread(x, spread)
	}
	if half := s.spread(spread, spread); half != "" {
		return half + " " + u.Difference().Symbol
	}
	return ""
}

// withSpread writes a computed value and its spread, without the unit.
func (s numberStyle) withSpread(u units.Unit, x, spread float64) string {
	return plusMinus(s.computedOn(u, x, spread), s.spreadOn(u, x, spread))
}

// plusMinus joins two numbers that are written already; either may be absent.
func plusMinus(number, spread string) string {
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

// shownUnit is the symbol that stands beside a number; a date and a text speak
// for themselves.
func shownUnit(u units.Unit) string {
	if u.Kind == units.Date || u.Kind == units.Text {
		return ""
	}
	return u.Symbol
}

// beside puts the unit behind a number that is written already.
func beside(number string, u units.Unit) string {
	return strings.TrimSpace(number + " " + shownUnit(u))
}

// stepUnit is the symbol that a change is told in. One of 2 % from 50 % could
// be 51 % or 52 %, so it is told in points.
func stepUnit(u units.Unit) string {
	if u.Symbol == "%" {
		return "points"
	}
	return u.Difference().Symbol
}

// header is the head of a column: its name, and its unit in brackets.
func header(name string, u units.Unit) string {
	if unit := shownUnit(u); unit != "" {
		return name + " (" + unit + ")"
	}
	return name
}

// headerBelow is a head of two lines, the unit under the name.
func headerBelow(name string, u units.Unit) string {
	return strings.TrimSuffix(name+"\n"+shownUnit(u), "\n")
}

// exact is a number for other programs: the shortest text that reads back as
// the same number, "" if it is absent.
func exact(u units.Unit, x float64) string {
	if u.Kind == units.Date {
		return dateText(x)
	}
	return shortest(x)
}

// jsonNumber is a number for other programs, nil if it is absent. The encoder
// writes a float64 as the shortest text that reads back as the same number.
func jsonNumber(u units.Unit, x float64) any {
	if u.Kind == units.Date && calc.Has(x) {
		return units.FormatDate(x)
	}
	return plain(x)
}

// plain is a number without a scale, nil if it is absent.
func plain(x float64) any {
	if !calc.Has(x) {
		return nil
	}
	return x
}
