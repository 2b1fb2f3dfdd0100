package main

import (
	"errors"
	"fmt"
	"slices"
	"strings"

	"github.com/spf13/cobra"

	"allup/catalog"
	"allup/cmd/allup/internal/draw"
	"allup/cmd/allup/internal/sheet"
	"allup/model"
	"allup/model/words"
	"allup/planner"
)

func newSwap(a *app) *cobra.Command {
	var drawings drawingFlags
	var sure sureFlag
	cmd := &cobra.Command{
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
			sure.apply(before)
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
			pictures, err := a.draw(drawings, []*draw.Drawing{draw.Swap(s)})
			if err != nil {
				return err
			}
			if err := pictures.write(a.force); err != nil {
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
	drawings.register(cmd.Flags())
	sure.register(cmd.Flags())
	return cmd
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
		out.Notes = append(out.Notes, remarkNotes(f.Warnings())...)
		out.Notes = append(out.Notes, remarkNotes(s.After.Plan.Warnings)...)
	} else {
		out.Notes = append(out.Notes, "The build names no pack: only masses are compared.")
	}
	out.Notes = append(out.Notes, scaleNote(s.After.Plan)...)
	out.Notes = append(out.Notes, demoPartsNote(s.After.Plan)...)
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
	mass := fmt.Sprintf("%s all-up (%s)", words.Grams(w.Mass), massChange(s.MassChange()))
	left := leftUnder(w.Margin, s.After.Plan.Build.Limit)
	var text string
	switch {
	case w.Verdict == planner.Over && s.After.Plan.Build.Limit.At(w.Mass):
		text = fmt.Sprintf("NO: %s is not under %s: it is at the limit", mass, limit)
	case w.Verdict == planner.Over:
		text = fmt.Sprintf("NO: %s is OVER %s by %s", mass, limit, words.Grams(-w.Margin))
	case w.Verdict == planner.SpareShort:
		text = fmt.Sprintf("NO: %s is %s, LESS than the %s kept back", mass, left, words.Grams(s.After.Plan.Build.Limit.Spare))
	case w.Verdict == planner.NotSure:
		text = fmt.Sprintf("NO: %s is %s, but NOT SURELY: the chance of breaking it is %s, and the build asks to be %s %% sure",
			mass, left, words.Percent(w.OverChance), words.Trimmed(100*s.After.Plan.Build.Limit.Sure, 2))
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
	time, punch := figuresOf().figure("flight_s"), figuresOf().figure("punch_ratio")
	if d := s.Compare(time.Of).Difference; d != nil && !changesNothing(applied) {
		text += fmt.Sprintf("; %s time %s, punch %s", flightWord(s.After.Flown), change(time, *d), change(punch, *s.Compare(punch.Of).Difference))
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
	if a.Warns(planner.Doubtful) {
		text += " The pack's tested metrics are DOUBTFUL."
	}
	return text
}

// changesNothing reports whether every change put on what was there.
func changesNothing(applied []catalog.AppliedChange) bool {
	return !slices.ContainsFunc(applied, func(c catalog.AppliedChange) bool { return c.Was != c.Now })
}

// change is a difference of a figure in words.
func change(f figure, d float64) string {
	text := f.Difference(d).Text
	if text == words.Fixed(0, f.Digits) {
		return "unchanged"
	}
	return strings.TrimSpace(text + " " + f.Unit)
}

func massChange(m model.Mass) string {
	switch text := words.Grams(m); {
	case text == words.Grams(model.Mass(0)):
		return "as before"
	case m > 0:
		return "+" + text
	default:
		return text
	}
}

// leftUnder says how far a mass that keeps a limit is below it.
func leftUnder(margin model.Mass, l catalog.BuildLimit) string {
	if l.At(l.Mass - margin) {
		return "at " + limitName(l) + " exactly, which its comparison still includes"
	}
	return "under " + limitName(l) + " by " + words.Grams(margin)
}

func swapTable(s *planner.Swap) *sheet.Table {
	t := &sheet.Table{Columns: []sheet.Column{
		{Head: "", Key: "figure", Left: true},
		{Head: "before", Key: "before"},
		{Head: "after", Key: "after"},
		{Head: "difference", Key: "difference"},
		{Head: "5-95 % after", Key: "after_5_95", Keep: 1},
	}}
	all := figuresOf()
	for _, key := range []string{
		"all_up_g", "margin_g", "flight_s", "hover_power_w", "hover_current_a", "hover_throttle", "punch_ratio", "punch_ratio_landing", "pack_headroom", "pack_c_max",
	} {
		f := all.figure(key)
		name := f.name()
		if key == "flight_s" {
			name = flightWord(s.After.Flown) + " " + f.Unit
		}
		sides := s.Compare(f.Of)
		cells := []sheet.Cell{sheet.Unknown(), sheet.Unknown(), sheet.Unknown()}
		if sides.Before != nil {
			cells[0] = f.Cell(*sides.Before)
		}
		if sides.After != nil {
			cells[1] = f.Cell(*sides.After)
		}
		if sides.Difference != nil {
			cells[2] = f.Difference(*sides.Difference)
		}
		t.Add(sheet.Word(name), cells[0], cells[1], cells[2], sheet.Word(orDash(f.between(s.After.Assessed(), " to "))))
	}
	return t
}
