package calc

import (
	"context"
	"fmt"
	"math"
	"math/rand/v2"
	"slices"
	"strings"
	"testing"

	"rambook/calc/chance"
)

// TestNoWrongPass: whatever passes keeps its limits in at least 97.5 % of all
// samples, and whatever fails breaks one in as many; of a case that holds for
// all limits that depend on what the case changes, and of a case of a sweep or of a
// comparison likewise. The samples are drawn and computed by the test alone
// (JCGM 101). RAMBOOK_MODELS=20000 looks at so many models.
func TestNoWrongPass(t *testing.T) {
	usual := 200
	if testing.Short() {
		usual = 60
	}
	models := chance.Models(usual)
	judge := chance.Judge{Samples: 20000, Counts: map[string]int{}}
	for seed := range uint64(models) {
		m := chance.New(seed)
		parts := m.Files()
		model, problems := Compile(files(t, parts...), Options{})
		if model == nil {
			t.Fatalf("seed %d: %s\n%s", seed, told(problems), parts[1])
		}
		report, problems := model.Check(CheckOptions{})
		if report == nil {
			t.Fatalf("seed %d: %s\n%s", seed, told(problems), parts[1])
		}
		wrong := func(where, what string) {
			if what != "" {
				t.Errorf("seed %d, %s: %s\n%s%s", seed, where, what, parts[1], parts[3])
			}
		}
		draw := rand.New(rand.NewPCG(seed, 99)).NormFloat64
		low, high := m.Outside(nil, judge.Samples, draw)
		for i := range m.Rows {
			if j := report.find(t, m.Rows[i].Name); j.Verdict != NoVerdict {
				wrong(j.Quantity.Name, judge.Row(j.Verdict.String(), low[i], high[i]))
			}
		}
		rows := m.Judges(chance.InSheet)
		compared, problems := model.Compare("jobs", CompareOptions{By: m.Asked, Most: seed%2 == 0, Least: seed%2 != 0})
		if compared == nil {
			t.Fatalf("seed %d: %s\n%s", seed, told(problems), parts[1])
		}
		for n, set := range m.Cases {
			c := report.Cases[0].Cases[n]
			low, high := m.Outside(set, judge.Samples, draw)
			wrong(c.Name, judge.Case(c.Verdict.String(), rows, low, high))
			at := slices.IndexFunc(compared.Rows, func(r ComparedCase) bool { return r.Name == c.Name })
			ranked := &compared.Rows[at]
			wrong(c.Name+", compared", judge.Case(ranked.Verdict.String(), rows, low, high))
			if ranked.Rank > 0 && ranked.Verdict == Fail {
				t.Errorf("seed %d, %s fails and has rank %d", seed, c.Name, ranked.Rank)
			}
		}
		rows = m.Judges(func(given int) bool { return given == 0 })
		var over []string
		places := []float64{m.Cases[0][0], -0.7, 0.9, 3.3}
		if !Has(places[0]) {
			places = places[1:]
		}
		for _, x := range places {
			over = append(over, fmt.Sprint(x))
		}
		sweep, problems := model.Sweep([]string{"g0 = " + strings.Join(over, ", ")}, []string{m.Asked})
		if sweep == nil {
			t.Fatalf("seed %d: %s\n%s", seed, told(problems), parts[1])
		}
		all := make([]int, len(places))
		for i := range all {
			all[i] = i
		}
		swept, _ := sweep.Judge(all)
		sweep.Judges = true
		var streamed []Case
		if _, err := sweep.Run(context.Background(), 1, func(*Rows) {}, func(r *Rows) error {
			streamed = append(streamed, r.Cases...)
			return nil
		}); err != nil {
			t.Fatal(err)
		}
		for n, x := range places {
			set := slices.Repeat([]float64{math.NaN()}, len(m.Cases[0]))
			set[0] = x
			low, high := m.Outside(set, judge.Samples, draw)
			wrong(swept.Cases[n].Name+", swept", judge.Case(swept.Cases[n].Verdict.String(), rows, low, high))
			if len(streamed) > 0 {
				wrong(swept.Cases[n].Name+", streamed", judge.Case(streamed[n].Verdict.String(), rows, low, high))
			}
		}
	}
	t.Logf("%d models: %v", models, judge.Counts)
	for _, scarce := range judge.Scarce(models / 2) {
		t.Error(scarce)
	}
}
