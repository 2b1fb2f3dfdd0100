package main

import (
	"fmt"
	"slices"

	"allup/cmd/allup/internal/sheet"
	"allup/model/words"
	"allup/planner"
)

// whyScreen is every number that led to an answer, in order, and what to measure next.
func whyScreen(w *planner.Why) sheet.Screen {
	a := w.Answer
	s := sheet.Screen{Verdict: []string{whyVerdict(w)}}
	s.Tables = []*sheet.Table{stepTable("", w), nextTable(w)}
	s.Notes = []string{
		"In order: each number from the build's file to the answer. A computed one has its formula, by the keys above it; a simulated one comes from stepping the pack's circuit through the discharge, a solved one is a root that the numbers after it check.",
		"+- is one sigma, x/ a factor; mass, time and punch % are shares of the variance of each, first-order. What shows none is taken as exact, or moves with a number that shows it.",
	}
	s.Notes = append(s.Notes, remarkNotes(a.Against())...)
	s.Warnings = append([]string{}, remarkNotes(slices.Concat(a.Warnings(), a.Plan.Warnings))...)
	s.Notes = append(s.Notes, s.Warnings...)
	s.Notes = append(s.Notes, limitNote(a.Plan), packCaution)
	return s
}

func whyVerdict(w *planner.Why) string {
	a := w.Answer
	if !a.Flies() {
		return fmt.Sprintf("Why %s on %s: %s all-up; it does not fly.", a.Plan.Build.Name, a.Pack.ID, words.Grams(a.Mass))
	}
	text := fmt.Sprintf("Why %s on %s: %s all-up, %s min, punch %s.", a.Plan.Build.Name, a.Pack.ID, words.Grams(a.Mass), ratio(a.Duration().Minutes()), ratio(a.PunchRatio())) + coldWarning(a.Plan, a.Pack)
	if len(w.Next) > 0 {
		n := w.Next[0]
		text += fmt.Sprintf(" Measure next: %s; the band of time shrinks by %s, that of punch by %s.", n.Text, words.Percent(n.Time), words.Percent(n.Punch))
	}
	return text
}

func stepTable(title string, w *planner.Why) *sheet.Table {
	t := &sheet.Table{Title: title, Columns: []sheet.Column{
		{Head: "number", Key: "key", Left: true},
		{Head: "value", Key: "value"},
		{Head: "", Key: "unit", Left: true},
		{Head: "+-", Key: "sigma", Keep: 1},
		{Head: "how", Key: "source", Left: true},
		{Head: "mass %", Key: "of_mass_percent", Keep: 3},
		{Head: "time %", Key: "of_time_percent", Keep: 2},
		{Head: "punch %", Key: "of_punch_percent", Keep: 2},
		{Head: "from", Key: "from", Left: true, Wrap: true, Least: 16},
		{Head: "what", Key: "text", Left: true, Keep: 4},
	}}
	for _, s := range w.Steps {
		sigma, mass, time, punch := sheet.Word(""), sheet.Word(""), sheet.Word(""), sheet.Word("")
		if s.Known {
			sigma = sigmaCell("", s.Sigma)
			if s.Times {
				sigma = sigmaCell("x/ ", s.Sigma)
			}
			mass, time, punch = sheet.Number(100*s.OfMass, 0), sheet.Number(100*s.OfTime, 0), sheet.Number(100*s.OfPunch, 0)
		}
		value := s.Value
		t.Add(sheet.Word(s.Key), sheet.Cell{Text: significant(s.Value), Value: &value}, sheet.Word(s.Unit), sigma, sheet.Word(string(s.Source)), mass, time, punch, sheet.Word(s.From), sheet.Word(s.Text))
	}
	return t
}

// significant is a number with the digits that a calculator needs, and none more.
func significant(v float64) string { return fmt.Sprintf("%.6g", v) }

// sigmaCell is a sigma as people read one, to two digits; programs get all of it.
func sigmaCell(before string, v float64) sheet.Cell {
	return sheet.Cell{Text: before + fmt.Sprintf("%.2g", v), Value: &v}
}

func nextTable(w *planner.Why) *sheet.Table {
	t := &sheet.Table{Title: "What to measure next: by how much each band shrinks", Columns: []sheet.Column{
		{Head: "measure", Key: "measure", Left: true, Wrap: true},
		{Head: "mass band % less", Key: "mass_percent"},
		{Head: "time band % less", Key: "time_percent"},
		{Head: "punch band % less", Key: "punch_percent"},
	}}
	for _, n := range w.Next {
		t.Add(sheet.Word(n.Text), sheet.Number(100*n.Mass, 0), sheet.Number(100*n.Time, 0), sheet.Number(100*n.Punch, 0))
	}
	return t
}

