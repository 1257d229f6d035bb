package log

import (
	"bytes"
	"encoding/binary"
	"math/bits"
	"strconv"
	"unsafe"
)

// padding is what has to stand behind the last byte of a buffer, so that eight
// bytes can be read at any place in it.
const padding = 16

const (
	zeros = 0x3030303030303030 // "00000000"
	highs = 0x8080808080808080
	ones  = 0x0101010101010101
)

// eight reads the eight bytes at b[i] as one number, the first as its lowest byte.
func eight(b []byte, i int) uint64 { return binary.LittleEndian.Uint64(b[i : i+8]) }

// notDigits marks, by the highest bit of each byte, what is no digit among eight
// bytes of which each digit has been turned into its number. Behind a byte that
// is not ASCII the marks are not sure.
func notDigits(t uint64) uint64 { return ((t + 0x7676767676767676) | t) & highs }

// decimal is the number that eight digits make, the first in the lowest byte.
func decimal(t uint64) uint64 {
	t = t*10 + t>>8 // pairs of digits in every second byte
	const pairs = 0x000000FF000000FF
	return ((t&pairs)*(100+1_000_000<<32) + (t>>16&pairs)*(1+10_000<<32)) >> 32
}

// digits looks at eight bytes at once: how many of the first of them are
// digits, and the number that these make.
func digits(w uint64) (value uint64, n int) {
	t := w ^ zeros
	n = bits.TrailingZeros64(notDigits(t)) >> 3
	return decimal(t << uint(64-8*n)), n // what follows the digits falls out, and zeros lead
}

var (
	tens = [...]float64{1e0, 1e1, 1e2, 1e3, 1e4, 1e5, 1e6, 1e7, 1e8, 1e9, 1e10, 1e11, 1e12, 1e13, 1e14, 1e15, 1e16,
		1e17, 1e18, 1e19, 1e20, 1e21, 1e22}
	wholeTens = [...]uint64{1, 10, 100, 1000, 10_000, 100_000, 1_000_000, 10_000_000}
)

// form is how a plain number is written: so many digits before its point, and so
// many behind it. The numbers of a column mostly have the form of the one above
// them, and to try that first takes a third less time than to find out: where the
// next cell begins does then not wait for the bytes of this one. Where forms
// change all the time, it takes a tenth more.
type form struct {
	zero    uint64  // what turns the digits of the text into their numbers, and its point into 0
	digits  uint64  // the highest bit of each byte that must hold a digit
	point   uint64  // all bits of the byte of the point
	before  uint64  // and of the bytes before it
	shift   uint    // bits that bring the last digit into the last of eight bytes
	length  int     // of the text
	divisor float64 // 10 to the power of the places

	// Of a text that is longer than eight bytes, zero, digits and shift are for
	// those before the point alone, and these for those behind it.
	behind, digitsBehind uint64 // behind: 10 to the power of the places; 0 of a text of eight bytes
	shiftBehind          uint
	places               int
}

// forms by their digits before the point and their places; without a point, the
// places are mostPlain + 1. A form without a digit is one that nothing has.
var forms = func() (all [mostPlain + 1][mostPlain + 2]form) {
	highest := func(bytes int) uint64 { return highs & (1<<uint(8*bytes) - 1) }
	for n := range all {
		for places := range all[n] {
			f := form{zero: zeros, digits: highest(n), divisor: 1, length: n, shift: uint(64-8*n) & 63}
			switch {
			case places > mostPlain:
			case n+1+places <= 8:
				at := uint(8 * n)
				f.zero ^= ('.' ^ '0') << at
				f.point, f.before = 0xff<<at, 1<<at-1
				f.length = n + 1 + places
				f.digits = highest(f.length)
				f.shift = uint(64 - 8*f.length)
				f.divisor = tens[places]
			default:
				f.length, f.places = n+1+places, places
				f.behind, f.digitsBehind, f.shiftBehind = wholeTens[places], highest(places), uint(64-8*places)
				f.divisor = tens[places]
			}
			if n == 0 && (places == 0 || places > mostPlain) {
				f.point, f.zero = ^uint64(0), 0 // eight bytes of 0, which no line has
			}
			all[n][places] = f
		}
	}
	return all
}()

