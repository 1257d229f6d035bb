package page

import (
	"fmt"
	"math"
	"strings"

	"rambook/calc"
	"rambook/sheets/table"
	"rambook/units/words"
)

// Page is for people: what was found, then the tables it rests on.
func (v *DiagnosisView) Page() []table.Table {
	tables := append(v.found(), v.SuspectTable(), v.pairTable(), v.ReadingTable(), v.cautions())
	return WithoutEmpty(tables)
}

// Short is what was found without the tables.
func (v *DiagnosisView) Short() []table.Table {
	return WithoutEmpty(append(v.found(), v.cautions(),
		v.Layout.Sentences(2, "Left out: the tables of suspects and readings. --all shows them.")))
}

// found is what was found, in words.
func (v *DiagnosisView) found() []table.Table {
	return []table.Table{v.Layout.Sentences(0, v.Headline()), v.Layout.Sentences(len("1. "), v.Ranking()...),
		v.Layout.Sentences(2, v.Further()...)}
}

// cautions stand below every fault that is found or looked for, since somebody will go
// and mend it.
func (v *DiagnosisView) cautions() table.Table {
	if v.Diagnosis.Finding != calc.Explained && v.Diagnosis.Finding != calc.Unexplained {
		return table.Table{}
	}
	return v.Layout.Sentences(2, Cautions)
}

// WithoutEmpty leaves out the tables that have neither rows nor a note.
func WithoutEmpty(tables []table.Table) []table.Table {
	var kept []table.Table
	for _, t := range tables {
		if len(t.Rows) > 0 || t.Note != "" {
			kept = append(kept, t)
		}
	}
	return kept
}

const (
	mostRanked  = 5    // suspects that get a line in words
	leastTold   = 0.10 // of the misfit that a suspect must explain to get one
	leastEffect = 1e-6 // of the misfit; what explains less has nothing to do with it
	mostPairs   = 5
	mostOfIt    = 0.9 // of the misfit: then the suspect is named before what it leaves
)

// DiagnosisView puts a diagnosis into words and tables.
type DiagnosisView struct {
	Diagnosis *calc.Diagnosis
	Layout    Layout
	WithPairs bool // pairs of suspects were fitted too
}

// Headline is in a sentence what the readings come to.
func (v *DiagnosisView) Headline() string {
	if v.Diagnosis.Finding == calc.NoReadings {
		return "There is no reading to work with: only a reading with a spread counts."
	}
	figures := fmt.Sprintf("misfit %s for %s", rough(v.Diagnosis.Misfit),
		words.Counted(len(v.Diagnosis.Readings), "reading"))
	if v.Diagnosis.Finding == calc.NothingWrong {
		return v.nothingWrong(figures)
	}
	misfits := fmt.Sprintf("The readings do not fit the notebook: %s read this far off (%s). ",
		soundMachines(v.Diagnosis.P), figures)
	if v.Diagnosis.StandsOut() {
		misfits = fmt.Sprintf("The readings do not fit the notebook: all of them together could be chance (%s), but "+
			"%s takes %s off the misfit, and the best of %s takes that much off by chance in %s. ",
			figures, v.Diagnosis.Suspects[0].Suspect.Quantity.Name, rough(v.Diagnosis.Drop),
			words.Counted(len(v.Diagnosis.Suspects), "suspect"), soundMachines(v.Diagnosis.DropP))
	}
	leaders := v.leaders()
	switch {
	case len(v.Diagnosis.Suspects) == 0:
		return misfits + "There is no suspect to try: list in a suspect sheet which givens may be off."
	case v.severalExplain():
		return misfits + "No suspect explains it alone, " + v.together()
	case v.Diagnosis.Finding == calc.Unexplained:
		best := &v.Diagnosis.Suspects[0]
		if best.Explains > mostOfIt {
			return misfits + fmt.Sprintf("%s explains most of it, %s, but what is left (misfit %s) does not fit "+
				"either: none of the suspects explains all of it alone.", best.Suspect.Quantity.Name,
				percent(best.Explains), rough(best.Misfit))
		}
		return misfits + "None of the suspects explains it alone; the nearest is " +
			best.Suspect.Quantity.Name + "."
	case len(leaders) == 1:
		return misfits + leaders[0] + " explains it."
	}
	return misfits + "They cannot tell " + words.Listed(leaders, mostRanked) + " apart."
}

