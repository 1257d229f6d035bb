package units

import "strings"

// recorderSpellings are how recorders write units that have another symbol here, in
// small letters. What of them is a word of the trade is only answered elsewhere: of a
// log it is shown what was understood, and the file is left alone.
var recorderSpellings = map[string]string{"°c": "degC", "c": "degC", "grad c": "degC", "°f": "degF", "f": "degF",
	"l/min": "L/min", "lpm": "L/min", "l/h": "L/h", "l": "L",
	"rpm": "rev/min", "1/min": "rev/min", "min-1": "rev/min", "u/min": "rev/min", "sec": "s", "sek": "s",
	"seconds": "s", "secs": "s", "°": "deg", "gpm": "usgal/min",
	"mpa": "MPa", "kpa": "kPa", "pa": "Pa", "kn": "kN", "n": "N", "nm": "N*m", "a": "A", "ma": "mA", "v": "V",
	"kw": "kW", "w": "W", "hz": "Hz", "um": "um", "µm": "um", "-": "", "1": ""}

// OfRecorder is the symbol of a unit that a recorder wrote, "" of a plain number;
// known is whether there is one.
func OfRecorder(text string) (symbol string, known bool) {
	text = strings.TrimSpace(text)
	if text == "" {
		return "", true
	}
	if u, err := Parse(text); err == nil && u.Kind <= Point {
		return text, true
	}
	if symbol, found := recorderSpellings[strings.ToLower(text)]; found {
		return symbol, true
	}
	if u, err := Parse(strings.ToLower(text)); err == nil && u.Kind <= Point {
		return strings.ToLower(text), true
	}
	return "", false
}
