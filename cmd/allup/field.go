package main

import (
	"cmp"
	"fmt"
	"slices"
	"strings"

	"github.com/spf13/cobra"

	"allup/cmd/allup/internal/sheet"
	"allup/model/words"
	"allup/planner"
)

func newField(a *app) *cobra.Command {
	var by, group string
	cmd := &cobra.Command{
		Use:   "field",
		Short: "The tested packs of the catalogue against each other",
		Long: `field sets the tested packs of the catalogue beside each other, in groups of the same cells
and chemistry: each figure with its rank in the group and its ratio to the group's median. What
stands out is said in words. Packs that were tested by different protocols are compared through
their circuits, under the usual protocol; the table says so.`,
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
			f := planner.CompareField(packs, options)
			m.clear()
			s := fieldScreen(f)
			if a.format == formatCSV {
				s.Tables = []*sheet.Table{fieldSheet(f)}
			}
			return a.answer(s, fieldJSON(f))
		},
	}
	cmd.Flags().StringVar(&by, "sort", string(planner.WPerGram), "sort each group by a `column`: "+strings.Join(measureNames(), ", "))
	cmd.Flags().StringVar(&group, "group", "cells,chemistry", "what makes a `group`: cells,chemistry, cells, chemistry or none")
	offer := func(values ...string) func(*cobra.Command, []string, string) ([]string, cobra.ShellCompDirective) {
		return func(*cobra.Command, []string, string) ([]string, cobra.ShellCompDirective) {
			return values, cobra.ShellCompDirectiveNoFileComp
		}
	}
	for flag, values := range map[string][]string{"sort": measureNames(), "group": groupings()} {
		if err := cmd.RegisterFlagCompletionFunc(flag, offer(values...)); err != nil {
			panic(err) // the flags are defined above
		}
	}
	return cmd
}

func groupings() []string { return []string{"cells,chemistry", "cells", "chemistry", "none"} }

func measureNames() []string {
	names := []string{"pack"}
	for _, m := range planner.Measures() {
		names = append(names, string(m))
	}
	return names
}

func fieldOptions(by, group string) (planner.FieldOptions, error) {
	if !slices.Contains(measureNames(), by) {
		return planner.FieldOptions{}, usagef("--sort %q is not a column; allowed: %s", by, strings.Join(measureNames(), ", "))
	}
	if !slices.Contains(groupings(), group) {
		return planner.FieldOptions{}, usagef("--group %q is not a grouping; allowed: %s", group, strings.Join(groupings(), "; "))
	}
	o := planner.FieldOptions{Sort: planner.Measure(by)}
	o.AnyCells = group == "chemistry" || group == "none"
	o.AnyChemistry = group == "cells" || group == "none"
	return o, nil
}

// measureShown is how a measure is drawn.
type measureShown struct {
	measure planner.Measure
	head    string
	digits  int
	scale   float64
	keep    int
}

func measuresShown() []measureShown {
	return []measureShown{
		{planner.Delivered, "of label %", 0, 100, 0},
		{planner.WhPerGram, "Wh/g", 3, 1, 0},
		{planner.MidPerCell, "mid V", 2, 1, 0},
		{planner.TestedC, "C", 0, 1, 3},
		{planner.WPerGram, "W/g", 1, 1, 0},
		{planner.R0TimesQ, "R0 mohm Ah", 1, 1, 1},
		{planner.PricePerWh, "price/Wh", 2, 1, 2},
	}
}

