package main

import (
	"bytes"
	"encoding/csv"
	"errors"
	"slices"
	"strings"

	"rambook/calc"
	"rambook/sheets"
	"rambook/units/words"
)

// inUnit parts what is to be shown from the unit to show it in: `heat in hp_mech`.
var inUnit = words.Pattern(`^(.*\S)\s+in\s+(\S.*)$`)

// plainName is what --show names most of the time: a quantity or a column.
var plainName = words.Pattern(`^\s*[\pL_][\pL\pN_]*\s*$`)

// showing gives the notebook a row for each word of --show that is no name: for a
// look a quantity may stand in another unit, and an expression beside the others, as
// in `heat in hp_mech` and `specific = heat/flow in kJ/L`. It returns the names to
// show, and the model as it is where all are names. aside are formulas that the
// command gives values.
func (f notebookFlags) showing(model *calc.Model, show []string, aside ...string) (*calc.Model, []string, error) {
	var names []string
	var data bytes.Buffer
	w := csv.NewWriter(&data)
	_ = w.Write([]string{"name", "entry", "unit"}) // a buffer takes everything
	for _, text := range show {
		if plainName().MatchString(text) {
			names = append(names, text)
			continue
		}
		expression, unit := strings.TrimSpace(text), ""
		if parts := inUnit().FindStringSubmatch(expression); parts != nil {
			expression, unit = parts[1], parts[2]
		}
		name, rest, named := strings.Cut(expression, "=")
		if named && plainName().MatchString(name) && !strings.HasPrefix(rest, "=") {
			name, expression = strings.TrimSpace(name), strings.TrimSpace(rest)
		} else if name = shownName(expression); unit != "" {
			name += "_" + shownName(unit)
		}
		switch {
		case expression == "":
			return nil, nil, problem("--show \""+text+"\" shows nothing",
				"name a quantity, a quantity in another unit as `heat in hp_mech`, "+
					"or an expression as `heat/flow in kJ/L`")
		case slices.Contains(names, name):
			return nil, nil, problem("--show has two of the name "+words.Quoted(name),
				"give one of them another name, as in `other = "+expression+"`")
		case unit == "":
			unit = model.UnitOf(expression)
		}
		names = append(names, name)
		_ = w.Write([]string{name, "=" + expression, unit})
	}
	if w.Flush(); slices.Equal(names, show) {
		return model, show, nil
	}
	sheet, problems := sheets.Read("--show.csv", data.Bytes())
	if len(problems) > 0 {
		return nil, nil, wrong(problems...)
	}
	wider, err := f.widened(model, sheet, aside...)
	if known := (*problemsError)(nil); errors.As(err, &known) {
		for i := range known.Problems {
			if p := &known.Problems[i]; p.File == sheet.File { // a place that no user has written
				p.File, p.Line, p.Column = "--show", 0, 0
			}
		}
	}
	return wider, names, err
}

// shownName makes a name of an expression: its words, joined.
func shownName(expression string) string {
	words := strings.FieldsFunc(expression, func(r rune) bool {
		return r != '_' && (r < '0' || r > '9') && (r < 'A' || r > 'Z') && (r < 'a' || r > 'z')
	})
	name := strings.Join(words, "_")
	if name == "" || name[0] >= '0' && name[0] <= '9' {
		name = "shown_" + name
	}
	return name
}
