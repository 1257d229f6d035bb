package calc

import (
	"context"
	"fmt"
	"math"
	"slices"
	"strconv"
	"time"

	"rambook/calc/function"
	"rambook/calc/phase"
	"rambook/calc/tape"
	"rambook/sheets"
	"rambook/sheets/log"
	"rambook/units"
	"rambook/units/words"
)

// cut takes the log of a phase sheet through: its columns and what formulas make
// of them run over the rows in blocks on every core, and the cutter gets them in
// order.
func (c *compiler) cut(cut *cutting) {
	plan := phase.Plan{Phases: cut.phases, Case: -1, Time: cut.trackOf(cut.columns[0].at), Step: log.MedianStep,
		Gap: log.GapSteps}
	for _, v := range cut.values {
		a := phase.Aggregate{Phase: v.phase, By: v.by, X: cut.trackOf(v.x), Holds: v.holds}
		if v.y != tape.None {
			a.Y = cut.trackOf(v.y)
		}
		plan.Aggregates = append(plan.Aggregates, a)
	}
	var ask []log.Ask
	var inputs []tape.Register
	for _, col := range cut.columns {
		ask, inputs = append(ask, log.Ask{Column: col.index}), append(inputs, col.at)
	}
	var texts log.Texts
	if cut.named >= 0 {
		ask = append(ask, log.Ask{Column: cut.named, Texts: &texts})
		plan.Case = len(cut.tracks)
	}
	plan.Tracks = len(cut.tracks)
	if plan.Case >= 0 {
		plan.Tracks++
	}
	program := tape.NewProgram(cut.tape, inputs, cut.tracks, cut.tape.Once(nil))
	cutter := phase.NewCutter(&plan)
	type batch struct {
		*phase.Window
		*tape.Worker
	}
	lines := map[int64]int{} // of rows that are warned of
	end, problems := log.Read(context.Background(), cut.log, ask, log.Options{Gap: tape.Missing},
		func() batch { return batch{plan.NewWindow(), program.NewWorker(tape.BlockSize)} },
		func(b *log.Batch, t batch) {
			tracks := t.Reserve(b.N)
			for first := 0; first < b.N; first += tape.BlockSize {
				n := min(tape.BlockSize, b.N-first)
				block := t.Run(first, n, func(block *tape.Block) {
					for i, col := range cut.columns {
						col.unit.SliceToSI(block.In[i], b.Values[i][first:first+n])
					}
				})
				for i, out := range block.Out {
					copy(tracks[i][first:], out)
				}
			}
			if plan.Case >= 0 {
				copy(tracks[plan.Case], b.Values[len(cut.columns)][:b.N])
			}
		},
		func(b *log.Batch, t batch) error {
			far := cutter.SoFar()
			gaps, jumps := far.Gaps, far.Jumps
			cutter.Feed(t.Window, b.N)
			if gaps == 0 && far.Gaps > 0 {
				lines[far.FirstGap] = b.Line(int(far.FirstGap - b.First))
			}
			if jumps == 0 && far.Jumps > 0 {
				lines[far.FirstJump] = b.Line(int(far.FirstJump - b.First))
			}
			return nil
		})
	if c.problems = append(c.problems, problems...); len(problems) > 0 {
		return
	}
	cut.result = cutter.Result()
	cut.names = cut.nameCycles(&texts)
	if at := slices.Index(cut.names, c.cycle.name); c.cycle.sheet == cut.sheet.Name && at >= 0 {
		cut.result.Cycles, cut.names = cut.result.Cycles[at:at+1], cut.names[at:at+1]
	}
	for _, w := range end.Words(cut.log) {
		c.warn(w)
	}
	c.warnCycles(cut, lines)
	c.makeCycles(cut)
}

// nameCycles names the cycles by their number, or by what stands in the log's column
// where they start; a name that comes again gets a number too.
func (cut *cutting) nameCycles(texts *log.Texts) []string {
	names := make([]string, len(cut.result.Cycles))
	seen := map[string]int{}
	for i := range names {
		names[i] = strconv.Itoa(i + 1)
		if cut.named >= 0 {
			name := texts.Of(cut.result.Cycles[i].Case)
			if seen[name]++; seen[name] > 1 {
				name = fmt.Sprintf("%s (%d)", name, seen[name])
			}
			names[i] = name
		}
	}
	return names
}

