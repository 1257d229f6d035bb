package calc

import (
	"fmt"
	"slices"
	"strings"

	"rambook/calc/function"
	"rambook/calc/tape"
	"rambook/sheets"
	"rambook/sheets/log"
	"rambook/units"
	"rambook/units/words"
)

// resolver finds what the names of one formula stand for: before `(` a
// function, before `.` or `[` a sheet, otherwise a let name, a quantity, a
// unit or a constant, in that order.
type resolver struct {
	formulaPass
	lets []*node // the let nodes around the current place, innermost last

	log   *log.Log // of an expression over its columns, and nil elsewhere
	phase string   // that columns are named with; "" of a condition, in which they stand alone
}

// resolve leaves on the nodes of f what their names stand for.
func (c *compiler) resolve(f *formula, root *node) {
	r := &resolver{formulaPass: formulaPass{c, f}}
	r.visit(root)
	r.over(root, nil)
}

func (r *resolver) visit(n *node) {
	switch n.kind {
	case nameNode:
		r.name(n)
		return
	case callNode:
		n.fn = function.Named(n.name)
		if n.fn == nil {
			r.unknownFunction(n)
		}
		for _, a := range n.args {
			r.visit(a)
		}
		r.curve(n)
		return
	case columnNode, lookupNode:
		r.findColumn(n)
		if n.kind == lookupNode && n.data != nil && n.data.absent {
			break
		}
		if n.kind == lookupNode && n.data != nil && n.args[0].kind == textNode {
			r.literalKey(n)
		}
		if n.kind == lookupNode && n.args[0].kind == nameNode && r.bareKey(n) {
			return
		}
	case trackNode, cycleNode:
		return
	case choiceNode:
		n.link = &link{out: tape.None}
	case letNode:
		r.visit(n.args[0])
		r.lets = append(r.lets, n)
		r.visit(n.args[1])
		r.lets = r.lets[:len(r.lets)-1]
		return
	}
	for _, a := range n.args {
		r.visit(a)
	}
}

func (r *resolver) name(n *node) {
	for i := len(r.lets) - 1; i >= 0; i-- {
		if r.lets[i].name == n.name {
			n.kind, n.link = boundNode, &link{let: r.lets[i]}
			return
		}
	}
	if q := r.model.known(n.name); q != nil {
		n.kind, n.quantity = quantityNode, q
		return
	}
	if u, ok := units.Lookup(n.name); ok {
		if !r.isMarked() && n.name == strings.TrimSpace(r.formula.text) {
			r.refuse(n.span(), words.Quoted(n.name)+" is a unit, and its number is missing",
				"write a number such as `25`, or 25 "+n.name)
		}
		n.kind, n.number, n.typ = symbolNode, u.ToSI(1), function.Type{Dim: u.Dim}
		return
	}
	for _, c := range units.Constants {
		if c.Name == n.name {
			n.kind, n.number, n.typ = symbolNode, c.Value, function.Type{Dim: c.Unit.Dim}
			return
		}
	}
	if q := r.model.known(r.spelled(n.name)); q != nil {
		n.kind, n.name, n.quantity = quantityNode, q.Name, q
		return
	}
	r.unknownName(n)
}

// spelled is the name that is meant by one typed in a command in any case of letters.
// A sheet is read by others and for years, so a formula there is spelled as its rows are.
func (r *resolver) spelled(name string) string {
	if r.formula.argument == "" && (r.formula.sheet == nil || !strings.HasPrefix(r.formula.sheet.File, "--")) {
		return name
	}
	return words.Spelled(name, r.model.Names())
}

