package main

import (
	"fmt"
	"hash/fnv"
	"math"
	"math/rand/v2"
	"slices"
	"strconv"
	"strings"

	"rambook/calc"
	"rambook/sheets"
	"rambook/units"
	"rambook/units/words"
)

type dealCommand struct {
	Sheet    string `arg:"" complete:"cases" help:"The case sheet of the class, such as class."`
	Path     string `arg:"" optional:"" help:"Folder or CSV file. Default: this folder."`
	Students list   `required:"" placeholder:"NAME,…" help:"Their names, or how many there are."`
	Seed     uint64 `default:"1" placeholder:"S" help:"The same seed and name give the same numbers. Default: 1."`
	entryFlags
}

func (dealCommand) Help() string {
	return "Each student becomes a case. What is dealt are the columns of givens with a :low and a :high: " +
		"a round number between them, of inches an eighth or a quarter, and never one of the two, for each student. " +
		"No two students get the same set, and none shares two numbers with another while there are enough. " +
		"Students who are there already keep theirs. Example:\n\n" +
		"  rambook deal class --students \"Ada, Ben, Cleo\" --seed 7 mylesson\n" +
		"  rambook deal class --students 24 mylesson\n" +
		"  rambook report --blind -o questions.html mylesson\n  rambook report --blind --key -o key.html mylesson"
}

// mostStudents is how many cases are dealt at once.
const mostStudents = 1000

// Run appends a case for each student.
func (c *dealCommand) Run(s *session) error {
	names, err := c.names()
	if err != nil {
		return err
	}
	r, err := revise(c.Path)
	if err != nil {
		return err
	}
	sheet, err := caseSheet(r.book, c.Sheet)
	if err != nil || r.model == nil {
		return r.missing(err)
	}
	var dealt [][]string
	r.enters(s, c.entryFlags, func() []sheets.Entry {
		var entries []sheets.Entry
		for _, record := range dealt {
			entries = append(entries, sheets.Entry{What: sheet.Name + "[" + record[0] + "]",
				Is: recorded(sheet, record[1:])})
		}
		return entries
	})
	err = r.change([]*sheets.Sheet{sheet}, func(now *sheets.Sheet, data []byte) ([]byte, error) {
		hand, err := handOf(now, r.model)
		if err != nil {
			return nil, err
		}
		if dealt, err = hand.deal(now, names, c.Seed); err != nil {
			return nil, err
		}
		for _, record := range dealt {
			if data, _, err = sheets.AppendRecord(data, record); err != nil {
				return nil, err
			}
		}
		return data, nil
	})
	if err != nil {
		return err
	}
	fmt.Fprintf(&s.out, "%s: %s dealt, seed %d\n", sheet.File, words.Counted(len(dealt), "student"), c.Seed)
	if n := len(names) - len(dealt); n > 0 {
		fmt.Fprintf(&s.out, "%s there already, with the numbers as they are\n", words.Counted(n, "student"))
	}
	r.tell(s, nil)
	return nil
}

// names are those of the students. A single number stands for so many.
func (c *dealCommand) names() ([]string, error) {
	var names []string
	for _, name := range c.Students {
		if slices.Contains(names, name) {
			return nil, problem("--students names "+words.Quoted(name)+" twice", "add a letter to one of them")
		}
		names = append(names, name)
	}
	if len(names) == 1 {
		if n, err := strconv.Atoi(names[0]); err == nil {
			names = nil
			for i := range min(max(n, 0), mostStudents+1) {
				names = append(names, fmt.Sprintf("student %0*d", len(strconv.Itoa(n)), i+1))
			}
		}
	}
	for _, name := range names {
		if strings.HasPrefix(name, ":") || strings.HasPrefix(name, "#") {
			return nil, problem(words.Quoted(name)+" is no name of a case", "names begin with neither a colon nor a #")
		}
		if strings.Contains(name, ";") {
			return nil, problem("--students names "+words.Quoted(name)+" as one student",
				`names are parted by commas: --students "Ada, Ben"`)
		}
	}
	if len(names) == 0 || len(names) > mostStudents {
		return nil, problem(fmt.Sprintf("--students names %d, expected 1 to %d", len(names), mostStudents),
			`such as --students "Ada, Ben" or --students 24`)
	}
	return names, nil
}

// hand is what is dealt: for some columns of a sheet the numbers to choose from.
type hand struct {
	columns []int
	ranges  []dealRange
}

// dealRange are n numbers: low, low + step and so on.
type dealRange struct {
	low, step float64
	n         int
	digits    int // behind the point
}

