package planner

import (
	"cmp"
	"math"
	"slices"

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
	NoBands  bool     // nor chances
	Quick    bool     // bands and chances first-order, without draws
	Progress Progress // nil for none
}

// Rank assesses the packs of a set, which is of the build's catalogue, and orders those that suit it. Where the build
// asks for some packs only, it looks at those.
func (p *Plan) Rank(set *PackSet, opts RankOptions) *Ranking {
	// Three passes over the packs: circuits, answers, draws.
	var first, second, third Progress
	if opts.Progress != nil {
		first = func(done, total int) { opts.Progress(done, 3*total) }
		second = func(done, total int) { opts.Progress(total+done, 3*total) }
		third = func(done, total int) { opts.Progress(2*total+done, 3*total) }
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
	r.score()
	markFront(r.Ranked)
	sortAssessments(r.Ranked, func(a, b *Assessment) int {
		return cmp.Or(a.Merit.better(b.Merit), cmp.Compare(a.Pack.ID, b.Pack.ID))
	})
	for i := range r.Ranked {
		r.Ranked[i].Rank = i + 1
	}
	r.addChances(opts.Quick, third)
	sortAssessments(r.Excluded, func(a, b *Assessment) int { return cmp.Compare(a.Pack.ID, b.Pack.ID) })
	return r
}

// sortAssessments sorts in place and moves each once: an assessment is large.
func sortAssessments(list []Assessment, compare func(a, b *Assessment) int) {
	order := make([]int, len(list))
	for i := range order {
		order[i] = i
	}
	slices.SortFunc(order, func(i, j int) int { return compare(&list[i], &list[j]) })
	for i := range order {
		if order[i] == i {
			continue
		}
		// A cycle: each place gets what belongs there.
		held, to := list[i], i
		for order[to] != i {
			from := order[to]
			list[to], order[to] = list[from], to
			to = from
		}
		list[to], order[to] = held, to
	}
}

// score gives every pack its merit, and its score: the merit over the geometric mean of the merits of those
// that it compares with, so that 1.00 is the middle of the field. A pack without a price that counts, where
// price counts, says so.
func (r *Ranking) score() {
	p := r.Plan
	var logs [2]float64
	var count [2]int
	class := func(m Merit) int {
		if m.Priced {
			return 1
		}
		return 0
	}
	for i := range r.Ranked {
		a := &r.Ranked[i]
		a.Merit = p.Merit(a.Duration(), a.PunchRatio(), a.Pack.Pack)
		logs[class(a.Merit)] += math.Log(a.Merit.Value)
		count[class(a.Merit)]++
		if !a.Merit.Priced && p.Currency() != "" {
			a.cautions |= only(packCautions, NoPrice)
		}
	}
	for i := range r.Ranked {
		a := &r.Ranked[i]
		k := class(a.Merit)
		a.Score = math.Exp(math.Log(a.Merit.Value) - logs[k]/float64(count[k]))
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
