package sheet

import (
	"bytes"
	"fmt"
	"slices"
	"strings"

	"allup/model/words"
)

// Viewer draws screens as text. The zero value is that of a pipe.
type Viewer struct {
	Width  int  // of the terminal, in columns; 0 for no limit
	Colour bool // verdict in bold
}

const (
	gap           = 2  // blanks between columns
	narrowestWrap = 24 // columns that text which wraps has at least
)

// Text draws a screen for a terminal or a pipe.
func (v Viewer) Text(s Screen) ([]byte, error) {
	var b bytes.Buffer
	for i, line := range s.Verdict {
		for _, l := range fold(words.Clean(line), v.Width) {
			if v.Colour && i == 0 {
				l = "\x1b[1m" + l + "\x1b[0m"
			}
			fmt.Fprintln(&b, l)
		}
	}
	for _, l := range foldCommand(s.closer(), v.Width) {
		fmt.Fprintln(&b, l)
	}
	if len(s.Picture) > 0 {
		fmt.Fprintf(&b, "\n%s\n", strings.Join(s.Picture, "\n"))
	}
	for _, t := range s.Tables {
		if len(t.Rows) == 0 {
			continue
		}
		b.WriteByte('\n')
		if err := v.table(&b, t); err != nil {
			return nil, err
		}
	}
	if len(s.Notes) > 0 {
		b.WriteByte('\n')
	}
	for _, n := range s.Notes {
		for i, l := range fold(words.Clean(n), max(v.Width-2, 0)) {
			fmt.Fprintln(&b, []string{"- ", "  "}[min(i, 1)]+l)
		}
	}
	return b.Bytes(), nil
}

// table draws a table under its title and says which columns found no room.
func (v Viewer) table(b *bytes.Buffer, t *Table) error {
	if t.Title != "" {
		for _, l := range fold(words.Clean(t.Title), v.Width) {
			fmt.Fprintln(b, l)
		}
	}
	shown, left := v.fit(t)
	for i, part := range v.parts(shown) {
		if i > 0 {
			b.WriteByte('\n')
		}
		plainTable(b, v.wrap(part))
	}
	if len(left) > 0 {
		for _, l := range fold("("+strings.Join(left, ", ")+": on a wider screen)", v.Width) {
			fmt.Fprintln(b, l)
		}
	}
	return nil
}

// fit drops the columns that a narrow terminal has no room for, and names them.
func (v Viewer) fit(t *Table) (shown *Table, left []string) {
	keep := make([]int, len(t.Columns))
	for i := range keep {
		keep[i] = i
	}
	if v.Width > 0 {
		for tableWidth(t, keep) > v.Width {
			worst := 0
			for i, c := range keep {
				if t.Columns[c].Keep >= t.Columns[keep[worst]].Keep {
					worst = i
				}
			}
			if t.Columns[keep[worst]].Keep == 0 {
				break
			}
			keep = slices.Delete(keep, worst, worst+1)
		}
	}
	if len(keep) == len(t.Columns) {
		return t, nil
	}
	out := t.only(keep)
	for c := range t.Columns {
		if head := t.Columns[c].Head; head != "" && !slices.Contains(keep, c) && !slices.Contains(left, head) {
			left = append(left, head)
		}
	}
	return out, left
}

// parts are a table cut into ones that a terminal has room for, below each other, each with the column that
// says what its rows are of. A table that has room is one part.
func (v Viewer) parts(t *Table) []*Table {
	all := make([]int, len(t.Columns))
	label := 0
	for c := range t.Columns {
		all[c] = c
		if t.Columns[c].Key == "id" {
			label = c
		}
	}
	if v.Width == 0 || tableWidth(t, all) <= v.Width {
		return []*Table{t}
	}
	var parts []*Table
	part, own := []int{}, 0
	flush := func() {
		parts, part, own = append(parts, t.only(part)), []int{label}, 0
	}
	for c := range t.Columns {
		if c == label && len(parts) > 0 {
			continue
		}
		if own > 0 && tableWidth(t, append(slices.Clone(part), c)) > v.Width {
			flush()
		}
		part, own = append(part, c), own+1
		if c == label {
			own--
		}
	}
	if own > 0 || len(parts) == 0 { // what rows are of may be all that there is
		flush()
	}
	return parts
}

