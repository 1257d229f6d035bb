package log

import (
	"bytes"
	"context"
	"fmt"
	"io/fs"
	"math"
	"math/rand/v2"
	"os"
	"strconv"
	"strings"
	"testing"
	"testing/fstest"

	"rambook/sheets"
)

// inMemory opens a text as the file of a log.
func inMemory(text string) func() (fs.File, error) {
	files := fstest.MapFS{"log.csv": {Data: []byte(text)}}
	return func() (fs.File, error) { return files.Open("log.csv") }
}

// rows reads all columns of a log.
func rows(l *Log, workers int) (table [][]float64, lines []int, end *End, problems []sheets.Problem) {
	var ask []Ask
	for i := range l.Columns {
		ask = append(ask, Ask{Column: i})
	}
	end, problems = Read(context.Background(), l, ask, Options{Gap: math.NaN(), Workers: workers},
		func() int { return 0 },
		func(*Batch, int) {}, func(b *Batch, _ int) error {
			for r := range b.N {
				row := make([]float64, len(ask))
				for k := range row {
					row[k] = b.Values[k][r]
				}
				table, lines = append(table, row), append(lines, b.Line(r))
			}
			return nil
		})
	return table, lines, end, problems
}

var numberTable = []string{"0", "1", "-1", "12.5", "-0.25", "1e3", "-12.5e3", "1E-05", "+5", ".5", "5.", "-.5", "-0",
	"00012", "1234567", "12345678", "0.1234567",
	"0.12345678", "123456789012345678901234567890", "0.30000000000000004", "9007199254740993", "9007199254740992.5",
	"1e22", "1e23", "1e-22", "1e-23", "4.9e-324",
	"1.7976931348623157e308", "1e400", "1e99999999999", "0e99999999999", "2.2250738585072011e-308",
	"0.000000000000000000000000000001", "1000000000000000000000.5",
	"", "-", "+", ".", "e5", "1e", "1e+", "1.2.3", "0x10", "1_0", "inf", "nan", "infinity", "1,5", "12a", " 5", "5 ",
	"--5", "٣", "1e5.5"}

// plainNumber reports whether a text has the form of a number in a cell.
func plainNumber(s string) bool {
	return strings.Trim(s, "0123456789.eE+-") == "" && s != ""
}

func compare(t *testing.T, text string) {
	t.Helper()
	want, err := strconv.ParseFloat(text, 64)
	wantOK := err == nil && plainNumber(text)
	if got, ok := number([]byte(text)); ok != wantOK || ok && math.Float64bits(got) != math.Float64bits(want) {
		t.Errorf("number(%q) = %v, %v, want %v, %v", text, got, ok, want, wantOK)
	}
	for _, after := range []string{",", "\n", "\r\n"} {
		b := append([]byte(text+after), make([]byte, padding)...)
		got, end, f := plain(b, 0)
		if f != nil && (end != len(text) || !wantOK ||
			math.Float64bits(got) != math.Float64bits(want)) {
			if !strings.ContainsAny(text, ",\n\r") {
				t.Errorf("plain(%q) = %v to %d, want %v, %v", text, got, end, want, wantOK)
			}
		}
		// Whatever the form of the number above, it is read as the same number or left to plain.
		for n := range forms {
			for places := range forms[n] {
				columns := []column{{values: []float64{0}, form: &forms[n][places]}}
				k, next := alike(b, 0, 0, columns, 0)
				switch taken := k > 0 || next > 0; {
				case taken && (next != end+1 || f == nil ||
					math.Float64bits(columns[0].values[0]) != math.Float64bits(got)):
					t.Errorf("%q after a number of %d and %d digits: %v to %d, want %v to %d", text, n, places,
						columns[0].values[0], next, got, end+1)
				case !taken && f == columns[0].form:
					t.Errorf("%q is not of its own form", text)
				}
			}
		}
	}
}

