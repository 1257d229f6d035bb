package calc

import (
	"rambook/calc/fit"
	"rambook/calc/tape"
)

// leastSeparates is how far apart two predictions must be, in their joint spread,
// for a reading to tell which of the two is right.
const leastSeparates = 1

// NextReading is the planned reading that best tells the first two suspects
// apart.
type NextReading struct {
	Quantity  *Quantity
	Separates float64 // difference of what the two predict over their joint spread
	Predicts  [2]Prediction
}

// Prediction is what would be read if a suspect were the cause. The spread
// includes the reading's own.
type Prediction struct {
	Suspect       *Suspect
	Value, Spread float64
}

// nextReading picks among the planned readings the one that best tells two
// suspects apart. It is nil if none can.
func (q *inquiry) nextReading(a, b *SuspectFit) *NextReading {
	var best *NextReading
	ifA, ifB := q.Answer(&a.fit), q.Answer(&b.fit)
	for _, c := range q.planned {
		meanA, spreadA := foretell(ifA, c)
		meanB, spreadB := foretell(ifB, c)
		separates := agreement(meanA, spreadA, meanB, spreadB)
		if !tape.Usable(separates) || separates < leastSeparates || best != nil && separates <= best.Separates {
			continue
		}
		best = &NextReading{Quantity: c, Separates: separates, Predicts: [2]Prediction{
			{a.Suspect, c.Unit.FromSI(meanA), spreadIn(c.Unit, spreadA)},
			{b.Suspect, c.Unit.FromSI(meanB), spreadIn(c.Unit, spreadB)},
		}}
	}
	return best
}

// foretell is what would be read of a quantity, with the spread of the reading
// added.
func foretell(a *fit.Answer, c *Quantity) (mean, spread float64) {
	mean, u := a.Predict(c.shownAt())
	return mean, hypot(2*u, c.ownSpread(a.Values, mean))
}
