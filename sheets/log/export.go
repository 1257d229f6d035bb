package log

import (
	"bufio"
	"bytes"
	"fmt"
	"io"
	"slices"
	"strings"
	"sync"
	"unicode"
	"unicode/utf8"

	"golang.org/x/text/encoding"
	"golang.org/x/text/encoding/charmap"
	utf "golang.org/x/text/encoding/unicode"
	"golang.org/x/text/transform"

	"rambook/sheets"
	"rambook/units/words"
)

// Export is what a recorder wrote, as it was understood.
type Export struct {
	Encoding  string // "UTF-8" and so on
	Separator byte
	Decimal   byte     // '.' or ','
	Thousands byte     // between groups of three digits, 0 if there are none
	Before    int      // lines before the header
	NoHeader  bool     // the columns are named by their number
	UnitLine  bool     // a line of units stands below the header
	Dates     DateForm // of the time
	Parted    bool     // the date and the time of day stand in two columns
	Time      int      // the column of the time, or of the date
	Columns   []ExportColumn
	Example   [2]string // a time as it stands, and as it is written
	Written   [2]string // a number with decimals likewise

	decode encoding.Encoding
	data   int // lines before the first row
	width  int
}

// ExportColumn is one column of an export.
type ExportColumn struct {
	Header string // as it stands
	Name   string // a name that formulas can use
	Unit   string // as it stands in the header or in the line of units
	Texts  bool   // it holds texts, and is left out
	Empty  bool   // it has no header and holds nothing: a separator ends each line
}

// DateForm is how times are written.
type DateForm string

// The forms of times.
const (
	Clock      DateForm = ""            // a number
	TimeOfDay  DateForm = "time of day" // without a date
	YearFirst  DateForm = "year-first"
	DayFirst   DateForm = "day-first"
	MonthFirst DateForm = "month-first"
)

// Hints are what cannot be known from the file.
type Hints struct {
	Decimal string   // "comma", "point", or "" to find out
	Dates   DateForm // or "" to find out
	Time    string   // the header or number of the column that is the time, or "" to find out
}

const exportHead = 1 << 20 // bytes that an export is understood by

// decoder finds out how a file is encoded by its first bytes.
func decoder(head []byte) (name string, e encoding.Encoding) {
	zeros := [2]int{}
	for i, b := range head[:min(len(head), 512)] {
		if b == 0 {
			zeros[i%2]++
		}
	}
	switch {
	case bytes.HasPrefix(head, []byte("\xff\xfe")), zeros[1] > 8 && zeros[0] == 0:
		return "UTF-16", utf.UTF16(utf.LittleEndian, utf.UseBOM)
	case bytes.HasPrefix(head, []byte("\xfe\xff")), zeros[0] > 8 && zeros[1] == 0:
		return "UTF-16", utf.UTF16(utf.BigEndian, utf.UseBOM)
	}
	for i := 0; i < 4 && len(head) > 0 && !utf8.Valid(head); i++ { // a character may be cut at the end
		head = head[:len(head)-1]
	}
	if utf8.Valid(head) {
		return "UTF-8", utf.UTF8BOM
	}
	return "Latin-1 (Windows-1252)", charmap.Windows1252
}

