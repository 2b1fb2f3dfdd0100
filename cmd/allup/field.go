package main

import (
	"fmt"
	"slices"
	"strings"

	"github.com/spf13/cobra"

	"allup/cmd/allup/internal/draw"
	"allup/cmd/allup/internal/sheet"
	"allup/model/words"
	"allup/planner"
	"allup/planner/tested"
)

func newField(a *app) *cobra.Command {
	var by, group string
	var drawings drawingFlags
	cmd := &cobra.Command{
		Use:   "field",
		Short: "The tested packs of the catalogue, compared",
		Long: `field compares the tested packs of the catalogue, in groups of the
same cells and chemistry: each figure with its rank in the group and its ratio
to the group's median. What stands out is said in words. Measured
figures stay as they are; only a pack that was tested by another protocol than most
of its group is converted, through its circuit, and is marked K.`,
		Args: arguments(0, 0, "no arguments"),
		RunE: func(*cobra.Command, []string) error {
			options, err := fieldOptions(by, group)
			if err != nil {
				return err
			}
			cat, err := a.catalogue()
			if err != nil {
				return err
			}
			packs, err := planner.NewPackSet(cat)
			if err != nil {
				return err
			}
			m := a.meter("packs", a.quiet)
			options.Progress = m.tick
			f := tested.CompareField(packs, options)
			m.clear()
			pictures, err := a.draw(drawings, drawings.of(func() []*draw.Drawing { return fieldDrawings(f) }))
			if err != nil {
				return err
			}
			if err := a.beside(pictures); err != nil {
				return err
			}
			screen := func() sheet.Screen {
				if a.format == formatCSV {
					return sheet.Screen{Sheet: fieldSheet(f)}
				}
				return fieldScreen(f)
			}
			return a.answerOf(screen, func() any { return fieldJSON(f) })
		},
	}
	drawings.register(cmd.Flags())
	cmd.Flags().StringVar(&by, "sort", string(tested.WPerGram), "sort each group by a `column`: "+strings.Join(measureNames(), ", "))
	cmd.Flags().StringVar(&group, "group", "cells,chemistry", "what makes a `group`: cells,chemistry, cells, chemistry or none")
	completeFlag(cmd, "sort", measureNames)
	completeFlag(cmd, "group", groupings)
	return cmd
}

func groupings() []string { return []string{"cells,chemistry", "cells", "chemistry", "none"} }

func measureNames() []string {
	names := []string{"pack"}
	for _, m := range tested.Measures() {
		names = append(names, string(m))
	}
	return names
}

func fieldOptions(by, group string) (tested.FieldOptions, error) {
	if !slices.Contains(measureNames(), by) {
		return tested.FieldOptions{}, usagef("--sort %.80q is not a column; allowed: %s", by, strings.Join(measureNames(), ", "))
	}
	if !slices.Contains(groupings(), group) {
		return tested.FieldOptions{}, usagef("--group %.80q is not a grouping; allowed: %s", group, strings.Join(groupings(), "; "))
	}
	o := tested.FieldOptions{Sort: tested.Measure(by)}
	o.AnyCells = group == "chemistry" || group == "none"
	o.AnyChemistry = group == "cells" || group == "none"
	return o, nil
}

// measure is a figure of a pack in a field: its value is shown with its rank, its ratio to the median in a
// table of its own.
type measure struct {
	sheet.Figure[*tested.FieldPack]
	tested.Measure
}

// fieldFigures are the measures of a field, in the order of [tested.Measures].
func fieldFigures() []measure {
	shown := func(m tested.Measure, head, unit string, digits, keep int) measure {
		return measure{sheet.Figure[*tested.FieldPack]{
			Key: string(m), Head: head, Unit: unit, Digits: digits, Keep: keep,
			Of: func(p *tested.FieldPack) (float64, bool) { s, ok := p.Standings[m]; return s.Value, ok },
		}, m}
	}
	delivered := shown(tested.Delivered, "% of label", "", 0, 0)
	ofLabelC := shown(tested.OfLabelC, "C % of label", "", 0, 2)
	delivered.Per, ofLabelC.Per = 0.01, 0.01
	return []measure{
		delivered,
		shown(tested.WhPerGram, "Wh/g", "", 3, 0),
		shown(tested.MidPerCell, "mid V/cell", "", 2, 0),
		shown(tested.TestedC, "tested C", "", 0, 2),
		ofLabelC,
		shown(tested.WPerGram, "W/g", "", 1, 0),
		shown(tested.R0TimesQ, "R0", "mohm Ah", 1, 1),
		shown(tested.PricePerWh, "price/Wh", "", 2, 2),
	}
}

