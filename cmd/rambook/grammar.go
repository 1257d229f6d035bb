package main

import (
	"fmt"
	"maps"
	"path/filepath"
	"reflect"
	"slices"
	"strings"

	"github.com/alecthomas/kong"

	"rambook/calc"
	"rambook/cmd/rambook/answer"
	"rambook/cmd/rambook/page"
	"rambook/units/words"
)

// grammar is the command line: one line a command, in the order of the help.
// Each command is a struct with its arguments and flags, a Run method, and a
// Help method that gives an example.
type grammar struct {
	Check checkCommand `cmd:"" help:"Recalculate the notebook and judge every answer."`

	Sweep   sweepCommand   `cmd:"" help:"Compute the notebook over a range of one given or of two."`
	Solve   solveCommand   `cmd:"" help:"Find the value of a given that makes two sides equal, or of several givens at once."`
	Best    bestCommand    `cmd:"" help:"Choose givens so that there is most or least of something, within all limits."`
	Compare compareCommand `cmd:"" help:"Show the cases of a sheet side by side, best first."`

	Explain explainCommand `cmd:"" help:"Derive one quantity, down to the givens."`

	Fit      fitCommand      `cmd:"" help:"Fit several givens at once to the readings."`
	Diagnose diagnoseCommand `cmd:"" help:"Find the given that is off: rank the suspects by the readings."`
	Trend    trendCommand    `cmd:"" help:"Draw a straight line through dated cases, and find when it meets a limit."`

	Plot   plotCommand   `cmd:"" help:"Draw a log over time, with its phases shaded."`
	Report reportCommand `cmd:"" help:"Write one page to hand over: the answer, charts, all sheets, derivations."`

	Fill    fillCommand    `cmd:"" help:"Ask for what is open, cell by cell, as one walks round the machine."`
	Set     setCommand     `cmd:"" help:"Change cells of the notebook, all or none."`
	Record  recordCommand  `cmd:"" help:"Append one case, such as a visit, to a case sheet."`
	Deal    dealCommand    `cmd:"" help:"Give each student of a class numbers of their own."`
	Rename  renameCommand  `cmd:"" help:"Rename a quantity everywhere it is used."`
	Undo    undoCommand    `cmd:"" help:"Take back the last changes of the logbook."`
	Logbook logbookCommand `cmd:"" help:"Show what was entered when, by whom."`
	Take    takeCommand    `cmd:"" help:"Make a log of what a recorder exported."`
	Aside   asideCommand   `cmd:"" help:"Set a sheet aside, or bring it back."`
	Restate restateCommand `cmd:"" help:"Rewrite the notebook in other units: the same values."`
	New     newCommand     `cmd:"" help:"Write a starter notebook into a new folder."`

	Units      unitsCommand      `cmd:"" help:"List the units, and the names a quantity cannot have."`
	Convert    convertCommand    `cmd:"" help:"Convert a value to another unit."`
	Functions  functionsCommand  `cmd:"" help:"List the functions and constants of formulas."`
	Help       helpCommand       `cmd:"" help:"Show a page about notebooks, units, logs, diagnosis and more."`
	Completion completionCommand `cmd:"" help:"Print a completion script for a shell."`
	Version    versionCommand    `cmd:"" help:"Print the version."`

	Names namesCommand `cmd:"" hidden:"" help:"List what a word of the command line can be, for completion scripts."`
}

// grammarOf is a pointer to the grammar of one command alone, and to the whole of
// it where the first word of the command line names none, or where the command
// itself looks at the others. To build the parser of all thirty commands takes
// 3 ms, which was a tenth of a check; of one it takes 0.2 ms.
func grammarOf(first string) any {
	all := reflect.TypeFor[grammar]()
	for i := range all.NumField() {
		command := all.Field(i)
		if strings.ToLower(command.Name) == first && reflect.PointerTo(command.Type).Implements(runsAlone) {
			return reflect.New(reflect.StructOf([]reflect.StructField{command})).Interface()
		}
	}
	return &grammar{}
}

// runsAlone is what a command is that does not ask for the parser, and so for the others.
var runsAlone = reflect.TypeFor[interface{ Run(*session) error }]()

// notebookFlags are which notebook is meant and what is changed for this run.
type notebookFlags struct {
	Path string `arg:"" optional:"" help:"Folder or CSV file. Default: this folder if it holds a notebook, else the built-in press."`
	lookFlags
}

// lookFlags are how a notebook is looked at for this run.
type lookFlags struct {
	Units systemName `enum:",si,bar,us" default:"" placeholder:"SYSTEM" help:"Show the values in si, bar or us units. Files stay as they are."`
	Set   []string   `sep:"none" placeholder:"\"NAME = ENTRY\"" help:"Replace a given for this run only, or one case's own, as in pumps[A].price=500. Repeatable."`
}

