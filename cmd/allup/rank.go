package main

import (
	"cmp"
	"fmt"
	"maps"
	"slices"
	"strings"

	"github.com/spf13/cobra"

	"allup/cmd/allup/internal/draw"
	"allup/cmd/allup/internal/sheet"
	"allup/model"
	"allup/model/words"
	"allup/planner"
)

func newRank(a *app) *cobra.Command {
	var conditions conditionFlags
	var sure sureFlag
	var quick bool
	var why string
	var drawings drawingFlags
	cmd := &cobra.Command{
		Use:   "rank BUILD",
		Short: "Which packs suit this build, best first, and why the others do not",
		Long: `rank puts every pack of the catalogue on the build: packs that keep it under the
limit and that it can carry are ranked by a weighted geometric mean of flight
time, punch ratio and time per price, with the build's own weights ([goal]);
1.00 is the middle of the field. The others are listed with every reason.
Intervals are 5 to 95 %. The data cannot tell the packs of one group (grp) apart: the
chance that its first really beats another of them is under 70 %. BUILD is a file, or - for standard input.`,
		Args:              arguments(1, 1, "one build file"),
		ValidArgsFunction: completeBuild,
		RunE: func(_ *cobra.Command, args []string) error {
			b, err := a.build(args[0])
			if err != nil {
				return err
			}
			sure.apply(b)
			p, err := planner.Resolve(b)
			if err != nil {
				return err
			}
			if p, err = p.In(conditions.Conditions); err != nil {
				return err
			}
			packs, err := planner.NewPackSet(p.Build.Parts)
			if err != nil {
				return err
			}
			if why != "" {
				return a.why(p, packs, why)
			}
			m := a.meter("packs", a.quiet)
			r := p.Rank(packs, planner.RankOptions{Quick: quick, Progress: m.tick})
			m.clear()
			pictures, err := a.draw(drawings, drawings.of(func() []*draw.Drawing { return []*draw.Drawing{draw.Packs(r), draw.Flight(p, chosen(r))} }))
			if err != nil {
				return err
			}
			if err := a.beside(pictures); err != nil {
				return err
			}
			screen := func() sheet.Screen {
				if a.format == formatCSV {
					return sheet.Screen{Sheet: rankSheet(r, len(a.columns) > 0), Warnings: planWarnings(p)}
				}
				return a.pictured(rankScreen(r, len(a.columns) > 0), func() *draw.Drawing { return draw.Packs(r) })
			}
			if err := a.answerOf(screen, func() any { return rankJSON(r) }); err != nil {
				return err
			}
			if len(r.Ranked) == 0 {
				return errNo
			}
			return nil
		},
	}
	conditions.register(cmd.Flags())
	sure.register(cmd.Flags())
	drawings.register(cmd.Flags())
	cmd.Flags().StringVar(&why, "why", "", "show instead every number behind the answer for this `pack`, and what to measure next")
	completeFlag(cmd, "why", a.packIDs)
	cmd.Flags().BoolVar(&quick, "quick", false, "faster and less exact: bands and chances of first order, without draws")
	return cmd
}

// rankScreen has every column that is known where everything is asked for, and else the usual ones.
func rankScreen(r *planner.Ranking, everything bool) sheet.Screen {
	p := r.Plan
	s := sheet.Screen{Verdict: rankVerdict(r)}
	ranked := rankTable(r.Ranked, len(p.Build.Flight.Phases) > 0, everything)
	excluded := &sheet.Table{Columns: []sheet.Column{
		{Head: "does not suit", Key: "pack", Left: true},
		{Head: "all-up g", Key: "all_up_g", Keep: 1},
		{Head: "", Key: "marks", Left: true},
		{Head: "why", Key: "reasons", Left: true, Wrap: true},
	}}
	for _, a := range r.Excluded {
		excluded.Add(sheet.Word(a.Pack.ID), gramsCell(a.Mass), demoMarkOf(a.Pack.Demo()), sheet.Word(joinReasons(a.Against())))
	}
	s.Tables = []*sheet.Table{ranked, excluded}
	if len(r.Ranked) > 0 && r.Ranked[0].Cycle != nil {
		s.Tables = []*sheet.Table{ranked, phaseTable(&r.Ranked[0]), excluded}
	}
	s.Notes = append(s.Notes, propulsionNote(p))
	s.Notes = append(s.Notes, scaleNote(p)...)
	s.Notes = append(s.Notes, remarkNotes(p.Conflicts)...)
	s.Notes = append(s.Notes, packNotes(r.Ranked)...)
	s.Notes = append(s.Notes, remarkNotes(p.Warnings)...)
	if len(r.Ranked) > 0 {
		if best := &r.Ranked[0]; best.Cycle != nil {
			s.Notes = append(s.Notes, phaseNotes(p, best)...)
		} else {
			s.Notes = append(s.Notes, hoverNote(p, landings(r)))
		}
		s.Notes = append(s.Notes, conditionsNote(p), speedNote(p, &r.Ranked[0]),
			fmt.Sprintf("Punch is thrust over weight in a held punch-out at %.0f %% charge, never below %.1f V per cell; \"limited by\" is what limits it.",
				100*p.Build.Flight.PunchCharge, float64(model.PunchPerCell)),
			sureNote(r),
			marksNote("FLDIW"))
	}
	s.Notes = append(s.Notes, leftOutNotes(r.LeftOut)...)
	s.Notes = append(s.Notes, demoPartsNote(p)...)
	s.Notes = append(s.Notes, limitNote(p), packCaution)
	return s
}

