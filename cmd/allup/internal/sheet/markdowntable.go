package sheet

import (
	"bytes"

	"github.com/olekukonko/tablewriter"
	"github.com/olekukonko/tablewriter/renderer"
	"github.com/olekukonko/tablewriter/tw"
)

// markdownTable renders a table through the library. Cells are text by now: the library has its own ideas of
// numbers, and of headings.
func markdownTable(b *bytes.Buffer, t *Table) error {
	align := make([]tw.Align, len(t.Columns))
	heads := make([]string, len(t.Columns))
	for i, c := range t.Columns {
		align[i] = tw.AlignRight
		if c.Left {
			align[i] = tw.AlignLeft
		}
		heads[i] = c.Head
	}
	config := tw.CellConfig{
		Formatting: tw.CellFormatting{AutoWrap: tw.WrapNone, AutoFormat: tw.Off},
		Alignment:  tw.CellAlignment{PerColumn: align},
	}
	table := tablewriter.NewTable(
		b,
		tablewriter.WithConfig(tablewriter.Config{Header: config, Row: config}),
		tablewriter.WithRenderer(renderer.NewMarkdown()),
		tablewriter.WithEastAsian(tw.Off),
	)
	table.Header(heads)
	rows := make([][]string, len(t.Rows))
	for i, row := range t.Rows {
		rows[i] = make([]string, len(row))
		for j, c := range row {
			rows[i][j] = c.Text
		}
	}
	if err := table.Bulk(rows); err != nil {
		return err
	}
	return table.Render()
}
