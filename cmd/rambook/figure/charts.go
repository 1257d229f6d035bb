package figure

import (
	"math"
	"slices"
	"strings"

	"rambook/calc"
	"rambook/cmd/rambook/page"
	"rambook/units"
	"rambook/units/problem"
)

// WorthDrawing are the figures of a notebook that does not say which it wants:
// what the machine is for, a trend of what a dated sheet asks for, and the cases
// of the others that a limit holds.
func (s Artist) WorthDrawing(model *calc.Model, r *calc.Report, steps []calc.Step) ([]*Captioned, error) {
	var figures []*Captioned
	if shown, over := mainPair(r, steps); shown != nil {
		main, err := s.curveFigure(model, r, []*calc.Judged{shown}, over)
		if err != nil {
			return nil, err
		}
		figures = append(figures, main)
	}
	for _, result := range r.Cases {
		dated := model.DateColumn(result.Sheet) != ""
		for i, asked := range result.Asked {
			switch {
			case dated && asked.IsFormula():
				trend, _ := s.trendFigure(model, result.Sheet, asked.Name, "") // two visits make no line
				figures = append(figures, trend)
			case !dated && isLimited(result, i):
				figures = append(figures, s.CasesFigure(result, i))
			}
		}
	}
	return figures, nil
}

// mainSteps is how many steps the main chart has.
const mainSteps = 44

// curveFigure draws quantities over a given, from the low limit of the given,
// failing that 0, to its high one.
func (s Artist) curveFigure(model *calc.Model, r *calc.Report, shown []*calc.Judged, over *calc.Judged) (*Captioned,
	error) {
	low := over.Low
	if !calc.Has(low) {
		low = 0
	}
	// The notebook's own value is among the places, so that the chart passes
	// through the number in the table, unless it is beyond its limits.
	var places []float64
	inside := over.Value >= low && over.Value <= over.High
	if inside {
		places = append(places, over.Value)
	}
	for i := range mainSteps + 1 {
		x := low + (over.High-low)*float64(i)/mainSteps
		if !inside || math.Abs(x-over.Value) > (over.High-low)*1e-6 {
			places = append(places, x)
		}
	}
	slices.Sort(places)
	list := make([]string, len(places))
	for i, x := range places {
		list[i] = page.Shortest(x)
	}
	var names []string
	for _, j := range shown {
		names = append(names, j.Quantity.Name)
	}
	sweep, problems := model.Sweep([]string{over.Quantity.Name + " = " + strings.Join(list, ", ") + " " +
		over.Unit.Symbol}, names)
	if len(problems) > 0 {
		return nil, problem.Wrong(problems...)
	}
	figure, err := s.SweepFigure(sweep, r, new(calc.Failures)) // its points are no cases of the notebook
	if err != nil {
		return nil, err
	}
	figure.Notes = nil // the page has the cautions, and every verdict of the notebook itself
	given := over.Quantity.Name + " is " + page.Beside(s.JudgedInWords(over), over.Unit)
	if !inside {
		given += ", beyond its limits, where nothing is drawn"
	}
	var caption []string
	for _, j := range shown {
		if j.Verdict != calc.NoVerdict {
			caption = append(caption, s.Sentence(j)+".")
		}
	}
	return &Captioned{Figure: figure, Caption: append(caption, given+".")}, nil
}

// mainPair picks the quantities of the main chart: the headline of the
// summary, failing that the first formula with a limit, failing that the first
// formula, over the first given of which the notebook says how high it may be
// set. Beyond that it is not drawn.
func mainPair(r *calc.Report, steps []calc.Step) (shown, over *calc.Judged) {
	candidates := []*calc.Judged{page.Headline(r)}
	var others []*calc.Judged
	for i := range r.Quantities {
		switch j := &r.Quantities[i]; {
		case j.Quantity.Formula == "" || j.Quantity.IsText():
		case calc.Has(j.Low) || calc.Has(j.High):
			candidates = append(candidates, j)
		default:
			others = append(others, j)
		}
	}
	const tries = 20 // what comes later is hardly what the machine is for
	uses := usedBy(steps)
	for _, j := range append(candidates, others...)[:min(tries, len(candidates)+len(others))] {
		if j == nil || !calc.Has(j.Value) {
			continue
		}
		if over := governing(r, ancestors(uses, j.Quantity.Name)); over != nil {
			return j, over
		}
	}
	return nil, nil
}

// governing is the first given of some quantities that has a range, failing that
// the first that has a high limit and counts from 0; nil if there is none.
func governing(r *calc.Report, among map[string]bool) *calc.Judged {
	var other *calc.Judged
	for i := range r.Quantities {
		j := &r.Quantities[i]
		if !among[j.Quantity.Name] || j.Quantity.Formula != "" || !hasRange(j) {
			continue
		}
		if calc.Has(j.Low) {
			return j
		}
		if other == nil {
			other = j
		}
	}
	return other
}

// hasRange reports whether a given says from where to where it may be set;
// without a low limit that is from 0.
func hasRange(j *calc.Judged) bool {
	from := j.Low
	if !calc.Has(from) {
		from = 0
	}
	return j.Unit.Kind == units.Ordinary && calc.Has(j.Value) && from < j.High
}

// usedBy is by name what each quantity of a derivation is computed from.
func usedBy(steps []calc.Step) map[string][]string {
	uses := make(map[string][]string, len(steps))
	for i := range steps {
		uses[steps[i].Quantity.Name] = steps[i].From
	}
	return uses
}

// ancestors are name and the names of all that it is computed from.
func ancestors(uses map[string][]string, name string) map[string]bool {
	met := map[string]bool{name: true}
	for queue := []string{name}; len(queue) > 0; queue = queue[1:] {
		for _, used := range uses[queue[0]] {
			if !met[used] {
				met[used] = true
				queue = append(queue, used)
			}
		}
	}
	return met
}
