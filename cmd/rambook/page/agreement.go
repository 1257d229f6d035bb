package page

import (
	"math"
	"strings"

	"rambook/calc"
	"rambook/units"
)

// agreement compares the reading with the computed value.
func (s Layout) agreement(j *calc.Judged) string {
	switch {
	case !calc.Has(j.Reading) || !calc.Has(j.Value):
		return ""
	case j.UnprovenValue != nil:
		return "reading " + s.difference(j) + ", which proves nothing: " + readWith(j.UnprovenValue)
	case math.Abs(j.Reading-j.Value) <= 1e-12*math.Abs(j.Value): // rounding
		return "reading agrees"
	case j.Agreement <= 1:
		return "reading agrees"
	case calc.Has(j.Agreement):
		return "reading differs, " + scoreText(j)
	}
	return "reading " + s.difference(j)
}

// scoreMeaning is what E_n is, where it stands as a figure alone.
const scoreMeaning = "E_n is the difference over what both spreads allow: up to 1 they agree."

// AgreementInWords is agreement where there is room for words.
func (s Layout) AgreementInWords(j *calc.Judged) string {
	if calc.Has(j.Agreement) && j.Agreement > 1 {
		return "reading differs by " + strings.TrimPrefix(scoreText(j), "E_n ") + " times what both spreads allow (" +
			scoreText(j) + ")"
	}
	if j.Unproven == j.Quantity {
		return s.agreement(j) + "; " + unproven(j)
	}
	return s.agreement(j)
}

// scoreText prints E_n of ISO 13528, which is at most 1 where reading and
// computed value agree.
func scoreText(j *calc.Judged) string {
	text := NumberStyle{Digits: 2}.Computed(j.Agreement, NoSpread)
	if j.Agreement > 1 {
		text = NumberStyle{Digits: 2}.apart(j.Agreement, NoSpread, 1) // 1.02 is no 1.0
	}
	return "E_n " + text
}

// difference prints how far the reading is from the computed value.
func (s Layout) difference(j *calc.Judged) string {
	if d := j.Reading - j.Value; d < 0 {
		return "-" + s.step(j, d)
	} else {
		return "+" + s.step(j, d)
	}
}

// step prints the size of a difference with the decimals of the judged number,
// so that 981.7 and 1000 are 18.3 apart, and never as nothing.
func (s Layout) step(j *calc.Judged, d float64) string {
	size := s.size(j, math.Abs(d))
	if j.Unit.Kind == units.Date {
		size = s.Numbers.Trimmed(math.Abs(d) / units.Day)
	}
	return strings.TrimSpace(size + " " + stepUnit(j.Unit))
}

func (s Layout) size(j *calc.Judged, d float64) string {
	_, decimals, _ := strings.Cut(s.JudgedText(j), ".")
	if strings.Contains(decimals, "e") {
		return s.Numbers.Computed(d, NoSpread)
	}
	return fixed(d, max(len(decimals), decimalsFor(d, 2)))
}
