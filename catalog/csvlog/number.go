package csvlog

import (
	"math"
	"strconv"
)

// pow10 are the powers of ten that a float64 holds exactly.
var pow10 = [...]float64{
	1, 1e1, 1e2, 1e3, 1e4, 1e5, 1e6, 1e7, 1e8, 1e9, 1e10, 1e11, 1e12, 1e13, 1e14, 1e15, 1e16, 1e17, 1e18, 1e19, 1e20, 1e21, 1e22,
}

// number reads a decimal number at the start of b and says how many bytes it took; 0
// where there is none. A decimal comma counts only where comma says so.
//
// Up to 15 digits the quotient of two exact numbers is the nearest float64, which is
// what makes this fast; everything else goes to strconv.
func number(b []byte, comma bool) (v float64, length int) {
	if len(b) > 0 && (b[0] == '-' || b[0] == '+') {
		v, length = plainNumber(b[1:], comma)
		if length == 0 {
			return 0, 0
		}
		if b[0] == '-' {
			v = -v
		}
		return v, length + 1
	}
	return plainNumber(b, comma)
}

// plainNumber reads a number without a sign, digit by digit: eight at once were tried and gain nothing on a
// whole reduction.
func plainNumber(b []byte, comma bool) (v float64, length int) {
	i := 0
	var mantissa uint64
	for i < len(b) && b[i]-'0' <= 9 {
		mantissa = mantissa*10 + uint64(b[i]-'0')
		i++
	}
	digits, fraction := i, 0
	if i < len(b) && (b[i] == '.' || b[i] == ',' && comma) {
		i++
		point := i
		for i < len(b) && b[i]-'0' <= 9 {
			mantissa = mantissa*10 + uint64(b[i]-'0')
			i++
		}
		fraction = i - point
		digits += fraction
	}
	if digits == 0 {
		return 0, 0
	}
	if digits > 15 || i < len(b) && b[i]|0x20 == 'e' {
		return slowNumber(b, i)
	}
	return float64(mantissa) / pow10[fraction], i
}

// slowNumber reads what number does not: exponents and many digits. end is where the
// digits end.
func slowNumber(b []byte, end int) (float64, int) {
	i := end
	if i < len(b) && b[i]|0x20 == 'e' {
		j := i + 1
		if j < len(b) && (b[j] == '-' || b[j] == '+') {
			j++
		}
		k := j
		for j < len(b) && b[j]-'0' <= 9 {
			j++
		}
		if j > k {
			i = j
		}
	}
	var text [64]byte
	if i > len(text) {
		return 0, 0
	}
	n := copy(text[:], b[:i])
	for k := range text[:n] {
		if text[k] == ',' {
			text[k] = '.'
		}
	}
	v, err := strconv.ParseFloat(string(text[:n]), 64)
	if err != nil || math.IsInf(v, 0) {
		return 0, 0
	}
	return v, i
}

// parsePlain reads a field that is a number and nothing else.
func parsePlain(b []byte) (float64, bool) {
	v, n := number(b, true)
	return v, n > 0 && n == len(b)
}

// clock reads h:mm:ss, m:ss or either with a fraction, in seconds; 0 bytes where it is none.
func clock(b []byte, comma bool) (seconds float64, length int) {
	parts := 0
	i := 0
	for {
		v, n := number(b[i:], comma)
		if n == 0 || v < 0 || parts > 0 && v >= 60 {
			return 0, 0
		}
		seconds = seconds*60 + v
		i += n
		parts++
		if i == len(b) || b[i] != ':' {
			break
		}
		if v != math.Trunc(v) || parts == 3 {
			return 0, 0
		}
		i++
	}
	if parts < 2 {
		return 0, 0
	}
	return seconds, i
}
