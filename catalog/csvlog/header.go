package csvlog

import (
	"fmt"
	"slices"
	"strings"
	"unicode"
	"unicode/utf8"

	"allup/model/bench"
	"allup/model/words"
)

// Columns says where the columns of a log are. What it leaves out is found by the usual
// names and units. A log without a header can be read where all three have numbers.
type Columns struct{ Time, Voltage, Current Column }

// Column is a column by its heading or by its number; the zero value is neither.
type Column struct {
	Name   string
	Number int // from 1
}

// MostColumns is the greatest number that a column may have.
const MostColumns = 1000

// numbered reports whether all three columns are given by number.
func (c Columns) numbered() bool {
	return c.Time.Number > 0 && c.Voltage.Number > 0 && c.Current.Number > 0
}

// byNumber is the way out where a log has no header.
const byNumber = "give the columns by number in the bench file, columns = { time = 1, voltage = 2, current = 3 }"

// quantity is what a column of a log may hold.
type quantity int

const (
	timeColumn quantity = iota
	voltageColumn
	currentColumn
	powerColumn
	quantities
)

func (q quantity) String() string {
	return [...]string{"time", "voltage", "current", "power"}[q]
}

// names are those of columns, of which the start is enough. The others than English are those of
// loggers that write decimal commas.
func (q quantity) names() []string {
	switch q {
	case timeColumn:
		return []string{"t", "time", "elapsed", "timestamp", "zeit", "temps", "tiempo", "tempo"}
	case voltageColumn:
		return []string{"v", "u", "voltage", "volt", "volts", "vbat", "ubat", "vpack", "spannung", "tension", "tensione"}
	case currentColumn:
		return []string{"i", "current", "curr", "amps", "amp", "ampere", "amperes", "strom", "courant", "corriente", "corrente", "ibat"}
	}
	return []string{"p", "power", "watt", "watts", "leistung", "puissance", "potencia", "potenza"}
}

// clockUnit marks a time as h:mm:ss.
const clockUnit = -1

// units of a quantity and what one is in SI.
func (q quantity) units() map[string]float64 {
	switch q {
	case timeColumn:
		return map[string]float64{
			"s": 1, "sec": 1, "secs": 1, "second": 1, "seconds": 1, "ms": 1e-3, "msec": 1e-3, "millis": 1e-3, "us": 1e-6, "µs": 1e-6,
			"min": 60, "mins": 60, "minutes": 60, "h": 3600, "hr": 3600, "hours": 3600,
			"h:mm:ss": clockUnit, "hh:mm:ss": clockUnit, "h:m:s": clockUnit, "mm:ss": clockUnit, "m:ss": clockUnit,
			"hh:mm:ss.s": clockUnit, "hh:mm:ss.ss": clockUnit, "hh:mm:ss.sss": clockUnit, "hh:mm:ss.fff": clockUnit, "h:mm:ss.s": clockUnit,
		}
	case voltageColumn:
		return map[string]float64{"v": 1, "volt": 1, "volts": 1, "mv": 1e-3, "millivolts": 1e-3}
	case currentColumn:
		return map[string]float64{"a": 1, "amp": 1, "amps": 1, "ampere": 1, "amperes": 1, "ma": 1e-3, "milliamps": 1e-3}
	}
	return map[string]float64{"w": 1, "watt": 1, "watts": 1, "mw": 1e-3, "kw": 1e3}
}

// unitNames are the usual units of a quantity, for people.
func (q quantity) unitNames() string {
	return [...]string{"s, ms, min, h, h:mm:ss", "V, mV", "A, mA", "W, mW, kW"}[q]
}

// heading is one cell of a header, taken apart.
type heading struct {
	text  string // as in the file
	words []string
	unit  string // lower case; "" where there is none
}