// nothingWrong is by what a machine is called sound.
func (v *DiagnosisView) nothingWrong(figures string) string {
	text := "Nothing is wrong within the spread of the readings: "
	if !calc.Has(v.Diagnosis.DropP) {
		return text + fmt.Sprintf("%s read farther off (%s).", soundMachines(v.Diagnosis.P), figures)
	}
	return text + fmt.Sprintf(
		"%s look worse, by all readings (%s) or by what the best of %s takes off the misfit (%s).",
		soundMachines(v.Diagnosis.EitherP), figures, words.Counted(len(v.Diagnosis.Suspects), "suspect"),
		rough(v.Diagnosis.Drop))
}

// severalExplain reports whether it takes several suspects at once to explain
// the readings.
func (v *DiagnosisView) severalExplain() bool {
	return len(v.Diagnosis.Found) > 1 && v.Diagnosis.Suspects[0].P < poorFit && v.Diagnosis.LeftP >= poorFit
}

// together is what was found when the suspects were freed one after another.
func (v *DiagnosisView) together() string {
	var parts []string
	for i := range v.Diagnosis.Found {
		f := &v.Diagnosis.Found[i]
		u := f.Suspect.Quantity.Unit
		parts = append(parts, fmt.Sprintf("%s %s instead of %s", f.Suspect.Quantity.Name,
			Beside(v.Layout.Numbers.WithSpread(u, f.Value, f.Spread), u),
			Beside(v.Layout.Numbers.TypedOn(u, f.Nominal, NoSpread), u)))
	}
	text := fmt.Sprintf("but %d together do: %s", len(parts), words.Listed(parts, len(parts)))
	text += fmt.Sprintf(". The misfit left over is %s.", rough(v.Diagnosis.Left))
	for i := range v.Diagnosis.Found {
		f := &v.Diagnosis.Found[i]
		if len(f.Tied) > 0 {
			text += fmt.Sprintf(" Instead of %s it may just as well be %s.", f.Suspect.Quantity.Name,
				words.Listed(tiedNames(f), mostRanked))
		}
	}
	return text
}

// tiedNames are what would explain as much in the place of a fault.
func tiedNames(f *calc.FoundFault) (names []string) {
	for _, t := range f.Tied {
		names = append(names, t.Quantity.Name)
	}
	return names
}

// leaders names the suspects that explain the readings about equally well.
func (v *DiagnosisView) leaders() []string {
	var names []string
	for _, f := range v.Diagnosis.Suspects {
		if f.Leads {
			names = append(names, f.Suspect.Quantity.Name)
		}
	}
	return names
}

// Ranking gives a line to each suspect that is worth one, best first.
func (v *DiagnosisView) Ranking() []string {
	if v.Diagnosis.Finding == calc.NoReadings {
		return nil
	}
	if v.Diagnosis.Finding == calc.NothingWrong {
		for _, f := range v.Diagnosis.Suspects {
			if f.Weight > v.Diagnosis.Sound {
				return []string{"Keep an eye on " + v.line(&f)}
			}
		}
		return nil
	}
	var lines []string
	for i := range v.Diagnosis.Suspects {
		f := &v.Diagnosis.Suspects[i]
		if i >= mostRanked || !f.Leads && f.Explains < leastTold {
			break
		}
		lines = append(lines, fmt.Sprintf("%d. %s", i+1, v.line(f)))
	}
	if rest := len(v.Diagnosis.Suspects) - len(lines); rest > 0 && len(lines) > 0 {
		text := "No effect on these readings: " + words.Counted(rest, "more suspect") + "."
		if best := v.Diagnosis.Suspects[len(lines)].Explains; best > leastEffect {
			text = fmt.Sprintf("Little or nothing (%.0f %% at most): %s.", math.Ceil(100*best),
				words.Counted(rest, "more suspect"))
		}
		lines = append(lines, text)
	}
	return lines
}

// lopsided is from when on an end of what is possible means more than the best
// value does: that end is known so much better than the other, which is open.
const lopsided = 2

