package main

import (
	"encoding/json"
	"errors"
	"fmt"
	"io"
	"os"

	"golang.org/x/term"

	"rambook/calc"
	"rambook/cmd/rambook/page"
	"rambook/sheets"
	told "rambook/units/problem"
	"rambook/units/words"
)

// problemsError carries everything that is wrong at once.
type problemsError = told.All

// problem is an error of the command line itself.
//
//go:noinline
func problem(message, hint string) error {
	return wrong(sheets.Problem{Message: message, Hint: hint})
}

// wrong is an error that carries these problems.
//
//go:noinline
func wrong(problems ...sheets.Problem) error { return told.Wrong(problems...) }

// refused is an error of a notebook's model, with the warnings that may explain it.
func refused(model *calc.Model, problems []sheets.Problem) error {
	return &problemsError{Problems: problems, Warnings: model.Warnings}
}

// problemsOf is any error in the form that has places and hints.
func problemsOf(err error) *problemsError {
	var all *problemsError
	if errors.As(err, &all) {
		return all
	}
	var one sheets.Problem
	if !errors.As(err, &one) {
		one.Message = err.Error()
	}
	return &problemsError{Problems: []sheets.Problem{one}}
}

// printError shows why there is no answer, for a reader or for a program.
func printError(w io.Writer, err error, asJSON bool) {
	all := problemsOf(err)
	if asJSON {
		encoder := json.NewEncoder(w)
		encoder.SetEscapeHTML(false)
		_ = encoder.Encode(page.JSONRefusal(all))
		return
	}
	printWarnings(w, all.Warnings)
	printProblems(w, "", all.Problems)
	if n := len(all.Problems); n > 1 {
		fmt.Fprintf(w, "%d problems\n", n)
	}
}

// printWarnings shows what did not keep the answer from being found.
//
//go:noinline
func printWarnings(w io.Writer, warnings []sheets.Problem) {
	printProblems(w, "warning: ", warnings)
}

// byCause makes one problem of those that stand at the same place, in the words of the
// shortest, which is the row's own where it has one, with the number of cases that have
// it too.
func byCause(problems []sheets.Problem) []sheets.Problem {
	type place struct {
		file             string
		line, column, to int
		text             string
	}
	var list []sheets.Problem
	at := map[place]int{}
	told := map[sheets.Problem]bool{}
	alike := map[place]int{}
	for _, p := range problems {
		where := place{p.File, p.Line, p.Column, p.To, p.Text}
		k, known := at[where]
		switch {
		case told[p]:
			continue
		case !known:
			at[where] = len(list)
			list = append(list, p)
		case len(p.Message) < len(list[k].Message):
			list[k] = p
		}
		told[p] = true
		alike[where]++
	}
	for where, k := range at {
		if others := alike[where] - 1; others > 0 {
			list[k].Message += "; likewise in " + words.Counted(others, "more case")
		}
	}
	return list
}

func printProblems(w io.Writer, kind string, problems []sheets.Problem) {
	sheets.SortProblems(problems)
	width := 0 // a file of problems has a line each
	if file, ok := w.(*os.File); ok && term.IsTerminal(int(file.Fd())) {
		width, _, _ = term.GetSize(int(file.Fd()))
	}
	for _, p := range problems {
		io.WriteString(w, page.ProblemText(kind, p, width))
	}
}
