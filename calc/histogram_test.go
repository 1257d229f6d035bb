package calc

import (
	"context"
	"math"
	"slices"
	"testing"
)

// sampleBook has a sum of two doubtful givens and a bent formula.
const sampleBook = `name,entry,unit,spread,high
a,100,mm,2,
b,50,mm,1,
sure,5,mm,,
sum,a + b,mm,,152
bent,(a - 100*mm)^2,mm2,,
still,sure*2,mm,,
warm,20,degC,2,
warmer,warm + 5*K,degC,,
`

// TestHistogram holds a histogram to the normal distribution of a sum: counts add
// up to the samples, and the share of each bin is the integral over it.
func TestHistogram(t *testing.T) {
	const n = 200000
	m := compiled(t, "base.csv", sampleBook)
	r := m.Sampled(CheckOptions{Samples: n, Seed: 3})
	for i := range r.Quantities {
		j := &r.Quantities[i]
		h := j.Histogram
		switch j.Quantity.Name {
		case "a", "b", "sure", "still", "warm":
			if h != nil {
				t.Errorf("%s has a histogram", j.Quantity.Name)
			}
			continue
		}
		if h == nil || h.Samples() != n {
			t.Fatalf("%s: %v samples", j.Quantity.Name, h)
		}
		if len(h.Counts) < 12 || len(h.Counts) > 26 {
			t.Errorf("%s has %d bins", j.Quantity.Name, len(h.Counts))
		}
		center, u := map[string]float64{"sum": 150, "warmer": 25}[j.Quantity.Name], j.Spread/2
		if center == 0 {
			continue
		}
		below := func(x float64) float64 { return 0.5 * math.Erfc((center-x)/u/math.Sqrt2) }
		for k, c := range h.Counts {
			from := h.From + float64(k)*h.Step
			want := below(from+h.Step) - below(from)
			if off := math.Abs(float64(c)/n - want); off > 5*math.Sqrt(want/n) { // five standard errors
				t.Errorf("%s, bin %d: %v of the samples, the normal distribution has %v", j.Quantity.Name, k,
					float64(c)/n, want)
			}
		}
	}
}

// TestSamples checks that the rows are the samples that sampling judges by: the
// same quantiles, and each row a run of the model.
func TestSamples(t *testing.T) {
	const n = 20000
	m := compiled(t, "base.csv", sampleBook)
	opt := CheckOptions{Samples: n, Seed: 3}
	s, problems := m.Samples(nil, opt)
	if s == nil {
		t.Fatal(told(problems))
	}
	names := func(list []Drawn) (names []string) {
		for _, d := range list {
			names = append(names, d.Name)
		}
		return names
	}
	if got := names(s.Givens); !slices.Equal(got, []string{"a", "b", "warm"}) {
		t.Errorf("givens %v", got)
	}
	if got := names(s.Formulas); !slices.Equal(got, []string{"sum", "bent", "warmer"}) {
		t.Errorf("formulas %v", got)
	}
	columns := make([][]float64, 3)
	rows := 0
	err := s.Run(context.Background(), func(*SampleRows) {}, func(r *SampleRows) error {
		if r.First != rows {
			t.Errorf("row %d comes after %d", r.First, rows)
		}
		rows += r.N
		for i := range r.N {
			a, b, warm := r.Givens[0][i], r.Givens[1][i], r.Givens[2][i]
			for k, want := range []float64{a + b, (a - 100) * (a - 100), warm + 5} {
				if got := r.Formulas[k][i]; math.Abs(got-want) > 1e-9*(1+math.Abs(want)) {
					t.Fatalf("%s of %v, %v, %v is %v, expected %v", s.Formulas[k].Name, a, b, warm, got, want)
				}
				columns[k] = append(columns[k], r.Formulas[k][i])
			}
		}
		return nil
	})
	if err != nil || rows != n {
		t.Fatalf("%d rows, error %v", rows, err)
	}
	r := m.Sampled(opt)
	for k, name := range names(s.Formulas) {
		slices.Sort(columns[k])
		for i := range r.Quantities {
			j := &r.Quantities[i]
			if j.Quantity.Name != name {
				continue
			}
			tail := int(math.Round(lowTail * n))
			low, high := columns[k][tail], columns[k][n-tail]
			if width := j.SampledHigh - j.SampledLow; math.Abs(low-j.SampledLow) > width/100 ||
				math.Abs(high-j.SampledHigh) > width/100 {
				t.Errorf("%s: the rows have %v to %v, sampling %v to %v", name, low, high, j.SampledLow, j.SampledHigh)
			}
		}
	}
	if _, problems := m.Samples([]*Quantity{m.byName["still"]}, opt); len(problems) != 1 {
		t.Errorf("of what has no spread: %v", told(problems))
	}
}
