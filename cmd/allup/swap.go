package main

import (
	"errors"
	"fmt"
	"slices"

	"github.com/spf13/cobra"

	"allup/catalog"
	"allup/cmd/allup/internal/sheet"
	"allup/model"
	"allup/model/words"
	"allup/planner"
)

func newSwap(a *app) *cobra.Command {
	return &cobra.Command{
		Use:   "swap BUILD CHANGE...",
		Short: "What changes if this part replaces that one; does it stay under",
		Long: `swap compares the build with a changed one, before money is spent. CHANGE is
  SLOT=ID            another frame, motor, prop, board or pack
  with=ID            one more piece of gear
  with="NAME:12.5g"  anything else, by its mass
  without=ID         a piece of gear, or an extra, taken off
several at once, from left to right. BUILD is a file, or - for standard input.`,
		Example:           "  allup swap stint.toml pack=sedge-650 without=eyrie-cam",
		Args:              arguments(2, -1, "a build file and at least one change"),
		ValidArgsFunction: a.completeChange,
		RunE: func(_ *cobra.Command, args []string) error {
			var changes []catalog.Change
			var faults catalog.InputErrors
			for _, text := range args[1:] {
				c, err := catalog.ParseChange(text)
				var bad catalog.InputErrors
				if errors.As(err, &bad) {
					faults = append(faults, bad...)
				} else if err != nil {
					return err
				}
				changes = append(changes, c)
			}
			if len(faults) > 0 {
				return faults
			}
			before, err := a.build(args[0])
			if err != nil {
				return err
			}
			after, applied, err := before.Apply(changes)
			if err != nil {
				return err
			}
			packs, err := planner.NewPackSet(before.Parts)
			if err != nil {
				return err
			}
			s, err := planner.CompareSwap(before, after, packs)
			if err != nil {
				return err
			}
			if err := a.answer(swapScreen(s, applied), swapJSON(s, applied)); err != nil {
				return err
			}
			if !s.Yes() {
				return errNo
			}
			return nil
		},
	}
}

func swapScreen(s *planner.Swap, applied []catalog.AppliedChange) sheet.Screen {
	out := sheet.Screen{Verdict: []string{swapVerdict(s, applied)}}
	for _, r := range s.Newly {
		out.Verdict = append(out.Verdict, "Newly broken: "+remarkText(r)+".")
	}
	for _, r := range s.Still {
		out.Verdict = append(out.Verdict, "Broken before and after: "+remarkText(r)+".")
	}
	for _, r := range s.Mended {
		out.Verdict = append(out.Verdict, "Mended: "+remarkText(r)+".")
	}
	changes := &sheet.Table{Columns: []sheet.Column{{Head: "change", Key: "change", Left: true}, {Head: "was", Key: "was", Left: true}, {Head: "now", Key: "now", Left: true}}}
	for _, c := range applied {
		changes.Add(sheet.Word(c.Text), sheet.Word(orDash(c.Was)), sheet.Word(orDash(c.Now)))
	}
	out.Tables = []*sheet.Table{swapTable(s), changes}
	if f := s.After.Flown; f != nil {
		out.Notes = append(out.Notes, propulsionNote(s.After.Plan))
		out.Notes = append(out.Notes, remarkNotes(f.Warnings)...)
		out.Notes = append(out.Notes, remarkNotes(s.After.Plan.Warnings)...)
	} else {
		out.Notes = append(out.Notes, "The build names no pack: only masses are compared.")
	}
	out.Notes = append(out.Notes, limitNote(s.After.Plan))
	if s.After.Flown != nil {
		out.Notes = append(out.Notes, packCaution)
	}
	return out
}

func orDash(s string) string {
	if s == "" {
		return "-"
	}
	return s
}

// flightWord is what a duration is of: hover, or the build's flight phases.
func flightWord(a *planner.Assessment) string {
	if a != nil && a.Cycle != nil {
		return "flight"
	}
	return "hover"
}

func swapVerdict(s *planner.Swap, applied []catalog.AppliedChange) string {
	w := s.After.Weighing
	limit := limitName(s.After.Plan.Build.Limit)
	mass := fmt.Sprintf("%s all-up (%s)", words.Grams(w.Mass), massChange(w.Mass-s.Before.Weighing.Mass))
	left := leftUnder(w.Margin, limit)
	var text string
	switch {
	case w.Verdict == planner.Over && s.After.Plan.Build.Limit.At(w.Mass):
		text = fmt.Sprintf("NO: %s is not under %s: it is at the limit", mass, limit)
	case w.Verdict == planner.Over:
		text = fmt.Sprintf("NO: %s is OVER %s by %s", mass, limit, words.Grams(-w.Margin))
	case w.Verdict == planner.SpareShort:
		text = fmt.Sprintf("NO: %s is %s, LESS than the %s kept back", mass, left, words.Grams(s.After.Plan.Build.Limit.Spare))
	case len(s.Newly) > 0:
		text = fmt.Sprintf("NO: %s stays %s, but the swap breaks %s", mass, left, words.Count(len(s.Newly), "other rule", "other rules"))
	case !s.Yes():
		text = fmt.Sprintf("NO: %s stays %s, but %s breaks what it broke before", mass, left, s.After.Flown.Pack.ID)
	case changesNothing(applied):
		text = fmt.Sprintf("Nothing changes: %s stays %s", mass, left)
	case len(s.Still) > 0:
		text = fmt.Sprintf("Yes by mass, %s stays %s, but %s broken as before", mass, left, words.Count(len(s.Still), "rule is", "rules are"))
	default:
		text = fmt.Sprintf("Yes: %s stays %s", mass, left)
	}
	if b, a := s.Before.Flown, s.After.Flown; flies(b) && flies(a) && !changesNothing(applied) {
		text += fmt.Sprintf("; %s time %s, punch %s", flightWord(a),
			change(a.Duration().Minutes()-b.Duration().Minutes(), " min"), change(a.PunchRatio()-b.PunchRatio(), ""))
	}
	text += "."
	if s.After.Flown != nil && !changesNothing(applied) {
		text += basisWarning(s.After.Flown)
	}
	return text
}