// warnCycles warns of what became of cycles that are none.
func (c *compiler) warnCycles(cut *cutting, lines map[int64]int) {
	r := cut.result
	at := func(message, hint string) { c.warn(placeIn(cut.sheet, cut.sheet.Phases[0].Phase).fault(message, hint)) }
	shown := func(seconds float64) string { return units.WithUnit(float64(float32(seconds)), second) }
	if r.Gaps > 0 {
		message := fmt.Sprintf("no sample for %s before this line", shown(r.LongestGap))
		if r.Gaps > 1 {
			message = fmt.Sprintf("%s in this log, of which this is the first and the longest lasts %s",
				words.Counted(r.Gaps, "gap"), shown(r.LongestGap))
		}
		c.warn(sheets.Problem{File: cut.log.Shown, Line: lines[r.FirstGap], Message: message,
			Hint: "a cycle with a gap in it is left out"})
	}
	if r.Jumps > 0 {
		message := "the clock goes back here, or stands still"
		if r.Jumps > 1 {
			message = fmt.Sprintf("the clock goes back or stands still %s, here first", words.Counted(r.Jumps, "time"))
		}
		c.warn(sheets.Problem{File: cut.log.Shown, Line: lines[r.FirstJump], Message: message,
			Hint: "a cycle with a jump in it is left out"})
	}
	if r.Interrupted > 0 {
		at(words.Counted(r.Interrupted, "cycle")+" with a gap or a jump of the clock left out", "")
	}
	if r.Incomplete > 0 {
		at(words.Counted(r.Incomplete, "cycle")+" left out: the next one began before all phases had ended",
			cut.whereStuck())
	}
	if r.Holes > 0 {
		what := "a column"
		for _, col := range cut.columns {
			if cut.trackOf(col.at) == r.FirstHole.Track {
				what = cut.log.Columns[col.index].Name
			}
		}
		message := fmt.Sprintf("%s has no sample for a while in %s of the cycle from %s", what,
			cut.sheet.Phases[r.FirstHole.Phase].Phase.Text, shown(r.FirstHole.Cycle))
		if r.Holes > 1 {
			message += fmt.Sprintf(", the first of %s with such a gap", words.Counted(r.Holes, "cycle"))
		}
		at(message, "what that phase computes from it stays open there")
	}
	if r.Unfinished && len(r.Cycles) > 0 {
		at("the log ends within a cycle, which is left out", "")
	}
	if len(r.Cycles) == 0 {
		at("no complete cycle in the log "+cut.log.Shown, cut.whereStuck())
	}
}

// whereStuck is how far cycles came.
func (cut *cutting) whereStuck() string {
	r := cut.result
	name := func(k int) string { return cut.sheet.Phases[k].Phase.Text }
	for k, began := range r.Reached {
		switch {
		case k == 0 && began == 0:
			return "the phase " + name(0) + " never began: its `from` held from the first row on, or never"
		case began == 0:
			return fmt.Sprintf("the phase %s never began", name(k)) + cut.heldAlready(k-1)
		}
	}
	last := len(r.Reached) - 1
	if len(r.Cycles) == 0 {
		return fmt.Sprintf("the phase %s began %s and never ended", name(last),
			words.Counted(r.Reached[last], "time")) + cut.heldAlready(last)
	}
	for k := 1; k <= last; k++ {
		if r.Reached[k] < r.Reached[k-1] {
			return fmt.Sprintf("%s began %s, %s %s", name(k-1), words.Counted(r.Reached[k-1], "time"), name(k),
				words.Counted(r.Reached[k], "time")) + cut.heldAlready(k-1)
		}
	}
	return ""
}

// heldAlready warns where the end of a phase came before its beginning, as it
// does where one sensor is behind the other.
func (cut *cutting) heldAlready(k int) string {
	if n := cut.result.Ended[k]; n > 0 {
		return fmt.Sprintf("; `to` of %s was true already when it began, %s: are two sensors out of step?",
			cut.sheet.Phases[k].Phase.Text, words.Counted(n, "time"))
	}
	return ""
}

// start is when a cycle began, in the unit of the column start.
func (cut *cutting) start(i int) (v float64, text string) {
	v = cut.result.Cycles[i].Start
	if !cut.log.Dated {
		return v, strconv.FormatFloat(v, 'g', 12, 64)
	}
	whole := math.Floor(v)
	at := time.Unix(cut.log.Midnight+int64(whole), int64((v-whole)*1e9)).UTC().Round(time.Millisecond)
	return float64(cut.log.Midnight) + v, at.Format("2006-01-02 15:04:05.999")
}

// startColumn is the header of the column that says when cycles began.
const startColumn = "start"