// The reference is strconv.ParseFloat, bit for bit.
func TestNumbers(t *testing.T) {
	for _, text := range numberTable {
		compare(t, text)
	}
	r := rand.New(rand.NewPCG(1, 1))
	for range 200_000 {
		v := math.Float64frombits(r.Uint64())
		format := "efg"[r.IntN(3)]
		compare(t, strconv.FormatFloat(math.Ldexp(r.Float64()-0.5, r.IntN(60)-30), 'f', r.IntN(20), 64))
		if format != 'f' {
			compare(t, strconv.FormatFloat(v, format, -1, 64))
		}
	}
}

func FuzzNumber(f *testing.F) {
	for _, text := range numberTable {
		f.Add(text)
	}
	f.Fuzz(compare)
}

func TestMostNumbersArePlain(t *testing.T) {
	for _, text := range []string{"0", "-1.25", "1234567.7654321", "0.001", "5.", ".5"} {
		if _, _, f := plain(append([]byte(text+","), make([]byte, padding)...), 0); f == nil {
			t.Errorf("%q is left to the slow way", text)
		}
	}
}

var logTable = []struct {
	name, text string
	want       string // the rows
	problems   string
}{
	{"plain", "time [s],p [MPa]\n0,1\n0.5,-2.25\n", "2: 0 1|3: 0.5 -2.25|", ""},
	{"CRLF and BOM", "\xef\xbb\xbftime,p\r\n0,1\r\n1,2\r\n", "2: 0 1|3: 1 2|", ""},
	{"gaps", "time,p,q\n0,,1\n1,nan,\n2,N/A, 5 \n", "2: 0 NaN 1|3: 1 NaN NaN|4: 2 NaN 5|", ""},
	{"comments and blank lines", "# made\n\ntime,p\n# begin\n0,1\n\n\r\n1,2\n", "5: 0 1|8: 1 2|", ""},
	{"quotes", "\"time [s]\",\"p, of A [MPa]\",note\n\"0\",\" 1.5 \",1\n1,2,\"3\"\n", "2: 0 1.5 1|3: 1 2 3|", ""},
	{"long numbers", "time,p\n0,0.30000000000000004\n1,1e-300\n", "2: 0 0.30000000000000004|3: 1 1e-300|", ""},
	{"half a line at the end", "time,p\n0,1\n1,2.7", "2: 0 1|",
		"log.csv:3:0: the last line has no line end: it may be half of one, and is left out|"},
	{"short lines", "time,p,q\n0,1,2\n1,2\n2,3\n3,4,5\n", "2: 0 1 2|5: 3 4 5|",
		"log.csv:3:0: 2 lines, of which this is the first, have fewer cells than the header, and are left out|"},
	{"no number", "time,p\n0,1\n1,x\n2,3;4\n", "2: 0 1|3: 1 0|4: 2 0|",
		"log.csv:3:3: a number is needed in the column p|log.csv:4:3: a number is needed in the column p|"},
	{"hexadecimal", "time,p\n0,0x10\n", "2: 0 0|", "log.csv:2:3: a number is needed in the column p|"},
	{"too many cells", "time,p\n0,1,5\n", "2: 0 1|", "log.csv:2:1: the line has more cells than the header|"},
	{"no time", "time,p\n0,1\n,5\n", "2: 0 1|3: NaN 5|", "log.csv:3:1: the time is missing|"},
	{"lone carriage return", "time,p\n0,1\r2,3\n", "2: 0 1|", "log.csv:2:4: found a lone carriage return|"},
	{"dates", "time,p\n2026-05-04 08:30:00,1\n2026-05-04T08:30:00.25,2\n2026-05-05 00:00:01,3\n",
		"2: 30600 1|3: 30600.25 2|4: 86401 3|", ""},
	{"zones", "time,p\n2026-05-04 08:30:00Z,1\n2026-05-04 10:30:01+02:00,2\n", "2: 30600 1|3: 30601 2|", ""},
	{"no date", "time,p\n2026-05-04 08:30,1\n5,1\n2026-02-30 08:30,1\n",
		"2: 30600 1|3: -1.7778528e+09 1|4: -1.7778528e+09 1|",
		"log.csv:3:1: a date with a time of day is needed here|log.csv:4:1: a date with a time of day is needed here|"},
}

