package main

import (
	"fmt"
	"io"
	"os"
	"path/filepath"
	"slices"
	"strings"

	"rambook/calc"
	"rambook/cmd/rambook/page"
	"rambook/sheets"
	"rambook/sheets/log"
	"rambook/sheets/table"
	"rambook/units"
	"rambook/units/words"
)

type takeCommand struct {
	File    string `arg:"" placeholder:"FILE" help:"What the recorder wrote. It is left alone."`
	Output  string `short:"o" required:"" placeholder:"LOG.csv" help:"The log to write."`
	Replace bool   `help:"Write over a log that is there already."`
	Columns list   `placeholder:"\"P1=pressure [bar], …\"" help:"Take these columns only, by their headers or numbers, with names and units of your own."`
	Sure    bool   `help:"The units of --columns hold, although the file has others."`
	Decimal string `enum:",comma,point" default:"" placeholder:"comma/point" help:"What stands before decimals, where the file leaves it open."`
	Dates   string `enum:",day-first,month-first" default:"" placeholder:"day-first/month-first" help:"How dates are written, where the file leaves it open."`
}

func (takeCommand) Help() string {
	return "Semicolons, tabs, decimal commas, lines before the header, a line of units, dates with the day first, " +
		"Latin-1 and UTF-16 are understood, and what was understood is shown. Look at it before you trust the log. " +
		"A log that is there already is not written over without --replace. Example:\n\n" +
		"  rambook take recorder.txt -o recorded.csv\n" +
		"  rambook take recorder.txt -o mypress/log.csv --replace --columns \"P1=pressure [bar], S1=position [mm]\""
}

// Run makes a log of an export, and prints what it understood.
func (c *takeCommand) Run(s *session) error {
	if sameFile(c.File, c.Output) {
		return problem("the log would take the place of the export", "write it to another file")
	}
	if !strings.EqualFold(filepath.Ext(c.Output), ".csv") {
		return problem("a log is a CSV file, and "+c.Output+" is none", "give it an ending .csv")
	}
	if info, err := os.Stat(c.Output); err == nil && info.Mode().IsRegular() && !c.Replace {
		return wrong(sheets.Problem{File: c.Output, Message: "is there already, and nothing is overwritten",
			Hint: "name another file, or add --replace to write over it"})
	}
	in, err := os.Open(c.File)
	if err != nil {
		return wrong(sheets.Problem{File: c.File, Message: sheets.PlainError(err).Error()})
	}
	defer in.Close()
	export, problems := log.Understand(c.File, in, log.Hints{Decimal: c.Decimal, Dates: log.DateForm(c.Dates),
		Time: c.time()})
	if export == nil {
		return wrong(problems...)
	}
	wanted, unknown, err := c.wanted(export)
	if err != nil {
		return err
	}
	if _, err := in.Seek(0, 0); err != nil {
		return wrong(sheets.Problem{File: c.File, Message: sheets.PlainError(err).Error(),
			Hint: "a pipe cannot be read twice; save it to a file first"})
	}
	create := sheets.CreateNew // also where another program writes it meanwhile
	if c.Replace {
		create = sheets.CreateAtomic
	}
	out, err := create(c.Output)
	if err != nil {
		return err
	}
	defer out.Abort()
	at := export.Columns[export.Time]
	clock, known := units.OfRecorder(at.Unit)
	if u, err := units.Parse(clock); known && clock != "" && export.Dates == log.Clock && err == nil &&
		u.Dim != units.Time {
		return wrong(sheets.Problem{File: c.File, Message: fmt.Sprintf("the time cannot be %s, which is in %s",
			words.Quoted(page.Printable(at.Header)), clock),
			Hint: "export the time too; its column is called time, or stands first with numbers that grow"})
	}
	if !known {
		clock = "s"
	}
	var head headOfLog
	taken, err := export.Take(in, io.MultiWriter(out, &head), wanted, clock)
	if err != nil {
		return err
	}
	if taken.Rows == 0 {
		if taken.NoTime == 0 {
			return problem("no line of "+c.File+" could be taken", "")
		}
		is, column := words.Quoted(page.Printable(taken.NoTimeIs)), words.Quoted(page.Printable(at.Header))
		return wrong(sheets.Problem{File: c.File, Line: taken.NoTimeAt,
			Message: is + " in the column " + column + " is no time that is understood",
			Hint: "a time is a number, a date with a time of day, or a time of day such as 14:03:07; " +
				"--columns \"OTHER=time, …\" takes it from another column"})
	}
	if err := c.refuseMisfit(&head, export, wanted); err != nil {
		return err
	}
	if err := out.Commit(); err != nil {
		return err
	}
	view := &page.TakenView{File: c.File, Log: c.Output, Export: export, Wanted: wanted, Unknown: unknown, Taken: taken}
	for _, line := range view.Lines() {
		fmt.Fprintln(&s.out, line)
	}
	fmt.Fprintln(&s.out)
	columns := view.Table()
	return columns.Render(&s.out, table.Plain, s.width())
}

