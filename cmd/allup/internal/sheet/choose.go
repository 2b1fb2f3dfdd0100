package sheet

import (
	"fmt"
	"slices"
	"strings"

	"allup/model/words"
)

// Choose is the screen with the named columns alone, in that order; a name is a column's key or heading. Tables
// that have none of them are left out. A name that no table has is an error that lists those there are.
func (s Screen) Choose(names []string) (Screen, error) {
	out := s
	out.Tables = nil
	found := map[string]bool{}
	for _, t := range s.Tables {
		if chosen := t.choose(names, found); len(chosen.Columns) > 0 {
			out.Tables = append(out.Tables, chosen)
		}
	}
	return out, missing(names, found, s.Tables)
}

// ChooseSheet is Choose for what CSV holds.
func (s Screen) ChooseSheet(names []string) (Screen, error) {
	t := s.csvTable()
	if t == nil {
		return s, missing(names, nil, nil)
	}
	found := map[string]bool{}
	s.Sheet = t.choose(names, found)
	return s, missing(names, found, []*Table{t})
}

// choose is a table with the named columns; it notes which names it has.
func (t *Table) choose(names []string, found map[string]bool) *Table {
	out := &Table{Title: t.Title}
	var places []int
	for _, name := range names {
		at := slices.IndexFunc(t.Columns, func(c Column) bool { return c.isOf(name) })
		if at < 0 {
			at = slices.IndexFunc(t.Columns, func(c Column) bool { return c.Head != "" && strings.EqualFold(c.Head, name) })
		}
		if at < 0 {
			continue
		}
		found[name] = true
		if slices.Contains(places, at) && strings.HasSuffix(t.Columns[at].Key, BandKey) {
			continue // both ends of a band
		}
		places = append(places, at)
		column := t.Columns[at]
		column.Keep = 0 // who asks for a column sees it
		out.Columns = append(out.Columns, column)
	}
	for _, row := range t.Rows {
		cells := make([]Cell, len(places))
		for i, at := range places {
			cells[i] = row[at]
		}
		out.Rows = append(out.Rows, cells)
	}
	return out
}

// isOf reports whether a name is the column's key, or in CSV that of an end of its bands.
func (c Column) isOf(name string) bool {
	key, band := strings.CutSuffix(c.Key, BandKey)
	return c.Key == name || band && (name == key+"_p5" || name == key+"_p95")
}

// missing says which names no table has, and which there are.
func missing(names []string, found map[string]bool, tables []*Table) error {
	var unknown, keys []string
	for _, name := range names {
		if !found[name] {
			unknown = append(unknown, fmt.Sprintf("%.80q", words.Clean(name)))
		}
	}
	if len(unknown) == 0 {
		return nil
	}
	for _, t := range tables {
		for _, c := range t.Columns {
			if c.Key != "" && !slices.Contains(keys, c.Key) {
				keys = append(keys, c.Key)
			}
		}
	}
	return fmt.Errorf("there is no column %s; there are %s", words.List(unknown, "or"), strings.Join(keys, ", "))
}