// fieldScreen is a table of values with ranks and one of ratios for every group.
func fieldScreen(f *planner.Field) sheet.Screen {
	s := sheet.Screen{Verdict: fieldVerdict(f)}
	for _, g := range f.Groups {
		values := &sheet.Table{Title: groupTitle(g), Columns: []sheet.Column{{Head: "pack", Key: "pack", Left: true}}}
		ratios := &sheet.Table{Title: "Ratios to the medians of " + g.Name(), Columns: []sheet.Column{{Head: "pack", Key: "pack", Left: true}}}
		for _, m := range measuresShown() {
			values.Columns = append(values.Columns, sheet.Column{Head: m.head + " #", Key: string(m.measure), Keep: m.keep})
			ratios.Columns = append(ratios.Columns, sheet.Column{Head: shortHead(m.head), Key: string(m.measure), Keep: m.keep})
		}
		values.Columns = append(values.Columns, sheet.Column{Head: "", Key: "marks", Left: true})
		for _, p := range g.Packs {
			row, ratio := []sheet.Cell{sheet.Word(p.ID)}, []sheet.Cell{sheet.Word(p.ID)}
			for _, m := range measuresShown() {
				st, ok := p.Standings[m.measure]
				if !ok {
					row, ratio = append(row, sheet.Unknown()), append(ratio, sheet.Unknown())
					continue
				}
				v := sheet.Number(st.Value*m.scale, m.digits)
				v.Text += fmt.Sprintf(" %2d", st.Rank)
				row, ratio = append(row, v), append(ratio, sheet.Number(st.Ratio, 2))
			}
			values.Add(append(row, sheet.Word(fieldMarks(p)))...)
			ratios.Add(ratio...)
		}
		median := []sheet.Cell{sheet.Word("median")}
		for _, m := range measuresShown() {
			v, ok := g.Medians[m.measure]
			if !ok {
				median = append(median, sheet.Unknown())
				continue
			}
			c := sheet.Number(v*m.scale, m.digits)
			c.Text += "   "
			median = append(median, c)
		}
		values.Add(append(median, sheet.Word(""))...)
		s.Tables = append(s.Tables, values)
		if len(g.Packs) > 1 {
			s.Tables = append(s.Tables, ratios)
		}
	}
	s.Notes = append(s.Notes, remarkNotes(f.Remarks)...)
	s.Notes = append(s.Notes,
		"Behind each figure its rank in the group, 1 the best. \"of label\" is delivered over rated charge; C is burst current over rated charge; R0 of a cell times capacity takes the pack's size out of it.",
		"Marks: L circuit from full logs; C through its circuit; D doubtful, its figures contradict each other.")
	if len(f.Untested) > 0 {
		s.Notes = append(s.Notes, fmt.Sprintf("%s with a label only are not compared: %s.", words.Count(len(f.Untested), "pack", "packs"), strings.Join(f.Untested, ", ")))
	}
	return s
}

// shortHead is a heading of the table of ratios, which has no units.
func shortHead(head string) string {
	head, _ = strings.CutSuffix(head, " %")
	head, _ = strings.CutSuffix(head, " mohm Ah")
	return head
}

func fieldMarks(p planner.FieldPack) string {
	marks := ""
	if p.Basis == planner.BasisLogs {
		marks += "L"
	}
	if p.ByCircuit {
		marks += "C"
	}
	if hasCode(p.Noteworthy, planner.Doubtful) {
		marks += "D"
	}
	return marks
}

