package units

import (
	"slices"
	"strings"

	"rambook/units/words"
)

// ambiguous lists trade names that mean different things in different places,
// with what to write instead.
var ambiguous = []struct {
	symbol  string
	choices []string
}{
	{"ton", []string{"tonne", "uston", "ukton", "tonnef", "ustonf", "uktonf"}},
	{"tonf", []string{"tonnef", "ustonf", "uktonf"}},
	{"gal", []string{"usgal", "impgal"}},
	{"hp", []string{"hp_mech", "hp_metric"}},
	{"Btu", []string{"Btu_IT"}},
	{"kcal", []string{"kcal_IT", "kcal_th"}},
}

// advice is what to write for spellings that people bring from elsewhere.
// Words among them are not reserved: a quantity may be called gpm.
var advice = []struct{ word, hint string }{
	{"-", "leave the unit of a plain number empty"},
	{"–", "leave the unit of a plain number empty"},
	{"—", "leave the unit of a plain number empty"},
	{"none", "leave the unit of a plain number empty"},

	{"l", "the litre is `L`"},
	{"liter", "the litre is `L`"},
	{"ml", "the millilitre is `mL`"},
	{"cc", "write `cm3`"},
	{"ccm", "write `cm3`"},
	{"cbm", "write `m3`"},
	{"sq in", "write `in2`"},
	{"sq ft", "write `ft2`"},
	{"sq mm", "write `mm2`"},
	{"cu", "write a cubic unit with a 3, as in `in3`"},
	{"cu in", "write `in3`"},
	{"cu ft", "write `ft3`"},
	{"qt", "write `usqt`"},
	{"gallon", "write `usgal` or `impgal`"},
	{"gpm", "write `usgal/min` or `impgal/min`"},
	{"lpm", "write `L/min`"},
	{"cfm", "write `ft3/min`"},

	{"meter", "the metre is `m`"},
	{"foot", "write `ft`"},
	{"feet", "write `ft`"},
	{"micron", "write `um`"},
	{"fpm", "write `ft/min`"},
	{"ipm", "write `in/min`"},
	{"mph", "write `mile/h`"},
	{"kph", "write `km/h`"},

	{"psig", "write `psi`; a pressure here is gauge pressure"},
	{"barg", "write `bar`; a pressure here is gauge pressure"},
	{"bar(g)", "write `bar`; a pressure here is gauge pressure"},
	{"psia", "write `psi`, and put into the note that it is absolute pressure"},
	{"bara", "write `bar`, and put into the note that it is absolute pressure"},
	{"bar(a)", "write `bar`, and put into the note that it is absolute pressure"},
	{"psid", "write `psi`"},
	{"kp", "write `kgf`"},
	{"at", "write `kgf/cm2`"},
	{"ata", "write `kgf/cm2`, and put into the note that it is absolute pressure"},
	{"atü", "write `kgf/cm2`"},

	{"#", "write `lb` for mass, `lbf` for force"},
	{"lbs", "write `lb` for mass, `lbf` for force"},
	{"Nm", "write `N*m`"},
	{"kNm", "write `kN*m`"},
	{"Ncm", "write `N*cm`"},
	{"Nmm", "write `N*mm`"},
	{"ft-lb", "write `lbf*ft`"},
	{"ft-lbs", "write `lbf*ft`"},
	{"ft-lbf", "write `lbf*ft`"},
	{"ft lb", "write `lbf*ft`"},
	{"lb-ft", "write `lbf*ft`"},
	{"in-lb", "write `lbf*in`"},
	{"in-lbs", "write `lbf*in`"},
	{"in-lbf", "write `lbf*in`"},
	{"in lb", "write `lbf*in`"},
	{"lb-in", "write `lbf*in`"},

	{"sec", "write `s`"},
	{"hr", "write `h`"},
	{"mins", "write `min`"},
	{"year", "write `d`; years differ in length"},
	{"month", "write `d`; months differ in length"},
	{"cpm", "write `1/min`"},
	{"U", "write `rev`"},
	{"r", "write `rev`"},
	{"degC", "temperature scales are for unit columns and cells; formulas work in `K`"},
	{"degF", "temperature scales are for unit columns and cells; formulas work in `K`"},
	{"° C", "write `degC`"},
	{"° F", "write `degF`"},
	{"deg C", "write `degC`"},
	{"deg F", "write `degF`"},
	{"℃", "write `degC`"},
	{"℉", "write `degF`"},

	{"PS", "write `hp_metric`"},
	{"horsepower", "write `hp_mech` or `hp_metric`"},
	{"cal", "write `kcal_IT` or `kcal_th`, a thousand times as large"},
	{"mPas", "write `mPa*s`"},
	{"Pas", "write `Pa*s`"},
	{"SUS", "Saybolt seconds have no fixed factor; convert by ASTM D2161 and write `cSt`"},
	{"SSU", "Saybolt seconds have no fixed factor; convert by ASTM D2161 and write `cSt`"},
	{"\u03a9", "write `ohm`"}, // the Greek capital omega
	{"\u2126", "write `ohm`"}, // the ohm sign
	{"k\u03a9", "write `kohm`"},
	{"k\u2126", "write `kohm`"},
}

// Ambiguous reports whether a symbol is a trade name of several units, such
// as ton, and which symbols to choose from instead.
func Ambiguous(symbol string) (choices []string, ok bool) {
	for _, a := range ambiguous {
		if a.symbol == symbol {
			return slices.Clone(a.choices), true
		}
	}
	return nil, false
}