// mostPlain is how many digits a plain number has at most before its point, and
// behind it: all of them make a whole number that a float64 holds exactly, as it
// holds the power of ten, so that the quotient is the nearest number there is.
const mostPlain = 7

// unformed is the form that no text has.
var unformed = &forms[0][0]

// plain reads a plain number, which ends at a comma or at the end of the line,
// at b[end], and gives its form. Almost all numbers of recorders are of this
// kind. The form is nil if the cell holds anything else.
func plain(b []byte, i int) (v float64, end int, f *form) {
	negative := b[i] == '-'
	if negative {
		i++
	}
	t := eight(b, i) ^ zeros
	marks := notDigits(t)
	n := bits.TrailingZeros64(marks) >> 3
	if n == 8 {
		return 0, 0, nil
	}
	count, places := n, 0
	var mantissa uint64
	if b[i+n] == '.' {
		if marks &= marks - 1; marks != 0 { // it ends within the eight bytes: the point is taken out
			m := bits.TrailingZeros64(marks) >> 3
			before := uint64(1)<<uint(8*n) - 1
			t = t&before | t>>8&^before
			count, places = m-1, m-1-n
			mantissa = decimal(t << uint(64-8*count))
			i += m
		} else {
			var part uint64
			part, places = digits(eight(b, i+n+1))
			if places == 8 {
				return 0, 0, nil
			}
			mantissa = decimal(t<<uint(64-8*n))*wholeTens[places&7] + part
			count = n + places
			i += n + 1 + places
		}
		f = &forms[n][places]
	} else {
		mantissa = decimal(t << uint(64-8*n))
		i += n
		f = &forms[n][mostPlain+1]
	}
	c := b[i]
	if c != ',' && c != '\n' && c != '\r' || count == 0 {
		return 0, 0, nil
	}
	v = float64(mantissa) / tens[places]
	if negative {
		v = -v
	}
	return v, i, f
}

// number reads a whole text as a number: an optional sign, digits with a point
// among them, an exponent. What a float64 cannot hold is no number.
func number(text []byte) (v float64, ok bool) {
	i := 0
	negative := false
	if len(text) > 0 && (text[0] == '-' || text[0] == '+') {
		negative = text[0] == '-'
		i++
	}
	var mantissa uint64
	exponent, count, known := 0, 0, 0 // digits seen, and those that the mantissa holds
	point := false
	for ; i < len(text); i++ {
		c := text[i]
		if c == '.' && !point {
			point = true
			continue
		}
		if c -= '0'; c > 9 {
			break
		}
		count++
		switch {
		case known < 19:
			mantissa = mantissa*10 + uint64(c)
			if mantissa > 0 {
				known++
			}
			if point {
				exponent--
			}
		case !point:
			exponent++
		}
	}
	if count == 0 {
		return 0, false
	}
	if i < len(text) {
		e, ok := exponentOf(text[i:])
		if !ok {
			return 0, false
		}
		exponent += e
	}
	if known < 19 && mantissa <= 1<<53 && exponent >= -22 && exponent <= 22 {
		if exponent < 0 {
			v = float64(mantissa) / tens[-exponent]
		} else {
			v = float64(mantissa) * tens[exponent]
		}
		if negative {
			v = -v
		}
		return v, true
	}
	// ParseFloat keeps nothing of its argument, so the bytes need no copy.
	v, err := strconv.ParseFloat(unsafe.String(&text[0], len(text)), 64)
	return v, err == nil
}

// exponentOf reads `e-05`. Beyond any range it stops counting.
func exponentOf(text []byte) (e int, ok bool) {
	if text[0] != 'e' && text[0] != 'E' {
		return 0, false
	}
	text = text[1:]
	negative := false
	if len(text) > 0 && (text[0] == '-' || text[0] == '+') {
		negative = text[0] == '-'
		text = text[1:]
	}
	if len(text) == 0 {
		return 0, false
	}
	for _, c := range text {
		if c -= '0'; c > 9 {
			return 0, false
		}
		e = min(e*10+int(c), 1<<20)
	}
	if negative {
		e = -e
	}
	return e, true
}

// isGap reports whether a cell says that there is no number: it is blank, or a
// program wrote its word for that.
func isGap(text []byte) bool {
	return len(text) == 0 || len(text) == 3 && (bytes.EqualFold(text, []byte("nan")) ||
		bytes.EqualFold(text, []byte("n/a")))
}
