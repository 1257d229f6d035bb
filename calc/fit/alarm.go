package fit

import (
	"math"
	"math/rand/v2"

	"gonum.org/v1/gonum/blas"
	"gonum.org/v1/gonum/blas/blas64"
	"gonum.org/v1/gonum/floats"
	"gonum.org/v1/gonum/mat"
	"gonum.org/v1/gonum/mathext"
	"gonum.org/v1/gonum/stat/distuv"
)

// Alarm is how often readings of a sound machine look as bad as these, by two
// tests that have different faults in sight.
//
// The misfit of all readings notices whatever makes many of them a little
// wrong, but drowns a fault that shows in one direction only: it allows each of
// twenty readings its share of chance, so a fault that is worth 15 is still
// common beside the 20 of all of them. The largest drop of the misfit by one
// suspect looks along the directions in which suspects can move the readings,
// and along no other.
//
// Let w be the residuals in independent units, w = L⁻¹ r with V = L Lᵀ, so that w
// is standard normal if nothing is wrong, and eₖ the direction in which
// suspect k moves it, |eₖ| = 1. Where the model is straight, freeing the suspect takes
// (eₖ·w)² from the misfit |w|²: chi-square of one degree. (With a spread of its own
// as well: by the Sherman-Morrison formula what its part of V has allowed is
// made up for exactly by what it is fitted for.) The largest of several is not
// chi-square any more, and neither does it help to multiply by their number:
// suspects that act nearly alike are one trial, not two.
//
// So the second test calls if w lies in one of several half-spaces, eₖ·w ≥ z. Such a
// union has the probability Σ pₖ · mean of 1/S, where pₖ is that of a half-space alone,
// points are drawn within the half-spaces, each in proportion to its pₖ, and S is
// in how many of them a point lies: it is counted S times in the sum. That is exact for
// one suspect and for all that act alike, and near it elsewhere, in however far a
// tail. The points are always the same ones, so the answer is too. Source: A. Owen, Y.
// Maximov, M. Chertkov, Electronic Journal of Statistics 13 (2019), from memory.
//
// Both tests count alike: p of the two is the probability that either
// is as improbable, in a sound machine, as the less probable of the two is here.
// So the chance of a false alarm stays what it is asked to be, and is not added up.
type Alarm struct {
	Misfit float64 // p of the misfit of all readings
	Drop   float64 // p of the largest drop; NaN if no suspect moves a reading
	Either float64 // p of the two together
}

const (
	alarmPoints = 1024
	alarmSeed   = 14
	leastTail   = 1e-15 // a tail that adds nothing
	nearEnough  = 0.005 // of the logarithm of a p
)

// golden is the step of an even sequence that never repeats.
const golden = 0.6180339887498949

// direction is how a suspect moves the residuals: where it points, and how far
// w can go there, up and down, before the suspect comes to an end of its range.
type direction struct {
	along    []float64
	up, down float64
}

// Alarm judges the notebook as it stands, where drop is the most that a
// suspect takes from the misfit.
func (q *Inquiry) Alarm(a *Answer, drop float64) Alarm {
	return drawPoints(len(q.Readings), a.directions()).alarm(a.trial.Misfit, drop)
}

// directions are those of the suspects that move a reading.
func (a *Answer) directions() []direction {
	w := a.weigher
	n := len(w.Readings)
	moves := mat.NewDense(n, max(1, len(w.Suspects)), nil)
	for i, o := range w.Readings {
		for _, p := range w.partials[i] {
			for k, s := range w.Suspects {
				if w.column[s.Input] == p.given {
					moves.Set(i, k, a.Values[p.at]/o.U)
				}
			}
		}
	}
	blas64.Trsm(blas.Left, blas.Trans, 1, w.triangle, moves.RawMatrix())
	var list []direction
	for k, s := range w.Suspects {
		d := direction{along: mat.Col(nil, k, moves), up: math.Inf(1), down: math.Inf(1)}
		length := floats.Norm(d.along, 2)
		if !(length > 0) || math.IsInf(length, 1) {
			continue
		}
		// A suspect with a spread of its own may already have moved in V, so its
		// ends are no bound.
		if w.givens[w.column[s.Input]].U == 0 {
			at := s.clamp(w.base[s.Input])
			d.up, d.down = (s.To-at)*length, (at-s.From)*length
		}
		floats.Scale(1/length, d.along)
		list = append(list, d)
	}
	return list
}

// needed is how far w has to go along a direction for a drop, where a suspect
// can follow it up to end: beyond that the drop grows as 2·z·end - end².
func needed(drop, end float64) float64 {
	if drop <= end*end {
		return math.Sqrt(drop)
	}
	return (drop + end*end) / (2 * end)
}

