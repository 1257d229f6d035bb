package calc

import (
	"errors"
	"slices"
	"strings"

	"github.com/expr-lang/expr/file"
)

// syntaxFault says in our words what the parser found wrong.
func syntaxFault(text string, err error) *fault {
	runes := []rune(text)
	signs, open := withoutTexts(text)
	f := &fault{span{0, len(runes)}, "cannot read the formula: " + err.Error(), ""}
	var e *file.Error
	if !errors.As(err, &e) {
		return f
	}
	at := min(max(e.From, 0), len(runes))
	f.span = span{at, min(max(e.To, at+1), len(runes))}
	if at == len(runes) && at > 0 {
		f.span = span{at - 1, at}
	}
	found := f.cut(runes)
	message := e.Message
	switch {
	case strings.Contains(message, "exceeds maximum allowed nodes"):
		f.span = span{0, len(runes)}
		f.message, f.hint = tooManyParts, splitIt
	case strings.Contains(message, "out of range") || strings.Contains(message, "integer literal is too large"):
		f.span = wordAt(runes, at)
		f.message, f.hint = "number "+quoted(f.cut(runes))+" is out of range", "the largest is about 1.8e308; a large whole number needs e or a decimal point"
	case strings.Contains(message, "bad number syntax"):
		f.span = wordAt(runes, at)
		f.message, f.hint = "cannot read the number "+quoted(f.cut(runes)), "write * between a number and its unit, as in 20*MPa"
	case strings.Contains(message, "Unexpected token EOF") || strings.Contains(message, "unexpected token EOF"):
		f.message, f.hint = "the formula ends too early", "something is missing after "+lastWord(runes)
		if slices.Contains(signs, '?') && !slices.Contains(signs, ':') {
			f.hint = "a choice needs both values: condition ? a : b"
		}
		if at := unclosed(signs); at >= 0 {
			f.span = span{at, at + 1}
			f.message, f.hint = quoted(string(runes[at]))+" is not closed", "add "+quoted(string(closing[runes[at]]))+" where it belongs"
		}
	case strings.Contains(message, "literal not terminated"):
		f.span = span{open, len(runes)}
		f.message, f.hint = "a text is not closed", "close it with the sign it begins with, as in \"S235\""
	case found == ">" && at > 0 && runes[at-1] == '<':
		f.span = span{at - 1, at + 1}
		f.message, f.hint = "`<>` is not an operator", "write != for what is not equal"
	case found == ")":
		f.message, f.hint = "`)` closes nothing", "take it away, or open a bracket before it"
	case found == ":":
		f.message, f.hint = "did not expect `:` here", "a choice is condition ? a : b; a whole column is sheet.column"
	case strings.HasPrefix(found, "=") && !strings.HasPrefix(found, "=="):
		f.message, f.hint = "`=` inside a formula", "write == to compare"
	case strings.ContainsAny(found, "²³⁴⁻¹"):
		f.message, f.hint = "raised digits are not read in a formula", "write ^2, as in mm^2"
	case strings.Contains(message, "unrecognized character"):
		f.message, f.hint = "cannot read the character "+found, refusedCharacters[found]
	case found == ",":
		f.message, f.hint = "a comma stands where none is expected", "write a decimal point, as in 1.5"
	case found == "#":
		f.message, f.hint = "`#` is not in the language", "write max(sheet.column) for a whole column"
	case found == ";":
		f.message, f.hint = "`;` does not separate arguments", "write a comma, and put the whole cell in double quotes"
	case strings.Contains(message, "nexpected token"):
		f.message, f.hint = "did not expect "+quoted(found)+" here", "write an operator between two values, as in 20*MPa; there is no implied multiplication"
		if found == "in" || strings.HasPrefix(message, "unexpected token Operator(\"in\")") {
			f.hint = "the unit is written inch in a formula"
		}
		if word, _, _ := strings.Cut(strings.TrimSpace(text), " "); strings.EqualFold(word, "if") {
			f.hint = "a choice is written condition ? a : b"
		}
	default:
		f.message = "cannot read the formula: " + message
	}
	return f
}

// closing gives the bracket that closes another.
var closing = map[rune]rune{'(': ')', '[': ']'}

// unclosed finds the last bracket that is opened and not closed, -1 if there
// is none.
func unclosed(signs []rune) int {
	var open []int
	for i, r := range signs {
		switch r {
		case '(', '[':
			open = append(open, i)
		case ')', ']':
			if len(open) > 0 {
				open = open[:len(open)-1]
			}
		}
	}
	if len(open) == 0 {
		return -1
	}
	return open[len(open)-1]
}

// wordAt finds the run of letters and digits around a place.
func wordAt(runes []rune, at int) span {
	part := func(r rune) bool {
		return r == '.' || r == '_' || r >= '0' && r <= '9' || r >= 'a' && r <= 'z' || r >= 'A' && r <= 'Z'
	}
	from, to := min(at, len(runes)), min(at, len(runes))
	for from > 0 && part(runes[from-1]) {
		from--
	}
	for to < len(runes) && part(runes[to]) {
		to++
	}
	return span{from, to}
}

func lastWord(runes []rune) string {
	fields := strings.Fields(string(runes))
	return quoted(fields[len(fields)-1])
}
