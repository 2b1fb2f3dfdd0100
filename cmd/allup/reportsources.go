package main

import (
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
	shown := map[string]bool{}
	add := func(id, basis, date, source string) {
		c, kind, ok := p.Build.Parts.Record(id)
		if !ok || shown[id] {
			return
		}
		shown[id] = true
		where, ok := p.Build.Parts.Locate(id)
		if !ok {
			where = c.Source
		}
		if date == "" {
			date = c.Date
		}
		t.Add(sheet.Word(id), sheet.Word(string(kind)), wordOrDash(basis), wordOrDash(date), wordOrDash(source), sheet.Word(where.Layer), sheet.Word(place(where)))
	}
	for _, i := range p.Items {
		if i.Slot != "pack" && i.Slot != "extra" {
			add(i.ID, "mass: "+massBasis(i), "", "")
		}
	}
	if test := p.Propulsion.Test; test != nil {
		add(test.ID, "thrust stand", "", test.Origin)
	}
	for i := range r.Ranked {
		k := r.Ranked[i].Pack
		add(k.ID, packBasis(k.Basis), k.TestDate, k.TestSource)
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