// line is one suspect in plain words, with the next check.
func (v *DiagnosisView) line(f *calc.SuspectFit) string {
	q := f.Suspect.Quantity
	text := q.Name
	if cause := f.Suspect.Row.Note.Text; cause != "" {
		text += " (" + Printable(cause) + ")"
	}
	value := Beside(v.Layout.Numbers.WithSpread(q.Unit, f.Value, f.Spread), q.Unit)
	switch up, down := f.To-f.Value, f.Value-f.From; {
	case f.OpenTo && !f.OpenFrom && up > lopsided*down:
		value = "at least " + Beside(v.Layout.Numbers.TypedOn(q.Unit, f.From, down), q.Unit)
	case f.OpenFrom && !f.OpenTo && down > lopsided*up:
		value = "at most " + Beside(v.Layout.Numbers.TypedOn(q.Unit, f.To, up), q.Unit)
	case f.AtEnd:
		value = Beside(v.Layout.Numbers.TypedOn(q.Unit, f.Value, NoSpread), q.Unit) + " or beyond"
	}
	text += fmt.Sprintf(": %s instead of %s explains %s", value,
		Beside(v.Layout.Numbers.TypedOn(q.Unit, f.Nominal, NoSpread), q.Unit), explained(f.Explains))
	if f.Suspect.Quantity.IsGauge() && !f.AtEnd {
		amount, side := Beside(v.Layout.Numbers.WithSpread(q.Unit, math.Abs(f.Value), f.Spread), q.Unit), "much"
		if f.Value < 0 {
			side = "little"
		}
		text = fmt.Sprintf("%s shows %s too %s, which explains %s", q.Name, amount, side, explained(f.Explains))
	}
	if check := f.Suspect.Row.NextCheck.Text; check != "" {
		var read []string
		for i := range v.Diagnosis.Readings {
			read = append(read, v.Diagnosis.Readings[i].Quantity.Name)
		}
		text += ". " + nextCheck(check, read)
	}
	return text + "."
}

// nextCheck is the check that the sheet has for a suspect, told as one that has been
// made if it names a quantity that was read.
func nextCheck(check string, read []string) string {
	spoken := func(text string) string { return strings.ReplaceAll(strings.ToLower(text), "_", " ") }
	for _, name := range read {
		if strings.Contains(name, "_") && strings.Contains(spoken(check), spoken(name)) {
			return "Read already, " + name + ": " + Printable(check)
		}
	}
	return "Next: " + Printable(check)
}

// Further is what to read next, and what took no part.
func (v *DiagnosisView) Further() []string {
	var lines []string
	switch next := v.Diagnosis.Next; {
	case v.Diagnosis.Finding == calc.NoReadings && len(v.Diagnosis.Planned) > 0:
		lines = append(lines, "Readings to take: "+words.Listed(QuantityNames(v.Diagnosis.Planned), 2*MostNames)+
			". Type one in with: rambook set "+v.Diagnosis.Planned[0].Name+".reading VALUE")
	case next != nil:
		a, b := &next.Predicts[0], &next.Predicts[1]
		u := next.Quantity.Unit
		text := fmt.Sprintf("To tell %s and %s apart read %s (sheet %s): %s if it is %s, %s if it is %s.",
			a.Suspect.Quantity.Name, b.Suspect.Quantity.Name, next.Quantity.Name, next.Quantity.Sheet.Name,
			Beside(v.Layout.Numbers.WithSpread(u, a.Value, a.Spread), u), a.Suspect.Quantity.Name,
			Beside(v.Layout.Numbers.WithSpread(u, b.Value, b.Spread), u), b.Suspect.Quantity.Name)
		lines = append(lines, text)
	case v.Diagnosis.Finding != calc.NothingWrong && len(v.leaders()) > 1:
		lines = append(lines, fmt.Sprintf("No planned reading can tell %s and %s apart. "+
			"A planned reading is a formula with a spread but no reading yet.",
			v.Diagnosis.Suspects[0].Suspect.Quantity.Name, v.Diagnosis.Suspects[1].Suspect.Quantity.Name))
	}
	if v.Diagnosis.Finding == calc.Unexplained && len(v.Diagnosis.Suspects) > 1 && len(v.Diagnosis.Pairs) == 0 {
		lines = append(lines, "Two may be off at once: rambook diagnose --pairs tries each two together.")
	}
	lines = append(lines, aside(v.Diagnosis.LeftOut, v.Diagnosis.Unfreed)...)
	if len(v.Diagnosis.Untouched) > 0 {
		lines = append(lines, "No suspect affects "+words.Listed(QuantityNames(v.Diagnosis.Untouched),
			2*MostNames)+".")
	}
	return lines
}

// aside tells which readings and suspects take no part.
func aside(leftOut, unfreed []calc.Reason) []string {
	return append(together(leftOut, "%s is left out: %s.", "%s are left out, each because %s."),
		together(unfreed, "Suspect %s cannot be tried: it %s.", "Suspects %s cannot be tried: each %s.")...)
}

