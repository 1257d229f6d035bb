package sheets

import (
	"slices"
	"strings"
)

// LogbookFile is the file of the logbook in a notebook's folder.
const LogbookFile = "logbook.csv"

// EntryRow is one line of the logbook: what was entered when, by whom. Columns and
// their cells are as in Row. What is named as `set` names it, such as
// `force.reading` or `stations[3].gap`.
type EntryRow struct {
	When Cell `csv:"when"`
	Who  Cell `csv:"who"`
	What Cell `csv:"what"`
	Was  Cell `csv:"was"`
	Is   Cell `csv:"is"`
	With Cell `csv:"with"` // the gauge
	Note Cell `csv:"note"`
}

// Entry is a line that is about to be appended to the logbook.
type Entry struct{ When, Who, What, Was, Is, With, Note string }

// LogbookHeader is what an empty logbook holds.
func LogbookHeader() []byte { return []byte(strings.Join(entryLayout().names, ",") + "\n") }

// Logbook returns the sheet that is the notebook's logbook, nil if it has none.
func (n *Notebook) Logbook() *Sheet {
	for _, s := range n.Sheets {
		if s.Kind == Logbook {
			return s
		}
	}
	return nil
}

// readEntries reads a logbook.
func (r *reader) readEntries() {
	at := bind(r, entryLayout())
	for r.nextRow() {
		r.sheet.Entries = append(r.sheet.Entries, EntryRow{})
		at.fill(&r.sheet.Entries[len(r.sheet.Entries)-1], r.record, r.record[0])
	}
}

// AppendEntries returns a logbook with lines added at its end, each cell below
// its header in whatever order these stand, and every other byte kept.
func (s *Sheet) AppendEntries(data []byte, lines []Entry) ([]byte, error) {
	for _, line := range lines {
		texts := map[string]string{"when": line.When, "who": line.Who, "what": line.What, "was": line.Was,
			"is": line.Is, "with": line.With, "note": line.Note}
		record := make([]string, len(s.header))
		for i, h := range s.header {
			record[i] = texts[strings.ToLower(h.Text)]
		}
		var err error
		if data, _, err = AppendRecord(data, record); err != nil {
			return nil, err
		}
	}
	return data, nil
}

// RemoveRecord returns data without the record that begins on a physical line,
// from 1, and every other byte kept.
func RemoveRecord(data []byte, line int) ([]byte, error) {
	record, err := recordOn(data, line)
	if err != nil {
		return nil, err
	}
	from, to := record[0].start, record[len(record)-1].end
	switch rest := string(data[to:]); {
	case strings.HasPrefix(rest, "\r\n"):
		to += 2
	case strings.HasPrefix(rest, "\n"):
		to++
	case rest == "": // the last line has no end, and neither gets the one before it
		from = len(strings.TrimSuffix(strings.TrimSuffix(string(data[:from]), "\n"), "\r"))
	}
	return slices.Concat(data[:from], data[to:]), nil
}