// time is the column that --columns calls the time, "" if it calls none so.
func (c *takeCommand) time() string {
	for _, text := range c.Columns {
		from, to, _ := strings.Cut(text, "=")
		if name, _ := sheets.HeaderUnit(to); name == "time" {
			return words.Unquoted(strings.TrimSpace(from))
		}
	}
	return ""
}

// wanted lists the columns to take: those of --columns, or all that hold
// numbers. unknown are units that are left out since nobody knows them.
func (c *takeCommand) wanted(e *log.Export) (list []log.Wanted, unknown []string, err error) {
	unit := func(text string) string {
		symbol, known := units.OfRecorder(text)
		if !known {
			unknown = append(unknown, text)
		}
		return symbol
	}
	if len(c.Columns) == 0 {
		for _, i := range e.Numeric() {
			list = append(list, log.Wanted{Column: i, Name: e.Columns[i].Name, Unit: unit(e.Columns[i].Unit)})
		}
		return list, unknown, nil
	}
	for _, text := range c.Columns {
		from, to, renamed := strings.Cut(text, "=")
		from = words.Unquoted(strings.TrimSpace(from))
		i := e.Named(from)
		if i < 0 {
			var headers []string
			for _, col := range e.Columns {
				headers = append(headers, col.Header)
			}
			return nil, nil, problem("the export has no column "+words.Quoted(from),
				words.DidYouMean(from, headers, "its columns are "+columnsOf(e, headers)))
		}
		w := log.Wanted{Column: i, Name: e.Columns[i].Name, Unit: e.Columns[i].Unit}
		isTime := i == e.Time || e.Parted && i == e.Time+1
		if renamed {
			name, own := sheets.HeaderUnit(to)
			if own != "" {
				if err := c.doubtUnit(from, name, w.Unit, own); err != nil {
					return nil, nil, err
				}
				w.Unit = own
			}
			w.Name = name
			timeOf := words.Quoted(page.Printable(e.Columns[e.Time].Header))
			switch {
			case isTime && name != "time":
				return nil, nil, problem("the time of a log is called `time`, not "+words.Quoted(name),
					"write --columns \""+from+"=time\", or leave it out, since it is taken by itself")
			case !isTime && name == "time":
				return nil, nil, problem("`time` is what the log calls "+timeOf+", so that "+words.Quoted(from)+
					" cannot be called so too", "give it another name")
			}
			if !calc.IsName(name) {
				return nil, nil, problem(words.Quoted(name)+" cannot be the name of a column",
					"use letters, digits and _, with a letter first")
			}
		}
		if symbol, known := units.OfRecorder(w.Unit); known {
			w.Unit = symbol
		} else if renamed && strings.ContainsAny(to, "[(") {
			_, err := units.Parse(w.Unit)
			return nil, nil, problem(err.Message, err.Hint)
		} else {
			unknown = append(unknown, w.Unit)
			w.Unit = ""
		}
		if isTime { // it is taken in any case
			e.Columns[i].Unit = w.Unit
			continue
		}
		if slices.ContainsFunc(list, func(other log.Wanted) bool { return other.Name == w.Name }) {
			return nil, nil, problem("two columns cannot both be called "+words.Quoted(w.Name),
				"give one of them another name, as in --columns \"P1="+w.Name+"_1\"")
		}
		list = append(list, w)
	}
	return list, unknown, nil
}

// doubtUnit asks which unit holds where the file has one for a column and --columns
// another: a log in the wrong one is ten times off, and nothing in it shows that.
func (c *takeCommand) doubtUnit(from, name, inFile, own string) error {
	theirs, known := units.OfRecorder(inFile)
	mine, understood := units.OfRecorder(own)
	a, errA := units.Parse(theirs)
	b, errB := units.Parse(mine)
	if c.Sure || inFile == "" || !known || !understood || errA != nil || errB != nil ||
		a.Dim == b.Dim && a.ToSI(1) == b.ToSI(1) && a.ToSI(0) == b.ToSI(0) {
		return nil
	}
	return problem(fmt.Sprintf("the file gives %s in %s, and --columns in %s: which of them holds?", words.Quoted(from),
		theirs, mine), fmt.Sprintf("write %s=%s to take it in %s, which formulas turn into any unit; if it was recorded "+
		"in %s, add --sure", from, name, theirs, mine))
}

// columnsOf names the columns of an export, by their numbers where nothing names them.
func columnsOf(e *log.Export, headers []string) string {
	if e.NoHeader {
		return fmt.Sprintf("1 to %d, since no header was found above them", len(headers))
	}
	return words.Listed(headers, 12)
}
