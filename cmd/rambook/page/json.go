package page

import (
	"bufio"
	"bytes"
	"encoding/json"
	"errors"
	"fmt"
	"io"

	"rambook/calc"
	"rambook/units"
)

// JSONValue is everything one run has of one quantity. A number that is
// absent is left out; a date is a "YYYY-MM-DD" string, a text quantity's value
// a string.
type JSONValue struct {
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
	Borrowed      []string `json:"borrowed,omitempty"`
	Unproven      string   `json:"unproven,omitempty"`       // which number of unknown error this rests on
	UnprovenValue string   `json:"unproven_value,omitempty"` // which one the value rests on, so that there is no agreement
}

// NewJSONValue puts a judged value into the form that other programs read.
func NewJSONValue(j *calc.Judged) JSONValue {
	v := JSONValue{
		Value:         JSONNumber(j.Unit, j.Value),
		Unit:          j.Unit.Symbol,
		Spread:        Plain(j.Spread),
		Reading:       JSONNumber(j.Unit, j.Reading),
		ReadingSpread: Plain(j.ReadingSpread),
		Agreement:     Plain(j.Agreement),
		Low:           JSONNumber(j.Unit, j.Low),
		High:          JSONNumber(j.Unit, j.High),
		Inside:        Plain(j.Inside),
		Verdict:       j.Verdict.String(),
		Needs:         Names(j.Needs),
		Error:         j.Error,
		Borrowed:      borrowedNames(j.Borrowed),
	}
	if j.Unproven != nil {
		v.Unproven = j.Unproven.Name
	}
	if j.UnprovenValue != nil {
		v.UnprovenValue = j.UnprovenValue.Name
	}
	if j.Unit.Kind == units.Text && j.Text != "" {
		v.Value = j.Text
	}
	if sampled(j) {
		v.SampledMean, v.SampledLow, v.SampledHigh = JSONNumber(j.Unit, j.SampledMean),
			JSONNumber(j.Unit, j.SampledLow), JSONNumber(j.Unit, j.SampledHigh)
	}
	return v
}

// sampled reports whether the run found an interval by sampling.
func sampled(j *calc.Judged) bool { return j.SampledHigh > j.SampledLow }

// Names of what a value waits for; never nil, so that JSON shows an empty list
// as such.
func Names(needs []calc.Need) []string {
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

	State   string      `json:"state"`
	Assumed bool        `json:"assumed,omitzero"`
	Example string      `json:"example,omitempty"`
	With    string      `json:"with,omitempty"`
	Use     string      `json:"use,omitempty"`
	Blames  []jsonBlame `json:"worst,omitempty"`
	JSONValue
}

// jsonBlame is what keeps a row of the unit verdict from passing.
type jsonBlame struct {
	Name    string `json:"name"`
	Verdict string `json:"verdict"`
}

func newJSONQuantity(j *calc.Judged) jsonQuantity {
	q := j.Quantity
	out := jsonQuantity{Sheet: q.Sheet.Name, Name: q.Name, Entry: q.Row.Entry.Text, State: j.State.String(),
		Assumed: q.IsAssumed(),
		Example: q.Example, With: q.With, Use: q.Row.Use.Text, JSONValue: NewJSONValue(j)}
	for _, b := range j.Blames {
		out.Blames = append(out.Blames, jsonBlame{b.Name, b.Verdict.String()})
	}
	return out
}

type jsonCase struct {
	Sheet   string               `json:"sheet"`
	Case    string               `json:"case"`
	Start   any                  `json:"start,omitempty"`
	Verdict string               `json:"verdict,omitempty"`
	Inputs  map[string]JSONValue `json:"inputs,omitempty"`
	Values  map[string]JSONValue `json:"values"`

	Borrowed []string `json:"borrowed,omitempty"`
}

// JSONCounts is how often there is which verdict.
type JSONCounts struct {
	Pass   int `json:"pass"`
	Fail   int `json:"fail"`
	Unsure int `json:"unsure"`
	Open   int `json:"open"`
}

// WriteJSON writes what `check --format json` promises, one value a line.
// A notebook may hold a hundred thousand of them, so they are encoded one by
// one.
func (v *ReportView) WriteJSON(w io.Writer) error {
	book, r, logs := v.Model.Book, v.Report, v.Logs
	o := newJSONObject(w)
	o.field("notebook", book.Path)
	if book.Invented() {
		o.field("invented", true)
	}
	o.list("quantities", func(yield func(any)) {
		var q jsonQuantity // one for all, since there may be many
		for i := range r.Quantities {
			q = newJSONQuantity(&r.Quantities[i])
			yield(&q)
		}
	})
	o.list("cases", func(yield func(any)) {
		for _, result := range r.Cases {
			for _, c := range result.Cases {
				yield(jsonCase{result.Sheet.Name, c.Name, jsonStart(&c), c.Verdict.String(),
					newJSONValues(c.Inputs), newJSONValues(c.Values), borrowedNames(borrowedBy(&c))})
			}
		}
	})
	if len(logs) > 0 {
		o.list("logs", func(yield func(any)) {
			for _, l := range logs {
				yield(newJSONLog(l))
			}
		})
	}
	o.field("counts", JSONCounts(r.Counts))
	o.field("warnings", JSONProblems(r.Warnings))
	return o.end()
}

// jsonStart is when a cycle began, in seconds of the log's clock, or a date with
// a time of day; nil for other cases.
func jsonStart(c *calc.Case) any {
	switch {
	case c.Began == "":
		return nil
	case c.Dated:
		return c.Began
	}
	return c.Start
}

func newJSONValues(values []calc.Judged) map[string]JSONValue {
	byName := make(map[string]JSONValue, len(values))
	for i := range values {
		byName[values[i].Quantity.Name] = NewJSONValue(&values[i])
	}
	return byName
}

// jsonObject writes a large object field by field, and a list element by
// element, each on a line of its own. It keeps the first error.
type jsonObject struct {
	w       *bufio.Writer
	line    bytes.Buffer // the value being written
	encoder *json.Encoder
	comma   string // what goes before the next field
	err     error
}

func newJSONObject(w io.Writer) *jsonObject {
	o := &jsonObject{w: bufio.NewWriter(w), comma: "{"}
	o.encoder = json.NewEncoder(&o.line)
	o.encoder.SetEscapeHTML(false)
	return o
}

func (o *jsonObject) name(name string) {
	fmt.Fprintf(o.w, "%s\n%q: ", o.comma, name)
	o.comma = ","
}

func (o *jsonObject) value(v any) {
	o.line.Reset()
	if err := o.encoder.Encode(v); o.err == nil {
		o.err = err
	}
	o.w.Write(bytes.TrimSuffix(o.line.Bytes(), []byte("\n")))
}

func (o *jsonObject) field(name string, v any) {
	o.name(name)
	o.value(v)
}

func (o *jsonObject) list(name string, elements func(yield func(any))) {
	o.name(name)
	comma := "["
	elements(func(v any) {
		o.w.WriteString(comma + "\n")
		o.value(v)
		comma = ","
	})
	if comma == "[" {
		o.w.WriteString("[")
	}
	o.w.WriteString("]")
}

func (o *jsonObject) end() error {
	o.w.WriteString("\n}\n")
	return errors.Join(o.err, o.w.Flush())
}
