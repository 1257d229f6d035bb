package main

import (
	"bytes"
	"path/filepath"
	"slices"
	"strings"

	"rambook/calc"
	"rambook/cmd/rambook/page"
	"rambook/sheets"
	"rambook/sheets/log"
	"rambook/units/words"
)

// This file is about a log that is taken into a notebook whose phases cut it.

// headOfLog keeps the beginning of what is written to a log.
type headOfLog struct {
	data bytes.Buffer
	cut  bool // there was more
}

// mostHead is how much of a log is kept: its header, and what tells a short one whole.
const mostHead = 1 << 18

func (h *headOfLog) Write(p []byte) (int, error) {
	if room := mostHead - h.data.Len(); len(p) > room {
		h.data.Write(p[:room])
		h.cut = true
	} else {
		h.data.Write(p)
	}
	return len(p), nil
}

// refuseMisfit refuses a log that the phases of its notebook cannot cut, before it is
// put in place: without the columns that they name no command reads the notebook any
// more.
func (c *takeCommand) refuseMisfit(head *headOfLog, e *log.Export) error {
	folder := filepath.Dir(c.Output)
	if !sheets.IsNotebook(folder) {
		return nil
	}
	book, _ := sheets.Open(folder)
	data := head.data.Bytes()
	data = data[:bytes.LastIndexByte(data, '\n')+1]
	taken, _ := sheets.Read(c.Output, data)
	if book == nil || taken == nil || taken.Kind != sheets.Log {
		return nil
	}
	_, before := compile(book, nil)
	with := *book
	with.Sheets = append(slices.DeleteFunc(slices.Clone(book.Sheets),
		func(s *sheets.Sheet) bool { return s.Name == taken.Name }), taken)
	_, after := compile(&with, nil)
	problems := slices.DeleteFunc(fresh(after, before), func(p sheets.Problem) bool {
		return head.cut && p.Lacks == ""
	})
	if len(problems) == 0 {
		return nil
	}
	const nothing = "nothing is written; another folder takes it as it is"
	missing := missingColumns(problems)
	if len(missing) == 0 {
		last := &problems[len(problems)-1]
		last.Hint = strings.TrimPrefix(last.Hint+"; "+nothing, "; ")
		return wrong(problems...)
	}
	var others []string
	for i, col := range e.Columns {
		if i != e.Time {
			others = append(others, page.Printable(col.Header))
		}
	}
	hint := nothing
	if len(others) > 0 {
		hint = "say which is which, as in --columns \"" + others[0] + "=" + missing[0] + "\"; the export has " +
			words.Listed(others, page.MostNames) + "; " + nothing
	}
	return wrong(sheets.Problem{File: c.Output, Message: "the notebook's phases want " +
		words.Listed(words.AllQuoted(missing), page.MostNames) + " of this log, but no column has " +
		map[bool]string{true: "that name", false: "these names"}[len(missing) == 1], Hint: hint})
}

// missingColumns are those that problems say a log lacks.
func missingColumns(problems []sheets.Problem) []string {
	var names []string
	for _, p := range problems {
		if calc.IsName(p.Lacks) && !slices.Contains(names, p.Lacks) {
			names = append(names, p.Lacks)
		}
	}
	return names
}