func TestRows(t *testing.T) {
	for _, test := range logTable {
		t.Run(test.name, func(t *testing.T) {
			l, problems := Open("log.csv", inMemory(test.text))
			if l == nil {
				t.Fatal(problems)
			}
			table, lines, end, problems := rows(l, 1)
			var got strings.Builder
			for i, row := range table {
				fmt.Fprintf(&got, "%d: %s|", lines[i], strings.Trim(fmt.Sprint(row), "[]"))
			}
			if len(problems) == 0 && got.String() != test.want {
				t.Errorf("rows %s\nwant %s", got.String(), test.want)
			}
			var told strings.Builder
			if end != nil {
				problems = append(problems, end.Words(l)...)
			}
			for _, p := range problems {
				fmt.Fprintf(&told, "%s:%d:%d: %s|", p.File, p.Line, p.Column, p.Message)
			}
			if told.String() != test.problems {
				t.Errorf("told %s\nwant %s", told.String(), test.problems)
			}
		})
	}
}

func TestHeader(t *testing.T) {
	l, problems := Open("log.csv", inMemory("Time (ms), p1 [bar] ,\"flow (L/min)\",plain\n1,2,3,4\n"))
	if l == nil {
		t.Fatal(problems)
	}
	if got := fmt.Sprint(l.Columns); got != "[{Time ms 1 1} {p1 bar 1 11} {flow L/min 1 22} {plain  1 37}]" {
		t.Error(got)
	}
	for _, text := range []string{"", "time,p", "time,p,p\n0,1,2\n", "time,\xe4\n"} {
		if l, problems := Open("log.csv", inMemory(text)); l != nil || len(problems) == 0 {
			t.Errorf("%q is taken for a log", text)
		}
	}
}

// made writes a log of rows that differ in length, and gives the rows.
func made(n int, seed uint64) (text string, table [][]float64) {
	r := rand.New(rand.NewPCG(seed, 7))
	var b strings.Builder
	b.WriteString("time [s],p [MPa],q,note,x\n")
	for i := range n {
		if r.IntN(1000) == 0 {
			b.WriteString("# " + strings.Repeat("word ", r.IntN(3000)) + "\n")
		}
		row := []float64{float64(i) / 1000, math.Round(r.NormFloat64()*1000) / 1000, r.NormFloat64(), math.NaN(),
			math.Ldexp(r.Float64(), r.IntN(40)-20)}
		if r.IntN(100) == 0 {
			row[1] = math.NaN()
		}
		for k, v := range row {
			if k > 0 {
				b.WriteByte(',')
			}
			if v == v {
				b.WriteString(strconv.FormatFloat(v, 'g', -1, 64))
			}
		}
		b.WriteByte('\n')
		table = append(table, row)
	}
	return b.String(), table
}

func same(a, b [][]float64) error {
	if len(a) != len(b) {
		return fmt.Errorf("%d rows, want %d", len(a), len(b))
	}
	for i := range a {
		for k := range a[i] {
			if math.Float64bits(a[i][k]) != math.Float64bits(b[i][k]) && (a[i][k] == a[i][k] || b[i][k] == b[i][k]) {
				return fmt.Errorf("row %d, column %d: %v, want %v", i, k, a[i][k], b[i][k])
			}
		}
	}
	return nil
}

