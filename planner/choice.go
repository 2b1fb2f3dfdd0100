package planner

import "slices"

// LeftOut are the ids of packs that an answer does not look at.
type LeftOut struct {
	Demo  []string // invented ones of the demo catalogue, where the user has packs of his own
	Other []string // those that the build does not ask for, see [catalog.Build.PacksAsked]
}

// choose makes the packs that a ranking of the build looks at, by id, and says which it leaves out.
func (p *Plan) choose(set *PackSet, progress Progress) ([]*Pack, LeftOut) {
	chosen, demo := set.catalogue.PackChoice()
	asked := p.Build.PacksAsked()
	if asked == nil {
		return set.All(progress), LeftOut{Demo: demo}
	}
	slices.Sort(asked)
	unasked := func(ids []string) (out []string) {
		for _, id := range ids {
			if !slices.Contains(asked, id) {
				out = append(out, id)
			}
		}
		return out
	}
	return set.Some(asked, progress), LeftOut{Demo: unasked(demo), Other: unasked(chosen)}
}

// asks reports whether the build lets a pack be chosen.
func (p *Plan) asks(id string) bool {
	asked := p.Build.PacksAsked()
	return asked == nil || slices.Contains(asked, id)
}

// DemoParts lists the ids of the build's parts whose records are invented, in the order of the build sheet, the pack
// last.
func (p *Plan) DemoParts() []string {
	var ids []string
	for _, i := range p.Items {
		if i.Demo {
			ids = append(ids, i.ID)
		}
	}
	if p.Pack != nil && p.Pack.Demo() {
		ids = append(ids, p.Pack.ID)
	}
	return ids
}

// LeftOut are the packs that [PackSet.All] leaves out.
func (s *PackSet) LeftOut() LeftOut {
	_, demo := s.catalogue.PackChoice()
	return LeftOut{Demo: demo}
}
