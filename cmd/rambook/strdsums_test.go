package main

import (
	"bytes"
	"encoding/json"
	"fmt"
	"math"
	"os"
	"path/filepath"
	"regexp"
	"strconv"
	"strings"
	"testing"
)

var sumLine = regexp.MustCompile(`Residual Sum of Squares:\s+(\S+)`)

// TestSumsOfSquares holds sums over the rows of a table to the same certified
// sets as TestFitCertified: at the certified values the sum of the squares of
// what is left, and its root over the degrees of freedom, are certified too.
func TestSumsOfSquares(t *testing.T) {
	for _, file := range certifiedFiles(t) {
		set := readCertified(t, file)
		t.Run(set.name, func(t *testing.T) {
			data, err := os.ReadFile(file)
			if err != nil {
				t.Fatal(err)
			}
			sum := number(t, sumLine.FindStringSubmatch(string(data))[1])
			var model, points strings.Builder
			model.WriteString("name,entry\n")
			for i, b := range set.values {
				fmt.Fprintf(&model, "b%d,%s\n", i+1, strconv.FormatFloat(b, 'g', 17, 64))
			}
			formula := regexp.MustCompile(`\bx\d?\b`).ReplaceAllStringFunc(set.model,
				func(x string) string { return "points." + x })
			fmt.Fprintf(&model, "squares,sum((points.y - (%s))^2)\nscatter,sqrt(squares/%d)\n", formula,
				len(set.rows)-len(set.values))
			fmt.Fprintf(&points, "point,%s\n:unit%s\n", strings.Join(set.columns, ","),
				strings.Repeat(",", len(set.columns)))
			largest := 0.0
			for i, row := range set.rows {
				fmt.Fprintf(&points, "%d,%s\n", i+1, strings.Join(row, ","))
				largest = math.Max(largest, math.Abs(number(t, row[0])))
			}
			folder := t.TempDir()
			for name, text := range map[string]string{"model.csv": model.String(), "points.csv": points.String()} {
				if err := os.WriteFile(filepath.Join(folder, name), []byte(text), 0o600); err != nil {
					t.Fatal(err)
				}
			}
			var out, errs bytes.Buffer
			if status := run([]string{"check", "--format", "json", folder}, nil, &out, &errs); status != 0 {
				t.Fatalf("status %d: %s", status, &errs)
			}
			var got struct {
				Quantities []struct {
					Name  string
					Value float64
				}
			}
			if err := json.Unmarshal(out.Bytes(), &got); err != nil {
				t.Fatal(err)
			}
			// The values are certified to 11 digits. Near the least sum what they are off counts by its
			// square, which is all there is where the points lie on the curve.
			rounding := float64(len(set.rows)) * math.Pow(1e-10*largest, 2)
			want := map[string][2]float64{"squares": {sum, 1e-9*sum + rounding},
				"scatter": {number(t, set.scatter), 1e-9*number(t, set.scatter) + math.Sqrt(rounding)}}
			met := 0
			for _, q := range got.Quantities {
				if w, ok := want[q.Name]; ok {
					met++
					if math.Abs(q.Value-w[0]) > w[1] {
						t.Errorf("%s: got %.12g, certified %.11g", q.Name, q.Value, w[0])
					}
				}
			}
			if met != len(want) {
				t.Errorf("%d of %d sums found in %s", met, len(want), &out)
			}
		})
	}
}
