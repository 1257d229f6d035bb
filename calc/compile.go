package calc

import (
	"maps"
	"slices"
	"strings"

	"rambook/calc/tape"
	"rambook/sheets"
	"rambook/units"
	"rambook/units/cores"
	"rambook/units/sorting"
	"rambook/units/words"
)

// compiler takes a notebook through the passes: read the rows, parse the
// formulas, resolve their names, order them, infer dimensions, lower to the
// tape. Every pass reports all it finds; lowering happens only without problems.
type compiler struct {
	model      *Model
	problems   []sheets.Problem
	formulas   []*formula // all expressions, in the order they were read
	parsed     int        // so many of them are parsed
	conditions []*formula // what begins and ends phases
	units      map[string]units.Unit
	sheets     map[string]*sheets.Sheet
	runsOf     map[string]*Quantity // rows whose runs are read as a sheet of their name
	gaugeCells map[gaugeCellKey]*column
	cellSets   []cellSet
	cycle      caseName           // the only cycle that counts, "" for all
	outside    []*Quantity        // what the sides of unknowns need and no unknown changes
	stirred    map[*Quantity]bool // what unknowns change
	memory     room               // of the tree that is gone through
}

// Compile turns a notebook into a model. If there are problems the model is
// nil; all of them are returned, in the order of the files.
func Compile(book *sheets.Notebook, opt Options) (*Model, []sheets.Problem) {
	c := newCompiler(book, rowsOf(book))
	for _, s := range book.Sheets {
		c.model.Warnings = append(c.model.Warnings, s.Warnings...)
	}
	c.model.Sets, c.cycle = opt.Sets, opt.cycle
	sets := c.readSets(opt.Sets)
	book = c.withCells(book)
	c.setAside(sets, opt)
	c.readRows(book, sets)
	c.refuseUnused(sets)
	c.refuseReadings()
	c.readAside()
	for _, s := range book.Sheets {
		if s.Kind == sheets.Unknowns {
			c.readUnknowns(s)
		}
	}
	c.checkReadings()
	for _, s := range book.Sheets {
		if s.Kind == sheets.Cases {
			c.readCases(s)
		}
	}
	c.readPhases()
	c.readAsideTables()
	c.readGauges()
	c.findByCase()
	c.readTicks()
	c.resolveVerdicts()
	for _, s := range book.Sheets {
		switch s.Kind {
		case sheets.Suspects:
			c.readSuspects(s)
		case sheets.Correlations:
			c.readCorrelations(s)
		case sheets.Charts:
			c.readCharts(s)
		}
	}
	c.suspectGauges()
	c.warnLikeNames()
	c.parse()
	c.model.origins = slices.Grow(c.model.origins, len(c.formulas))
	for _, f := range c.formulas {
		c.with(f, func(root *node) {
			c.resolve(f, root)
			c.model.forest.pack(f, root)
			c.model.number(f)
		})
	}
	misses := cores.Beside(c.model.nearMisses)
	c.sortQuantities()
	c.inferAll()
	c.model.Warnings = append(c.model.Warnings, misses()...)
	c.model.formulas = slices.Concat(c.formulas, c.conditions)
	if len(c.problems) == 0 {
		cores.LayPages()
		c.lowerAll()
		c.lowerTies()
	}
	if len(c.problems) == 0 {
		c.readComparisons()
	}
	if len(c.problems) > 0 {
		c.backInArguments(c.problems)
		c.model.sort(c.problems)
		c.gatherTracks()
		return nil, c.problems
	}
	c.warnIdle(sets)
	c.warnThousands()
	c.backInArguments(c.model.Warnings)
	c.model.today = opt.Today
	c.warnOverdue(opt.Today) // what cycles read is known by now
	c.model.Warnings = append(c.model.Warnings, c.model.Misused()...)
	c.model.sort(c.model.Warnings)
	return c.model, nil
}

// newCompiler makes a compiler with room for so many rows.
func newCompiler(book *sheets.Notebook, rows int) *compiler {
	c := &compiler{
		model: &Model{Book: book, Source: book, tape: tape.New(), byName: make(map[string]*Quantity, rows),
			Quantities: make([]*Quantity, 0, rows),
			text:       map[string]float64{}, tables: map[string]*table{},
			aside: map[string]*Quantity{}, inputs: map[tape.Register]inputKind{},
			origins: make([]*formula, 1), nextMark: 1, // mark 0 is of operations that come from no formula
			forest: newForest()},
		formulas: make([]*formula, 0, rows),
		units:    map[string]units.Unit{},
		sheets:   map[string]*sheets.Sheet{},
	}
	for _, s := range book.Sheets {
		c.sheets[s.Name] = s
	}
	return c
}

// compiler reads more for a model that is compiled already, such as the sides
// of an equation. What it adds goes into an extension of the model.
func (m *Model) compiler() *compiler {
	c := newCompiler(m.Book, 0)
	c.model = m.extended()
	return c
}

