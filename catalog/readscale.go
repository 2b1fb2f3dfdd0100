package catalog

import (
	"maps"
	"math"
	"slices"
	"strconv"

	"allup/model"
)

// readWeighed reads masses from the pilot's own scale. Any part of the catalogue may
// be weighed, not only what flies now: candidates are, too.
func (b *builder) readWeighed(root *table, build *Build) {
	t := root.child("weighed")
	if t == nil {
		return
	}
	for _, id := range slices.Sorted(maps.Keys(t.values)) {
		weight, ok := readWeight(t, id)
		i := slices.IndexFunc(build.Extras, func(e Extra) bool { return e.ID == id })
		common, kind, known := build.Parts.Record(id)
		var paper model.Mass
		switch {
		case known && kind != KindThrustTest:
			paper = common.Mass
		case i >= 0:
			paper = build.Extras[i].Mass
		default:
			hint := t.doc.didYouMean(id, func() []string {
				ids := build.Parts.allIDs()
				for _, e := range build.Extras {
					ids = append(ids, e.ID)
				}
				return ids
			})
			if hint == "" {
				b.noSuch(t.field(id, 0))
			}
			t.fault(id, InputError{Msg: "is not the id of a part or an extra", Hint: hint})
			continue
		}
		if ok {
			build.Weighed[id] = weight
			checkWeight(t, id, kind, weight, paper, build.Rotors)
		}
	}
	t.done()
}

// readWeight reads the mass of one piece, or of several that were on the scale together.
func readWeight(t *table, id string) (Weight, bool) {
	w := span(0.01, 5000, "g")
	if _, isTable := t.values[id].(map[string]any); !isTable {
		if _, isNumber := asNumber(t.values[id]); !isNumber {
			value, _ := t.lookUp(id)
			fault := InputError{Value: show(value), Msg: "is not a mass", Allowed: w.String() + " for one, or { together_g = 39.3, count = 4 }"}
			if text, isText := value.(string); isText {
				if _, err := strconv.ParseFloat(text, 64); err == nil {
					fault.Hint = "write it without quotes"
				}
			}
			t.fault(id, fault)
			return Weight{}, false
		}
		grams, ok := t.number(id, w)
		return Weight{Each: model.Mass(grams) * model.Gram, Together: 1}, ok
	}
	several := t.child(id)
	grams, ok := several.number("together_g", w.must())
	n, counted := several.number("count", want{min: 1, max: 100, unit: "pieces", whole: true, needed: true})
	several.done()
	if !ok || !counted {
		return Weight{}, false
	}
	return Weight{Each: model.Mass(grams/n) * model.Gram, Together: int(n)}, true
}

func asNumber(value any) (float64, bool) {
	switch n := value.(type) {
	case int64:
		return float64(n), true
	case float64:
		return n, true
	}
	return 0, false
}

// checkWeight warns of a weight that is far from the mass on paper, and guesses why.
func checkWeight(t *table, id string, kind Kind, w Weight, paper model.Mass, rotors int) {
	ratio := float64(w.Each / paper)
	if paper <= 0 || ratio <= 2 && ratio >= 0.5 {
		return
	}
	grams, each := showNumber(w.Each.Grams()), showRounded(paper.Grams())
	if w.Together > 1 {
		grams = showRounded(w.Each.Grams())
	}
	perRotor := (kind == KindMotor || kind == KindProp) && rotors > 1 && w.Together == 1
	if one := ratio / float64(rotors); perRotor && math.Abs(one-1) < 0.25 {
		n := strconv.Itoa(rotors)
		t.odd("odd-weighed", id, 0, grams+" g is taken for one piece; "+grams+"/"+n+" = "+showRounded(w.Each.Grams()/float64(rotors))+
			" g would be near the "+each+" g on paper: for "+n+" together write { together_g = "+grams+", count = "+n+" }")
		return
	}
	t.odd("odd-weighed", id, 0, grams+" g on the scale is far from the "+each+" g on paper")
}

// readScale reads what a scale said of the whole build.
func (b *builder) readScale(t *table, build *Build) *Scale {
	const either = "all_up_g with everything on board, or dry_g without a pack"
	s := &Scale{Tolerance: model.WeighedTolerance}
	mass := span(1, 25000, "g").usually(20, 5000)
	allUp, hasAllUp := t.number("all_up_g", mass)
	dry, hasDry := t.number("dry_g", mass)
	if g, ok := t.number("tolerance_g", span(0.001, 100, "g").usually(0.005, 5)); ok {
		s.Tolerance = model.Mass(g) * model.Gram
	}
	pack := t.text("pack")
	switch {
	case t.has("all_up_g") && t.has("dry_g"):
		t.fault("dry_g", InputError{Msg: "stands beside all_up_g", Allowed: either, Hint: "the pack alone goes under [weighed]"})
	case t.has("dry_g") && t.has("pack"):
		t.fault("pack", InputError{Msg: "stands beside dry_g, the mass without a pack", Allowed: either})
	case !t.has("all_up_g") && !t.has("dry_g"):
		t.fault("", InputError{Msg: "has neither all_up_g nor dry_g", Allowed: either})
	case hasDry:
		s.Mass = model.Mass(dry) * model.Gram
	case pack != "" && b.parts.Packs[pack] == nil:
		b.faultUnknown(t, "pack", 0, KindPack, pack)
	case pack != "":
		s.Pack = pack
	case !t.has("pack") && len(build.Slots.Pack) > 0:
		s.Pack = build.Slots.Pack[0]
		if hasAllUp {
			t.odd("scale-pack-unnamed", "all_up_g", 0, showNumber(allUp)+" g was weighed with a pack that is not named: it is taken for today's, "+s.Pack+"; add pack = "+quote(s.Pack))
		}
	case !t.has("pack"):
		t.fault("all_up_g", InputError{Msg: "does not say which pack was on the scale", Allowed: "pack = ID beside it, a pack in slots.pack, or dry_g for the mass without one"})
	}
	if hasAllUp {
		s.Mass = model.Mass(allUp) * model.Gram
	}
	return s
}
