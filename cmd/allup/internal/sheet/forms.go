package sheet

import (
	"bytes"
	"cmp"
	"encoding/csv"
	"fmt"
	"slices"
	"strings"

	"allup/model/words"
)

// Markdown draws a screen as Markdown.
func (s Screen) Markdown() ([]byte, error) {
	var b bytes.Buffer
	for i, line := range s.Verdict {
		line = escape(words.Clean(line))
		if i == 0 {
			line = "**" + line + "**"
		}
		fmt.Fprintf(&b, "%s\n\n", line)
	}
	if closer := s.closer(); closer != nil {
		fmt.Fprintf(&b, "%s\n\n", escape(strings.Join(closer, " ")))
	}
	for _, t := range s.Tables {
		if len(t.Rows) == 0 {
			continue
		}
		if t.Title != "" {
			fmt.Fprintf(&b, "%s\n\n", escape(words.Clean(t.Title)))
		}
		escaped := &Table{Columns: slices.Clone(t.Columns)}
		for i := range escaped.Columns {
			escaped.Columns[i].Head = escape(escaped.Columns[i].Head)
		}
		for _, row := range t.Rows {
			cells := make([]Cell, len(row))
			for i, c := range row {
				cells[i] = Cell{Text: escape(cmp.Or(c.Markdown, c.Text))}
			}
			escaped.Rows = append(escaped.Rows, cells)
		}
		if err := markdownTable(&b, escaped); err != nil {
			return nil, err
		}
		b.WriteByte('\n')
	}
	for _, n := range s.Notes {
		fmt.Fprintf(&b, "- %s\n", escape(words.Clean(n)))
	}
	return b.Bytes(), nil
}

// escape takes the meaning from characters that Markdown or HTML in it would obey.
func escape(s string) string {
	return strings.NewReplacer(`\`, `\\`, "|", `\|`, "<", "&lt;", "*", `\*`, "_", `\_`, "`", "\\`", "[", `\[`).Replace(s)
}

// csvTable is what CSV holds, nil for nothing.
func (s Screen) csvTable() *Table {
	switch {
	case s.Sheet != nil:
		return s.Sheet.withEnds()
	case len(s.Tables) > 0:
		return s.Tables[0].withEnds()
	}
	return nil
}

// BandKey ends the key of a column of bands. In CSV there are two in its place, of their ends.
const BandKey = "_5_95"

// withEnds is the table with two columns of numbers for each of bands.
func (t *Table) withEnds() *Table {
	if !slices.ContainsFunc(t.Columns, func(c Column) bool { return strings.HasSuffix(c.Key, BandKey) }) {
		return t
	}
	out := &Table{Title: t.Title, Rows: make([][]Cell, len(t.Rows))}
	for i, c := range t.Columns {
		key, band := strings.CutSuffix(c.Key, BandKey)
		if !band {
			out.Columns = append(out.Columns, c)
			for r, row := range t.Rows {
				out.Rows[r] = append(out.Rows[r], row[i])
			}
			continue
		}
		out.Columns = append(out.Columns, Column{Head: key + "_p5", Key: key + "_p5"}, Column{Head: key + "_p95", Key: key + "_p95"})
		for r, row := range t.Rows {
			low, high := Unknown(), Unknown()
			if ends := row[i].Ends; ends != nil {
				low.Value, high.Value = &ends.Low, &ends.High
			}
			out.Rows[r] = append(out.Rows[r], low, high)
		}
	}
	return out
}

// CSV writes a screen's sheet, or else its first table: keys for headings, unrounded values.
func (s Screen) CSV() ([]byte, error) {
	var b bytes.Buffer
	w := csv.NewWriter(&b)
	t := s.csvTable()
	if t == nil {
		return nil, nil
	}
	record := make([]string, len(t.Columns))
	for i, c := range t.Columns {
		record[i] = c.Key
	}
	if err := w.Write(record); err != nil {
		return nil, err
	}
	for _, row := range t.Rows {
		for i, c := range row {
			record[i] = c.plain()
		}
		if err := w.Write(record); err != nil {
			return nil, err
		}
	}
	w.Flush()
	return b.Bytes(), w.Error()
}
