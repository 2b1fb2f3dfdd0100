package main

import (
	"cmp"
	"fmt"
	"path/filepath"
	"strings"

	"allup/catalog"
	"allup/cmd/allup/internal/draw"
	"allup/cmd/allup/internal/page"
	"allup/cmd/allup/internal/sheet"
	"allup/model/words"
	"allup/planner"
	"allup/planner/tested"
)

// benchReport is everything that a bench's page tells.
type benchReport struct {
	name  string // of the bench, as its drawings are called by
	bench *catalog.Bench
	packs []tested.ReducedPack
}

func (a *app) reportBench(name string) (*benchReport, error) {
	b, err := a.bench(name)
	if err != nil {
		return nil, err
	}
	cat, err := a.catalogue()
	if err != nil {
		return nil, err
	}
	m := a.meter("logs", a.quiet)
	packs, err := tested.ReduceBench(b, a.watch(catalog.BenchFS(name)), cat, m.tick)
	m.clear()
	if err != nil {
		return nil, err
	}
	return &benchReport{benchName(name), b, packs}, nil
}

// benchName is what the drawings of a bench are called by: its file, without what says nothing.
func benchName(file string) string {
	if file == "-" {
		return "bench"
	}
	return strings.TrimSuffix(filepath.Base(file), filepath.Ext(file))
}

// overview are the drawings of all packs of a bench, each those of one pack.
func (r *benchReport) overview() []*draw.Drawing {
	return []*draw.Drawing{
		draw.Discharges(r.name, r.packs), draw.DischargeShares(r.name, r.packs), draw.Labels(r.name, draw.LabelsOfBench(r.packs)),
	}
}

func packDrawings(p *tested.ReducedPack) []*draw.Drawing {
	return []*draw.Drawing{draw.Fit(p), draw.Burst(p)}
}

func (r *benchReport) drawings() []*draw.Drawing {
	list := r.overview()
	for i := range r.packs {
		list = append(list, packDrawings(&r.packs[i])...)
	}
	return list
}

func benchPage(r *benchReport) *page.Page {
	s := reduceScreen(r.bench, r.packs, nil)
	title := "Bench tests"
	if r.name != "bench" {
		title += ": " + r.name
	}
	p := &page.Page{Title: title, Verdict: s.Verdict}
	p.Sections = append(p.Sections,
		page.Section{ID: "drawings", Title: "At a glance", Drawings: r.overview()},
		page.Section{ID: "figures", Title: "Tested metrics, circuits, tests", Tables: tables(s, "pack")})
	for i := range r.packs {
		pack := &r.packs[i]
		if pack.Record == nil {
			continue
		}
		p.Sections = append(p.Sections, page.Section{
			ID: fmt.Sprintf("pack-%d", i+1), Title: pack.Bench.ID, Part: true, Lead: []string{packLead(pack)}, Drawings: packDrawings(pack), Notes: pack.Comments()[1:],
		})
	}
	var notes []string
	for _, n := range s.Notes {
		if n != benchCaution {
			notes = append(notes, n)
		}
	}
	p.Sections = append(p.Sections,
		page.Section{ID: "sources", Title: "What the figures rest on", Notes: notes},
		page.Section{ID: "cautions", Title: "Cautions", Notes: []string{benchCaution}})
	return p
}

func packLead(p *tested.ReducedPack) string {
	b := p.Bench
	lead := fmt.Sprintf("%s: %d cells, %s, %s mAh by its label, %s.", b.Name, b.Cells, b.Chemistry, words.Trimmed(b.Rated.MilliAmpHours(), 1), words.Grams(b.Mass))
	if b.Ambient > 0 {
		lead += fmt.Sprintf(" Tested at %s C.", words.Fixed(b.Ambient.Celsius(), 0))
	}
	return lead
}

// tables are a screen's tables for a page; key is that of the column with the subjects of drawings.
func tables(s sheet.Screen, key string) []page.Table {
	var list []page.Table
	for i, t := range s.Tables {
		if len(t.Rows) == 0 {
			continue
		}
		caption := cmp.Or(t.Title, map[string]string{"pack": "Packs", "refused": "Refused"}[t.Columns[0].Head], t.Columns[0].Head)
		list = append(list, page.Table{ID: fmt.Sprintf("table-%d", i+1), Caption: caption, Table: t, Subject: key})
	}
	return list
}

func (a *app) reportField() (*tested.Field, error) {
	cat, err := a.catalogue()
	if err != nil {
		return nil, err
	}
	packs, err := planner.NewPackSet(cat)
	if err != nil {
		return nil, err
	}
	m := a.meter("packs", a.quiet)
	defer m.clear()
	return tested.CompareField(packs, tested.FieldOptions{Progress: m.tick}), nil
}

func fieldDrawings(f *tested.Field) []*draw.Drawing {
	var list []*draw.Drawing
	for i := range f.Groups {
		list = append(list, draw.Field(&f.Groups[i]))
	}
	return append(list, draw.Labels("field", draw.LabelsOfField(f)))
}

func fieldPage(f *tested.Field) *page.Page {
	s := fieldScreen(f)
	return &page.Page{
		Title: "Tested packs", Verdict: s.Verdict,
		Sections: []page.Section{
			{ID: "drawings", Title: "At a glance", Drawings: fieldDrawings(f)},
			{ID: "figures", Title: "The comparison", Tables: tables(s, "pack")},
			{ID: "sources", Title: "What stands out, and what the figures rest on", Notes: s.Notes},
			{ID: "cautions", Title: "Cautions", Notes: []string{benchCaution}},
		},
	}
}
