package calc

import (
	"math"
	"slices"

	"rambook/calc/fit"
	"rambook/calc/tape"
	"rambook/sheets"
)

// CaseFaults is what the readings of one case say of the suspects. Numbers are
// in the units of the rows.
type CaseFaults struct {
	Name     string
	Readings int
	Misfit   float64 // nothing freed; NaN where no reading can be computed
	P        float64
	Left     float64 // all that was found freed
	LeftP    float64
	Found    []FoundFault // in the order freed
	Error    bool         // the readings cannot be computed in this case
	Next     *Quantity    // what to read to settle a tie; nil if there is none
}

// Finding is what the readings of the case come to.
func (c *CaseFaults) Finding() Finding {
	switch {
	case c.Readings == 0 || c.Error:
		return NoReadings
	case len(c.Found) > 0 && c.LeftP >= poorFit:
		return Explained
	case len(c.Found) == 0 && c.P >= poorFit:
		return NothingWrong
	}
	return Unexplained
}

// FoundFault is a suspect that was freed since the readings fit so much better
// with it.
type FoundFault struct {
	Suspect       *Suspect
	Value, Spread float64
	Nominal       float64
	AtEnd         bool
	Tied          []*Suspect // what would explain as much in its place
}

// CaseDiagnosis is the diagnosis of every case of a sheet.
type CaseDiagnosis struct {
	Sheet    *sheets.Sheet
	Suspects []*Suspect
	Cases    []CaseFaults
	LeftOut  []Reason
	Unfreed  []Reason
}

// Since finds the case since which a suspect has been found: the first of the
// last unbroken run of cases with it, where that run reaches the last case. A
// case without readings breaks no run. It is -1 if it is not found there.
func (d *CaseDiagnosis) Since(s *Suspect) int {
	since := -1
	for i := len(d.Cases) - 1; i >= 0; i-- {
		c := &d.Cases[i]
		switch {
		case c.Fault(s) != nil:
			since = i
		case c.Finding() != NoReadings:
			return since
		}
	}
	return since
}

// Fault is what was found of a suspect, nil if nothing.
func (c *CaseFaults) Fault(s *Suspect) *FoundFault {
	for i := range c.Found {
		if c.Found[i].Suspect == s {
			return &c.Found[i]
		}
	}
	return nil
}

// DiagnoseCases frees, in every case of a sheet, one suspect after another
// while each takes more than 9 from the misfit of the case's readings.
func (m *Model) DiagnoseCases(sheet string) (*CaseDiagnosis, []sheets.Problem) {
	cs, problems := m.runSheet(sheet)
	if len(problems) > 0 {
		return nil, problems
	}
	s := m.surveyCases(cs, nil)
	s.unsure = true // without a spread there is no misfit that is too much
	s.leaveOut(m.unprovenIn(cs), m.newTrace(m.tape, s.Base))
	d := &CaseDiagnosis{Sheet: cs.sheet, LeftOut: s.leftOut}
	for _, suspect := range m.Suspects {
		free := suspect.free()
		if !tape.Usable(s.Base[suspect.Quantity.value]) {
			stated := statedValues(s, suspect)
			if len(stated) == 0 {
				d.Unfreed = append(d.Unfreed, Reason{suspect.Quantity, "is open"})
				continue
			}
			free = suspect.freeIn(stated)
		} else if why := suspect.untriable(); why != "" {
			d.Unfreed = append(d.Unfreed, Reason{suspect.Quantity, why})
			continue
		}
		d.Suspects = append(d.Suspects, suspect)
		s.Free = append(s.Free, free)
	}
	found := s.Diagnose()
	for i, f := range found {
		d.Cases = append(d.Cases, d.tell(s, i, cs.sheet.Cases[i].Name.Text, &f))
	}
	m.settleTies(d)
	return d, nil
}

// settleTies names, where a single fault may as well be another one, the planned
// reading that would tell the two apart. Cases with the same tie share it.
func (m *Model) settleTies(d *CaseDiagnosis) {
	type tie [2]*Suspect
	known := map[tie]*Quantity{}
	for i := range d.Cases {
		c := &d.Cases[i]
		if len(c.Found) != 1 || len(c.Found[0].Tied) == 0 {
			continue
		}
		at := tie{c.Found[0].Suspect, c.Found[0].Tied[0]}
		next, asked := known[at]
		if !asked {
			if own, problems := m.InCase(d.Sheet.Name, c.Name, Options{}); own != nil && len(problems) == 0 {
				if one, _ := own.Diagnose(DiagnoseOptions{}); one != nil && one.Next != nil {
					next = m.byName[one.Next.Quantity.Name]
				}
			}
			known[at] = next
		}
		c.Next = next
	}
}

// statedValues are what cases state of a suspect, SI.
func statedValues(s *survey, suspect *Suspect) []float64 {
	for _, c := range s.Replaced {
		if c.Input == suspect.Quantity.value {
			return slices.DeleteFunc(slices.Clone(c.Values), func(x float64) bool { return !tape.Usable(x) })
		}
	}
	return nil
}

// freeSeveral frees the suspects of a diagnosis one after another, as
// DiagnoseCases does in each case.
func (m *Model) freeSeveral(d *Diagnosis, q *inquiry) {
	s := m.newSurvey(m.seeds())
	s.Cases = 1
	for _, r := range q.readings {
		s.takeOwn(r, []float64{r.reading.value})
	}
	own := &CaseDiagnosis{Suspects: q.suspects}
	for _, suspect := range q.suspects {
		s.Free = append(s.Free, suspect.free())
	}
	c := own.tell(s, 0, "", &s.Diagnose()[0])
	if len(c.Found) > 0 {
		d.Found, d.Left, d.LeftP = c.Found, c.Left, c.LeftP
	}
}

// tell puts what was found in a case into the units of the rows.
func (d *CaseDiagnosis) tell(s *survey, at int, name string, f *fit.Faults) CaseFaults {
	c := CaseFaults{Name: name, Readings: f.Readings, Misfit: f.Misfit, Left: f.Left, P: math.NaN(), LeftP: math.NaN(),
		Error: !f.Usable}
	if c.Readings == 0 || c.Error {
		c.Misfit, c.Left = math.NaN(), math.NaN()
		return c
	}
	c.P = survival(f.Misfit, f.Readings)
	c.LeftP = survival(f.Left, f.Readings-len(f.Found))
	for _, g := range f.Found {
		suspect := d.Suspects[g.Given]
		q := suspect.Quantity
		fault := FoundFault{Suspect: suspect, Value: q.Unit.FromSI(g.Value), Spread: math.NaN(), AtEnd: g.AtEnd}
		if Has(g.U) {
			fault.Spread = spreadIn(q.Unit, 2*g.U)
		}
		nominal := s.Base[q.value]
		for _, col := range s.Replaced {
			if col.Input == q.value && !tape.IsMissing(col.Values[at]) {
				nominal = col.Values[at]
			}
		}
		fault.Nominal = q.entry.exact(q.Unit.FromSI(nominal))
		for _, t := range g.Tied {
			fault.Tied = append(fault.Tied, d.Suspects[t])
		}
		c.Found = append(c.Found, fault)
	}
	return c
}
