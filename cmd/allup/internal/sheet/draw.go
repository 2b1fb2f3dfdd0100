package sheet

import (
	"bytes"

	"github.com/olekukonko/tablewriter"
	"github.com/olekukonko/tablewriter/renderer"
	"github.com/olekukonko/tablewriter/tw"
)

// withoutLines renders columns with nothing but blanks between them.
func withoutLines() tw.Renderer {
	return renderer.NewBlueprint(tw.Rendition{
		Borders: tw.BorderNone, Symbols: tw.NewSymbols(tw.StyleNone),
		Settings: tw.Settings{Separators: tw.SeparatorsNone, Lines: tw.LinesNone},
	})
}

// draw renders a table through the library. Cells are text by now: the library has its own ideas of numbers, and
// of headings.
func draw(b *bytes.Buffer, t *Table, render tw.Renderer, padding tw.CellPadding) error {
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
		Padding:    padding,
	}
	table := tablewriter.NewTable(
		b,
		tablewriter.WithConfig(tablewriter.Config{Header: config, Row: config}),
		tablewriter.WithRenderer(render),
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