// Advice is what to write instead of a word that is common elsewhere but no
// unit symbol here, such as "gpm", "psig" or "minutes". It has the
// ambiguous names too. It is for words that were not found: ask [Lookup]
// first.
func Advice(word string) (hint string, ok bool) {
	// People write GPM and PSIG, and the plural of anything.
	forms := []string{word, strings.TrimSuffix(word, "s"), strings.TrimSuffix(word, "es")}
	same := func(known string) bool {
		return known == word || len(known) > 1 && slices.ContainsFunc(forms, func(form string) bool {
			return strings.EqualFold(known, form)
		})
	}
	for _, a := range ambiguous {
		if same(a.symbol) {
			return "write " + words.Choices(a.choices), true
		}
	}
	for _, a := range advice {
		if same(a.word) {
			return a.hint, true
		}
	}
	for _, s := range symbols() {
		if s.kind <= Point && same(s.name) {
			return "write " + words.Quoted(s.symbol), true
		}
	}
	return "", false
}

// byMeaning lists words of the trade that stand for units of several kinds, of
// which a row with a dimension leaves less to choose from.
var byMeaning = []struct {
	word    string
	choices []string
}{
	{"lbs", []string{"lb", "lbf"}},
	{"#", []string{"lb", "lbf"}},
	{"gpm", []string{"usgal/min", "impgal/min"}},
	{"gal/min", []string{"usgal/min", "impgal/min"}},
	{"kilo", []string{"kg", "kgf"}},
	{"short ton", []string{"uston", "ustonf"}},
	{"long ton", []string{"ukton", "uktonf"}},
	{"metric ton", []string{"tonne", "tonnef"}},
	{"tonne", []string{"tonne", "tonnef"}},
	{"to", []string{"tonne", "tonnef"}},
	{"Mp", []string{"tonnef"}}, // the megapond of old plates: 1000 kp
	{"us ton", []string{"uston", "ustonf"}},
	{"gallon", []string{"usgal", "impgal"}},
	{"us gal", []string{"usgal"}},
	{"us gpm", []string{"usgal/min"}},
	{"F", []string{"degF"}},
	{"C", []string{"degC"}},
}

// AdviceFor is what to write for a number with a word of the trade behind it,
// such as ton or lbs, in a row in one unit: of the units that the word may stand for
// a row in kN leaves the forces, those of the row's own world first. It is false for
// other words.
func AdviceFor(text string, row Unit) (hint string, ok bool) {
	text = strings.TrimSpace(text)
	n := numberLength(text) // a blank may be missing behind it
	number, word := text[:n], strings.TrimSpace(text[n:])
	same := func(known string) bool {
		return strings.EqualFold(known, word) || strings.EqualFold(known, strings.TrimSuffix(word, "s"))
	}
	var choices []string
	keep := func(symbols []string) {
		for _, symbol := range symbols {
			if u, err := Parse(symbol); err == nil && u.Dim == row.Dim {
				choices = append(choices, symbol)
			}
		}
	}
	for _, a := range ambiguous {
		if same(a.symbol) {
			keep(a.choices)
		}
	}
	for _, m := range byMeaning {
		if same(m.word) {
			keep(m.choices)
		}
	}
	if len(choices) == 0 {
		if keep(inOtherLetters(word)); len(choices) == 1 {
			return "", false // the unit's own hint names it
		}
	}
	if len(choices) == 0 {
		return "", false
	}
	worldOf := func(symbol string) world {
		u, _ := Parse(symbol)
		return row.worldOf(u)
	}
	slices.SortStableFunc(choices, func(a, b string) int {
		return int(max(worldOf(a), ownWorld) -
			max(worldOf(b), ownWorld))
	})
	for i, symbol := range choices {
		choices[i] = number + " " + symbol
	}
	return "write " + words.Choices(choices) + inForce(choices...), true
}

// nearestSymbols finds the unit symbols that were probably meant by word:
// those that differ in case only, or else the first that is one typing slip
// away.
func nearestSymbols(word string) []string {
	var fold, slip []string
	runes := []rune(word)
	for _, s := range symbols() {
		switch {
		case strings.EqualFold(s.symbol, word):
			fold = append(fold, s.symbol)
		case len(runes) > 2 && len(s.symbol) > 2 && words.Slips(s.symbol, word, 1) == 1:
			slip = append(slip, s.symbol)
		}
	}
	if fold == nil && slip != nil {
		return slip[:1]
	}
	return onScalesFirst(fold)
}

// inOtherLetters lists the symbols that differ from a word in capitals alone, those
// on the scales of instruments first: MPa before mPa.
func inOtherLetters(word string) []string {
	var list []string
	for _, s := range symbols() {
		if s.symbol != word && strings.EqualFold(s.symbol, word) {
			list = append(list, s.symbol)
		}
	}
	return onScalesFirst(list)
}

func onScalesFirst(list []string) []string {
	off := func(symbol string) bool {
		return !slices.ContainsFunc(readLike, func(family []string) bool { return slices.Contains(family, symbol) })
	}
	others := slices.DeleteFunc(slices.Clone(list), func(symbol string) bool { return !off(symbol) })
	return append(slices.DeleteFunc(slices.Clone(list), off), others...)
}
