package tested

import (
	"cmp"
	"fmt"
	"math"
	"slices"
	"strings"

	"allup/model"
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
		p.Noteworthy = slices.Concat(p.standsOut(g), p.fromPreparing())
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
	if d, ok := p.Standings[Delivered]; ok && d.Value < labelShare && !p.worn() {
		out = append(out, remark(OverLabelled, p.ID, "promises more than it delivers: %.0f of the %.0f mAh on its label, %.0f %%, %s",
			d.Value*p.Rated.MilliAmpHours(), p.Rated.MilliAmpHours(), 100*d.Value, p.testWords(g)))
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

// wornCycles is the number of cycles from which a label is no longer held against a pack (own judgement: of
// four cells of the NASA PCoE battery data set the first lost a fifth of its charge after 61 cycles).
const wornCycles = 30

// worn reports whether a pack is known to be worn.
func (p *FieldPack) worn() bool { return p.TestCycles != nil && *p.TestCycles >= wornCycles }

// testWords say by what test a pack stands as it does: "at 15 C x 3.7 V per cell down to 3.10 V per cell, tested
// 2026-05-31 after 4 cycles".
func (p *FieldPack) testWords(g *FieldGroup) string {
	text := "at " + g.LoadWords()
	if p.ByCircuit {
		text += ", converted by its circuit"
	}
	when := "on a day that its record does not state"
	if p.TestDate != "" {
		when = p.TestDate
	}
	text += ", tested " + when
	if p.TestCycles != nil {
		return text + " after " + words.Count(*p.TestCycles, "cycle", "cycles")
	}
	return text + ", cycles not stated"
}

// LoadWords are the load and the end of the group's discharge test.
func (g *FieldGroup) LoadWords() string {
	load := words.Trimmed(float64(g.test.DischargeCurrent), 1) + " C of steady current"
	if g.test.DischargePower > 0 {
		load = fmt.Sprintf("%s C x %.1f V per cell", words.Trimmed(float64(g.test.DischargePower/model.Power(model.NominalPerCell)), 1), float64(model.NominalPerCell))
	}
	return fmt.Sprintf("%s down to %s V per cell", load, words.Trimmed(float64(g.test.DischargeEndPerCell), 2))
}

// BurstWords are the burst test of the group.
func (g *FieldGroup) BurstWords() string {
	before := "from full"
	if g.test.ConditioningTime > 0 && g.test.ConditioningCurrent > 0 {
		before = fmt.Sprintf("after %s s at %s C", words.Trimmed(float64(g.test.ConditioningTime), 1), words.Trimmed(float64(g.test.ConditioningCurrent), 1))
	}
	return fmt.Sprintf("burst %s, %s C more each second down to %s V per cell", before, words.Trimmed(g.test.Ramp, 2), words.Trimmed(float64(g.test.BurstEndPerCell), 2))
}

// fromPreparing is what preparing the pack found: tested metrics that no circuit meets, or that the circuit from logs
// does not, and a test that ended below what cells bear.
func (p *FieldPack) fromPreparing() (said []planner.Remark) {
	for _, code := range []planner.Code{planner.Doubtful, planner.LowTestEnd} {
		if i := slices.IndexFunc(p.Remarks, func(r planner.Remark) bool { return r.Code == code }); i >= 0 {
			said = append(said, p.Remarks[i])
		}
	}
	return said
}
