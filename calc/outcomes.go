package calc

// Outcomes lists the numbers that the notebook ends with and judges by nothing,
// such as the oil to add today: formulas without a limit that nothing else uses,
// computed from what was read on this machine: a given that was entered by its
// logbook, and for which a starter has no example, since it changes by the day.
func (m *Model) Outcomes(r *Report) []*Judged {
	logbook := m.Book.Logbook()
	if logbook == nil {
		return nil
	}
	entered := map[string]bool{}
	for i := range logbook.Entries {
		entered[logbook.Entries[i].What.Text] = true
	}
	used := map[*Quantity]bool{}
	for _, q := range m.Quantities {
		for _, f := range q.formulas() {
			for _, u := range f.uses() {
				used[u] = true
			}
		}
	}
	seen := map[*Quantity]bool{}
	var measured func(q *Quantity) bool
	measured = func(q *Quantity) bool {
		if !q.IsFormula() {
			return entered[q.Name] && q.Example == "" && q.entry.kind == numberEntry && !q.IsTick()
		}
		known, done := seen[q]
		if !done {
			seen[q] = false // what is computed from itself is found so elsewhere
			for _, u := range q.entry.formula.uses() {
				known = known || measured(u)
			}
			seen[q] = known
		}
		return known
	}
	var list []*Judged
	for i := range r.Quantities {
		j := &r.Quantities[i]
		if q := j.Quantity; q.IsFormula() && j.Verdict == NoVerdict && Has(j.Value) && !used[q] && measured(q) {
			list = append(list, j)
		}
	}
	return list
}