// together tells reasons, one line for all that has the same.
func together(list []calc.Reason, one, several string) (lines []string) {
	var whys []string
	names := map[string][]string{}
	for _, r := range list {
		if names[r.Why] == nil {
			whys = append(whys, r.Why)
		}
		names[r.Why] = append(names[r.Why], r.Quantity.Name)
	}
	for _, why := range whys {
		form := several
		if len(names[why]) == 1 {
			form = one
		}
		lines = append(lines, fmt.Sprintf(form, words.Listed(names[why], 2*MostNames), why))
	}
	return lines
}

// QuantityNames are the names of quantities, in their order.
func QuantityNames(list []*calc.Quantity) []string {
	var names []string
	for _, q := range list {
		names = append(names, q.Name)
	}
	return names
}

// SuspectTable lists all suspects, and the alternative that nothing is wrong.
func (v *DiagnosisView) SuspectTable() table.Table {
	t := table.Table{Title: "suspects, each freed alone", Columns: []table.Column{
		{Header: "suspect"}, {Header: "fitted", Align: table.Decimal},
		{Header: "given", Align: table.Decimal}, {Header: "misfit", Align: table.Decimal},
		{Header: "explains", Align: table.Right}, {Header: "weight", Align: table.Right}}}
	for i := range v.Diagnosis.Suspects {
		f := &v.Diagnosis.Suspects[i]
		q := f.Suspect.Quantity
		u := q.Unit
		t.Rows = append(t.Rows, table.Row{Cells: []string{q.Name,
			Beside(v.Layout.Numbers.WithSpread(u, f.Value, f.Spread), u), // one column, so that all fit 80 characters
			v.Layout.Numbers.TypedOn(u, f.Nominal, NoSpread), rough(f.Misfit), percent(f.Explains),
			v.weight(f.Weight)}})
	}
	if len(v.Diagnosis.Suspects) > 0 {
		t.Note = "misfit: how far off all readings are together with that suspect free; " +
			"explains: how much of the misfit is gone then."
		t.Rows = append(t.Rows, table.Row{Cells: []string{"nothing wrong", "", "", rough(v.Diagnosis.Misfit), "",
			v.weight(v.Diagnosis.Sound)}})
	}
	return t
}

// weight is how much is to be said for one suspect against the others; if none
// explains the readings, that means nothing.
func (v *DiagnosisView) weight(share float64) string {
	if v.Diagnosis.Finding == calc.Unexplained {
		return ""
	}
	return percent(share)
}

// pairTable lists the best pairs.
func (v *DiagnosisView) pairTable() table.Table {
	t := table.Table{Title: "suspects, two freed together", Columns: []table.Column{
		{Header: "first"}, {Header: "second"}, {Header: "misfit", Align: table.Decimal},
		{Header: "explains", Align: table.Right}}}
	for _, p := range v.Diagnosis.Pairs[:min(mostPairs, len(v.Diagnosis.Pairs))] {
		var cells []string
		for k, s := range p.Suspects {
			cells = append(cells, s.Quantity.Name+" "+Beside(v.Layout.Numbers.WithSpread(s.Quantity.Unit, p.Values[k],
				p.Spreads[k]), s.Quantity.Unit))
		}
		t.Rows = append(t.Rows, table.Row{Cells: append(cells, rough(p.Misfit), percent(p.Explains))})
	}
	if more := len(v.Diagnosis.Pairs) - mostPairs; more > 0 {
		t.Note = fmt.Sprintf("Tried as well, and no better: %s.", words.Counted(more, "more pair"))
	}
	return t
}

// ReadingTable lists the readings beside what the notebook computes.
func (v *DiagnosisView) ReadingTable() table.Table {
	t := table.Table{Title: "readings, and what the notebook computes", Columns: []table.Column{
		{Header: "quantity"}, {Header: "reading", Align: table.Decimal}, {Header: "±", Align: table.Decimal},
		{Header: "computed", Align: table.Decimal}, {Header: "±", Align: table.Decimal}, {Header: "unit"},
		{Header: "agrees"}}}
	for i := range v.Diagnosis.Readings {
		r := &v.Diagnosis.Readings[i]
		u := r.Quantity.Unit
		t.Rows = append(t.Rows, table.Row{Cells: []string{r.Quantity.Name,
			v.Layout.Numbers.TypedOn(u, r.Reading, r.ReadingSpread),
			v.Layout.Numbers.SpreadOn(u, r.Reading, r.ReadingSpread),
			v.Layout.Numbers.computedOn(u, r.Computed, r.Spread), v.Layout.Numbers.SpreadOn(u, r.Computed, r.Spread),
			ShownUnit(u), agrees(r.Agreement)}})
	}
	if len(t.Rows) > 0 {
		t.Note = "agrees: yes or no, then E_n. " + scoreMeaning
	}
	return t
}

