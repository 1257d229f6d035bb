package calc

import (
	"strings"
	"testing"
	"time"

	"rambook/sheets"
)

// clockBook has a meter of hours and a date that others may not be later than, visits
// with a reading each, and a time that nothing is held to.
const clockBook = "name,entry,unit,reading,with,low,high\n" +
	"hours_run,HOURS,h,,,,\n" +
	"read_on,DAY,date,,,,\n" +
	"lifetime,12,h,,,,\n" +
	"done_at,100,h,,,,hours_run\n" +
	"kept_since,2026-01-01,date,,,,read_on\n" +
	"size,SIZE,mm,,,,\n" +
	"wide,20,mm,,,,size\n" +
	"twice,2*size,mm,,,,\n"

// messages are those of problems, one behind the other.
func messages(list []sheets.Problem) (text string) {
	for _, p := range list {
		text += p.Message
	}
	return text
}

// TestCalibratedAhead: a gauge that is said to be calibrated on a day to come has no
// certificate yet. What is no day is a remark.
func TestCalibratedAhead(t *testing.T) {
	today := time.Date(2026, 8, 3, 12, 0, 0, 0, time.UTC)
	for _, test := range []struct{ calibrated, want string }{
		{"2026-08-03", ""},
		{"2026-08-04", "cell was calibrated 2026-08-04, which is still to come: today is 2026-08-03"},
		{"2062-01-01 08:00", "cell was calibrated 2062-01-01 08:00, which is still to come: today is 2026-08-03"},
		{"", ""},
		{"works certificate", ""},
		{"9000", ""},
	} {
		m, problems := Compile(files(t, "p.csv", "name,entry,unit,with\nx,20,MPa,cell\n", "gauges.csv",
			"gauge,class,span,calibrated\n:unit,,,\ncell,1,40 MPa,"+test.calibrated+"\n"), Options{Today: today})
		if m == nil {
			t.Fatalf("%s: %s", test.calibrated, told(problems))
		}
		if got := messages(m.Misused()); got != test.want {
			t.Errorf("%q: %q, expected %q", test.calibrated, got, test.want)
		}
	}
}

// TestClocks: what is wrong with the days and hours of a round. Of other numbers nothing
// is known from what they were before.
func TestClocks(t *testing.T) {
	today := time.Date(2026, 8, 3, 12, 0, 0, 0, time.UTC)
	book := func(hours, day, size, visit string) []string {
		return []string{"1.csv", strings.NewReplacer("HOURS", hours, "DAY", day, "SIZE", size).Replace(clockBook),
			"visits.csv", "visit,date,twice,remark\n:unit,date,mm,\nfirst," + visit + "\n"}
	}
	const sound = "2026-02-01,40,"
	for _, test := range []struct {
		name                     string
		hours, day, size, visit  string
		wasHours, wasDay, wasAre string
		want                     string
	}{
		{name: "a sound round", hours: "1050", day: "2026-08-03", size: "20", visit: sound},
		{name: "on", hours: "1050", day: "2026-08-03", size: "20", visit: sound, wasHours: "950", wasDay: "2026-05-01"},
		{name: "a day to come", hours: "1050", day: "2026-08-04", size: "20", visit: sound,
			want: "read_on 2026-08-04 is still to come: today is 2026-08-03"},
		{name: "a reading to come", hours: "1050", day: "2026-08-03", size: "20", visit: "2062-02-01,40,",
			want: "first has readings of 2062-02-01, which is still to come: today is 2026-08-03"},
		{name: "a plan", hours: "1050", day: "2026-08-03", size: "20", visit: "2027-02-01,,"},
		{name: "a meter that runs back", hours: "950", day: "2026-08-03", size: "20", visit: sound, wasHours: "1050",
			want: "hours_run 950 h is less than the 1050 h that stood there: a meter does not run back"},
		{name: "in another unit", hours: "950", day: "2026-08-03", size: "20", visit: sound, wasHours: "50 d",
			want: "hours_run 950 h is less than the 1200 h that stood there: a meter does not run back"},
		{name: "a day back", hours: "1050", day: "2026-06-01", size: "20", visit: sound, wasDay: "2026-07-01",
			want: "read_on 2026-06-01 is before 2026-07-01, which stood there"},
		{name: "a length that is less", hours: "1050", day: "2026-08-03", size: "20", visit: sound, wasAre: "30"},
	} {
		compile := func(parts []string) *Model {
			m, problems := Compile(files(t, parts...), Options{Today: today})
			if m == nil {
				t.Fatalf("%s: %s", test.name, told(problems))
			}
			return m
		}
		or := func(was, is string) string {
			if was != "" {
				return was
			}
			return is
		}
		before := compile(book(or(test.wasHours, test.hours), or(test.wasDay, test.day), or(test.wasAre, test.size),
			test.visit))
		after := book(test.hours, test.day, test.size, test.visit)
		m := compile(after)
		found := append(m.SetBack(before), m.ahead()...)
		logged := "when,who,what,was,is,with,note\n"
		for _, line := range [][3]string{{"hours_run", test.wasHours, test.hours}, {"read_on", test.wasDay, test.day}} {
			if line[1] != "" {
				logged += "2026-08-03 08:00:00,Ada," + line[0] + "," + line[1] + "," + line[2] + ",,\n"
			}
		}
		warned := compile(append(after, "logbook.csv", logged)).Misused()
		for way, list := range map[string][]sheets.Problem{"a change": found, "the logbook": warned} {
			if got := messages(list); got != test.want {
				t.Errorf("%s, by %s: %q, expected %q", test.name, way, got, test.want)
			}
		}
	}
}