// groupTitle names a group, and says where it is compared through circuits.
func groupTitle(g planner.FieldGroup) string {
	title := fmt.Sprintf("%s: %s", g.Name(), words.Count(len(g.Packs), "pack", "packs"))
	if g.Currency != "" {
		title += ", prices in " + g.Currency
	}
	if g.ByCircuit {
		title += fmt.Sprintf(". Not all have the usual test (%s has another, or none): all are compared through their circuits at one load, 15 C x 3.7 V per cell down to 3.1 V per cell, and in the usual burst", strings.Join(firstFew(g.Others), ", "))
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

func fieldVerdict(f *planner.Field) []string {
	total := 0
	for _, g := range f.Groups {
		total += len(g.Packs)
	}
	if total == 0 {
		return []string{"No tested packs in the catalogue: \"allup reduce\" makes some of bench logs."}
	}
	first := fmt.Sprintf("%s in %s.", words.Count(total, "tested pack", "tested packs"), words.Count(len(f.Groups), "group", "groups"))
	largest := slices.MaxFunc(f.Groups, func(a, b planner.FieldGroup) int { return cmp.Compare(len(a.Packs), len(b.Packs)) })
	for _, r := range f.Remarks {
		if r.Code == planner.FarAhead && strings.HasPrefix(r.Text, largest.Name()+":") {
			return []string{first, strings.ToUpper(r.Text[:1]) + r.Text[1:] + "."}
		}
	}
	return []string{first}
}

// fieldSheet is everything in one table, for programs.
func fieldSheet(f *planner.Field) *sheet.Table {
	t := &sheet.Table{Columns: []sheet.Column{{Key: "cells"}, {Key: "chemistry"}, {Key: "pack"}, {Key: "basis"}, {Key: "through_circuit"}}}
	for _, m := range planner.Measures() {
		t.Columns = append(t.Columns, sheet.Column{Key: string(m)}, sheet.Column{Key: string(m) + "_rank"}, sheet.Column{Key: string(m) + "_ratio"})
	}
	for _, g := range f.Groups {
		for _, p := range g.Packs {
			row := []sheet.Cell{sheet.Integer(p.Cells), sheet.Word(string(p.Chemistry)), sheet.Word(p.ID), sheet.Word(string(p.Basis)), sheet.Word(fmt.Sprint(p.ByCircuit))}
			for _, m := range planner.Measures() {
				if st, ok := p.Standings[m]; ok {
					row = append(row, sheet.Number(st.Value, 4), sheet.Integer(st.Rank), sheet.Number(st.Ratio, 3))
				} else {
					row = append(row, sheet.Unknown(), sheet.Unknown(), sheet.Unknown())
				}
			}
			t.Add(row...)
		}
	}
	return t
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
	ByCircuit  bool                     `json:"through_circuit"`
	Standings  map[string]*jsonStanding `json:"standings"`
	Circuit    *jsonCircuit             `json:"circuit"`
	Noteworthy []jsonRemark             `json:"noteworthy"`
}

type jsonGroup struct {
	Cells     *int                `json:"cells"`
	Chemistry *string             `json:"chemistry"`
	Currency  *string             `json:"currency"`
	ByCircuit bool                `json:"through_circuit"`
	Others    []string            `json:"other_protocols"`
	Medians   map[string]*float64 `json:"medians"`
	Packs     []jsonFieldPack     `json:"packs"`
}

func fieldJSON(f *planner.Field) any {
	groups := []jsonGroup{}
	for _, g := range f.Groups {
		j := jsonGroup{ByCircuit: g.ByCircuit, Others: append([]string{}, g.Others...), Medians: map[string]*float64{}, Packs: []jsonFieldPack{}}
		if g.Cells > 0 {
			j.Cells = &g.Cells
		}
		if chemistry := string(g.Chemistry); chemistry != "" {
			j.Chemistry = &chemistry
		}
		if g.Currency != "" {
			j.Currency = &g.Currency
		}
		for _, m := range planner.Measures() {
			j.Medians[string(m)] = nil
			if v, ok := g.Medians[m]; ok {
				j.Medians[string(m)] = &v
			}
		}
		for _, p := range g.Packs {
			q := jsonFieldPack{
				Pack: p.ID, Name: p.Name, Cells: p.Cells, Chemistry: string(p.Chemistry), Basis: string(p.Basis), ByCircuit: p.ByCircuit,
				Standings: map[string]*jsonStanding{}, Circuit: circuitJSON(p.Circuit), Noteworthy: remarksJSON(p.Noteworthy),
			}
			for _, m := range planner.Measures() {
				q.Standings[string(m)] = nil
				if st, ok := p.Standings[m]; ok {
					q.Standings[string(m)] = &jsonStanding{st.Value, st.Rank, st.Ratio}
				}
			}
			j.Packs = append(j.Packs, q)
		}
		groups = append(groups, j)
	}
	untested := append([]string{}, f.Untested...)
	return struct {
		Groups   []jsonGroup  `json:"groups"`
		Untested []string     `json:"untested"`
		Remarks  []jsonRemark `json:"remarks"`
	}{groups, untested, remarksJSON(f.Remarks)}
}
