package main

import (
	"bytes"
	"context"
	"errors"
	"fmt"
	"io"
	"os"
	"path/filepath"
	"reflect"
	"regexp"
	"slices"
	"strings"
	"time"

	"github.com/alecthomas/kong"

	"rambook/cmd/rambook/answer"
	"rambook/cmd/rambook/page"
	"rambook/sheets"
	"rambook/units/words"
)

// Exit statuses. Scripts rely on them.
const (
	exitFine  = 0 // nothing fails
	exitFails = 1 // a verdict is fail, a case could not be computed, or no solution was found
	exitWrong = 2 // the model, a file or the command line is wrong
)

// errFails ends a command that has printed all and found a failure.
var errFails = errors.New("something fails")

// session is what a command works with. Its out is kept back until the command
// has succeeded, so that nothing reaches stdout together with an error.
type session struct {
	out     bytes.Buffer   // the answer
	output  outputFlags    // where the answer goes, and in which form
	form    *answer.Format // of the answer; one without a name where an ending stands for none
	chosen  bool           // the form was asked for, so that no ending picks another
	in      io.Reader      // for what asks
	stdout  io.Writer      // the true standard output, for what streams or redraws
	stderr  io.Writer      // warnings, progress
	now     func() time.Time
	context context.Context // ends what watches or streams

	streamed bool   // the answer has been sent already
	written  string // the file that is named on stderr once it is there; "" for none
}

// helpShown is thrown by kong's --help after it has printed the help.
type helpShown struct{}

// run is the whole program: it obeys the arguments and returns the exit
// status. Tests call it in place of main.
func run(args []string, in io.Reader, out, errOut io.Writer) (status int) {
	s := &session{form: answer.Table, in: in, stdout: out, stderr: errOut, now: time.Now, context: context.Background()}
	err := s.obey(args)
	if err == nil || errors.Is(err, errFails) {
		if writeErr := s.flush(); writeErr != nil {
			err = writeErr
		}
	}
	switch {
	case err == nil:
		return exitFine
	case errors.Is(err, errFails):
		return exitFails
	}
	printError(errOut, err, asksForJSON(args))
	return exitWrong
}

// obey parses the arguments and runs the command they name.
func (s *session) obey(args []string) (err error) {
	if len(args) == 0 {
		args = []string{"--help"}
	}
	parser, err := newParser(s, grammarOf(args[0]))
	if err != nil {
		return err
	}
	defer func() {
		if thrown := recover(); thrown == (helpShown{}) {
			err = nil
		} else if thrown != nil {
			panic(thrown)
		}
	}()
	command, err := parser.Parse(flagsFirst(parser.Model.Node, shieldNumbers(args)))
	if err != nil {
		return usageError(err)
	}
	if err := s.refuseEnding(command.Selected().Name); err != nil {
		return err
	}
	if err := s.spareNotebook(command.Selected().Target); err != nil {
		return err
	}
	return command.Run(s, parser)
}

// spareNotebook refuses an output file that would replace the notebook that is
// read, or a sheet of any notebook, or become one.
func (s *session) spareNotebook(command reflect.Value) error {
	file := s.output.Output
	if file == "" {
		return nil
	}
	if strings.EqualFold(filepath.Ext(file), ".csv") && sheets.IsNotebook(filepath.Dir(file)) {
		return problem(file+" would be a sheet of the notebook in its folder", "write it to another folder")
	}
	if path := command.FieldByName("Path"); path.IsValid() && sameFile(file, path.String()) {
		return problem(file+" is the notebook that is read", "write to another file")
	}
	return nil
}

// sameFile reports whether two paths lead to one file, which is there.
func sameFile(a, b string) bool {
	first, errA := os.Stat(a)
	second, errB := os.Stat(b)
	return errA == nil && errB == nil && !first.IsDir() && os.SameFile(first, second)
}

// newParser makes a parser of the command line, for a pointer to a grammar.
func newParser(s *session, grammar any) (*kong.Kong, error) {
	return kong.New(grammar,
		kong.Name("rambook"),
		kong.Description("A diagnostic notebook for hydraulic systems: worksheets in plain CSV, "+
			"recalculated with every unit checked, each answer with its spread and its verdict."),
		kong.Writers(&s.out, s.stderr),
		kong.Exit(func(int) { panic(helpShown{}) }),
		kong.ConfigureHelp(kong.HelpOptions{Compact: true, FlagsLast: true, WrapUpperBound: 80}),
		kong.KindMapper(reflect.String, kong.MapperFunc(unshieldedWord)),
		kong.NamedMapper("starter", oneOf(func() kong.Vars {
			return kong.Vars{"starters": strings.Join(sheets.StarterNames(), ", ")}
		})),
		kong.NamedMapper("format", oneOf(func() kong.Vars {
			return kong.Vars{"formats": strings.Join(answer.Names(), ","), "formatsInWords": words.OneOf(answer.Names())}
		})),
		kong.Bind(s),
	)
}

