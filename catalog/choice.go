package catalog

import "slices"

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

// PackChoice is [Catalogue.Choice] of packs.
func (c *Catalogue) PackChoice() (chosen, leftOut []string) { return c.Choice(KindPack) }

// Choice lists, sorted, the ids of the records of a kind that answers choose from and learn from, and of those
// that are left out. Demo records are left out as soon as the user has one of his own of that kind, unless
// [Catalogue.WithDemoPacks] keeps them: an invented part must not win over a real one, nor lend it its figures.
func (c *Catalogue) Choice(kind Kind) (chosen, leftOut []string) {
	ids := c.IDs(kind)
	own := func(id string) bool { r, _, ok := c.Record(id); return ok && !r.Demo() }
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

// Open is the build with slots that list, behind what they list already, every other record that there is to
// choose from. Of frames these are those with the build's rotors. Gear and kinds without a slot stay as they
// are.
func (b *Build) Open(kinds ...Kind) *Build {
	c := b.clone()
	for _, kind := range kinds {
		if slot := c.slot(kind); slot != nil && kind != KindGear {
			*slot = c.Parts.others(kind, *slot, b.Rotors)
		}
	}
	return c
}

// others are some ids and, behind them, those of all other records of a kind that there is to choose from.
func (c *Catalogue) others(kind Kind, ids []string, rotors int) []string {
	out := slices.Clone(ids)
	chosen, _ := c.Choice(kind)
	for _, id := range chosen {
		if kind == KindFrame && c.Frames[id].Rotors != 0 && c.Frames[id].Rotors != rotors || slices.Contains(ids, id) {
			continue
		}
		out = append(out, id)
	}
	return out
}
