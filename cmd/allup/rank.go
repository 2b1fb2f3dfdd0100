package main

import (
	"cmp"
	"fmt"
	"maps"
	"slices"
	"strings"

	"github.com/spf13/cobra"

	"allup/model"
	"allup/planner"
)

func newRank(a *app) *cobra.Command {
	var conditions conditionFlags
	cmd := &cobra.Command{
		Use:   "rank BUILD",
		Short: "Which packs suit this build, best first, and why the others do not",
		Long: `rank puts every pack of the catalogue on the build: packs that keep it under the
limit and that it can carry are ranked by a weighted geometric mean of flight time, punch
ratio and time per price, with the build's own weights ([goal]); 1.00 is the middle of the
field. The others are listed with every reason. Intervals are 5 to 95 %.
BUILD is a file, or - for standard input.`,
		Args:              arguments(1, 1, "one build file"),
		ValidArgsFunction: completeBuild,
		RunE: func(_ *cobra.Command, args []string) error {
			p, err := a.plan(args[0])
			if err != nil {
				return err
			}
			if p, err = p.In(conditions.Conditions); err != nil {
				return err
			}
			m := a.meter("packs", a.quiet)
			r, err := p.Rank(planner.RankOptions{Progress: m.tick})
			m.clear()
			if err != nil {
				return err
			}
			if err := a.answer(rankScreen(r), rankJSON(r)); err != nil {
				return err
			}
			if len(r.Ranked) == 0 {
				return errNo
			}
			return nil
		},
	}
	conditions.register(cmd.Flags())
	return cmd
}

func rankScreen(r *planner.Ranking) screen {
	p := r.Plan
	s := screen{verdict: rankVerdict(r)}
	ranked := rankTable(r.Ranked)
	if len(p.Build.Flight.Phases) > 0 {
		ranked.columns[5].head = "flight min"
	}
	excluded := &table{columns: []column{
		{head: "does not suit", key: "pack", left: true},
		{head: "all-up g", key: "all_up_g", keep: 1},
		{head: "why", key: "reasons", left: true, wrap: true},
	}}
	for _, a := range r.Excluded {
		excluded.add(word(a.Pack.ID), gramsCell(a.Mass), word(joinReasons(a.Against)))
	}
	s.tables = []*table{ranked, excluded}
	s.sheet = rankSheet(r)
	if len(r.Ranked) > 0 && r.Ranked[0].Cycle != nil {
		s.tables = []*table{ranked, phaseTable(&r.Ranked[0]), excluded}
	}
	s.notes = append(s.notes, propulsionNote(p))
	s.notes = append(s.notes, remarkNotes(p.Conflicts)...)
	s.notes = append(s.notes, packNotes(r.Ranked)...)
	s.notes = append(s.notes, remarkNotes(p.Warnings)...)
	if len(r.Ranked) > 0 {
		if best := &r.Ranked[0]; best.Cycle != nil {
			s.notes = append(s.notes, phaseNotes(p, best)...)
		} else {
			s.notes = append(s.notes, hoverNote(r))
		}
		s.notes = append(s.notes, conditionsNote(p), speedNote(p, &r.Ranked[0]),
			fmt.Sprintf("Punch is thrust over weight in a held punch-out at %.0f %% charge, never below %.1f V per cell; \"by\" is what limits it.",
				100*p.Build.Flight.PunchCharge, float64(model.PunchPerCell)),
			"5-95 %: first-order bands from masses, propulsion and pack; packs of one build share most of it, so differences between them are surer than the figures.",
			"Marks: F front, no other pack beats it in both time and punch; L label only, untested; D doubtful, its tested metrics contradict each other; W a warning, below.")
	}
	s.notes = append(s.notes, limitNote(p), packCaution)
	return s
}

// hoverNote says what is hovered, for the packs that are ranked: one at the least.
func hoverNote(r *planner.Ranking) string {
	return fmt.Sprintf("Hover from full to %s or %.0f %% charge, whichever comes first. Flying costs more: wind, turns and punches are not in it.",
		landings(r), 100*r.Plan.Build.Flight.Reserve)
}

