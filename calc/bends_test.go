package calc

import (
	"fmt"
	"math"
	"strings"
	"testing"
)

// TestBentVerdicts holds verdicts on formulas that bend, up to so strongly that the
// spread is most of the value, to closed forms: with x normal, x², exp(x) and 1/x are
// beyond a limit where x is beyond the limit's root, logarithm or inverse. What passes
// is beyond with 2.275 % at most, what fails is within with as many (JCGM 106, 8.2
// and 8.3, at a coverage factor of 2), but for the doubt of the samples. Limits near
// the value are sampled and those far from it are not; both have to be right.
func TestBentVerdicts(t *testing.T) {
	phi := func(z float64) float64 { return math.Erfc(-z/math.Sqrt2) / 2 }
	formulas := []struct {
		text   string
		slope  float64 // at x = 1, as a share of the value
		value  float64
		beyond func(limit, u float64) float64 // of x around 1
	}{
		{"%s^2", 2, 1, func(limit, u float64) float64 {
			return phi((1-math.Sqrt(limit))/u) + phi((-1-math.Sqrt(limit))/u)
		}},
		{"exp(%s)", 1, math.E, func(limit, u float64) float64 { return phi((1 - math.Log(limit)) / u) }},
		{"1/%s", 1, 1, func(limit, u float64) float64 { return phi((1/limit-1)/u) - phi(-1/u) }},
	}
	var rows strings.Builder
	rows.WriteString("name,entry,unit,spread,low,high\n")
	type judgedRow struct {
		name   string
		beyond float64
	}
	var all []judgedRow
	for n, u := range []float64{0.002, 0.01, 0.03, 0.06, 0.1, 0.15, 0.2, 0.3} {
		fmt.Fprintf(&rows, "x%d,1,,%v,,\n", n, 2*u)
		for k, f := range formulas {
			for m, margin := range []float64{-6, -3, -1.5, -1.1, -0.9, 0.5, 0.9, 1.05, 1.2, 1.5, 2, 3, 4, 6, 10, 30} {
				limit := f.value * (1 + margin*2*u*f.slope)
				if limit <= 0 {
					continue
				}
				name := fmt.Sprintf("y%d_%d_%d", n, k, m)
				fmt.Fprintf(&rows, "%s,=%s,,,,%.17g\n", name, fmt.Sprintf(f.text, fmt.Sprintf("x%d", n)), limit)
				all = append(all, judgedRow{name, f.beyond(limit, u)})
			}
		}
	}
	r := checked(t, "a.csv", rows.String())
	const allowed = lowTail + 0.004 // by the samples: 3.5 standard deviations of a count of some thousands
	counts := map[Verdict]int{}
	for _, row := range all {
		verdict := r.find(t, row.name).Verdict
		counts[verdict]++
		if verdict == Pass && row.beyond > allowed || verdict == Fail && 1-row.beyond > allowed {
			t.Errorf("%s: %v, and it is beyond its limit with %.4f", row.name, verdict, row.beyond)
		}
	}
	for _, verdict := range []Verdict{Pass, Fail, Unsure} {
		if counts[verdict] < 20 {
			t.Errorf("%d rows are %v: too few to say anything", counts[verdict], verdict)
		}
	}
	t.Log(counts)
}
