package planner

import (
	"cmp"
	"slices"
	"sort"

	"allup/catalog"
	"allup/model"
)

// likeCapacity is how far the rated capacity of a tested pack may be from that of a pack known by its label, in
// times, for its resistance to say something of the other's (own judgement: from 450 to 700 mAh is one class of
// packs, from 450 to 1500 is not).
const likeCapacity = 1.5

// likeness is what packs have in common whose resistance goes with their capacity.
type likeness struct {
	chemistry model.Chemistry
	cells     int
}

// labelResistance is what a pack without a test is given.
type labelResistance struct {
	median float64 // ohm x Ah per cell, steady
	tested int     // packs that it is the median of; 0 for common practice
}

// testedLike are the tested packs of a chemistry and cells, by rated capacity, so that those of like size stand side by
// side: a catalogue may have as many sizes as packs.
type testedLike struct {
	packs   []*catalog.Pack
	known   []bool // whether the circuit is made
	unknown int    // how many are not
	counts  []bool // whether it is made and not doubtful; one that is taken by its label is doubtful
	steadyR []float64
	order   []int                            // places of those that count, by steadyR
	of      map[model.Charge]labelResistance // by rated capacity
}

// labelResistance of a pack: the median of the tested packs of its chemistry, cells and like size that nothing speaks
// against. Only those of like size are made for it.
func (s *PackSet) labelResistance(p *Pack) labelResistance {
	if s.tested == nil {
		s.sortTested()
	}
	t := s.tested[likeness{p.Chemistry, p.Cells}]
	if t == nil {
		return labelResistance{median: model.DefaultSteadyR}
	}
	r, ok := t.of[p.Rated]
	if !ok {
		low := sort.Search(len(t.packs), func(i int) bool { return t.packs[i].Rated*likeCapacity >= p.Rated })
		high := sort.Search(len(t.packs), func(i int) bool { return t.packs[i].Rated > p.Rated*likeCapacity })
		s.identifyLike(t, low, high)
		r = t.median(low, high)
		t.of[p.Rated] = r
	}
	return r
}

// sortTested finds the tested packs of each chemistry and number of cells.
func (s *PackSet) sortTested() {
	s.tested = map[likeness]*testedLike{}
	chosen, _ := s.catalogue.PackChoice()
	for _, id := range chosen {
		p := s.catalogue.Packs[id]
		if p.Tested == nil && p.Circuit == nil {
			continue
		}
		like := likeness{p.Chemistry, p.Cells}
		if s.tested[like] == nil {
			s.tested[like] = &testedLike{of: map[model.Charge]labelResistance{}}
		}
		s.tested[like].packs = append(s.tested[like].packs, p)
	}
	for _, t := range s.tested {
		slices.SortStableFunc(t.packs, func(a, b *catalog.Pack) int { return cmp.Compare(a.Rated, b.Rated) })
		n := len(t.packs)
		t.steadyR, t.counts, t.known, t.unknown = make([]float64, n), make([]bool, n), make([]bool, n), n
	}
}

// identifyLike makes the packs of some places that were not made before, and notes those that are made.
func (s *PackSet) identifyLike(t *testedLike, low, high int) {
	if t.unknown == 0 {
		return
	}
	var ids []string
	for i := low; i < high; i++ {
		if !t.known[i] {
			ids = append(ids, t.packs[i].ID)
		}
	}
	if len(ids) == 0 {
		return
	}
	s.identify(ids, nil)
	for i, p := range t.packs {
		made := s.made[p.ID]
		if made == nil || t.known[i] {
			continue
		}
		t.known[i] = true
		t.unknown--
		if !made.hasRemark(Doubtful) {
			t.steadyR[i], t.counts[i] = made.Circuit.UsualSteadyR(), true
			t.order = append(t.order, i)
		}
	}
	slices.SortFunc(t.order, func(a, b int) int { return cmp.Or(cmp.Compare(t.steadyR[a], t.steadyR[b]), cmp.Compare(a, b)) })
}

// median is that of the packs of some places which count.
func (t *testedLike) median(low, high int) labelResistance {
	n := 0
	for _, counts := range t.counts[low:high] {
		if counts {
			n++
		}
	}
	if n == 0 {
		return labelResistance{median: model.DefaultSteadyR}
	}
	var middle [2]float64 // the same one twice where they are odd
	at := 0
	for _, i := range t.order {
		if i < low || i >= high {
			continue
		}
		if at == (n-1)/2 {
			middle[0] = t.steadyR[i]
		}
		if at == n/2 {
			middle[1] = t.steadyR[i]
			break
		}
		at++
	}
	return labelResistance{(middle[0] + middle[1]) / 2, n}
}
