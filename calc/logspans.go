package calc

import (
	"slices"

	"rambook/calc/phase"
	"rambook/sheets"
	"rambook/units"
)

// PhaseSpan is a phase of a cycle on the clock of its log.
type PhaseSpan struct {
	Cycle, Phase string
	From, To     float64 // in seconds
}

// PhaseSpans lists the phases that were cut out of a log, in the order of time.
func (m *Model) PhaseSpans(log *sheets.Sheet) []PhaseSpan {
	var spans []PhaseSpan
	for _, cut := range m.cuttings {
		if cut.log == nil || cut.result == nil || cut.log.Shown != log.File {
			continue
		}
		for i := range cut.result.Cycles {
			for k, ends := range cut.result.Cycles[i].Phases {
				spans = append(spans, PhaseSpan{cut.names[i], cut.sheet.Phases[k].Phase.Text, ends[0], ends[1]})
			}
		}
	}
	return spans
}

// ColumnLimit is a limit of a quantity that is the mean, an extreme or an end of
// a column of a log over a phase, and so a limit of the column there.
type ColumnLimit struct {
	Quantity *Quantity
	Phase    string
	Unit     units.Unit // of the limits
	Low      float64    // NaN where there is none
	High     float64
}

// ColumnLimits lists the limits that a report states for a column of a log.
func (m *Model) ColumnLimits(log *sheets.Sheet, column string, r *Report) []ColumnLimit {
	var limits []ColumnLimit
	for i := range r.Quantities {
		j := &r.Quantities[i]
		cut := j.Quantity.cutting
		if cut == nil || cut.log == nil || cut.log.Shown != log.File || !Has(j.Low) && !Has(j.High) {
			continue
		}
		for _, f := range []*formula{j.Quantity.entry.formula, j.Quantity.reading.formula} {
			if f == nil || f.tree() == nil || f.tree().kind != cycleNode {
				continue
			}
			v := f.tree().cycle
			at := slices.IndexFunc(cut.columns, func(col *logColumn) bool { return col.at == v.x })
			if at < 0 || cut.log.Columns[cut.columns[at].index].Name != column {
				continue
			}
			switch v.by {
			case phase.Mean, phase.Least, phase.Greatest, phase.First, phase.Last, phase.RMS:
				limits = append(limits, ColumnLimit{j.Quantity, cut.sheet.Phases[v.phase].Phase.Text, j.Unit, j.Low,
					j.High})
			}
		}
	}
	return limits
}
