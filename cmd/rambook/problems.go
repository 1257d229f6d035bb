package main

import (
	"encoding/json"
	"errors"
	"fmt"
	"io"
	"strings"

	"rambook/calc"
	"rambook/cmd/rambook/page"
	"rambook/sheets"
	"rambook/sheets/table"
	told "rambook/units/problem"
)

// problemsError carries everything that is wrong at once.
type problemsError = told.All

// problem is an error of the command line itself.
func problem(message, hint string) error {
	return wrong(sheets.Problem{Message: message, Hint: hint})
}

// wrong is an error that carries these problems.
func wrong(problems ...sheets.Problem) error { return told.Wrong(problems...) }

// refused is an error of a notebook's model, with the warnings that may explain it.
func refused(model *calc.Model, problems []sheets.Problem) error {
	return &problemsError{Problems: problems, Warnings: model.Warnings}
}

// printError shows why there is no answer, for a reader or for a program.
func printError(w io.Writer, err error, asJSON bool) {
	var all *problemsError
	if !errors.As(err, &all) {
		var one sheets.Problem
		if !errors.As(err, &one) {
			one.Message = err.Error()
		}
		all = &problemsError{Problems: []sheets.Problem{one}}
	}
	if asJSON {
		encoder := json.NewEncoder(w)
		encoder.SetEscapeHTML(false)
		_ = encoder.Encode(struct {
			Problems []page.JSONProblem `json:"problems"`
			Warnings []page.JSONProblem `json:"warnings"`
		}{page.JSONProblems(all.Problems), page.JSONProblems(all.Warnings)})
		return
	}
	printWarnings(w, all.Warnings)
	printProblems(w, "", all.Problems)
	if n := len(all.Problems); n > 1 {
		fmt.Fprintf(w, "%d problems\n", n)
	}
}

// printWarnings shows what did not keep the answer from being found.
func printWarnings(w io.Writer, warnings []sheets.Problem) {
	printProblems(w, "warning: ", warnings)
}

func printProblems(w io.Writer, kind string, problems []sheets.Problem) {
	sheets.SortProblems(problems)
	for _, p := range problems {
		place := strings.TrimSuffix(p.Error(), p.Message)
		if place == "" && kind == "" {
			place = "rambook: "
		}
		fmt.Fprintln(w, page.Printable(place)+kind+page.Printable(p.Message))
		if p.Text != "" {
			text, carets := underlined(p)
			fmt.Fprintf(w, "    %s\n    %s\n", text, carets)
		}
		if p.Hint != "" {
			fmt.Fprintln(w, "  hint: "+page.Printable(p.Hint))
		}
	}
}

// shownText is how many characters of a long cell are shown around the place.
const shownText = 100

// underlined returns the text of a problem in one line, and carets under its
// span. Both are cut to a window around the span if the text is long.
func underlined(p sheets.Problem) (text, carets string) {
	runes := []rune(page.Printable(p.Text))
	from := min(max(p.From, 0), len(runes))
	to := min(max(p.To, from), len(runes))
	before, after := "", ""
	if len(runes) > shownText {
		start := min(max(0, from-shownText/2), len(runes)-shownText)
		end := start + shownText
		if start > 0 {
			before = "…"
		}
		if end < len(runes) {
			after = "…"
		}
		runes, from, to = runes[start:end], from-start, min(to, end)-start
	}
	text = before + string(runes) + after
	indent := table.TextWidth(before + string(runes[:from]))
	length := table.TextWidth(string(runes[from:to]))
	return text, strings.Repeat(" ", indent) + strings.Repeat("^", max(1, length))
}
