package calc

import (
	"bytes"
	"encoding/csv"
	"fmt"
	"math"
	"os"
	"slices"
	"strconv"
	"strings"
	"testing"

	"rambook/calc/line"
)

// published finds the expected value of a row of numerics.csv, which names its
// source there.
func published(t *testing.T, id string) float64 {
	t.Helper()
	data, err := os.ReadFile("../testdata/reference/numerics.csv")
	if err != nil {
		t.Fatal(err)
	}
	rows, err := csv.NewReader(bytes.NewReader(data)).ReadAll()
	if err != nil {
		t.Fatal(err)
	}
	for _, row := range rows {
		if row[0] == id {
			x, err := strconv.ParseFloat(row[3], 64)
			if err != nil {
				t.Fatal(err)
			}
			return x
		}
	}
	t.Fatalf("numerics.csv has no row %s", id)
	return 0
}

type publishedFigure struct {
	id        string
	got       float64
	tolerance float64 // relative
}

func comparePublished(t *testing.T, figures []publishedFigure) {
	t.Helper()
	for _, f := range figures {
		if want := published(t, f.id); !near(f.got, want, f.tolerance) {
			t.Errorf("%s: got %.15g, expected %.15g", f.id, f.got, want)
		}
	}
}

// TestTrendNorris draws the trend through the data set Norris of NIST StRD,
// whose certified values stand in numerics.csv.
func TestTrendNorris(t *testing.T) {
	data, err := os.ReadFile("../testdata/reference/notebook/norris.csv")
	if err != nil {
		t.Fatal(err)
	}
	trend, problems := compiled(t, "norris.csv", string(data)).Trend("norris", "y", TrendOptions{Against: "x"})
	if trend == nil {
		t.Fatal(told(problems))
	}
	l := trend.Line
	comparePublished(t, []publishedFigure{
		{"NU-041", l.Intercept, 1e-12},
		{"NU-042", l.InterceptError, 1e-11},
		{"NU-043", l.Slope, 1e-13},
		{"NU-044", l.SlopeError, 1e-11},
		{"NU-045", l.ResidualSD, 1e-12},
		{"NU-047", l.SumOfSquares, 1e-12},
		{"NU-052", float64(l.Points), 0},
		{"NU-053", l.Covariance, 1e-9}, // a second source, of fewer digits
		{"NU-054", l.At(500), 1e-10},
		{"NU-055", l.PredictionError(500), 1e-8},
	})
	if why, p := l.Doubt(); why != "" {
		t.Errorf("the line is good, but %s: %v", why, p)
	}
}

// weightedExample is the data of NU-062 to NU-068, as a case sheet whose
// spreads are twice the standard uncertainties.
var weightedExample = []string{
	"model.csv", "name,entry,spread\nx,0,\nuy,0.1,\ny,=1*x,=2*uy\n",
	"points.csv", `point,x,uy,y
:unit,,,
a,1,0.05,1.05
b,2,0.05,2.11
c,3,0.10,2.95
d,4,0.10,4.20
e,5,0.20,4.88
f,6,0.20,6.15
`}

// TestTrendWeighted is the weighted example of numerics.csv, whose errors are
// not scaled by the scatter.
func TestTrendWeighted(t *testing.T) {
	draw := func(files ...string) line.Line {
		trend, problems := compiled(t, files...).Trend("points", "y", TrendOptions{Against: "x"})
		if trend == nil {
			t.Fatal(told(problems))
		}
		return trend.Line
	}
	l := draw(weightedExample...)
	plain := draw("model.csv", strings.ReplaceAll(weightedExample[1], "=2*uy", ""), "points.csv", weightedExample[3])
	comparePublished(t, []publishedFigure{
		{"NU-062", l.Slope, 1e-12},
		{"NU-063", l.InterceptError * l.InterceptError, 1e-12},
		{"NU-064", l.Covariance, 1e-12},
		{"NU-065", l.SlopeError * l.SlopeError, 1e-12},
		{"NU-066", l.SumOfSquares, 1e-12},
		{"NU-067", plain.Slope, 1e-11},
		{"NU-068", plain.Intercept, 1e-11},
	})
	if !l.Weighted || plain.Weighted {
		t.Errorf("weighted %v and %v, expected true and false", l.Weighted, plain.Weighted)
	}
}

