package planner

import (
	"slices"

	"allup/catalog"
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
	Mended        []Remark // rules that only the build before it broke
}

// CompareSwap answers what changes between two builds.
func CompareSwap(before, after *catalog.Build) (*Swap, error) {
	b, err := outcome(before)
	if err != nil {
		return nil, err
	}
	a, err := outcome(after)
	if err != nil {
		return nil, err
	}
	return &Swap{Before: *b, After: *a, Newly: missing(a.Broken, b.Broken), Mended: missing(b.Broken, a.Broken)}, nil
}

// Under reports whether the build after the change keeps limit and spare.
func (s *Swap) Under() bool { return s.After.Weighing.Verdict == Under }

func outcome(b *catalog.Build) (*Outcome, error) {
	p, err := Resolve(b)
	if err != nil {
		return nil, err
	}
	o := &Outcome{Plan: p, Weighing: p.Weigh()}
	o.Broken = append(o.Broken, p.Conflicts...)
	if p.Pack == nil {
		switch o.Weighing.Verdict {
		case Over:
			o.Broken = append(o.Broken, remark(OverLimit, "", "makes %s without a pack, %s", grams(o.Weighing.Mass), overText(b.Limit.Limit, o.Weighing.Mass)))
		case SpareShort:
			o.Broken = append(o.Broken, remark(UnderSpare, "", "leaves less than the %s kept back", grams(b.Limit.Spare)))
		}
		return o, nil
	}
	pack, _, err := PackOf(b.Parts, p.Pack.ID)
	if err != nil {
		return nil, err
	}
	a := p.Assess(pack)
	p.AddBand(&a)
	o.Flown = &a
	o.Broken = append(o.Broken, a.Against...)
	// Before money is spent, a current that a part does not carry is more than a warning.
	overdriven := func(r Remark) bool { return r.Code == BoardCurrent || r.Code == MotorCurrent }
	for _, r := range a.Warnings {
		if overdriven(r) {
			o.Broken = append(o.Broken, r)
		}
	}
	a.Warnings = slices.DeleteFunc(a.Warnings, overdriven)
	return o, nil
}

// missing are the remarks of a whose code and subject are not in b.
func missing(a, b []Remark) []Remark {
	has := map[Code]bool{}
	for _, r := range b {
		has[r.Code] = true
	}
	var out []Remark
	for _, r := range a {
		if !has[r.Code] {
			out = append(out, r)
		}
	}
	return out
}