// handOf finds the columns of a sheet that are dealt.
func handOf(sheet *sheets.Sheet, model *calc.Model) (*hand, error) {
	h := &hand{}
	for i, column := range sheet.Columns {
		q := model.Quantity(column.Name.Text)
		if q == nil || q.IsFormula() || column.Low.Blank() || column.High.Blank() {
			continue
		}
		unit := q.Unit
		if !column.Unit.Blank() {
			var err *sheets.Problem
			if unit, err = units.Parse(column.Unit.Text); err != nil {
				return nil, wrong(sheet.Problem(column.Unit, err.From, err.To, err.Message, err.Hint))
			}
		}
		var ends [2]float64
		for k, cell := range []sheets.Cell{column.Low, column.High} {
			v, err := units.ParseValue(cell.Text)
			if err != nil {
				return nil, wrong(sheet.Problem(cell, 0, len([]rune(cell.Text)),
					"numbers are dealt between two numbers",
					"write a number of "+q.Name+" here"))
			}
			if ends[k] = v.Number; v.HasUnit && v.Unit.Symbol != unit.Symbol {
				ends[k] = unit.FromSI(v.Unit.ToSI(v.Number))
			}
		}
		if ends[0] >= ends[1] {
			return nil, wrong(sheet.Problem(column.High, 0, len([]rune(column.High.Text)),
				"there is nothing to deal between "+column.Low.Text+" and "+column.High.Text, ""))
		}
		h.columns = append(h.columns, i)
		h.ranges = append(h.ranges, rangeBetween(ends[0], ends[1], unit))
	}
	if len(h.columns) == 0 {
		return nil, wrong(sheets.Problem{File: sheet.File, Message: "no given of this sheet has both :low and :high",
			Hint: "numbers are dealt between them"})
	}
	return h, nil
}

// dealtSteps is about how many numbers there are to choose from: enough for a
// class, few enough for round numbers.
const dealtSteps = 20

// rangeBetween divides a range into what is made and read: whole steps of 1, 2 or 5, in
// inches of an eighth, a quarter or a half.
func rangeBetween(low, high float64, u units.Unit) dealRange {
	d := dealRange{digits: 15}
	if u.Symbol == "inch" {
		d.step = inchStep(high - low)
	} else {
		d.step, d.digits = roundStep(high - low)
	}
	// The ends are limits that the numbers are held to, so none of them is dealt: with
	// a gauge's doubt a number on its limit would be unsure.
	first := math.Floor(low/d.step+1e-9) + 1
	last := math.Ceil(high/d.step-1e-9) - 1
	d.low, d.n = first*d.step, int(last-first)+1
	return d
}

// roundStep is the round step that parts a range into about dealtSteps, and how many
// digits behind the point it needs.
func roundStep(span float64) (step float64, digits int) {
	rough := span / dealtSteps
	power := int(math.Floor(math.Log10(rough)))
	step = math.Pow10(power)
	for _, times := range []float64{2, 5, 10} {
		if rough > step*(1+1e-9) {
			step = times * math.Pow10(power)
		}
	}
	return step, max(0, -power)
}

// inchStep is roundStep of sizes in inches: a power of two, and an eighth where that
// leaves enough to choose from (common practice, no source).
func inchStep(span float64) float64 {
	step := math.Exp2(math.Ceil(math.Log2(span / dealtSteps)))
	if eighth := 0.125; step < eighth && span/eighth >= dealtSteps/3 {
		return eighth
	}
	return step
}

// deal makes the record of each student who is not there yet.
func (h *hand) deal(sheet *sheets.Sheet, names []string, seed uint64) ([][]string, error) {
	there, taken := map[string]bool{}, map[string]bool{}
	for _, one := range sheet.Cases {
		there[one.Name.Text] = true
		var texts []string
		for _, i := range h.columns {
			texts = append(texts, one.Cells[i].Text)
		}
		for _, copied := range copiable(texts) {
			taken[copied] = true
		}
	}
	var records [][]string
	for _, name := range names {
		if there[name] {
			continue
		}
		// The numbers hang on the name and not on the place in the list, so that
		// who comes later changes nobody's.
		mixed := fnv.New64a()
		mixed.Write([]byte(name))
		random := rand.New(rand.NewPCG(seed, mixed.Sum64()))
		const tries = 1000
		record := make([]string, 1+len(sheet.Columns))
		record[0] = name
		for try := 0; ; try++ {
			texts := h.draw(random)
			for k, i := range h.columns {
				record[1+i] = texts[k]
			}
			copied := copiable(texts)
			alike := copied
			if try >= tries/2 { // a large class cannot but share some
				alike = copied[len(copied)-1:]
			}
			if !slices.ContainsFunc(alike, func(c string) bool { return taken[c] }) {
				for _, c := range copied {
					taken[c] = true
				}
				break
			}
			if try == tries {
				return nil, wrong(sheets.Problem{File: sheet.File,
					Message: "there are not enough different numbers for " +
						name, Hint: "widen :low to :high, or deal another column"})
			}
		}
		records = append(records, record)
	}
	return records, nil
}

// draw takes a number for each column.
func (h *hand) draw(random *rand.Rand) []string {
	var texts []string
	for _, d := range h.ranges {
		texts = append(texts, d.text(random.IntN(d.n)))
	}
	return texts
}

// text is one of the numbers as it is written, counted from 0.
func (d *dealRange) text(i int) string {
	x := d.low + d.step*float64(i)
	text := strconv.FormatFloat(x, 'f', -1, 64)
	if rounded := strconv.FormatFloat(x, 'f', d.digits, 64); len(rounded) < len(text) {
		text = rounded
	}
	return text
}

// copiable are keys of what two students must not share, since an answer that follows
// from it alone could be copied: each two numbers, and last all of them.
func copiable(texts []string) []string {
	var keys []string
	if len(texts) > 2 {
		for l := range texts {
			for k := range l {
				keys = append(keys, fmt.Sprintf("%d %s|%d %s", k, texts[k], l, texts[l]))
			}
		}
	}
	return append(keys, strings.Join(texts, "|"))
}
