package fit

import (
	"fmt"
	"math"
	"math/rand/v2"
	"testing"

	"gonum.org/v1/gonum/floats"
	"gonum.org/v1/gonum/integrate/quad"
	"gonum.org/v1/gonum/stat/distuv"
)

// normal is the standard normal distribution.
var normal = distuv.UnitNormal

// free is a suspect that nothing bounds.
func free(along ...float64) direction {
	floats.Scale(1/floats.Norm(along, 2), along)
	return direction{along, math.Inf(1), math.Inf(1)}
}

// axes are n suspects that have nothing in common.
func axes(n int) []direction {
	list := make([]direction, n)
	for k := range list {
		list[k] = free(make([]float64, n)...)
		clear(list[k].along)
		list[k].along[k] = 1
	}
	return list
}

// alike are n suspects any two of which have the same correlation, in n+1
// readings: a part in common, and one of their own.
func alike(n int, correlation float64) []direction {
	list := axes(n + 1)[:n]
	for k := range list {
		list[k].along[k] = math.Sqrt(1 - correlation)
		list[k].along[n] = math.Sqrt(correlation)
	}
	return list
}

// closeTo holds a drawn p to a known one: more than two digits of it are no one's
// concern.
func closeTo(t *testing.T, what string, got, want float64) {
	t.Helper()
	if !(math.Abs(got-want) <= 0.03*want) {
		t.Errorf("%s: p %.5f, expected %.5f", what, got, want)
	}
}

// TestOneSuspectIsNoChoice: a single suspect takes from the misfit what
// chi-square of one degree does. The values of chi-square are those of every
// printed table: 2.706, 3.841, 6.635, 10.828 for 10, 5, 1, 0.1 % (from memory).
func TestOneSuspectIsNoChoice(t *testing.T) {
	for drop, p := range map[float64]float64{2.706: 0.10, 3.841: 0.05, 6.635: 0.01, 10.828: 0.001} {
		for _, readings := range []int{1, 2, 5, 17} {
			closeTo(t, fmt.Sprintf("drop %v in %d readings", drop, readings),
				drawPoints(readings, axes(readings)[:1]).alarm(30, drop).Drop, p)
		}
		a := drawPoints(1, axes(1)).alarm(drop, drop)
		if math.Abs(a.Misfit-p) > 0.001*p*10 || math.Abs(a.Drop-a.Misfit) > 1e-12 ||
			math.Abs(a.Either-a.Misfit) > 1e-12 {
			t.Errorf("of one reading with one suspect both tests are the same: %+v, expected %v", a, p)
		}
		// However many act alike, they are one.
		many := []direction{free(1, 2, 3), free(1, 2, 3), free(2, 4, 6), free(-1, -2, -3)}
		closeTo(t, "four that act alike", drawPoints(3, many).alarm(30, drop).Drop, p)
	}
}

// TestSeveralSuspects: of suspects that have nothing in common the largest of
// k independent chi-squares decides, p = 1 - (1 - p₁)ᵏ (Šidák). Its roots at 5 % are
// the two-sided studentised maximum modulus without a degree to estimate: 2.236,
// 2.388, 2.569, 2.800 for 2, 3, 5, 10 (tables, from memory; the closed form agrees).
func TestSeveralSuspects(t *testing.T) {
	for k, root := range map[int]float64{2: 2.236, 3: 2.388, 5: 2.569, 10: 2.800} {
		one := math.Erfc(root / math.Sqrt2)
		closed := 1 - math.Pow(1-one, float64(k))
		if math.Abs(closed-0.05) > 1e-4 {
			t.Errorf("%d: the closed form gives %v at the tabled value", k, closed)
		}
		closeTo(t, fmt.Sprintf("%d suspects", k), drawPoints(k, axes(k)).alarm(40, root*root).Drop, 0.05)
	}
}

// TestCorrelatedSuspects: any two of them have the correlation 1/2. Dunnett's
// two-sided table for comparisons with a control has that, and without a degree
// to estimate it says 2.21, 2.35, 2.44, 2.51, 2.69 for 2, 3, 4, 5, 9 at 5 % (J. Am.
// Stat. Assoc. 50 (1955), Biometrics 20 (1964); from memory). Beside it the
// integral over the common part.
func TestCorrelatedSuspects(t *testing.T) {
	for k, root := range map[int]float64{2: 2.21, 3: 2.35, 4: 2.44, 5: 2.51, 9: 2.69} {
		within := quad.Fixed(func(u float64) float64 {
			return normal.Prob(u) * math.Pow(normal.CDF(math.Sqrt2*(root+math.Sqrt(0.5)*u))-
				normal.CDF(math.Sqrt2*(-root+math.Sqrt(0.5)*u)), float64(k))
		}, -8, 8, 200, nil, 0)
		if math.Abs(1-within-0.05) > 1e-3 {
			t.Errorf("%d: the integral gives %v at the tabled value", k, 1-within)
		}
		closeTo(t, fmt.Sprintf("%d suspects", k), drawPoints(k+1, alike(k, 0.5)).alarm(40, root*root).Drop, 1-within)
	}
}

