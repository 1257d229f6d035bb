package main

import (
	"archive/zip"
	"encoding/csv"
	"encoding/xml"
	"errors"
	"image/png"
	"io"
	"os"
	"path/filepath"
	"regexp"
	"strconv"
	"strings"
	"testing"
	"time"
	"unicode"
)

// nasty is text that takes over a terminal, a page, a spreadsheet or the order of
// letters where it is written out as it is.
const nasty = "=cmd|' /C calc'!A0\x1b[2J\x1b]0;own\x07\u202etxt.exe\u2066<script>hacked=1</script><img src=x " +
	"onerror=hacked=1>"

// nastyNotebook has it in every sheet that takes text, and one huge cell.
func nastyNotebook(t *testing.T) string {
	t.Helper()
	cell := `"` + strings.ReplaceAll(nasty, `"`, `""`) + `"`
	huge := strings.Repeat("wide ", 12000)
	return notebook(t,
		"1-plate.csv\nname,entry,unit,reading,use,with,spread,doubt,low,high,note\n"+
			"## "+strings.ReplaceAll(nasty, "\n", " ")+"\n"+
			"machine,"+strings.Replace(cell, "=", "@", 1)+",text,,,,,,,,"+cell+"\n"+
			"rated,1000,kN,,,,,,,,"+huge+"\n"+
			"setting,25,MPa,,,"+cell+",,,5,28,"+cell+"\n"+
			"area,450,cm2,,,,1,,,,"+cell+"\n"+
			"displacement,20,cm3/rev,,,,,,,,"+cell+"\n"+
			"force,setting*area,kN,900,,,9,8 %,rated,,"+cell+"\n"+
			"peak,setting,MPa,max(pressing.pressure),,,,,,,"+cell+"\n"+
			"speed,displacement*1450*rev/min/area,mm/s,,,,,,5,,"+cell+"\n"+
			"worn,,mm,,,,,,1,,"+cell+"\n",
		"2-jobs.csv\njob,setting,force,remark\n:unit,MPa,kN,\n"+cell+",20,,"+cell+"\n+1+1,28,,\n@SUM(A1),27,900,\n",
		"3-visits.csv\nvisit,date,setting,force\n:unit,date,MPa,kN\n"+cell+
			",2026-01-01,25,1100\n-second,2026-02-01,25,1090\nthird,2026-03-01,25,1070\n",
		"4-suspects.csv\nsuspect,from,to,unit,prior,next_check,note\n"+
			"setting,10,28,MPa,1,"+cell+","+cell+"\narea,300,460,cm2,1,"+cell+","+cell+"\n",
		"5-pumps.csv\npump,displacement,speed,price\n:unit,cm3/rev,mm/s,\n"+cell+",16,,900\n-b,25,,1200\n",
		"gauges.csv\ngauge,class,span,step,spread,serial,due\n:unit,,MPa,MPa,MPa,text,date\n"+cell+",1,40,0.2,,"+cell+
			",2020-01-01\n",
		"cycles.csv\nphase,log,from,to,note\npressing,log,pressure > 5*MPa,pressure < 5*MPa,"+cell+"\n",
		"log.csv\ntime [s],pressure [MPa]\n0,1\n1,20\n2,25\n3,1\n4,1\n5,22\n6,24\n7,1\n8,1\n",
		"charts.csv\nchart,label,value,over,as,note\n"+cell+","+cell+",force,setting,curve,"+cell+"\n",
		"compares.csv\ncompare,by,better,note\npumps,speed,more,"+cell+"\n",
		"logbook.csv\nwhen,who,what,was,is,with,note\n2026-05-04 08:30:00,"+cell+",force.reading,,900,"+cell+","+
			cell+"\n")
}

