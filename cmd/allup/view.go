package main

import (
	"bytes"
	"encoding/csv"
	"fmt"
	"slices"
	"strconv"
	"strings"
	"unicode/utf8"

	"github.com/olekukonko/tablewriter"
	"github.com/olekukonko/tablewriter/renderer"
	"github.com/olekukonko/tablewriter/tw"
)

// viewer draws screens. It is the only place that knows the table library.
type viewer struct {
	width  int  // 0 for no limit
	colour bool // verdict in bold
}

const gap = 2 // blanks between columns

// text draws a screen for a terminal or a pipe.
func (v viewer) text(s screen) ([]byte, error) {
	var b bytes.Buffer
	for i, line := range s.verdict {
		for _, l := range fold(clean(line), v.width) {
			if v.colour && i == 0 {
				l = "\x1b[1m" + l + "\x1b[0m"
			}
			fmt.Fprintln(&b, l)
		}
	}
	for _, t := range s.tables {
		if len(t.rows) == 0 {
			continue
		}
		b.WriteByte('\n')
		if t.title != "" {
			for _, l := range fold(clean(t.title), v.width) {
				fmt.Fprintln(&b, l)
			}
		}
		shown, left := v.fit(t)
		if err := v.plain(&b, shown); err != nil {
			return nil, err
		}
		if len(left) > 0 {
			for _, l := range fold("("+strings.Join(left, ", ")+": on a wider screen)", v.width) {
				fmt.Fprintln(&b, l)
			}
		}
	}
	if len(s.notes) > 0 {
		b.WriteByte('\n')
	}
	for _, n := range s.notes {
		for i, l := range fold(clean(n), max(v.width-2, 0)) {
			fmt.Fprintln(&b, []string{"- ", "  "}[min(i, 1)]+l)
		}
	}
	return b.Bytes(), nil
}

// fit drops the columns that a narrow terminal has no room for, names them, and folds wrapping cells.
func (v viewer) fit(t *table) (shown *table, left []string) {
	keep := make([]int, len(t.columns))
	for i := range keep {
		keep[i] = i
	}
	if v.width > 0 {
		for total(t, keep) > v.width {
			worst := 0
			for i, c := range keep {
				if t.columns[c].keep >= t.columns[keep[worst]].keep {
					worst = i
				}
			}
			if t.columns[keep[worst]].keep == 0 {
				break
			}
			keep = slices.Delete(keep, worst, worst+1)
		}
	}
	out := &table{title: t.title}
	for _, c := range keep {
		out.columns = append(out.columns, t.columns[c])
	}
	for _, row := range t.rows {
		var cells []cell
		for _, c := range keep {
			cells = append(cells, row[c])
		}
		out.rows = append(out.rows, cells)
	}
	for c := range t.columns {
		if !slices.Contains(keep, c) && !slices.Contains(left, t.columns[c].head) {
			left = append(left, t.columns[c].head)
		}
	}
	return v.wrap(out), left
}

// total is the width of the kept columns; one that wraps counts with what it needs at least.
func total(t *table, keep []int) int {
	sum := -gap
	for _, c := range keep {
		if t.columns[c].wrap {
			sum += max(narrowestWrap, utf8.RuneCountInString(t.columns[c].head)) + gap
			continue
		}
		sum += columnWidth(t, c) + gap
	}
	return sum
}

const narrowestWrap = 24

func columnWidth(t *table, c int) int {
	w := utf8.RuneCountInString(t.columns[c].head)
	for _, row := range t.rows {
		w = max(w, utf8.RuneCountInString(row[c].text))
	}
	return w
}

// wrap gives the wrapping column what the others leave and continues its text in further rows.
func (v viewer) wrap(t *table) *table {
	at := slices.IndexFunc(t.columns, func(c column) bool { return c.wrap })
	if at < 0 || v.width == 0 {
		return t
	}
	left := v.width
	for c := range t.columns {
		if c != at {
			left -= columnWidth(t, c) + gap
		}
	}
	left = max(left, narrowestWrap)
	out := &table{title: t.title, columns: t.columns}
	for _, row := range t.rows {
		for i, l := range fold(row[at].text, left) {
			next := make([]cell, len(row))
			if i == 0 {
				next = slices.Clone(row)
			}
			next[at] = cell{text: l}
			out.rows = append(out.rows, next)
		}
	}
	return out
}