// only is a table with some of its columns.
func (t *Table) only(columns []int) *Table {
	out := &Table{Title: t.Title}
	for _, c := range columns {
		out.Columns = append(out.Columns, t.Columns[c])
	}
	for _, row := range t.Rows {
		cells := make([]Cell, 0, len(columns))
		for _, c := range columns {
			cells = append(cells, row[c])
		}
		out.Rows = append(out.Rows, cells)
	}
	return out
}

// tableWidth is the width of the kept columns; one that wraps counts with what it needs at least.
func tableWidth(t *Table, keep []int) int {
	sum := -gap
	for _, c := range keep {
		if t.Columns[c].Wrap {
			sum += min(t.Columns[c].least(), columnWidth(t, c)) + gap
			continue
		}
		sum += columnWidth(t, c) + gap
	}
	return sum
}

func columnWidth(t *Table, c int) int {
	w := width(t.Columns[c].Head)
	for _, row := range t.Rows {
		w = max(w, width(row[c].Text))
	}
	return w
}

// wrap gives the last wrapping column what the others leave, the other ones their least where room is short, and
// continues their text in further rows.
func (v Viewer) wrap(t *Table) *Table {
	widths := make([]int, len(t.Columns))
	last, left := -1, v.Width
	for c := range t.Columns {
		widths[c] = columnWidth(t, c)
		left -= widths[c] + gap
		if t.Columns[c].Wrap {
			last = c
		}
	}
	if last < 0 || v.Width == 0 {
		return t
	}
	left += gap // none behind the last column
	for c := range t.Columns {
		if least := t.Columns[c].least(); left < 0 && t.Columns[c].Wrap && c != last && widths[c] > least {
			left += widths[c] - least
			widths[c] = least
		}
	}
	widths[last] = max(widths[last]+min(left, 0), t.Columns[last].least())
	out := &Table{Title: t.Title, Columns: t.Columns}
	for _, row := range t.Rows {
		lines := make([][]string, len(row))
		most := 1
		for c := range row {
			lines[c] = []string{row[c].Text}
			if t.Columns[c].Wrap {
				lines[c] = fold(row[c].Text, widths[c])
			}
			most = max(most, len(lines[c]))
		}
		for i := range most {
			next := make([]Cell, len(row))
			if i == 0 {
				next = slices.Clone(row)
			}
			for c := range row {
				if t.Columns[c].Wrap {
					next[c] = Cell{}
					if i < len(lines[c]) {
						next[c].Text = lines[c][i]
					}
				}
			}
			out.Rows = append(out.Rows, next)
		}
	}
	return out
}

// least is the width that a column which wraps has at least.
func (c Column) least() int {
	if c.Least > 0 {
		return max(c.Least, width(c.Head))
	}
	return max(narrowestWrap, width(c.Head))
}

// plainTable writes aligned columns without lines. What the table library does beyond padding takes it most of
// an answer's time and memory where a catalogue is large.
func plainTable(b *bytes.Buffer, t *Table) {
	widths := make([]int, len(t.Columns))
	for c := range t.Columns {
		widths[c] = columnWidth(t, c)
	}
	line := func(text func(c int) string) {
		blanks := 0 // due before the next text: none stand at a line's end
		for c := range t.Columns {
			cell := strings.TrimRight(text(c), " ")
			if cell == "" {
				blanks += widths[c] + gap
				continue
			}
			before, after := 0, widths[c]-width(cell)
			if !t.Columns[c].Left {
				after = width(text(c)) - width(cell)
				before = widths[c] - width(text(c))
			}
			b.WriteString(strings.Repeat(" ", blanks+before))
			b.WriteString(cell)
			blanks = after + gap
		}
		b.WriteByte('\n')
	}
	line(func(c int) string { return t.Columns[c].Head })
	for _, row := range t.Rows {
		line(func(c int) string { return row[c].Text })
	}
}