// landings are the landing voltages of the ranked packs, which differ where the build leaves them to the chemistry.
func landings(r *planner.Ranking) string {
	best := &r.Ranked[0]
	text := fmt.Sprintf("%.2f V per cell", float64(best.LandPerCell))
	for i := range r.Ranked {
		if a := &r.Ranked[i]; a.LandPerCell != best.LandPerCell {
			return fmt.Sprintf("%s (%.2f for %s, as the build sets no land_v_per_cell)", text, float64(a.LandPerCell), a.Pack.Chemistry)
		}
	}
	if r.Plan.Build.Flight.LandPerCell == 0 && best.Pack.Chemistry == model.LiIon {
		text += " (that of liion, as the build sets no land_v_per_cell)"
	}
	return text
}

const packCaution = "Packs burn: follow the makers' limits, charge attended, land before 3.0 V per cell. Propellers cut: take them off on the bench."

func rankVerdict(r *planner.Ranking) []string {
	p := r.Plan
	total := len(r.Ranked) + len(r.Excluded)
	if total == 0 {
		return []string{fmt.Sprintf("No pack suits %s: the catalogue has none.", p.Build.Name)}
	}
	if len(r.Ranked) == 0 {
		return []string{
			fmt.Sprintf("NO pack of %d suits %s: %s.", total, p.Build.Name, commonest(r.Excluded)),
			fmt.Sprintf("The build weighs %s without a pack; the limit is %s.", inGrams(p.Dry), limitName(p.Build.Limit)),
		}
	}
	best := r.Ranked[0]
	verb := "hovers"
	if best.Cycle != nil {
		verb = "flies its phases for"
	}
	first := fmt.Sprintf("%s suits %s best: %s all-up, %s under %s; %s %s min",
		best.Pack.ID, p.Build.Name, inGrams(best.Mass), inGrams(best.Margin), limitName(p.Build.Limit), verb, ratio(best.Duration().Minutes()))
	if best.Band != nil {
		first += fmt.Sprintf(" (%s)", span(best.Band.Time, 1/float64(model.Minute), 1))
	}
	first += fmt.Sprintf(", punches %s times its weight.", ratio(best.PunchRatio()))
	if hasCode(best.Warnings, planner.MaybeOver) {
		first += fmt.Sprintf(" Its chance of BREAKING the limit is %s: weigh it.", percent(best.OverChance))
	}
	if doubt := basisWarning(&best); doubt != "" {
		first += doubt
		if tested, ok := r.BestTested(); ok {
			first += fmt.Sprintf(" Best of the soundly tested: %s.", tested.Pack.ID)
		}
	}
	if len(p.Conflicts) > 0 {
		first += fmt.Sprintf(" But the build's own parts do NOT go together: %s.", remarkText(p.Conflicts[0]))
	}
	suit := "suit"
	if len(r.Ranked) == 1 {
		suit = "suits"
	}
	lines := []string{first, fmt.Sprintf("%d of %s %s; %d do not. Dry mass %s.", len(r.Ranked), count(total, "pack", "packs"), suit, len(r.Excluded), inGrams(p.Dry))}
	if p.Pack != nil {
		lines = append(lines, today(r))
	}
	return lines
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
			return fmt.Sprintf("Today's pack, %s, does not suit: it %s.", id, joinReasons(a.Against))
		}
	}
	return ""
}

