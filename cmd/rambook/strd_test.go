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

// The certified nonlinear fits of the NIST Statistical Reference Datasets
// (NIST/ITL StRD, nonlinear least squares; public domain), in ../shared/strd or
// the folder that RAMBOOK_STRD names. Each file holds its model, two sets of
// starting values, certified values with standard deviations, and the data;
// here each becomes a notebook that `rambook fit` is run on, from both starts.
func TestFitCertified(t *testing.T) {
	for _, file := range certifiedFiles(t) {
		set := readCertified(t, file)
		for start := range 2 {
			for _, stated := range []bool{false, true} {
				t.Run(fmt.Sprintf("%s/start %d/spread %t", set.name, start+1, stated),
					func(t *testing.T) { set.check(t, start, stated) })
			}
		}
	}
}

// certifiedFiles lists the reference sets, and skips the test where they are missing.
func certifiedFiles(t *testing.T) []string {
	folder := os.Getenv("RAMBOOK_STRD")
	if folder == "" {
		folder = filepath.Join("..", "..", "..", "shared", "strd")
	}
	files, _ := filepath.Glob(filepath.Join(folder, "*.dat"))
	if len(files) == 0 {
		t.Skip("no certified fits in " + folder + ": put the .dat files of NIST StRD, nonlinear least squares, " +
			"there, or say where they are with RAMBOOK_STRD")
	}
	return files
}

// certified is one file of the reference sets.
type certified struct {
	name, model string
	starts      [2][]string
	values, sd  []float64
	scatter     string // residual standard deviation
	columns     []string
	rows        [][]string
}

var (
	certifiedLine = regexp.MustCompile(`(?m)^\s*b\d+\s*=\s*(\S+)\s+(\S+)\s+(\S+)\s+(\S+)\s*$`)
	modelText     = regexp.MustCompile(`(?ms)^\s+((?:log\[)?y\]?)\s+=(.*?)(?:\+\s*e\s*$)`)
	scatterLine   = regexp.MustCompile(`Residual Standard Deviation:\s+(\S+)`)
	dataHead      = regexp.MustCompile(`(?m)^Data:\s+y\s+x.*$`)
)

func readCertified(t *testing.T, file string) certified {
	t.Helper()
	data, err := os.ReadFile(file)
	if err != nil {
		t.Fatal(err)
	}
	text := strings.ReplaceAll(string(data), "\r", "")
	set := certified{name: strings.TrimSuffix(filepath.Base(file), ".dat")}
	model := modelText.FindStringSubmatch(text)
	if model == nil {
		t.Fatal(file + ": no model found")
	}
	// Their formulas in the syntax of ours: square brackets are round, and an
	// angle has its unit.
	formula := strings.NewReplacer("[", "(", "]", ")", "arctan",
		"1/rad*atan").Replace(strings.Join(strings.Fields(model[2]), " "))
	set.model = regexp.MustCompile(`(cos|sin)\(([^()]*)\)`).ReplaceAllString(formula, "$1(($2)*rad)")
	for _, m := range certifiedLine.FindAllStringSubmatch(text, -1) {
		set.starts[0], set.starts[1] = append(set.starts[0], plainNumber(m[1])),
			append(set.starts[1], plainNumber(m[2]))
		set.values, set.sd = append(set.values, number(t, m[3])), append(set.sd, number(t, m[4]))
	}
	set.scatter = plainNumber(scatterLine.FindStringSubmatch(text)[1])
	head := dataHead.FindStringIndex(text)
	set.columns = strings.Fields(text[head[0]:head[1]])[1:]
	for _, line := range strings.Split(text[head[1]:], "\n") {
		fields := strings.Fields(line)
		if len(fields) < len(set.columns) {
			continue
		}
		if strings.HasPrefix(model[1], "log") {
			fields[0] = strconv.FormatFloat(math.Log(number(t, fields[0])), 'g', 17, 64)
		}
		set.rows = append(set.rows, fields)
	}
	return set
}

func plainNumber(text string) string { return strings.TrimSuffix(text, ".") }

func number(t *testing.T, text string) float64 {
	t.Helper()
	x, err := strconv.ParseFloat(text, 64)
	if err != nil {
		t.Fatal(err)
	}
	return x
}

// check fits the set from one of its starts. With the certified scatter as the
// readings' spread, or with none stated, the same is found.
func (c certified) check(t *testing.T, start int, stated bool) {
	folder := t.TempDir()
	var model, points strings.Builder
	model.WriteString("name,entry,unit,spread\n")
	for i, b := range c.starts[start] {
		fmt.Fprintf(&model, "b%d,%s,,\n", i+1, b)
	}
	for _, x := range c.columns[1:] {
		model.WriteString(x + ",,,\n")
	}
	spread := ""
	if stated {
		spread = strconv.FormatFloat(2*number(t, c.scatter), 'g', 17, 64)
	}
	fmt.Fprintf(&model, "y,=%s,,%s\n", c.model, spread)
	fmt.Fprintf(&points, "point,%s\n:unit%s\n", strings.Join(c.columns, ","), strings.Repeat(",", len(c.columns)))
	for i, row := range c.rows {
		fmt.Fprintf(&points, "%d,%s\n", i+1, strings.Join(row, ","))
	}
	for name, text := range map[string]string{"model.csv": model.String(), "points.csv": points.String()} {
		if err := os.WriteFile(filepath.Join(folder, name), []byte(text), 0o600); err != nil {
			t.Fatal(err)
		}
	}
	args := []string{"fit"}
	for i := range c.values {
		args = append(args, fmt.Sprintf("b%d", i+1))
	}
	var out, errs bytes.Buffer
	if status := run(append(args, "--cases", "points", "--format", "json", folder), nil, &out, &errs); status != 0 {
		t.Fatalf("status %d: %s", status, &errs)
	}
	var got struct {
		Fitted []struct {
			Name          string
			Value, Spread float64
		}
		Readings int
	}
	if err := json.Unmarshal(out.Bytes(), &got); err != nil {
		t.Fatal(err)
	}
	if got.Readings != len(c.rows) {
		t.Errorf("%d readings, want %d", got.Readings, len(c.rows))
	}
	digits, spreadDigits := math.Inf(1), math.Inf(1)
	for i, want := range c.values {
		digits = min(digits, agreeing(got.Fitted[i].Value, want))
		spreadDigits = min(spreadDigits, agreeing(got.Fitted[i].Spread/2, c.sd[i]))
	}
	t.Logf("values to %.1f digits, standard deviations to %.1f", digits, spreadDigits)
	if digits < 6 {
		t.Errorf("values agree to %.1f digits only: %+v, want %v", digits, got.Fitted, c.values)
	}
	if spreadDigits < 4 && c.name != "Lanczos1" { // certified with a scatter near the rounding of its data
		t.Errorf("standard deviations agree to %.1f digits only: %+v, want %v", spreadDigits, got.Fitted, c.sd)
	}
}

// agreeing is the number of digits to which x agrees with a certified value.
func agreeing(x, certified float64) float64 {
	if x == certified {
		return 11 // as many as are certified
	}
	return -math.Log10(math.Abs(x-certified) / math.Abs(certified))
}
