package main

import (
	"bytes"
	"fmt"
	"path/filepath"
	"slices"
	"strconv"
	"strings"

	"rambook/calc"
	"rambook/cmd/rambook/page"
	"rambook/sheets"
	"rambook/sheets/log"
	"rambook/units"
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
func (c *takeCommand) refuseMisfit(head *headOfLog, e *log.Export, wanted []log.Wanted) error {
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
	_, after := compile(replacing(book, taken), nil)
	problems := slices.DeleteFunc(fresh(after, before), func(p sheets.Problem) bool {
		return head.cut && p.Track == ""
	})
	if len(problems) == 0 {
		return nil
	}
	const nothing = "nothing is written; another folder takes it as it is"
	missing := missingColumns(problems)
	if p := c.unsuited(problems, data, book, e, wanted); p != nil {
		p.Hint = "nothing is written; " + p.Hint
		return wrong(*p)
	}
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
		if p.Lacks && calc.IsName(p.Track) && !slices.Contains(names, p.Track) {
			names = append(names, p.Track)
		}
	}
	return names
}

// unsuited is the one problem of columns that formulas read in other units than the log
// has for them, where nothing else is wrong: units that the export does not give, or
// channels in each other's places. It has the command that takes them.
func (c *takeCommand) unsuited(problems []sheets.Problem, data []byte, book *sheets.Notebook, e *log.Export,
	wanted []log.Wanted) *sheets.Problem {
	var names []string
	places := 0
	for _, p := range problems {
		if p.Track == "" || p.Lacks {
			return nil
		}
		places += int(p.Places)
		if !slices.Contains(names, p.Track) {
			names = append(names, p.Track)
		}
	}
	suits := c.suitingUnits(names, data, book)
	if len(suits) < len(names) {
		return nil
	}
	alike := func(a, b string) bool {
		u, _ := units.Parse(a)
		v, _ := units.Parse(b)
		return u.Dim == v.Dim
	}
	var columns, reads, has []string
	bare, exchanged := true, true
	for i := range wanted {
		w := &wanted[i]
		from := page.Printable(e.Columns[w.Column].Header)
		if e.NoHeader {
			from = strconv.Itoa(w.Column + 1)
		}
		in, name := w.Unit, w.Name
		if own, _ := units.OfRecorder(e.Columns[w.Column].Unit); own == in {
			in = "" // --columns need not say it
		}
		if slices.Contains(names, name) {
			reads = append(reads, fmt.Sprintf("`%s` in a unit such as %s", name, suits[name]))
			has = append(has, w.Unit)
			bare = bare && w.Unit == ""
			fits := slices.IndexFunc(names, func(other string) bool { return w.Unit != "" && alike(suits[other], w.Unit) })
			if exchanged = exchanged && fits >= 0; exchanged {
				name = names[fits]
			} else {
				in = suits[name]
			}
		}
		if in != "" {
			name += " [" + in + "]"
		}
		columns = append(columns, from+"="+name)
	}
	finding, advice := "no unit there", "look up the units that were recorded and type them, as in"
	switch {
	case bare:
	case exchanged:
		finding, advice = strings.Join(has, " and ")+": exchanged?", "if so:"
	default:
		return nil
	}
	replace := ""
	if c.Replace {
		replace = " --replace"
	}
	return &sheets.Problem{File: c.Output,
		Message: fmt.Sprintf("the notebook reads %s, in %s, and this log has %s", words.Listed(reads, len(reads)),
			words.Counted(places, "place"), finding),
		Hint: fmt.Sprintf("%s rambook take %s -o %s%s --columns %s", advice, quoteArgument(c.File),
			quoteArgument(c.Output), replace, quoteArgument(strings.Join(columns, ", ")))}
}

// suitingUnits finds, of columns of a log, a unit of the notebook's rows in which each
// suits the formulas that read it.
func (c *takeCommand) suitingUnits(names []string, data []byte, book *sheets.Notebook) map[string]string {
	suits := map[string]string{}
	var tried []units.Dimension
	header, rows, _ := bytes.Cut(data, []byte("\n"))
	for _, sheet := range book.Sheets {
		for i := range sheet.Rows {
			u, err := units.Parse(sheet.Rows[i].Unit.Text)
			if err != nil || u.Symbol == "" || u.Kind > units.Point || slices.Contains(tried, u.Dim) ||
				len(suits) == len(names) {
				continue
			}
			tried = append(tried, u.Dim)
			fields := strings.Split(string(header), ",")
			for k, field := range fields {
				if name, _ := sheets.HeaderUnit(field); slices.Contains(names, name) {
					fields[k] = name + " [" + u.Symbol + "]"
				}
			}
			with, _ := sheets.Read(c.Output, append([]byte(strings.Join(fields, ",")+"\n"), rows...))
			if with == nil {
				continue
			}
			_, problems := compile(replacing(book, with), nil)
			for _, name := range names {
				if suits[name] == "" && !slices.ContainsFunc(problems,
					func(p sheets.Problem) bool { return p.Track == name }) {
					suits[name] = u.Symbol
				}
			}
		}
	}
	return suits
}

// replacing is a notebook with a sheet in place of that of the same name.
func replacing(book *sheets.Notebook, sheet *sheets.Sheet) *sheets.Notebook {
	with := *book
	with.Sheets = append(slices.DeleteFunc(slices.Clone(book.Sheets),
		func(s *sheets.Sheet) bool { return s.Name == sheet.Name }), sheet)
	return &with
}
