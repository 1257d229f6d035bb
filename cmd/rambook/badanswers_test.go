package main

import (
	"os"
	"path/filepath"
	"slices"
	"strings"
	"testing"
)

// badAnswers are what people type by mistake, what the walk says of it, and the
// question that it is an answer to.
var badAnswers = []struct{ to, answer, says string }{
	{"number", "160 kN", "160 kN is a force, but the row is in mm"},
	{"number", "160 s", "160 s is a time, but the row is in mm"},
	{"number", "16,5", "write `16.5`"},
	{"number", "1.234,5", "write `1234.5`"},
	{"number", "16.5.2", "`16.5.2` is not a number"},
	{"number", "1.2.3.4", "`1.2.3.4` is not a number"},
	{"number", "2026-05-04", "2026-05-04 is a date, but the row is in mm"},
	{"number", "n/a", "Why is bore n/a?"},
	{"number", "-", "bore=- once more keeps it"},
	{"number", "=160", "a formula is written into the sheet, or with rambook set"},
	{"number", "2*80", "or ? for more; a formula is written into the sheet, or with rambook set"},
	{"number", `"160"`, "`\"160\"` is no number"},
	{"number", `160 "mm"`, "unexpected `\"` in a unit"},
	{"number", strings.Repeat("x", 60000), "…` is not a number"},
	{"number", strings.Repeat("1", 60000), "is out of range"},
	{"number", "16\x000", "a sign that is no letter"},
	{"number", "\x1b[A160", "a sign that is no letter, such as an arrow key sends"},
	{"number", "16\xff0", "the answer is not in UTF-8"},
	{"number", "16", "16 mm is far from 160 mm"},
	{"number", "-160", "-160 mm is below zero"},
	{"number", "<", "1/3 bore"},
	{"number", "?\n?\n?", "Answer with a number in mm"},
	{"number", "help", "Answer with a number in mm"},
	{"number", "160 161 x", "of these runs `x` is no number"},
	{"number", "160 16,1 161", "of these runs `16,1` is no number"},
	{"number", "160, 161", "may be one number or several runs"},
	{"number", "160 161 kN", "may be one number or several runs"},
	{"number", "160.1 160.2 kN", "160.1 kN is a force, but the row is in mm"},
	{"number", "runs 160", "repeated runs are two or more numbers"},
	{"number", "1e400", "the number `1e400` is out of range"},
	{"number", "inf", "`inf` is not a number"},
	{"number", "0x10", "`0x10` is not a number"},
	{"number", "160mm", "put a blank before the unit: write `160 mm`"},
	{"number", "160 MM", "did you mean `mm`?"},
	{"number", "160 +- 2", "how far it may be off stands in the column spread"},
	{"number", "~160", "leave out the sign"},
	{"number", "yes", "`yes` is no number; answer with a number in mm, or ? for more"},
	{"number", "bore=", "nothing stands behind bore=; bore stays blank"},
	{"number", "bore=160 kN", "160 kN is a force"},
	{"number", "bor=160", "there is no row `bor`; did you mean `bore`?"},
	{"number", "6 1/4 inch", "write `6.25 inch`"},
	{"number", "15/16", "write `0.9375`"},
	{"number", `6"`, "write `6 inch`"},
	{"number", "quit", "0 answers"},
	{"number", "16", "0 answers, 0 n/a, 0 skipped, 1 not taken."},
	{"date", "yesterday", "`yesterday` is no date; write it as 20"},
	{"date", "4.5.2026", "`4.5.2026` is no date"},
	{"date", "2026-13-01", "`2026-13-01` is no date"},
	{"date", "160 mm", "`160 mm` is no date"},
	{"tick", "maybe", "`maybe` is neither yes nor no"},
	{"tick", "yes no", "`yes no` is neither yes nor no"},
	{"text", "steal", "`steal` matches none of the choices in the formulas"},
	{"text", "=1", "the formula yields a plain number, but the row is a text"},
	{"temperature", "-300", "`-300` is below absolute zero; nothing is colder than -273.15 degC"},
	{"temperature", "40 C", "40 C is an electric charge"},
	{"plain", "5 mm", "5 mm is a length, but the row is a plain number"},
	{"gauge", "1.6 %", "M1 has no span"},
	{"gauge", "1.6, 40, 0.5, T-401, 2028-01-12, x", "too many commas"},
	{"gauge", "abc", "`abc` is not a number"},
	{"gauge", "1.6, 40 kN", "M1 measures force, but setting is in MPa"},
	{"gauge", "1,6", "`1,6` may be one number or two; write 1.6, or 1, 6 with a blank"},
	{"gauge", "1.6, 400 bar, 0,5 MPa", "`0,5` may be one number or two"},
	{"gauge", "- none", "a gauge in use needs a class or a spread"},
	{"gauge", "due tomorrow", "a date is needed here"},
	{"case", "n/a", "Why is setting n/a?"},
	{"case", "5 kN", "5 kN is a force, but the column is in MPa"},
	{"reading", "402.1 MPa", "402.1 MPa is a pressure, but the row is in kN"},
	{"reading", "- broken", "this is a reading or a text of a case"},
	{"reading", "4021", "the decimal point slipped"},
}