// hoverNote says what is hovered, down to a landing voltage.
func hoverNote(p *planner.Plan, landing string) string {
	return fmt.Sprintf("Hover from full to %s or %.0f %% charge, whichever comes first. Flying costs more: wind, turns and punches are not in it.",
		landing, 100*p.Build.Flight.Reserve)
}

// landings are the landing voltages of the ranked packs, of which there is one at the least: they differ where
// the build leaves them to the chemistry.
func landings(r *planner.Ranking) string {
	best := &r.Ranked[0]
	for i := range r.Ranked {
		if a := &r.Ranked[i]; a.LandPerCell != best.LandPerCell {
			return fmt.Sprintf("%.2f V per cell (%.2f for %s, as the build sets no land_v_per_cell)", float64(best.LandPerCell), float64(a.LandPerCell), a.Pack.Chemistry)
		}
	}
	return landing(r.Plan, best.Pack.Chemistry)
}

// landing is the landing voltage of a chemistry, and whose it is where the build does not set it and it is not
// the usual one.
func landing(p *planner.Plan, c model.Chemistry) string {
	text := fmt.Sprintf("%.2f V per cell", float64(p.MissionOn(c).Landing.PerCell))
	if p.Build.Flight.LandPerCell == 0 && c == model.LiIon {
		text += " (that of liion, as the build sets no land_v_per_cell)"
	}
	return text
}

const packCaution = "Packs burn: follow the makers' limits, charge attended, land before 3.0 V per cell. Propellers cut: take them off on the bench."

// overWarning says that a build may be over its limit although its masses add up to less; "" where that is not likely.
func overWarning(a *planner.Assessment) string {
	if !a.Warns(planner.MaybeOver) {
		return ""
	}
	return fmt.Sprintf(" Its chance of BREAKING the limit is %s: weigh it.", words.Chance(a.OverChance))
}

// coldWarning says that figures are of a warmer pack than the one that flies, or may be, as nobody said how warm it is
// in cold air; "" where packs were measured as cold. Nil is no pack in particular.
func coldWarning(p *planner.Plan, pack *planner.Pack) string {
	if pack != nil && !p.UnmeasuredCold(pack) {
		return ""
	}
	t, air := p.Build.Air.PackTemperature, p.Build.Air.Temperature
	switch {
	case t != nil && *t < model.ColdestMeasured:
		return fmt.Sprintf(" NOT measured as cold as that: time and punch are as at %.0f C, and really LESS.", model.ColdestMeasured.Celsius())
	case t == nil && air != nil && *air < model.ColdestMeasured:
		return fmt.Sprintf(" Packs are counted as WARM as in their tests: packs as cold as the air (%s C) give LESS.", words.Trimmed(air.Celsius(), 1))
	}
	return ""
}