// Understand finds out how an export is written. What stands nowhere, it asks
// for by a problem that names the flag.
func Understand(shown string, r io.Reader, hints Hints) (*Export, []sheets.Problem) {
	refuse := func(line int, message, hint string) (*Export, []sheets.Problem) {
		return nil, []sheets.Problem{{File: shown, Line: line, Message: message, Hint: hint}}
	}
	head, err := io.ReadAll(io.LimitReader(r, exportHead))
	if err != nil {
		return refuse(0, err.Error(), "")
	}
	if bytes.HasPrefix(head, []byte("PK\x03\x04")) {
		return refuse(0, "this is a spreadsheet's own format or another archive",
			"have the recorder or the spreadsheet write CSV or text")
	}
	e := &Export{}
	e.Encoding, e.decode = decoder(head)
	text, _, _ := transform.Bytes(e.decode.NewDecoder(), head)
	lines := strings.Split(strings.ReplaceAll(strings.ReplaceAll(string(text), "\r\n", "\n"), "\r", "\n"), "\n")
	if len(head) == exportHead {
		lines = lines[:len(lines)-1] // the last one is cut
	}
	for len(lines) > 0 && strings.TrimSpace(lines[len(lines)-1]) == "" {
		lines = lines[:len(lines)-1]
	}
	if !e.findSeparator(lines) {
		return refuse(0, "cannot find what parts the columns of this file",
			"columns are parted by semicolons, tabs, commas or |, the same number in each line")
	}
	rows := e.findRows(lines)
	if len(rows) == 0 {
		return refuse(0, "found no line that begins with a time and goes on with numbers",
			"the first column, or one that is called time, holds a number, a date with a time of day, or a time of day")
	}
	e.readHeader(lines)
	if i := e.Named(hints.Time); i >= 0 && hints.Time != "" {
		e.Time = i
	}
	if n := e.cellsAbove(lines); e.NoHeader && e.Separator == ',' && n > 1 && n < e.width {
		return refuse(e.data+1, fmt.Sprintf("commas part the columns and stand before decimals too: %d cells below a "+
			"header of %d", e.width, n),
			"have the recorder write semicolons or tabs between columns, or decimal points")
	}
	if p := e.findDecimal(rows, hints.Decimal); p != nil {
		p.File = shown
		return nil, []sheets.Problem{*p}
	}
	if p := e.findTime(rows, hints.Dates); p != nil {
		p.File = shown
		return nil, []sheets.Problem{*p}
	}
	for i := range e.Columns {
		numbers, others := 0, 0
		for _, row := range rows {
			switch cell := e.number(row[i]); {
			case cell == "":
			case isNumber(cell):
				numbers++
			default:
				others++
			}
		}
		e.Columns[i].Texts = others > numbers
		e.Columns[i].Empty = e.Columns[i].Header == "" && numbers+others == 0
	}
	return e, nil
}

// separators in the order in which they are believed: a comma may be one of
// decimals, and a file of semicolons is mostly full of those.
var separators = []byte{'\t', ';', '|', ','}

// findSeparator takes the sign that parts most lines into the same number of
// cells.
func (e *Export) findSeparator(lines []string) bool {
	best := 0
	tail := lines[max(0, len(lines)-300):]
	for _, sep := range separators {
		counts := map[int]int{}
		for _, line := range tail {
			if n := len(split(line, sep)); n > 1 {
				counts[n]++
			}
		}
		for n, lines := range counts {
			if lines > best || lines == best && sep == e.Separator && n > e.width {
				best, e.Separator, e.width = lines, sep, n
			}
		}
	}
	return best > 0
}

// split takes a line apart at a separator outside quotes.
func split(line string, sep byte) []string {
	var cells []string
	for {
		end, quoted := len(line), false
		for i := 0; i < len(line); i++ {
			if c := line[i]; c == '"' {
				quoted = !quoted
			} else if c == sep && !quoted {
				end = i
				break
			}
		}
		cell := strings.TrimSpace(line[:end])
		if inner, found := strings.CutPrefix(cell, `"`); found {
			cell = strings.TrimSpace(strings.ReplaceAll(strings.TrimSuffix(inner, `"`), `""`, `"`))
		}
		cells = append(cells, cell)
		if end == len(line) {
			return cells
		}
		line = line[end+1:]
	}
}

// timeWords are what recorders call the column of the time.
var timeWords = words.Pattern(
	`(?i)^(time|date|zeit|datum|uhrzeit|timestamp|zeitstempel|elapsed|sample time|messzeit|t)\b`)

// looseNumber is a number with any marks in it.
var looseNumber = words.Pattern(`^[-+−]?[\d.,'  ]*\d[\d.,'  ]*([eE][-+]?\d+)?$`)

