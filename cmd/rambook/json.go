package main

import (
	"encoding/json"
	"io"

	"rambook/calc"
	"rambook/sheets"
	"rambook/units"
)

// jsonValue is everything one run says about one quantity. A number that is
// absent is left out; a date is a "YYYY-MM-DD" string, a text quantity's value
// a string.
type jsonValue struct {
	Value         any      `json:"value,omitzero"`
	Unit          string   `json:"unit"`
	Spread        any      `json:"spread,omitzero"`
	Reading       any      `json:"reading,omitzero"`
	ReadingSpread any      `json:"reading_spread,omitzero"`
	Agreement     any      `json:"agreement,omitzero"`
	Low           any      `json:"low,omitzero"`
	High          any      `json:"high,omitzero"`
	Inside        any      `json:"inside,omitzero"`
	SampledMean   any      `json:"sampled_mean,omitzero"`
	SampledLow    any      `json:"sampled_low,omitzero"`
	SampledHigh   any      `json:"sampled_high,omitzero"`
	Verdict       string   `json:"verdict,omitempty"`
	Needs         []string `json:"needs"`
	Error         string   `json:"error,omitempty"`
}

func newJSONValue(j *calc.Judged) jsonValue {
	v := jsonValue{
		Value:         pointIn(j, j.Value),
		Unit:          j.Unit.Symbol,
		Spread:        plain(j.Spread),
		Reading:       pointIn(j, j.Reading),
		ReadingSpread: plain(j.ReadingSpread),
		Agreement:     plain(j.Agreement),
		Low:           pointIn(j, j.Low),
		High:          pointIn(j, j.High),
		Inside:        plain(j.Inside),
		Verdict:       j.Verdict.String(),
		Needs:         names(j.Needs),
		Error:         j.Error,
	}
	if j.Unit.Kind == units.Text && j.Text != "" {
		v.Value = j.Text
	}
	if sampled(j) {
		v.SampledMean, v.SampledLow, v.SampledHigh = pointIn(j, j.SampledMean), pointIn(j, j.SampledLow), pointIn(j, j.SampledHigh)
	}
	return v
}

// sampled reports whether the run found an interval by sampling.
func sampled(j *calc.Judged) bool { return j.SampledHigh > j.SampledLow }

// pointIn is a number on the scale of j's unit, which may be a calendar; nil if
// it is absent. The encoder writes a float64 as the shortest text that reads
// back as the same number.
func pointIn(j *calc.Judged, x float64) any {
	if j.Unit.Kind == units.Date && calc.Has(x) {
		return units.FormatDate(x)
	}
	return plain(x)
}

// plain is a number without a scale, nil if it is absent.
func plain(x float64) any {
	if !calc.Has(x) {
		return nil
	}
	return x
}

// names of what a value waits for; never nil, so that JSON shows an empty list
// as such.
func names(needs []calc.Need) []string {
	list := make([]string, 0, len(needs))
	for _, need := range needs {
		list = append(list, need.Name)
	}
	return list
}

type jsonQuantity struct {
	Sheet string `json:"sheet"`
	Name  string `json:"name"`
	Entry string `json:"entry"`
	jsonValue
}

type jsonCase struct {
	Sheet   string               `json:"sheet"`
	Case    string               `json:"case"`
	Verdict string               `json:"verdict,omitempty"`
	Values  map[string]jsonValue `json:"values"`
}

type jsonCounts struct {
	Pass   int `json:"pass"`
	Fail   int `json:"fail"`
	Unsure int `json:"unsure"`
	Open   int `json:"open"`
}

type jsonReport struct {
	Notebook   string         `json:"notebook"`
	Quantities []jsonQuantity `json:"quantities"`
	Cases      []jsonCase     `json:"cases"`
	Counts     jsonCounts     `json:"counts"`
	Warnings   []jsonProblem  `json:"warnings"`
}

// newJSONReport gives the report the shape that `check --format json` promises.
func newJSONReport(book *sheets.Notebook, r *calc.Report) jsonReport {
	report := jsonReport{
		Notebook:   book.Path,
		Quantities: make([]jsonQuantity, 0, len(r.Quantities)),
		Cases:      []jsonCase{},
		Counts:     jsonCounts(r.Counts),
		Warnings:   jsonProblems(r.Warnings),
	}
	for i := range r.Quantities {
		j := &r.Quantities[i]
		q := j.Quantity
		report.Quantities = append(report.Quantities,
			jsonQuantity{q.Sheet.Name, q.Name, q.Row.Entry.Text, newJSONValue(j)})
	}
	for _, result := range r.Cases {
		for _, c := range result.Cases {
			report.Cases = append(report.Cases,
				jsonCase{result.Sheet.Name, c.Name, c.Verdict.String(), newJSONValues(c.Values)})
		}
	}
	return report
}

func newJSONValues(values []calc.Judged) map[string]jsonValue {
	byName := make(map[string]jsonValue, len(values))
	for i := range values {
		byName[values[i].Quantity.Name] = newJSONValue(&values[i])
	}
	return byName
}

// writeJSON writes one object, indented for the reader who opens it.
func writeJSON(w io.Writer, v any) error {
	encoder := json.NewEncoder(w)
	encoder.SetEscapeHTML(false)
	encoder.SetIndent("", "  ")
	return encoder.Encode(v)
}
