package calc_test

import (
	"strings"
	"testing"

	"rambook/calc"
	"rambook/sheets"
	"rambook/units"
)

// TestRestateKinds restates a notebook with one sheet of every kind that holds
// numbers, and reads what stands in each cell that changes. 25.4 mm are an inch
// and 6894.757 Pa a psi (NIST SP 811, Appendix B); 0 degC are 32 degF.
func TestRestateKinds(t *testing.T) {
	files := []sheets.StarterFile{
		{Name: "1-model.csv", Data: []byte("name,entry,example,unit,reading,spread,doubt,low,high\n" +
			"bore,254,127,mm,,2.54,,25.4,508\n" +
			"warm,assumed 40 ± 10,,degC,,,,0,100\n" +
			"own,20 MPa,,mm,,,,,\n" +
			"height,runs 25.4 50.8,,mm,,,,,\n" +
			"sought,,,mm,,,,,\n" +
			"area,pi/4*bore^2,,cm2,6.4516,1 %,2 % of value,,\n" +
			"across,bore,,cm,,,,1,99\n" + // is there for its unit, and keeps it
			"share,50,,%,,1,,,\n")},
		{Name: "2-sought.csv", Data: []byte("unknown,from,to,unit,until,note\n" +
			"sought,25.4,50.8,,bore = 254,\nheight,2.54,5.08,cm,508 = bore,\n")},
		{Name: "3-suspects.csv", Data: []byte("suspect,from,to,unit,prior,next_check,note\n" +
			"bore,127,254,,2,,\n" +
			"bore,10,20,cm,,,\n")},
		{Name: "4-list.csv", Data: []byte("item,bore,length,word,area,plain,across\n:unit,,mm,mm,,,\n:spread,2.54,5 %,,,,\n" +
			":low,25.4,,,,,1\nfirst,127,25.4,about 3,6.4516,5,20\nsecond,254 mm,,,,,\n")},
		{Name: "5-charts.csv", Data: []byte("chart,label,value,over,as,note\n" +
			"force,a,area,bore,,\n" +
			"force,b,area,25.4,point,\n" +
			"other,c,area,25.4,point,\n")},
		{Name: "6-phases.csv", Data: []byte("phase,log,from,to,for,note\n" +
			"down,run,position < 300*mm,position > 3*mm,10 ms,\n")},
		{Name: "7-ties.csv", Data: []byte("given,with,correlation,note\nbore,warm,0.5,\n")},
		{Name: "8-compared.csv", Data: []byte("compare,in,by,better,weight,show,where,note\n" +
			"list,,area,,,,bore > 3*mm,\n")},
		{Name: "logbook.csv", Data: []byte("when,who,what,was,is,with,note\n" +
			"2026-05-04 10:00,A,bore.entry,254,127,,\n")},
	}
	book := &sheets.Notebook{Path: "shop"}
	for _, f := range files {
		s, problems := sheets.Read(f.Name, f.Data)
		if len(problems) > 0 {
			t.Fatal(problems)
		}
		book.Sheets = append(book.Sheets, s)
	}
	got := map[string]string{}
	for _, s := range book.Sheets {
		texts := map[sheets.Cell]string{}
		for _, e := range calc.Restate(book, units.US, 0) {
			if e.Sheet == s {
				texts[e.Cell] = e.Text
			}
		}
		for i := range files {
			if files[i].Name != s.File {
				continue
			}
			data, err := sheets.ReplaceCells(files[i].Data, texts)
			if err != nil {
				t.Fatal(err)
			}
			got[s.File] = string(data)
		}
	}
	want := map[string]string{
		"1-model.csv": "name,entry,example,unit,reading,spread,doubt,low,high\n" +
			"bore,10,5,inch,,0.1,,1,20\n" +
			"warm,assumed 104 ± 18,,degF,,,,32,212\n" +
			"own,20 MPa,,inch,,,,,\n" +
			"height,runs 1 2,,inch,,,,,\n" +
			"sought,,,inch,,,,,\n" +
			"area,pi/4*bore^2,,in2,1,1 %,2 % of value,,\n" +
			"across,bore,,cm,,,,1,99\n" +
			"share,50,,%,,1,,,\n",
		"2-sought.csv": "unknown,from,to,unit,until,note\nsought,1,2,,bore = 10,\nheight,1,2,inch,20 = bore,\n",
		"3-suspects.csv": "suspect,from,to,unit,prior,next_check,note\nbore,5,10,,2,,\n" +
			"bore,3.93700787401575,7.8740157480315,inch,,,\n",
		"4-list.csv": "item,bore,length,word,area,plain,across\n:unit,,inch,mm,,,\n:spread,0.1,5 %,,,,\n" +
			":low,1,,,,,1\nfirst,5,1,about 3,1,5,20\nsecond,254 mm,,,,,\n",
		"5-charts.csv": "chart,label,value,over,as,note\nforce,a,area,bore,,\nforce,b,area,1,point,\n" +
			"other,c,area,25.4,point,\n",
	}
	for i := range files {
		name, text := files[i].Name, want[files[i].Name]
		if text == "" {
			text = string(files[i].Data) // it holds no number in a unit of another cell
		}
		if got[name] != text {
			t.Errorf("%s:\n%s\nexpected\n%s", name, got[name], text)
		}
	}
	// What is set aside keeps its unit, and so does what is in the unit of its rows.
	book.Aside, book.Sheets = book.Sheets[:1], book.Sheets[1:]
	for _, e := range calc.Restate(book, units.US, 0) {
		if e.Sheet.Name == "model" || e.Sheet.Name == "charts" || strings.Contains(e.Cell.Text, "127") {
			t.Errorf("%s: %s becomes %s", e.Sheet.File, e.Cell.Text, e.Text)
		}
	}
}

