package planner

import "allup/catalog"

// Made is how many packs of a set have been made.
func Made(s *PackSet) int { return len(s.made) }

// RulesOf are the reasons against a pack, the cautions about it and the conflicts of parts.
func RulesOf() [][]Rule { return [][]Rule{packReasons, packCautions, partConflicts} }

// CandidateOf is a pack on a build before it flies.
func CandidateOf(p *Plan, pack *Pack) *Candidate {
	var c Candidate
	p.candidate(&c, pack)
	return &c
}

// ScoreField scores and marks builds as a ranking does, prices in the currency of the first.
func ScoreField(field []Assessment, goal catalog.Goal) {
	if goal.Price > 0 && len(field) > 0 {
		goal.Currency = field[0].Pack.Currency
	}
	r := &Ranking{Plan: &Plan{Build: &catalog.Build{Goal: goal}}, Ranked: field}
	r.score()
	markFront(field)
}

// CornerOf makes a space ready and gives the best that a search takes for possible of the builds with a motor,
// a propeller and a pack; ok is false where none go together.
func CornerOf(b *catalog.Build, from SearchSpace) (func(motor, prop, pack string) (time, punch, price float64, ok bool), error) {
	first, err := SelectionOf(b)
	if err != nil {
		return nil, err
	}
	s, err := newSpace(request{build: b, selection: first, rotors: NewRotorCache(b.Parts)}, from)
	if err != nil {
		return nil, err
	}
	h := newHunt(s, 1)
	type key struct{ motor, prop, pack string }
	corners := map[key]figures3{}
	for i := range h.pairs {
		p := &h.pairs[i]
		if err := h.prepare(p); err != nil {
			return nil, err
		}
		for _, k := range h.groups[p.group].packs {
			f := h.cornerOf(p, k)
			for _, m := range s.motors[p.motor].places {
				for _, q := range s.props[p.prop].places {
					for _, n := range s.packs[k].places {
						corners[key{s.Motors[m].ID, s.Props[q].ID, s.Packs[n].ID}] = f
					}
				}
			}
		}
	}
	return func(motor, prop, pack string) (time, punch, price float64, ok bool) {
		f, ok := corners[key{motor, prop, pack}]
		return f.time, f.punch, f.price, ok
	}, nil
}

// TrialOf is the inner evaluation of a search, of the first candidates, and what it does before for a pair on a pack.
func TrialOf(b *catalog.Build, from SearchSpace) (try func() bool, corner func() float64, err error) {
	first, err := SelectionOf(b)
	if err != nil {
		return nil, nil, err
	}
	s, err := newSpace(request{build: b, selection: first, rotors: NewRotorCache(b.Parts)}, from)
	if err != nil {
		return nil, nil, err
	}
	h := newHunt(s, 1)
	p := &h.pairs[0]
	if err := h.prepare(p); err != nil {
		return nil, nil, err
	}
	h.begin, h.chances = []int{0}, make([]chance, 1)
	l := newLook(h, chunk{0, 0, 1})
	pack := h.groups[p.group].packs[0]
	rotor := l.rotor(p, 0)
	kinds := combo{0, int32(p.motor), int32(p.prop), 0, 0, int32(pack)}
	return func() bool { _, suits := l.try(kinds, rotor); return suits }, func() float64 { return h.cornerOf(p, pack).time }, nil
}

// BestDrawn are the chances of being the best, by rank, of those packs of a ranking that have one, where every one of
// them flies in every draw; the others have 0.
func BestDrawn(r *Ranking) []float64 {
	shared := r.Plan.drawShared()
	merits := make([]points, len(r.Ranked))
	for i := range r.Ranked {
		if r.Ranked[i].Best != nil {
			merits[i] = r.Plan.draw(r.Ranked[i].Pack, shared).merit
		}
	}
	out := make([]float64, len(r.Ranked))
	for n := range shared.each {
		winner := 0
		for i, m := range merits {
			if m != nil && m[n] > merits[winner][n] {
				winner = i
			}
		}
		out[winner] += 1 / float64(len(shared.each))
	}
	return out
}

// PerGram is a slope without a jump.
func PerGram(times [5]float64) float64 { return perGram(times) }