// ranked is the column of the values, each with its rank behind it, in brackets where a page sets the columns.
func (m measure) ranked() (sheet.Column, func(*tested.FieldPack) sheet.Cell) {
	return sheet.Column{Head: m.Heading() + " #", Key: m.Key, Keep: m.Keep}, func(p *tested.FieldPack) sheet.Cell {
		c := m.Show(p)
		if s, ok := p.Standings[m.Measure]; ok {
			c.Markdown = fmt.Sprintf("%s (%d)", c.Text, s.Rank)
			c.Text += fmt.Sprintf(" %2d", s.Rank)
		}
		return c
	}
}

// ratio is the measure's ratio to the median of the group, a figure without a unit.
func (m measure) ratio() sheet.Figure[*tested.FieldPack] {
	return sheet.Figure[*tested.FieldPack]{
		Key: m.Key + "_ratio", Head: "x " + strings.TrimPrefix(strings.TrimPrefix(m.Head, "% of "), "mid "), Digits: 2, Keep: m.Keep,
		Of: func(p *tested.FieldPack) (float64, bool) { s, ok := p.Standings[m.Measure]; return s.Ratio, ok },
	}
}

// rank is the measure's rank in the group.
func (m measure) rank() sheet.Figure[*tested.FieldPack] {
	return sheet.Figure[*tested.FieldPack]{
		Key: m.Key + "_rank", Of: func(p *tested.FieldPack) (float64, bool) {
			s, ok := p.Standings[m.Measure]
			return float64(s.Rank), ok
		},
	}
}

// labelCFigure is what a pack's label says of C.
func labelCFigure() sheet.Figure[*tested.FieldPack] {
	return sheet.Figure[*tested.FieldPack]{
		Key: "label_c", Head: "label C", Keep: 3,
		Of: func(p *tested.FieldPack) (float64, bool) { return p.LabelC, p.LabelC > 0 },
	}
}

// fieldWords is a column of text in a field.
func fieldWords(key, head string, of func(*tested.FieldPack) string) (sheet.Column, func(*tested.FieldPack) sheet.Cell) {
	return sheet.Words[*tested.FieldPack]{Key: key, Head: head, Of: of}.Shown()
}

func fieldID(p *tested.FieldPack) string { return p.ID }

// packsOf are the packs of a group, which are large.
func packsOf(g *tested.FieldGroup) []*tested.FieldPack {
	out := make([]*tested.FieldPack, len(g.Packs))
	for i := range g.Packs {
		out[i] = &g.Packs[i]
	}
	return out
}

// fieldScreen is a table of values with ranks and one of ratios for every group.
func fieldScreen(f *tested.Field) sheet.Screen {
	s := sheet.Screen{Verdict: fieldVerdict(f)}
	for i := range f.Groups {
		g := &f.Groups[i]
		var values, ratios sheet.Columns[*tested.FieldPack]
		values.Add(fieldWords("pack", "pack", fieldID))
		ratios.Add(fieldWords("pack", "pack", fieldID))
		median := []sheet.Cell{sheet.Word("median")}
		for _, m := range fieldFigures() {
			if _, some := g.Medians[m.Measure]; !some && m.Measure == tested.OfLabelC {
				continue
			}
			if m.Measure == tested.OfLabelC {
				values.Add(labelCFigure().Shown())
				median = append(median, sheet.Unknown())
			}
			values.Add(m.ranked())
			ratios.Add(m.ratio().Shown())
			cell := sheet.Unknown()
			if v, ok := g.Medians[m.Measure]; ok {
				cell = m.Cell(v)
				cell.Text += "   " // where the others have a rank
			}
			median = append(median, cell)
		}
		values.Add(fieldWords("marks", "", fieldMarks))
		table := values.Table(groupTitle(g), packsOf(g))
		table.Add(append(median, sheet.Word(""))...)
		s.Tables = append(s.Tables, table)
		if len(g.Packs) > 1 {
			s.Tables = append(s.Tables, ratios.Table("Times the medians of "+g.Name(), packsOf(g)))
		}
	}
	s.Notes = append(s.Notes, remarkNotes(f.Remarks)...)
	s.Notes = append(s.Notes,
		"After each figure stands its rank in the group, 1 is the best. \"% of label\" is delivered over rated charge; \"mid V/cell\" is a cell's voltage when half of the charge is out; \"tested C\" is burst current over rated charge; R0 of a cell times capacity takes the pack's size out of it.",
		marksNote("BKDI"))
	s.Notes = append(s.Notes, leftOutNotes(f.LeftOut)...)
	if len(f.Untested) > 0 {
		s.Notes = append(s.Notes, fmt.Sprintf("%s not compared, known by a label only: %s.", isAre(len(f.Untested), "pack", "packs"), strings.Join(f.Untested, ", ")))
	}
	return s
}

