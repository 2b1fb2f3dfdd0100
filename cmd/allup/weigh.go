package main

import (
	"fmt"
	"strings"

	"github.com/spf13/cobra"

	"allup/cmd/allup/internal/sheet"
	"allup/model"
	"allup/model/words"
	"allup/planner"
)

func newWeigh(a *app) *cobra.Command {
	var shown *model.Mass
	cmd := &cobra.Command{
		Use:   "weigh BUILD",
		Short: "What weighs what, against the limit; how sure",
		Long: `weigh adds up the build with the pack that it carries, compares it with the
limit, and says how sure that is. An item that you weighed counts +- 0.1 g, one
from the catalogue +- 3 %, unless it says otherwise. With the whole build on a
scale, --scale 238.1g or [scale] in the build, it says where the difference may
hide, and the scale counts. BUILD is a file, or - for standard input.`,
		Args:              arguments(1, 1, "one build file"),
		ValidArgsFunction: completeBuild,
		RunE: func(_ *cobra.Command, args []string) error {
			b, err := a.build(args[0])
			if err != nil {
				return err
			}
			if shown != nil {
				weighedNow(b, *shown)
			}
			p, err := planner.Resolve(b)
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
	cmd.Flags().Var(&quantityFlag[model.Mass]{target: &shown, read: parseScale}, "scale", "`mass` that your scale shows of the build with its pack: 238.1g")
	return cmd
}

func weighScreen(w planner.Weighing) sheet.Screen {
	p := w.Plan
	s := sheet.Screen{Verdict: []string{weighVerdict(w)}}
	s.Verdict = append(s.Verdict, fmt.Sprintf("Known to +- %s (2 sigma): chance of breaking the limit %s. Dry %s.",
		words.Grams(w.Expanded), words.Percent(w.OverChance), words.Grams(w.Dry)))

	t := &sheet.Table{Columns: []sheet.Column{
		{Head: "slot", Key: "slot", Left: true},
		{Head: "part", Key: "id", Left: true},
		{Head: "name", Key: "name", Left: true, Keep: 3},
		{Head: "n", Key: "count"},
		{Head: "each g", Key: "each_g", Keep: 1},
		{Head: "total g", Key: "total_g"},
		{Head: "+- g", Key: "half_width_g", Keep: 2},
		{Head: "share %", Key: "share_percent", Keep: 1},
		{Head: "mass from", Key: "mass_basis", Left: true, Keep: 1},
		{Head: "", Key: "marks", Left: true},
	}}
	for _, i := range w.Items {
		t.Add(sheet.Word(i.Slot), sheet.Word(i.ID), sheet.Word(i.Name), sheet.Integer(i.Count), sheet.Number(i.Each.Grams(), 2), sheet.Number(i.Total().Grams(), 2),
			sheet.Number(i.TotalHalfWidth().Grams(), 2), sheet.Number(100*w.Share(i), 1), sheet.Word(massBasis(i)), demoMarkOf(i.Demo))
	}
	none := sheet.Word("")
	if p.Scale != nil {
		t.Add(sheet.Word("sum"), none, none, none, none, sheet.Number(w.Sum.Grams(), 2), sheet.Number(w.SumExpanded.Grams(), 2), none, sheet.Word("list, 2 sigma"), none)
		t.Add(sheet.Word("all-up"), none, none, none, none, sheet.Number(w.Mass.Grams(), 2), sheet.Number(w.Expanded.Grams(), 2), sheet.Number(100, 1), sheet.Word("scale, 2 sigma"), none)
	} else {
		t.Add(sheet.Word("all-up"), none, none, none, none, sheet.Number(w.Mass.Grams(), 2), sheet.Number(w.Expanded.Grams(), 2), sheet.Number(100, 1), sheet.Word("2 sigma"), none)
	}
	s.Tables = []*sheet.Table{t, weighFirstTable(&w)}
	s.Notes = append(s.Notes, reconciledNotes(&w)...)
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
	if len(p.DemoParts()) > 0 {
		s.Notes = append(s.Notes, demoMarkNote)
	}
	return s
}

// weighedHover is what hovering costs at the mass that was weighed.
func weighedHover(w planner.Weighing) string {
	return fmt.Sprintf("At %s it hovers on %.0f W. %s", words.Grams(w.Mass), float64(w.HoverPower()), propulsionNote(w.Plan))
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
		return fmt.Sprintf("%s: %s, but that is LESS than the %s kept back.", head, leftUnder(w.Margin, p.Build.Limit), words.Grams(p.Build.Limit.Spare))
	}
	if p.Build.Limit.Spare > 0 {
		return fmt.Sprintf("%s: %s, %s of it beyond the %s kept back.", head, leftUnder(w.Margin, p.Build.Limit), words.Grams(w.Spare), words.Grams(p.Build.Limit.Spare))
	}
	return fmt.Sprintf("%s: %s.", head, leftUnder(w.Margin, p.Build.Limit))
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
