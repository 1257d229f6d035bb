package main

import (
	"strings"

	"rambook/calc"
	"rambook/sheets"
	"rambook/units/words"
)

// cutReason cuts `n/a none fitted` into n/a and why. It is not found in other entries,
// n/a alone among them.
func cutReason(entry string) (why string, found bool) {
	first, why, _ := strings.Cut(strings.TrimSpace(entry), " ")
	why = strings.TrimSpace(why)
	return why, why != "" && calc.IsAbsent(first)
}

// withReason puts a reason behind the note of a row.
func withReason(note, why string) string {
	if note == "" {
		return why
	}
	return note + "; " + why
}

// withReasons takes the reason of each entry that is n/a to where reasons stand: behind
// the note of a row. A case has no note of its own, so there the logbook keeps it.
func withReasons(settings []setting, book *sheets.Notebook) ([]setting, error) {
	for i := range settings {
		one := &settings[i]
		why, found := cutReason(one.entry)
		if !found {
			continue
		}
		switch cell := one.spelled(book).(type) {
		case rowCell:
			_, row := quantityRow(book, cell.name)
			if cell.column != "entry" || row == nil || isFormula(row, row.Entry.Text) {
				continue
			}
			note := rowCell{cell.name, "note"}
			for _, other := range settings {
				if other.spelled(book) == cellName(note) {
					return nil, problem("the reason behind n/a goes into the note of "+cell.name+", which is set too",
						"write n/a alone, and the reason into "+note.String())
				}
			}
			one.entry, one.why = "n/a", why
			settings = append(settings, setting{cellName: note, entry: withReason(row.Note.Text, why)})
		case caseCell:
			if unitNow(cell, book) == "text" {
				continue
			}
			if err := keepsReasons(book); err != nil {
				return nil, err
			}
			one.entry, one.why = "n/a", why
		}
	}
	return settings, nil
}

// keepsReasons refuses the reason of a case's n/a where no logbook would keep it.
func keepsReasons(book *sheets.Notebook) error {
	if book.Logbook() != nil {
		return nil
	}
	return problem("there is no "+sheets.LogbookFile+" to keep the reason behind n/a in",
		"write "+words.Quoted("n/a")+" alone, and the reason into a column of the sheet for remarks")
}
