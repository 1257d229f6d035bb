package answer

import (
	"bytes"
	"encoding/json"
	"math"
	"testing"

	"rambook/sheets/table"
)

// rowsKept is a view of rows that were kept.
type rowsKept struct {
	head *Head
	rows []*Row
}

func (v rowsKept) Page() []table.Table { return []table.Table{v.Rows()} }
func (v rowsKept) Rows() table.Table   { return v.head.Table("", v.rows) }
func (v rowsKept) Object() any         { return v.head.Object(v.rows) }

// TestRowsKept checks that rows that go out as they are computed and the same rows in
// one piece are the same answer, in CSV to the byte, in JSON but for blanks.
func TestRowsKept(t *testing.T) {
	head := Head{Invented: true, Lists: []List{
		{Name: "over", Columns: []Column{{Name: "setting", Unit: "MPa", Header: "setting (MPa)"}}},
		{Name: "show", Columns: []Column{{Name: "grade", Header: "grade",
			Text: func(float64) string { return "HM,46" }},
			{Name: "force", Unit: "kN", Header: "force (kN)"}}},
		{Name: "spread", Again: true, Columns: []Column{{Name: "force spread", Header: "force spread (kN)"}}},
	}, Texts: []string{"verdict", "error"}}
	rows := []*Row{
		{Lists: [][]float64{{20}, {0, 1 / 3.0}, {1e-9}}, Texts: []string{"pass", ""}},
		{Lists: [][]float64{{22.5}, {0, math.NaN()}, {math.NaN()}}, Texts: []string{"error", "force: a <b> & `c`"}},
	}
	for _, f := range Formats {
		if f.Stream == nil {
			continue
		}
		stream := f.Stream(&head)
		text := []byte(stream.Begin)
		for i, r := range rows {
			text = stream.Row(text, i == 0, r)
		}
		text = append(text, stream.End...)
		var whole bytes.Buffer
		if err := Of("", true, rowsKept{&head, rows}).Write(&whole, f, 80); err != nil {
			t.Fatal(err)
		}
		got, want := whole.Bytes(), text
		if f.JSON {
			got, want = compacted(t, got), compacted(t, want)
		}
		if !bytes.Equal(got, want) {
			t.Errorf("%s: in one piece\n%s\nas a stream\n%s", f.Name, got, want)
		}
	}
}

func compacted(t *testing.T, text []byte) []byte {
	t.Helper()
	var out bytes.Buffer
	if err := json.Compact(&out, text); err != nil {
		t.Fatalf("%v\n%s", err, text)
	}
	return out.Bytes()
}
