package main

import (
	"slices"
	"strings"
	"unicode"
	"unicode/utf8"
)

// screen is an answer before it takes a form: the verdict in words first, tables,
// notes last.
type screen struct {
	verdict []string // the first says the whole answer; a reader may stop there
	tables  []*table
	sheet   *table // what CSV holds; nil for the first table
	notes   []string
}

// table is rows of cells under columns.
type table struct {
	title   string
	columns []column
	rows    [][]cell
}

// column heads a column. Keep decides what goes first on a narrow terminal: columns
// with the greatest keep leave first, those with 0 never do.
type column struct {
	head string // with its unit, for people
	key  string // with its unit, for CSV
	keep int
	left bool // text is set to the left, numbers to the right
	wrap bool // text that may go on in further lines
}

// cell is text for people and, where that rounds, the value for programs.
type cell struct {
	text  string
	value *float64
}

func word(s string) cell { return cell{text: clean(s)} }

// add appends a row, which must have a cell for every column.
func (t *table) add(cells ...cell) {
	if len(cells) != len(t.columns) {
		panic("allup: a row does not fit its table")
	}
	t.rows = append(t.rows, cells)
}

// clean takes out what steers a terminal or reorders a line, whatever file it came from.
func clean(s string) string {
	if strings.IndexFunc(s, steers) < 0 && utf8.ValidString(s) {
		return s
	}
	return strings.Map(func(r rune) rune {
		if steers(r) {
			return -1
		}
		return r
	}, strings.ToValidUTF8(s, "\ufffd"))
}

func steers(r rune) bool { return unicode.In(r, unicode.Cc, unicode.Cf, unicode.Zl, unicode.Zp) }

// fold breaks text into lines of at most width characters, at spaces where it can, but
// not between a number and its unit. A width of 0 does not break.
func fold(text string, width int) []string {
	if width <= 0 || utf8.RuneCountInString(text) <= width {
		return []string{text}
	}
	var lines []string
	var line []rune
	for _, w := range unbreakable(text) {
		next := []rune(w)
		if len(line) > 0 && len(line)+1+len(next) > width {
			lines = append(lines, string(line))
			line = nil
		}
		if len(line) > 0 {
			line = append(line, ' ')
		}
		line = append(line, next...)
		for len(line) > width {
			lines = append(lines, string(line[:width]))
			line = line[width:]
		}
	}
	return append(lines, string(line))
}

// unbreakable splits text at spaces and joins each number with its unit again.
func unbreakable(text string) []string {
	units := []string{"g", "mm", "in", "m", "V", "A", "W", "Wh", "mAh", "min", "s", "%", "C", "g0", "rpm"}
	var out []string
	for _, w := range strings.Fields(text) {
		if n := len(out); n > 0 && endsInDigit(out[n-1]) && slices.Contains(units, strings.TrimRight(w, ".,;:)")) {
			out[n-1] += " " + w
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