func rankVerdict(r *planner.Ranking) []string {
	p := r.Plan
	total := len(r.Ranked) + len(r.Excluded)
	if total == 0 {
		return []string{fmt.Sprintf("No pack suits %s: the catalogue has none.", p.Build.Name)}
	}
	if len(r.Ranked) == 0 {
		return []string{
			fmt.Sprintf("NO pack of %d suits %s: %s.", total, p.Build.Name, commonest(r.Excluded)),
			fmt.Sprintf("The build weighs %s without a pack; the limit is %s.", words.Grams(p.Dry), limitName(p.Build.Limit)),
		}
	}
	best := r.Ranked[0]
	verb := "hovers"
	if best.Cycle != nil {
		verb = "flies its phases for"
	}
	first := fmt.Sprintf("%s %s all-up, %s under %s; %s %s min",
		whichSuits(r), words.Grams(best.Mass), words.Grams(best.Margin), limitName(p.Build.Limit), verb, ratio(best.Duration().Minutes()))
	if best.Band != nil {
		first += fmt.Sprintf(" (%s)", figuresOf().figure("flight_s").between(&best, " to "))
	}
	first += fmt.Sprintf(", punches %s times its weight.", ratio(best.PunchRatio()))
	first += overWarning(&best)
	first += coldWarning(p, best.Pack)
	first += demoWarning(r)
	if doubt := basisWarning(&best); doubt != "" {
		first += doubt
		if tested, ok := r.BestTested(); ok {
			first += fmt.Sprintf(" Best of the soundly tested: %s.", tested.Pack.ID)
		}
	}
	if len(p.Conflicts) > 0 {
		first += fmt.Sprintf(" But the build's own parts do NOT go together: %s.", remarkText(p.Conflicts[0]))
	}
	suit, do := "suit", "do"
	if len(r.Excluded) == 1 {
		do = "does"
	}
	if len(r.Ranked) == 1 {
		suit = "suits"
	}
	lines := []string{first, fmt.Sprintf("%d of %s %s; %d %s not. Dry mass %s.", len(r.Ranked), words.Count(total, "pack", "packs"), suit, len(r.Excluded), do, words.Grams(p.Dry))}
	if own, demo := ownPacks(r.Ranked, r.Excluded); own == 0 && demo > 0 {
		lines[1] += " The packs are invented demo records."
	}
	if p.Pack != nil {
		lines = append(lines, today(r))
	}
	return append(lines, changeLine(p, &best)...)
}

// changeLine says what other conditions than the build's own cost on a pack.
func changeLine(p *planner.Plan, a *planner.Assessment) []string {
	time, punch := figuresOf().figure("flight_s"), figuresOf().figure("punch_ratio")
	t, ok := a.ChangeOf(time.Of)
	q, punches := a.ChangeOf(punch.Of)
	switch {
	case a.Home == nil:
		return nil
	case !ok || !punches:
		return []string{fmt.Sprintf("Under the build's own conditions (%s) it would not fly on %s.", conditionsText(p.Home()), a.Pack.ID)}
	}
	return []string{fmt.Sprintf("Against the build's own conditions (%s), on %s: %s time %s, punch %s.", conditionsText(p.Home()), a.Pack.ID, flightWord(a), change(time, t), change(punch, q))}
}

// today says where the pack that flies today stands.
func today(r *planner.Ranking) string {
	id := r.Plan.Pack.ID
	for _, a := range r.Ranked {
		if a.Pack.ID == id {
			return fmt.Sprintf("Today's pack, %s, is number %d.", id, a.Rank)
		}
	}
	for _, a := range r.Excluded {
		if a.Pack.ID == id {
			return fmt.Sprintf("Today's pack, %s, does not suit: it %s.", id, joinReasons(a.Against()))
		}
	}
	if slices.Contains(r.LeftOut.Demo, id) {
		return fmt.Sprintf("Today's pack, %s, is an invented demo record, and is not ranked beside packs of your own.", id)
	}
	return fmt.Sprintf("Today's pack, %s, is not among those that the build asks for.", id)
}

// commonest names the reasons that most packs fail by.
func commonest(excluded []planner.Assessment) string {
	counts := map[string]int{}
	for _, a := range excluded {
		said := map[string]bool{}
		for _, code := range a.AgainstCodes() {
			if text := planner.ShortOf(code); !said[text] {
				said[text] = true
				counts[text]++
			}
		}
	}
	texts := slices.SortedFunc(maps.Keys(counts), func(a, b string) int {
		return cmp.Or(cmp.Compare(counts[b], counts[a]), cmp.Compare(a, b))
	})
	var parts []string
	for _, t := range texts[:min(3, len(texts))] {
		parts = append(parts, fmt.Sprintf("%s (%d)", t, counts[t]))
	}
	return strings.Join(parts, ", ")
}