// TestNasty runs every command that shows what a notebook holds, in every form,
// and holds each form to what its reader would take for an order.
func TestNasty(t *testing.T) {
	dir := nastyNotebook(t)
	sheet := strings.ReplaceAll(nasty, "\n", " ")
	commands := [][]string{
		{"check"}, {"check", "--short"}, {"check", "--blind"}, {"check", "--sample", "100"},
		{"check", "--case", "jobs[" + sheet + "]"}, {"explain", "force"}, {"explain", "jobs[" + sheet + "].force"},
		{"sweep", "--over", "setting = 20 to 26 by 2 MPa", "--show", "force"},
		{"sweep", "--over", "setting = 20 to 26 by 2 MPa", "--over", "area = 400 to 460 by 20 cm2", "--show", "force"},
		{"solve", "setting", "--until", "force = 900 kN"},
		{"solve", "setting", "area", "--until", "force = 900 kN", "--until", "speed = 9 mm/s"},
		{"solve", "setting", "--until", "force = 1e9 kN"},
		{"best", "setting", "--most", "force"},
		{"compare", "jobs", "--by", "force"}, {"compare", "pumps", "--in", "jobs", "--by", "speed", "--most"},
		{"diagnose"}, {"diagnose", "visits"}, {"diagnose", "visits[" + sheet + "]"},
		{"trend", "visits", "force"}, {"fit", "area", "--cases", "visits"}, {"logbook"},
		{"check", "--units", "us"}, {"best", "setting", "area", "--most", "force"},
		{"report"}, {"report", "--blind"}, {"report", "--blind", "--key"},
	}
	for _, command := range commands {
		forms := []string{"", ".txt", ".md", ".csv", ".json", ".html", ".xlsx"}
		if command[0] == "report" {
			forms = []string{"", ".md", ".html"}
		}
		for _, form := range forms {
			args, file := append(command[:len(command):len(command)], dir), ""
			if form != "" {
				file = filepath.Join(t.TempDir(), "out"+form)
				args = append(args, "-o", file)
			}
			status, out, errOut := obey(args...)
			if status == exitWrong {
				t.Errorf("%q is refused: %s", command, errOut)
				continue
			}
			holdsNoOrder(t, strings.Join(command, " ")+" on stderr", ".txt", errOut)
			if file != "" {
				data, err := os.ReadFile(file)
				if err != nil {
					t.Fatal(err)
				}
				out = string(data)
			}
			if out == "" {
				t.Errorf("%q writes nothing to %s", command, form)
			}
			if form == ".xlsx" {
				workbookHoldsNoOrder(t, file)
				continue
			}
			holdsNoOrder(t, strings.Join(command, " "), form, out)
		}
	}
	for _, picture := range [][]string{
		{"sweep", "--over", "setting = 20 to 26 by 2 MPa", "--show", "force", "--plot"}, {"plot", "log"},
		{"compare", "pumps", "--by", "price", "--least", "--show", "price,speed", "--plot"},
		{"sweep", "--over", "setting = 20 to 26 by 2 MPa", "--over", "area = 400 to 460 by 20 cm2", "--show", "force",
			"--contours", "--plot"},
	} {
		status, out, errOut := obey(append(picture, dir)...)
		if status == exitWrong {
			t.Errorf("%q is refused: %s", picture, errOut)
		}
		holdsNoOrder(t, strings.Join(picture, " "), ".txt", out+errOut)
		file := filepath.Join(t.TempDir(), "out.svg")
		if status, _, errOut = obey(append(picture, dir, "-o", file)...); status == exitWrong {
			t.Errorf("%q is refused: %s", picture, errOut)
			continue
		}
		holdsNoOrder(t, strings.Join(picture, " "), ".svg", readFile(t, file))
		file = filepath.Join(t.TempDir(), "out.png")
		if status, out, errOut = obey(append(picture, dir, "-o", file)...); status == exitWrong {
			t.Errorf("%q is refused: %s", picture, errOut)
			continue
		}
		holdsNoOrder(t, strings.Join(picture, " ")+" on the screen", ".txt", out+errOut)
		if _, err := png.Decode(strings.NewReader(readFile(t, file))); err != nil {
			t.Errorf("%q draws no PNG: %v", picture, err)
		}
	}
}

