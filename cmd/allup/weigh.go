package main

import (
	"fmt"
	"strings"

	"github.com/spf13/cobra"

	"allup/cmd/allup/internal/sheet"
	"allup/model/words"
	"allup/planner"
)

func newWeigh(a *app) *cobra.Command {
	return &cobra.Command{
		Use:   "weigh BUILD",
		Short: "What weighs what, against the limit; how sure",
		Long: `weigh adds up the build with the pack that it carries, compares it with the
limit, and says how sure that is. An item that you weighed counts +- 0.1 g, one from the
catalogue +- 3 %, unless it says otherwise. BUILD is a file, or - for standard input.`,
		Args:              arguments(1, 1, "one build file"),
		ValidArgsFunction: completeBuild,
		RunE: func(_ *cobra.Command, args []string) error {
			p, err := a.plan(args[0])
			if err != nil {
				return err
			}
			w := p.Weigh()
			if err := a.answer(weighScreen(w), weighJSON(w)); err != nil {
				return err
			}
			if w.Verdict != planner.Under {
				return errNo
			}
			return nil
		},
	}
}

func weighScreen(w planner.Weighing) sheet.Screen {
	p := w.Plan
	s := sheet.Screen{Verdict: []string{weighVerdict(w)}}
	s.Verdict = append(s.Verdict, fmt.Sprintf("Dry %s; known to +- %s (2 sigma): chance of breaking the limit %s.",
		words.Grams(w.Dry), words.Grams(w.Expanded), words.Percent(w.OverChance)))

	t := &sheet.Table{Columns: []sheet.Column{
		{Head: "slot", Key: "slot", Left: true},
		{Head: "part", Key: "id", Left: true},
		{Head: "name", Key: "name", Left: true, Keep: 3},
		{Head: "n", Key: "count"},
		{Head: "each g", Key: "each_g", Keep: 1},
		{Head: "total g", Key: "total_g"},
		{Head: "+- g", Key: "half_width_g", Keep: 2},
		{Head: "share %", Key: "share_percent", Keep: 1},
		{Head: "by", Key: "mass_basis", Left: true, Keep: 1},
	}}
	for _, i := range w.Items {
		t.Add(sheet.Word(i.Slot), sheet.Word(i.ID), sheet.Word(i.Name), sheet.Integer(i.Count), sheet.Number(i.Each.Grams(), 2), sheet.Number(i.Total().Grams(), 2),
			sheet.Number(float64(i.Count)*i.HalfWidth().Grams(), 2), sheet.Number(100*float64(i.Total()/w.Mass), 1), sheet.Word(massBasis(i)))
	}
	t.Add(sheet.Word("all-up"), sheet.Word(""), sheet.Word(""), sheet.Word(""), sheet.Word(""), sheet.Number(w.Mass.Grams(), 2), sheet.Number(w.Expanded.Grams(), 2), sheet.Number(100, 1), sheet.Word("2 sigma"))
	s.Tables = []*sheet.Table{t}
	if p.Pack == nil {
		s.Notes = append(s.Notes, "The build names no pack: this is its mass without one.")
	}
	s.Notes = append(s.Notes, weighedHover(w))
	s.Notes = append(s.Notes, remarkNotes(p.Conflicts)...)
	for _, r := range p.Warnings {
		if r.Code == planner.SeveralCandidate || r.Code == planner.HoverScatter || strings.HasPrefix(string(r.Code), string(planner.TestUnused)) {
			s.Notes = append(s.Notes, remarkNotes([]planner.Remark{r})...)
		}
	}
	s.Notes = append(s.Notes, limitNote(p), packCaution)
	return s
}

// weighedHover is what hovering costs at the mass that was weighed.
func weighedHover(w planner.Weighing) string {
	return fmt.Sprintf("At %s it hovers on %.0f W. %s", words.Grams(w.Mass), float64(w.Plan.Drive.Hover(w.Mass).Power), propulsionNote(w.Plan))
}

func weighVerdict(w planner.Weighing) string {
	p := w.Plan
	carrying := "without a pack"
	if p.Pack != nil {
		carrying = "with " + p.Pack.ID
	}
	head := fmt.Sprintf("%s %s weighs %s all-up", p.Build.Name, carrying, words.Grams(w.Mass))
	limit := limitName(p.Build.Limit)
	switch w.Verdict {
	case planner.Over:
		if p.Build.Limit.At(w.Mass) {
			return fmt.Sprintf("%s: NOT under %s: it is at the limit.", head, limit)
		}
		return fmt.Sprintf("%s: OVER %s by %s.", head, limit, words.Grams(-w.Margin))
	case planner.SpareShort:
		return fmt.Sprintf("%s: %s, but that is LESS than the %s kept back.", head, leftUnder(w.Margin, limit), words.Grams(p.Build.Limit.Spare))
	}
	if p.Build.Limit.Spare > 0 {
		return fmt.Sprintf("%s: %s, %s of it beyond the %s kept back.", head, leftUnder(w.Margin, limit), words.Grams(w.Spare), words.Grams(p.Build.Limit.Spare))
	}
	return fmt.Sprintf("%s: %s.", head, leftUnder(w.Margin, limit))
}

// massBasis says what a mass rests on.
func massBasis(i planner.Item) string {
	switch {
	case i.Weighed:
		return "scale"
	case i.Tolerance != nil:
		return "stated"
	}
	return "catalogue"
}
