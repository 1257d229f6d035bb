package sheets

// Row is one quantity. Its fields with a csv tag are the columns of a quantity
// sheet, and stand nowhere else. A cell whose column the sheet does not have is
// blank and stands where the row's name stands.
type Row struct {
	Heading  string `csv:"-"` // text of the `##` line above the row, "" if none
	Overlong bool   `csv:"-"` // the record has more cells than the header, so what its cells mean is not sure
	Name     Cell   `csv:"name"`
	Entry    Cell   `csv:"entry"`
	Example  Cell   `csv:"example"` // what a machine of this kind may have
	Unit     Cell   `csv:"unit"`
	Reading  Cell   `csv:"reading"`
	Use      Cell   `csv:"use"`  // which of the two formulas go on with
	With     Cell   `csv:"with"` // the gauge of the number or the reading
	Spread   Cell   `csv:"spread"`
	Doubt    Cell   `csv:"doubt"` // of the formula itself, as against what it is computed from
	Low      Cell   `csv:"low"`
	High     Cell   `csv:"high"`
	After    Cell   `csv:"after"` // what must pass before a tick
	Note     Cell   `csv:"note"`
}

// CaseRow is one case: its name and one cell for each Column of the sheet.
type CaseRow struct {
	Heading string
	Name    Cell
	Cells   []Cell
}

// SuspectRow is one suspect. Columns and their cells are as in Row. A column
// whose tag has `of:"quantity"` holds the name of one: see [Sheet.Naming].
type SuspectRow struct {
	Suspect   Cell `csv:"suspect" of:"quantity"`
	From      Cell `csv:"from"`
	To        Cell `csv:"to"`
	Unit      Cell `csv:"unit"`
	Prior     Cell `csv:"prior"`
	NextCheck Cell `csv:"next_check"`
	Note      Cell `csv:"note"`
}

// PhaseRow is one phase of a cycle. Columns and their cells are as in Row.
type PhaseRow struct {
	Phase Cell `csv:"phase"`
	Log   Cell `csv:"log"`
	From  Cell `csv:"from"`
	To    Cell `csv:"to"`
	For   Cell `csv:"for"`  // how long a condition has to hold
	Case  Cell `csv:"case"` // the column of the log that names the cycles
	Note  Cell `csv:"note"`
}

// CorrelationRow is the correlation of the errors of two givens. Columns and
// their cells are as in Row.
type CorrelationRow struct {
	Given       Cell `csv:"given" of:"quantity"`
	With        Cell `csv:"with" of:"quantity"`
	Correlation Cell `csv:"correlation"`
	Note        Cell `csv:"note"`
}

// UnknownRow is one unknown. Columns and their cells are as in Row.
type UnknownRow struct {
	Unknown Cell `csv:"unknown" of:"quantity"`
	From    Cell `csv:"from"`
	To      Cell `csv:"to"`
	Unit    Cell `csv:"unit"`
	Until   Cell `csv:"until"`
	Note    Cell `csv:"note"`
}

// ChartRow is one line, or one piece of a line, of a chart; the rows of one
// title make a chart. Columns and their cells are as in Row.
type ChartRow struct {
	Chart Cell `csv:"chart"` // the title
	Label Cell `csv:"label"`
	Value Cell `csv:"value" of:"quantity"` // up the chart: a quantity, or sheet.column of a case sheet
	Over  Cell `csv:"over" of:"quantity"`  // along it
	As    Cell `csv:"as"`                  // how it is drawn
	Note  Cell `csv:"note"`                // stands below the chart
}

// CompareRow is one comparison of cases that the report makes, as the command
// compare does. Columns and their cells are as in Row.
type CompareRow struct {
	Compare Cell `csv:"compare"` // the case sheet
	In      Cell `csv:"in"`      // another one, in each case of which all of these are put
	By      Cell `csv:"by" of:"quantity"`
	Better  Cell `csv:"better"` // more or less
	Weight  Cell `csv:"weight"` // the column of the other sheet that its cases weigh by
	Show    Cell `csv:"show"`   // names, with commas or blanks between them
	Where   Cell `csv:"where"`  // a condition that the cases have to meet
	Note    Cell `csv:"note"`
}
