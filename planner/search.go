package planner

import (
	"cmp"
	"context"
	"math"
	"slices"

	"allup/catalog"
)

// SearchOptions are the choices of a search. The zero value finds the ten best.
type SearchOptions struct {
	Top      int // 0 for 10
	Progress Progress
}

// usualTop is how many of the best builds a search names unasked.
const usualTop = 10

// FoundBuild is a whole build that a search found.
type FoundBuild struct {
	Parts Selection // with its pack
	// Assessment is as a ranking of a build file with these parts has it, but for Rank and Score, which are the
	// search's: 1 is the score of the best.
	Assessment
	Price    *float64 // of all parts, where it counts
	Currency string
	Unpriced []string // ids of parts whose price is not known, each counted as the middle of its slot's candidates
	Alike    int64    // further builds with exactly these figures; those of a front
}

// Found is the answer of a search: as if every combination had been tried.
type Found struct {
	Plan         *Plan       // of the first candidates
	Today        *Assessment // of the first candidates on the pack that flies today; nil where the build names none, or not all of its parts
	TodayScore   *float64    // nil where that does not fly
	Priced       bool        // price counts
	Combinations int64
	Tried        int64
	Excluded     map[Code]int64 // without a trial, by what proves that they are not among the best nor on the front
	Untried      int64          // left when the search was stopped
	Best         []FoundBuild   // best first
	Front        []FoundBuild   // longest flight first

	Partial bool
	// AtMost is how many times the score of the best an untried build may reach, nil where that is not known or
	// nothing was left.
	AtMost *float64
}

// Search finds the best of all combinations of a space for the goal of a build, and the front of flight time
// against punch, and price where it counts. The answer is exact: what is not tried is proven not to belong in
// it. Where the context ends, the answer has what was found by then, and says so.
//
// A build suits if its parts do not conflict, nothing speaks against its pack, and full throttle draws no more
// than board and motor carry: what [CompareSwap] would say yes to. Builds of equal score are in order of the
// ids of frame, motor, propeller, board, gear and pack.
func Search(ctx context.Context, b *catalog.Build, from SearchSpace, c Conditions, opts SearchOptions) (*Found, error) {
	first, err := SelectionOf(b)
	if err != nil {
		return nil, err
	}
	s, err := newSpace(request{build: b, selection: first, conditions: c, rotors: NewRotorCache(b.Parts)}, from)
	if err != nil {
		return nil, err
	}
	run := newHunt(s, cmp.Or(opts.Top, usualTop))
	if err := run.everything(ctx, opts.Progress); err != nil {
		return nil, err
	}
	return run.found(b)
}

// flyToday fills in what the first candidates do on the build's own pack.
func (f *Found) flyToday(s *space, b *catalog.Build, best float64) {
	at := slices.IndexFunc(s.Packs, func(p *Pack) bool { return s.plan.Pack != nil && p.ID == s.plan.Pack.ID })
	if at < 0 || len(b.Slots.Unnamed) > 0 {
		return
	}
	a := s.plan.Assess(s.Packs[at])
	f.Today = &a
	if a.Flies() && a.PunchRatio() > 0 && !math.IsInf(best, -1) {
		v := math.Exp(s.raw(figures3{float64(a.Duration()), a.PunchRatio(), s.priceOf(s.plan.Selection)}) - best)
		f.TodayScore = &v
	}
}

// found turns kinds into builds, each by the way that a ranking goes.
func (h *hunt) found(b *catalog.Build) (*Found, error) {
	s := h.space
	out := &Found{
		Plan: s.plan, Priced: s.priced, Combinations: s.size(), Tried: h.tried, Excluded: h.excluded, Partial: h.stopped,
	}
	out.Untried = out.Combinations - out.Tried
	for _, n := range out.Excluded {
		out.Untried -= n
	}
	best := math.Inf(-1)
	if len(h.best.members) > 0 {
		best = h.best.members[0].raw
	}
	if h.stopped && len(h.best.members) > 0 && !math.IsInf(h.left, 1) {
		v := max(1, math.Exp(h.left-best))
		out.AtMost = &v
	}
	out.flyToday(s, b, best)
	build := func(m member) (FoundBuild, error) {
		f, err := s.buildOf(m.parts)
		if err != nil {
			return f, err
		}
		f.Score = math.Exp(m.raw - best)
		f.Front = !h.front.beaten(m.figures3)
		return f, nil
	}
	for i, m := range h.best.members {
		f, err := build(m)
		if err != nil {
			return nil, err
		}
		f.Rank = i + 1
		out.Best = append(out.Best, f)
	}
	for _, m := range h.frontMembers() {
		f, err := build(m.member)
		if err != nil {
			return nil, err
		}
		f.Alike = m.count - 1
		out.Front = append(out.Front, f)
	}
	return out, nil
}