// commonest names the reasons that most packs fail by.
func commonest(excluded []planner.Assessment) string {
	counts := map[string]int{}
	for _, a := range excluded {
		said := map[string]bool{}
		for _, r := range a.Against {
			if text := codeText(r.Code); !said[text] {
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

// codeText is what a reason against a pack amounts to.
func codeText(c planner.Code) string {
	switch c {
	case planner.OverLimit:
		return "over the limit"
	case planner.UnderSpare:
		return "less than the spare kept back"
	case planner.OverPackMass:
		return "too heavy by the build's own filter"
	case planner.WrongCells, planner.MotorCells, planner.BoardCells:
		return "wrong number of cells"
	case planner.WrongChem:
		return "wrong chemistry"
	case planner.WrongPlug:
		return "wrong plug"
	case planner.TooBigForBay:
		return "does not fit the bay"
	case planner.SteadyCurrent:
		return "states too low a current"
	case planner.CannotHold:
		return "cannot hold the hover power"
	case planner.MotorVoltage:
		return "too little voltage for the motors"
	case planner.NoLift:
		return "does not lift the build"
	}
	return string(c)
}

func hasCode(remarks []planner.Remark, code planner.Code) bool {
	return slices.ContainsFunc(remarks, func(r planner.Remark) bool { return r.Code == code })
}

func rankTable(ranked []planner.Assessment) *table {
	t := &table{columns: []column{
		{head: "#", key: "rank"},
		{head: "pack", key: "pack", left: true},
		{head: "name", key: "name", left: true, keep: 12},
		{head: "all-up g", key: "all_up_g"},
		{head: "under g", key: "under_g", keep: 2},
		{head: "time min", key: "flight_min"},
		{head: "5-95 %", key: "flight_min_5_95", keep: 1},
		{head: "Wh used", key: "usable_wh", keep: 7},
		{head: "hover A", key: "hover_current_a"},
		{head: "punch", key: "punch_ratio"},
		{head: "5-95 %", key: "punch_ratio_5_95", keep: 3},
		{head: "landing", key: "punch_ratio_landing", keep: 5},
		{head: "by", key: "limited_by", left: true, keep: 4},
		{head: "headroom", key: "pack_headroom", keep: 6},
		{head: "W/g", key: "power_density_w_per_g", keep: 8},
		{head: "Wh/g", key: "energy_density_wh_per_g", keep: 9},
		{head: "over %", key: "over_limit_chance_percent", keep: 10},
		{head: "price", key: "price", keep: 11},
		{head: "score", key: "score"},
		{head: "", key: "marks", left: true},
	}}
	for i := range ranked {
		a := &ranked[i]
		timeBand, punchBand := "-", "-"
		if a.Band != nil {
			timeBand = fmt.Sprintf("%.1f-%.1f", a.Band.Time.Low/float64(model.Minute), a.Band.Time.High/float64(model.Minute))
			punchBand = fmt.Sprintf("%.1f-%.1f", a.Band.Punch.Low, a.Band.Punch.High)
		}
		price := cell{text: "-"}
		if a.Pack.Price != nil {
			price = cell{text: fmt.Sprintf("%.2f %s", *a.Pack.Price, a.Pack.Currency), value: a.Pack.Price}
		}
		t.add(
			integer(a.Rank), word(a.Pack.ID), word(a.Pack.Name), gramsCell(a.Mass), number(a.Margin.Grams(), 1), minutesCell(a.Duration()), word(timeBand),
			number(a.Usable().WattHours(), 2), number(float64(a.Flight.Current), 2), number(a.PunchRatio(), 1), word(punchBand), number(a.LandingRatio(), 1),
			word(limitedBy(a.Punch.LimitedBy)), number(a.Punch.Headroom, 2), maybe(perGram(a.PowerDensity), 1), maybe(wattHoursPerGram(a.EnergyDensity), 3),
			number(100*a.OverChance, 0), price, number(a.Score, 2), word(marks(a)),
		)
	}
	return t
}

// perGram takes a density from per kilogram to per gram.
func perGram(perKg *float64) *float64 {
	if perKg == nil {
		return nil
	}
	v := *perKg * float64(model.Gram)
	return &v
}

func wattHoursPerGram(joulePerKg *float64) *float64 {
	v := perGram(joulePerKg)
	if v != nil {
		*v /= float64(model.WattHour)
	}
	return v
}

func marks(a *planner.Assessment) string {
	var m string
	if a.Front {
		m += "F"
	}
	other := false
	for _, w := range a.Warnings {
		switch w.Code {
		case planner.LabelOnly:
			m += "L"
		case planner.Doubtful:
			m += "D"
		default:
			other = true
		}
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
		for _, w := range a.Warnings {
			shared[w.Code] = append(shared[w.Code], a.Pack.ID)
		}
	}
	said := map[planner.Code]bool{}
	for _, a := range ranked {
		for _, w := range a.Warnings {
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
