package planner

import (
	"slices"

	"allup/model"
)

// Verdict is the answer to whether a mass keeps the limit.
type Verdict string

// Verdicts on a mass. They compare masses and say nothing else.
const (
	Under      Verdict = "under"       // keeps the limit and the spare
	SpareShort Verdict = "spare-short" // keeps the limit, but not the spare kept back
	NotSure    Verdict = "not-sure"    // keeps the limit and the spare on paper, less surely than the build asks
	Over       Verdict = "over"        // breaks the limit
)

// Weighing is the mass budget of a build with the pack that it carries, or without one.
type Weighing struct {
	Plan       *Plan
	Items      []Item
	Mass       model.Mass // of Items or, where the build was on a scale, what that makes of it
	Expanded   model.Mass // expanded uncertainty of Mass, coverage factor 2
	Spread     model.MassSpread
	Dry        model.Mass // without the pack
	Margin     model.Mass // below the limit
	Spare      model.Mass // Margin without the spare kept back
	OverChance float64
	Verdict    Verdict

	DryExpanded model.Mass

	// By the list alone, whatever a scale says.
	Sum         model.Mass
	SumExpanded model.Mass
}

// Weigh adds up the build with the pack that it carries; without one, the dry mass.
func (p *Plan) Weigh() Weighing {
	w := Weighing{Plan: p, Items: slices.Clone(p.Items), Dry: p.Dry}
	if p.Pack != nil {
		w.Items = append(w.Items, p.PackItem(p.Pack))
	}
	var budget model.MassBudget
	for _, i := range w.Items {
		budget = append(budget, i.MassItem)
	}
	w.Sum, w.SumExpanded = budget.Total(), 2*budget.Uncertainty()
	limit := p.Build.Limit
	_, dryU := p.known(p.Items)
	w.DryExpanded = 2 * dryU
	var u model.Mass
	w.Mass, u = p.known(w.Items)
	w.Expanded = 2 * u
	w.Margin = limit.Mass - w.Mass
	w.Spare = w.Margin - limit.Spare
	spread := p.drySpread
	switch {
	case p.Scale != nil:
		spread = model.NormalSpread(u)
	case p.Pack != nil:
		spread = p.SpreadWith(p.Pack)
	}
	w.Spread = spread
	w.OverChance = limit.ChanceOver(w.Mass, spread)
	w.Verdict = p.verdict(w.Mass, w.OverChance)
	return w
}

func (p *Plan) verdict(m model.Mass, overChance float64) Verdict {
	limit := p.Build.Limit
	switch {
	case !limit.Allows(m):
		return Over
	case !atMost(limit.Mass-limit.Spare, m):
		return SpareShort
	case limit.TooUnsure(overChance):
		return NotSure
	}
	return Under
}