// splitHeading splits "Pack voltage [mV]", "t_ms", "I/A" or "u in V" into name and unit.
func splitHeading(text string) heading {
	h := heading{text: text}
	s := strings.ToLower(strings.TrimSpace(text))
	name := s
	if i := strings.IndexAny(s, "([{"); i >= 0 {
		if j := strings.IndexAny(s[i:], ")]}"); j > 0 {
			h.unit, name = strings.TrimSpace(s[i+1:i+j]), s[:i]+" "+s[i+j+1:]
		}
	} else if i := strings.LastIndexByte(s, '/'); i > 0 {
		h.unit, name = strings.TrimSpace(s[i+1:]), s[:i]
	} else if i := strings.LastIndex(s, " in "); i > 0 {
		h.unit, name = strings.TrimSpace(s[i+4:]), s[:i]
	} else if i := strings.LastIndexByte(s, ','); i > 0 {
		h.unit, name = strings.TrimSpace(s[i+1:]), s[:i]
	}
	h.words = strings.FieldsFunc(name, func(r rune) bool { return !unicode.IsLetter(r) && !unicode.IsDigit(r) })
	if n := len(h.words); h.unit == "" && n > 1 && isAnyUnit(h.words[n-1]) {
		h.unit, h.words = h.words[n-1], h.words[:n-1]
	}
	h.unit = strings.Trim(h.unit, ". ")
	return h
}

func isAnyUnit(word string) bool {
	for q := range quantities {
		if _, ok := q.units()[word]; ok {
			return true
		}
	}
	return word == "ah" || word == "mah" || word == "wh" || word == "c"
}

// secondary are the words of columns that are not the pack's own reading.
func secondary() []string {
	return []string{"load", "set", "target", "charge", "limit", "ref", "setpoint", "max", "min", "avg", "average", "cell", "motor", "esc"}
}

// score says how likely the column holds q: 0 not at all.
func (h heading) score(q quantity) int {
	scale, isUnit := q.units()[h.unit]
	switch {
	case h.unit != "" && !isUnit, len(h.words) == 0:
		return 0
	case len(h.words) == 1 && h.unit == "":
		// A unit alone: "ms", "V". For "min" and "a" that is all there is to go by.
		if _, ok := q.units()[h.words[0]]; ok && !slices.Contains(q.names(), h.words[0]) {
			return 2
		}
	}
	named := 0
	for _, w := range h.words {
		if slices.Contains(q.names(), w) {
			named++
		}
		for _, bad := range secondary() {
			if strings.HasPrefix(w, bad) {
				return 0
			}
		}
	}
	if q == timeColumn && scale == clockUnit && named == 0 {
		named = 1
	}
	switch {
	case named == 0:
		return 0
	case named == len(h.words):
		return 5
	case slices.ContainsFunc(h.words, func(w string) bool {
		return w == "pack" || w == "battery" || w == "total" || w == "measured" || w == "elapsed" || w == "test"
	}):
		return 4
	}
	return 3
}

// column is where a quantity stands and what a number there is in SI.
type column struct {
	index int // -1: the log has none
	scale float64
	text  string
}

// header is the meaning of a log's columns.
type header struct {
	columns [quantities]column
	fields  int
	bare    bool     // the log has no header: columns by number, in s, V and A
	assumed []string // headings without a unit
}

// bareHeader is the header of a log that has none: its columns by number, in s, V and A. ok is false where the
// first row has something else than numbers there, so that it is a header.
func bareHeader(cells []string, columns Columns) (h header, ok bool, err error) {
	h = header{fields: len(cells), bare: true}
	h.columns[powerColumn].index = -1
	for i, c := range []Column{columns.Time, columns.Voltage, columns.Current} {
		q := quantity(i)
		if c.Number > len(cells) {
			return h, false, numberError(c.Number, q, len(cells))
		}
		text := []byte(strings.TrimSpace(cells[c.Number-1]))
		if _, n := number(text, true); q != timeColumn && (n == 0 || n < len(text)) {
			return h, false, nil
		}
		h.columns[q] = column{index: c.Number - 1, scale: 1, text: fmt.Sprintf("column %d", c.Number)}
	}
	return h, true, nil
}

func numberError(number int, q quantity, fields int) error {
	return fmt.Errorf("no column %d for %s: the first row has %d", number, q, fields)
}