const visits = `visit,date,wear,left,remark
:unit,date,%,%,
:spread,,,1,
first,2026-01-01,10,91,
third,2026-01-21,30,70.5,out of order
second,2026-01-11,20,,not read
lost,,35,66,no date
bare,2026-02-10,,,
`

func TestTrendOfVisits(t *testing.T) {
	m := compiled(t,
		"model.csv", "name,entry,unit,spread,low,high\n"+
			"wear,0,%,1,,\n"+
			"left,=1 - wear,%,,50,\n"+
			"half,=left/2,%,,,\n"+
			"worn,=wear,%,,,25\n",
		"visits.csv", visits)
	trend, problems := m.Trend("visits", "left", TrendOptions{})
	if trend == nil {
		t.Fatal(told(problems))
	}
	// By hand: (0 d, 91), (10 d, 80 computed), (20 d, 70.5), all ± 1. The visit
	// at which nothing was measured has only the model's own wear of 0.
	if trend.Against != "date" || !trend.Dated || trend.Origin != 1767225600 || len(trend.Points) != 3 {
		t.Fatalf("got %+v", trend)
	}
	for i, want := range []TrendPoint{
		{"first", 0, 91, 1, true, false, 0}, {"second", 10, 80, 1, false, true, 2},
		{"third", 20, 70.5, 1, true, false, 1},
	} {
		got := trend.Points[i]
		if !near(got.X, want.X, 1e-12) || !near(got.Y, want.Y, 1e-12) || !near(got.Spread, want.Spread, 1e-12) {
			t.Errorf("point %d: got %+v, expected %+v", i, got, want)
		}
		if got.X, got.Y, got.Spread = want.X, want.Y, want.Spread; got != want {
			t.Errorf("point %d: got %+v, expected %+v", i, got, want)
		}
	}
	if trend.OfModel() != 1 || !trend.Formula {
		t.Errorf("%d points are computed, of a formula: %v", trend.OfModel(), trend.Formula)
	}
	if want := []CaseReason{{"lost", "date is blank"},
		{"bare", "nothing was measured that left depends on"}}; !slices.Equal(trend.LeftOut, want) {
		t.Errorf("left out: %v", trend.LeftOut)
	}
	half, problems := m.Trend("visits", "half", TrendOptions{}) // the sheet does not ask for it
	if half == nil {
		t.Fatal(told(problems))
	}
	if got := half.Points[2].Y; !near(got, 35, 1e-12) {
		t.Errorf("half of 70 %% is %v", got)
	}
	worn, problems := m.Trend("visits", "worn", TrendOptions{Against: "wear"})
	if worn == nil {
		t.Fatal(told(problems))
	}
	if l := worn.Line; !near(l.Slope, 1, 1e-12) || math.Abs(l.Intercept) > 1e-12 || worn.Dated {
		t.Errorf("worn against wear: %+v", l)
	}
	if m := worn.Meets; m == nil || m.Low || !near(m.When, 25, 1e-12) || !m.Past ||
		!(m.Earliest < 25 && 25 < m.Latest) {
		t.Errorf("meets its limit: %+v", m)
	}
}