func fieldMarks(p *tested.FieldPack) string {
	marks := ""
	if p.Basis == planner.BasisLogs {
		marks += "B"
	}
	if p.ByCircuit {
		marks += "K"
	}
	if hasCode(p.Noteworthy, planner.Doubtful) {
		marks += "D"
	}
	if p.Demo() {
		marks += demoMark
	}
	return marks
}

// groupTitle names a group, and says where it is compared through circuits.
func groupTitle(g *tested.FieldGroup) string {
	title := fmt.Sprintf("%s: %s", g.Name(), words.Count(len(g.Packs), "pack", "packs"))
	if g.Currency != "" {
		title += ", prices in " + g.Currency
	}
	title += ". Test: " + g.LoadWords() + "; " + g.BurstWords()
	if len(g.Converted) > 0 {
		title += fmt.Sprintf(". Converted to it through their circuits (K): %s; the others as measured", strings.Join(firstFew(g.Converted), ", "))
	}
	return title
}

func firstFew(ids []string) []string {
	const few = 4
	if len(ids) <= few {
		return ids
	}
	return append(slices.Clone(ids[:few]), fmt.Sprintf("%d more", len(ids)-few))
}

func fieldVerdict(f *tested.Field) []string {
	total := f.Packs()
	if total == 0 {
		return []string{"No tested packs in the catalogue: \"allup reduce\" makes some of bench logs."}
	}
	lines := []string{fmt.Sprintf("%s in %s.", words.Count(total, "tested pack", "tested packs"), words.Count(len(f.Groups), "group", "groups"))}
	if r, ok := f.Spread(); ok {
		lines = append(lines, strings.ToUpper(r.Text[:1])+r.Text[1:]+".")
	}
	return lines
}

// fieldSheet is everything in one table, for programs.
func fieldSheet(f *tested.Field) *sheet.Table {
	var cols sheet.Columns[*tested.FieldPack]
	cols.Add(sheet.Figure[*tested.FieldPack]{Key: "cells", Of: func(p *tested.FieldPack) (float64, bool) { return float64(p.Cells), true }}.Exact())
	cols.Add(fieldWords("chemistry", "", func(p *tested.FieldPack) string { return string(p.Chemistry) }))
	cols.Add(fieldWords("pack", "", fieldID))
	cols.Add(fieldWords("basis", "", func(p *tested.FieldPack) string { return string(p.Basis) }))
	cols.Add(fieldWords("demo", "", func(p *tested.FieldPack) string { return fmt.Sprint(p.Demo()) }))
	cols.Add(fieldWords("test_date", "", func(p *tested.FieldPack) string { return p.TestDate }))
	cols.Add(sheet.Figure[*tested.FieldPack]{Key: "test_cycles", Of: func(p *tested.FieldPack) (float64, bool) {
		if p.TestCycles == nil {
			return 0, false
		}
		return float64(*p.TestCycles), true
	}}.Exact())
	cols.Add(labelCFigure().Exact())
	cols.Add(fieldWords("through_circuit", "", func(p *tested.FieldPack) string { return fmt.Sprint(p.ByCircuit) }))
	for _, m := range fieldFigures() {
		cols.Add(m.Exact())
		cols.Add(m.rank().Exact())
		cols.Add(m.ratio().Exact())
	}
	cols.Add(fieldWords("marks", "", func(p *tested.FieldPack) string { return orDash(fieldMarks(p)) }))
	cols.Add(fieldWords(warningsKey, "", func(p *tested.FieldPack) string { return orDash(joinReasons(p.Noteworthy)) }))
	var packs []*tested.FieldPack
	for i := range f.Groups {
		packs = append(packs, packsOf(&f.Groups[i])...)
	}
	return cols.Table("", packs)
}

