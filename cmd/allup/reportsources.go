package main

import (
	"cmp"
	"strconv"

	"allup/catalog"
	"allup/cmd/allup/internal/sheet"
	"allup/planner"
)

// recordsTable says of every record that a ranking's figures come from where it stands, and of packs what is known of
// them: the parts of the build, the test of its propulsion, the packs that suit, best first.
func recordsTable(r *planner.Ranking) *sheet.Table {
	p := r.Plan
	t := &sheet.Table{Columns: []sheet.Column{
		{Head: "record", Key: "id", Left: true},
		{Head: "kind", Key: "kind", Left: true},
		{Head: "figures from", Key: "basis", Left: true},
		{Head: "date", Key: "date", Left: true},
		{Head: "by", Key: "source", Left: true, Keep: 2},
		{Head: "record from", Key: "layer", Left: true, Keep: 1},
		{Head: "file", Key: "file", Left: true, Keep: 2},
	}}
	type row struct{ id, basis, date, source string }
	var rows []row
	for _, i := range p.Items {
		if i.Slot != "pack" && i.Slot != "extra" {
			rows = append(rows, row{id: i.ID, basis: "mass: " + massBasis(i)})
		}
	}
	if test := p.Propulsion.Test; test != nil {
		rows = append(rows, row{id: test.ID, basis: "thrust stand", source: test.Origin})
	}
	for i := range r.Ranked {
		k := r.Ranked[i].Pack
		rows = append(rows, row{k.ID, packBasis(k.Basis), k.TestDate, k.TestSource})
	}
	ids := make([]string, len(rows))
	for i := range rows {
		ids[i] = rows[i].id
	}
	places := p.Build.Parts.Locate(ids...)
	shown := map[string]bool{}
	for _, w := range rows {
		c, kind, ok := p.Build.Parts.Record(w.id)
		if !ok || shown[w.id] {
			continue
		}
		shown[w.id] = true
		where := places[w.id]
		t.Add(sheet.Word(w.id), sheet.Word(string(kind)), wordOrDash(w.basis), wordOrDash(cmp.Or(w.date, c.Date)), wordOrDash(w.source), sheet.Word(where.Layer), sheet.Word(place(where)))
	}
	return t
}

// packBasis says in words what is known of a pack.
func packBasis(b planner.Basis) string {
	switch b {
	case planner.BasisLogs:
		return "bench logs"
	case planner.BasisTested:
		return "bench figures"
	}
	return "its label only"
}

func wordOrDash(text string) sheet.Cell {
	if text == "" {
		return sheet.Unknown()
	}
	return sheet.Word(text)
}

// place is a file with the line of a record in it.
func place(s catalog.Source) string {
	if s.Line > 0 {
		return s.File + ":" + strconv.Itoa(s.Line)
	}
	return s.File
}
