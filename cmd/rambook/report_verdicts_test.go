package main

import (
	"bytes"
	"maps"
	"math/rand/v2"
	"slices"
	"strings"
	"testing"

	"rambook/calc/chance"
)

// verdictsOf reads the verdicts in the tables of a page in Markdown: by the heading
// above the table and the first cell of the row.
func verdictsOf(page string) map[string]map[string]string {
	all := map[string]map[string]string{}
	heading, column := "", -1
	for line := range strings.Lines(page) {
		line = strings.TrimSpace(line)
		switch {
		case strings.HasPrefix(line, "#"):
			heading, column = strings.TrimLeft(line, "# "), -1
		case !strings.HasPrefix(line, "|"):
			column = -1
		default:
			cells := strings.Split(strings.Trim(line, "|"), "|")
			for i := range cells {
				cells[i] = strings.TrimSpace(cells[i])
			}
			if at := slices.Index(cells, "verdict"); at >= 0 {
				column = at
				all[heading] = map[string]string{}
			} else if column >= 0 && column < len(cells) {
				name := strings.ReplaceAll(cells[0], "\\", "")
				name = strings.TrimSuffix(name, " *") // it goes on with a number of the notebook
				all[heading][name] = cells[column]
			}
		}
	}
	return all
}

// TestNoWrongPassInReports holds every verdict that a report prints, of rows, of cases
// and of ranked cases, against samples that the test draws and computes alone (JCGM
// 101). RAMBOOK_MODELS=2000 looks at so many notebooks.
func TestNoWrongPassInReports(t *testing.T) {
	usual := 60
	if testing.Short() {
		usual = 20
	}
	models := chance.Models(usual)
	judge := chance.Judge{Samples: 20000, Counts: map[string]int{}}
	for seed := range uint64(models) {
		m := chance.New(seed + 1e6) // others than those of calc
		parts := m.Files()
		var files []string
		for i := 0; i < len(parts); i += 2 {
			files = append(files, parts[i]+"\n"+parts[i+1])
		}
		var out, errs bytes.Buffer
		if status := run([]string{"report", notebook(t, files...)}, strings.NewReader(""), &out, &errs); status > 1 {
			t.Fatalf("seed %d: %s\n%s", seed, errs.String(), parts[1])
		}
		verdicts := verdictsOf(out.String())
		wrong := func(where, what string) {
			if what != "" {
				t.Errorf("seed %d, %s: %s\n%s%s", seed, where, what, parts[1], parts[3])
			}
		}
		draw := rand.New(rand.NewPCG(seed, 99)).NormFloat64
		low, high := m.Outside(nil, judge.Samples, draw)
		for i := range m.Rows {
			name := m.Rows[i].Name
			verdict, told := verdicts["a"][name]
			if limited := m.Rows[i].Low != nil || m.Rows[i].High != nil; limited && (!told || verdict == "") {
				t.Errorf("seed %d: the report has no verdict on %s", seed, name)
			}
			if verdict != "" {
				wrong(name, judge.Row(verdict, low[i], high[i]))
			}
		}
		rows := m.Judges(chance.InSheet)
		for _, heading := range slices.Sorted(maps.Keys(verdicts)) {
			table := verdicts[heading]
			if heading != "jobs" && !strings.HasPrefix(heading, "jobs by ") {
				continue
			}
			for n, set := range m.Cases {
				name := []string{"case 0", "case 1", "case 2"}[n]
				verdict, told := table[name]
				if !told || verdict == "" {
					t.Errorf("seed %d, %s: no verdict on %s", seed, heading, name)
					continue
				}
				low, high := m.Outside(set, judge.Samples, draw)
				wrong(heading+", "+name, judge.Case(verdict, rows, low, high))
			}
		}
	}
	t.Logf("%d notebooks: %v", models, judge.Counts)
	for _, scarce := range judge.Scarce(models / 2) {
		t.Error(scarce)
	}
}
