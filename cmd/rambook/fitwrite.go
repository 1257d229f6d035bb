package main

import (
	"errors"
	"fmt"
	"io/fs"
	"math"
	"os"
	"path/filepath"
	"slices"
	"strconv"
	"strings"
	"time"

	"rambook/calc"
	"rambook/cmd/rambook/page"
	"rambook/sheets"
	"rambook/units/words"
)

// correlationFile is where fit --write keeps correlations while no sheet of the
// notebook holds any.
const (
	correlationFile   = "correlations.csv"
	correlationHeader = "given,with,correlation,note\n"
)

// write puts what was fitted into the rows of the givens, and what was found of
// their correlations into the sheet of correlations, all or none.
func (c *fitCommand) write(s *session, path string, book *sheets.Notebook, fit *calc.Fit) ([]string, error) {
	path, err := ownPath(path)
	if err != nil {
		return nil, err
	}
	made := ""
	if c.needsSheet(path, fit) {
		made = filepath.Join(path, correlationFile)
		if err := sheets.CreateFile(made, []byte(correlationHeader), 0o666); err != nil {
			return nil, fmt.Errorf("cannot write %s: %w", made, sheets.PlainError(err))
		}
	}
	lines, err := c.writeInto(s, path, made, book, fit)
	if text, unread := os.ReadFile(made); err != nil && unread == nil && string(text) == correlationHeader {
		_ = os.Remove(made) // it was made for this alone
	}
	return lines, err
}

// needsSheet reports whether correlations have no sheet to stand in yet. A
// notebook that is one file has no room for it.
func (c *fitCommand) needsSheet(path string, fit *calc.Fit) bool {
	info, err := os.Stat(path)
	if err != nil || !info.IsDir() || len(fit.Correlations) == 0 {
		return false
	}
	book, _ := sheets.Open(path)
	if correlationSheet(book) != nil {
		return false
	}
	_, err = os.Stat(filepath.Join(path, correlationFile))
	return errors.Is(err, fs.ErrNotExist)
}

func correlationSheet(book *sheets.Notebook) *sheets.Sheet {
	for _, sheet := range book.Sheets {
		if sheet.Kind == sheets.Correlations {
			return sheet
		}
	}
	return nil
}

func (c *fitCommand) writeInto(s *session, path, made string, book *sheets.Notebook, fit *calc.Fit) ([]string, error) {
	r, err := revise(path)
	if err != nil {
		return nil, err
	}
	read := *r.book
	if read.Sheets = slices.DeleteFunc(slices.Clone(read.Sheets),
		func(s *sheets.Sheet) bool { return s.File == made }); !book.IsAs(&read) {
		return nil, &meanwhileError{r.path}
	}
	r.whole = true
	var settings []setting
	for i := range fit.Givens {
		g := &fit.Givens[i]
		name := g.Quantity.Name
		value, spread := roundedFit(g.Value, g.Spread)
		settings = append(settings, setting{cellName: rowCell{name, "entry"}, entry: value})
		if spread != "" {
			settings = append(settings, setting{cellName: rowCell{name, "spread"}, entry: spread})
		}
		settings = append(settings, setting{cellName: rowCell{name, "note"},
			entry: fittedNote(g.Quantity.Row.Note.Text, c.remark(s, fit))})
	}
	changing, err := sheetsOf(settings, r)
	if err != nil {
		return nil, err
	}
	ties := correlationSheet(r.book)
	if ties != nil && !slices.Contains(changing, ties) {
		changing = append(changing, ties)
	}
	r.enters(s, c.entryFlags, func() []sheets.Entry { return c.fitted(settings, r.book, ties, fit) })
	err = r.change(changing, func(now *sheets.Sheet, data []byte) ([]byte, error) {
		if now.Kind == sheets.Correlations {
			return tie(now, data, fit)
		}
		return write(settings, now, data)
	})
	if err != nil {
		return nil, err
	}
	var lines []string
	for i := range settings {
		one := &settings[i]
		if one.header() == "note" {
			continue
		}
		lines = append(lines, fmt.Sprintf("%s:%d: %s: %s -> %s", one.on.File, one.before.Line,
			page.Printable(one.String()),
			shownCell(one.before.Text), shownCell(one.text)))
	}
	switch {
	case ties != nil && len(fit.Correlations) > 0:
		lines = append(lines, fmt.Sprintf("%s: %s", ties.File, words.Counted(len(fit.Correlations), "correlation")))
	case len(fit.Correlations) > 0:
		lines = append(lines, "The correlations are not written: a notebook that is one file has no sheet for them.")
	}
	r.tell(s, settings)
	return lines, nil
}

// fitted is the lines of the logbook about what was fitted, and about the
// correlations that were found or are gone.
func (c *fitCommand) fitted(settings []setting, book *sheets.Notebook, ties *sheets.Sheet,
	fit *calc.Fit) []sheets.Entry {
	list := logged(settings, book)
	for i := range list {
		list[i].With = "" // no gauge has read it
	}
	if ties == nil {
		return list
	}
	for _, i := range tiesOf(ties, fit) {
		row := &ties.Correlations[i]
		list = append(list, sheets.Entry{What: tieName(row.Given.Text, row.With.Text), Was: row.Correlation.Text})
	}
	for _, found := range fit.Correlations {
		list = append(list, sheets.Entry{What: tieName(found.A.Name, found.B.Name), Is: tieText(found.R)})
	}
	return list
}