// TestDates: a case was on the day of its column of dates. Where that is a given's, the
// day is about something else, unless it is that of the round.
func TestDates(t *testing.T) {
	for _, test := range []struct{ column, want string }{
		{"date", "first has readings of 2062-02-01, which is still to come: today is 2026-08-03"},
		{"read_on", "first has readings of 2062-02-01, which is still to come: today is 2026-08-03"},
		{"kept_since", ""},
	} {
		book := strings.NewReplacer("HOURS", "1050", "DAY", "", "SIZE", "20").Replace(clockBook)
		m, problems := Compile(files(t, "1.csv", book,
			"visits.csv", "visit,"+test.column+",twice\n:unit,date,mm\nfirst,2062-02-01,40\n"),
			Options{Today: time.Date(2026, 8, 3, 12, 0, 0, 0, time.UTC)})
		if m == nil {
			t.Fatalf("%s: %s", test.column, told(problems))
		}
		if got := messages(m.Misused()); got != test.want {
			t.Errorf("%s: %q, expected %q", test.column, got, test.want)
		}
	}
}

// TestFallen: a meter that shows less than in the case before, by the dates, not by the
// lines. What was never done was done at 0.
func TestFallen(t *testing.T) {
	for _, test := range []struct{ name, cases, want string }{
		{"on", "first,2026-01-05,100,50,1\nsecond,2026-02-05,200,50,1\n", ""},
		{"lines in another order", "second,2026-02-05,200,150,1\nfirst,2026-01-05,100,50,1\n", ""},
		{"back", "first,2026-01-05,200,,1\nblank,2026-01-10,,,1\nsecond,2026-02-05,100,,1\nthird,2026-03-05,150,,1\n",
			"hours_run 100 h of second (2026-02-05) is less than 200 h of first (2026-01-05): " +
				"a meter does not run back"},
		{"one visit too high", "a,2026-01-05,200,,1\nb,2026-02-05,9000,,1\nc,2026-03-05,300,,1\nd,2026-04-05,400,,1\n",
			"hours_run 300 h of c (2026-03-05) is less than 9000 h of b (2026-02-05): a meter does not run back"},
		{"on the same day", "first,2026-01-05,200,,1\nsecond,2026-01-05,100,,1\n", ""},
		{"without a day", "first,2026-01-05,200,,1\nsecond,,100,,1\n", ""},
		{"what was done by the meter", "first,2026-01-05,,400,1\nsecond,2026-02-05,,300,1\n",
			"done_at 300 h of second (2026-02-05) is less than 400 h of first (2026-01-05): a meter does not run back"},
		{"never done", "first,2026-01-05,,400,1\nsecond,2026-02-05,,0,1\n", ""},
		{"what is no meter", "first,2026-01-05,,,9\nsecond,2026-02-05,,,8\n", ""},
	} {
		book := strings.NewReplacer("HOURS", "", "DAY", "", "SIZE", "20").Replace(clockBook)
		m, problems := Compile(files(t, "1.csv", book, "visits.csv",
			"visit,date,hours_run,done_at,lifetime,twice\n:unit,date,h,h,h,\n"+
				strings.ReplaceAll(test.cases, "\n", ",\n")), Options{})
		if m == nil {
			t.Fatalf("%s: %s", test.name, told(problems))
		}
		if got := messages(m.Misused()); got != test.want {
			t.Errorf("%s: %q, expected %q", test.name, got, test.want)
		}
	}
}
