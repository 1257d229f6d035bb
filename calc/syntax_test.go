package calc

import (
	"strings"
	"testing"
)

// TestSyntaxFaults gives formulas that cannot be read, with the part of them
// that the caret has to point to, the message and the hint.
func TestSyntaxFaults(t *testing.T) {
	for _, test := range []struct{ formula, part, message, hint string }{
		// comments and signs that the parser would swallow
		{"a // b", "//", "`//` is not an operator", "write one / to divide; floor(a/b) drops the fraction"},
		{"a /* b */ c", "/*", "`/*` is not an operator", "write a remark in the note column"},
		{`grade == "a\\" // b`, "//", "`//` is not an operator",
			"write one / to divide; floor(a/b) drops the fraction"},
		{"5 % 2", "%", "`%` is not in the language", "write 0.05 for 5 %, or give the number a row of its own in %"},
		// numbers
		{"2 + 1e400", "1e400", "number `1e400` is out of range",
			"the largest is about 1.8e308; a large whole number needs e or a decimal point"},
		{"9223372036854775808", "9223372036854775808", "number `9223372036854775808` is out of range",
			"the largest is about 1.8e308; a large whole number needs e or a decimal point"},
		{"3*20MPa", "20MPa", "cannot read the number `20MPa`", "write * between a number and its unit, as in 24*MPa"},
		{"1_000*mm", "1_000", "`1_000` is not a number", "thousands have no mark: write `1000`"},
		{"0x1F", "0x1F", "`0x1F` is not a number", "write it with the digits 0 to 9"},
		{"2 + 0b11", "0b11", "`0b11` is not a number", "write it with the digits 0 to 9"},
		// what is not closed, and what closes nothing
		{"2*(3 + (4)", "(", "`(` is not closed", "add `)` where it belongs"},
		{"materials[grade", "[", "`[` is not closed", "add `]` where it belongs"},
		{`materials["S(3"].strength +`, "+", "the formula ends too early", "something is missing after `+`"},
		{`grade == "a?b" +`, "+", "the formula ends too early", "something is missing after `+`"},
		{`grade == "S235 ? 1 : 2`, `"S235 ? 1 : 2`, "a text is not closed",
			"close it with the sign it begins with, as in \"S235\""},
		{"grade == \"a\nb\"", "\"a\nb\"", "a text is not closed",
			"close it with the sign it begins with, as in \"S235\""},
		{`"a" == 'b`, `'b`, "a text is not closed", "close it with the sign it begins with, as in \"S235\""},
		{"2*3)", ")", "`)` closes nothing", "take it away, or open a bracket before it"},
		{"2*3 +", "+", "the formula ends too early", "something is missing after `+`"},
		{"a > 3 ? 5", "5", "the formula ends too early", "a choice needs both values: condition ? a : b"},
		// signs of other languages
		{"a = b", "=", "`=` inside a formula", "write == to compare"},
		{"a <> b", "<>", "`<>` is not an operator", "write != for what is not equal"},
		{"mm²", "²", "raised digits are not read in a formula", "write ^2, as in mm^2"},
		{"2·3", "·", "cannot read the character ·", "write * to multiply"},
		{"2×3", "×", "cannot read the character ×", "write * to multiply"},
		{"6÷3", "÷", "cannot read the character ÷", "write / to divide"},
		{"6–3", "–", "cannot read the character –", "write - to subtract"},
		{"20*°", "°", "cannot read the character °",
			"temperatures in degC stand in their own row; a formula sees kelvin"},
		{"grade == “S235” ? 1 : 2", "“", "cannot read the character “", `write straight quotes, as in "S235"`},
		{"3*€", "€", "cannot read the character €", "money has no unit here; leave the unit blank"},
		{"max(jobs, # > 2)", "#", "`#` is not in the language", "write max(sheet.column) for a whole column"},
		{"3*‰", "‰", "cannot read the character ‰", ""},
		{"1,5*MPa", ",", "a comma stands where none is expected", "write a decimal point, as in 1.5"},
		{"max(1; 2)", ";", "`;` does not separate arguments", "write a comma, and put the whole cell in double quotes"},
		{"20 MPa", "MPa", "did not expect `MPa` here",
			"write an operator between two values, as in 24*MPa; there is no implied multiplication"},
		{"a : b", ":", "did not expect `:` here", "a choice is condition ? a : b; a whole column is sheet.column"},
		{"3*in", "in", "did not expect `in` here", "the unit is written inch in a formula"},
		{"if a > b then c", "a", "did not expect `a` here", "a choice is written condition ? a : b"},
		// what the parser can read and the language does not have
		{"3 in 4", "in", "`in` is not in the language", "the unit is written inch in a formula; compare texts with =="},
		{"1..5", "..", "`..` is not in the language", "give both ends to sweep --over instead"},
		{"a ?? 3", "??", "`??` is not in the language", "leave a cell blank if its value is not known yet"},
		{`a startsWith "b"`, "startsWith", "`startsWith` is not in the language", ""},
		{"1; 2", "1; 2", "`;` ends a let only", "write one expression, or let name = value; expression"},
		{"a?.b", "b", "`?.` is not in the language", "write sheet.column"},
		{"a[2]", "[", "a look-up needs a column after the key", "write sheet[key].column"},
		{"f(2).b", "b", "only a sheet's name can stand before a point", "write sheet.column or sheet[key].column"},
		{"f(2)[3].b", "b", "only a sheet's name can stand before a point", "write sheet.column or sheet[key].column"},
		{"a.b(2)", "b", "only a function's name can stand before (", "write * to multiply by a bracket"},
		{"[1, 2]", "[", "lists and maps are not in the language",
			"write sheet.column for a whole column, sheet[key].column for one cell"},
		{"nil", "nil", "nil is not in the language", "leave a cell blank if its value is not known yet"},
		{"b'x'", "b'x'", "this is not in the language of formulas",
			"use + - * / ^, comparisons, ? :, and the functions that `rambook functions` lists"},
		{"   ", "   ", "nothing stands after `=`",
			"write an expression, or leave the cell blank if the value is not known yet"},
		// too long
		{strings.Repeat("1+", 3000) + "1", "", "formula has 6001 bytes, at most 4096 are read",
			"split it into several quantities"},
		{strings.Repeat("1+", 900) + "1", strings.Repeat("1+", 900) + "1", "formula has more than 1000 parts",
			"split it into several quantities"},
		{"1" + strings.Repeat(" < 1", 600), "1" + strings.Repeat(" < 1", 600), "formula has more than 1000 parts",
			"split it into several quantities"},
	} {
		short := test.formula[:min(len(test.formula), 40)]
		n, f := parseFormula(test.formula)
		if f == nil {
			t.Errorf("%s: was read as a node of kind %d", short, n.kind)
			continue
		}
		if f.Message != test.message || f.Hint != test.hint {
			t.Errorf("%s: got\n\t%s\n\t%s\nexpected\n\t%s\n\t%s", short, f.Message, f.Hint, test.message, test.hint)
		}
		if part := (span{f.From, f.To}).cut([]rune(test.formula)); part != test.part {
			t.Errorf("%s: the caret is under %q, expected %q", short, part, test.part)
		}
	}
}
