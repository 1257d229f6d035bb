package page

import (
	"cmp"
	"fmt"
	"math"
	"slices"
	"strings"

	"rambook/calc"
	"rambook/units/sorting"
	"rambook/units/words"
)

const (
	mostSentences = 6 // about quantities that fail, and about those that are unsure
	MostNames     = 5 // in one list of names
)

// Cautions stand below every answer that is bad news, where someone might be
// tempted to turn the setting up.
const Cautions = "Caution: oil under pressure and moving rams can injure and kill. " +
	"Never exceed a rating to make up for a shortfall. Local codes and licensed practice come first."

// Summary answers for the whole notebook, in sentences made from the verdicts:
// first whether it reaches what it is rated for, then what fails, what is
// unsure, and what has to be measured.
func (s Layout) Summary(model *calc.Model, r *calc.Report) []string {
	var lines []string
	for i := range r.Quantities {
		if j := &r.Quantities[i]; j.Quantity.IsVerdict() && j.Verdict != calc.NoVerdict {
			lines = append(lines, s.Sentence(j)) // whether the machine may run comes before what it can do
		}
	}
	headline := Headline(r)
	if headline != nil {
		lines = append(lines, s.Sentence(headline))
	}
	if list := s.Assumptions(r); len(list) > 0 {
		lines = append(lines, "Assumed by common practice, not of this machine: "+words.Listed(list, MostNames))
		if line := s.Improvement(model, r); line != "" {
			lines = append(lines, line)
		}
	}
	lines = append(lines, unjudged(r)...)
	for _, verdict := range []calc.Verdict{calc.Fail, calc.Unsure} {
		var list []*calc.Judged
		for i := range r.Quantities {
			j := &r.Quantities[i]
			if j.Verdict == verdict && j != headline && !j.Quantity.IsVerdict() && !RestsOnOther(j) {
				list = append(list, j)
			}
		}
		told, extra := gravest(list, mostSentences)
		for _, j := range told {
			lines = append(lines, s.Sentence(j))
		}
		if extra > 0 {
			lines = append(lines, words.Counted(extra, "more quantity")+": "+verdict.String())
		}
	}
	lines = append(lines, Resting(r, headline)...)
	for _, result := range r.Cases {
		if line := s.CaseLine(result); line != "" {
			lines = append(lines, line)
		}
	}
	if list := s.Differing(r); len(list) > 0 {
		lines = append(lines, "Reading and notebook differ: "+words.Listed(list,
			MostNames)+". "+scoreMeaning+" Formulas go on with the computed values; "+toDiagnose(r))
	}
	enter, measure := toDo(model, r)
	if len(enter) > 0 {
		lines = append(lines, "Enter next: "+words.Listed(enter, MostNames))
	}
	if len(measure) > 0 {
		lines = append(lines, "Measure next: "+words.Listed(measure, MostNames))
	}
	lines = append(lines, CountLine(r.Counts))
	if r.Counts.Fail > 0 {
		lines = append(lines, Cautions)
	}
	return lines
}

// toDiagnose is what looks for the cause of readings that differ, or what it needs
// before it can.
func toDiagnose(r *calc.Report) string {
	for j := range r.All() {
		if calc.Has(j.Reading) && calc.Has(j.ReadingSpread) && j.ReadingSpread > 0 {
			return "rambook diagnose looks for what explains the readings."
		}
	}
	return "before rambook diagnose can look for what explains the readings they need a spread: " +
		"the class and span of their gauge, or the column spread of their row."
}

// unjudged are the errors in rows, each once with the rows that have it: what cannot be
// computed may hide the worst of all.
func unjudged(r *calc.Report) (lines []string) {
	var order []string
	rows := map[string][]string{}
	for i := range r.Quantities {
		j := &r.Quantities[i]
		if j.Error == "" || j.Verdict != calc.Open || j.Quantity.IsVerdict() {
			continue
		}
		why := strings.TrimPrefix(j.Error, j.Quantity.Name+": ")
		for _, known := range order {
			if strings.HasSuffix(why, ": "+known) {
				why = known // of a row that this one goes on with
			}
		}
		if rows[why] == nil {
			order = append(order, why)
		}
		rows[why] = append(rows[why], j.Quantity.Name)
	}
	for _, why := range order {
		lines = append(lines, "error, so nothing is judged of "+words.Listed(rows[why], MostNames)+": "+why)
	}
	return lines
}