// extended is a model that starts as m is. What is added to it does not show in
// m, which several may ask at the same time.
func (m *Model) extended() *Model {
	e := *m
	e.Warnings, e.formulas = slices.Clip(m.Warnings), slices.Clip(m.formulas)
	e.texts, e.text = slices.Clip(m.texts), maps.Clone(m.text)
	e.cells, e.origins = slices.Clip(m.cells), slices.Clip(m.origins)
	e.waits, e.rowAt, e.sameCells = maps.Clone(m.waits), maps.Clone(m.rowAt), maps.Clone(m.sameCells)
	e.kept = maps.Clone(m.kept)
	e.tables = make(map[string]*table, len(m.tables))
	for name, t := range m.tables {
		own := &table{sheet: t.sheet, columns: slices.Clone(t.columns)}
		for i, col := range own.columns {
			if !col.loaded || !col.looked { // else nothing of it is still to be read
				column := *col
				own.columns[i] = &column
			}
		}
		e.tables[name] = own
	}
	return &e
}

// sort puts problems in the order of the notebook's files, and in a file in
// the order of their places.
func (m *Model) sort(problems []sheets.Problem) {
	rank := map[string]int{}
	for i, s := range m.Book.Sheets {
		rank[s.File] = i
	}
	sorting.Stable(problems, func(a, b sheets.Problem) int { return rank[a.File] - rank[b.File] })
	sheets.SortProblems(problems)
}

// report keeps what is wrong. It stands in two hundred places that few runs come by,
// so it is not inlined, nor is what else makes a problem: the copies were a hundredth
// of the program.
//
//go:noinline
func (c *compiler) report(p sheets.Problem) { c.problems = append(c.problems, p) }

//go:noinline
func (c *compiler) warn(p sheets.Problem) { c.model.Warnings = append(c.model.Warnings, p) }

// unitOf reads the text of a unit; each text is parsed once.
func (c *compiler) unitOf(p place) (units.Unit, bool) {
	if u, ok := c.units[p.cell.Text]; ok {
		return u, true
	}
	u, err := units.Parse(p.cell.Text)
	if err != nil {
		c.report(p.placed(err))
		return u, false
	}
	c.units[p.cell.Text] = u
	return u, true
}

// checkReadings refuses readings that stand against nothing.
func (c *compiler) checkReadings() {
	for _, q := range c.model.Quantities {
		if q.reading.kind != blankEntry && !q.IsFormula() {
			c.report(placeIn(q.Sheet, q.Row.Reading).fault("a reading stands against a formula, but "+q.Name+" is none",
				"put what was measured into the entry, or give the row a formula to compare it with"))
		}
	}
}

// reservedHint proposes another name for a quantity of some dimension.
func reservedHint(name string, dim units.Dimension) string {
	better := map[string]string{"h": "height", "d": "diameter", "t": "thickness", "L": "length", "s": "stroke"}
	switch b := better[name]; {
	case b != "" && dim == units.Length:
		return "call it " + words.Quoted(b)
	case dim != units.Plain && IsName(dim.Name()):
		return "call it " + words.Quoted(dim.Name()) + ", or better what it is of"
	}
	return "choose another name, such as `" + name + "_value`"
}

// formulaPass is the compiler at work on one formula.
type formulaPass struct {
	*compiler
	*formula
}

// refuse reports what is wrong with a part of the formula.
//
//go:noinline
func (p formulaPass) refuse(s span, message, hint string) { p.report(p.problem(s, message, hint)) }

// with goes through the tree of a formula, if it has one. Nothing of the tree is to be
// held thereafter, since the next one has the same memory.
func (c *compiler) with(f *formula, visit func(root *node)) {
	if c.memory.nodes == nil {
		c.memory = *roomFor(roomSize)
	}
	before := c.memory // a tree that is needed meanwhile lies behind this one
	if root := f.treeIn(&c.memory); root != nil {
		visit(root)
	}
	c.memory = before
}

// isMarked reports whether the text of a formula is marked as one by a sign in
// front.
//
//go:noinline
func (f *formula) isMarked() bool { return f.sheet == nil || formulaMark(f.cell.Text) > 0 }

// parse parses all formulas that are not parsed yet, on every core.
func (c *compiler) parse() {
	var formulas []*formula // which nothing has parsed to see that they are some
	for _, f := range c.formulas[c.parsed:] {
		if !f.isParsed() {
			formulas = append(formulas, f)
		}
	}
	c.parsed = len(c.formulas)
	faults := make([]*sheets.Problem, len(formulas))
	cores.EachOf(len(formulas), 64, func(i int) { formulas[i].parsed, faults[i] = parse(formulas[i].text) })
	for i, f := range formulas {
		if faults[i] != nil {
			if strings.HasSuffix(faults[i].Message, "is not closed") && f.sheet != nil && !f.cell.Quoted {
				faults[i].Hint = "a formula that holds a comma stands in double quotes; otherwise " + faults[i].Hint
			}
			c.report(f.placed(faults[i]))
		}
	}
}
