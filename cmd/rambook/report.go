package main

import (
	"fmt"
	"path/filepath"

	"rambook/calc"
	"rambook/cmd/rambook/answer"
	"rambook/cmd/rambook/page"
	"rambook/cmd/rambook/report"
	"rambook/units/words"
)

type reportCommand struct {
	notebookFlags
	Example bool   `help:"Report on the built-in press, which is an invented machine."`
	Blind   bool   `help:"For a class: a page of questions, with what is given and room for each answer."`
	Key     bool   `help:"With --blind: the page of answers, for the trainer."`
	Verify  string `placeholder:"PAGE" help:"Find out whether a page and the notebook still belong together, and which cells have changed since the page was written."`
	sampleFlags
	outputFlags
}

func (reportCommand) Help() string {
	return "One page to hand over, to print and to sign: the answer first, then charts, the diagnosis, " +
		"all sheets and the derivations. It needs no network and no script. Without -o it is Markdown on the screen. " +
		"A page in a file is sealed: it carries digests of itself and of all files it was made from, " +
		"and the sheets as they were. Exit status 1: something fails. Example:\n\n" +
		"  rambook report -o press.html mypress\n  rambook report -o REPORT.md mypress\n" +
		"  rambook report --verify press.html mypress\n" +
		"  rambook report --blind -o questions.html mylesson\n  rambook report --blind --key -o key.html mylesson"
}

// papers write a report.
var papers = map[answer.Paper]func(*report.Page) ([]byte, error){answer.Text: (*report.Page).Markdown,
	answer.Web: (*report.Page).Html}

// Run writes the report.
func (c *reportCommand) Run(s *session) error {
	if c.Key && !c.Blind || c.Blind && c.Sample != nil {
		return problem("--key goes with --blind, and --blind not with --sample", "")
	}
	if c.Verify != "" {
		return c.verify(s)
	}
	form, err := c.form(s)
	if err != nil {
		return err
	}
	sealed, err := c.seal(s)
	if err != nil {
		return err
	}
	model, checked, err := c.check(c.sampleFlags)
	if err != nil {
		return err
	}
	if model.Book.Embedded && !c.Example {
		return problem("this folder holds no notebook, and a report on the built-in press would be "+
			"one on an invented machine",
			"name the notebook's folder; `rambook report --example` shows what a report looks like")
	}
	var p *report.Page
	how := s.paper(c.title(model), model)
	if c.Blind {
		p, err = report.NewHandout(how, model, checked, c.Key)
	} else {
		p, err = report.NewPage(how, model, checked)
	}
	if err != nil {
		return err
	}
	if sealed != nil {
		p.Facts = append(p.Facts, report.Fact{Name: "Made from",
			Value: fmt.Sprintf("%s, digest %s; rambook report --verify compares them",
				words.Counted(len(sealed.Files), "file"), sealed.OfFiles())})
	}
	text, err := form(p.Marked(model))
	if err != nil {
		return err
	}
	if sealed != nil {
		if text, err = sealed.On(text); err != nil {
			return err
		}
	}
	s.out.Write(text)
	if file := s.output.Output; file != "" {
		s.written = file
	}
	if c.Blind { // a handout judges nothing
		return nil
	}
	printWarnings(s.stderr, checked.Warnings)
	printProblems(s.stderr, "", checked.Failures)
	if checked.Counts.Fail > 0 || len(checked.Failures) > 0 {
		return errFails
	}
	return nil
}

// paper is what a page on a notebook needs beside the model.
func (s *session) paper(title string, model *calc.Model) *report.Options {
	return &report.Options{
		Numbers: s.output.numbers(), Title: title, Date: s.now(), Program: "rambook " + version(),
		Read: readInCases(model.Book), Changed: changedSince(model.Book.Logbook()),
		Crossed: notebookFlags{lookFlags: lookFlags{Set: model.Sets}}.crossed,
	}
}

// form picks the form of the report: that of --format, else by the ending of
// the file, else Markdown.
func (c *reportCommand) form(s *session) (func(*report.Page) ([]byte, error), error) {
	if file := s.output.Output; s.form.Name == "" || s.form.Screen && file != "" {
		message := fmt.Sprintf("a report is no %s file", words.Quoted(page.Printable(filepath.Ext(file))))
		if filepath.Ext(file) == "" {
			message = "a report in a file needs an ending for its form"
		}
		return nil, problem(message, "-o FILE.html is a page to print, -o FILE.md is text for a repository")
	}
	form := papers[s.form.Paper]
	if form == nil {
		format := s.form.Name
		return nil, problem("a report is "+reportWords()+", not "+format,
			"`rambook check --format "+format+"` gives the numbers")
	}
	return form, nil
}

// reportWords are the words of the formats for reports in files.
func reportWords() string {
	var list []string
	for _, f := range answer.Formats {
		if f.Paper != answer.NoPaper && !f.Screen {
			list = append(list, f.Name)
		}
	}
	return words.OneOf(list)
}
