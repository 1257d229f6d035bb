package calc

import (
	"fmt"
	"slices"
	"strings"
	"testing"
)

// TestNameFaults gives formulas with names that stand for nothing, or for
// something else than is needed, and all that is said about each.
func TestNameFaults(t *testing.T) {
	const model = "name,entry,unit\nsetting,25,MPa\nbore,170,mm\ngrade,S235,text\nforce,=setting*bore^2,kN\n"
	const jobs = "job,setting,force,note\n:unit,MPa,kN,text\nfirst,20,,x\n"
	for _, test := range []struct{ formula, want string }{
		{"seting*2", "x.csv:2:5: no quantity, unit or constant is named `seting` (did you mean `setting`?)"},
		{"stuff", "x.csv:2:5: no quantity, unit or constant is named `stuff` " +
			"(add a row with that name, or correct it)"},
		{"let stroke_up = 3; strok_up", "x.csv:2:24: no quantity, unit or constant is named `strok_up` " +
			"(did you mean `stroke_up`?)"},
		{"3*ton", "x.csv:2:7: `ton` is ambiguous (write `tonne`, `uston`, `ukton`, `tonnef`, `ustonf` or `uktonf`)"},
		{"3*psig", "x.csv:2:7: no quantity, unit or constant is named `psig` " +
			"(write `psi`; a pressure here is gauge pressure)"},
		{"slope(jobs.setting, materials.strength)",
			"x.csv:2:25: slope runs over the rows of one sheet, here of jobs and materials " +
				"(put both columns into one sheet, or look one cell up with materials[key].strength)"},
		{"3*degF", "x.csv:2:7: `degF` stands only in unit columns and cells " +
			"(give the temperature its own row in degF; for a difference write K)"},
		{"materials", "x.csv:2:5: `materials` is a sheet, not a quantity (write sheet.column or sheet[key].column)"},
		{"sqrt", "x.csv:2:5: `sqrt` is a function (write sqrt(x))"},
		{"A12*2", "x.csv:2:5: no quantity, unit or constant is named `A12` " +
			"(a formula uses the names of rows, not the places of cells)"},
		{"π*2", "x.csv:2:5: no quantity, unit or constant is named `π` (write pi)"},
		{"sqr(4)", "x.csv:2:5: no function is named `sqr` (did you mean `sqrt`?)"},
		{"frobnicate(4)", "x.csv:2:5: no function is named `frobnicate` (`rambook functions` lists them)"},
		{"if(1 > 2, 3, 4)", "x.csv:2:5: no function is named `if` (a choice is written condition ? a : b)"},
		{"IF(1 > 2, 3, 4)", "x.csv:2:5: no function is named `IF` (a choice is written condition ? a : b)"},
		{"mm(4)", "x.csv:2:5: `mm` is no function (write mm*( to multiply by a bracket)"},
		{"bore(4)", "x.csv:2:5: `bore` is no function (write bore*( to multiply by a bracket)"},
		{"bore.setting", "x.csv:2:5: `bore` is a quantity, not a sheet " +
			"(write the quantity alone, or bore.run for its repeated runs)"},
		{"material.strength", "x.csv:2:5: no sheet is named `material` (did you mean `materials`?)"},
		{"elsewhere.strength", "x.csv:2:5: no sheet is named `elsewhere` " +
			"(a sheet's name is its file name without .csv and without a leading number)"},
		{"model.setting", "x.csv:2:11: `model` is a sheet of quantities " +
			"(a quantity is not read through its sheet; write setting)"},
		{"model.strength", "x.csv:2:11: `model` is a sheet of quantities (only case sheets can be looked into)"},
		{"materials.stength", "x.csv:2:15: sheet materials has no column `stength` (did you mean `strength`?)"},
		{"materials.weight", "x.csv:2:15: sheet materials has no column `weight` " +
			"(its columns are strength, spring and remark)"},
		{"materials.S235", "x.csv:2:15: `S235` is a row of sheet materials, and a column is missing behind it " +
			"(write materials[\"S235\"].column)"},
		{"jobs[\"first\"].force", "x.csv:2:21: jobs.force is computed case by case, since force is a formula " +
			"(model.csv, line 5) (look up a column of data or of a given; if it is one, give the column another name)"},
		{"materials[S235].strength", "x.csv:2:15: `S235` is a row of sheet materials, not a quantity " +
			"(write materials[\"S235\"].strength)"},
		{"materials[S236].strength", "x.csv:2:15: no quantity, unit or constant is named `S236` " +
			"(a formula uses the names of rows, not the places of cells)"},
		{"materials[\"S234\"].strength", "x.csv:2:15: sheet materials has no row `S234` (did you mean `S235`?)"},
		{"materials[\"oak\"].strength", "x.csv:2:15: sheet materials has no row `oak` " +
			"(its rows are `S235` and `S355`)"},
	} {
		_, problems := Compile(files(t, "model.csv", model, "jobs.csv", jobs, "materials.csv", materials,
			"x.csv", fmt.Sprintf("name,entry\nx,\"=%s\"\n", strings.ReplaceAll(test.formula, `"`, `""`))), Options{})
		// What the formula yields may be wrong too.
		if got := withHints(problems); !slices.Contains(strings.Split(got, "\n"), test.want) {
			t.Errorf("%s: got\n%s\nexpected\n%s\n", test.formula, got, test.want)
		}
	}
}

// TestSheetHintsKeepTheirOrder: of sheets that are equally near, always the
// first is hinted at.
func TestSheetHintsKeepTheirOrder(t *testing.T) {
	jobs := "job,length\n:unit,mm\nfirst,5\n"
	for _, test := range []struct{ formula, want string }{
		{"jobs4.length", "x.csv:2:4: no sheet is named `jobs4` (did you mean `jobs1`?)"},
		{"spare", "x.csv:2:4: sheet `spare-1` cannot be read in a formula " +
			"(give its file a name of letters, digits and _)"},
	} {
		for range 30 {
			_, problems := Compile(files(t, "jobs1.csv", jobs, "jobs2.csv", jobs, "jobs3.csv", jobs,
				"spare-1.csv", jobs, "spare-2.csv", jobs, "spare-3.csv", jobs, "x.csv",
				"name,entry\nx,="+test.formula+"\n"), Options{})
			if got := strings.TrimSpace(withHints(problems)); got != test.want {
				t.Fatalf("%s: got %s, expected %s", test.formula, got, test.want)
			}
		}
	}
}

// TestPrecedenceOfNames: before `(` a name is a function, before `.` or `[` a
// sheet, otherwise a let name before a quantity before a unit.
func TestPrecedenceOfNames(t *testing.T) {
	r := checked(t, "max.csv", "key,limit\n:unit,\na,7\n", "a.csv", `name,entry
max,3
bound,=max
called,"=max(1, 2)"
sheet,"=max[""a""].limit"
column,=max(max.limit)
let_quantity,=let max = 5; max*1
let_unit,=let mm = 2; mm
let_inner,=let q = 2; let q = 3*q; q
let_outer,=(let q = 4; q) + max
`)
	for name, want := range map[string]float64{"bound": 3, "called": 2, "sheet": 7, "column": 7, "let_quantity": 5,
		"let_unit": 2, "let_inner": 6, "let_outer": 7} {
		if got := r.find(t, name).Value; got != want {
			t.Errorf("%s is %v, expected %v", name, got, want)
		}
	}
}