// A log of many batches is the same on one worker and on several, and the same
// as what was written.
func TestManyBatches(t *testing.T) {
	text, want := made(60_000, 3)
	l, _ := Open("log.csv", inMemory(text))
	for _, workers := range []int{1, 3} {
		got, lines, _, problems := rows(l, workers)
		if err := same(got, want); err != nil || len(problems) > 0 {
			t.Fatal(err, problems)
		}
		all := strings.Split(text, "\n")
		for i := 0; i < len(got); i += 997 {
			if first, _, _ := strings.Cut(all[lines[i]-1], ","); first != strconv.FormatFloat(got[i][0], 'g', -1, 64) {
				t.Fatalf("row %d stands on line %d?", i, lines[i])
			}
		}
	}
}

// Columns that are not asked for may hold anything.
func TestSkipped(t *testing.T) {
	l, _ := Open("log.csv", inMemory("time,a,p,b,c\n0,\"x, y\",1,zz,\"a \"\"b\"\", c\"\n1,,2,,\n"))
	sum := 0.0
	_, problems := Read(context.Background(), l, []Ask{{Column: 2}}, Options{}, func() int { return 0 },
		func(*Batch, int) {}, func(b *Batch, _ int) error {
			for _, v := range b.Values[0][:b.N] {
				sum += v
			}
			return nil
		})
	if sum != 3 || len(problems) > 0 {
		t.Error(sum, problems)
	}
}

func TestTexts(t *testing.T) {
	l, _ := Open("log.csv", inMemory("time,job\n0,bend\n1,bend\n2,\"press, hold\"\n3,bend\n4,\n"))
	var texts Texts
	got := ""
	_, problems := Read(context.Background(), l, []Ask{{1, &texts}}, Options{}, func() int { return 0 },
		func(*Batch, int) {}, func(b *Batch, _ int) error {
			for _, v := range b.Values[0][:b.N] {
				got += texts.Of(v) + "|"
			}
			return nil
		})
	if got != "bend|bend|press, hold|bend||" || len(problems) > 0 {
		t.Error(got, problems)
	}
}

// What is appended while a log is read is not read; what is written over is told.
func TestChangedWhileRead(t *testing.T) {
	text, want := made(40_000, 5)
	changes := map[string]struct {
		change func(name string) error
		told   bool
	}{
		"grows": {func(name string) error {
			f, err := os.OpenFile(name, os.O_APPEND|os.O_WRONLY, 0)
			if err == nil {
				_, err = f.WriteString("9999,1,2,,")
				f.Close()
			}
			return err
		}, false},
		"replaced": {func(name string) error {
			if err := os.WriteFile(name+"2", []byte("time,p\n0,1\n"), 0o600); err != nil {
				return err
			}
			return os.Rename(name+"2", name)
		}, false},
		"cut off": {func(name string) error { return os.Truncate(name, 1000) }, true},
		"written over": {func(name string) error {
			return os.WriteFile(name, bytes.Repeat([]byte("0,1,2,3,4\n"), len(text)/5), 0o600)
		}, true},
	}
	for what, c := range changes {
		name := t.TempDir() + "/log.csv"
		if err := os.WriteFile(name, []byte(text), 0o600); err != nil {
			t.Fatal(err)
		}
		l, problems := Open(name, func() (fs.File, error) { return os.Open(name) })
		if l == nil {
			t.Fatal(problems)
		}
		var got [][]float64
		var ask []Ask
		for i := range l.Columns {
			ask = append(ask, Ask{Column: i})
		}
		_, problems = Read(context.Background(), l, ask, Options{Gap: math.NaN(), Workers: 1}, func() int { return 0 },
			func(*Batch, int) {}, func(b *Batch, _ int) error {
				if b.First == 0 {
					if err := c.change(name); err != nil {
						t.Fatal(err)
					}
				}
				for r := range b.N {
					got = append(got, []float64{b.Values[0][r], b.Values[1][r], b.Values[2][r], b.Values[3][r],
						b.Values[4][r]})
				}
				return nil
			})
		if told := len(problems) > 0; told != c.told {
			t.Errorf("%s: told %v", what, problems)
		}
		if err := same(got, want); !c.told && err != nil {
			t.Errorf("%s: %v", what, err)
		}
	}
}

