package main

import (
	"errors"
	"fmt"
	"maps"
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
	var suggest bool
	var conditions conditionFlags
	var sure sureFlag
	var why bool
	cmd := &cobra.Command{
		Use:   "swap BUILD [CHANGE...]",
		Short: "What changes if this part replaces that one; does it stay under",
		Long: `swap compares the build with a changed one, before money is spent. CHANGE is
  SLOT=ID            another frame, motor, prop, board or pack
  with=ID            one more piece of gear
  with="NAME:12.5g"  anything else, by its mass
  without=ID         a piece of gear, or an extra, taken off
several at once, from left to right. Both sides use the
best kind of data on motor and propeller that both have. Intervals are 5 to 95 %; errors
that both sides share drop out of a difference. With --suggest it finds the change, and
the pair of changes, that helps the build most by its goal; where the build is over
its limit, the changes that bring it under at the least loss. BUILD is a file, or - for
standard input.`,
		Example:           "  allup swap stint.toml pack=sedge-650 without=eyrie-cam\n  allup swap stint.toml --suggest",
		Args:              arguments(1, -1, "a build file, and changes or --suggest"),
		ValidArgsFunction: a.completeChange,
		RunE: func(cmd *cobra.Command, args []string) error {
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
			if suggest {
				return a.suggest(cmd.Context(), after, packs, conditions.Conditions, commandLine(cmd, args, "suggest", "why", "format", "columns", "out", "force", "quiet", "drawings", "dark"))
			}
			s, err := planner.CompareSwapIn(before, after, packs, conditions.Conditions)
			if err != nil {
				return err
			}
			if why {
				return a.whySwap(s, packs)
			}
			pictures, err := a.draw(drawings, []*draw.Drawing{draw.Swap(s)})
			if err != nil {
				return err
			}
			if err := a.beside(pictures); err != nil {
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
	conditions.register(cmd.Flags())
	drawings.register(cmd.Flags())
	cmd.Flags().BoolVar(&suggest, "suggest", false, "find the change, and the pair of changes, that helps most")
	cmd.Flags().BoolVar(&why, "why", false, "show instead every number behind both sides, and what to measure next")
	sure.register(cmd.Flags())
	return cmd
}

func swapScreen(s *planner.Swap, applied []catalog.AppliedChange) sheet.Screen {
	out := sheet.Screen{Verdict: []string{swapVerdict(s, applied)}}
	for _, r := range s.Newly {
		out.Verdict = append(out.Verdict, "Now fails: "+remarkText(r)+".")
	}
	for _, r := range s.Still {
		out.Verdict = append(out.Verdict, "Fails before and after: "+remarkText(r)+".")
	}
	for _, r := range s.Mended {
		out.Verdict = append(out.Verdict, "Now passes what failed before: "+remarkText(r)+".")
	}
	out.Verdict = append(out.Verdict, remedyTexts(s)...)
	changes := &sheet.Table{Columns: []sheet.Column{{Head: "change", Key: "change", Left: true}, {Head: "was", Key: "was", Left: true}, {Head: "now", Key: "now", Left: true}}}
	for _, c := range applied {
		changes.Add(sheet.Word(c.Text), sheet.Word(orDash(c.Was)), sheet.Word(orDash(c.Now)))
	}
	out.Tables, out.Warnings = []*sheet.Table{swapTable(s), changes}, []string{}
	if f := s.After.Flown; f != nil && s.Before.Flown != nil {
		out.Tables = append(out.Tables, knownTable(s))
		out.Notes = append(out.Notes, comparedNotes(s)...)
		out.Notes = append(out.Notes, conditionsNote(s.After.Plan))
		out.Warnings = remarkNotes(slices.Concat(f.Warnings(), s.After.Plan.Warnings))
		out.Notes = append(out.Notes, out.Warnings...)
	} else {
		out.Notes = append(out.Notes, "The build names no pack: only masses are compared.")
	}
	out.Notes = append(out.Notes, scaleNote(s.After.Plan)...)
	out.Notes = append(out.Notes, demoPartsNote(s.After.Plan)...)
	out.Notes = append(out.Notes, limitNote(s.After.Plan))
	out.Notes = append(out.Notes, clauses(s.After.Plan)...)
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
	left := leftUnder(w.Margin, s.After.Plan.Build.Limit)
	var text string
	switch {
	case w.Verdict == planner.Over && s.After.Plan.Build.Limit.At(w.Mass):
		text = "NO: at the limit, which is not under " + limitName(s.After.Plan.Build.Limit)
	case w.Verdict == planner.Over:
		text = fmt.Sprintf("NO: OVER %s by %s", limitName(s.After.Plan.Build.Limit), words.Grams(-w.Margin))
	case w.Verdict == planner.SpareShort:
		text = fmt.Sprintf("NO: %s, LESS than the %s kept back", left, words.Grams(s.After.Plan.Build.Limit.Spare))
	case w.Verdict == planner.NotSure:
		text = fmt.Sprintf("NO: %s, but NOT SURELY, the chance of breaking it is %s and the build asks to be %s %% sure",
			left, words.Chance(w.OverChance), words.Trimmed(100*s.After.Plan.Build.Limit.Sure, 2))
	case len(s.Newly) > 0:
		text = fmt.Sprintf("NO: %s %s, but now fails %s", keeps(s), left, words.Count(len(s.Newly), "other rule", "other rules"))
	case !s.Yes():
		text = fmt.Sprintf("NO: %s %s, but %s fails what it failed before", keeps(s), left, s.After.Own.Pack.ID)
	case changesNothing(applied):
		text = "Nothing changes: " + left
	case len(s.Still) > 0:
		text = fmt.Sprintf("%s %s, with %s failed as before", capital(keeps(s)), left, words.Count(len(s.Still), "rule", "rules"))
	default:
		text = capital(keeps(s)) + " " + left
	}
	text += fmt.Sprintf(": %s all-up (%s)", words.Grams(w.Mass), massChange(s.MassChange()))
	if !changesNothing(applied) && s.Difference != nil {
		text += fmt.Sprintf("; %s time %s; punch %s", flightWord(s.After.Flown), differenceInWords(s, planner.SwapTime), differenceInWords(s, planner.SwapPunch))
	}
	text += "."
	if s.After.Own != nil && s.Yes() {
		text += overWarning(s.After.Own)
	}
	if s.After.Flown != nil && !changesNothing(applied) {
		text += basisWarning(s.After.Flown) + coldWarning(s.After.Plan, s.After.Flown.Pack)
	}
	return text
}

// keeps says what the build does with a limit that it keeps after the change.
func keeps(s *planner.Swap) string {
	if s.Before.Weighing.Verdict == planner.Over {
		return "comes"
	}
	return "stays"
}

func capital(word string) string { return strings.ToUpper(word[:1]) + word[1:] }

// differenceInWords is a difference in words, with its band and what that leaves open.
func differenceInWords(s *planner.Swap, which planner.SwapFigure) string {
	f := figuresOf().figure(string(which))
	d := *s.Compare(f.Of).Difference
	band := which.Of(s.Difference)
	if band.Low == band.High {
		return change(f, d)
	}
	text := fmt.Sprintf("%s (%s)", strings.TrimSpace(f.Difference(d).Text+" "+f.Unit), f.signedRange(band))
	if !band.Tells() {
		text += ", the data cannot tell"
	}
	return text
}

// signedRange is an interval of differences in words.
func (f figure) signedRange(i planner.Interval) string {
	return f.Difference(i.Low).Text + " to " + f.Difference(i.High).Text
}

// remedyTexts say what would settle the differences that the data cannot tell from none.
func remedyTexts(s *planner.Swap) []string {
	var texts, open []string
	even := map[string][]string{}
	for i := range s.Remedies {
		r := &s.Remedies[i]
		f := figuresOf().figure(string(r.Figure))
		what, leaves := "punch", f.signedRange(r.Leaves)
		if r.Figure == planner.SwapTime {
			what = flightWord(s.After.Flown) + " time"
			leaves += " " + f.Unit
		}
		switch now := r.Figure.Of(s.Difference); {
		case r.Leaves.Tells():
			texts = append(texts, fmt.Sprintf("What would settle the %s: %s; that would leave about %s.", what, r.Text, leaves))
		case r.Leaves.High-r.Leaves.Low < 0.7*(now.High-now.Low):
			even[r.Text] = append(even[r.Text], leaves+" of "+what)
		default:
			open = append(open, what)
		}
	}
	for _, text := range slices.Sorted(maps.Keys(even)) {
		texts = append(texts, fmt.Sprintf("Even %s would leave about %s: the two are close.", text, words.List(even[text], "and")))
	}
	if len(open) > 0 {
		texts = append(texts, fmt.Sprintf("Neither a bench nor a scale would settle the %s: fly both and compare.", words.List(open, "and the")))
	}
	return texts
}

// knownTable says what the rotors of each side are known by.
func knownTable(s *planner.Swap) *sheet.Table {
	t := &sheet.Table{Columns: []sheet.Column{
		{Head: "rotors", Key: "side", Left: true},
		{Head: "known by", Key: "source", Left: true},
		{Head: "power +- %", Key: "power_sigma_percent"},
		{Head: "rests on", Key: "reason", Left: true, Wrap: true},
	}}
	row := func(name string, p *planner.Plan) {
		is := p.Propulsion
		t.Add(sheet.Word(name), sheet.Word(knowledgeWord(is.Source)), sheet.Number(100*p.PowerSigma(), 0), sheet.Word(is.Reason))
	}
	before, after := &s.Before, &s.After
	if a, b := before.Plan.Propulsion, after.Plan.Propulsion; a.Reason == b.Reason {
		row("both sides", after.Plan)
	} else {
		row("before", before.Plan)
		row("after", after.Plan)
	}
	if !before.Alike() {
		row("before, best known", before.Best)
	}
	if !after.Alike() {
		row("after, best known", after.Best)
	}
	return t
}

// comparedNotes say how the two sides were made to compare.
func comparedNotes(s *planner.Swap) []string {
	var notes []string
	time, punch := figuresOf().figure("flight_s"), figuresOf().figure("punch_ratio")
	for _, side := range []struct {
		name string
		of   *planner.Outcome
	}{{"before", &s.Before}, {"after", &s.After}} {
		o := side.of
		if o.Alike() {
			continue
		}
		note := fmt.Sprintf("Both sides are compared by what is known of both. More is known of the build %s (%s)", side.name, knowledgeWord(o.Best.Propulsion.Source))
		if t, ok := time.Of(o.Own); ok {
			verb := "hovers"
			if o.Own.Cycle != nil {
				verb = "flies"
			}
			note += fmt.Sprintf(": by that it %s %s %s and punches %s times its weight, as \"allup rank\" says", verb, time.Cell(t).Text, time.Unit, punch.Cell(o.Own.PunchRatio()).Text)
		}
		notes = append(notes, note+".")
	}
	return append(notes, "5-95 % of a difference leaves out what both sides share: the same part is off by the same amount before and after. Power +- is one sigma.")
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
		{Head: "its 5-95 %", Key: "difference_5_95"},
		{Head: "after 5-95 %", Key: "after_5_95", Keep: 1},
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
		off := sheet.Unknown()
		if f.Band != nil && s.Difference != nil {
			low, high := f.Band(s.Difference)
			off = sheet.Interval(f.signedRange(planner.Interval{Low: low, High: high}), *f.Difference(low).Value, *f.Difference(high).Value)
		}
		t.Add(sheet.Word(name), cells[0], cells[1], cells[2], off, f.bandCell(s.After.Assessed(), " to "))
	}
	return t
}

// knowledgeWord is a kind of knowledge of the rotors in a word or two.
func knowledgeWord(k model.Knowledge) string {
	switch k {
	case planner.FromFlownHover:
		return "flown hover"
	case model.FromStaticTable:
		return "static table"
	case model.FromThrustTest:
		return "thrust test"
	case model.FromCoefficients:
		return "coefficients"
	}
	return "size"
}