// frontMember is the first of the builds with the same figures.
type frontMember struct {
	member
	count int64
}

// frontMembers are the points of the front, one for each set of figures.
func (h *hunt) frontMembers() []frontMember {
	var out []frontMember
	at := map[figures3]int{}
	for _, x := range h.front.points {
		m := frontMember{member{figures3: x.figures3, raw: x.raw}, h.space.countOf(x.kinds)}
		h.space.members(x, 1, func(parts combo) bool { m.parts = parts; return true })
		if n, ok := at[x.figures3]; ok {
			out[n].count += m.count
			if compareCombos(m.parts, out[n].parts) < 0 {
				out[n].parts = m.parts
			}
			continue
		}
		at[x.figures3] = len(out)
		out = append(out, m)
	}
	slices.SortStableFunc(out, func(a, b frontMember) int {
		return cmp.Or(cmp.Compare(b.time, a.time), cmp.Compare(b.punch, a.punch), cmp.Compare(a.price, b.price))
	})
	return out
}

// selection is the parts at the places of candidates.
func (s *space) selection(parts combo) (Selection, *Pack) {
	pack := s.Packs[parts[slotPack]]
	return Selection{
		Frame: s.Frames[parts[slotFrame]], Motor: s.Motors[parts[slotMotor]], Prop: s.Props[parts[slotProp]], Board: s.Boards[parts[slotBoard]],
		Gear: s.choices[parts[slotGear]], Pack: pack.Pack,
	}, pack
}

// buildOf assesses one build as a ranking does.
func (s *space) buildOf(parts combo) (FoundBuild, error) {
	selection, pack := s.selection(parts)
	r := s.base
	r.selection, r.told = selection, nil
	p, err := r.plan()
	if err != nil {
		return FoundBuild{}, err
	}
	f := FoundBuild{Parts: selection, Assessment: p.Assess(pack)}
	if f.Flight.Duration > 0 {
		p.AddBand(&f.Assessment)
	}
	if s.priced {
		f.Price, f.Currency = new(float64), s.common
		*f.Price = s.priceOf(selection)
		f.Unpriced = s.unpriced(selection)
	}
	return f, nil
}

// unpriced are the parts whose price in the common currency is not known.
func (s *space) unpriced(of Selection) (ids []string) {
	common := []*catalog.Common{&of.Frame.Common, &of.Motor.Common, &of.Prop.Common, &of.Board.Common}
	for _, g := range of.Gear {
		common = append(common, &g.Common)
	}
	for _, c := range append(common, &of.Pack.Common) {
		if _, ok := s.stated(c); !ok {
			ids = append(ids, c.ID)
		}
	}
	return ids
}

// priceOf is the price of a build by its parts, which are candidates.
func (s *space) priceOf(of Selection) float64 {
	if !s.priced {
		return 0
	}
	n := float64(s.plan.Build.Rotors)
	gear := 0.0
	for _, g := range of.Gear {
		gear += s.prices.gear[g.ID]
	}
	p := &s.prices
	return s.price(p.frames[of.Frame.ID] + n*p.motors[of.Motor.ID] + n*p.props[of.Prop.ID] + p.boards[of.Board.ID] + gear + p.packs[of.Pack.ID])
}

// priceOfKinds is the price of a build of kinds, added up in one order wherever it is asked for.
func (s *space) priceOfKinds(k combo) float64 {
	if !s.priced {
		return 0
	}
	return s.price(s.frames[k[slotFrame]].price + s.motors[k[slotMotor]].price + s.props[k[slotProp]].price + s.boards[k[slotBoard]].price +
		s.gears[k[slotGear]].price + s.packs[k[slotPack]].price)
}