// gravest keeps, of more quantities than there is room for, those that are farthest
// beyond their limits for their size, in their order, and counts the rest. A given that
// is beyond its limits comes before all that is computed from it.
func gravest(list []*calc.Judged, most int) (kept []*calc.Judged, left int) {
	if len(list) <= most {
		return list, 0
	}
	beyond := func(j *calc.Judged) float64 {
		x, _, _ := j.Subject()
		far := 0.0
		if !j.Quantity.IsFormula() {
			far = 1
		}
		for _, limit := range []float64{j.Low, j.High} {
			if size := math.Max(math.Abs(x), math.Abs(limit)); size > 0 && (limit == j.Low) == (x < limit) {
				far = math.Max(far, math.Abs(x-limit)/size)
			}
		}
		return far
	}
	worst := slices.Clone(list)
	sorting.Stable(worst, func(a, b *calc.Judged) int { return cmp.Compare(beyond(b), beyond(a)) })
	for _, j := range list {
		if slices.Contains(worst[:most], j) {
			kept = append(kept, j)
		}
	}
	return kept, len(list) - most
}

// Headline picks the quantity that shows whether the machine does what it is
// for: the first that has another quantity, its rating, as its low limit; failing
// that, the first that has one as its high limit; failing that, the first with a low
// limit.
func Headline(r *calc.Report) *calc.Judged {
	var first, kept *calc.Judged
	for i := range r.Quantities {
		j := &r.Quantities[i]
		if j.LowName != "" && j.Quantity.IsFormula() && (calc.Has(j.Low) || j.Verdict == calc.Open) {
			return j
		}
		if kept == nil && j.HighName != "" && j.Quantity.IsFormula() && calc.Has(j.High) &&
			(calc.Has(j.Value) || j.Verdict == calc.Open) {
			kept = j
		}
		if !calc.Has(j.Low) || !j.Quantity.IsFormula() {
			continue
		}
		if first == nil {
			first = j
		}
	}
	return cmp.Or(kept, first)
}

// Assumptions lists the givens that are assumed and that something judged needs,
// with how far off they may be.
func (s Layout) Assumptions(r *calc.Report) []string {
	var list []string
	for i := range r.Quantities {
		if j := &r.Quantities[i]; j.Quantity.IsAssumed() && calc.Has(j.Value) {
			list = append(list, j.Quantity.Name+" "+Beside(s.judgedWithSpread(j), j.Unit))
		}
	}
	return list
}

// Improvement is which assumption to put a number of the machine in the place
// of first, and what that would settle: of what the machine is for, else of
// the first answer that is unsure for what is assumed.
func (s Layout) Improvement(model *calc.Model, r *calc.Report) string {
	settled := func(j *calc.Judged) *calc.Doubt {
		if d := model.Doubt(j); d != nil && len(d.Steps) > 0 {
			return d
		}
		return nil
	}
	best := settled(Headline(r))
	for i := 0; best == nil && i < len(r.Quantities); i++ {
		best = settled(&r.Quantities[i])
	}
	if best == nil {
		return ""
	}
	j := best.Judged
	text := fmt.Sprintf("Find out first: %s. It causes %.0f %% of the spread of %s", best.Steps[0].Name,
		100*best.Steps[0].Share, j.Quantity.Name)
	for i, step := range best.Steps {
		left := *j
		left.Spread = step.Left
		if i == 0 {
			text += fmt.Sprintf("; if it is as assumed, %s is ", j.Quantity.Name)
		} else {
			text += fmt.Sprintf("; if %s is so too, it is ", step.Name)
		}
		text += Beside(s.judgedWithSpread(&left), j.Unit) + map[calc.Verdict]string{
			calc.Pass: " and passes", calc.Fail: " and fails", calc.Unsure: ", still unsure"}[step.Verdict]
	}
	return text
}

