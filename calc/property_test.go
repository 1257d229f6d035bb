package calc

import (
	"fmt"
	"math"
	"math/rand/v2"
	"strings"
	"testing"
)

// randomModel is a notebook made by chance together with the same model written
// as Go functions, so that verdicts can be held against samples that nothing of
// the program under test draws or computes.
type randomModel struct {
	r      *rand.Rand
	rows   []randomRow
	header []string    // of the case sheet: the givens that it replaces
	cases  [][]float64 // what it puts there; NaN for a blank cell
	asked  string      // the formula that the case sheet asks for
}

type randomRow struct {
	name              string
	text              string // of the entry
	center, u         float64
	eval              func(v []float64) float64 // of a formula, from the values of the rows before it
	low, high         func(v []float64) float64
	lowText, highText string
}

// expression makes a formula of the rows before it, with its value.
func (m *randomModel) expression(depth int) (string, func(v []float64) float64) {
	r := m.r
	if depth == 0 || r.IntN(6) == 0 {
		if r.IntN(4) == 0 {
			c := float64(r.IntN(80)-20) / 10
			return fmt.Sprintf("(%g)", c), func([]float64) float64 { return c }
		}
		i := r.IntN(len(m.rows))
		return m.rows[i].name, func(v []float64) float64 { return v[i] }
	}
	a, fa := m.expression(depth - 1)
	b, fb := m.expression(depth - 1)
	switch r.IntN(14) {
	case 0, 1:
		return "(" + a + " + " + b + ")", func(v []float64) float64 { return fa(v) + fb(v) }
	case 2, 3:
		return "(" + a + " - " + b + ")", func(v []float64) float64 { return fa(v) - fb(v) }
	case 4, 5:
		return "(" + a + "*" + b + ")", func(v []float64) float64 { return fa(v) * fb(v) }
	case 6:
		return "(" + a + "/(3 + abs(" + b + ")))", func(v []float64) float64 { return fa(v) / (3 + math.Abs(fb(v))) }
	case 7:
		return "min(" + a + ", " + b + ")", func(v []float64) float64 { return math.Min(fa(v), fb(v)) }
	case 8:
		return "max(" + a + ", " + b + ")", func(v []float64) float64 { return math.Max(fa(v), fb(v)) }
	case 9:
		return "abs(" + a + ")", func(v []float64) float64 { return math.Abs(fa(v)) }
	case 10:
		return "floor(" + a + ")", func(v []float64) float64 { return math.Floor(fa(v)) }
	case 11:
		return "interp(curve.px, curve.py, min(max(" + a + ", -9), 9))", func(v []float64) float64 {
			x := math.Min(math.Max(fa(v), -9), 9)
			switch { // (-9, 5), (0, -1), (2, 4), (9, 0)
			case x < 0:
				return 5 - 6*(x+9)/9
			case x < 2:
				return -1 + 2.5*x
			}
			return 4 - 4*(x-2)/7
		}
	case 12:
		return "(" + a + ")^2", func(v []float64) float64 { return fa(v) * fa(v) }
	}
	c, fc := m.expression(depth - 1)
	return "(" + a + " < " + b + " ? " + c + " : " + a + ")", func(v []float64) float64 {
		if fa(v) < fb(v) {
			return fc(v)
		}
		return fa(v)
	}
}

// values computes all rows; draw yields standard normal numbers.
func (m *randomModel) values(set []float64, draw func() float64) []float64 {
	v := make([]float64, len(m.rows))
	for i, row := range m.rows {
		switch {
		case row.eval != nil:
			v[i] = row.eval(v[:i])
		default:
			v[i] = row.center
			if set != nil && i < len(set) && Has(set[i]) {
				v[i] = set[i]
			}
			v[i] += row.u * draw()
		}
	}
	return v
}

