package main

import (
	"fmt"

	"allup/model/words"
	"allup/planner"
)

// whichSuits names the best pack, or all that the data cannot tell from it.
func whichSuits(r *planner.Ranking) string {
	best := &r.Ranked[0]
	undecided := r.Undecided()
	if len(undecided) == 1 {
		chance := ""
		if best.Best != nil && len(r.Ranked) > 1 {
			chance = fmt.Sprintf(", with a chance of %s", words.Percent(*best.Best))
		}
		return fmt.Sprintf("%s suits %s best%s:", best.Pack.ID, r.Plan.Build.Name, chance)
	}
	const most = 4
	var names []string
	for _, a := range undecided[:min(most, len(undecided))] {
		name := a.Pack.ID
		if a.Best != nil {
			name += " (" + words.Percent(*a.Best) + ")"
		}
		names = append(names, name)
	}
	if more := len(undecided) - most; more > 0 {
		names = append(names, fmt.Sprintf("one of %d more", more))
	}
	return fmt.Sprintf("%s suits %s best: the data CANNOT TELL which. %s:", words.List(names, "or"), r.Plan.Build.Name, best.Pack.ID)
}

// sureNote says what bands and chances are, and how the quick ones compare with those drawn.
func sureNote(r *planner.Ranking) string {
	const group = " grp: groups; the data cannot tell the packs of one group apart, as the chance that its first really beats another of them is under %.0f %%."
	shared := fmt.Sprintf(" Packs of one build share most of what is uncertain, so differences between them are surer than the figures."+group, 100*planner.ReallyBetter)
	c, ok := r.CompareQuick()
	if !ok {
		return "5-95 %: first-order bands from masses, propulsion and pack." + shared
	}
	note := fmt.Sprintf("5-95 %% and chances: %d draws of masses, propulsion and pack together.", r.Plan.DrawCount())
	if c.Undrawn > 0 {
		note += " " + words.Count(c.Undrawn, "pack further down has a first-order band, and flew only in the draws that it may win.",
			"packs further down have first-order bands, and flew only in the draws that they may win.")
	}
	if c.Worst > planner.QuickAgrees {
		note += fmt.Sprintf(" Bands of first order (--quick) would be off by up to %.0f %% of a band's width (%s of %s).",
			100*c.Worst, c.Figure, c.Pack)
	} else {
		note += " First-order bands agree within 3 % of their width."
	}
	return note + shared
}