// roundedFit writes a value to a hundredth of its spread, and the spread to
// three digits.
func roundedFit(value, spread float64) (string, string) {
	if !calc.Has(spread) || spread <= 0 || math.IsInf(spread, 0) {
		return strconv.FormatFloat(value, 'g', 8, 64), ""
	}
	decimals := 2 - int(math.Floor(math.Log10(spread)))
	if decimals < 0 {
		scale := math.Pow(10, float64(-decimals))
		return strconv.FormatFloat(math.Round(value/scale)*scale, 'f', 0, 64),
			strconv.FormatFloat(math.Round(spread/scale)*scale, 'f', 0, 64)
	}
	return strconv.FormatFloat(value, 'f', decimals, 64), strconv.FormatFloat(spread, 'f', decimals, 64)
}

// fittedMark begins what fit --write adds to a note.
const fittedMark = "fitted "

// remark is when a value was fitted, and to what.
func (c *fitCommand) remark(s *session, fit *calc.Fit) string {
	text := fmt.Sprintf("%s%s to %s", fittedMark, s.now().Format(time.DateOnly), words.Counted(fit.Readings, "reading"))
	if fit.Sheet != nil {
		text += fmt.Sprintf(" in %s of %s", words.Counted(fit.Cases, "case"), fit.Sheet.Name)
	}
	if c.Where != "" {
		text += " where " + c.Where
	}
	return text
}

// fittedNote puts a remark behind a note, in the place of that of an earlier fit.
func fittedNote(note, remark string) string {
	if at := strings.LastIndex("; "+note, "; "+fittedMark); at >= 0 {
		note = strings.TrimSuffix(note[:max(0, at)], "; ")
		if at == 0 {
			note = ""
		}
	}
	if note == "" {
		return remark
	}
	return note + "; " + remark
}

// tie writes correlations into their sheet. Those that the fitted givens had
// before are gone: they were of other values.
func tie(now *sheets.Sheet, data []byte, fit *calc.Fit) ([]byte, error) {
	var gone []int
	for _, i := range tiesOf(now, fit) {
		gone = append(gone, int(now.Correlations[i].Given.Line))
	}
	data, err := sheets.DropRecords(data, gone)
	if err != nil {
		return nil, err
	}
	for _, c := range fit.Correlations {
		if data, err = appendTie(now, data, c.A.Name, c.B.Name, tieText(c.R)); err != nil {
			return nil, err
		}
	}
	return data, nil
}

// tiesOf lists the rows of correlations that were of the fitted givens.
func tiesOf(ties *sheets.Sheet, fit *calc.Fit) []int {
	fitted := map[string]bool{}
	for i := range fit.Givens {
		fitted[fit.Givens[i].Quantity.Name] = true
	}
	var list []int
	for i := range ties.Correlations {
		if row := &ties.Correlations[i]; fitted[row.Given.Text] || fitted[row.With.Text] {
			list = append(list, i)
		}
	}
	return list
}

func tieText(r float64) string { return strconv.FormatFloat(r, 'f', 6, 64) }

// appendTie appends a correlation to its sheet.
func appendTie(now *sheets.Sheet, data []byte, given, with, correlation string) ([]byte, error) {
	header := now.Headers()
	fields := make([]string, len(header))
	for i, name := range header {
		fields[i] = map[string]string{"given": given, "with": with, "correlation": correlation}[name]
	}
	data, _, err := sheets.AppendRecord(data, fields)
	return data, err
}

// tieName is how the logbook names the correlation of two givens.
func tieName(given, with string) string { return given + ":" + with + tieColumn }

const tieColumn = ".correlation"

// tiedPair takes such a name apart, and reports whether it is one.
func tiedPair(what string) (given, with string, tied bool) {
	pair, found := strings.CutSuffix(what, tieColumn)
	given, with, tied = strings.Cut(pair, ":")
	return given, with, tied && found
}

// untie takes correlations back to what they were before a fit.
func untie(now *sheets.Sheet, data []byte, lines []sheets.EntryRow) ([]byte, error) {
	var gone []int
	for _, line := range lines {
		given, with, _ := tiedPair(line.What.Text)
		for i := range now.Correlations {
			row := &now.Correlations[i]
			if row.Given.Text == given && row.With.Text == with && row.Correlation.Text == line.Is.Text {
				gone = append(gone, int(row.Given.Line))
			}
		}
	}
	data, err := sheets.DropRecords(data, gone)
	for _, line := range lines {
		if given, with, _ := tiedPair(line.What.Text); err == nil && !line.Was.Blank() {
			data, err = appendTie(now, data, given, with, line.Was.Text)
		}
	}
	return data, err
}

// isTied reports whether the correlations are as a line of the logbook left them.
func isTied(book *sheets.Notebook, line sheets.EntryRow) bool {
	given, with, _ := tiedPair(line.What.Text)
	ties := correlationSheet(book)
	if ties == nil {
		return false
	}
	now := ""
	for i := range ties.Correlations {
		if row := &ties.Correlations[i]; row.Given.Text == given && row.With.Text == with {
			now = row.Correlation.Text
		}
	}
	return now == line.Is.Text
}