type jsonStep struct {
	Key     string   `json:"key"`
	Text    string   `json:"text"`
	Value   float64  `json:"value"`
	Unit    string   `json:"unit"`
	Source  string   `json:"source"`
	From    string   `json:"from"`
	Sigma   *float64 `json:"sigma"`
	Factor  bool     `json:"sigma_is_factor"`
	OfMass  *float64 `json:"share_of_mass_variance"`
	OfTime  *float64 `json:"share_of_time_variance"`
	OfPunch *float64 `json:"share_of_punch_variance"`
}

type jsonNext struct {
	Code  string  `json:"code"`
	Text  string  `json:"text"`
	Mass  float64 `json:"mass_band_shrinks"`
	Time  float64 `json:"time_band_shrinks"`
	Punch float64 `json:"punch_band_shrinks"`
}

type jsonWhy struct {
	Build string     `json:"build"`
	Pack  string     `json:"pack"`
	Steps []jsonStep `json:"steps"`
	Next  []jsonNext `json:"measure_next"`

	Warnings []jsonRemark `json:"warnings"`
}

func whyJSON(w *planner.Why) jsonWhy {
	out := jsonWhy{Build: w.Answer.Plan.Build.Name, Pack: w.Answer.Pack.ID, Steps: []jsonStep{}, Next: []jsonNext{}, Warnings: remarksJSON(slices.Concat(w.Answer.Warnings(), w.Answer.Plan.Warnings))}
	for _, s := range w.Steps {
		j := jsonStep{Key: s.Key, Text: s.Text, Value: s.Value, Unit: s.Unit, Source: string(s.Source), From: s.From, Factor: s.Times}
		if s.Known {
			j.Sigma, j.OfMass, j.OfTime, j.OfPunch = present(s.Sigma), present(s.OfMass), present(s.OfTime), present(s.OfPunch)
		}
		out.Steps = append(out.Steps, j)
	}
	for _, n := range w.Next {
		out.Next = append(out.Next, jsonNext{string(n.Code), n.Text, n.Mass, n.Time, n.Punch})
	}
	return out
}

// why answers with the trace of a build on a pack of its catalogue.
func (a *app) why(p *planner.Plan, packs *planner.PackSet, id string) error {
	pack := packs.Pack(id)
	if pack == nil {
		return usagef("--why: there is no pack %.80q in the catalogue; \"allup parts --kind pack\" lists them", id)
	}
	w := p.Why(pack)
	return a.answer(whyScreen(w), whyJSON(w))
}

// whySwap answers with the traces of both sides of a swap.
func (a *app) whySwap(s *planner.Swap, packs *planner.PackSet) error {
	if s.Before.Plan.Pack == nil || s.After.Plan.Pack == nil {
		return usagef("--why: the build names no pack, so there is no flight to trace")
	}
	before, after := s.Before.Plan.Why(packs.Pack(s.Before.Plan.Pack.ID)), s.After.Plan.Why(packs.Pack(s.After.Plan.Pack.ID))
	screen := whyScreen(after)
	screen.Tables = []*sheet.Table{stepTable("After", after), nextTable(after), stepTable("Before", before)}
	screen.Sheet = bothSides(screen.Tables[2], screen.Tables[0])
	return a.answer(screen, struct {
		Before jsonWhy `json:"before"`
		After  jsonWhy `json:"after"`
	}{whyJSON(before), whyJSON(after)})
}

// bothSides is the traces of both sides of a swap in one table, whose first column says which side a row is of.
func bothSides(before, after *sheet.Table) *sheet.Table {
	t := &sheet.Table{Columns: append([]sheet.Column{{Key: "side"}}, before.Columns...)}
	for _, row := range before.Rows {
		t.Add(append([]sheet.Cell{sheet.Word("before")}, row...)...)
	}
	for _, row := range after.Rows {
		t.Add(append([]sheet.Cell{sheet.Word("after")}, row...)...)
	}
	return t
}

// whyToday answers with the trace of a build on the pack that it carries.
func (a *app) whyToday(p *planner.Plan) error {
	if p.Pack == nil {
		return usagef("--why: the build names no pack, so there is no flight to trace; put one into slots.pack")
	}
	packs, err := planner.NewPackSet(p.Build.Parts)
	if err != nil {
		return err
	}
	return a.why(p, packs, p.Pack.ID)
}