func (r *resolver) unknownName(n *node) {
	advice, advised := units.Advice(n.name)
	if _, ok := units.Ambiguous(n.name); ok {
		r.refuse(n.span(), words.Quoted(n.name)+" is ambiguous", advice)
		return
	}
	if u, err := units.Parse(n.name); err == nil && u.Kind == units.Point {
		r.refuse(n.span(), words.Quoted(n.name)+" stands only in unit columns and cells",
			"give the temperature its own row in "+n.name+"; for a difference write K")
		return
	}
	if advised {
		r.refuse(n.span(), "no quantity, unit or constant is named "+words.Quoted(n.name), advice)
		return
	}
	for _, s := range r.model.Book.Sheets {
		if strings.HasPrefix(s.Name, n.name) && !IsName(s.Name) {
			r.refuse(n.span(), "sheet "+words.Quoted(s.Name)+" cannot be read in a formula",
				"give its file a name of letters, digits and _")
			return
		}
	}
	if s := r.sheets[n.name]; s != nil {
		r.refuse(n.span(), words.Quoted(n.name)+" is a sheet, not a quantity",
			"write sheet.column or sheet[key].column")
		return
	}
	if function.Named(n.name) != nil {
		r.refuse(n.span(), words.Quoted(n.name)+" is a function", "write "+n.name+"("+function.Named(n.name).Params+")")
		return
	}
	message, hint := r.noSuchName(n.name, r.candidates(), "add a row with that name, or correct it")
	switch {
	case r.log != nil && r.phase == "":
		wrong := noColumn(r.log, n.name)
		near := words.DidYouMean(n.name, r.candidates(), "")
		if near != "" && !strings.HasPrefix(wrong.Hint, "did you mean") {
			wrong.Hint = near
		}
		wrong.Message += ", and no quantity has this name"
		r.report(r.placedAt(n.span(), wrong))
		return
	case r.log != nil && r.log.Column(n.name) >= 0:
		hint = "a column of a log is named with its phase: write " + r.phase + "." + n.name
	case !r.isMarked() && n.name == strings.TrimSpace(r.formula.text):
		message = words.Quoted(n.name) + " is neither a number nor the name of a row"
		if slices.Contains(tickWords, strings.ToLower(n.name)) {
			hint = "give the row the unit tick for yes and no"
		}
	case n.name == "π":
		hint = "write pi"
	case gridCell().MatchString(n.name):
		hint = "a formula uses the names of rows, not the places of cells"
	}
	r.refuse(n.span(), message, hint)
}

// noSuchName is for a name that nothing has, and what may have been meant: a name
// that a starter has was not mistyped, but its sheet is not here.
func (c *compiler) noSuchName(name string, candidates []string, otherwise string) (message, hint string) {
	message = "no quantity, unit or constant is named " + words.Quoted(name)
	starter, sheet, found := sheets.StarterSheetOf(name)
	switch {
	case !found:
		return message, words.DidYouMean(name, candidates, otherwise)
	case c.sheets[sheet] != nil:
		return message, "it stood in sheet " + sheet + ": put its row back, blank or n/a, or take it out here"
	}
	return message, fmt.Sprintf(
		"it stood in sheet %s: `rambook new DIR%s --only %s` writes that again; or set aside what needs it", sheet,
		starterFlag(starter), sheet)
}

// starterFlag is how a command names a starter that is not the usual one.
func starterFlag(starter string) string {
	if starter == "press" {
		return ""
	}
	return " --starter " + starter
}

// gridCell is how spreadsheets call a cell.
var gridCell = words.Pattern(`^\$?[A-Z]{1,3}\$?[0-9]+$`)

// candidates lists all names a formula may use.
func (r *resolver) candidates() []string {
	names := r.model.Names()
	for _, l := range r.lets {
		names = append(names, l.name)
	}
	for _, s := range units.Symbols() {
		if s.InFormulas && len(s.Name) > 2 {
			names = append(names, s.Name)
		}
	}
	return names
}

// start is the span of a word that a node begins with.
func (n *node) start(word string) span {
	return span{int(n.from), int(n.from) + len([]rune(word))}
}

// curve checks the points of a curve that a call reads between.
func (r *resolver) curve(n *node) {
	if n.fn == nil || !n.fn.Curve || !n.fn.Fits(n.wholeColumns()) || n.args[0].data == nil || n.args[0].data.absent ||
		n.fn.Condition() < len(n.args) {
		return
	}
	r.checkRising(n.args[0].data)
}

// literalKey checks a key that is written out in the formula. A row that does
// not exist is refused even in an arm of ? : that is not taken: like a column
// that does not exist it is a mistake of the model, which would otherwise show
// on the day when the condition turns.
func (r *resolver) literalKey(n *node) {
	var keys []string
	for i := range n.data.sheet.Cases {
		key := n.data.sheet.Cases[i].Name.Text
		if key == n.args[0].name {
			return
		}
		keys = append(keys, key)
	}
	message, hint := noSuchRow(n.data.sheet, n.args[0].name, keys)
	r.refuse(n.args[0].span(), message, hint)
}

// bareKey refuses a key that is written out without quotes: the name is no
// quantity, but a row of the sheet.
func (r *resolver) bareKey(n *node) bool {
	key, s := n.args[0], r.sheets[n.sheet]
	named := func(let *node) bool { return let.name == key.name }
	isKey := func(row sheets.CaseRow) bool { return row.Name.Text == key.name }
	if s == nil || r.model.byName[key.name] != nil || slices.ContainsFunc(r.lets, named) ||
		!slices.ContainsFunc(s.Cases, isKey) {
		return false
	}
	r.refuse(key.span(), fmt.Sprintf("%s is a row of sheet %s, not a quantity", words.Quoted(key.name), n.sheet),
		fmt.Sprintf("write %s[%q].%s", n.sheet, key.name, n.name))
	return true
}