// caseFlags are notebookFlags of a command that may look at one case.
type caseFlags struct {
	notebookFlags
	inCaseFlags
}

type inCaseFlags struct {
	Case string `sep:"none" placeholder:"SHEET[CASE]" help:"The notebook as it stands in one case of a case sheet: with its givens, readings and limits."`
}

// systemName is one of the systems of units, in any case of letters.
type systemName string

// Decode reads the word of a flag or an argument.
func (n *systemName) Decode(context *kong.DecodeContext) error {
	var word string
	err := context.Scan.PopValueInto("system", &word)
	*n = systemName(strings.ToLower(word))
	return err
}

// outputFlags are where the answer goes and in which form.
type outputFlags struct {
	Format string `type:"format" enum:",${formats}" default:"" placeholder:"FORMAT" help:"${formatsInWords}. Default: by the ending of -o, else table."`
	Digits *int   `placeholder:"N" help:"Significant digits. Default: 4, or two digits of the spread."`
	Output string `short:"o" placeholder:"FILE" help:"Write to FILE instead of the screen."`
}

// numbers is how the answer writes numbers.
func (o outputFlags) numbers() page.NumberStyle {
	if o.Digits == nil {
		return page.NumberStyle{}
	}
	return page.NumberStyle{Digits: *o.Digits}
}

// sampleFlags ask for spreads by sampling.
type sampleFlags struct {
	Sample *int   `placeholder:"N" help:"Find the spreads by sampling N times, beside the derivatives, in a case sheet N times for each case."`
	Seed   uint64 `placeholder:"S" default:"1" help:"Seed of the samples; the same seed gives the same answer. Default: 1."`
}

// drawFlags are sampleFlags of a command that can give the samples themselves.
type drawFlags struct {
	sampleFlags
	Samples bool `help:"With --sample: give the samples themselves, a row each, as csv or json, or in the file of -o."`
}

// leastSamples is where sampling begins to show anything: of so many samples
// about two lie beyond each end of the interval.
const leastSamples = 100

// options holds the number of samples to its limits.
func (f sampleFlags) options() (calc.CheckOptions, error) {
	if f.Sample == nil {
		return calc.CheckOptions{}, nil
	}
	if n := *f.Sample; n < leastSamples || n > calc.MaxSamples {
		return calc.CheckOptions{}, problem(fmt.Sprintf("--sample is %d, expected %d to %d", n, leastSamples,
			calc.MaxSamples), "100000 is plenty for two digits of a spread")
	}
	return calc.CheckOptions{Samples: *f.Sample, Seed: f.Seed}, nil
}

// AfterApply sets where the answer of the session goes.
func (o *outputFlags) AfterApply(s *session) error {
	if o.Digits != nil && (*o.Digits < 1 || *o.Digits > 17) {
		return fmt.Errorf("--digits is %d, expected 1 to 17", *o.Digits)
	}
	if s.chosen = o.Format != ""; s.chosen {
		s.form = answer.Named(o.Format)
	} else if s.form = answer.OfEnding(filepath.Ext(o.Output)); s.form == nil {
		s.form = new(answer.Format)
	}
	s.output = *o
	return nil
}

// draws are the commands that can draw a picture.
var draws = map[string]bool{"compare": true, "explain": true, "plot": true, "sweep": true}

// refuseEnding refuses an output file whose ending promises what the command
// does not write. What a report can be is checked there.
func (s *session) refuseEnding(command string) error {
	o, ending := s.output, filepath.Ext(s.output.Output)
	switch {
	case pictureOf(o.Output) != nil && draws[command]:
	case pictureOf(o.Output) != nil:
		names := slices.Sorted(maps.Keys(draws))
		return problem("only "+words.Listed(names, len(names))+" draw pictures, "+command+" cannot write "+o.Output,
			"the endings of other files are "+words.Listed(answer.Endings(), len(answer.Formats)))
	case o.Output != "" && s.form.Name == "" && command != "report":
		hint := "the endings are " + words.Listed(answer.Endings(), len(answer.Formats))
		if draws[command] {
			hint += ", for a picture " + words.Listed(slices.Sorted(maps.Keys(pictures)), len(pictures))
		}
		return problem(fmt.Sprintf("%s cannot write a %s file", command, words.Quoted(page.Printable(ending))),
			hint+"; with --format FORMAT any other will do")
	}
	return nil
}

// asksForJSON reports whether the arguments ask for JSON. It looks at the bare
// words, since a wrong command line has to be reported in that form as well.
func asksForJSON(args []string) bool {
	for i, arg := range args {
		word, found := strings.CutPrefix(arg, "--format=")
		if arg == "--format" && i+1 < len(args) {
			word, found = args[i+1], true
		}
		if form := answer.Named(word); found && form != nil && form.JSON {
			return true
		}
	}
	return false
}
