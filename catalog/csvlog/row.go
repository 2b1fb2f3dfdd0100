package csvlog

import (
	"bytes"
	"fmt"
	"math"
	"strings"

	"allup/model"
	"allup/model/bench"
)

// readable refuses a beginning that is no line of CSV text; what is the name of the thing.
func readable(text []byte, what string) error {
	switch {
	case bytes.HasPrefix(text, []byte{0x1f, 0x8b}):
		return fmt.Errorf("the %s is compressed: unpack it first", what)
	case bytes.HasPrefix(text, []byte{0xff, 0xfe}), bytes.HasPrefix(text, []byte{0xfe, 0xff}):
		return fmt.Errorf("the %s is UTF-16: save it as UTF-8 text", what)
	case bytes.IndexByte(text, 0) >= 0:
		return fmt.Errorf("the %s is not a text: it holds NUL bytes", what)
	case bytes.IndexByte(bytes.TrimRight(text, "\r"), '\r') >= 0:
		return fmt.Errorf("the lines of the %s end in a carriage return alone: save it with usual line ends", what)
	}
	return nil
}

// separatorOf is the separator that a header has outside quotes.
func separatorOf(header []byte) byte {
	var semicolons, tabs int
	quoted := false
	for _, c := range header {
		switch {
		case c == '"':
			quoted = !quoted
		case quoted:
		case c == ';':
			semicolons++
		case c == '\t':
			tabs++
		}
	}
	switch {
	case semicolons > 0:
		return ';'
	case tabs > 0:
		return '\t'
	}
	return ','
}

// splitRow takes a row apart, quotes taken off. It is for the header and the first row.
func splitRow(text []byte, separator byte) []string {
	var cells []string
	var cell strings.Builder
	quoted := false
	for i := 0; i < len(text); i++ {
		switch c := text[i]; {
		case c == '"' && quoted && i+1 < len(text) && text[i+1] == '"':
			cell.WriteByte('"')
			i++
		case c == '"':
			quoted = !quoted
		case c == separator && !quoted:
			cells = append(cells, cell.String())
			cell.Reset()
		default:
			cell.WriteByte(c)
		}
	}
	return append(cells, cell.String())
}

// firstRow looks at the row after the header; it reports whether that is a row of
// units, which is then used.
func (l *Reader) firstRow(text []byte) bool {
	cells := splitRow(text, l.separator)
	units, numbers := 0, 0
	for _, c := range cells {
		c = strings.ToLower(strings.Trim(c, " ()[]"))
		if isAnyUnit(c) {
			units++
		}
		if _, ok := parsePlain([]byte(c)); ok {
			numbers++
		}
	}
	extra := len(cells) - l.header.fields
	if extra > 0 && strings.TrimSpace(cells[len(cells)-1]) == "" {
		extra--
	}
	switch {
	case numbers == 0 && units >= 3:
		for q := range quantities {
			c := &l.header.columns[q]
			if c.index < 0 || c.index >= len(cells) {
				continue
			}
			unit := strings.ToLower(strings.Trim(cells[c.index], " ()[]"))
			scale, ok := q.units()[unit]
			switch {
			case !ok:
				l.err = headerError(l.line, "column %q: %q is not a unit of %s; known are %s", c.text, unit, q, q.unitNames())
				return false
			case scale != clockUnit:
				c.scale = scale
			}
		}
		l.header.assumed = nil
		return true
	case extra > 0 && l.separator == ',':
		l.err = headerError(l.line, "%d fields under a header of %d: with decimal commas the separator must be a semicolon or a tab", len(cells), l.header.fields)
	case extra > 0:
		l.err = headerError(l.line, "%d fields under a header of %d", len(cells), l.header.fields)
	}
	return false
}

// sample makes a sample of a row's values.
func (l *Reader) sample(values *[quantities + 1]float64) bench.Sample {
	s := bench.Sample{
		Time: model.Time(values[timeColumn]), Voltage: model.Voltage(values[voltageColumn]), Current: model.Current(values[currentColumn]), Line: l.line,
	}
	if l.header.columns[powerColumn].index >= 0 {
		l.usePower(&s, values[powerColumn])
	}
	return s
}

// parse reads the fields of one row that are wanted.
func (l *Reader) parse(text []byte) (bench.Sample, bool) {
	var values [quantities + 1]float64
	separator, comma := l.separator, l.comma
	p := 0
	for index, q := range l.wanted {
		if q == quantities {
			// Not wanted: on to the next separator outside quotes.
			p = skipField(text, p, separator)
			if p < 0 {
				return bench.Sample{}, false
			}
			continue
		}
		for p < len(text) && text[p] == ' ' {
			p++
		}
		var v float64
		var n int
		if p < len(text) && text[p] == '"' {
			v, n = l.quoted(text[p:], q)
		} else {
			v, n = number(text[p:], comma)
			if q == timeColumn && p+n < len(text) && text[p+n] == ':' {
				v, n = l.clockTime(text[p:], comma)
			} else {
				v *= l.header.columns[q].scale
			}
		}
		if n == 0 {
			return bench.Sample{}, false
		}
		values[q] = v
		p += n
		for p < len(text) && text[p] == ' ' && separator != ' ' {
			p++
		}
		if p == len(text) {
			if index < l.lastIndex {
				return bench.Sample{}, false
			}
			break
		}
		if text[p] != separator {
			return bench.Sample{}, false
		}
		p++
	}
	return l.sample(&values), true
}

// usePower takes the current from the power where there is none, and else compares.
func (l *Reader) usePower(s *bench.Sample, power float64) {
	if l.header.columns[currentColumn].index < 0 {
		if s.Voltage > 0 {
			s.Current = model.Current(power / float64(s.Voltage))
		}
		return
	}
	product := float64(s.Voltage) * float64(s.Current)
	if math.Abs(math.Abs(power)-math.Abs(product)) > powerSlack*math.Abs(product)+0.2 {
		l.off.add(s.Line)
	}
}

// skipField is where the field after the one at p begins, -1 where the row ends first.
func skipField(text []byte, p int, separator byte) int {
	if p < len(text) && text[p] == '"' {
		for i := p + 1; i < len(text); i++ {
			if text[i] == '"' {
				p = i
				break
			}
		}
	}
	n := bytes.IndexByte(text[p:], separator)
	if n < 0 {
		return -1
	}
	return p + n + 1
}

// quoted reads a number in quotes, where a decimal comma is always one.
func (l *Reader) quoted(text []byte, q quantity) (float64, int) {
	end := bytes.IndexByte(text[1:], '"')
	if end < 0 {
		return 0, 0
	}
	inside := bytes.TrimSpace(text[1 : 1+end])
	if q == timeColumn && bytes.IndexByte(inside, ':') >= 0 {
		v, n := l.clockTime(inside, true)
		if n != len(inside) {
			return 0, 0
		}
		return v, end + 2
	}
	v, n := number(inside, true)
	if n == 0 || n != len(inside) {
		return 0, 0
	}
	return v * l.header.columns[q].scale, end + 2
}

// clockTime reads h:mm:ss. A clock that falls by half a day has passed midnight.
func (l *Reader) clockTime(text []byte, comma bool) (float64, int) {
	v, n := clock(text, comma)
	if n == 0 {
		return 0, 0
	}
	l.clocked = true
	v += l.days
	if l.have && v < float64(l.pending.Time)-halfDay {
		l.midnights.add(l.line)
		l.days += 2 * halfDay
		v += 2 * halfDay
	}
	return v, n
}