// TestSuspectAtItsEnd: what cannot be less than it is explains nothing of what
// lies on the other side, so that its p is half; with a little room it explains
// 2·z·room - room² of what lies beyond.
func TestSuspectAtItsEnd(t *testing.T) {
	const drop = 4.0
	for _, test := range []struct{ room, root float64 }{{0, math.Inf(1)}, {0.5, 4.25}, {1, 2.5}, {1.9, 7.61 / 3.8},
		{2, 2}, {5, 2}} {
		d := free(1, -1, 2)
		d.down = test.room
		closeTo(t, fmt.Sprintf("room for %v", test.room), drawPoints(3, []direction{d}).alarm(20, drop).Drop,
			normal.Survival(2)+normal.Survival(test.root))
	}
}

// TestTwoTestsShareAChance: one suspect and two readings. By misfit p is
// exp(-misfit/2), by drop erfc(√(drop/2)), and that neither is less than p is an
// integral over the suspect's direction.
func TestTwoTestsShareAChance(t *testing.T) {
	for _, test := range []struct{ misfit, drop float64 }{{7, 1}, {6.06, 5.06}, {5, 5}, {9, 0}, {6.2, 3.9},
		{12, 12}} {
		misfitP, dropP := math.Exp(-test.misfit/2), math.Erfc(math.Sqrt(test.drop/2))
		p := math.Min(misfitP, dropP)
		most, root := -2*math.Log(p), normal.Quantile(1-p/2)
		within := quad.Fixed(func(z float64) float64 {
			return normal.Prob(z) * (1 - 2*normal.Survival(math.Sqrt(most-z*z)))
		}, -root, root, 400, nil, 0)
		a := drawPoints(2, axes(2)[:1]).alarm(test.misfit, test.drop)
		what := fmt.Sprintf("misfit %v, drop %v", test.misfit, test.drop)
		if math.Abs(a.Misfit-misfitP) > 1e-12 {
			t.Errorf("%s: p of the misfit %v, expected %v", what, a.Misfit, misfitP)
		}
		closeTo(t, what+": drop", a.Drop, dropP)
		closeTo(t, what+": either", a.Either, 1-within)
		if a.Either < math.Min(a.Misfit, a.Drop) || a.Either > a.Misfit+a.Drop {
			t.Errorf("%s: %v is less than each or more than their sum: %+v", what, a.Either, a)
		}
	}
	none := drawPoints(4, nil).alarm(9.488, math.NaN()) // 5 % of chi-square of four degrees
	if math.Abs(none.Misfit-0.05) > 1e-4 || none.Either != none.Misfit || !math.IsNaN(none.Drop) {
		t.Errorf("without suspects: %+v", none)
	}
	if a := drawPoints(3, axes(3)).alarm(5000, 4990); !(a.Either >= 0 && a.Either < 1e-15) {
		t.Errorf("far off: %+v", a)
	}
}

// TestFalseAlarms draws the residuals of sound machines: as many as are asked
// for may be called wrong, whatever the suspects look like.
func TestFalseAlarms(t *testing.T) {
	const machines, asked = 600, 0.0455
	chance := rand.New(rand.NewPCG(3, 14))
	for _, suspects := range []int{1, 4, 12} {
		const readings = 8
		list := make([]direction, suspects)
		for k := range list {
			along := make([]float64, readings)
			for i := range along {
				along[i] = 1 + chance.NormFloat64() // so that all have something in common
			}
			list[k] = free(along...)
			if k%3 == 0 {
				list[k].down = chance.ExpFloat64()
			}
		}
		called := 0
		p := drawPoints(readings, list)
		for range machines {
			w := make([]float64, readings)
			for i := range w {
				w[i] = chance.NormFloat64()
			}
			drop := 0.0
			for _, s := range list {
				z := floats.Dot(w, s.along)
				at := math.Min(math.Max(z, -s.down), s.up)
				drop = math.Max(drop, 2*z*at-at*at)
			}
			if p.alarm(floats.Dot(w, w), drop).Either < asked {
				called++
			}
		}
		off := 3.2 * math.Sqrt(machines*asked*(1-asked))
		if math.Abs(float64(called)-machines*asked) > off {
			t.Errorf("%d suspects: %d of %d sound machines are called wrong, expected %.0f ± %.0f", suspects, called,
				machines, machines*asked, off)
		}
	}
}
