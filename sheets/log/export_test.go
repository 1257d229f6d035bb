package log

import (
	"bytes"
	"io"
	"strings"
	"testing"
)

// taken understands an export and makes its log, with all columns of numbers.
func taken(text string, hints Hints) (log, problem string) {
	e, problems := Understand("export.txt", strings.NewReader(text), hints)
	if e == nil {
		return "", problems[0].Message
	}
	var wanted []Wanted
	for _, i := range e.Numeric() {
		wanted = append(wanted, Wanted{i, e.Columns[i].Name, e.Columns[i].Unit})
	}
	var b bytes.Buffer
	if _, err := e.Take(strings.NewReader(text), &b, wanted, e.Columns[e.Time].Unit); err != nil {
		return "", err.Error()
	}
	return b.String(), ""
}

var exportTable = []struct {
	name, text    string
	hints         Hints
	want, problem string
}{
	{"commas", "time [s],p [bar]\n0,1.5\n1,2\n", Hints{}, "time [s],p [bar]\n0,1.5\n1,2\n", ""},
	{"semicolons and decimal commas", "t;p (bar)\r\n0,5;1,25\r\n1,0;2,5\r\n", Hints{},
		"time,p [bar]\n0.5,1.25\n1.0,2.5\n", ""},
	{"thousands", "t\tp\n0\t1.234,5\n1\t12.345,75\n", Hints{}, "time,p\n0,1234.5\n1,12345.75\n", ""},
	{"preamble and units", "Box 7; serial 3\nRate;50\n\nTime;P1;Note\ns;bar;\n0;1,5;on\n1;2,5;off\n", Hints{},
		"time [s],P1 [bar]\n0,1.5\n1,2.5\n", ""},
	{"day first", "date;p\n31.12.2025 23:59:59,5;1,5\n01.01.2026 00:00:00,5;2,5\n", Hints{},
		"time,p\n2025-12-31 23:59:59.5,1.5\n2026-01-01 00:00:00.5,2.5\n", ""},
	{"month first, seen by a day", "date,p\n4/13/2026 1:05:06 PM,1\n4/13/2026 1:05:07 PM,2\n", Hints{},
		"time,p\n2026-04-13 13:05:06,1\n2026-04-13 13:05:07,2\n", ""},
	{"day or month", "date,p\n04/05/2026 08:00:00,1\n04/05/2026 08:00:01,2\n", Hints{}, "",
		"`04/05/2026 08:00:01` may have the day first or the month, and no date of this file settles it"},
	{"said to be the day", "date,p\n04/05/2026 08:00:00,1\n04/05/2026 08:00:01,2\n", Hints{Dates: DayFirst},
		"time,p\n2026-05-04 08:00:00,1\n2026-05-04 08:00:01,2\n", ""},
	{"midnight without a date", "time;p\n23:59:59;1\n00:00:01;2\n", Hints{}, "time [s],p\n86399,1\n86401,2\n", ""},
	{"a comma of either kind", "t;p\n1;1,234\n2;2,345\n", Hints{}, "",
		"`2,345` may be a number with decimals or one in thousands, and no number of this file settles it"},
	{"said to be decimals", "t;p\n1;1,234\n2;2,345\n", Hints{Decimal: "comma"}, "time,p\n1,1.234\n2,2.345\n", ""},
	{"said to be decimals, though commas stand there", "t;p\n0,00;1,5\n0,01;2,5\n", Hints{Decimal: "point"}, "",
		"the comma of `0,00` parts no thousands, so that it stands before decimals"},
	{"said to be decimal commas, though points stand there", "t;p\n0.00;1.5\n0.01;2.5\n", Hints{Decimal: "comma"}, "",
		"the point of `0.00` parts no thousands, so that it stands before decimals"},
	{"commas for both", "t,p,q\n0,01,1,5,2,5\n0,02,1,6,2,6\n", Hints{}, "",
		"commas part the columns and stand before decimals too: 6 cells below a header of 3"},
	{"both kinds", "t;p;q\n1;1,5;1.5\n2;2,5;2.5\n", Hints{}, "",
		"decimal commas and decimal points stand side by side in this file"},
	{"Latin-1", "t;\xd6ldruck;T [\xb0C]\n0;1;2\n1;2;3\n", Hints{}, "time,Oeldruck,T [°C]\n0,1,2\n1,2,3\n", ""},
	{"UTF-16", "\xff\xfet\x00;\x00p\x00\n\x000\x00;\x001\x00\n\x001\x00;\x002\x00\n\x00", Hints{}, "time,p\n0,1\n1,2\n",
		""},
	{"no header", "0;1;2\n1;2;3\n", Hints{}, "time,c2,c3\n0,1,2\n1,2,3\n", ""},
	{"a line above the header", "Box 5\nTime [s];T [bar]\n0.5;1\n1.5;2\n", Hints{}, "time [s],T [bar]\n0.5,1\n1.5,2\n",
		""},
	{"twelve hours twice", "time,p\n5/4/2026 12:30:00 AM,1\n5/4/2026 12:30:01 PM,2\n5/4/2026 1:30:01 PM,2\n",
		Hints{Dates: MonthFirst},
		"time,p\n2026-05-04 00:30:00,1\n2026-05-04 12:30:01,2\n2026-05-04 13:30:01,2\n", ""},
	{"two digits of a year", "time;p\n04.05.26 08:30:00;1\n14.05.26 08:30:01;2\n", Hints{},
		"time,p\n2026-05-04 08:30:00,1\n2026-05-14 08:30:01,2\n", ""},
	{"as many texts as numbers", "time,p,q\n0,1,off\n1,2,3\n", Hints{}, "time,p,q\n0,1,\n1,2,3\n", ""},
	{"a zone that is none", "time,p\n2026-05-04T10:00:00,1\n2026-05-04T10:00:01.5+5200,2\n2026-05-04T10:00:02,3\n",
		Hints{},
		"time,p\n2026-05-04 10:00:00,1\n2026-05-04 10:00:02,3\n", ""},
	{"ISO 8601", "time,p\n2026-05-04T10:00:00.5Z,1\n2026-05-04T10:00:01.5+0200,2\n", Hints{},
		"time,p\n2026-05-04 10:00:00.5Z,1\n2026-05-04 10:00:01.5+02:00,2\n", ""},
	{"a separator at the end", "time [s];p;\n0;1,5;\n1;2,5;\n", Hints{}, "time [s],p\n0,1.5\n1,2.5\n", ""},
	{"nothing", "hello\nworld\n", Hints{}, "", "cannot find what parts the columns of this file"},
}

