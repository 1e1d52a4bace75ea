package quantity

import (
	"fmt"
	"maps"
	"math"
	"strconv"
	"strings"
	"unicode/utf8"
)

// maxText is the length of the longest text that Parse reads [bytes].
const maxText = 128

// Error reports text that is not a quantity of the expected kind.
type Error struct {
	Text string // the text as read
	Got  string // what it is, e.g. "a length"
	Hint string // what would cure it, or ""
	Want string // what was expected, e.g. `an angular speed such as "3000 rpm"`
}

// Error returns, for instance,
//
//	got a length ("3 mm"), want an angular speed such as "3000 rpm"
func (e *Error) Error() string {
	text := e.Text
	if len(text) > maxText {
		text = strings.ToValidUTF8(text[:maxText], "") + "..."
	}
	hint := e.Hint
	if hint != "" {
		hint = "; " + hint
	}
	return fmt.Sprintf("got %s (%q%s), want %s", e.Got, text, hint, e.Want)
}

// problem says what is wrong with a text, like the fields of [Error].
type problem struct{ got, hint string }

// Parse returns the value of s in the coherent SI unit of k, or an [*Error] and
// 0. The value is finite, and 0 only if the number in s is.
//
// Only form and dimensions are checked: whether a mass may be negative, or a
// temperature below absolute zero, is for the reader of the field to say.
func Parse(s string, k Kind) (float64, error) {
	v, p := parse(s, k)
	if p != nil {
		return 0, &Error{Text: s, Got: p.got, Hint: p.hint, Want: k.Want()}
	}
	return v, nil
}

func parse(s string, k Kind) (float64, *problem) {
	if !k.valid() {
		return 0, &problem{got: k.String()}
	}
	if len(s) > maxText {
		return 0, &problem{got: fmt.Sprintf("a text of %d bytes", len(s)), hint: fmt.Sprintf("at most %d are read", maxText)}
	}
	mantissa, exp10, rest, p := scanNumber(trimSpace(s))
	if p != nil {
		return 0, p
	}
	rest = trimSpace(rest)
	if rest == "" && len(kindDims[k]) > 0 {
		return 0, &problem{got: "a number without a unit"}
	}
	c, p := parseUnit(rest)
	if p != nil {
		return 0, p
	}
	if !maps.Equal(c.dims, kindDims[k]) {
		return 0, mismatch(c.dims, k)
	}
	return value(mantissa, exp10+c.exp10, c.num, c.den)
}

// value returns mantissa·10^exp10·num/den, or what is wrong with its size.
func value(mantissa string, exp10 int, num, den float64) (float64, *problem) {
	// The only error that is left is one of range, with v = ±Inf.
	v, _ := strconv.ParseFloat(mantissa+"e"+strconv.Itoa(exp10), 64)
	if !strings.ContainsAny(mantissa, "123456789") {
		return 0, nil // also for "-0"
	}
	for _, x := range []float64{v, v * num, v * num / den} {
		switch {
		case !(math.Abs(x) <= math.MaxFloat64):
			return 0, &problem{got: "a number too large to compute with"}
		case !(math.Abs(x) >= 0x1p-1022): // the smallest with all its digits
			return 0, &problem{got: "a number too close to zero to compute with"}
		}
	}
	return v * num / den, nil
}

// scanNumber splits s into a number mantissa·10^exp10 and what follows it.
func scanNumber(s string) (mantissa string, exp10 int, rest string, p *problem) {
	sign, s := scanSign(s)
	n := digits(s)
	end, count := n, n
	if strings.HasPrefix(s[n:], ".") {
		n = digits(s[end+1:])
		end, count = end+1+n, count+n
	}
	if count == 0 {
		return "", 0, "", &problem{got: "no number"}
	}
	mantissa, rest = sign+s[:end], s[end:]

	if strings.HasPrefix(rest, "e") || strings.HasPrefix(rest, "E") {
		sign, exponent := scanSign(rest[1:])
		if n := digits(exponent); n > 0 {
			if n > 4 {
				return "", 0, "", &problem{got: "a number with an exponent of more than 4 digits"}
			}
			exp10, _ = strconv.Atoi(sign + exponent[:n])
			rest = exponent[n:]
		}
	}
	if rest != "" && strings.ContainsRune(".,_'xX", rune(rest[0])) {
		return "", 0, "", &problem{got: "a number that is not a plain decimal", hint: "write 1234.5 or 1.2345e3"}
	}
	if r := trimSpace(rest); digits(r) > 0 && !isOneOver(r) {
		return "", 0, "", &problem{got: "two numbers", hint: "write 1234.5 without a gap"}
	}
	return mantissa, exp10, rest, nil
}

// scanSign splits a leading sign off s, and writes a typographic minus as "-".
func scanSign(s string) (sign, rest string) {
	for _, sign := range []string{"+", "-", "−"} {
		if rest, ok := strings.CutPrefix(s, sign); ok {
			if sign == "−" {
				sign = "-"
			}
			return sign, rest
		}
	}
	return "", s
}

// digits returns how many digits s starts with.
func digits(s string) int {
	return len(s) - len(strings.TrimLeft(s, "0123456789"))
}

// trimSpace removes blanks, including the no-break and thin ones of typeset
// text, from both ends of s.
func trimSpace(s string) string { return strings.TrimFunc(s, isSpace) }

func isSpace(r rune) bool {
	switch r {
	case ' ', '\t', '\u00a0', '\u2009', '\u202f':
		return true
	}
	return false
}

// first returns the first character of s, for messages.
func first(s string) string {
	_, n := utf8.DecodeRuneInString(s)
	return s[:n]
}
