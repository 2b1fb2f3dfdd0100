package planner

import (
	"allup/catalog"
	"allup/model/words"
)

// Outcome is a build at one side of a swap.
type Outcome struct {
	Plan     *Plan
	Weighing Weighing
	Flown    *Assessment // nil where the build carries no pack
	Broken   []Remark    // every rule that the build breaks: conflicts and reasons against its pack
}

// Swap is a build before and after a change.
type Swap struct {
	Before, After Outcome
	Newly         []Remark // rules that only the build after the change breaks
	Still         []Remark // rules that the build breaks before and after
	Mended        []Remark // rules that only the build before the change broke
}

// CompareSwap answers what changes between two builds of one catalogue, with packs of it.
func CompareSwap(before, after *catalog.Build, packs *PackSet) (*Swap, error) {
	was, is, err := resolveBoth(before, after)
	if err != nil {
		return nil, err
	}
	s := &Swap{Before: outcome(was, packs), After: outcome(is, packs)}
	s.Newly, s.Still = split(s.After.Broken, s.Before.Broken)
	s.Mended, _ = split(s.Before.Broken, s.After.Broken)
	return s, nil
}

// Under reports whether the build after the change keeps limit and spare.
func (s *Swap) Under() bool { return s.After.Weighing.Verdict == Under }

// Yes reports whether the swap can be made: the build after it keeps limit and spare,
// breaks no rule that it kept before, and flies on its pack.
func (s *Swap) Yes() bool {
	return s.Under() && len(s.Newly) == 0 && (s.After.Flown == nil || s.After.Flown.Eligible())
}

// resolveBoth makes plans that compare. Hovers were flown with the parts before the
// change, gear and all: their factor holds after it where the rotors are the same ones. Where they are
// not, both sides are predicted without it, or the factor would pass for a difference.
func resolveBoth(before, after *catalog.Build) (was, is *Plan, err error) {
	from, err := requestOf(before)
	if err != nil {
		return nil, nil, err
	}
	to, err := requestOf(after)
	if err != nil {
		return nil, nil, err
	}
	if after.Parts == before.Parts {
		to.rotors = from.rotors
	}
	if was, err = from.plan(); err != nil {
		return nil, nil, err
	}
	switch k := was.Propulsion.Calibration; {
	case k == nil:
		to.hovers = hoversLeftOut
	case sameRotors(from, to):
		to.hovers, to.calibration = hoversElsewhere, k
	default:
		from.hovers, to.hovers = hoversLeftOut, hoversOfOthers
		if was, err = from.plan(); err != nil {
			return nil, nil, err
		}
	}
	is, err = to.plan()
	return was, is, err
}

func outcome(p *Plan, packs *PackSet) Outcome {
	b := p.Build
	o := Outcome{Plan: p, Weighing: p.Weigh()}
	o.Broken = append(o.Broken, p.Conflicts...)
	if p.Pack == nil {
		switch o.Weighing.Verdict {
		case Over:
			o.Broken = append(o.Broken, remark(OverLimit, "", "makes %s without a pack, %s", words.Grams(o.Weighing.Mass), overText(b.Limit, o.Weighing.Mass)))
		case SpareShort:
			o.Broken = append(o.Broken, remark(UnderSpare, "", "leaves less than the %s kept back", words.Grams(b.Limit.Spare)))
		case NotSure:
			o.Broken = append(o.Broken, remark(UnsureLimit, "", "has a chance of %s of breaking the limit without a pack", words.Percent(o.Weighing.OverChance)))
		}
		return o
	}
	a := p.Assess(packs.Pack(p.Pack.ID))
	p.AddBand(&a)
	o.Flown = &a
	o.Broken = append(o.Broken, a.Against()...)
	// Before money is spent, a current that a part does not carry is more than a warning.
	overdriven := a.cautions & (only(packCautions, BoardCurrent) | only(packCautions, MotorCurrent))
	o.Broken = append(o.Broken, overdriven.remarks(&a.Candidate, packCautions)...)
	a.cautions &^= overdriven
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