// TestRestateProducts: a number times a unit in a formula is restated where it keeps its
// digits, 1 MPa being 10 bar (SI Brochure), and nowhere else.
func TestRestateProducts(t *testing.T) {
	for _, test := range []struct {
		system       units.System
		formula, was string // of the entry of a row in MPa
	}{
		{units.Bar, "2.5*bar + p", "0.25*MPa + p"},
		{units.SI, "0.25*MPa + p", "2.5*bar + p"},
		{units.Bar, "max(p, 0*bar)/2", "max(p, 0*MPa)/2"},
		{units.Bar, "'= 70 * bar - 0.7*bar", "'= 7 * MPa - 0.07*MPa"},
		{units.Bar, "p*1.5*MPa/p", "p*1.5*MPa/p"},                 // (p*1.5)*MPa
		{units.Bar, "p/0.25*MPa", "p/0.25*MPa"},                   // (p/0.25)*MPa
		{units.Bar, "0.25*MPa^2/p", "0.25*MPa^2/p"},               // 0.25*(MPa^2)
		{units.Bar, "2.5*bar/s*t + p", "0.25*MPa/s*t + p"},        // (0.25*MPa)/s
		{units.US, "p + 0.25*MPa", "p + 0.25*MPa"},                // 36.26 psi
		{units.Bar, "p*(t > 2*s ? 1 : 2)", "p*(t > 2*s ? 1 : 2)"}, // the same in bar
		{units.Bar, "p + 3*bar", "p + 3*bar"},                     // is in bar
		{units.Bar, "let x = 10*bar; x + p", "let x = 1*MPa; x + p"},
	} {
		s, problems := sheets.Read("1.csv", []byte("name,entry,unit\np,20,MPa\nt,1,s\nq,\""+test.was+"\",MPa\n"))
		if len(problems) > 0 {
			t.Fatal(problems)
		}
		got := test.was
		for _, e := range calc.Restate(&sheets.Notebook{Path: "shop", Sheets: []*sheets.Sheet{s}}, test.system, 0) {
			if e.Cell == s.Rows[2].Entry {
				got = e.Text
			}
		}
		if got != test.formula {
			t.Errorf("%s in %s: %s, expected %s", test.was, test.system, got, test.formula)
		}
	}
}
