package calc

import "math"

// Improvement is what would settle an unsure answer whose doubt comes from
// assumptions of common practice: which to put a number of the machine in the
// place of first, and what each then leaves.
type Improvement struct {
	Judged *Judged
	Steps  []ImprovementStep // in the order in which they are worth it
}

// ImprovementStep is one assumption that is replaced, those before it too, by a
// number that turns out as it was assumed, with a spread that does not count.
type ImprovementStep struct {
	Name    string
	Share   float64 // of the variance, as it is now, 0 to 1
	Left    float64 // the spread that the answer is left with, in its unit
	Verdict Verdict // what it comes to then
}

// Improve finds what would settle an answer that is unsure. It is nil where no
// assumption has a part in the doubt, and where a reading is judged. The last
// step is the one that settles it, or the last assumption there is. A limit counts as
// exact; inputs whose errors are correlated are left alone.
func (m *Model) Improve(j *Judged) *Improvement {
	if j == nil || j.Verdict != Unsure || !j.Quantity.IsFormula() || Has(j.Reading) || !(j.Spread > 0) {
		return nil
	}
	improvement := &Improvement{Judged: j}
	rest := 1.0
	for _, share := range m.shares(j.Quantity, m.tape.Once(nil)) {
		given := m.byName[share.Name]
		if given == nil || !given.IsAssumed() || len(share.Tied) > 0 || share.Share <= 0 {
			continue
		}
		rest -= share.Share
		step := ImprovementStep{Name: share.Name, Share: share.Share, Left: j.Spread * math.Sqrt(math.Max(rest, 0))}
		step.Verdict = within(j.Value, step.Left, j.Low, j.High)
		improvement.Steps = append(improvement.Steps, step)
		if step.Verdict != Unsure {
			break
		}
	}
	if len(improvement.Steps) == 0 {
		return nil
	}
	return improvement
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