// makeCycles makes the cases of the cycles: when each began, what other case
// sheets add, and what the model asks of phases.
func (c *compiler) makeCycles(cut *cutting) {
	s := cut.sheet
	made := &sheets.Sheet{File: s.File, Name: s.Name, Kind: sheets.Cases, Made: true, Key: s.Header()}
	made.Key.Text = s.Name
	cut.cycles = made
	at := s.Phases[0].Phase // where the cells of a made sheet stand, if something is wrong with one
	cell := func(text string) sheets.Cell {
		at := at
		at.Text = text
		return at
	}
	t := &table{sheet: made}
	add := func(col *column, unit string) *column {
		col.sheet, col.index, col.loaded = made, len(made.Columns), true
		blank := cell("")
		made.Columns = append(made.Columns, sheets.Column{Name: cell(col.name), Unit: cell(unit), Spread: blank,
			Low: blank, High: blank})
		t.columns = append(t.columns, col)
		return col
	}
	n := len(cut.names)
	start := &column{name: startColumn, unit: second, values: make([]float64, n)}
	if cut.log.Dated {
		start.unit, _ = units.Parse("date")
	}
	start.typ = typeOf(start.unit)
	add(start, start.unit.Symbol)
	made.Cases = make([]sheets.CaseRow, n)
	for i, name := range cut.names {
		text := ""
		start.values[i], text = cut.start(i)
		made.Cases[i] = sheets.CaseRow{Name: cell(name), Cells: []sheets.Cell{cell(text)}}
	}
	cs := &caseSheet{sheet: made, starts: start}
	for _, other := range c.model.Book.Sheets {
		if other.Kind == sheets.Cases && !other.Made && other.Key.Text == s.Name {
			c.join(cs, other, add)
		}
	}
	for _, q := range c.model.Quantities {
		if q.cutting != cut {
			continue
		}
		known := false
		for _, a := range cs.asked {
			known = known || a.quantity == q
		}
		if known || !q.IsFormula() {
			continue
		}
		col := add(&column{name: q.Name, unit: q.Unit, typ: typeOf(q.Unit), quantity: q, asks: true,
			values: missing(n)}, q.Unit.Symbol)
		for i := range made.Cases {
			made.Cases[i].Cells = append(made.Cases[i].Cells, cell(""))
		}
		cs.asked = append(cs.asked, &judgedColumn{quantity: q, unit: q.Unit, column: col, spreadAt: tape.None,
			bounds: noBounds})
	}
	c.model.tables[s.Name] = t
	if len(cs.asked) > 0 {
		c.model.caseSheets = append(c.model.caseSheets, cs)
		cut.cases = cs
	}
	book := *c.model.Book
	book.Sheets = nil
	for _, other := range c.model.Book.Sheets {
		if other == s {
			other = made
		}
		book.Sheets = append(book.Sheets, other)
	}
	c.model.Book, c.sheets[s.Name] = &book, made
}

func missing(n int) []float64 {
	values := make([]float64, n)
	for i := range values {
		values[i] = tape.Missing
	}
	return values
}

// joinsCycles reports whether a case sheet adds columns to cycles: its first
// header is the name of a phase sheet.
func (c *compiler) joinsCycles(s *sheets.Sheet) bool {
	other := c.sheets[s.Key.Text]
	return other != nil && other.Kind == sheets.Phases
}

// hasPhases reports whether the notebook has a phase sheet.
func (c *compiler) hasPhases() bool {
	for _, s := range c.model.Book.Sheets {
		if s.Kind == sheets.Phases {
			return true
		}
	}
	return false
}

// join adds the columns of a case sheet to the cycles of the same names.
func (c *compiler) join(cs *caseSheet, s *sheets.Sheet, add func(*column, string) *column) {
	t := c.model.tables[s.Name]
	row := map[string]int{}
	for i := range s.Cases {
		row[s.Cases[i].Name.Text] = i
	}
	n := len(cs.sheet.Cases)
	for _, from := range t.columns {
		head := &s.Columns[from.index]
		if from.quantity != nil {
			c.load(from, nil)
		}
		col := *from
		col.values, col.typed = missing(n), nil
		if from.typed != nil {
			col.typed = missing(n)
		}
		for i := range cs.sheet.Cases {
			made := &cs.sheet.Cases[i]
			k, found := row[made.Name.Text]
			cell := made.Name
			cell.Text = ""
			if found {
				cell = s.Cases[k].Cells[from.index]
				if from.loaded {
					col.values[i] = from.values[k]
				}
				if from.typed != nil {
					col.typed[i] = from.typed[k]
				}
			}
			made.Cells = append(made.Cells, cell)
		}
		added := add(&col, head.Unit.Text)
		if from.quantity == nil {
			added.loaded = false // remarks may say what they like until something reads them
			continue
		}
		made := &cs.sheet.Columns[added.index]
		made.Unit, made.Spread, made.Low, made.High = head.Unit, head.Spread, head.Low, head.High
		c.useColumn(cs, added)
	}
}