func TestTrendRefusals(t *testing.T) {
	m := compiled(t,
		"model.csv", "name,entry,unit,spread\n"+
			"wear,0,%,1\n"+
			"left,=1 - wear,%,\n"+
			"word,oil,text,\n"+
			"fix,3,,\n"+
			"start,2026-01-01,date,\n"+
			"day,=start + wear*100*d,date,\n",
		"visits.csv", visits,
		"mixed.csv", "visit,date,wear,left\n:unit,date,,\na,2026-01-01,,0.9\nb,2026-01-02,,0.8\nc,2026-01-03,0.3,\n",
		"list.csv", "item,size,word,odd\n:unit,mm,text,\na,1,x,1\nb,2,y,one\n",
		"few.csv", "visit,date,wear,left\n:unit,date,,\na,2026-01-01,0.1,\nb,,,\n",
		"same.csv", "visit,date,wear,left\n:unit,date,,\na,2026-01-01,0,\nb,2026-01-01,0,\nc,2026-01-01,0,\n")
	for _, test := range []struct{ sheet, name, against, want string }{
		{"vists", "left", "", "no sheet is named `vists` (did you mean `visits`?)"},
		{"model", "left", "", "`model` is a sheet of quantities"},
		{"visits", "lft", "", "no quantity and no column of sheet visits is named `lft` (did you mean `left`?)"},
		{"visits", "word", "", "`word` is a text"},
		{"list", "word", "size", "`word` is a text"},
		{"visits", "fix", "", "`fix` is a given, the same in every case"},
		{"visits", "day", "", "day is a date"},
		{"list", "size", "", "sheet list has no column of dates (give a column the unit date, " +
			"or add --against COLUMN)"},
		{"list", "left", "size", "sheet list asks for no formula"},
		{"list", "odd", "size", "list.csv:4:7: `one` is not a number"},
		{"list", "size", "size", "at least 3 points, found 2"},
		{"mixed", "left", "", "some cases of left have a spread and some have none: `a` and `b` (give all of them one"},
		{"few", "left", "", "at least 2 points, found 1 of left against date (1 case left out; b: date is blank)"},
		{"same", "left", "", "here all are alike"},
	} {
		trend, problems := m.Trend(test.sheet, test.name, TrendOptions{Against: test.against})
		if trend != nil || len(problems) == 0 {
			t.Errorf("%v is not refused", test)
			continue
		}
		got := problems[0].Error()
		if problems[0].Hint != "" {
			got += " (" + problems[0].Hint + ")"
		}
		if !strings.Contains(got, test.want) {
			t.Errorf("got %q, expected %q", got, test.want)
		}
	}
}

// TestTrendLeavesOut: cases without a value take no part, for a reason that is
// told.
func TestTrendLeavesOut(t *testing.T) {
	m := compiled(t, "model.csv", "name,entry,unit,low,high\n"+
		"wear,,%,,\n"+
		"span,4,mm,,\n"+
		"left,=span*(1 - wear)/wear,mm,3,\n",
		"visits.csv", `visit,hours,wear,left
:unit,h,%,
none,,50,
open,10,,
zero,20,0,
first,30,10,
second,20,20,
third,40,40,
read,50,,2
`)
	trend, problems := m.Trend("visits", "left", TrendOptions{Against: "hours"})
	if trend == nil {
		t.Fatal(told(problems))
	}
	var out []string
	for _, r := range trend.LeftOut {
		out = append(out, r.Case+": "+r.Why)
	}
	if got, want := strings.Join(out, "; "), "none: hours is blank; open: left needs wear; "+
		"zero: left: division by zero"; got != want {
		t.Errorf("left out: %s\nexpected: %s", got, want)
	}
	var points []string
	for _, p := range trend.Points {
		points = append(points, fmt.Sprintf("%s %v %.6g %v", p.Case, p.X, p.Y, p.Read))
	}
	if got, want := strings.Join(points, "; "), "second 20 16 false; first 30 36 false; third 40 6 false; "+
		"read 50 2 true"; got != want {
		t.Errorf("points: %s\nexpected: %s", got, want)
	}
}