// Sentence answers for one quantity, such as "force 981.7 kN reaches rated
// 1000 kN: no, 18.3 kN short".
func (s Layout) Sentence(j *calc.Judged) string {
	switch {
	case j.Verdict == calc.Open && j.Error != "" && len(j.Needs) == 0:
		return j.Quantity.Name + ": error"
	case j.Verdict == calc.Open && !j.Quantity.IsVerdict():
		return j.Quantity.Name + ": open, needs " + words.Listed(Names(j.Needs), MostNames)
	}
	switch {
	case j.Unbalanced != 0:
		return j.Quantity.Name + ": " + s.Margin(j)
	case j.Quantity.IsVerdict() && j.Verdict == calc.Pass:
		return j.Quantity.Name + ": yes"
	case j.Quantity.IsVerdict():
		return j.Quantity.Name + ": no, " + blamed(j)
	case j.Quantity.IsTick() && j.Verdict == calc.Pass:
		return j.Quantity.Name + ": done"
	case j.Quantity.IsTick():
		return j.Quantity.Name + ": not done"
	}
	limit := s.nearerLimit(j)
	verb, name := "keeps to", limit.name
	if limit.low {
		verb = "reaches"
	}
	if name == "" {
		name = "its " + limit.side()
	}
	answer := ""
	switch j.Verdict {
	case calc.Pass:
		x, _, _ := j.Subject()
		answer = "yes, " + s.step(j, x-limit.value) + " to spare"
	case calc.Fail:
		answer = "no, " + s.Margin(j) + besideMargin(j)
	case calc.Unsure:
		answer = "unsure"
		switch text := Likely(j); {
		case j.Unproven != nil:
			answer += ", since " + text + "; " + settling(j.Unproven)
		case text != "":
			answer += ", " + text
		}
	}
	return fmt.Sprintf("%s %s %s %s: %s", j.Quantity.Name, Beside(s.JudgedInWords(j), j.Unit),
		verb+" "+name, limit.text, answer)
}

// Trouble is, of a quantity that fails or is unsure, which limit it is about,
// such as "setting 35 MPa is 7.00 MPa over its high limit (rating 28 MPa)". It
// is "" for all others.
func (s Layout) Trouble(j *calc.Judged) string {
	switch {
	case j.Unbalanced != 0:
		return j.Quantity.Name + ": " + s.Margin(j)
	case j.Quantity.IsTick() && j.Verdict == calc.Fail:
		return j.Quantity.Name + " is not done"
	case j.Quantity.IsVerdict() && j.Verdict > calc.Open:
		return j.Quantity.Name + ": " + blamed(j)
	}
	limit := s.nearerLimit(j)
	where := fmt.Sprintf("its %s (%s)", limit.side(), strings.TrimSpace(limit.name+" "+limit.text))
	which := j.Quantity.Name + " " + Beside(s.JudgedInWords(j), j.Unit)
	switch {
	case j.Verdict == calc.Fail && limit.low:
		return fmt.Sprintf("%s is %s of %s", which, s.Margin(j), where) + besideMargin(j)
	case j.Verdict == calc.Fail:
		return fmt.Sprintf("%s is %s %s", which, s.Margin(j), where) + besideMargin(j)
	case j.Verdict == calc.Unsure && j.Unproven != nil:
		return fmt.Sprintf("%s may break %s: %s", which, where, unproven(j))
	case j.Verdict == calc.Unsure && calc.Has(j.Inside):
		return fmt.Sprintf("%s may break %s, %s to keep it", which, where, Likely(j))
	case j.Verdict == calc.Unsure:
		return fmt.Sprintf("%s may break %s", which, where)
	}
	return ""
}

// TroubleOfCase is what fails or is unsure in a case, "" if nothing is.
func (s Layout) TroubleOfCase(c *calc.Case) string {
	if c.Verdict < calc.Unsure {
		return ""
	}
	return "case " + c.Name + ": " + strings.Join(s.caseRemark(c), "; ")
}

// limit is one of the two limits of a quantity.
type limit struct {
	low   bool
	value float64
	text  string // with its unit
	name  string // of the quantity that it is, "" if it is none
}

func (l limit) side() string {
	if l.low {
		return "low limit"
	}
	return "high limit"
}

// nearerLimit is the limit to talk about.
func (s Layout) nearerLimit(j *calc.Judged) limit {
	if s.nearerLow(j) {
		return limit{true, j.Low, Beside(s.LowText(j), j.Unit), j.LowName}
	}
	return limit{false, j.High, Beside(s.HighText(j), j.Unit), j.HighName}
}

