package tested

import (
	"cmp"
	"math"
	"slices"
	"strings"

	"allup/model/words"
	"allup/planner"
)

// What stands out in a field.
const (
	OverLabelled planner.Code = "over-labelled"    // the label promises more than the pack delivers
	SlowPower    planner.Code = "voltage-no-power" // a good mid voltage and a poor power, or the other way round
	FarAhead     planner.Code = "spread"           // best and worst of a group are far apart
	OneStandsOut planner.Code = "stands-out"       // a value far from the median
)

// What is worth a word (common practice: good packs deliver 0.95 and more of their label).
const (
	labelShare   = 0.88 // delivered over rated
	farFromRest  = 0.25 // from the median, relative
	groupSpread  = 1.5  // best over worst power density
	rankConflict = 0.5  // of the group, between the ranks of two figures that go together
)

// remarks says in words what stands out in a group. Those of one pack are kept with it, too.
func (g *FieldGroup) remarks() []planner.Remark {
	var all []planner.Remark
	for i := range g.Packs {
		p := &g.Packs[i]
		p.Noteworthy = slices.Concat(p.standsOut(g), p.contradictions())
		all = append(all, p.Noteworthy...)
	}
	if r, ok := g.spread(); ok {
		all = append([]planner.Remark{r}, all...)
	}
	return all
}

// spread compares the best and the worst power density.
func (g *FieldGroup) spread() (planner.Remark, bool) {
	var best, worst *FieldPack
	for i := range g.Packs {
		p := &g.Packs[i]
		s, ok := p.Standings[WPerGram]
		if !ok {
			continue
		}
		if best == nil || s.Value > best.Standings[WPerGram].Value {
			best = p
		}
		if worst == nil || s.Value < worst.Standings[WPerGram].Value {
			worst = p
		}
	}
	if best == nil || worst.Standings[WPerGram].Value*groupSpread > best.Standings[WPerGram].Value {
		return planner.Remark{}, false
	}
	a, b := best.Standings[WPerGram].Value, worst.Standings[WPerGram].Value
	return remark(FarAhead, "", "%s: %s gives %.1f W/g, %s %.1f W/g: a factor of %.1f between packs that look alike", g.Name(), best.ID, a, worst.ID, b, a/b), true
}

// Spread is what there is to say of best and worst in the largest group; ok is false where they are not far apart.
func (f *Field) Spread() (r planner.Remark, ok bool) {
	if len(f.Groups) == 0 {
		return planner.Remark{}, false
	}
	largest := slices.MaxFunc(f.Groups, func(a, b FieldGroup) int { return cmp.Compare(len(a.Packs), len(b.Packs)) })
	return largest.spread()
}

// Name is a group in words: "4 cells, lipo".
func (g *FieldGroup) Name() string {
	var parts []string
	if g.Cells > 0 {
		parts = append(parts, words.Count(g.Cells, "cell", "cells"))
	}
	if g.Chemistry != "" {
		parts = append(parts, string(g.Chemistry))
	}
	if len(parts) == 0 {
		return "all packs"
	}
	return strings.Join(parts, ", ")
}

func (p *FieldPack) standsOut(g *FieldGroup) []planner.Remark {
	var out []planner.Remark
	if d, ok := p.Standings[Delivered]; ok && d.Value < labelShare {
		out = append(out, remark(OverLabelled, p.ID, "promises more than it delivers: %.0f of the %.0f mAh on its label, %.0f %%",
			d.Value*p.Rated.MilliAmpHours(), p.Rated.MilliAmpHours(), 100*d.Value))
	}
	if len(g.Packs) < 3 {
		return out
	}
	// C follows from W/g, and mid voltage never goes far: neither is named.
	names := map[Measure]string{WhPerGram: "an energy density", WPerGram: "a power density", R0TimesQ: "an R0 for its size", PricePerWh: "a price per Wh"}
	for _, m := range Measures() {
		s, ok := p.Standings[m]
		if !ok || names[m] == "" || math.Abs(s.Ratio-1) < farFromRest {
			continue
		}
		word := "above"
		if s.Ratio < 1 {
			word = "below"
		}
		out = append(out, remark(OneStandsOut, p.ID, "has %s %.0f %% %s the median of its group", names[m], 100*math.Abs(s.Ratio-1), word))
	}
	v, hasV := p.Standings[MidPerCell]
	w, hasW := p.Standings[WPerGram]
	if hasV && hasW && math.Abs(float64(v.Rank-w.Rank)) > rankConflict*float64(len(g.Packs)) {
		out = append(out, remark(SlowPower, p.ID, "is number %d by mid voltage and number %d by power density of %d: the two come from one resistance and should go together",
			v.Rank, w.Rank, len(g.Packs)))
	}
	return out
}

// contradictions are tested metrics that no circuit meets, or that the circuit from logs
// does not: what preparing the pack found.
func (p *FieldPack) contradictions() []planner.Remark {
	for _, r := range p.Remarks {
		if r.Code == planner.Doubtful {
			return []planner.Remark{r}
		}
	}
	return nil
}