func (p *points) alarm(misfit, drop float64) Alarm {
	all := distuv.ChiSquared{K: float64(p.readings)}
	a := Alarm{Misfit: all.Survival(misfit), Drop: math.NaN()}
	a.Either = a.Misfit
	if len(p.suspects) == 0 {
		return a
	}
	drop = math.Max(0, drop)
	anywhere := math.Inf(1)
	a.Drop = p.tail(drop, anywhere)
	switch {
	case a.Misfit < leastTail || a.Drop < leastTail:
		a.Either = math.Min(a.Misfit, a.Drop)
	case a.Drop <= a.Misfit:
		a.Either = a.Drop + p.tail(drop, all.Quantile(1-a.Drop))
	default:
		// No drop is larger than the misfit, so the one that is as improbable as this
		// misfit lies between the two.
		drop = equallyRare(a.Misfit, drop, misfit, a.Drop, func(drop float64) float64 {
			return p.tail(drop, anywhere)
		})
		a.Either = a.Misfit + p.tail(drop, misfit)
	}
	return a
}

// points are drawn from what w is if nothing is wrong, seen from the suspects.
type points struct {
	readings int
	suspects []direction
	cosines  *mat.Dense // between two suspects' directions
	along    *mat.Dense // of each point: how far it lies along each suspect's
	squares  []float64  // and its distance, squared
}

func drawPoints(readings int, suspects []direction) *points {
	p := &points{readings: readings, suspects: suspects, cosines: &mat.Dense{}, along: &mat.Dense{},
		squares: make([]float64, alarmPoints)}
	if len(suspects) == 0 {
		return p
	}
	random := rand.New(rand.NewPCG(alarmSeed, uint64(readings)))
	w := mat.NewDense(alarmPoints, readings, nil)
	directions := mat.NewDense(len(suspects), readings, nil)
	for k, s := range suspects {
		directions.SetRow(k, s.along)
	}
	for i := range p.squares {
		row := w.RawRowView(i)
		for j := range row {
			row[j] = random.NormFloat64()
		}
		p.squares[i] = floats.Dot(row, row)
	}
	p.along.Mul(w, directions.T())
	p.cosines.Mul(directions, directions.T())
	return p
}

// tail is the probability that a suspect takes more than drop from a misfit of
// less than most.
func (p *points) tail(drop, most float64) float64 {
	n := len(p.suspects)
	bounds := make([]float64, 2*n) // of the half-spaces: up along each suspect, then down
	sums := make([]float64, 2*n)   // of their probabilities
	sum := 0.0
	for k, s := range p.suspects {
		bounds[k], bounds[n+k] = needed(drop, s.up), needed(drop, s.down)
	}
	for h, z := range bounds {
		sum += distuv.UnitNormal.Survival(z)
		sums[h] = sum
	}
	if !(sum > 0) {
		return 0
	}
	h, share := 0, 0.0
	for i, square := range p.squares {
		for at := sum * (float64(i) + 0.5) / alarmPoints; at > sums[h]; {
			h++
		}
		k, sign := h%n, 1.0
		if h >= n {
			sign = -1
		}
		// The point is moved along the suspect into its half-space.
		_, even := math.Modf(golden * float64(i+1))
		z := -sign * mathext.NormalQuantile(even*distuv.UnitNormal.Survival(bounds[h]))
		row, cosines := p.along.RawRowView(i), p.cosines.RawRowView(k)
		if was := row[k]; square-was*was+z*z < most {
			share += 1 / float64(p.inside(row, cosines, z-was, bounds))
		}
	}
	return math.Min(1, sum*share/alarmPoints)
}

// inside counts the half-spaces in which a point lies that was moved along one
// suspect; it lies in that one's at least.
func (p *points) inside(along, cosines []float64, moved float64, bounds []float64) int {
	n, count := len(along), 0
	for l, x := range along {
		x += moved * cosines[l]
		if x >= bounds[l] || -x >= bounds[n+l] {
			count++
		}
	}
	return max(1, count)
}

// equallyRare finds between low and high the drop whose tail is p, by the secant of
// the logarithms, which are nearly straight.
func equallyRare(p, low, high, tailAtLow float64, tail func(float64) float64) float64 {
	over := func(x float64) float64 { return math.Log(math.Max(x, leastTail) / p) }
	b := bracket{above: low, over: over(tailAtLow), below: high, under: over(tail(high))}
	x := high
	for range mostRounds {
		if math.Abs(b.under) < nearEnough || b.below-b.above <= nearEnough*b.below {
			return b.below
		}
		x = b.secant()
		o := over(tail(x))
		if math.Abs(o) < nearEnough {
			return x
		}
		b.take(x, o)
	}
	return x
}