func newRandomModel(seed uint64) *randomModel {
	m := &randomModel{r: rand.New(rand.NewPCG(seed, 77))}
	r := m.r
	givens := 2 + r.IntN(4)
	for i := range givens {
		center := float64(r.IntN(60)-10) / 10
		row := randomRow{name: fmt.Sprintf("g%d", i), center: center, text: fmt.Sprint(center)}
		if r.IntN(4) > 0 {
			row.u = float64(1+r.IntN(20)) / 40
		}
		m.rows = append(m.rows, row)
	}
	nothing := func() float64 { return 0 }
	for i := range 1 + r.IntN(4) {
		text, eval := m.expression(1 + r.IntN(3))
		row := randomRow{name: fmt.Sprintf("f%d", i), text: "=" + text, eval: eval}
		m.rows = append(m.rows, row)
		// A limit near the value, so that much hangs on the spread.
		at := m.values(nil, nothing)
		scatter := 0.0
		for range 30 {
			scatter += math.Abs(m.values(nil, r.NormFloat64)[len(at)-1]-at[len(at)-1]) / 30
		}
		own := &m.rows[len(m.rows)-1]
		limit := func(sign float64) (string, func([]float64) float64) {
			x := at[len(at)-1] + sign*scatter*(r.Float64()*5-0.5)
			text := fmt.Sprintf("%.4f", x)
			fmt.Sscan(text, &x)
			if r.IntN(4) == 0 { // a limit that is doubtful itself
				k := r.IntN(givens)
				d := x - m.rows[k].center
				return fmt.Sprintf("=%s + (%.17g)", m.rows[k].name, d), func(v []float64) float64 { return v[k] + d }
			}
			return text, func([]float64) float64 { return x }
		}
		switch r.IntN(3) {
		case 0:
			own.lowText, own.low = limit(-1)
		case 1:
			own.highText, own.high = limit(1)
		default:
			own.lowText, own.low = limit(-1)
			own.highText, own.high = limit(1)
			if !strings.HasPrefix(own.lowText, "=") && !strings.HasPrefix(own.highText, "=") &&
				own.low(nil) > own.high(nil) {
				own.lowText, own.low = "", nil
			}
		}
		m.asked = own.name
	}
	for range 3 {
		set := make([]float64, givens)
		for i := range set {
			set[i] = math.NaN()
			if i%2 == 0 && r.IntN(4) > 0 {
				set[i] = float64(r.IntN(60)-10) / 10
			}
		}
		m.cases = append(m.cases, set)
	}
	return m
}

func (m *randomModel) files() []string {
	var b, jobs strings.Builder
	b.WriteString("name,entry,unit,spread,low,high\n")
	for _, row := range m.rows {
		spread := ""
		if row.u > 0 {
			spread = fmt.Sprint(2 * row.u)
		}
		fmt.Fprintf(&b, "%s,\"%s\",,%s,%s,%s\n", row.name, row.text, spread, row.lowText, row.highText)
	}
	jobs.WriteString("job")
	for i := range m.cases[0] {
		if i%2 == 0 {
			fmt.Fprintf(&jobs, ",g%d", i)
		}
	}
	fmt.Fprintf(&jobs, ",%s\n:unit%s\n", m.asked, strings.Repeat(",", (len(m.cases[0])+1)/2+1))
	for n, set := range m.cases {
		fmt.Fprintf(&jobs, "case %d", n)
		for i, x := range set {
			switch {
			case i%2 != 0:
			case Has(x):
				fmt.Fprintf(&jobs, ",%g", x)
			default:
				jobs.WriteString(",")
			}
		}
		jobs.WriteString(",\n")
	}
	return []string{"a.csv", b.String(), "jobs.csv", jobs.String(), "curve.csv",
		"point,px,py\n:unit,,\n1,-9,5\n2,0,-1\n3,2,4\n4,9,0\n"}
}

// outside is the share of n samples of a run that lies beyond each limit, by row.
func (m *randomModel) outside(set []float64, n int, draw func() float64) (low, high []float64) {
	low, high = make([]float64, len(m.rows)), make([]float64, len(m.rows))
	for range n {
		v := m.values(set, draw)
		for i := range m.rows {
			row := &m.rows[i]
			slack := 1e-9 * math.Abs(v[i])
			if row.low != nil && v[i] < row.low(v)-slack {
				low[i] += 1 / float64(n)
			}
			if row.high != nil && v[i] > row.high(v)+slack {
				high[i] += 1 / float64(n)
			}
		}
	}
	return low, high
}

