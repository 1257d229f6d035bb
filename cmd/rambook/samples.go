package main

import (
	"context"
	"io"
	"slices"

	"rambook/calc"
	"rambook/cmd/rambook/answer"
	"rambook/cmd/rambook/page"
)

// sendSamples writes the samples of some formulas, of all if there are none, while
// they are drawn.
func (s *session) sendSamples(model *calc.Model, formulas []*calc.Quantity, flags sampleFlags) error {
	opt, err := flags.options()
	switch {
	case err != nil:
		return err
	case opt.Samples == 0:
		return problem("--samples needs --sample, which says how many", "as in --sample 10000 --samples -o samples.csv")
	case s.form.Stream == nil:
		return problem("samples are rows for other programs", "write --format csv or json, or -o FILE.csv or FILE.json")
	}
	samples, problems := model.Samples(formulas, opt)
	if samples == nil {
		return refused(model, problems)
	}
	printWarnings(s.stderr, model.Warnings)
	head := page.SampleHead(samples)
	head.Invented = model.Book.Invented()
	s.tellInvented(head.Invented)
	return s.stream(func(ctx context.Context, w io.Writer) error {
		rows := s.form.Stream(head)
		return rows.Around(w, func() error {
			return samples.Run(ctx, func(r *calc.SampleRows) {
				row := &answer.Row{Lists: make([][]float64, 2)}
				for i := range r.N {
					row.Lists[0], row.Lists[1] = row.Lists[0][:0], row.Lists[1][:0]
					for _, values := range r.Givens {
						row.Lists[0] = append(row.Lists[0], values[i])
					}
					for _, values := range r.Formulas {
						row.Lists[1] = append(row.Lists[1], values[i])
					}
					r.Text = rows.Row(r.Text, r.First+i == 0, row)
				}
			}, func(r *calc.SampleRows) error {
				_, err := w.Write(r.Text)
				return err
			})
		})
	})
}

// sendSamples writes the samples of the notebook's formulas, or of those in the
// sheets that were asked for.
func (c *checkCommand) sendSamples(s *session) error {
	if len(c.More) > 0 || c.Watch || c.Blind {
		return problem("--samples are those of one notebook as it stands",
			"leave out --watch, --blind and further notebooks")
	}
	model, err := c.load()
	if err != nil {
		return err
	}
	var formulas []*calc.Quantity
	if len(c.Only) > 0 {
		report := &calc.Report{}
		if err := c.narrow(model.Book, report); err != nil {
			return err
		}
		for _, q := range model.Quantities {
			if slices.ContainsFunc(c.Only, func(name string) bool { return model.Book.Sheet(name) == q.Sheet }) {
				formulas = append(formulas, q)
			}
		}
	}
	return s.sendSamples(model, formulas, c.sampleFlags)
}