// JudgedInWords prints the number that is judged and its own spread, and
// adds if it is a reading.
func (s Layout) JudgedInWords(j *calc.Judged) string {
	if _, _, read := j.Subject(); read {
		return "reading " + s.judgedWithSpread(j)
	}
	return s.judgedWithSpread(j)
}

// nearerLow reports whether the low limit is the one to talk about: the one
// that is broken, else the one that is nearer.
func (s Layout) nearerLow(j *calc.Judged) bool {
	x, _, _ := j.Subject()
	switch {
	case j.Unbalanced != 0:
		return j.Unbalanced < 0
	case !calc.Has(j.Low) || !calc.Has(j.High):
		return calc.Has(j.Low)
	case x < j.Low || x > j.High:
		return x < j.Low
	}
	return x-j.Low < j.High-x
}

// besideMargin is what speaks against the number of a fail: whether two lengths stand in
// each other's rows, or that the error of what it was read with is not known.
func besideMargin(j *calc.Judged) string {
	text := ""
	if other := j.ExchangedWith(); other != "" {
		text = "; exchanged with " + other + "?"
	}
	if j.Unproven != nil {
		text += "; " + unproven(j)
	}
	return text
}

// Margin is how far a failing value is off.
func (s Layout) Margin(j *calc.Judged) string {
	if x, _, _ := j.Subject(); j.Unbalanced != 0 {
		return calc.NoBalance(j.Unbalanced, s.nearerLimit(j).text)
	} else if s.nearerLow(j) {
		return s.step(j, math.Abs(j.Low-x)) + " short"
	} else {
		return s.step(j, math.Abs(x-j.High)) + " over"
	}
}

// Differing lists the readings that do not agree with what the notebook
// computes, which is where a fault shows.
func (s Layout) Differing(r *calc.Report) []string {
	var list []string
	add := func(place string, j *calc.Judged) {
		if j.Agreement > 1 {
			list = append(list, fmt.Sprintf("%s%s (%s, %s)", place, j.Quantity.Name, s.difference(j), scoreText(j)))
		}
	}
	for i := range r.Quantities {
		add("", &r.Quantities[i])
	}
	for _, result := range r.Cases {
		for i := range result.Cases {
			for k := range result.Cases[i].Values {
				add(Printable(result.Cases[i].Name)+" ", &result.Cases[i].Values[k])
			}
		}
	}
	return list
}

// CaseLine sums up one case sheet, "" if nothing in it is judged.
func (s Layout) CaseLine(result calc.CaseResult) string {
	byVerdict := make(map[calc.Verdict][]string)
	for i := range result.Cases {
		c := &result.Cases[i]
		name := Printable(c.Name)
		if c.Verdict == calc.Fail || c.Verdict == calc.Unsure {
			if why := s.caseRemark(c); len(why) > 0 {
				short, _, _ := strings.Cut(why[0], " unsure") // why it is, the table says
				name += ": " + short
			}
		}
		byVerdict[c.Verdict] = append(byVerdict[c.Verdict], name)
	}
	var parts []string
	if n := len(byVerdict[calc.Pass]); n > 0 {
		parts = append(parts, fmt.Sprintf("%d pass", n))
	}
	for _, v := range []calc.Verdict{calc.Fail, calc.Unsure, calc.Open} {
		if list := byVerdict[v]; len(list) > 0 {
			parts = append(parts, fmt.Sprintf("%d %s (%s)", len(list), v, words.Listed(list, MostNames)))
		}
	}
	if len(parts) == 0 {
		return ""
	}
	text := fmt.Sprintf("%s: %s", result.Sheet.Name, strings.Join(parts, ", "))
	if result.OfAnswers() {
		text += " by the numbers dealt; no answer is marked here: rambook check --blind marks them"
	}
	return text
}

// CountLine is how often there is which verdict, as a sentence.
func CountLine(c calc.Counts) string {
	if c == (calc.Counts{}) {
		return "Nothing here has a limit, so nothing is judged."
	}
	return fmt.Sprintf("%d pass, %d fail, %d unsure, %d open.", c.Pass, c.Fail, c.Unsure, c.Open)
}