// oneOf is a word with a tag that names what it can be. These names are not among the
// variables of the parser, which looks through all of them for each flag.
type oneOf func() kong.Vars

// Vars are what stands in the tag.
func (w oneOf) Vars(*kong.Value) kong.Vars { return w() }

// Decode reads the word.
func (oneOf) Decode(context *kong.DecodeContext, target reflect.Value) error {
	return unshieldedWord(context, target)
}

// usageError turns a complaint of the command line parser into ours.
func usageError(err error) error {
	var ours *problemsError
	if errors.As(err, &ours) {
		return ours
	}
	message, hint := err.Error(), "rambook --help lists the commands"
	var parseError *kong.ParseError
	if errors.As(err, &parseError) {
		if node := parseError.Context.Selected(); node != nil {
			hint = "rambook " + node.Name + " --help shows how it is used"
		} else {
			message = strings.Replace(message, "unexpected argument", "there is no command", 1)
		}
	}
	if before, proposal, found := strings.Cut(message, ", did you mean "); found {
		message, hint = before, "did you mean "+strings.ReplaceAll(proposal, `"`, "`")
	}
	for _, w := range usageWords {
		message = w.theirs().ReplaceAllString(message, w.ours)
	}
	return problem(message, hint)
}

// usageWords puts what the parser finds wrong with a command line into our words.
var usageWords = []struct {
	theirs func() *regexp.Regexp
	ours   string
}{
	{words.Pattern(numberShield + `|\\x00`), ""}, // as it is, and as %q writes it
	{words.Pattern(`^expected "(.*)"$`), "missing $1"},
	{words.Pattern(`: missing value, expecting ".*"$`), ": a value is missing"},
	{words.Pattern(`expected a valid 64 bit u?int`), "expected a whole number of 0 or more"},
	{words.Pattern(`one of "",`), "one of "},
}

// flush hands the answer over: to the file of -o, or to stdout. A reader that
// has closed the pipe has seen enough, which is no error.
func (s *session) flush() error {
	if s.streamed {
		return nil
	}
	if s.output.Output != "" {
		err := sheets.WriteFile(s.output.Output, s.out.Bytes(), 0o666)
		if err == nil && s.written != "" {
			fmt.Fprintln(s.stderr, page.Printable(s.written)+" is written")
		}
		return err
	}
	_, err := s.stdout.Write(s.out.Bytes())
	if err == nil || readerGone(err) {
		return nil
	}
	return fmt.Errorf("cannot write the output: %w", sheets.PlainError(err))
}

// numberShield marks a word that looks like a flag but is a negative number.
// It cannot occur in an argument, which ends at its first zero byte.
const numberShield = "\x00"

func shieldNumbers(args []string) []string {
	shielded := make([]string, len(args))
	for i, arg := range args {
		if len(arg) > 1 && arg[0] == '-' && strings.IndexByte(".0123456789", arg[1]) >= 0 {
			arg = numberShield + arg
		}
		shielded[i] = arg
	}
	return shielded
}

// flagsFirst moves the flags of a command that takes any number of words before
// these words, since the parser takes them in one go.
func flagsFirst(node *kong.Node, args []string) []string {
	i := slices.IndexFunc(node.Children, func(n *kong.Node) bool { return len(args) > 0 && n.Name == args[0] })
	if i < 0 || !slices.ContainsFunc(node.Children[i].Positional,
		func(p *kong.Positional) bool { return p.IsCumulative() }) {
		return args
	}
	valued := map[string]bool{}
	for _, flag := range node.Children[i].Flags {
		valued["--"+flag.Name] = !flag.IsBool()
		if flag.Short != 0 {
			valued["-"+string(flag.Short)] = !flag.IsBool()
		}
	}
	var flags, words []string
	for rest := args[1:]; len(rest) > 0; rest = rest[1:] {
		switch word := rest[0]; {
		case word == "--":
			return slices.Concat(args[:1], flags, words, rest)
		case !strings.HasPrefix(word, "-"):
			words = append(words, word)
		case valued[word] && len(rest) > 1:
			flags = append(flags, word, rest[1])
			rest = rest[1:]
		default:
			flags = append(flags, word)
		}
	}
	return slices.Concat(args[:1], flags, words)
}

func unshieldedWord(context *kong.DecodeContext, target reflect.Value) error {
	var word string
	if err := context.Scan.PopValueInto("string", &word); err != nil {
		return err
	}
	target.SetString(strings.TrimPrefix(word, numberShield))
	return nil
}