// plain writes aligned columns without lines.
func (v viewer) plain(b *bytes.Buffer, t *table) error {
	render := renderer.NewBlueprint(tw.Rendition{
		Borders: tw.BorderNone, Symbols: tw.NewSymbols(tw.StyleNone),
		Settings: tw.Settings{Separators: tw.SeparatorsNone, Lines: tw.LinesNone},
	})
	var drawn bytes.Buffer
	if err := draw(&drawn, t, render, tw.CellPadding{Global: tw.Padding{Right: strings.Repeat(" ", gap), Overwrite: true}}); err != nil {
		return err
	}
	for line := range strings.Lines(drawn.String()) {
		b.WriteString(strings.TrimRight(line, " \n"))
		b.WriteByte('\n')
	}
	return nil
}

// draw renders a table through the library. Cells are text by now: the library has
// its own ideas of numbers, and of headings.
func draw(b *bytes.Buffer, t *table, render tw.Renderer, padding tw.CellPadding) error {
	align := make([]tw.Align, len(t.columns))
	heads := make([]string, len(t.columns))
	for i, c := range t.columns {
		align[i] = tw.AlignRight
		if c.left {
			align[i] = tw.AlignLeft
		}
		heads[i] = c.head
	}
	config := tw.CellConfig{
		Formatting: tw.CellFormatting{AutoWrap: tw.WrapNone, AutoFormat: tw.Off},
		Alignment:  tw.CellAlignment{PerColumn: align},
		Padding:    padding,
	}
	table := tablewriter.NewTable(
		b,
		tablewriter.WithConfig(tablewriter.Config{Header: config, Row: config}),
		tablewriter.WithRenderer(render),
		tablewriter.WithEastAsian(tw.Off),
	)
	table.Header(heads)
	rows := make([][]string, len(t.rows))
	for i, row := range t.rows {
		rows[i] = make([]string, len(row))
		for j, c := range row {
			rows[i][j] = c.text
		}
	}
	if err := table.Bulk(rows); err != nil {
		return err
	}
	return table.Render()
}

// markdown draws a screen as Markdown.
func (v viewer) markdown(s screen) ([]byte, error) {
	var b bytes.Buffer
	for i, line := range s.verdict {
		line = escape(clean(line))
		if i == 0 {
			line = "**" + line + "**"
		}
		fmt.Fprintf(&b, "%s\n\n", line)
	}
	for _, t := range s.tables {
		if len(t.rows) == 0 {
			continue
		}
		if t.title != "" {
			fmt.Fprintf(&b, "%s\n\n", escape(clean(t.title)))
		}
		escaped := &table{columns: slices.Clone(t.columns)}
		for i := range escaped.columns {
			escaped.columns[i].head = escape(escaped.columns[i].head)
		}
		for _, row := range t.rows {
			cells := make([]cell, len(row))
			for i, c := range row {
				cells[i] = cell{text: escape(c.text)}
			}
			escaped.rows = append(escaped.rows, cells)
		}
		if err := draw(&b, escaped, renderer.NewMarkdown(), tw.CellPadding{}); err != nil {
			return nil, err
		}
		b.WriteByte('\n')
	}
	for _, n := range s.notes {
		fmt.Fprintf(&b, "- %s\n", escape(clean(n)))
	}
	return b.Bytes(), nil
}

// escape takes the meaning from characters that Markdown or HTML in it would obey.
func escape(s string) string {
	return strings.NewReplacer(`\`, `\\`, "|", `\|`, "<", "&lt;", "*", `\*`, "_", `\_`, "`", "\\`", "[", `\[`).Replace(s)
}

// csv writes a screen's sheet, or else its first table: machine headings, unrounded values.
func (v viewer) csv(s screen) ([]byte, error) {
	var b bytes.Buffer
	w := csv.NewWriter(&b)
	sheet := s.sheet
	if sheet == nil && len(s.tables) > 0 {
		sheet = s.tables[0]
	}
	if sheet != nil {
		t := sheet
		var record []string
		for _, c := range t.columns {
			record = append(record, c.key)
		}
		if err := w.Write(record); err != nil {
			return nil, err
		}
		for _, row := range t.rows {
			record = record[:0]
			for _, c := range row {
				record = append(record, c.plain())
			}
			if err := w.Write(record); err != nil {
				return nil, err
			}
		}
	}
	w.Flush()
	return b.Bytes(), w.Error()
}

// plain is the cell for a program: the value with more digits than any scale has, and
// nothing where nothing is known. Text that a spreadsheet would run as a formula is quoted.
func (c cell) plain() string {
	switch {
	case c.value != nil:
		return strconv.FormatFloat(*c.value, 'g', 10, 64)
	case c.text == "-":
		return ""
	case strings.ContainsRune("=+-@", []rune(c.text + " ")[0]):
		return "'" + c.text
	}
	return c.text
}