// TestNastyChanges runs every command that changes a notebook, and shows on the
// screen what it has changed or why not.
func TestNastyChanges(t *testing.T) {
	sheet := strings.ReplaceAll(nasty, "\n", " ")
	export := filepath.Join(t.TempDir(), "export.txt")
	if err := os.WriteFile(export, []byte("time [s],\"P "+nasty+" [bar]\",T "+sheet+"\n"+
		"0,1,"+sheet+"\n"+
		"1,2,x\n"+
		"2,3,y\n"),
		0o666); err != nil {
		t.Fatal(err)
	}
	for _, test := range []struct {
		args    []string
		answers string
	}{
		{[]string{"set", "machine=@" + sheet}, ""},
		{[]string{"set", "jobs[" + sheet + "].setting=21"}, ""},
		{[]string{"set", "force.note=" + sheet, "--who", sheet, "--note", sheet}, ""},
		{[]string{"set", sheet + "=5"}, ""}, {[]string{"set", "setting=" + sheet}, ""},
		{[]string{"record", "jobs", "new " + sheet, "setting=21", "remark=" + sheet}, ""},
		{[]string{"record", "jobs", sheet, "setting=21"}, ""},
		{[]string{"undo"}, ""}, {[]string{"rename", "setting", "relief_setting"}, ""},
		{[]string{"rename", "setting", sheet}, ""}, {[]string{"restate", "us"}, ""}, {[]string{"aside", "visits"}, ""},
		{[]string{"aside", sheet}, ""}, {[]string{"fit", "area", "--cases", "visits", "--write"}, ""},
		{[]string{"deal", "jobs", "--students", "Ada " + sheet}, ""}, {[]string{"deal", "jobs", "--students", "2"}, ""},
		{[]string{"fill"}, "?\n" + sheet + "\n- " + sheet + "\nworn=" + sheet + "\nmachine=" + sheet +
			"\n?\n<\n2\n2\nq\n"},
		{[]string{"fill", "--again"}, strings.Repeat("?\n"+sheet+"\n"+sheet+"\n", 12)},
		{[]string{"fill", "--only", "visits"}, "\n\nfifth " + sheet + "\n21\n"},
		{[]string{"take", export, "--replace", "-o", "log.csv"}, ""},
		{[]string{"take", export, "--replace", "-o", "log.csv", "--columns", sheet}, ""},
		{[]string{"check", "--only", sheet}, ""}, {[]string{"check", "--case", sheet}, ""},
		{[]string{"explain", sheet}, ""}, {[]string{"rename", sheet, "other"}, ""}, {[]string{"fit", sheet}, ""},
		{[]string{"sweep", "--over", sheet + " = 0 to 1 by 0.5 MPa", "--show", "force"}, ""},
		{[]string{"sweep", "--over", "setting = 20 to 26 by 2 MPa", "--show", sheet}, ""},
		{[]string{"solve", sheet, "--until", "force = 900 kN", "--between", "-1 to 1 MPa"}, ""},
		{[]string{"best", sheet, "--most", "force", "--within", sheet + " = -1 to 1 MPa"}, ""},
		{[]string{"plot", sheet}, ""}, {[]string{"trend", sheet, "force"}, ""},
		{[]string{"compare", "pumps", "--by", sheet}, ""}, {[]string{"solve", "setting", "--until", sheet}, ""},
		{[]string{"convert", sheet, "MPa"}, ""}, {[]string{"help", sheet}, ""}, {[]string{sheet}, ""},
		{[]string{"report", "--verify", sheet}, ""}, {[]string{"logbook", sheet}, ""},
	} {
		dir := nastyNotebook(t)
		if err := os.WriteFile(filepath.Join(dir, "3-visits.csv"), []byte(strings.Replace(
			readFile(t, filepath.Join(dir, "3-visits.csv")), "third",
			"fourth,"+time.Now().Format(time.DateOnly)+",,\nthird",
			1)), 0o666); err != nil {
			t.Fatal(err)
		}
		t.Chdir(dir)
		var out, errOut strings.Builder
		run(test.args, strings.NewReader(test.answers), &out, &errOut)
		if out.Len()+errOut.Len() == 0 {
			t.Errorf("%q says nothing", test.args)
		}
		holdsNoOrder(t, strings.Join(test.args, " "), ".txt", out.String())
		holdsNoOrder(t, strings.Join(test.args, " ")+" on stderr", ".txt", errOut.String())
	}
}

var markup = regexp.MustCompile(`<script|<img|onerror=hacked=1>[^&]*</`)

// holdsNoOrder holds a text of one form to what must not stand in it.
func holdsNoOrder(t *testing.T, what, form, text string) {
	t.Helper()
	for _, r := range text {
		turns := r >= 0x202a && r <= 0x202e || r >= 0x2066 && r <= 0x2069       // the order of letters
		if r != '\n' && unicode.Is(unicode.Cc, r) || turns && form != ".json" { // a program needs the text as it is
			at := strings.IndexRune(text, r)
			t.Errorf("%q holds %U in %q: %.80q", what, r, form, text[max(0, at-60):])
			break
		}
	}
	switch form {
	case ".html", ".svg":
		if found := markup.FindString(text); found != "" {
			t.Errorf("%s holds %s in %s", what, found, form)
		}
		if form == ".svg" {
			for decoder := xml.NewDecoder(strings.NewReader(text)); ; {
				if _, err := decoder.Token(); errors.Is(err, io.EOF) {
					break
				} else if err != nil {
					t.Errorf("%s is no XML: %v", what, err)
					break
				}
			}
		}
	case ".csv":
		records, err := csv.NewReader(strings.NewReader(text)).ReadAll()
		if err != nil {
			t.Errorf("%s is no CSV: %v", what, err)
		}
		for _, record := range records {
			for _, cell := range record {
				if _, err := strconv.ParseFloat(cell, 64); err != nil && cell != "" &&
					strings.ContainsRune("=+-@\t", rune(cell[0])) {
					t.Errorf("%s: a spreadsheet would run the cell %.40q", what, cell)
				}
			}
		}
	}
}

// workbookHoldsNoOrder holds a workbook to well-formed parts without a formula.
func workbookHoldsNoOrder(t *testing.T, file string) {
	t.Helper()
	workbookOf(t, file) // reads every part as XML
	archive, err := zip.OpenReader(file)
	if err != nil {
		t.Fatal(err)
	}
	defer archive.Close()
	for _, part := range archive.File {
		in, err := part.Open()
		if err != nil {
			t.Fatal(err)
		}
		text, err := io.ReadAll(in)
		in.Close()
		if err != nil || strings.Contains(string(text), "<f>") || strings.Contains(string(text), "\x1b") {
			t.Errorf("%s of %s holds an order, %v", part.Name, file, err)
		}
	}
}