type jsonStanding struct {
	Value float64 `json:"value"`
	Rank  int     `json:"rank"`
	Ratio float64 `json:"ratio"`
}

type jsonFieldPack struct {
	Pack       string                   `json:"pack"`
	Name       string                   `json:"name"`
	Cells      int                      `json:"cells"`
	Chemistry  string                   `json:"chemistry"`
	Basis      string                   `json:"basis"`
	LabelC     *float64                 `json:"label_c"`
	TestDate   *string                  `json:"test_date"`
	TestCycles *int                     `json:"test_cycles"`
	Demo       bool                     `json:"demo"`
	ByCircuit  bool                     `json:"through_circuit"`
	Standings  map[string]*jsonStanding `json:"standings"`
	Circuit    *jsonCircuit             `json:"circuit"`
	Noteworthy []jsonRemark             `json:"noteworthy"`
}

type jsonGroup struct {
	Cells     *int                `json:"cells"`
	Chemistry *string             `json:"chemistry"`
	Currency  *string             `json:"currency"`
	ByCircuit bool                `json:"through_circuit"` // some are
	Others    []string            `json:"other_protocols"`
	Test      string              `json:"discharge_test"`
	Burst     string              `json:"burst_test"`
	Medians   map[string]*float64 `json:"medians"`
	Packs     sheet.List          `json:"packs"`
}

func fieldJSON(f *tested.Field) any {
	groups := []jsonGroup{}
	measures := fieldFigures()
	for _, g := range f.Groups {
		j := jsonGroup{ByCircuit: len(g.Converted) > 0, Others: append([]string{}, g.Converted...), Test: g.LoadWords(), Burst: g.BurstWords(), Medians: map[string]*float64{}}
		if g.Cells > 0 {
			j.Cells = &g.Cells
		}
		if chemistry := string(g.Chemistry); chemistry != "" {
			j.Chemistry = &chemistry
		}
		if g.Currency != "" {
			j.Currency = &g.Currency
		}
		for _, m := range measures {
			j.Medians[m.Key] = nil
			if v, ok := g.Medians[m.Measure]; ok {
				j.Medians[m.Key] = &v
			}
		}
		j.Packs = sheet.List{Len: len(g.Packs), At: func(i int) any { return fieldPackJSON(measures, &g.Packs[i]) }}
		groups = append(groups, j)
	}
	untested := append([]string{}, f.Untested...)
	return struct {
		Groups   []jsonGroup  `json:"groups"`
		Untested []string     `json:"untested"`
		LeftOut  jsonLeftOut  `json:"left_out"`
		Remarks  []jsonRemark `json:"remarks"`
	}{groups, untested, leftOutJSON(f.LeftOut), remarksJSON(f.Remarks)}
}

func fieldPackJSON(measures []measure, p *tested.FieldPack) jsonFieldPack {
	q := jsonFieldPack{
		Pack: p.ID, Name: p.Name, Cells: p.Cells, Chemistry: string(p.Chemistry), Basis: string(p.Basis), Demo: p.Demo(), ByCircuit: p.ByCircuit,
		TestCycles: p.TestCycles, Standings: map[string]*jsonStanding{}, Circuit: circuitJSON(p.Circuit), Noteworthy: remarksJSON(p.Noteworthy),
	}
	if p.LabelC > 0 {
		q.LabelC = &p.LabelC
	}
	if p.TestDate != "" {
		q.TestDate = &p.TestDate
	}
	for _, m := range measures {
		q.Standings[m.Key] = nil
		if st, ok := p.Standings[m.Measure]; ok {
			q.Standings[m.Key] = &jsonStanding{st.Value, st.Rank, st.Ratio}
		}
	}
	return q
}
