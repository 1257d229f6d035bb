package main

import (
	"context"
	"fmt"
	"io"
	"strings"

	"rambook/calc"
	"rambook/cmd/rambook/answer"
	"rambook/cmd/rambook/page"
	"rambook/units/words"
)

type sweepCommand struct {
	caseFlags
	Over     []string `sep:"none" required:"" placeholder:"\"NAME = RANGE\"" help:"The given to change, and its values: A to B by STEP UNIT, A to B in N steps UNIT, or A, B, C UNIT. Twice for a grid."`
	Show     list     `complete:"quantity" placeholder:"NAME,…" help:"What to show: quantities, one in another unit as \"heat in hp_mech\", or an expression as \"specific = heat/flow in kJ/L\". Default: the formulas with a limit that depend on what is changed."`
	Plot     bool     `help:"Draw with characters in place of a table. With -o FILE.svg or FILE.png a picture is drawn."`
	Contours bool     `help:"Draw a sweep over two givens as contour lines, with the limits as lines hatched on the side beyond them. This is the default where the second given has more values than there is room for lines."`
	watchFlags
	outputFlags
}

func (sweepCommand) Help() string {
	return "The end of a range counts. Without a unit the values are in the unit of the given's row. " +
		"A value beyond its limits is shown, with a verdict, and is no failure: exit status 1 means that a case " +
		"could not be computed. CSV and JSON " +
		"hold the spread, the verdict, the error and the note of every case. Example:\n\n" +
		"  rambook sweep --over \"setting = 5 to 25 by 2.5 MPa\" --show force,reserve mypress\n" +
		"  rambook sweep --over \"bore = 150, 160, 170 mm\" --over \"setting = 15 to 25 in 4 steps MPa\" " +
		"--show force\n" +
		"  rambook sweep --over \"setting = 15 to 25 in 4 steps MPa\" " +
		"--show \"force in ustonf,share = force/gross_force in %\" mypress\n" +
		"  rambook sweep --over \"setting = 5 to 25 in 10000 steps\" --show force -o force.csv\n" +
		"  rambook sweep --over \"setting = 5 to 25 by 2.5 MPa\" --show force,reserve --plot mypress\n" +
		"  rambook sweep --over \"setting = 5 to 25 in 40 steps MPa\" --show force,reserve -o force.svg mypress\n" +
		"  rambook sweep --over \"setting = 15 to 28 in 30 steps MPa\" --over \"bore = 140 to 200 in 30 steps mm\" " +
		"--show force --plot mypress"
}

// Run computes the model for all values and shows a table, a grid, or a stream
// of rows.
func (c *sweepCommand) Run(s *session) error {
	if c.Watch {
		return s.watch(c.Path, func() error { return c.once(s) })
	}
	return c.once(s)
}

func (c *sweepCommand) once(s *session) error {
	var names []string
	for _, over := range c.Over {
		name, _, _ := strings.Cut(over, "=")
		names = append(names, strings.TrimSpace(name))
	}
	model, err := c.loadAround(names...)
	if err != nil {
		return err
	}
	model, show, err := c.showing(model, c.Show, names...)
	if err != nil {
		return err
	}
	sweep, problems := model.Sweep(c.Over, show)
	if len(problems) > 0 {
		return refused(model, problems)
	}
	printWarnings(s.stderr, append(model.Warnings, sweep.Warnings...))
	if sweep.NoLimit {
		fmt.Fprintf(s.stderr, "no formula that depends on %s has a limit, so all of them are shown; --show chooses\n",
			page.OverNames(sweep))
	}
	if len(sweep.LeftOut) > 0 {
		fmt.Fprintf(s.stderr, "left out because open: %s; --show shows them\n",
			words.Listed(page.QuantityNames(sweep.LeftOut), 4))
	}
	view := page.NewSweepView(s.screen(), sweep)
	invented, drawn := model.Book.Invented(), s.draws(c.Plot || c.Contours)
	if !drawn && s.form.Stream != nil {
		s.tellInvented(invented)
		return s.stream(func(ctx context.Context, w io.Writer) error { return s.sendRows(ctx, w, view, invented) })
	}
	ctx, stop := s.untilInterrupted()
	defer stop()
	keep := func(*calc.Rows) {}
	if !drawn && s.form.Exact {
		sweep.Judges, keep = true, view.Keep
	}
	view.Failures, err = s.runSweep(ctx, sweep, func(*calc.Rows) {}, func(r *calc.Rows) error {
		keep(r)
		return nil
	})
	switch {
	case ctx.Err() != nil:
		return interrupted(s)
	case err != nil:
		return err
	case drawn:
		err = c.draw(s, model, sweep, &view.Failures)
	default:
		err = s.answer(answer.Of(c.title(model), invented, view))
	}
	if err != nil {
		return err
	}
	return s.tellFailures(view.Failures)
}

// runSweep computes all cases, and shows how far it is if that takes long.
func (s *session) runSweep(ctx context.Context, sweep *calc.Sweep, format func(*calc.Rows),
	emit func(*calc.Rows) error) (calc.Failures, error) {
	progress := s.newProgress(sweep.Cases())
	defer progress.end()
	return sweep.Run(ctx, 0, format, func(r *calc.Rows) error {
		progress.add(r.N)
		return emit(r)
	})
}

// tellFailures prints the errors of single cases, the first few in full.
func (s *session) tellFailures(failures calc.Failures) error {
	if failures.Cases == 0 {
		return nil
	}
	printProblems(s.stderr, "", failures.First)
	fmt.Fprintf(s.stderr, "%s could not be computed\n", words.Counted(failures.Cases, "case"))
	return errFails
}

// sendRows writes the rows in their order while they are computed. They are
// judged and formatted where they are computed, so that this uses every core as well.
func (s *session) sendRows(ctx context.Context, w io.Writer, view *page.SweepView, invented bool) error {
	head := view.Head()
	head.Invented = invented
	rows := s.form.Stream(head)
	view.Sweep.Judges = true
	err := rows.Around(w, func() (err error) {
		view.Failures, err = s.runSweep(ctx, view.Sweep, func(r *calc.Rows) {
			row := page.NewRow()
			for i := range r.N {
				view.Layout.FillRow(row, r, i)
				r.Text = rows.Row(r.Text, r.First+i == 0, row)
			}
		}, func(r *calc.Rows) error {
			_, err := w.Write(r.Text)
			return err
		})
		return err
	})
	if err != nil {
		return err
	}
	return s.tellFailures(view.Failures)
}