func hasCode(remarks []planner.Remark, code planner.Code) bool {
	return slices.ContainsFunc(remarks, func(r planner.Remark) bool { return r.Code == code })
}

func rankTable(ranked []planner.Assessment, phases, everything bool) *sheet.Table {
	all := figuresOf()
	var cols sheet.Columns[*planner.Assessment]
	shown := func(keys ...string) {
		for _, key := range keys {
			cols.Add(all.figure(key).Shown())
		}
	}
	shown("rank", "group")
	cols.Add(sheet.Words[*planner.Assessment]{Key: "pack", Head: "pack", Of: func(a *planner.Assessment) string { return a.Pack.ID }}.Shown())
	cols.Add(sheet.Words[*planner.Assessment]{Key: "name", Head: "name", Keep: 12, Of: func(a *planner.Assessment) string { return a.Pack.Name }}.Shown())
	shown("all_up_g", "margin_g")
	time, punch := all.figure("flight_s"), all.figure("punch_ratio")
	time.Head = ""
	if phases {
		time.Head = "flight"
	}
	cols.Add(time.Shown())
	cols.Add(time.bandShown(1))
	away := len(ranked) > 0 && ranked[0].Home != nil
	if away {
		cols.Add(time.changeShown(0))
	}
	shown("usable_wh", "hover_current_a")
	cols.Add(punch.Shown())
	if away {
		cols.Add(punch.changeShown(2))
	}
	cols.Add(punch.bandShown(3))
	shown("punch_ratio_landing")
	cols.Add(sheet.Words[*planner.Assessment]{Key: "limited_by", Head: "limited by", Keep: 4, Of: func(a *planner.Assessment) string { return limitedBy(a.Punch.LimitedBy) }}.Shown())
	shown("pack_headroom", "power_density_w_per_g", "energy_density_wh_per_g", "over_limit_chance")
	price := all.figure("price")
	head, cell := price.Shown()
	cols.Add(head, func(a *planner.Assessment) sheet.Cell {
		c := cell(a)
		if a.Pack.Price != nil {
			c.Text += " " + words.Clean(a.Pack.Currency)
		}
		return c
	})
	shown("pack_c_max", "score", "best_chance", "beats_next_chance")
	cols.Add(sheet.Words[*planner.Assessment]{Key: "marks", Of: marks}.Shown())
	// What else is known of a pack is there for those who ask for it.
	for _, f := range all {
		if head, cell := f.Shown(); everything && !cols.Has(head.Key) {
			cols.Add(head, cell)
		}
	}
	return cols.Table("", pointers(ranked))
}

// pointers are the assessments of a list, which are large.
func pointers(list []planner.Assessment) []*planner.Assessment {
	out := make([]*planner.Assessment, len(list))
	for i := range list {
		out[i] = &list[i]
	}
	return out
}

func marks(a *planner.Assessment) string {
	var m string
	if a.Front {
		m += "F"
	}
	other := false
	for _, code := range a.WarningCodes() {
		switch code {
		case planner.LabelOnly:
			m += "L"
		case planner.Doubtful:
			m += "D"
		default:
			other = true
		}
	}
	if a.Pack.Demo() {
		m += demoMark
	}
	if other {
		m += "W"
	}
	return m
}

// packNotes are the warnings of ranked packs; one that many share is said once.
func packNotes(ranked []planner.Assessment) []string {
	const few = 3
	var notes []string
	shared := map[planner.Code][]string{}
	for _, a := range ranked {
		for _, code := range a.WarningCodes() {
			shared[code] = append(shared[code], a.Pack.ID)
		}
	}
	said := map[planner.Code]bool{}
	untold := func(code planner.Code) bool { return len(shared[code]) <= few || !said[code] }
	for _, a := range ranked {
		if !slices.ContainsFunc(a.WarningCodes(), untold) {
			continue
		}
		for _, w := range a.Warnings() {
			ids := shared[w.Code]
			switch {
			case len(ids) <= few:
				notes = append(notes, remarkText(w))
			case !said[w.Code]:
				said[w.Code] = true
				more := ""
				if len(ids) > 8 {
					more = fmt.Sprintf(" and %d more", len(ids)-8)
				}
				notes = append(notes, fmt.Sprintf("%s%s: for instance, %s", strings.Join(ids[:min(8, len(ids))], ", "), more, remarkText(w)))
			}
		}
	}
	return notes
}
