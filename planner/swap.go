package planner

import (
	"slices"

	"allup/catalog"
	"allup/model"
	"allup/model/words"
)

// Outcome is a build at one side of a swap.
type Outcome struct {
	Plan     *Plan // by knowledge of the rotors that compares with the other side's
	Best     *Plan // by the best knowledge of them; Plan where the two are one
	Weighing Weighing
	Flown    *Assessment // of Plan; nil where the build carries no pack
	Own      *Assessment // of Best: what [Plan.Rank] says of it; Flown where the two are one
	Broken   []Remark    // every rule that the build breaks by Best: conflicts and reasons against its pack
}

// Alike reports whether the side is compared by the best knowledge of its rotors that there is.
func (o *Outcome) Alike() bool { return o.Plan == o.Best }

// Swap is a build before and after a change.
type Swap struct {
	Before, After Outcome
	Newly         []Remark // rules that only the build after the change breaks
	Still         []Remark // rules that the build breaks before and after
	Mended        []Remark // rules that only the build before the change broke

	Difference *Band    // of the figures after less those before; nil where one side does not fly
	Remedies   []Remedy // what would settle the differences that the data cannot tell from none
}

// CompareSwap answers what changes between two builds of one catalogue, with packs of it.
func CompareSwap(before, after *catalog.Build, packs *PackSet) (*Swap, error) {
	return CompareSwapIn(before, after, packs, Conditions{})
}

// CompareSwapIn is CompareSwap with both builds under other conditions than their files name.
func CompareSwapIn(before, after *catalog.Build, packs *PackSet, c Conditions) (*Swap, error) {
	was, is, err := resolveBoth(before, after, c)
	if err != nil {
		return nil, err
	}
	s := &Swap{Before: was.outcome(packs), After: is.outcome(packs)}
	s.Newly, s.Still = split(s.After.Broken, s.Before.Broken)
	s.Mended, _ = split(s.Before.Broken, s.After.Broken)
	s.findDifference(packs)
	return s, nil
}

// Under reports whether the build after the change keeps limit and spare.
func (s *Swap) Under() bool { return s.After.Weighing.Verdict == Under }

// Yes reports whether the swap can be made: the build after it keeps limit and spare,
// breaks no rule that it kept before, and flies on its pack.
func (s *Swap) Yes() bool {
	return s.Under() && len(s.Newly) == 0 && (s.After.Own == nil || s.After.Own.Eligible())
}

// bothPlans are one side of a swap by the best knowledge of its rotors, and by what compares with the other side.
type bothPlans struct{ best, alike *Plan }

// resolveBoth makes plans that compare like with like. Hovers were flown with the parts before the change, gear
// and all: their factor holds after it where the rotors are the same ones. Where they are not, both sides are
// predicted without it, and by the best kind of knowledge that there is of both, or what one of them lacks
// would pass for a difference.
func resolveBoth(before, after *catalog.Build, c Conditions) (was, is bothPlans, err error) {
	fail := func(err error) (bothPlans, bothPlans, error) { return bothPlans{}, bothPlans{}, err }
	from, err := requestOf(before)
	if err != nil {
		return fail(err)
	}
	to, err := requestOf(after)
	if err != nil {
		return fail(err)
	}
	from.conditions, to.conditions = c, c
	if after.Parts == before.Parts {
		to.rotors = from.rotors
	}
	if was.best, err = from.plan(); err != nil {
		return fail(err)
	}
	same := sameRotors(from, to)
	switch k := was.best.Propulsion.Calibration; {
	case k == nil:
		to.hovers = hoversLeftOut
	case same:
		to.hovers, to.calibration = hoversElsewhere, k
	default:
		to.hovers = hoversOfOthers
	}
	if is.best, err = to.plan(); err != nil {
		return fail(err)
	}
	was.alike, is.alike = was.best, is.best
	if same {
		return was, is, nil
	}
	known := knownOfBoth(was.best.Propulsion.Kinds, is.best.Propulsion.Kinds)
	if was.best.Propulsion.Calibration != nil || was.best.Propulsion.Base != known[0] {
		from.hovers, from.only = hoversLeftOut, known[0]
		if was.alike, err = from.plan(); err != nil {
			return fail(err)
		}
	}
	if is.best.Propulsion.Base != known[1] {
		to.only = known[1]
		if is.alike, err = to.plan(); err != nil {
			return fail(err)
		}
	}
	return was, is, nil
}

