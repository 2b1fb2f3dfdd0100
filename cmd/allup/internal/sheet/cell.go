package sheet

import (
	"strconv"
	"strings"

	"allup/model/words"
)

// Cell is text for people and, where that rounds, the value for programs.
type Cell struct {
	Text     string
	Value    *float64 // nil for words
	Ends     *Ends    // of an interval
	Markdown string   // the text in Markdown, where the screen's needs its columns of equal width; "" for the same
}

// Ends are those of an interval, for programs.
type Ends struct{ Low, High float64 }

// Interval is a cell of an interval: text for people, and its unrounded ends.
func Interval(text string, low, high float64) Cell {
	return Cell{Text: words.Clean(text), Ends: &Ends{low, high}}
}

// dash stands for what is not known, on screens.
const dash = "-"

// Unknown is the cell of what is not known: a dash for people, nothing for programs.
func Unknown() Cell { return Cell{Text: dash} }

// Word is a cell of text, clean of what steers a terminal.
func Word(text string) Cell { return Cell{Text: words.Clean(text)} }

// Number is a figure with fixed digits after the point, and its unrounded value.
func Number(v float64, digits int) Cell { return Cell{Text: words.Fixed(v, digits), Value: &v} }

// Grown is a figure whose digits grow until it does not read as nothing, and its unrounded value.
func Grown(v float64, digits int) Cell { return Cell{Text: words.Grown(v, digits), Value: &v} }

// Integer is a whole number.
func Integer(n int) Cell { return Number(float64(n), 0) }

// plain is the cell for a program: the value with more digits than any scale has, and nothing where nothing is
// known. Text that a spreadsheet would run as a formula is quoted; a number that stands as text is none.
func (c Cell) plain() string {
	switch {
	case c.Value != nil:
		return strconv.FormatFloat(*c.Value, 'g', 10, 64)
	case c.Text == dash:
		return ""
	case c.Text != "" && strings.ContainsRune("=+-@", rune(c.Text[0])):
		if _, err := strconv.ParseFloat(c.Text, 64); err == nil {
			return c.Text
		}
		return "'" + c.Text
	}
	return c.Text
}
