package sheet

import (
	"slices"
	"strings"

	"allup/model/words"
)

// Figure is a number that there is to say of each of several subjects: declared once, it feeds tables, CSV, JSON and
// Markdown.
type Figure[T any] struct {
	Key    string // with the unit of what Of returns: JSON's, and CSV's where SheetKey is ""
	Head   string // on screens, without the unit
	Unit   string // on screens
	Digits int    // after the point, on screens
	Keep   int    // see [Column]
	Grows  bool   // on screens, digits grow until a figure that is not nothing does not read as nothing

	// Per is one of Unit in the unit of Key: 60 for minutes of a figure in seconds, 0.01 for per cent of a
	// share. 0 is 1.
	Per float64
	// SheetKey is the key in CSV where that has Unit.
	SheetKey string

	Of func(T) (v float64, ok bool) // ok is false where it is not known
}

// Heading is the figure's name with its unit, for people.
func (f Figure[T]) Heading() string { return strings.TrimSpace(f.Head + " " + f.Unit) }

// scaled is a value in Unit.
func (f Figure[T]) scaled(v float64) float64 {
	if f.Per == 0 {
		return v
	}
	return v / f.Per
}

// Cell is a value, in the unit of Key, as screens show it.
func (f Figure[T]) Cell(v float64) Cell {
	if f.Grows {
		return Grown(f.scaled(v), f.Digits)
	}
	return Number(f.scaled(v), f.Digits)
}

// Difference is a difference of two values as screens show it: with its sign.
func (f Figure[T]) Difference(d float64) Cell {
	d = f.scaled(d)
	if f.Grows {
		return Cell{Text: words.SignedGrown(d, f.Digits), Value: &d}
	}
	return Cell{Text: words.Signed(d, f.Digits), Value: &d}
}

// Range is an interval as screens show it, its ends joined by what stands between them.
func (f Figure[T]) Range(low, high float64, between string) string {
	return words.Fixed(f.scaled(low), f.Digits) + between + words.Fixed(f.scaled(high), f.Digits)
}

// Interval is the cell of an interval, in the unit of Key, its ends joined on screens by what stands between them.
func (f Figure[T]) Interval(low, high float64, between string) Cell {
	return Interval(f.Range(low, high, between), f.scaled(low), f.scaled(high))
}

// Show is the figure of a subject as screens show it.
func (f Figure[T]) Show(of T) Cell {
	if v, ok := f.Of(of); ok {
		return f.Cell(v)
	}
	return Unknown()
}

// Shown is the figure's column on screens.
func (f Figure[T]) Shown() (Column, func(T) Cell) {
	return Column{Head: f.Heading(), Key: f.column(), Keep: f.Keep}, f.Show
}

// Exact is the figure's column in CSV.
func (f Figure[T]) Exact() (Column, func(T) Cell) {
	return Column{Head: f.column(), Key: f.column()}, func(of T) Cell {
		v, ok := f.Of(of)
		if !ok {
			return Unknown()
		}
		return f.ExactCell(v)
	}
}

// ExactCell is a value, in the unit of Key, as CSV has it.
func (f Figure[T]) ExactCell(v float64) Cell {
	if f.SheetKey != "" {
		v = f.scaled(v)
	}
	return Number(v, exactDigits)
}

// exactDigits are what people see of a cell that is for CSV.
const exactDigits = 6

// column is the key of the figure's column.
func (f Figure[T]) column() string {
	if f.SheetKey != "" {
		return f.SheetKey
	}
	return f.Key
}

// Words are a text that there is to say of each of several subjects.
type Words[T any] struct {
	Key  string // in CSV and JSON
	Head string // on screens
	Keep int    // see [Column]
	Wrap bool   // see [Column]
	Of   func(T) string
}

// Shown is the text's column, on screens and in CSV.
func (w Words[T]) Shown() (Column, func(T) Cell) {
	return Column{Head: w.Head, Key: w.Key, Keep: w.Keep, Wrap: w.Wrap, Left: true}, func(of T) Cell { return Word(w.Of(of)) }
}

// Columns line up what there is to say of each of several subjects.
type Columns[T any] struct {
	heads []Column
	cells []func(T) Cell
}

// Add appends a column: what heads it, and its cell for each subject.
func (c *Columns[T]) Add(head Column, cell func(T) Cell) {
	c.heads = append(c.heads, head)
	c.cells = append(c.cells, cell)
}

// Has reports whether there is a column of a key.
func (c *Columns[T]) Has(key string) bool {
	return slices.ContainsFunc(c.heads, func(h Column) bool { return h.Key == key })
}

// Table is the table of subjects, a row each.
func (c *Columns[T]) Table(title string, subjects []T) *Table {
	t := &Table{Title: title, Columns: c.heads}
	for _, s := range subjects {
		row := make([]Cell, len(c.cells))
		for i, cell := range c.cells {
			row[i] = cell(s)
		}
		t.Add(row...)
	}
	return t
}
