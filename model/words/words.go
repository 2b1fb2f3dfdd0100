// Package words puts numbers and lists into plain English, the same in reasons, warnings, errors and on screens,
// and takes out of a text what would steer a terminal. It knows nothing of what it is said about.
package words

import (
	"slices"
	"strconv"
	"strings"
	"unicode"
	"unicode/utf8"
)

// mostDigits is how far digits grow: model compares masses to a billionth of a gram.
const mostDigits = 9

// Fixed is a number with the given digits after the point; one that rounds to nothing has no sign.
func Fixed(v float64, digits int) string {
	text := strconv.FormatFloat(v, 'f', digits, 64)
	if readsAsZero(text) {
		return strings.TrimPrefix(text, "-")
	}
	return text
}

// Grown is a number with the given digits after the point, or with more where it would read as nothing and is not: up
// to nine.
func Grown(v float64, digits int) string {
	for more := digits; more <= mostDigits; more++ {
		if text := strconv.FormatFloat(v, 'f', more, 64); !readsAsZero(text) {
			return text
		}
	}
	return Fixed(0, digits)
}

// readsAsZero reports whether a number in digits has no digit but zeros.
func readsAsZero(text string) bool { return strings.Trim(text, "-0.") == "" }

// Trimmed is a number with at most the given digits after the point, without zeros that say nothing.
func Trimmed(v float64, digits int) string {
	text := Fixed(v, digits)
	if strings.Contains(text, ".") {
		text = strings.TrimRight(strings.TrimRight(text, "0"), ".")
	}
	return text
}

// Signed is a difference with its sign; one that rounds to nothing has none.
func Signed(v float64, digits int) string { return plus(Fixed(v, digits)) }

// SignedGrown is a difference with its sign, in digits that grow as those of [Grown].
func SignedGrown(v float64, digits int) string { return plus(Grown(v, digits)) }

func plus(text string) string {
	if strings.HasPrefix(text, "-") || readsAsZero(text) {
		return text
	}
	return "+" + text
}

// Grams is a mass with its unit: "12.5 g", one digit after the point. A small mass has two, and more where it would
// read as nothing.
func Grams[M interface{ Grams() float64 }](m M) string {
	g := m.Grams()
	if g > -0.95 && g < 0.95 && !readsAsZero(Grown(g, 1)) {
		return Grown(g, 2) + " g"
	}
	return Fixed(g, 1) + " g"
}

// Percent is a chance or share, "12 %": never 0 % or 100 % unless it is exactly that.
func Percent(v float64) string {
	switch {
	case v > 0 && v < 1e-6:
		return "under 1 in a million"
	case v > 0 && v < 0.01:
		return "< 1 %"
	case v < 1 && v > 0.99:
		return "> 99 %"
	}
	return Fixed(100*v, 0) + " %"
}

// Chance is a chance in words. It is never none and never certain: a model of errors knows neither.
func Chance(v float64) string {
	switch {
	case v < 1e-6:
		return "under 1 in a million"
	case v > 0.99:
		return "> 99 %"
	}
	return Percent(v)
}

// Count is a number with its noun: "1 pack", "3 packs".
func Count(n int, one, many string) string {
	if n == 1 {
		return "1 " + one
	}
	return strconv.Itoa(n) + " " + many
}

// List joins words as a person would: "a", "a or b", "a, b or c" where last is "or".
func List(items []string, last string) string {
	switch n := len(items); n {
	case 0:
		return ""
	case 1:
		return items[0]
	default:
		return strings.Join(items[:n-1], ", ") + " " + last + " " + items[n-1]
	}
}

// FirstFew is a list of at most the given number of items, and how many more there are.
func FirstFew(items []string, most int) string {
	if len(items) <= most {
		return strings.Join(items, ", ")
	}
	return strings.Join(items[:most], ", ") + " and " + strconv.Itoa(len(items)-most) + " more"
}

// Clean takes out of a text what [Steers], and puts a replacement character for bytes that are no text.
func Clean(s string) string {
	if !strings.ContainsFunc(s, Steers) && utf8.ValidString(s) {
		return s
	}
	return strings.Map(func(r rune) rune {
		if Steers(r) {
			return -1
		}
		return r
	}, strings.ToValidUTF8(s, "\ufffd"))
}

// Printable escapes what [Steers], and bytes that are no text, as Go would write them in quotes, and leaves the
// rest as it is.
func Printable(text string) string {
	if utf8.ValidString(text) && !strings.ContainsFunc(text, Steers) {
		return text
	}
	var b strings.Builder
	for len(text) > 0 {
		r, size := utf8.DecodeRuneInString(text)
		if Steers(r) || r == utf8.RuneError && size == 1 {
			quoted := strconv.Quote(text[:size])
			b.WriteString(quoted[1 : len(quoted)-1])
		} else {
			b.WriteString(text[:size])
		}
		text = text[size:]
	}
	return b.String()
}

// Steers reports characters that steer a terminal, reorder a line, break it or cannot be seen: controls, format
// characters such as those of direction and zero width, line and paragraph separators.
func Steers(r rune) bool { return unicode.In(r, unicode.Cc, unicode.Cf, unicode.Zl, unicode.Zp) }

// Unbroken is the words of a text, each figure joined to its unit, and to a sign before it, by what is given: a
// space, or one that does not break.
func Unbroken(text, join string) []string {
	units := []string{"g", "mm", "in", "m", "V", "mV", "A", "W", "Wh", "mAh", "W/g", "min", "s", "%", "C", "g0", "rpm", "mohm", "J", "m/s", "km/h", "lb", "V/cell"}
	var out []string
	for _, w := range strings.Fields(text) {
		if n := len(out); n > 0 && endsInDigit(out[n-1]) && slices.Contains(units, strings.TrimRight(w, ".,;:)")) {
			out[n-1] += join + w
			continue
		}
		if n := len(out); n > 0 && slices.Contains([]string{"<", "<=", "+-"}, out[n-1]) && w[0] >= '0' && w[0] <= '9' {
			out[n-1] += join + w
			continue
		}
		out = append(out, w)
	}
	return out
}

func endsInDigit(s string) bool {
	last := s[len(s)-1]
	return last >= '0' && last <= '9'
}
