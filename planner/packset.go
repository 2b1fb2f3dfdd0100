package planner

import (
	"sync"

	"allup/catalog"
	"allup/model"
)

// PackSet is the packs of a catalogue with their circuits. A circuit is made when it is first asked for, and
// kept: one set serves every question about a catalogue. It may be used from several goroutines.
type PackSet struct {
	catalogue *catalog.Catalogue
	curves    map[model.Chemistry]model.Curve

	mu     sync.Mutex
	made   map[string]*Pack
	all    []*Pack                  // by id; nil until all were asked for
	tested map[likeness]*testedLike // nil until asked for
}

// NewPackSet is the packs of a catalogue, none of them made yet. The error is that of a chemistry without a curve.
func NewPackSet(cat *catalog.Catalogue) (*PackSet, error) {
	s := &PackSet{
		catalogue: cat, curves: map[model.Chemistry]model.Curve{},
		made: map[string]*Pack{},
	}
	for _, c := range model.Chemistries() {
		curve, err := model.CurveOf(c)
		if err != nil {
			return nil, err
		}
		s.curves[c] = curve
	}
	return s, nil
}

// All is every pack that answers choose from, [catalog.Catalogue.PackChoice], by id, its circuit made on all
// processors. The caller changes none of it.
func (s *PackSet) All(progress Progress) []*Pack {
	s.mu.Lock()
	defer s.mu.Unlock()
	if s.all == nil {
		chosen, _ := s.catalogue.PackChoice()
		s.all = s.some(chosen, progress)
	}
	return s.all
}

// Some are the packs of ids, which must be in the catalogue, in their order. See [PackSet.All].
func (s *PackSet) Some(ids []string, progress Progress) []*Pack {
	s.mu.Lock()
	defer s.mu.Unlock()
	return s.some(ids, progress)
}

func (s *PackSet) some(ids []string, progress Progress) []*Pack {
	packs := s.identify(ids, progress)
	for _, p := range packs {
		if p.Basis == BasisLabel && p.Circuit.Cells == 0 {
			p.guess(s.curves[p.Chemistry], s.labelResistance(p))
		}
	}
	return packs
}

// Pack is the pack of an id; nil where the catalogue has none. No other is made for it, but for one that is
// known by its label only the tested packs that are like it, whose median resistance it is given.
func (s *PackSet) Pack(id string) *Pack {
	s.mu.Lock()
	defer s.mu.Unlock()
	if s.catalogue.Packs[id] == nil {
		return nil
	}
	return s.some([]string{id}, nil)[0]
}

// Residuals are what the simulated tests of a pack's circuit miss its tested metrics by; nil where the circuit was not
// identified from metrics.
func (s *PackSet) Residuals(id string) []model.Residual {
	record := s.catalogue.Packs[id]
	if record == nil {
		return nil
	}
	p := Pack{Pack: record}
	return p.identify(s.curves[record.Chemistry])
}

// identify makes those of some packs that were not made before. Those known by a label only have no circuit yet.
func (s *PackSet) identify(ids []string, progress Progress) []*Pack {
	packs := make([]*Pack, len(ids))
	var missing []*Pack
	fresh := make([]Pack, len(ids)-s.countMade(ids))
	for i, id := range ids {
		if packs[i] = s.made[id]; packs[i] == nil {
			packs[i], fresh = &fresh[0], fresh[1:]
			packs[i].Pack = s.catalogue.Packs[id]
			missing = append(missing, packs[i])
			s.made[id] = packs[i]
		}
	}
	parallel(len(missing), progress, func(i int) { missing[i].identify(s.curves[missing[i].Chemistry]) })
	return packs
}

func (s *PackSet) countMade(ids []string) (n int) {
	for _, id := range ids {
		if s.made[id] != nil {
			n++
		}
	}
	return n
}
