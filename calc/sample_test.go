package calc

import (
	"fmt"
	"math"
	"strings"
	"testing"

	"gonum.org/v1/gonum/stat/distuv"
)

// TestTally holds the quantiles of a histogram against those of evenly spread
// samples, which are known exactly.
func TestTally(t *testing.T) {
	const n = 1_000_000
	all, half := (&tally{center: 10, scale: 2}).empty(), (&tally{center: 10, scale: 2}).empty()
	for i := range n {
		x := 6 + 8*(float64(i)+0.5)/n // evenly from 6 to 14
		if i%2 == 0 {
			all.add(x)
		} else {
			half.add(x)
		}
	}
	all.add(math.NaN())
	half.add(math.Inf(1))
	all.join(half)
	if all.n != n || all.failed != 2 {
		t.Errorf("%d samples and %d failures are counted", all.n, all.failed)
	}
	const width = 2.0 / 512 // of a bin
	for _, p := range []float64{0.001, lowTail, 0.25, 0.5, 0.9, 1 - lowTail, 0.999} {
		if got, want := all.quantile(p), 6+8*p; math.Abs(got-want) > width {
			t.Errorf("the quantile of %v is %v, expected %v", p, got, want)
		}
	}
	if got := all.mean(); math.Abs(got-10) > 1e-5 {
		t.Errorf("the mean is %v, expected 10", got)
	}
	if got := (&tally{scale: 1}).empty().quantile(0.5); Has(got) {
		t.Errorf("without a sample the median is %v", got)
	}
}

// TestTallyOfOutliers: samples far out are counted at the ends, and do not
// spoil the sum.
func TestTallyOfOutliers(t *testing.T) {
	one := (&tally{center: 0, scale: 1}).empty()
	for _, x := range []float64{-1e300, 1e300, 0, 0} {
		one.add(x)
	}
	if low, high := one.quantile(0.25), one.quantile(1); low > -binReach+0.01 || high < binReach-0.01 {
		t.Errorf("the ends are %v and %v", low, high)
	}
	if got := one.mean(); got != 0 {
		t.Errorf("the mean is %v, expected 0: outliers count as %v deviations", got, maxDepth)
	}
	for range 4 { // samples that have no result are no part of the quantiles
		one.add(math.NaN())
	}
	if got := one.quantile(0.5); math.Abs(got) > 0.01 || one.failed != 4 {
		t.Errorf("the median is %v with %d failed, expected 0 with 4", got, one.failed)
	}
	still := (&tally{center: 5, scale: 0}).empty()
	still.add(5)
	still.add(5)
	if got := still.mean(); got != 5 {
		t.Errorf("the mean of a result that does not move is %v", got)
	}
}

// TestSamplingNotes gives models in which sampling and the derivatives differ,
// each in its own way, and what is said about it.
func TestSamplingNotes(t *testing.T) {
	for _, test := range []struct{ rows, begins, ends string }{
		// x² of 10 ± 12 has the mean 100 + 6² and about the same spread.
		{"a,10,,12\nx,=a^2,,", "x: the mean of the samples is 36",
			"away from the value (the formula bends within the spread of its inputs; trust the sampled interval)"},
		// x + x³ of 0 ± 1 reaches from -2 to 2.
		{"a,0,,1\nx,=a + a^3,,", "x: sampling gives a spread of 2",
			", derivatives 1 (a corner of min, max, abs, ? : or a curve lies within the spread of its inputs; " +
				"trust the sampled interval)"},
		// e to the power 1 ± 4 has the mean e·e² = 20.09 and a long tail.
		{"a,1,,4\nx,=exp(a),,", "x: sampling gives 19.8",
			", derivatives ± 10.9 (the formula bends within the spread of its inputs, or has a corner there; " +
				"trust the sampled interval)"},
		// The doubt of a date is told in days. The later of two like ones is
		// later by 0.56 u, which is u/sqrt(pi), and its doubt is 0.83 of theirs.
		{"a,2026-05-04,date,8 d\nx,=a + 30*d,date,", "", ""},
		{"a,2026-05-04,date,8 d\nx,=a > b ? a : b,date,\nb,2026-05-04,date,8 d",
			"x: sampling gives 2026-05-06 ± 6.63 d",
			", derivatives ± 8 (the formula bends within the spread of its inputs, or has a corner there; " +
				"trust the sampled interval)"},
		{"a,1,,0.1\nx,=a == 1 ? a : sqrt(-a),,", "x: 200000 of 200000 samples have no result",
			" (the spread reaches where the formula cannot be computed)"},
		{"a,1,,0.1\nx,=a > 5 ? a : 2*a,,", "", ""},
	} {
		m := compiled(t, "a.csv", "name,entry,unit,spread\n"+test.rows+"\n")
		r, problems := m.Check(CheckOptions{Samples: 200_000, Seed: 1})
		if r == nil {
			t.Errorf("%s: %s", test.rows, told(problems))
			continue
		}
		got := strings.TrimPrefix(withHints(r.Warnings), "a.csv:3:4: ")
		if !strings.HasPrefix(got, test.begins) || !strings.HasSuffix(got, test.ends) ||
			(got == "") != (test.begins == "") {
			t.Errorf("%s: got\n%s\nexpected\n%s ... %s", test.rows, got, test.begins, test.ends)
		}
	}
}

