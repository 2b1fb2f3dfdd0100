package main

import "testing"

// Every column of the records of a page is of words, which stand left.
func TestRecordsStandLeft(t *testing.T) {
	table := recordsTable(rankedOf(t, builds(t)["stint"]))
	if len(table.Rows) < 10 {
		t.Fatalf("%d records", len(table.Rows))
	}
	for _, c := range table.Columns {
		if !c.Left {
			t.Errorf("the column %q stands right", c.Head)
		}
	}
}
