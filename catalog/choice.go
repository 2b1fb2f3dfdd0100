package catalog

import (
	"maps"
	"slices"
)

// builtinLayer is the name of the layer that comes with the program.
const builtinLayer = "built-in"

// Demo reports whether a record is one of those that come with the program. Their makers and
// figures are invented: they show how the program works, and are no ground to buy on.
func (c *Common) Demo() bool { return c.Source.Layer == builtinLayer }

// WithDemoPacks is the same catalogue, in which the demo packs are chosen from beside the user's own.
func (c *Catalogue) WithDemoPacks() *Catalogue {
	copied := *c
	copied.demoPacks = true
	return &copied
}

// PackChoice lists, sorted, the ids of the packs that answers choose from and learn from, and of those
// that are left out. Demo packs are left out as soon as the user has a pack of his own, unless
// [Catalogue.WithDemoPacks] keeps them: an invented pack must not win over a real one, nor lend it its figures.
func (c *Catalogue) PackChoice() (chosen, leftOut []string) {
	ids := slices.Sorted(maps.Keys(c.Packs))
	own := func(id string) bool { return !c.Packs[id].Demo() }
	if c.demoPacks || !slices.ContainsFunc(ids, own) {
		return ids, nil
	}
	for _, id := range ids {
		if own(id) {
			chosen = append(chosen, id)
		} else {
			leftOut = append(leftOut, id)
		}
	}
	return chosen, leftOut
}

// PacksAsked lists the packs that the build restricts a ranking to: those of packs.only or, without it, the
// candidates where slots.pack lists several. Nil is no restriction.
func (b *Build) PacksAsked() []string {
	if len(b.Packs.Only) > 0 {
		return slices.Clone(b.Packs.Only)
	}
	if len(b.Slots.Pack) > 1 {
		return slices.Clone(b.Slots.Pack)
	}
	return nil
}
