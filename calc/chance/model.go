// Package chance makes notebooks by chance, each together with the same model
// written as Go functions, so that tests can hold verdicts against samples that
// nothing of the program under test draws or computes. Only tests use it.
package chance

import (
	"fmt"
	"math"
	"math/rand/v2"
	"os"
	"strconv"
	"strings"
)

// Model is a notebook of one quantity sheet, one case sheet and one curve.
type Model struct {
	Rows  []Row
	Cases [][]float64 // by case, what it puts in place of each given; NaN for a blank cell
	Asked string      // the formula that the case sheet asks for

	r *rand.Rand
}

// Row is a quantity: a given, or a formula with limits.
type Row struct {
	Name      string
	Low, High func(v []float64) float64 // the limits, from the values of all rows; nil for none

	text              string // of the entry
	center, u         float64
	eval              func(v []float64) float64 // of a formula, from the values of the rows before it
	lowText, highText string
}

// expression makes a formula of the rows before it, with its value.
func (m *Model) expression(depth int) (string, func(v []float64) float64) {
	r := m.r
	if depth == 0 || r.IntN(6) == 0 {
		if r.IntN(4) == 0 {
			c := float64(r.IntN(80)-20) / 10
			return fmt.Sprintf("(%g)", c), func([]float64) float64 { return c }
		}
		i := r.IntN(len(m.Rows))
		return m.Rows[i].Name, func(v []float64) float64 { return v[i] }
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

// Values computes all rows; draw yields standard normal numbers.
func (m *Model) Values(set []float64, draw func() float64) []float64 {
	v := make([]float64, len(m.Rows))
	for i, row := range m.Rows {
		switch {
		case row.eval != nil:
			v[i] = row.eval(v[:i])
		default:
			v[i] = row.center
			if set != nil && i < len(set) && has(set[i]) {
				v[i] = set[i]
			}
			v[i] += row.u * draw()
		}
	}
	return v
}

// New makes the model of a seed.
func New(seed uint64) *Model {
	m := &Model{r: rand.New(rand.NewPCG(seed, 77))}
	r := m.r
	givens := 2 + r.IntN(4)
	for i := range givens {
		center := float64(r.IntN(60)-10) / 10
		row := Row{Name: fmt.Sprintf("g%d", i), center: center, text: fmt.Sprint(center)}
		if r.IntN(4) > 0 {
			row.u = float64(1+r.IntN(20)) / 40
		}
		m.Rows = append(m.Rows, row)
	}
	nothing := func() float64 { return 0 }
	for i := range 1 + r.IntN(4) {
		text, eval := m.expression(1 + r.IntN(3))
		row := Row{Name: fmt.Sprintf("f%d", i), text: "=" + text, eval: eval}
		m.Rows = append(m.Rows, row)
		// A limit near the value, so that much hangs on the spread.
		at := m.Values(nil, nothing)
		scatter := 0.0
		for range 30 {
			scatter += math.Abs(m.Values(nil, r.NormFloat64)[len(at)-1]-at[len(at)-1]) / 30
		}
		own := &m.Rows[len(m.Rows)-1]
		limit := func(sign float64) (string, func([]float64) float64) {
			x := at[len(at)-1] + sign*scatter*(r.Float64()*5-0.5)
			text := fmt.Sprintf("%.4f", x)
			fmt.Sscan(text, &x)
			if r.IntN(4) == 0 { // a limit that is doubtful itself
				k := r.IntN(givens)
				d := x - m.Rows[k].center
				return fmt.Sprintf("=%s + (%.17g)", m.Rows[k].Name, d), func(v []float64) float64 { return v[k] + d }
			}
			return text, func([]float64) float64 { return x }
		}
		switch r.IntN(3) {
		case 0:
			own.lowText, own.Low = limit(-1)
		case 1:
			own.highText, own.High = limit(1)
		default:
			own.lowText, own.Low = limit(-1)
			own.highText, own.High = limit(1)
			if !strings.HasPrefix(own.lowText, "=") && !strings.HasPrefix(own.highText, "=") &&
				own.Low(nil) > own.High(nil) {
				own.lowText, own.Low = "", nil
			}
		}
		m.Asked = own.Name
	}
	for range 3 {
		set := make([]float64, givens)
		for i := range set {
			set[i] = math.NaN()
			if i%2 == 0 && r.IntN(4) > 0 {
				set[i] = float64(r.IntN(60)-10) / 10
			}
		}
		m.Cases = append(m.Cases, set)
	}
	return m
}

// Files are the names and texts of the files of the notebook, in turn.
func (m *Model) Files() []string {
	var b, jobs strings.Builder
	b.WriteString("name,entry,unit,spread,low,high\n")
	for _, row := range m.Rows {
		spread := ""
		if row.u > 0 {
			spread = fmt.Sprint(2 * row.u)
		}
		fmt.Fprintf(&b, "%s,\"%s\",,%s,%s,%s\n", row.Name, row.text, spread, row.lowText, row.highText)
	}
	jobs.WriteString("job")
	for i := range m.Cases[0] {
		if i%2 == 0 {
			fmt.Fprintf(&jobs, ",g%d", i)
		}
	}
	fmt.Fprintf(&jobs, ",%s\n:unit%s\n", m.Asked, strings.Repeat(",", (len(m.Cases[0])+1)/2+1))
	for n, set := range m.Cases {
		fmt.Fprintf(&jobs, "case %d", n)
		for i, x := range set {
			switch {
			case i%2 != 0:
			case has(x):
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

// Outside is the share of n samples of a run that lies beyond each limit, by row.
func (m *Model) Outside(set []float64, n int, draw func() float64) (low, high []float64) {
	low, high = make([]float64, len(m.Rows)), make([]float64, len(m.Rows))
	for range n {
		v := m.Values(set, draw)
		for i := range m.Rows {
			row := &m.Rows[i]
			slack := 1e-9 * math.Abs(v[i])
			if row.Low != nil && v[i] < row.Low(v)-slack {
				low[i] += 1 / float64(n)
			}
			if row.High != nil && v[i] > row.High(v)+slack {
				high[i] += 1 / float64(n)
			}
		}
	}
	return low, high
}

// Depends lists the rows with limits that a case may change: those whose margin
// moves when the givens that it varies do.
func (m *Model) Depends(varies func(given int) bool) []bool {
	r := rand.New(rand.NewPCG(3, 3))
	list := make([]bool, len(m.Rows))
	nothing := func() float64 { return 0 }
	at := m.Values(nil, nothing)
	for range 200 {
		set := make([]float64, len(m.Cases[0]))
		for i := range set {
			set[i] = math.NaN()
			if varies(i) {
				set[i] = r.Float64()*8 - 2
			}
		}
		v := m.Values(set, nothing)
		for i := range m.Rows {
			row := &m.Rows[i]
			list[i] = list[i] || row.Low != nil && v[i]-row.Low(v) != at[i]-row.Low(at) || row.High != nil &&
				v[i]-row.High(v) != at[i]-row.High(at)
		}
	}
	return list
}

// Mentions lists the rows that a case may judge: those whose formula or limits
// mention what it varies, or what is computed from that. Not every such row moves.
func (m *Model) Mentions(varies func(given int) bool) []bool {
	list := make([]bool, len(m.Rows))
	for i := range m.Rows {
		row := &m.Rows[i]
		list[i] = row.eval == nil && varies(i)
		for k := range i {
			list[i] = list[i] || list[k] && strings.Contains(row.text+" "+row.lowText+" "+row.highText, m.Rows[k].Name)
		}
	}
	return list
}

// InSheet reports whether the case sheet has a column for a given.
func InSheet(given int) bool { return given%2 == 0 }

// Judge is what samples have against a verdict: nothing, or what is wrong with it.
type Judge struct {
	Samples int
	// Counts are the verdicts that have been looked at.
	Counts map[string]int
}

// tail is the probability that a pass leaves for each limit (JCGM 106, with a
// coverage factor of 2, is 2.3 %).
const tail = 0.025

// far reports whether a share is beyond the tail by more than the samples' own error.
func (j *Judge) far(share float64) bool {
	return share > tail+4*math.Sqrt(tail/float64(j.Samples))
}

// Row holds a verdict on one row against the shares of the samples that lie below
// and above its limits.
func (j *Judge) Row(verdict string, low, high float64) string {
	j.Counts[verdict]++
	if verdict == "pass" && (j.far(low) || j.far(high)) || verdict == "fail" && j.far(1-low) && j.far(1-high) {
		return fmt.Sprintf("%s, but %.2f %% of the samples are below and %.2f %% above", verdict, 100*low, 100*high)
	}
	return ""
}

// Judging are the rows by which a case is judged.
type Judging struct{ must, may []bool }

// Judges finds the rows by which a case is judged that varies some givens.
func (m *Model) Judges(varies func(given int) bool) Judging {
	j := Judging{m.Depends(varies), m.Mentions(varies)}
	for i := range m.Rows {
		asked := m.Rows[i].Name == m.Asked
		j.must[i], j.may[i] = j.must[i] || asked, j.may[i] || asked
	}
	return j
}

// Case holds a verdict on a case against the shares by row.
func (j *Judge) Case(verdict string, rows Judging, low, high []float64) string {
	j.Counts[verdict]++
	worstLow, worstHigh, sure := 0.0, 0.0, false
	for i := range low {
		if rows.must[i] {
			worstLow, worstHigh = math.Max(worstLow, low[i]), math.Max(worstHigh, high[i])
		}
		sure = sure || rows.may[i] && (!j.far(1-low[i]) || !j.far(1-high[i]))
	}
	if verdict == "pass" && (j.far(worstLow) || j.far(worstHigh)) || verdict == "fail" && !sure {
		return fmt.Sprintf("%s, but up to %.2f %% of the samples are below and %.2f %% above a limit", verdict,
			100*worstLow, 100*worstHigh)
	}
	return ""
}

// Scarce lists the verdicts that have been looked at less often than least: a test that
// meets none of them tries too little.
func (j *Judge) Scarce(least int) (scarce []string) {
	for _, v := range []string{"pass", "fail", "unsure"} {
		if j.Counts[v] < least {
			scarce = append(scarce, fmt.Sprintf("only %d values are %s: the test tries too little", j.Counts[v], v))
		}
	}
	return scarce
}

// Models is how many models a test looks at: those of the variable RAMBOOK_MODELS,
// else usual.
func Models(usual int) int {
	if n, err := strconv.Atoi(os.Getenv("RAMBOOK_MODELS")); err == nil {
		return n
	}
	return usual
}

// has reports whether a number is there.
func has(x float64) bool { return x == x }