// readHeader finds the columns of a log.
func readHeader(cells []string, named Columns) (header, error) {
	h := header{fields: len(cells)}
	headings := make([]heading, len(cells))
	numbers := 0
	for i, c := range cells {
		headings[i] = splitHeading(c)
		if _, ok := parsePlain([]byte(strings.TrimSpace(c))); ok {
			numbers++
		}
	}
	if numbers > 0 && numbers*2 >= len(cells) {
		return h, fmt.Errorf("there is no header: the first row holds numbers (%s): %s", strings.Join(cells, ", "), byNumber)
	}
	wanted := [quantities]Column{named.Time, named.Voltage, named.Current, {}}
	for q := range quantities {
		i, err := findColumn(headings, q, wanted[q])
		if err != nil {
			return h, err
		}
		h.columns[q] = column{index: i, scale: 1}
		if i < 0 {
			continue
		}
		c := &h.columns[q]
		c.text = strings.TrimSpace(headings[i].text)
		unit := headings[i].unit
		if unit == "" && len(headings[i].words) == 1 {
			unit = headings[i].words[0]
		}
		if scale, ok := q.units()[unit]; ok && scale != clockUnit {
			c.scale = scale
		} else if !ok && headings[i].unit != "" {
			return h, fmt.Errorf("column %q: %q is not a unit of %s; known are %s", c.text, headings[i].unit, q, q.unitNames())
		} else if !ok {
			h.assumed = append(h.assumed, c.text)
		}
	}
	lacks := func(q quantity) error {
		for _, c := range headings {
			unit := c.unit
			if c.unit = ""; unit != "" && c.score(q) > 0 {
				return fmt.Errorf("column %q: %q is not a unit of %s; known are %s", strings.TrimSpace(c.text), unit, q, q.unitNames())
			}
		}
		return fmt.Errorf("no column of %s among %s: name it in the bench file, columns = { %s = \"...\" }", q, listHeadings(headings), q)
	}
	switch {
	case h.columns[timeColumn].index < 0:
		return h, lacks(timeColumn)
	case h.columns[voltageColumn].index < 0:
		return h, lacks(voltageColumn)
	case h.columns[currentColumn].index < 0 && h.columns[powerColumn].index < 0:
		return h, lacks(currentColumn)
	}
	return h, nil
}

// findColumn is the index of a quantity's column, -1 where there is none.
func findColumn(headings []heading, q quantity, wanted Column) (int, error) {
	switch {
	case wanted.Number > len(headings):
		return -1, numberError(wanted.Number, q, len(headings))
	case wanted.Number > 0:
		return wanted.Number - 1, nil
	case wanted.Name != "":
		for i, h := range headings {
			if strings.EqualFold(strings.TrimSpace(h.text), strings.TrimSpace(wanted.Name)) {
				return i, nil
			}
		}
		return -1, fmt.Errorf("no column %q for %s: there are %s", wanted.Name, q, listHeadings(headings))
	}
	best, score, tie := -1, 0, -1
	for i, h := range headings {
		switch s := h.score(q); {
		case s > score:
			best, score, tie = i, s, -1
		case s == score && s > 0:
			tie = i
		}
	}
	if tie >= 0 && q != powerColumn {
		return -1, fmt.Errorf("both %q and %q may be the %s: name it in the bench file, columns = { %s = \"...\" }",
			strings.TrimSpace(headings[best].text), strings.TrimSpace(headings[tie].text), q, q)
	}
	return best, nil
}

func listHeadings(headings []heading) string {
	texts := make([]string, len(headings))
	for i, h := range headings {
		texts[i] = h.text
	}
	return quoted(texts)
}

// quoted lists the texts of a header; long ones and long lists are cut.
func quoted(texts []string) string {
	list := make([]string, 0, len(texts))
	for _, t := range texts {
		t = strings.TrimSpace(t)
		if !utf8.ValidString(t) || len(t) > 40 {
			t = fmt.Sprintf("%.40q", t)
		} else {
			t = fmt.Sprintf("%q", t)
		}
		if list = append(list, t); len(list) == 12 {
			list = append(list, "...")
			break
		}
	}
	return strings.Join(list, ", ")
}

// headerError is a log that cannot be read as one.
func headerError(line int, format string, args ...any) *bench.LogError {
	return &bench.LogError{Code: bench.LogHeader, Line: line, Msg: words.Printable(fmt.Sprintf(format, args...))}
}