// Whatever the bytes, reading ends, and on any number of workers alike.
func FuzzRows(f *testing.F) {
	for _, test := range logTable {
		f.Add([]byte(test.text))
	}
	f.Fuzz(func(t *testing.T, text []byte) {
		l, _ := Open("log.csv", inMemory(string(text)))
		if l == nil {
			return
		}
		a, linesA, endA, toldA := rows(l, 1)
		b, linesB, endB, toldB := rows(l, 2)
		if err := same(a, b); err != nil || fmt.Sprint(linesA, toldA) != fmt.Sprint(linesB, toldB) ||
			(endA == nil) != (endB == nil) {
			t.Error(err, linesA, linesB, toldA, toldB)
		}
		for i := 1; i < len(linesA); i++ {
			if linesA[i] <= linesA[i-1] {
				t.Fatal("lines do not increase", linesA)
			}
		}
	})
}

func BenchmarkRead(b *testing.B) {
	text, _ := made(100_000, 1)
	l, _ := Open("log.csv", inMemory(text))
	b.SetBytes(int64(len(text)))
	for b.Loop() {
		_, _ = Read(context.Background(), l, []Ask{{Column: 0}, {Column: 1}, {Column: 2}, {Column: 4}}, Options{},
			func() int { return 0 }, func(*Batch, int) {}, func(*Batch, int) error { return nil })
	}
}

// However a log is thinned, its least and its greatest sample are drawn, at
// their times, and so is each gap.
func TestThin(t *testing.T) {
	r := rand.New(rand.NewPCG(4, 2))
	for _, n := range []int{1, 10, 3999, 4001, 100_000} {
		var b strings.Builder
		b.WriteString("time,x\n")
		least, greatest, at, gapAt := math.Inf(1), math.Inf(-1), 0.0, 0.0
		for i := range n {
			at += 0.01
			if i == n/2 && n > 1 {
				gapAt = at
				at += 500
			}
			x := math.Round(r.NormFloat64()*1e4) / 1e4
			least, greatest = min(least, x), max(greatest, x)
			fmt.Fprintf(&b, "%.2f,%.4f\n", at, x)
		}
		l, _ := Open("log.csv", inMemory(b.String()))
		curves, _, problems := Thin(context.Background(), l, []int{1}, math.Inf(-1), math.Inf(1))
		if len(problems) > 0 {
			t.Fatal(problems)
		}
		c := curves[0]
		low, high, broken := math.Inf(1), math.Inf(-1), 0
		for i, v := range c.Values {
			if v != v {
				broken++
				continue
			}
			low, high = min(low, v), max(high, v)
			if i > 0 && (c.Times[i] < c.Times[i-1] || c.Times[i-1] < gapAt && c.Times[i] > gapAt+100 &&
				c.Values[i-1] == c.Values[i-1]) {
				t.Errorf("%d rows: from %v to %v without a break", n, c.Times[i-1], c.Times[i])
			}
		}
		if low != least || high != greatest || len(c.Times) > 4*mostStretches+2 || n > 1 && broken != 1 {
			t.Errorf("%d rows: %d points from %v to %v with %d breaks; want %v to %v", n, len(c.Times), low, high,
				broken, least, greatest)
		}
	}
}

func TestSummary(t *testing.T) {
	l, _ := Open("log.csv", inMemory("time [s],p [bar],note\n0,1,a\n1,,b\n2,4,\n3,2.5,c\n30,0.5,\n30,0.5,\n"))
	s, _, problems := Summarise(context.Background(), l)
	if len(problems) > 0 {
		t.Fatal(problems)
	}
	p := s.Columns[1]
	if s.Rows != 6 || s.From != 0 || s.To != 30 || s.Step != 1 || s.Gaps != 1 || s.LongestGap != 27 || s.Jumps != 1 ||
		p != (ColumnSummary{5, 0, 0.5, 1.7, 4}) || s.Columns[2].Texts != 3 {
		t.Errorf("%+v", *s)
	}
}