// agrees is the word for an E_n, and the figure behind it.
func agrees(score float64) string {
	if !calc.Has(score) {
		return ""
	}
	word := "no"
	if score <= 1 {
		word = "yes"
	}
	return word + " " + NumberStyle{Digits: 2}.Computed(score, NoSpread)
}

// Rows is the ranking for other programs.
func (v *DiagnosisView) Rows() table.Table {
	t := table.Table{}
	for _, header := range []string{"suspect", "value", "unit", "spread", "nominal", "misfit", "explains", "weight",
		"next_check"} {
		t.Columns = append(t.Columns, table.Column{Header: header})
	}
	for _, f := range v.Diagnosis.Suspects {
		u := f.Suspect.Quantity.Unit
		t.Rows = append(t.Rows, table.Row{Cells: []string{f.Suspect.Quantity.Name, Exact(u, f.Value), u.Symbol,
			Shortest(f.Spread),
			Exact(u, f.Nominal), Shortest(f.Misfit), Shortest(f.Explains), Shortest(f.Weight),
			f.Suspect.Row.NextCheck.Text}})
	}
	return t
}

// rough prints a figure of merit, of which nobody needs many digits.
func rough(x float64) string {
	switch {
	case math.Abs(x) >= 1000:
		return NumberStyle{Digits: 3}.Computed(x, NoSpread)
	case math.Abs(x) >= 100:
		return fixed(x, 0)
	case math.Abs(x) < 0.005:
		return fixed(0, 2)
	}
	return NumberStyle{Digits: 3}.Computed(x, NoSpread)
}

// percent prints a share, of which nobody needs many digits.
func percent(share float64) string {
	switch {
	case !calc.Has(share):
		return ""
	case share >= 0.995 && share < 1-1e-9:
		return ">99 %"
	case math.Abs(share) < 0.001:
		return "<0.1 %"
	case share < 0.0095:
		return fixed(100*share, 1) + " %"
	}
	return fixed(100*share, 0) + " %"
}

// explained is how much of a misfit is gone, in words before the figure.
func explained(share float64) string {
	word := "little"
	switch {
	case share >= 0.95:
		word = "nearly all"
	case share >= 0.5:
		word = "most"
	case share >= 0.2:
		word = "a part"
	}
	return word + " of it (" + inWords(share) + ")"
}

// soundMachines is a share of sound machines, counted as people count them.
func soundMachines(share float64) string {
	switch {
	case share < 0.001:
		return "fewer than 1 in 1,000 sound machines"
	case share < 0.01:
		return fmt.Sprintf("about %.0f in 1,000 sound machines", 1000*share)
	case share < 0.995:
		return fmt.Sprintf("about %.0f in 100 sound machines", 100*share)
	}
	return "nearly all sound machines"
}

// inWords prints a share for a sentence.
func inWords(share float64) string {
	return strings.NewReplacer("<", "less than ", ">", "more than ").Replace(percent(share))
}

type jsonSuspect struct {
	Name      string `json:"name"`
	Value     any    `json:"value,omitzero"`
	Unit      string `json:"unit"`
	Spread    any    `json:"spread,omitzero"`
	Nominal   any    `json:"nominal,omitzero"`
	Misfit    any    `json:"misfit,omitzero"`
	Explains  any    `json:"explains,omitzero"`
	Weight    any    `json:"weight,omitzero"`
	NextCheck string `json:"next_check"`
	From      any    `json:"from,omitzero"` // what the readings leave possible,
	To        any    `json:"to,omitzero"`   // absent where that is open
}

type jsonReadingFit struct {
	Name      string `json:"name"`
	Reading   any    `json:"reading"`
	Computed  any    `json:"computed"`
	Agreement any    `json:"agreement,omitzero"`
}

type jsonPrediction struct {
	Suspect string `json:"suspect"`
	Value   any    `json:"value"`
	Spread  any    `json:"spread,omitzero"`
}

type jsonNextReading struct {
	Name      string           `json:"name"`
	Separates float64          `json:"separates"`
	Unit      string           `json:"unit"`
	Predicts  []jsonPrediction `json:"predicts"`
}

