package calc

import (
	"fmt"
	"math"
	"strings"
	"testing"
)

// TestLostDigits: a difference is warned of if more than twelve digits are
// lost, and not for one that keeps them.
func TestLostDigits(t *testing.T) {
	for _, test := range []struct {
		step   float64
		warned bool
	}{{1e-9, false}, {2e-12, false}, {5e-13, true}, {1e-15, true}} {
		r := checked(t, "a.csv", fmt.Sprintf("name,entry\na,1\nb,=a + %g\nlost,=b - a\n", test.step))
		if got := strings.Contains(told(r.Warnings), "nearly equal numbers cancel here"); got != test.warned {
			t.Errorf("1 and 1 + %g: warned is %v", test.step, got)
		}
	}
}

// TestLeads: suspects lead together as long as the misfits that they leave
// differ by no more than 4. Freeing one of two independent givens leaves the
// misfit of the other's reading, (reading/u)² with u = 0.5.
func TestLeads(t *testing.T) {
	for _, test := range []struct {
		other float64 // misfit of the reading of b
		leads string
	}{{11.9, "a"}, {12.1, "a b"}, {16, "a b"}, {19.9, "b a"}, {20.1, "b"}} {
		d := diagnosed(t, DiagnoseOptions{}, "m.csv",
			fmt.Sprintf("name,entry,reading,spread\na,0,,\nb,0,,\nya,=a*1,2,1\nyb,=b*1,%.15g,1\n",
				math.Sqrt(test.other)/2),
			"s.csv", "suspect,from,to\na,-9,9\nb,-9,9\n")
		var leads []string
		for _, f := range d.Suspects {
			if f.Leads {
				leads = append(leads, f.Suspect.Quantity.Name)
			}
		}
		if got := strings.Join(leads, " "); got != test.leads {
			t.Errorf("misfits 16 and %v: %s leads, expected %s", test.other, got, test.leads)
		}
		wantNear(t, "misfit", d.Misfit, 16+test.other, 1e-12)
	}
}

// TestFindings: what a diagnosis comes to depends on how probable the misfit
// is, of the notebook and of what the best suspect leaves, and on how probable what that
// one takes away. The last figure of each is an integral, as in fit's
// TestTwoTestsShareAChance.
func TestFindings(t *testing.T) {
	for _, test := range []struct {
		ya, yb float64 // readings in standard uncertainties
		want   Finding
	}{
		{1, 2, NothingWrong},     // chi-square 5, p 0.082; of b alone 0.046; either 0.069
		{1, 2.1, NothingWrong},   // 0.067, 0.036, 0.054
		{1, 2.25, Explained},     // 0.048, 0.024, 0.037
		{1, 2.35, Explained},     // 6.52, 0.038
		{2.5, 0.1, NothingWrong}, // 0.044 is not rare for one of two tests: 0.066
		{2.7, 0.1, Unexplained},  // 0.026, 0.92, 0.040, and b takes nothing of it
		{2.5, 9, Explained},      // 6.25 is left, p 0.0124
		{2.65, 9, Unexplained},   // 7.02, 0.0081
	} {
		d := diagnosed(t, DiagnoseOptions{}, "m.csv",
			fmt.Sprintf("name,entry,reading,spread\na,0,,\nb,0,,\nya,=a*1,%g,1\nyb,=b*1,%g,1\n", test.ya/2, test.yb/2),
			"s.csv", "suspect,from,to\nb,-9,9\n")
		if d.Finding != test.want {
			t.Errorf("readings %v and %v: %v (p %.4f, %.4f, %.4f), expected %v", test.ya, test.yb, d.Finding, d.P,
				d.DropP, d.EitherP, test.want)
		}
	}
}
