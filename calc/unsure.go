package calc

import "math"

// Doubt is what leaves an answer unsure.
type Doubt struct {
	Judged *Judged
	Read   bool           // it is judged by its reading, and the reading's spread leaves it so
	Causes []Share        // the inputs by what their spread has in it, largest first; none where Read
	Steps  []SettlingStep // the assumptions among them, in the order in which they are worth it
}

// SettlingStep is one assumption that is replaced, those before it too, by a
// number that turns out as it was assumed, with a spread that does not count.
type SettlingStep struct {
	Name    string
	Share   float64 // of the variance, as it is now, 0 to 1
	Left    float64 // the spread that the answer is left with, in its unit
	Verdict Verdict // what it comes to then
}

// Doubt finds what leaves an answer unsure, and which assumptions would settle it.
// It is nil for an answer that is not unsure, or whose doubt has no cause that a
// spread could show.
func (m *Model) Doubt(j *Judged) *Doubt {
	if j == nil || j.Verdict != Unsure || j.Quantity.IsVerdict() || j.Unproven != nil || j.Crossed {
		return nil
	}
	d := &Doubt{Judged: j}
	if _, _, d.Read = j.Subject(); d.Read {
		return d
	}
	if d.Causes = m.shares(j.Quantity, m.tape.Once(nil)); len(d.Causes) == 0 {
		return nil
	}
	if j.Quantity.IsFormula() && j.Spread > 0 {
		d.Steps = m.settlingSteps(j, d.Causes)
	}
	return d
}

// settlingSteps lists the assumptions among the causes of a doubt. The last step is
// the one that settles it, or the last assumption there is. A limit counts as exact;
// inputs whose errors are correlated are left alone.
func (m *Model) settlingSteps(j *Judged, causes []Share) []SettlingStep {
	var steps []SettlingStep
	rest := 1.0
	for _, share := range causes {
		given := m.byName[share.Name]
		if given == nil || !given.IsAssumed() || len(share.Tied) > 0 || share.Share <= 0 {
			continue
		}
		rest -= share.Share
		step := SettlingStep{Name: share.Name, Share: share.Share, Left: j.Spread * math.Sqrt(math.Max(rest, 0))}
		step.Verdict = within(j.Value, step.Left, j.Low, j.High)
		steps = append(steps, step)
		if step.Verdict != Unsure {
			break
		}
	}
	return steps
}

// within judges a value with its spread between exact limits, either of which
// may be absent (JCGM 106, 8.3, with the guard band U).
func within(value, spread, low, high float64) Verdict {
	switch {
	case Has(low) && value+spread < low, Has(high) && value-spread > high:
		return Fail
	case Has(low) && value-spread < low, Has(high) && value+spread > high:
		return Unsure
	}
	return Pass
}