// lowerCycles makes the inputs that stand for the aggregates.
func (l *lowering) lowerCycles() {
	for _, cut := range l.model.cuttings {
		at := cut.sheet.Phases[0].Phase
		for i := range cut.sheet.Phases {
			if cell := cut.sheet.Phases[i].Log; !cell.Blank() {
				at = cell // what is missing where there is no cycle
				break
			}
		}
		input := func(name string) *Quantity {
			l.mark(&formula{place: placeIn(cut.sheet, at)}, nil)
			r := l.tape.Input(tape.Missing)
			q := newQuantity(name, units.Unit{}, function.Plain)
			q.Sheet, q.entry.kind, q.value, q.passed = cut.sheet, formulaEntry, r, r
			return q
		}
		for _, v := range cut.values {
			v.value, v.spread = input(v.text), input("spread of "+v.text)
			v.value.Unit = units.Unit{Symbol: v.typ.Dim.String(), Dim: v.typ.Dim}
			if v.typ.Dim == units.Plain {
				v.value.Unit.Symbol = ""
			}
		}
		for _, q := range l.model.Quantities {
			if q.cutting == cut && cut.cases != nil && q.IsFormula() {
				q.cycles = &overCycles{rest: input("scatter of " + q.Name), restSpread: input("scatter of " + q.Name),
					readingSpread: input("spread of the reading of " + q.Name), reading: tape.None, misfit: tape.None}
				l.tape.Set(q.cycles.rest.value, 0)
				l.tape.Set(q.cycles.restSpread.value, 0)
			}
		}
	}
}

// overCycles is what the cycles of a log make of a quantity. In the model it is
// its mean over the cycles: what its formula makes of the means of the
// aggregates, and a rest, whose spread is that of the mean.
type overCycles struct {
	rest, restSpread *Quantity
	readingSpread    *Quantity
	reading          tape.Register // the formula of the reading, where it has one
	misfit           tape.Register // of a gauged reading: the spread that a misfit takes for what it does not share
}

// readsCyclesGauged reports whether the reading of a quantity is a formula over
// phases, whose samples a gauge of the sheet of gauges took.
func (q *Quantity) readsCyclesGauged() bool { return q.cycles != nil && q.cycles.misfit != tape.None }

// meanOverCycles adds the rest to what a quantity's formula yields.
func (l *lowering) meanOverCycles(q *Quantity) {
	if q.cycles != nil && q.entry.formula.has(cycleNode) {
		q.value = l.tape.Binary(tape.OpAdd, q.value, q.cycles.rest.value)
	}
}

// readOverCycles lowers the formulas of readings, behind all else.
func (l *lowering) readOverCycles() {
	for _, q := range l.model.Quantities {
		if f := q.reading.formula; f != nil && q.cutting != nil {
			q.reading = &entry{formula: f} // blank until there are cycles
			if q.cycles == nil {
				continue
			}
			q.cycles.reading = l.formula(f)
			if q.spread.kind == numberEntry || q.spread.kind == formulaEntry {
				q.spreadAt = l.tape.Norm([]tape.Register{q.spreadAt, q.cycles.readingSpread.value})
			} else {
				q.spreadAt = q.cycles.readingSpread.value
			}
			if q.isGauged() {
				q.cycles.misfit = q.spreadAt
				switch least := q.leastAt; {
				case q.own > 0: // which is in it
				case q.relative:
					least = l.tape.Mul(least, q.cycles.reading) // whose sign is lost in the squares
					fallthrough
				default:
					q.cycles.misfit = l.tape.Norm([]tape.Register{q.spreadAt, least})
				}
			}
		}
	}
	for _, cut := range l.model.cuttings {
		if cut.cases != nil {
			l.settle(cut)
		}
	}
}