// findRows finds the lines of samples: as many cells as most lines have, a time
// first, and numbers.
func (e *Export) findRows(lines []string) (rows [][]string) {
	e.data = -1
	for i, line := range lines {
		cells := split(line, e.Separator)
		if len(cells) != e.width {
			continue
		}
		numbers, others, times := 0, 0, 0
		for _, cell := range cells {
			switch {
			case cell == "":
			case looseTime(cell):
				times++
			case looseNumber().MatchString(cell):
				numbers++
			default:
				others++
			}
		}
		if numbers+times < 2 || others > numbers+times {
			continue
		}
		if e.data < 0 {
			e.data = i
		}
		rows = append(rows, cells)
	}
	return rows
}

// readHeader reads the lines above the first sample.
func (e *Export) readHeader(lines []string) {
	above := func(i int) []string {
		if i < 0 || strings.TrimSpace(lines[i]) == "" {
			return nil
		}
		cells := split(lines[i], e.Separator)
		for len(cells) > e.width && cells[len(cells)-1] == "" {
			cells = cells[:len(cells)-1]
		}
		if len(cells) < e.width-1 || len(cells) > e.width {
			return nil
		}
		for len(cells) < e.width {
			cells = append(cells, "")
		}
		return cells
	}
	at := e.data - 1
	header, unitCells := above(at), []string(nil)
	if upper := above(at - 1); header != nil && upper != nil && areUnits(header) {
		header, unitCells, at = upper, header, at-1
		e.UnitLine = true
	}
	e.Before = max(at, 0)
	e.NoHeader = header == nil
	if e.NoHeader {
		e.Before = e.data
		header = make([]string, e.width)
	}
	taken := map[string]bool{"time": true}
	for i, text := range header {
		name, unit := sheets.HeaderUnit(text)
		if unit == "" && unitCells == nil { // `Pressure / bar`, `Pressure, bar`
			for _, sign := range []string{" / ", ", "} {
				if before, after, found := strings.Cut(name, sign); found && len(after) < 12 {
					name, unit = before, after
					break
				}
			}
		}
		if unitCells != nil && unit == "" {
			unit = strings.Trim(unitCells[i], "[]() ")
		}
		c := ExportColumn{Header: text, Name: usableName(name, i+1), Unit: unit}
		for n := 2; taken[c.Name]; n++ {
			c.Name = fmt.Sprintf("%s_%d", usableName(name, i+1), n)
		}
		taken[c.Name] = true
		e.Columns = append(e.Columns, c)
	}
	for i, c := range e.Columns {
		if timeWords().MatchString(c.Header) {
			e.Time = i
			break
		}
	}
}

// cellsAbove is how many cells the line above the first sample has, 0 if it holds
// numbers or nothing.
func (e *Export) cellsAbove(lines []string) int {
	if e.data == 0 {
		return 0
	}
	cells := split(lines[e.data-1], e.Separator)
	if slices.ContainsFunc(cells, looseNumber().MatchString) {
		return 0
	}
	return len(cells)
}

// areUnits reports whether a line holds units: short, without digits that begin
// a cell, most of them in brackets or known.
func areUnits(cells []string) bool {
	units, texts := 0, 0
	for _, cell := range cells {
		if cell == "" || cell == "-" {
			continue
		}
		texts++
		bare := strings.Trim(cell, "[]()")
		if strings.ContainsAny(cell[:1], "[(") || usualUnits()[strings.ToLower(bare)] {
			units++
		}
	}
	return texts > 0 && 2*units > texts
}

// usualUnits are what stands in lines of units.
var usualUnits = sync.OnceValue(func() map[string]bool {
	known := map[string]bool{}
	for _, u := range strings.Fields("s ms min h sec hh:mm:ss bar mbar pa kpa mpa psi mm cm m in µm um mm/s m/s " +
		"l/min lpm l/h gpm m3/h cm3/min °c degc c k °f degf a ma v mv w kw n kn nm hz 1/min rpm min-1 u/min rev/min " +
		"% l kg t °") {
		known[u] = true
	}
	return known
})

