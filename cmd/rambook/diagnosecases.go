package main

import (
	"rambook/calc"
)

// runCases diagnoses every case of a sheet.
func (c *diagnoseCommand) runCases(s *session, flags notebookFlags, model *calc.Model) error {
	d, problems := model.DiagnoseCases(c.sheet)
	if d == nil {
		return refused(model, problems)
	}
	printWarnings(s.stderr, model.Warnings)
	return writeJSON(&s.out, newJSONCaseDiagnosis(d))
}

type jsonFault struct {
	Name    string   `json:"name"`
	Value   any      `json:"value,omitzero"`
	Unit    string   `json:"unit"`
	Spread  any      `json:"spread,omitzero"`
	Nominal any      `json:"nominal,omitzero"`
	Tied    []string `json:"tied,omitempty"`
}

type jsonCaseFaults struct {
	Case        string      `json:"case"`
	Finding     string      `json:"finding"`
	Misfit      any         `json:"misfit,omitzero"`
	P           any         `json:"p,omitzero"`
	Left        any         `json:"misfit_left,omitzero"`
	LeftP       any         `json:"p_left,omitzero"`
	Readings    int         `json:"readings"`
	Found       []jsonFault `json:"found"`
	NextReading string      `json:"next_reading,omitempty"`
}

type jsonCaseDiagnosis struct {
	Sheet string            `json:"sheet"`
	Cases []jsonCaseFaults  `json:"cases"`
	Since map[string]string `json:"since"`
}

func newJSONCaseDiagnosis(d *calc.CaseDiagnosis) jsonCaseDiagnosis {
	out := jsonCaseDiagnosis{Sheet: d.Sheet.Name, Cases: []jsonCaseFaults{}, Since: map[string]string{}}
	for i := range d.Cases {
		c := &d.Cases[i]
		one := jsonCaseFaults{Case: c.Name, Finding: c.Finding().String(), Misfit: plain(c.Misfit), P: plain(c.P), Left: plain(c.Left), LeftP: plain(c.LeftP),
			Readings: c.Readings, Found: []jsonFault{}}
		for _, f := range c.Found {
			u := f.Suspect.Quantity.Unit
			fault := jsonFault{Name: f.Suspect.Quantity.Name, Value: jsonNumber(u, f.Value), Unit: u.Symbol, Spread: plain(f.Spread), Nominal: jsonNumber(u, f.Nominal)}
			for _, t := range f.Tied {
				fault.Tied = append(fault.Tied, t.Quantity.Name)
			}
			one.Found = append(one.Found, fault)
		}
		if c.Next != nil {
			one.NextReading = c.Next.Name
		}
		out.Cases = append(out.Cases, one)
	}
	for _, s := range d.Suspects {
		if i := d.Since(s); i >= 0 {
			out.Since[s.Quantity.Name] = d.Cases[i].Name
		}
	}
	return out
}