// settle runs the model over the cycles: each aggregate is then its mean, and
// each quantity that uses phases has its rest and its readings.
func (l *lowering) settle(cut *cutting) {
	m, t, cs, n := l.model, l.tape, cut.cases, len(cut.names)
	given := func(q *Quantity, values []float64, spread tape.Register) {
		cs.given = append(cs.given, &givenColumn{quantity: q, column: &column{sheet: cs.sheet, values: values},
			spreadAt: spread})
	}
	for i, v := range cut.values {
		values, spreads := missing(n), missing(n)
		for k := range n {
			c := &cut.result.Cycles[k]
			if tape.Usable(c.Values[i]) {
				values[k], spreads[k] = c.Values[i], 0
				if tape.Usable(c.Spreads[i]) {
					spreads[k] = c.Spreads[i]
				}
			}
		}
		mean, _ := meanOf(values)
		t.Set(v.value.value, mean)
		t.Set(v.spread.value, spreadOfMean(spreads))
		v.value.spreadAt = v.spread.value
		given(v.value, values, v.spread.value)
		given(v.spread, spreads, tape.None)
	}
	zero := t.Constant(0)
	for _, q := range m.order {
		if q.cutting != cut || q.cycles == nil {
			continue
		}
		given(q.cycles.rest, make([]float64, n), zero)
		values, readings, readingSpreads := l.overCycles(cut, q)
		mean, spread := meanOf(values)
		if base := t.Once(nil)[q.value]; tape.Usable(base) && tape.Usable(mean) {
			t.Set(q.cycles.rest.value, mean-base)
			t.Set(q.cycles.restSpread.value, spread)
			q.cycles.rest.spreadAt = q.cycles.restSpread.value
		}
		if q.cycles.reading == tape.None {
			continue
		}
		for _, a := range cs.asked {
			if a.quantity == q {
				for k, v := range readings {
					if tape.IsMissing(a.column.values[k]) && tape.Usable(v) {
						a.column.values[k] = v // unless it was read otherwise
					}
				}
			}
		}
		own := slices.Clone(readingSpreads)
		for k, r := range readings {
			if q.spread.kind == percentEntry {
				readingSpreads[k] = math.Hypot(readingSpreads[k], q.spread.value*math.Abs(r))
			}
		}
		given(q.cycles.readingSpread, readingSpreads, tape.None)
		mean, spread = meanOf(readings)
		if !tape.Usable(mean) {
			continue
		}
		if q.spread.kind == percentEntry { // it is of the gauge, and the same in all cycles
			spread = math.Hypot(spread, q.spread.value*math.Abs(mean))
		}
		t.Set(q.cycles.readingSpread.value, math.Hypot(spread, spreadOfMean(own)))
		q.reading = &entry{kind: numberEntry, value: mean, typed: math.NaN(), typ: q.typ, formula: q.reading.formula}
		q.spread = q.spread.onTape() // spreadAt
		if q.use {
			t.Set(q.passed, mean)
		}
	}
}

// overCycles gives the value of a quantity in each cycle, and its reading with
// the spread that it has before that of the row.
func (l *lowering) overCycles(cut *cutting, q *Quantity) (values, readings, spreads []float64) {
	n := len(cut.names)
	values, readings, spreads = missing(n), missing(n), missing(n)
	t := l.tape.Extend()
	outputs := []tape.Register{q.value, q.cycles.reading, tape.None}
	if q.cycles.reading != tape.None {
		seeds := map[tape.Register]tape.Register{}
		for _, v := range cut.values {
			seeds[v.value.value] = v.spread.value
		}
		outputs[2] = tape.Differentiate(t, seeds, []tape.Register{q.cycles.reading}).Spread(q.cycles.reading)
	}
	base := t.Once(nil)
	program := tape.NewProgram(t, cut.cases.inputs(), outputs, base)
	_ = program.Run(context.Background(), n, 0, func(b *tape.Block) { cut.cases.fill(b, base) }, func(b *tape.Block) {
		for i, to := range [][]float64{values, readings, spreads} {
			if b.Out[i] != nil {
				copy(to[b.First:], b.Out[i])
			}
		}
	})
	return values, readings, spreads
}

// spreadOfMean is the spread of a mean of values with spreads of their own.
func spreadOfMean(spreads []float64) float64 {
	sum, n := 0.0, 0.0
	for _, s := range spreads {
		if tape.Usable(s) {
			sum += s * s
			n++
		}
	}
	if n == 0 {
		return 0
	}
	return math.Sqrt(sum) / n
}

// meanOf is the mean of the values that are there, with its spread; Missing of none.
func meanOf(values []float64) (mean, spread float64) {
	var kept []float64
	for _, v := range values {
		if tape.Usable(v) {
			kept = append(kept, v)
			mean += v
		}
	}
	if len(kept) == 0 {
		return tape.Missing, 0
	}
	mean /= float64(len(kept))
	if len(kept) == 1 {
		return mean, 0
	}
	return mean, function.Named("repeat_spread").Eval(kept, nil)
}
