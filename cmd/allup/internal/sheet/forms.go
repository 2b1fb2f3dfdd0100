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
	if s.Sheet == nil && len(s.Tables) > 0 {
		return s.Tables[0]
	}
	return s.Sheet
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
