package calc

import (
	"fmt"
	"strings"
	"testing"
)

// TestUnbalanced: an oil that warms until the tank gives off what comes in, at air +
// power/60 W/K, is known to break a limit where that lies off the end of its range.
func TestUnbalanced(t *testing.T) {
	const high, low = "no balance up to its high limit ", "no balance from its low limit "
	for _, test := range []struct {
		name                   string
		air, spread, power     string
		low, high, until, want string // "" for one that stays open
	}{
		{"too hot", "25", "", "6", "", "70", "", high + "70 degC"},
		{"too hot for a limit at the end", "25", "", "6", "", "90", "", high + "90 degC"},
		{"between two limits", "25", "", "6", "30", "70", "", high + "70 degC"},
		{"limit off the range", "25", "", "6", "", "95", "", ""},
		{"limit before the range", "25", "", "6", "", "15", "", ""},
		{"limit at the other end", "25", "", "6", "30", "", "", ""},
		{"no limit", "25", "", "6", "", "", "", ""},
		{"too cold", "-10", "", "0.6", "30", "", "", low + "30 degC on"},
		{"too cold for a limit at the end", "-10", "", "0.6", "20", "70", "", low + "20 degC on"},
		{"too cold for no high limit", "-10", "", "0.6", "", "70", "", ""},
		{"within the spread of the limit", "25", "5", "4.02", "", "90", "", ""},
		{"beyond the spread", "25", "5", "4.02", "", "70", "", high + "70 degC"},
		{"the limit shares the spread", "25", "5", "4.02", "", "=air + 65*K", "", high + "90 degC"},
		{"the sides part again", "25", "", "6", "", "70",
			"power = power - 1*kW - 1*W*((oil - mid)/K)^2", ""},
		{"they part all the way", "25", "", "6", "", "70", "6*kW*exp((oil - air)/(90*K)) = lost", ""},
		{"there is no value at one end", "25", "", "6", "", "70", "power*sqrt((oil - frost)/K) = -lost", ""},
	} {
		until := test.until
		if until == "" {
			until = "power = lost"
		}
		model := fmt.Sprintf("name,entry,unit,spread,low,high\n"+
			"mid,50,degC,,,\nfrost,30,degC,,,\nair,%s,degC,%s,,\npower,%s,kW,,,\n"+
			"oil,,degC,,%s,%s\nlost,60*W/K*(oil - air),kW,,,\nover,worst(oil),verdict,,,\n", test.air, test.spread,
			test.power, test.low, test.high)
		for _, samples := range []int{0, 200} {
			m := compiled(t, "a.csv", model, "u.csv", "unknown,from,to,unit,until\noil,20,90,degC,"+until+"\n",
				"days.csv", "day,power,oil\n:unit,kW,\nas it is,,\nmild,,\n")
			r, problems := m.Check(CheckOptions{Samples: samples, Seed: 1})
			verdict := Open
			if test.want != "" {
				verdict = Fail
			}
			day := r.Cases[0].Cases[0]
			for _, j := range []*Judged{r.find(t, "oil"), &day.Values[0]} {
				if j.Verdict != verdict || (j.Unbalanced != 0) != (test.want != "") || Has(j.Value) ||
					!strings.HasPrefix(j.Error, test.want) || !strings.Contains(j.Error, "makes both sides equal") {
					t.Errorf("%s: %s, %d, %q; want %q", test.name, j.Verdict, j.Unbalanced, j.Error, test.want)
				}
			}
			if v := r.find(t, "over").Verdict; v != verdict || day.Verdict != verdict ||
				r.find(t, "lost").Verdict != Open || len(problems) == 0 {
				t.Errorf("%s: over %s, day %s, lost %s, %d problems", test.name, v, day.Verdict,
					r.find(t, "lost").Verdict, len(problems))
			}
		}
	}
}

// TestUnbalancedCases: each case has its own numbers and limits, and a spread that its
// sheet states.
func TestUnbalancedCases(t *testing.T) {
	m := compiled(t, "a.csv", "name,entry,unit,spread,low,high\nair,25,degC,,,\npower,3,kW,,,\noil,,degC,,,70\n"+
		"lost,60*W/K*(oil - air),kW,,,\n", "u.csv", "unknown,from,to,unit,until\noil,20,90,degC,power = lost\n",
		"days.csv", "day,power,oil\n:unit,kW,\n:spread,0.5,\n:high,,80\nmild,1.5,\nwarm,3.4,\nhot,4.2,\nhotter,5,\n")
	r, _ := m.Check(CheckOptions{})
	var got []string
	for _, c := range r.Cases[0].Cases {
		got = append(got, c.Name+" "+c.Verdict.String()+" "+fmt.Sprint(c.Values[0].Unbalanced))
	}
	const want = "mild pass 0; warm unsure 0; hot fail 1; hotter fail 1"
	if text := strings.Join(got, "; "); text != want {
		t.Errorf("%s\nwant %s", text, want)
	}
}

// TestUnbalancedTogether: of several unknowns nobody has looked over all of the ranges.
func TestUnbalancedTogether(t *testing.T) {
	r := checked(t, "a.csv", "name,entry,high\nx,,5\ny,,5\n", "u.csv",
		"unknown,from,to,until\nx,0,10,x + y = 40\ny,0,10,x - y = 1\n")
	if j := r.find(t, "x"); j.Verdict != Open || j.Error == "" {
		t.Errorf("%s %q", j.Verdict, j.Error)
	}
}