// usableName makes a name that formulas can use.
func usableName(text string, number int) string {
	text = strings.NewReplacer("ä", "ae", "ö", "oe", "ü", "ue", "Ä", "Ae", "Ö", "Oe", "Ü", "Ue", "ß", "ss", "µ", "u",
		"é", "e", "è", "e", "ç", "c", "ñ", "n", "å", "a", "ø", "o").Replace(text)
	var b strings.Builder
	for _, r := range text {
		switch {
		case r < 128 && (unicode.IsLetter(r) || unicode.IsDigit(r)):
			b.WriteRune(r)
		case b.Len() > 0 && !strings.HasSuffix(b.String(), "_"):
			b.WriteByte('_')
		}
	}
	name := strings.Trim(b.String(), "_")
	if name == "" || name[0] >= '0' && name[0] <= '9' {
		name = strings.TrimSuffix(fmt.Sprintf("c%d_%s", number, name), "_")
	}
	return name
}

var (
	commaNumber  = words.Pattern(`^[-+]?\d+,\d+([eE][-+]?\d+)?$`)
	commaGroups  = words.Pattern(`^[-+]?\d{1,3}(,\d{3})+(\.\d+)?$`)
	pointNumber  = words.Pattern(`^[-+]?\d*\.\d+([eE][-+]?\d+)?$`)
	pointGroups  = words.Pattern(`^[-+]?\d{1,3}(\.\d{3})+(,\d+)?$`)
	commaAndMore = words.Pattern(`^[-+]?\d{1,3}(\.\d{3})+,\d+$`)
	pointAndMore = words.Pattern(`^[-+]?\d{1,3}(,\d{3})+\.\d+$`)
)

// findDecimal finds out what stands between whole numbers and decimals. Numbers
// that can be read in two ways only, such as 1,234, decide nothing.
func (e *Export) findDecimal(rows [][]string, hint string) *sheets.Problem {
	var commas, points, commaSure, pointSure, grouped int
	example, sure := "", "" // a number with decimals, and the first that is one beyond doubt
	for _, row := range rows {
		for _, cell := range row {
			if looseTime(cell) {
				continue
			}
			before := commaSure + pointSure
			switch {
			case commaAndMore().MatchString(cell):
				commaSure++
				grouped++
			case pointAndMore().MatchString(cell):
				pointSure++
				grouped++
			case commaNumber().MatchString(cell):
				commas++
				if !commaGroups().MatchString(cell) || strings.HasPrefix(strings.TrimLeft(cell, "-+"), "0") {
					commaSure++
				}
				example = cell
			case pointNumber().MatchString(cell):
				points++
				if !pointGroups().MatchString(cell) || strings.HasPrefix(strings.TrimLeft(cell, "-+"), "0") {
					pointSure++
				}
				if example == "" {
					example = cell
				}
			}
			if before == 0 && commaSure+pointSure > 0 {
				sure = cell
			}
		}
	}
	use := func(decimal, other byte) *sheets.Problem {
		e.Decimal = decimal
		if grouped > 0 || decimal == '.' && commas > 0 || decimal == ',' && points > 0 {
			e.Thousands = other
		}
		e.Written = [2]string{example, e.number(example)}
		return nil
	}
	ask := "add --decimal comma or --decimal point"
	against := func(sign, instead string) *sheets.Problem {
		return &sheets.Problem{Message: fmt.Sprintf("the %s of %s parts no thousands, so that it stands before decimals",
			sign, words.Quoted(sure)), Hint: "take the file with --decimal " + instead}
	}
	switch {
	case hint == "point" && commaSure > 0 && pointSure == 0:
		return against("comma", "comma")
	case hint == "comma" && pointSure > 0 && commaSure == 0:
		return against("point", "point")
	case hint == "comma":
		return use(',', '.')
	case hint == "point":
		return use('.', ',')
	case commaSure > 0 && pointSure > 0:
		return &sheets.Problem{Message: "decimal commas and decimal points stand side by side in this file", Hint: ask}
	case commaSure > 0:
		return use(',', '.')
	case pointSure > 0, commas == 0:
		return use('.', ',')
	}
	return &sheets.Problem{Message: fmt.Sprintf(
		"%s may be a number with decimals or one in thousands, and no number of this file settles it",
		words.Quoted(example)), Hint: ask}
}