// TestTrendMeetsItsLimit: a line that falls goes towards the low limit, one
// that rises towards the high one, and of limits that differ that of the last
// case counts.
func TestTrendMeetsItsLimit(t *testing.T) {
	m := compiled(t, "model.csv", "name,entry,unit,low,high\n"+
		"rate,1,mm/h,,\n"+
		"time,0,h,,\n"+
		"up,=rate*time,mm,-20,=30*mm + time*mm/h\n"+
		"down,=-rate*time,mm,-20,30\n"+
		"free,=rate*time,mm,-20,\n"+
		"past,=rate*time,mm,,5\n"+
		"bent,=rate*time,mm,,30\n",
		"visits.csv", `visit,time,up,down,free,past,bent
:unit,h,,,,,
:spread,,0.1,0.1,0.1,0.1,0.1
a,0,0.1,0,0,0,0
b,10,10,-10,10,10,20
c,4,4,-4.1,4,4.1,4
d,2,2,-2,2,2,1
e,6,6.1,-6,6,6,8
f,8,8,-7.9,8,8,13
`)
	for _, test := range []struct {
		name  string
		limit float64
		low   bool
		when  float64
		past  bool
	}{{"up", 40, false, 40, false}, {"down", -20, true, 20, false}, {"past", 5, false, 5, true}} {
		trend, problems := m.Trend("visits", test.name, TrendOptions{Against: "time"})
		if trend == nil {
			t.Fatal(told(problems))
		}
		meets := trend.Meets
		if meets == nil || meets.Limit != test.limit || meets.Low != test.low || math.Abs(meets.When-test.when) > 0.5 ||
			meets.Past != test.past ||
			!(meets.Earliest < meets.When && meets.When < meets.Latest) {
			t.Errorf("%s meets %+v, expected %v at about %v", test.name, meets, test.limit, test.when)
		}
	}
	if trend, _ := m.Trend("visits", "free", TrendOptions{Against: "time"}); trend == nil || trend.Meets != nil {
		t.Errorf("a rising line without a high limit meets %+v", trend.Meets)
	}
	bent, problems := m.Trend("visits", "bent", TrendOptions{Against: "time"})
	if bent == nil {
		t.Fatal(told(problems))
	}
	if why, _ := bent.Line.Doubt(); why == "" || !bent.Line.Certain() {
		t.Errorf("bent points make a good line (%q)", why)
	}
}

// TestTrendOfColumns weighs a column of data by the spread it states, absolute or
// as a share, just as a formula of the same numbers is weighed.
func TestTrendOfColumns(t *testing.T) {
	for _, spread := range []string{"", "0.5", "2 %", "0.5 mm"} {
		m := compiled(t, "model.csv", "name,entry,unit\nnothing,0,\nsize,=0*cm,cm\n",
			"points.csv", "point,x,y,size\n"+
				":unit,s,cm,cm\n"+
				":spread,,"+spread+","+spread+"\n"+
				"a,1,10,10\n"+
				"b,2,21,21\n"+
				"c,3,28,28\n"+
				"d,4,44,44\n")
		data, problems := m.Trend("points", "y", TrendOptions{Against: "x"})
		if data == nil {
			t.Fatal(told(problems))
		}
		formula, problems := m.Trend("points", "size", TrendOptions{Against: "x"})
		if formula == nil {
			t.Fatal(told(problems))
		}
		if data.Line != formula.Line && spread != "" || data.Line.Weighted != (spread != "") ||
			data.Line.Slope != formula.Line.Slope {
			t.Errorf("± %s: got %+v, expected %+v", spread, data.Line, formula.Line)
		}
		if len(m.Warnings) > 0 {
			t.Errorf("± %s: %s", spread, told(m.Warnings))
		}
	}
	m := compiled(t, "model.csv", "name,entry\nnothing,0\n", "points.csv",
		"point,x,y\n:unit,,\n:spread,,wide\na,1,10\nb,2,21\nc,3,28\n")
	_, problems := m.Trend("points", "y", TrendOptions{Against: "x"})
	if got, want := withHints(problems), "points.csv:3:10: `wide` is not a number"; !strings.HasPrefix(got, want) {
		t.Errorf("got %s, expected %s", got, want)
	}
}

// TestTrendOfMixedSpreads counts the cases beyond the first three.
func TestTrendOfMixedSpreads(t *testing.T) {
	m := compiled(t, "model.csv", "name,entry,unit,spread\nrate,1,mm,0.1\nleft,=2*rate,mm,\n",
		"visits.csv", "visit,hours,rate,left\n"+
			":unit,h,,\n"+
			":spread,,1 %,\n"+
			"a,0,0,\n"+
			"b,1,0,\n"+
			"c,2,0,\n"+
			"d,3,0,\n"+
			"e,4,0,\n"+
			"f,5,2,\n")
	_, problems := m.Trend("visits", "left", TrendOptions{Against: "hours"})
	if got, want := withHints(problems), "visits.csv:4:1: some cases of left have a spread and some have none: `a`, "+
		"`b`, `c` and 2 more (give all of them one in the row :spread of the sheet, or none)"; got != want {
		t.Errorf("got\n%s\nexpected\n%s", got, want)
	}
}