// knownOfBoth is by which kind of knowledge each of two pairs of motor and propeller compares with the other,
// of the kinds that there are of each, best first. It is the best kind that there is of both; where that is a
// guess from size and something else was measured of each, it is the best measurement of each: two
// measurements, though of two kinds, tell more of a difference than two guesses.
func knownOfBoth(a, b []model.Knowledge) [2]model.Knowledge {
	both := model.FromGeometry
	place := len(a) + len(b)
	for i, kind := range a {
		// A table and a test of both, each best of one: the test saw both motors, and the way back is the same.
		if j := slices.Index(b, kind); j >= 0 && (max(i, j) < place || max(i, j) == place && kind == model.FromThrustTest) {
			both, place = kind, max(i, j)
		}
	}
	if both == model.FromGeometry {
		if a[0] == model.FromGeometry || b[0] == model.FromGeometry {
			return [2]model.Knowledge{both, both}
		}
		return [2]model.Knowledge{a[0], b[0]}
	}
	return [2]model.Knowledge{both, both}
}

func (b bothPlans) outcome(packs *PackSet) Outcome {
	o := Outcome{Plan: b.alike, Best: b.best, Weighing: b.best.Weigh()}
	build := b.best.Build
	o.Broken = append(o.Broken, b.best.Conflicts...)
	if b.best.Pack == nil {
		switch o.Weighing.Verdict {
		case Over:
			o.Broken = append(o.Broken, remark(OverLimit, "", "makes %s without a pack, %s", words.Grams(o.Weighing.Mass), overText(build.Limit, o.Weighing.Mass)))
		case SpareShort:
			o.Broken = append(o.Broken, remark(UnderSpare, "", "leaves less than the %s kept back", words.Grams(build.Limit.Spare)))
		case NotSure:
			o.Broken = append(o.Broken, remark(UnsureLimit, "", "has a chance of %s of breaking the limit without a pack", words.Chance(o.Weighing.OverChance)))
		}
		return o
	}
	pack := packs.Pack(b.best.Pack.ID)
	own := b.best.Assess(pack)
	b.best.DrawBand(&own)
	o.Own, o.Flown = &own, &own
	o.Broken = append(o.Broken, own.Against()...)
	// Before money is spent, a current that a part does not carry is more than a warning.
	overdriven := own.cautions & overdrivenRules()
	o.Broken = append(o.Broken, overdriven.remarks(&own.Candidate, packCautions)...)
	own.cautions &^= overdriven
	if !o.Alike() {
		alike := b.alike.Assess(pack)
		b.alike.DrawBand(&alike)
		alike.cautions &^= overdriven
		o.Flown = &alike
	}
	return o
}

// split are the remarks of a that b does not have, and those that it has. The same rule
// broken by another part is another remark; a limit is the whole build's, whatever pack tips it.
func split(a, b []Remark) (missing, shared []Remark) {
	type key struct {
		code    Code
		subject string
	}
	of := func(r Remark) key {
		if r.Code == OverLimit || r.Code == UnderSpare || r.Code == UnsureLimit {
			return key{code: r.Code}
		}
		return key{r.Code, r.Subject}
	}
	has := map[key]bool{}
	for _, r := range b {
		has[of(r)] = true
	}
	for _, r := range a {
		if has[of(r)] {
			shared = append(shared, r)
		} else {
			missing = append(missing, r)
		}
	}
	return missing, shared
}