// number writes a number of the export as a log has it.
func (e *Export) number(cell string) string {
	cell = strings.ReplaceAll(cell, "−", "-")
	cell = strings.NewReplacer(" ", "", " ", "", "'", "").Replace(cell)
	if e.Thousands != 0 && strings.IndexByte(cell, e.Thousands) >= 0 {
		groups := commaGroups
		if e.Thousands == '.' {
			groups = pointGroups
		}
		if !groups().MatchString(cell) {
			return cell + "?" // a decimal of the other kind, which is no number here
		}
		cell = strings.ReplaceAll(cell, string(e.Thousands), "")
	}
	if e.Decimal == ',' {
		cell = strings.Replace(cell, ",", ".", 1)
	}
	return cell
}

func isNumber(cell string) bool {
	_, ok := number([]byte(cell))
	return ok
}

// Row takes a line of the export apart. It is not ok if it has another number
// of cells than the rows.
func (e *Export) Row(line string) (cells []string, ok bool) {
	cells = split(line, e.Separator)
	for len(cells) > e.width && cells[len(cells)-1] == "" {
		cells = cells[:len(cells)-1]
	}
	return cells, len(cells) == e.width
}

// Lines gives the lines of an export from its first row on, with their numbers,
// decoded.
func (e *Export) Lines(r io.Reader) *ExportLines {
	s := bufio.NewScanner(transform.NewReader(r, e.decode.NewDecoder()))
	s.Buffer(make([]byte, 64<<10), 1<<20)
	s.Split(scanLines)
	l := &ExportLines{scan: s}
	for range e.data {
		l.Next()
	}
	return l
}

// ExportLines are the lines of an export.
type ExportLines struct {
	scan   *bufio.Scanner
	Number int // of the last line, from 1
}

// Next reads a line.
func (l *ExportLines) Next() bool {
	l.Number++
	return l.scan.Scan()
}

// Text is the last line.
func (l *ExportLines) Text() string { return l.scan.Text() }

// Err is what kept the lines from being read to their end.
func (l *ExportLines) Err() error { return l.scan.Err() }

// scanLines parts lines at LF, CRLF and CR alike.
func scanLines(data []byte, atEOF bool) (advance int, token []byte, err error) {
	i := bytes.IndexAny(data, "\r\n")
	switch {
	case i < 0 && atEOF && len(data) > 0:
		return len(data), data, nil
	case i < 0:
		return 0, nil, nil
	case data[i] == '\n':
		return i + 1, data[:i], nil
	case i+1 == len(data) && !atEOF:
		return 0, nil, nil // a line feed may follow
	case i+1 < len(data) && data[i+1] == '\n':
		return i + 2, data[:i], nil
	}
	return i + 1, data[:i], nil
}

// Numeric lists the columns of numbers beside the time.
func (e *Export) Numeric() (list []int) {
	for i, c := range e.Columns {
		if i != e.Time && !(e.Parted && i == e.Time+1) && !c.Texts && !c.Empty {
			list = append(list, i)
		}
	}
	return list
}

// Named finds a column by its header, its name or its number, -1 if there is none.
func (e *Export) Named(text string) int {
	text = strings.TrimSpace(text)
	if i := slices.IndexFunc(e.Columns, func(c ExportColumn) bool {
		bare, _ := sheets.HeaderUnit(c.Header)
		return c.Header == text || bare == text || c.Name == text
	}); i >= 0 {
		return i
	}
	for i := range e.Columns {
		if text == fmt.Sprint(i+1) {
			return i
		}
	}
	return -1
}
