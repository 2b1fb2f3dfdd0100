package main

import (
	"fmt"
	"slices"
	"strings"

	"github.com/spf13/cobra"

	"allup/cmd/allup/internal/draw"
	"allup/cmd/allup/internal/sheet"
	"allup/model"
	"allup/model/words"
	"allup/planner"
)

func newWeigh(a *app) *cobra.Command {
	var shown *model.Mass
	var conditions conditionFlags
	var sure sureFlag
	var allLimits, why bool
	cmd := &cobra.Command{
		Use:   "weigh BUILD",
		Short: "What weighs what, against the limit; how sure",
		Long: `weigh adds up the build with the pack that it carries, compares it with the
limit, and says how sure that is. An item that you weighed is good to
0.1 g, one from the catalogue to 3 %, unless it says otherwise. If the whole build was on a
scale (--scale 238.1g, or [scale] in the build), weigh compares that with the sum of the
parts, says where the difference may be, and counts what the scale showed. BUILD is a file, or - for standard input.`,
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
			sure.apply(b)
			p, err := planner.Resolve(b)
			if err != nil {
				return err
			}
			if p, err = p.In(conditions.Conditions); err != nil {
				return err
			}
			if why {
				return a.whyToday(p)
			}
			w := p.Weigh()
			screen, said := a.pictured(weighScreen(w), func() *draw.Drawing { return draw.Mass(w) }), weighJSON(w)
			if allLimits {
				screen.Tables = append(screen.Tables, allLimitsTable(&w))
				screen.Notes = append(screen.Notes, limitsCaution)
				said.AllLimits = allLimitsJSON(&w)
			}
			if err := a.answer(screen, said); err != nil {
				return err
			}
			if w.Verdict != planner.Under {
				return errNo
			}
			return nil
		},
	}
	conditions.register(cmd.Flags())
	cmd.Flags().Var(&quantityFlag[model.Mass]{target: &shown, read: parseScale}, "scale", "`mass` that your scale shows of the build with its pack: 238.1g")
	cmd.Flags().BoolVar(&why, "why", false, "show instead every number from the build's file to mass and flight, and what to measure next")
	cmd.Flags().BoolVar(&allLimits, "all-limits", false, "compare the mass with every threshold of \"allup limits\", and list what else each asks for")
	sure.register(cmd.Flags())
	return cmd
}

func weighScreen(w planner.Weighing) sheet.Screen {
	p := w.Plan
	s := sheet.Screen{Verdict: []string{weighVerdict(w)}}
	s.Verdict = append(s.Verdict, fmt.Sprintf("Known to +- %s (2 sigma): chance of breaking the limit %s. Dry %s.",
		words.Grams(w.Expanded), words.Chance(w.OverChance), words.Grams(w.Dry)))

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
	s.Tables = []*sheet.Table{t, weighFirstTable(&w), lossTable(&w)}
	s.Notes = append(s.Notes, reconciledNotes(&w)...)
	if p.Pack == nil {
		s.Notes = append(s.Notes, "The build names no pack: this is its mass without one.")
	}
	s.Notes = append(s.Notes, rulesNote(p.Build.Limit, w.Mass, w.Spread)...)
	s.Notes = append(s.Notes, weighedHover(w))
	s.Notes = append(s.Notes, remarkNotes(p.Conflicts)...)
	for _, r := range p.Warnings {
		if r.Code == planner.SeveralCandidate || r.Code == planner.HoverScatter || strings.HasPrefix(string(r.Code), string(planner.TestUnused)) {
			s.Notes = append(s.Notes, remarkNotes([]planner.Remark{r})...)
		}
	}
	said := weighWarnings(p)
	s.Warnings = append([]string{}, remarkNotes(slices.Concat(p.Conflicts, said))...)
	if low := len(said) - len(p.Warnings); low > 0 {
		s.Notes = append(s.Notes, remarkNotes(said[:low])...)
	}
	s.Notes = append(s.Notes, limitNote(p))
	s.Notes = append(append(s.Notes, clauses(p)...), packCaution)
	if len(p.DemoParts()) > 0 {
		s.Notes = append(s.Notes, demoMarkNote)
	}
	return s
}

// weighWarnings are the warnings of a build that is weighed: how low its pack may be flown, and those about its parts.
func weighWarnings(p *planner.Plan) []planner.Remark {
	var said []planner.Remark
	chemistry := model.LiPo
	if p.Pack != nil {
		chemistry = p.Pack.Chemistry
	}
	if low, ok := p.LowLanding(chemistry); ok {
		said = append(said, low)
	}
	return append(said, p.Warnings...)
}

// weighedHover is what hovering costs at the mass that was weighed.
func weighedHover(w planner.Weighing) string {
	text := fmt.Sprintf("At %s it hovers on %.1f W from a bus of %.1f V", words.Grams(w.Mass), float64(w.HoverPower()), float64(w.Plan.Bus))
	if d, ok := w.PowerChange(); ok {
		text += fmt.Sprintf(", %s W against the build's own conditions (%s). %s", words.Signed(float64(d), 1), conditionsText(w.Plan.Home()), conditionsNote(w.Plan))
	} else {
		text += "."
	}
	return text + " " + propulsionNote(w.Plan)
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
	case planner.NotSure:
		return fmt.Sprintf("%s: %s, but NOT SURELY: the chance of breaking it is %s, and the build asks to be %s %% sure.",
			head, leftUnder(w.Margin, p.Build.Limit), words.Chance(w.OverChance), words.Trimmed(100*p.Build.Limit.Sure, 2))
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