func TestTake(t *testing.T) {
	for _, test := range exportTable {
		if got, problem := taken(test.text, test.hints); got != test.want || problem != test.problem {
			t.Errorf("%s: %q, %q\nwant %q, %q", test.name, got, problem, test.want, test.problem)
		}
	}
}

// TestRanges finds from where to where each column goes, so that a spike or a wrong
// scale is seen before anything is computed with it.
func TestRanges(t *testing.T) {
	text := "t;p;note\n0;1,5;on\n1;-2709,5;\n2;;off\n"
	e, problems := Understand("export.txt", strings.NewReader(text), Hints{})
	if e == nil {
		t.Fatal(problems)
	}
	taken, err := e.Take(strings.NewReader(text), io.Discard, []Wanted{{1, "p", ""}, {2, "note", ""}}, "")
	if err != nil {
		t.Fatal(err)
	}
	if got := taken.Ranges[0]; got != (Range{-2709.5, 1.5}) {
		t.Errorf("p goes from %g to %g, expected -2709.5 to 1.5", got.Least, got.Greatest)
	}
	if got := taken.Ranges[1]; got.Least <= got.Greatest {
		t.Errorf("texts go from %g to %g", got.Least, got.Greatest)
	}
}

// Whatever a recorder writes, what is made of it is a log that can be read.
func FuzzTake(f *testing.F) {
	for _, test := range exportTable {
		f.Add(test.text)
	}
	f.Fuzz(func(t *testing.T, text string) {
		made, problem := taken(text, Hints{})
		if problem != "" {
			return
		}
		l, problems := Open("log.csv", inMemory(made))
		if l == nil {
			t.Fatalf("%q\nmade %q\n%v", text, made, problems)
		}
		if strings.Count(made, "\n") < 2 {
			return
		}
		if _, _, _, problems := rows(l, 1); len(problems) > 0 {
			t.Fatalf("%q\nmade %q\n%v", text, made, problems)
		}
	})
}
