// Package answer is what a command has found out, in one shape for all of them,
// and the formats that it can be written in.
package answer

import (
	"bytes"
	"encoding/json"
	"errors"
	"fmt"
	"html"
	"io"

	"rambook/sheets/table"
	"rambook/units/cores"
)

// Answer is what a command has found out. A format makes only the parts that it
// shows.
type Answer struct {
	Title    string               // the first line of a page; "" for a list that needs none
	Invented bool                 // about a machine that does not exist, as the title has it: the others have it too
	Page     func() []table.Table // for people; a table without columns is a paragraph, its note
	Screen   func() string        // lines that a screen shows in place of the page; nil: it shows the page
	Book     func() []table.Table // for a spreadsheet, a sheet each, with exact numbers; nil: the rows
	Rows     func() table.Table   // for programs, one table with exact numbers; nil: the tables of the page
	Object   func() any           // for programs, encoded as JSON
	Large    Object               // in place of Object where that would be too large; nil where it is not
}

// View lays one kind of answer out, for people and for programs.
type View interface {
	Page() []table.Table
	Rows() table.Table
	Object() any
}

// Screened is a view that a screen shows in lines of its own, in place of the page.
type Screened interface{ Screen() string }

// Of is the answer that a view lays out. The object of a view that is an [Object]
// itself is written bit by bit.
//
//go:noinline
func Of(title string, invented bool, v View) *Answer {
	a := &Answer{Title: title, Invented: invented, Page: v.Page, Rows: v.Rows, Object: v.Object}
	a.Large, _ = v.(Object)
	if lines, ok := v.(Screened); ok {
		a.Screen = lines.Screen
	}
	return a
}

// Object is an answer for programs that is too large to be encoded at once.
type Object interface{ WriteJSON(io.Writer) error }

// IsLarge reports whether the answer is written bit by bit, as an [Object].
func (a *Answer) IsLarge(f *Format) bool { return f.JSON && a.Large != nil }

// Write writes the answer in a format. Tables of a screen are kept to width
// characters.
func (a *Answer) Write(w io.Writer, f *Format, width int) error { return f.write(w, a, width) }

// onScreen writes what a terminal shows.
func onScreen(w io.Writer, a *Answer, width int) error {
	if a.Screen != nil {
		_, err := io.WriteString(w, a.Screen())
		return err
	}
	return page(table.Plain)(w, a, width)
}

// page writes the title and the tables, with a blank line between them.
func page(form table.Format) func(io.Writer, *Answer, int) error {
	return func(w io.Writer, a *Answer, width int) error {
		tables := a.Page()
		if a.Title != "" {
			tables = append([]table.Table{{Note: a.Title}}, tables...)
		}
		return drawn(w, form, width, "\n", tables)
	}
}

// webPage writes a page with the head that a browser wants.
func webPage(w io.Writer, a *Answer, width int) error {
	if a.Title != "" {
		fmt.Fprintf(w, "<!doctype html>\n<html lang=\"en\">\n<meta charset=\"utf-8\">\n<title>%s</title>\n\n",
			html.EscapeString(table.Visible(a.Title)))
	}
	return page(table.HTML)(w, a, width)
}

// rows writes the table for programs.
func rows(w io.Writer, a *Answer, width int) error {
	if a.Rows != nil {
		return drawn(w, table.CSV, width, "", []table.Table{a.Rows()})
	}
	return drawn(w, table.CSV, width, "", a.Page())
}

// object writes one object, indented for the reader who opens it.
func object(w io.Writer, a *Answer, _ int) error {
	if a.Large != nil {
		return a.Large.WriteJSON(w)
	}
	var text bytes.Buffer
	encoder := json.NewEncoder(&text)
	encoder.SetEscapeHTML(false)
	encoder.SetIndent("", "  ")
	if err := encoder.Encode(a.Object()); err != nil {
		return err
	}
	if fields, isObject := bytes.CutPrefix(text.Bytes(), []byte("{\n")); isObject && a.Invented {
		if _, err := io.WriteString(w, "{\n  "+inventedField+",\n"); err != nil {
			return err
		}
		text = *bytes.NewBuffer(fields)
	}
	_, err := text.WriteTo(w)
	return err
}

// InventedMark is what stands on every page about a machine that does not exist.
const InventedMark = "An invented machine: its numbers are examples, not those of a real one."

// inventedField is the same in JSON.
const inventedField = `"invented": true`

// drawn writes tables. Laying out is the slowest part of a check, so they are
// laid out at the same time.
func drawn(w io.Writer, form table.Format, width int, between string, tables []table.Table) error {
	texts := make([][]byte, len(tables))
	errs := make([]error, len(tables))
	cores.Each(len(tables), func(i int) {
		texts[i], errs[i] = tables[i].Text(form, width)
		texts[i] = bytes.TrimLeft(texts[i], "\n")
	})
	if _, err := w.Write(bytes.Join(texts, []byte(between))); err != nil {
		return err
	}
	return errors.Join(errs...)
}