// badAnswerSheets are notebooks in which the first question is of one kind.
var badAnswerSheets = map[string][]string{
	"number": {"1-plate.csv\n" +
		"name,entry,example,unit,spread\n" +
		"bore,,160,mm,\n" +
		"force,20*MPa*pi/4*bore^2,,kN,2\n" +
		"made,,,date,\n"},
	"date": {"1-plate.csv\nname,entry,unit\nbuilt,,date\n"},
	"tick": {"1-plate.csv\nname,entry,unit\nlocked,,tick\n"},
	"text": {"1-plate.csv\nname,entry,unit\nmaterial,,text\n" +
		"strength,\"material == \"\"steel\"\" ? 250*MPa : 150*MPa\",MPa\n"},
	"temperature": {"1-plate.csv\nname,entry,unit\noil,,degC\n"},
	"plain":       {"1-plate.csv\nname,entry,unit\nteeth,,\n"},
	"gauge": {"1-plate.csv\nname,entry,unit,with\nsetting,,MPa,M1\n",
		"gauges.csv\ngauge,class,span,step,serial,due\n:unit,,MPa,MPa,text,date\nM1,,,,,\n"},
	"case": {"1-plate.csv\nname,entry,unit\nsetting,,MPa\nforce,setting*100*cm^2,kN\n",
		"2-jobs.csv\njob,setting,force\n:unit,MPa,kN\none,,\n"},
	"reading": {"1-plate.csv\nname,entry,unit,spread\nforce,20*MPa*pi/4*(160*mm)^2,kN,2\n"},
}

// TestBadAnswers types what is no answer: it is told in a few words, nothing that
// stands in a sheet changes, and the walk goes on.
func TestBadAnswers(t *testing.T) {
	for _, test := range badAnswers {
		files := badAnswerSheets[test.to]
		dir := notebook(t, files...)
		sheets := func() (all []string) {
			for _, name := range others(t, dir, "logbook.csv") {
				all = append(all, readText(t, filepath.Join(dir, name)))
			}
			return all
		}
		before := sheets()
		var out, ended strings.Builder
		shown := test.answer[:min(len(test.answer), 40)]
		status := run([]string{"fill", "--who", "Ada", dir}, strings.NewReader(test.answer), &out, &ended)
		_, said, _ := strings.Cut(out.String(), "> ")
		_, said, _ = strings.Cut(said, "\n") // what was typed is shown first
		if one := strings.Join(strings.Fields(said), " "); !strings.Contains(one, test.says) {
			t.Errorf("%q to a %s: want %q, got\n%s", shown, test.to, test.says, said)
		}
		asks := slices.Contains([]string{"<", "?\n?\n?", "help", "quit"}, test.answer)
		if refused := strings.Contains(said, "1 not taken."); refused == asks || refused != (status == exitWrong) ||
			refused != strings.HasPrefix(ended.String(), "answers:1: ") {
			t.Errorf("%q to a %s: status %d, at the end\n%s\n%s", shown, test.to, status, said, ended.String())
		}
		if told, _, _ := strings.Cut(said, "/3 "); test.says != "1/3 bore" && !strings.Contains(test.answer, "?") &&
			test.answer != "help" && len(told) > 300 {
			t.Errorf("%q to a %s is told in %d letters:\n%s", shown, test.to, len(told), told)
		}
		if after := sheets(); !slices.Equal(after, before) {
			t.Errorf("%q to a %s leaves\n%s", shown, test.to, strings.Join(after, "\n"))
		}
		log, err := os.ReadFile(filepath.Join(dir, "logbook.csv"))
		if err != nil || strings.Count(string(log), "\n") > 1 {
			t.Errorf("%q to a %s: the logbook holds %q, %v", shown, test.to, log, err)
		}
	}
	if n := len(badAnswers); n < 60 {
		t.Errorf("%d bad answers", n)
	}
}