// basisWarning says in a verdict that its pack's figures do not rest on a sound test.
func basisWarning(a *planner.Assessment) (text string) {
	if a.Pack.Basis == planner.BasisLabel {
		text += " That rests on the pack's LABEL ONLY."
	}
	if hasCode(a.Warnings, planner.Doubtful) {
		text += " The pack's tested metrics are DOUBTFUL."
	}
	return text
}

// flies reports whether there is a flight to speak of.
func flies(a *planner.Assessment) bool { return a != nil && a.Flight.Duration > 0 && a.Duration() > 0 }

// changesNothing reports whether every change put on what was there.
func changesNothing(applied []catalog.AppliedChange) bool {
	return !slices.ContainsFunc(applied, func(c catalog.AppliedChange) bool { return c.Was != c.Now })
}

// change is a difference in words.
func change(v float64, unit string) string {
	if text := words.Signed(v, 1); text != words.Fixed(0, 1) {
		return text + unit
	}
	return "unchanged"
}

func massChange(m model.Mass) string {
	switch {
	case m > 0:
		return "+" + words.Grams(m)
	case m < 0:
		return "-" + words.Grams(-m)
	}
	return "as before"
}

// leftUnder says how far a mass that keeps a limit is below it.
func leftUnder(margin model.Mass, limit string) string {
	switch {
	case margin < model.Gram/1e6:
		return "at " + limit + " exactly, which its comparison still includes"
	case margin < model.Gram/200:
		return "under " + limit + " by less than 0.01 g"
	}
	return "under " + limit + " by " + words.Grams(margin)
}

func swapTable(s *planner.Swap) *sheet.Table {
	t := &sheet.Table{Columns: []sheet.Column{
		{Head: "", Key: "figure", Left: true},
		{Head: "before", Key: "before"},
		{Head: "after", Key: "after"},
		{Head: "difference", Key: "difference"},
		{Head: "5-95 % after", Key: "after_5_95", Keep: 1},
	}}
	figure := func(name string, digits int, before, after *float64, band string) {
		diff := sheet.Unknown()
		if before != nil && after != nil {
			d := *after - *before
			diff = sheet.Cell{Text: words.Signed(d, digits), Value: &d}
		}
		t.Add(sheet.Word(name), maybe(before, digits), maybe(after, digits), diff, sheet.Word(orDash(band)))
	}
	of := func(f func(*planner.Assessment) float64) (before, after *float64) {
		get := func(a *planner.Assessment) *float64 {
			if !flies(a) {
				return nil
			}
			v := f(a)
			return &v
		}
		return get(s.Before.Flown), get(s.After.Flown)
	}
	masses := func(name string, f func(planner.Weighing) float64, band string) {
		b, a := f(s.Before.Weighing), f(s.After.Weighing)
		figure(name, 1, &b, &a, band)
	}
	var band planner.Band
	has := s.After.Flown != nil && s.After.Flown.Band != nil
	if has {
		band = *s.After.Flown.Band
	}
	in := func(i planner.Interval, scale float64, digits int) string {
		if !has {
			return ""
		}
		return span(i, scale, digits)
	}
	masses("all-up g", func(w planner.Weighing) float64 { return w.Mass.Grams() }, in(band.Mass, 1000, 1))
	masses("under limit g", func(w planner.Weighing) float64 { return w.Margin.Grams() }, "")
	b, a := of(func(a *planner.Assessment) float64 { return a.Duration().Minutes() })
	figure(flightWord(s.After.Flown)+" min", 1, b, a, in(band.Time, 1.0/60, 1))
	b, a = of(func(a *planner.Assessment) float64 { return float64(a.Flight.Hover.Power) })
	figure("hover W", 1, b, a, "")
	b, a = of(func(a *planner.Assessment) float64 { return float64(a.Flight.Current) })
	figure("hover A", 2, b, a, in(band.Current, 1, 2))
	b, a = of(func(a *planner.Assessment) float64 { return 100 * a.Flight.Throttle })
	figure("hover throttle %", 1, b, a, "")
	b, a = of(func(a *planner.Assessment) float64 { return a.PunchRatio() })
	figure("punch, times weight", 1, b, a, in(band.Punch, 1, 1))
	b, a = of(func(a *planner.Assessment) float64 { return a.LandingRatio() })
	figure("punch on landing", 1, b, a, "")
	b, a = of(func(a *planner.Assessment) float64 { return a.Punch.Headroom })
	figure("pack headroom", 2, b, a, "")
	b, a = of(func(a *planner.Assessment) float64 { return a.MaxTemperature().Celsius() })
	figure("pack deg C at most", 0, b, a, "")
	return t
}
