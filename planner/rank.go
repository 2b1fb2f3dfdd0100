package planner

import (
	"cmp"
	"math"
	"slices"

	"allup/catalog"
	"allup/model"
)

// Ranking is every pack that the build may choose from, suited to it or not.
type Ranking struct {
	Plan     *Plan
	Ranked   []Assessment // best first
	Excluded []Assessment // by id
	LeftOut  LeftOut
}

// RankOptions are the choices of a ranking. The zero value is the full answer.
type RankOptions struct {
	NoBands  bool
	Progress Progress // nil for none
}

// Rank assesses the packs of a set, which is of the build's catalogue, and orders those that suit it. Where the build
// asks for some packs only, it looks at those.
func (p *Plan) Rank(set *PackSet, opts RankOptions) *Ranking {
	// Two passes over the packs: circuits, then answers.
	var first, second Progress
	if opts.Progress != nil {
		first = func(done, total int) { opts.Progress(done, 2*total) }
		second = func(done, total int) { opts.Progress(total+done, 2*total) }
	}
	packs, left := p.choose(set, first)
	all := make([]Assessment, len(packs))
	parallel(len(packs), second, func(i int) {
		p.assess(&all[i], packs[i])
		if !opts.NoBands && all[i].Eligible() {
			p.AddBand(&all[i])
		}
		if p.home != nil {
			home := p.home.Assess(packs[i])
			all[i].Home = &home
		}
	})
	// The two lists share one array: an assessment is large, and a catalogue may be, too. The
	// eligible ones keep their order, so that their sums do not hang on what was excluded.
	eligible := 0
	for i := range all {
		if all[i].Eligible() {
			if i != eligible {
				all[i], all[eligible] = all[eligible], all[i]
			}
			eligible++
		}
	}
	r := &Ranking{Plan: p, Ranked: all[:eligible:eligible], Excluded: all[eligible:], LeftOut: left}
	score(r.Ranked, p.Build.Goal)
	markFront(r.Ranked)
	slices.SortFunc(r.Ranked, func(a, b Assessment) int {
		return cmp.Or(cmp.Compare(b.Score, a.Score), cmp.Compare(a.Pack.ID, b.Pack.ID))
	})
	for i := range r.Ranked {
		r.Ranked[i].Rank = i + 1
	}
	slices.SortFunc(r.Excluded, func(a, b Assessment) int { return cmp.Compare(a.Pack.ID, b.Pack.ID) })
	return r
}

// score is the weighted geometric mean of flight time, punch ratio and flight time per
// price, each divided by its geometric mean over the eligible packs: 1.00 is the middle
// of the field. A pack whose price is unknown, or in another currency than most, counts as
// the middle of the field in price, and says so.
func score(field []Assessment, goal catalog.Goal) {
	terms := []struct {
		weight float64
		value  func(a *Assessment) (float64, bool)
	}{
		{goal.Time, func(a *Assessment) (float64, bool) { return float64(a.Duration()), true }},
		{goal.Punch, func(a *Assessment) (float64, bool) { return a.PunchRatio(), true }},
		{goal.Price, perPrice(field)},
	}
	logs := make([]float64, len(field))
	var weights float64
	for i, t := range terms {
		if t.weight <= 0 {
			continue
		}
		weights += t.weight
		var sum float64
		var known int
		for j := range field {
			if v, ok := t.value(&field[j]); ok {
				sum += math.Log(v)
				known++
			}
		}
		for j := range field {
			v, ok := t.value(&field[j])
			if !ok {
				if i == 2 {
					field[j].cautions |= only(packCautions, NoPrice)
				}
				continue
			}
			logs[j] += t.weight * (math.Log(v) - sum/float64(known))
		}
	}
	for j := range field {
		field[j].Score = math.Exp(logs[j] / weights)
	}
}

// perPrice is flight time per price among packs in the field's commonest currency.
func perPrice(field []Assessment) func(a *Assessment) (float64, bool) {
	count := map[string]int{}
	for i := range field {
		a := &field[i]
		if a.Pack.Price != nil {
			count[a.Pack.Currency]++
		}
	}
	common := ""
	for c, n := range count {
		if n > count[common] || n == count[common] && c < common {
			common = c
		}
	}
	return func(a *Assessment) (float64, bool) {
		if a.Pack.Price == nil || *a.Pack.Price <= 0 || a.Pack.Currency != common {
			return 0, false
		}
		return float64(a.Duration()) / *a.Pack.Price, true
	}
}

// markFront marks the packs that no other beats in both flight time and punch ratio.
func markFront(field []Assessment) {
	order := make([]int, len(field))
	for i := range order {
		order[i] = i
	}
	slices.SortFunc(order, func(i, j int) int {
		a, b := &field[i], &field[j]
		return cmp.Or(cmp.Compare(b.Duration(), a.Duration()), cmp.Compare(b.PunchRatio(), a.PunchRatio()))
	})
	// Going down in time, a pack is beaten by an earlier one that is longer in time and
	// harder in punch; equal figures beat nobody.
	hardestLonger, hardest := math.Inf(-1), math.Inf(-1)
	var last model.Time
	for k, i := range order {
		a := &field[i]
		if k == 0 || a.Duration() < last {
			hardestLonger = hardest
			last = a.Duration()
		}
		a.Front = a.PunchRatio() >= hardestLonger
		hardest = max(hardest, a.PunchRatio())
	}
}

// BestTested is the best ranked pack that rests on a test without contradiction; ok is
// false where none does.
func (r *Ranking) BestTested() (best *Assessment, ok bool) {
	for i := range r.Ranked {
		if p := r.Ranked[i].Pack; p.Basis != BasisLabel && !p.hasRemark(Doubtful) {
			return &r.Ranked[i], true
		}
	}
	return nil, false
}
