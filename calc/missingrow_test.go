package calc_test

import (
	"strings"
	"testing"

	"rambook/calc"
	"rambook/sheets"
)

// TestMissingRowsAreNamed: a name that the starter has is told with the sheet that
// it stood in, and never taken for another that sounds alike.
func TestMissingRowsAreNamed(t *testing.T) {
	list, _ := sheets.StarterFiles("press")
	told := 0
	for _, file := range list {
		sheet, _ := sheets.Read(file.Name, file.Data)
		for i := range sheet.Rows {
			row := &sheet.Rows[i]
			if unit := row.Unit.Text; unit == "text" || unit == "tick" || unit == "verdict" || unit == "date" {
				continue
			}
			if hint := hintFor(t, "rod_rating,31.5,MPa\n"+
				"needs,"+row.Name.Text+"*2,"+row.Unit.Text+"\n"); row.Name.Text !=
				"rod_rating" && !strings.Contains(hint, "it stood in sheet "+sheet.Name+": `rambook new DIR --only "+
				sheet.Name+"`") {
				t.Errorf("%s of the sheet %s: %s", row.Name.Text, sheet.Name, hint)
			}
			told++
			break // one of each sheet
		}
	}
	if told < 12 {
		t.Errorf("%d sheets", told)
	}
	if hint := hintFor(t, "rod_rating,31.5,MPa\nneeds,hose_rating*2,MPa\n"); strings.Contains(hint, "rod_rating") ||
		!strings.Contains(hint, "sheet plate") {
		t.Errorf("hose_rating beside rod_rating: %s", hint)
	}
	if hint := hintFor(t, "rod_rating,31.5,MPa\nneeds,rod_ratin*2,MPa\n"); hint != "did you mean `rod_rating`?" {
		t.Errorf("a slip of the hand: %s", hint)
	}
}

// hintFor is what to do about the one thing that is wrong with some rows.
func hintFor(t *testing.T, rows string) string {
	t.Helper()
	sheet, problems := sheets.Read("shop/1-own.csv", []byte("name,entry,unit\n"+rows))
	if len(problems) == 0 {
		_, problems = calc.Compile(&sheets.Notebook{Path: "shop", Sheets: []*sheets.Sheet{sheet}}, calc.Options{})
	}
	if len(problems) != 1 {
		t.Fatalf("%s: %d problems: %v", rows, len(problems), problems)
	}
	return problems[0].Hint
}