// TestSamplesNearAPole: few results far out do not coarsen the quantiles of the
// others. The wanted ones follow from those of the normal distribution (gonum): as
// a falls from 13, 1/(a-13) rises from below to 0, and what is beyond 13 is above.
func TestSamplesNearAPole(t *testing.T) {
	m := compiled(t, "a.csv", "name,entry,unit,spread\na,10,,2.4\nx,=1/(a-13),,\n")
	normal := distuv.UnitNormal
	below := normal.CDF(3 / 1.2)
	wantLow, wantHigh := 1/(1.2*normal.Quantile(below-lowTail)-3), 1/(1.2*normal.Quantile(below-(1-lowTail))-3)
	for seed := range uint64(40) {
		r, problems := m.Check(CheckOptions{Samples: 200_000, Seed: seed})
		if r == nil {
			t.Fatal(told(problems))
		}
		j := r.find(t, "x")
		if math.Abs(j.SampledLow/wantLow-1) > 0.1 || math.Abs(j.SampledHigh/wantHigh-1) > 0.02 {
			t.Errorf("seed %d: %v to %v, want %v to %v", seed, j.SampledLow, j.SampledHigh, wantLow, wantHigh)
		}
	}
}

// TestNothingToSample: without a spread there is nothing to draw.
func TestNothingToSample(t *testing.T) {
	m := compiled(t, "a.csv", "name,entry,unit,spread\na,1,,\nx,=2*a,,\n")
	r, problems := m.Check(CheckOptions{Samples: 100, Seed: 1})
	if r == nil || len(r.Warnings) > 0 {
		t.Fatal(told(problems))
	}
	if j := r.find(t, "x"); Has(j.SampledMean) || Has(j.SampledLow) || Has(j.SampledHigh) {
		t.Errorf("the samples of a value without doubt are %v from %v to %v", j.SampledMean, j.SampledLow,
			j.SampledHigh)
	}
}

// TestSamplesOfCases: a case is sampled as a notebook is that holds its values
// and spreads, on any number of cores. The larger of 3 ± 0.15 and 3 is 3 + u/sqrt(2π)
// in the mean, 3.0299 with u = 0.075.
func TestSamplesOfCases(t *testing.T) {
	const model = "name,entry,unit,spread\na,%s,mm,%s\nb,4,mm,2 %%\ngrade,%s,text,\nfactor,=grades[grade].share,,\n" +
		"x,=a*b*factor,mm^2,\ny,\"=max(a, 3*mm)\",mm,\nfix,=3*mm,mm,\n"
	const grades = "grade,share\n:unit,\n:spread,1 %\nsoft,1\nhard,1.5\n"
	m := compiled(t, "a.csv", fmt.Sprintf(model, "3", "0.1", "soft"), "grades.csv", grades,
		"jobs.csv", `job,a,grade,x,y,fix
:unit,mm,,mm^2,um,mm
:spread,5 %,,,,
as it is,,,,,
long,8,,7,,
hard,-6,hard,,,
again,,,,,
`)
	var first *Report
	for _, workers := range []int{1, 2, 3} {
		r, problems := m.Check(CheckOptions{Samples: 20_000, Seed: 5, workers: workers})
		if r == nil {
			t.Fatal(told(problems))
		}
		if first == nil {
			first = r
		}
		for i, test := range []struct{ a, spread, grade string }{{"3", "5 %", "soft"}, {"8", "5 %", "soft"},
			{"-6", "5 %", "hard"}} {
			alone := compiled(t, "a.csv", fmt.Sprintf(model, test.a, test.spread, test.grade), "grades.csv", grades)
			want, problems := alone.Check(CheckOptions{Samples: 20_000, Seed: 5})
			if want == nil {
				t.Fatal(told(problems))
			}
			values := r.Cases[0].Cases[i].Values
			for k, name := range []string{"x", "y"} {
				got, want, scale := values[k], want.find(t, name), []float64{1, 1000}[k]
				for _, pair := range [][2]float64{{got.SampledMean, want.SampledMean},
					{got.SampledLow, want.SampledLow}, {got.SampledHigh, want.SampledHigh}} {
					if !near(pair[0], scale*pair[1], 1e-12) {
						t.Errorf("%d workers, case %d, %s: got %v, expected %v", workers, i, name, pair[0],
							scale*pair[1])
					}
				}
				if same := first.Cases[0].Cases[i].Values[k]; got.SampledMean != same.SampledMean ||
					got.SampledHigh != same.SampledHigh {
					t.Errorf("case %d, %s: %v on %d workers, %v on one", i, name, got.SampledHigh, workers,
						same.SampledHigh)
				}
			}
			if Has(values[2].SampledMean) {
				t.Errorf("a value without doubt is sampled: %v", values[2].SampledMean)
			}
		}
		if got, want := withHints(r.Cases[0].Warnings),
			withHints(first.Cases[0].Warnings); got != want ||
			!strings.Contains(got, "a.csv:7:5: as it is: y: sampling gives 3029.") {
			t.Errorf("%d workers warn of\n%s\none of\n%s", workers, got, want)
		}
	}
}

// TestSamplesOfOpenCases: a case without a value has no samples either, and
// one without a spread needs none.
func TestSamplesOfOpenCases(t *testing.T) {
	m := compiled(t, "a.csv", "name,entry,unit,spread\na,,mm,1 %\nx,=2*a,mm,\ny,=1/a,1/mm,\n", "jobs.csv",
		"job,a,x,y\n:unit,mm,mm,1/mm\nopen,,,\nnought,0,,\nfine,2,,\n")
	r, problems := m.Check(CheckOptions{Samples: 2000, Seed: 1})
	if r == nil {
		t.Fatal(told(problems))
	}
	for i, want := range []bool{false, false, true} {
		for _, j := range r.Cases[0].Cases[i].Values {
			if Has(j.SampledHigh) != want {
				t.Errorf("case %d: %s is sampled up to %v", i, j.Quantity.Name, j.SampledHigh)
			}
		}
	}
	if len(r.Warnings) > 0 {
		t.Errorf("warnings: %s", told(r.Warnings))
	}
}