// depends lists the rows with limits that a case may change: those whose margin
// moves when the replaced givens do.
func (m *randomModel) depends() []bool {
	r := rand.New(rand.NewPCG(3, 3))
	list := make([]bool, len(m.rows))
	nothing := func() float64 { return 0 }
	at := m.values(nil, nothing)
	for range 200 {
		set := make([]float64, len(m.cases[0]))
		for i := range set {
			set[i] = math.NaN()
			if i%2 == 0 {
				set[i] = r.Float64()*8 - 2
			}
		}
		v := m.values(set, nothing)
		for i := range m.rows {
			row := &m.rows[i]
			list[i] = list[i] || row.low != nil && v[i]-row.low(v) != at[i]-row.low(at) || row.high != nil &&
				v[i]-row.high(v) != at[i]-row.high(at)
		}
	}
	return list
}

// TestNoWrongPass: whatever passes keeps its limits in at least 97.5 % of all
// samples, and whatever fails breaks one in as many; of a case that holds for
// all limits that depend on what the case changes. The samples are drawn and
// computed by the test alone (JCGM 101).
func TestNoWrongPass(t *testing.T) {
	models, samples := 1500, 20000
	if testing.Short() {
		models = 150
	}
	counts := map[Verdict]int{}
	for seed := range uint64(models) {
		m := newRandomModel(seed)
		parts := m.files()
		model, problems := Compile(files(t, parts...), Options{})
		if model == nil {
			t.Fatalf("seed %d: %s\n%s", seed, told(problems), parts[1])
		}
		report, problems := model.Check(CheckOptions{})
		if report == nil {
			t.Fatalf("seed %d: %s\n%s", seed, told(problems), parts[1])
		}
		const tail = 0.025
		far := func(share float64) bool { // beyond the tail by more than the samples' own error
			return share > tail+4*math.Sqrt(tail/float64(samples))
		}
		draw := rand.New(rand.NewPCG(seed, 99)).NormFloat64
		hold := func(where string, verdict Verdict, low, high float64) {
			counts[verdict]++
			if verdict == Pass && (far(low) || far(high)) || verdict == Fail && far(1-low) && far(1-high) {
				t.Errorf("seed %d, %s: %v, but %.2f %% of the samples are below and %.2f %% above\n%s%s",
					seed, where, verdict, 100*low, 100*high, parts[1], parts[3])
			}
		}
		low, high := m.outside(nil, samples, draw)
		for i := range m.rows {
			if j := report.find(t, m.rows[i].name); j.Verdict != NoVerdict {
				hold(j.Quantity.Name, j.Verdict, low[i], high[i])
			}
		}
		depends := m.depends()
		for n, set := range m.cases {
			c := report.Cases[0].Cases[n]
			low, high := m.outside(set, samples, draw)
			worstLow, worstHigh, sure := 0.0, 0.0, false
			for i := range m.rows {
				if depends[i] || m.rows[i].name == m.asked {
					worstLow, worstHigh = math.Max(worstLow, low[i]), math.Max(worstHigh, high[i])
					sure = sure || !far(1-low[i]) || !far(1-high[i])
				}
			}
			counts[c.Verdict]++
			if c.Verdict == Pass && (far(worstLow) || far(worstHigh)) || c.Verdict == Fail && !sure {
				t.Errorf("seed %d, %s: %v, but up to %.2f %% of the samples are below and %.2f %% above a limit\n%s%s",
					seed, c.Name, c.Verdict, 100*worstLow, 100*worstHigh, parts[1], parts[3])
			}
		}
	}
	t.Logf("%d pass, %d fail, %d unsure", counts[Pass], counts[Fail], counts[Unsure])
	for _, v := range []Verdict{Pass, Fail, Unsure} {
		if counts[v] < models/2 {
			t.Errorf("only %d values are %v: the test tries too little", counts[v], v)
		}
	}
}
