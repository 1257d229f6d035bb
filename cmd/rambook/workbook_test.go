package main

import (
	"archive/zip"
	"encoding/csv"
	"encoding/xml"
	"io"
	"math"
	"os"
	"os/exec"
	"path/filepath"
	"strconv"
	"strings"
	"testing"
)

// workbookOf reads a workbook: by the name of a sheet its rows of cells, each with
// its type.
func workbookOf(t *testing.T, file string) (names []string, rows map[string][][]workbookCell) {
	t.Helper()
	archive, err := zip.OpenReader(file)
	if err != nil {
		t.Fatal(err)
	}
	defer archive.Close()
	read := func(name string, v any) {
		part, err := archive.Open(name)
		if err != nil {
			t.Fatal(err)
		}
		defer part.Close()
		text, err := io.ReadAll(part)
		if err == nil {
			err = xml.Unmarshal(text, v)
		}
		if err != nil {
			t.Fatalf("%s: %v", name, err)
		}
	}
	var book struct {
		Sheets []struct {
			Name string `xml:"name,attr"`
		} `xml:"sheets>sheet"`
	}
	read("xl/workbook.xml", &book)
	rows = map[string][][]workbookCell{}
	for i, sheet := range book.Sheets {
		var data struct {
			Rows []struct {
				Cells []workbookCell `xml:"c"`
			} `xml:"sheetData>row"`
		}
		read("xl/worksheets/sheet"+strconv.Itoa(i+1)+".xml", &data)
		names = append(names, sheet.Name)
		for _, row := range data.Rows {
			rows[sheet.Name] = append(rows[sheet.Name], row.Cells)
		}
	}
	return names, rows
}

type workbookCell struct {
	Type    string `xml:"t,attr"`
	Number  string `xml:"v"`
	Text    string `xml:"is>t"`
	Formula string `xml:"f"`
}

// TestWorkbook holds the numbers of a workbook to those of the CSV, for the press
// and for cells that a spreadsheet could take for a formula.
func TestWorkbook(t *testing.T) {
	dir := t.TempDir()
	press, file := filepath.Join(dir, "press"), filepath.Join(dir, "press.xlsx")
	if status, _, said := obey("new", press, "--example"); status != exitFine {
		t.Fatal(said)
	}
	if status, _, said := obey("check", "-o", file, press); status == exitWrong {
		t.Fatal(said)
	}
	_, long, _ := obey("check", "--format", "csv", press)
	records, err := csv.NewReader(strings.NewReader(long)).ReadAll()
	if err != nil {
		t.Fatal(err)
	}
	_, rows := workbookOf(t, file)
	numbers := 0
	for _, record := range records[1:] {
		sheet, one, name, value := record[0], record[1], record[2], record[4]
		if one != "" || value == "" || !strings.ContainsAny(value, "0123456789") || strings.Contains(value, "-0") ||
			len(value) == len("2026-01-01") && strings.Count(value, "-") == 2 {
			continue
		}
		if _, err := strconv.ParseFloat(value, 64); err != nil {
			continue
		}
		found := false
		column := -1
		for k, cell := range rows[sheet][0] {
			if cell.Text == "value" {
				column = k
			}
		}
		for _, row := range rows[sheet][1:] {
			if len(row) > column && row[0].Text == name {
				found = row[column].Number == value
			}
		}
		if numbers++; !found {
			t.Errorf("%s of sheet %s is not %s in the workbook", name, sheet, value)
		}
	}
	if numbers < 100 {
		t.Errorf("only %d numbers compared", numbers)
	}

	hostile := notebook(t, "a.csv\nname,entry,unit,note\nside,2,mm,\"=1+1\"\ntwice,side*2,mm,\nkind,+SUM(A1),text,\n",
		"b.csv\nitem,side,twice\n:unit,mm,mm\n\"=cmd|' /C calc'!A0\",3,\n007,4,\n")
	if status, _, said := obey("check", "-o", file, hostile); status == exitWrong {
		t.Fatal(said)
	}
	texts := ""
	_, rows = workbookOf(t, file)
	for name, list := range rows {
		for _, row := range list {
			for _, cell := range row {
				texts += cell.Text + "\n"
				if cell.Formula != "" || cell.Type != "inlineStr" && strings.HasPrefix(cell.Number, "=") {
					t.Errorf("%s holds a formula: %+v", name, cell)
				}
			}
		}
	}
	for _, text := range []string{"+SUM(A1)\n", "=cmd|' /C calc'!A0\n", "007\n"} {
		if !strings.Contains(texts, text) {
			t.Errorf("text %q is not in %q", text, texts)
		}
	}
}

// TestWorkbookOpens has LibreOffice, if it is installed, open the workbook of the
// press and save its sheets as CSV: the same numbers to 15 digits.
func TestWorkbookOpens(t *testing.T) {
	office, err := exec.LookPath("soffice")
	if err != nil || testing.Short() {
		t.Skip("no LibreOffice, or a short run")
	}
	dir := t.TempDir()
	press, file := filepath.Join(dir, "press"), filepath.Join(dir, "press.xlsx")
	if status, _, said := obey("new", press, "--example"); status != exitFine {
		t.Fatal(said)
	}
	if status, _, said := obey("check", "-o", file, press); status == exitWrong {
		t.Fatal(said)
	}
	command := exec.Command(office, "--headless", "-env:UserInstallation=file://"+dir+"/profile",
		"--convert-to", "csv:Text - txt - csv (StarCalc):44,34,76,1,,0,false,false,false,false,false,-1", "--outdir",
		dir, file)
	if said, err := command.CombinedOutput(); err != nil {
		t.Skipf("LibreOffice does not run here: %v: %s", err, said)
	}
	names, rows := workbookOf(t, file)
	numbers := 0
	for _, name := range names {
		opened, err := os.Open(filepath.Join(dir, "press-"+name+".csv"))
		if err != nil {
			t.Error(err)
			continue
		}
		records, err := csv.NewReader(opened).ReadAll()
		opened.Close()
		if err != nil {
			t.Fatal(err)
		}
		for i, row := range rows[name] {
			for k, cell := range row {
				if cell.Number == "" {
					if cell.Text != "" && (i >= len(records) || records[i][k] != cell.Text) {
						t.Errorf("%s %d:%d: text %q is not there", name, i, k, cell.Text)
					}
					continue
				}
				want, _ := strconv.ParseFloat(cell.Number, 64)
				got, err := strconv.ParseFloat(records[i][k], 64)
				if numbers++; err != nil || math.Abs(got-want) > 1e-14*math.Abs(want) {
					t.Errorf("%s %d:%d: %s became %s", name, i, k, cell.Number, records[i][k])
				}
			}
		}
	}
	t.Logf("%d numbers in %d sheets are the same", numbers, len(names))
	if numbers < 100 {
		t.Errorf("only %d numbers", numbers)
	}
}