func (r *resolver) unknownFunction(n *node) {
	s := n.start(n.name)
	if _, isUnit := units.Lookup(n.name); isUnit || r.model.byName[n.name] != nil {
		r.refuse(s, words.Quoted(n.name)+" is no function", "write "+n.name+"*( to multiply by a bracket")
		return
	}
	var names []string
	for _, f := range function.Table {
		names = append(names, f.Name)
	}
	if strings.EqualFold(n.name, "if") {
		r.refuse(s, "no function is named "+words.Quoted(n.name), "a choice is written condition ? a : b")
		return
	}
	r.refuse(s, "no function is named "+words.Quoted(n.name),
		words.DidYouMean(n.name, names, "`rambook functions` lists them"))
}

// findColumn finds the column that sheet.column or sheet[key].column means.
func (r *resolver) findColumn(n *node) {
	sheetSpan := n.start(n.sheet)
	s := r.sheets[n.sheet]
	if s == nil && n.name == runColumn && n.kind == columnNode {
		s = r.runsSheet(n.sheet)
	}
	if s == nil && r.model.tables[n.sheet] != nil { // set aside
		t := r.model.tables[n.sheet]
		if n.data = r.ownCell(n, t.column(n.name)); n.data == nil {
			names := t.names()
			r.refuse(n.column, fmt.Sprintf("sheet %s, which is set aside, has no column %s", n.sheet,
				words.Quoted(n.name)), words.DidYouMean(n.name, names,
				"its columns are "+words.Listed(names, mostNames)))
		}
		return
	}
	if s == nil {
		if q := r.model.byName[n.sheet]; q != nil {
			r.refuse(sheetSpan, words.Quoted(n.sheet)+" is a quantity, not a sheet",
				"write the quantity alone, or "+n.sheet+"."+runColumn+" for its repeated runs")
			return
		}
		var names []string
		// in their order, or of names that are equally near any might be hinted at
		for _, s := range r.model.Book.Sheets {
			names = append(names, s.Name)
		}
		hint := words.DidYouMean(n.sheet, names,
			"a sheet's name is its file name without .csv and without a leading number")
		if starter, found := sheets.StarterWith(n.sheet); found {
			hint = fmt.Sprintf("`rambook new DIR%s --only %s` writes that sheet; or set aside what needs it",
				starterFlag(starter), n.sheet)
		}
		r.refuse(sheetSpan, "no sheet is named "+words.Quoted(n.sheet), hint)
		return
	}
	if s.Kind != sheets.Cases {
		hint := "only case sheets can be looked into"
		if r.model.byName[n.name] != nil {
			hint = "a quantity is not read through its sheet; write " + n.name
		}
		r.refuse(n.column, fmt.Sprintf("%s is a sheet of %v", words.Quoted(n.sheet), s.Kind), hint)
		return
	}
	table := r.model.tables[s.Name]
	if col := table.column(n.name); col != nil {
		if col.asks && n.kind == lookupNode {
			q := col.quantity
			r.refuse(n.column, fmt.Sprintf("%s.%s is computed case by case, since %s is a formula (%s, line %d)",
				n.sheet, n.name, q.Name, q.Sheet.File, q.Row.Name.Line),
				"look up a column of data or of a given; if it is one, give the column another name")
			return
		}
		if n.data = r.ownCell(n, col); n.data != col {
			return
		}
		before := len(r.problems)
		if r.load(col, r.formula); n.kind == lookupNode {
			r.forgotText(col, before)
		}
		read := []*column{col}
		if col.asks { // then it is computed from the cells of the others
			read = table.columns
		}
		for _, one := range read {
			if one == col || one.quantity != nil {
				r.loadSpread(one)
			}
		}
		return
	}
	if n.kind == columnNode && slices.ContainsFunc(s.Cases,
		func(row sheets.CaseRow) bool { return row.Name.Text == n.name }) {
		r.refuse(n.column, fmt.Sprintf("%s is a row of sheet %s, and a column is missing behind it",
			words.Quoted(n.name), n.sheet),
			fmt.Sprintf("write %s[%q].column", n.sheet, n.name))
		return
	}
	names := table.names()
	r.refuse(n.column, fmt.Sprintf("sheet %s has no column %s", n.sheet, words.Quoted(n.name)),
		words.DidYouMean(n.name, names, "its columns are "+words.Listed(names, mostNames)))
}
