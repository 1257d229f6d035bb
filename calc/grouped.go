package calc

import (
	"math"
	"slices"
	"strconv"

	"rambook/calc/tape"
	"rambook/sheets"
	"rambook/units"
	"rambook/units/words"
)

// Thousands is a number that was typed with a point between its thousands, as far as
// one can tell: as it stands it is far from what fits, and a thousand times that is not.
type Thousands struct {
	Read  units.Value // what it counts as
	Whole string      // what was meant
	Fits  string      // what that fits, such as "1000 kN, which a machine like this may have"
}

// Thousands looks whether a number that was typed for a given, or as a reading, has a
// point between its thousands. A reading is held against what is computed, a given
// against its example, and where there is none both against their limits.
func (j *Judged) Thousands(text string) (Thousands, bool) {
	if _, grouped := units.Grouped(text); !grouped {
		return Thousands{}, false // as most cells are, so that nothing is put into words for them
	}
	expected := math.NaN()
	fits := "its limits"
	if j.Quantity.IsFormula() {
		if expected = j.Unit.ToSI(j.Value); Has(expected) {
			fits = "the computed " + units.WithUnit(rounded(j.Value), j.Unit)
		}
	} else if example, err := units.ParseValue(j.Quantity.Example); err == nil {
		if !example.HasUnit {
			example.Unit = j.Quantity.Unit
		}
		expected = example.Unit.ToSI(example.Number)
		fits = units.WithUnit(example.Number, example.Unit) + ", which a machine like this may have"
	}
	low, high := j.Unit.ToSI(j.Low), j.Unit.ToSI(j.High)
	return thousands(text, fits, j.Unit, func(si float64) bool {
		if Has(expected) {
			return isNear(si, expected)
		}
		return (Has(low) || Has(high)) && !(si < low) && !(si > high)
	})
}

// rounded is a number to the four digits that a sentence has room for.
func rounded(x float64) float64 {
	short, _ := strconv.ParseFloat(strconv.FormatFloat(x, 'g', 4, 64), 64) // which it reads back
	return short
}

func isNear(si, expected float64) bool {
	return si/expected <= units.FarFactor && si/expected >= 1.0/units.FarFactor
}

// thousands looks whether a number in unit u, or in a unit of its own, fits only if
// its point parts thousands. fit is given it in SI.
func thousands(text, fits string, u units.Unit, fit func(si float64) bool) (Thousands, bool) {
	whole, grouped := units.Grouped(text)
	if !grouped || u.Kind != units.Ordinary {
		return Thousands{}, false
	}
	read, err := units.ParseValue(text)
	if err != nil || read.Number == 0 {
		return Thousands{}, false
	}
	if !read.HasUnit {
		read.Unit = u
	}
	return Thousands{read, whole, fits}, !fit(read.Unit.ToSI(read.Number)) && fit(read.Unit.ToSI(1000*read.Number))
}

// fault tells of a number in a cell.
func (t Thousands) fault(p place) sheets.Problem {
	return p.fault(t.Sentence(p.cell.Text),
		"write "+words.Quoted(t.Whole)+", or "+words.Quoted(units.WithUnit(t.Read.Number, t.Read.Unit))+
			" if that was meant")
}

// Sentence is what a text counts as, and what it may have been meant to be.
func (t Thousands) Sentence(text string) string {
	return words.Quoted(text) + " counts as " + units.WithUnit(t.Read.Number, t.Read.Unit) +
		"; with a point between thousands it would be " + t.Whole + ", which fits " + t.Fits
}

// warnThousands warns of numbers in the sheets that have a point between their
// thousands, since most are typed where nobody asks again: what was copied from
// elsewhere ranks a pump and computes a force all the same.
func (c *compiler) warnThousands() {
	for _, q := range c.model.Quantities {
		if q.Example != "" && !q.IsFormula() {
			if _, grouped := units.Grouped(q.Row.Entry.Text); !grouped {
				continue
			}
			own := blank(q, q.Unit)
			if t, found := own.Thousands(q.Row.Entry.Text); found {
				c.warn(t.fault(placeIn(q.Sheet, q.Row.Entry)))
			}
		}
	}
	for _, s := range c.model.Book.Sheets {
		t := c.model.tables[s.Name]
		if t == nil || s.Made {
			continue
		}
		for _, col := range t.columns {
			for i := range col.values {
				if !col.asks {
					cell := s.Cases[i].Cells[col.index]
					if t, found := col.thousands(cell.Text, i); found {
						c.warn(t.fault(placeIn(s, cell)))
					}
				}
			}
		}
	}
}

// warnThousands is the same of what is held against computed values: readings, and
// givens that have limits and no example.
func (m *Model) warnThousands(r *Report) (warnings []sheets.Problem) {
	look := func(s *sheets.Sheet, cell sheets.Cell, j *Judged) {
		if t, found := j.Thousands(cell.Text); found {
			warnings = append(warnings, t.fault(placeIn(s, cell)))
		}
	}
	for i := range r.Quantities {
		j := &r.Quantities[i]
		switch q := j.Quantity; {
		case q.Sheet == nil || q.Row == nil:
		case q.IsFormula():
			look(q.Sheet, q.Row.Reading, j)
		case q.Example == "":
			look(q.Sheet, q.Row.Entry, j)
		}
	}
	for i, cs := range m.caseSheets {
		for n, a := range cs.asked {
			if cs.sheet.Made || a.column.name == "" {
				continue
			}
			for k := range r.Cases[i].Cases {
				one := &r.Cases[i].Cases[k]
				look(cs.sheet, one.Row.Cells[a.column.index], &one.Values[n])
			}
		}
	}
	return warnings
}

// leastOthers is among how many other cells one may stand out.
const leastOthers = 2

// thousands holds a cell against the others of its column.
func (col *column) thousands(text string, own int) (Thousands, bool) {
	if _, grouped := units.Grouped(text); !grouped {
		return Thousands{}, false
	}
	var others []float64
	for i, v := range col.values {
		if i != own && tape.Usable(v) {
			others = append(others, v)
		}
	}
	if len(others) < leastOthers {
		return Thousands{}, false
	}
	slices.Sort(others)
	middle := others[len(others)/2]
	return thousands(text, "the other cells of "+col.name, col.unit,
		func(si float64) bool { return isNear(si, middle) })
}