type jsonPairMember struct {
	Name   string `json:"name"`
	Value  any    `json:"value"`
	Unit   string `json:"unit"`
	Spread any    `json:"spread,omitzero"`
}

type jsonPair struct {
	Suspects []jsonPairMember `json:"suspects"`
	Misfit   any              `json:"misfit"`
	Explains any              `json:"explains,omitzero"`
}

type jsonLeftOut struct {
	Name string `json:"name"`
	Why  string `json:"why"`
}

type jsonDiagnosis struct {
	Finding string `json:"finding"`
	Misfit  any    `json:"misfit,omitzero"`
	P       any    `json:"p,omitzero"`
	Drop    any    `json:"drop,omitzero"`   // the most that one suspect takes from the misfit,
	DropP   any    `json:"p_drop,omitzero"` // how often the best of them does so by chance,
	// and how often a sound machine looks worse by p or by p_drop
	EitherP     any              `json:"p_either,omitzero"`
	Readings    []jsonReadingFit `json:"readings"`
	LeftOut     []jsonLeftOut    `json:"left_out"`
	Untouched   []string         `json:"untouched"`
	Suspects    []jsonSuspect    `json:"suspects"`
	Found       []jsonFault      `json:"found"`
	Left        any              `json:"misfit_left,omitzero"`
	Sound       any              `json:"nothing_wrong,omitzero"`
	Pairs       []jsonPair       `json:"pairs,omitzero"`
	NextReading *jsonNextReading `json:"next_reading,omitempty"`
}

// Object is what `--format json` promises.
func (v *DiagnosisView) Object() any { return newJSONDiagnosis(v.Diagnosis, v.WithPairs) }

// newJSONDiagnosis gives a diagnosis the shape that `diagnose --format json`
// promises.
func newJSONDiagnosis(d *calc.Diagnosis, pairs bool) jsonDiagnosis {
	out := jsonDiagnosis{Finding: d.Finding.String(), Misfit: Plain(d.Misfit), P: Plain(d.P),
		Drop: Plain(d.Drop), DropP: Plain(d.DropP), EitherP: Plain(d.EitherP),
		Readings: []jsonReadingFit{},
		LeftOut:  []jsonLeftOut{}, Untouched: append([]string{}, QuantityNames(d.Untouched)...),
		Suspects: []jsonSuspect{}, Sound: Plain(d.Sound)}
	for _, r := range d.Readings {
		u := r.Quantity.Unit
		out.Readings = append(out.Readings, jsonReadingFit{r.Quantity.Name, JSONNumber(u, r.Reading),
			JSONNumber(u, r.Computed), Plain(r.Agreement)})
	}
	for _, r := range d.LeftOut {
		out.LeftOut = append(out.LeftOut, jsonLeftOut{r.Quantity.Name, r.Why})
	}
	for _, f := range d.Suspects {
		u := f.Suspect.Quantity.Unit
		var from, to any
		if !f.OpenFrom {
			from = JSONNumber(u, f.From)
		}
		if !f.OpenTo {
			to = JSONNumber(u, f.To)
		}
		out.Suspects = append(out.Suspects, jsonSuspect{f.Suspect.Quantity.Name, JSONNumber(u, f.Value), u.Symbol,
			Plain(f.Spread),
			JSONNumber(u, f.Nominal), Plain(f.Misfit), Plain(f.Explains), Plain(f.Weight),
			f.Suspect.Row.NextCheck.Text, from, to})
	}
	out.Found, out.Left = jsonFaults(d.Found), Plain(d.Left)
	if pairs {
		out.Pairs = []jsonPair{}
	}
	for _, p := range d.Pairs {
		pair := jsonPair{Misfit: Plain(p.Misfit), Explains: Plain(p.Explains)}
		for k, s := range p.Suspects {
			u := s.Quantity.Unit
			pair.Suspects = append(pair.Suspects, jsonPairMember{s.Quantity.Name, JSONNumber(u, p.Values[k]), u.Symbol,
				Plain(p.Spreads[k])})
		}
		out.Pairs = append(out.Pairs, pair)
	}
	if n := d.Next; n != nil {
		out.NextReading = &jsonNextReading{Name: n.Quantity.Name, Separates: n.Separates, Unit: n.Quantity.Unit.Symbol}
		for _, p := range n.Predicts {
			out.NextReading.Predicts = append(out.NextReading.Predicts,
				jsonPrediction{p.Suspect.Quantity.Name, JSONNumber(n.Quantity.Unit, p.Value), Plain(p.Spread)})
		}
	}
	return out
}
