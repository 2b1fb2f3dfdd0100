package planner

import (
	"fmt"
	"math"
	"slices"

	"gonum.org/v1/gonum/optimize"

	"allup/catalog"
	"allup/model"
	"allup/model/words"
)

// SizeOptions narrow the search for the best pack size. The zero value takes the cells and the chemistry of today's
// pack, or else those of most tested packs that the build takes.
type SizeOptions struct {
	Cells      int
	Chemistry  model.Chemistry
	LeastPunch float64 // smallest punch ratio that is acceptable; 0 for any
	Progress   Progress
}

// Bind names what keeps a pack from being larger, or smaller, than it is.
type Bind string

// What binds the size of a pack.
const (
	BindsNothing  Bind = "nothing"   // the best size of all keeps every rule
	BindsLimit    Bind = "limit"     // the limit, with what is kept back
	BindsPackMass Bind = "pack-mass" // the build's greatest pack mass
	BindsBay      Bind = "bay"       // the frame's bay, for packs as dense as the tested ones
	BindsPunch    Bind = "punch"     // the smallest punch ratio that is acceptable
)

// Sized is a build with a pack of a family of a mass.
type Sized struct {
	Pack  model.Mass
	Mass  model.Mass // all-up
	Time  model.Time // of the build's mission
	Punch float64    // times weight
}

// GramWorth is what one gram more costs, in seconds of flight; a gain is above zero.
type GramWorth struct {
	Dead model.Time // of dead mass, at the same pack
	Pack model.Time // of pack, of the same family

	// 5 to 95 %, s: for what is not known of the craft, and for how far a pack of this mass may be off its family.
	DeadBand, PackBand Interval
	TimeBand           Interval // the same of the time itself
}

// SizedFamily is the best size within one family of packs.
type SizedFamily struct {
	Name    string // "median" or "best fifth"
	Members int    // packs that the family's figures are medians of
	Family  model.PackFamily

	Free    Sized // without the limit or any other rule
	AtBound bool  // Free is as large as was looked at; the best may be larger still
	Limited *Sized
	Binds   Bind
	Worth   GramWorth  // at Limited, in the build's mission; at Free where Limited is nil
	Hover   *GramWorth // the same in hover; nil where the mission is a hover
	Curve   []Sized    // rising in pack mass, from the smallest that flies
}

// Sizing is the pack size that a build wants.
type Sizing struct {
	Plan       *Plan
	Cells      int
	Chemistry  model.Chemistry
	Families   []SizedFamily // the field's median, then its best fifth
	Lightest   model.Mass    // of the tested packs of this kind
	Heaviest   model.Mass
	Most       model.Mass // the heaviest pack that limit, spare and the build's own rules leave
	MostBinds  Bind
	LeastPunch float64
	Nearest    []Assessment // tested packs of this kind that suit, nearest in mass to the best size first
	Remarks    []Remark
	LeftOut    LeftOut
}

// Remarks of a sizing.
const (
	FewMembers Code = "few-members" // the family rests on few packs
	NoSize     Code = "no-size"     // no size of pack keeps every rule
)

// bestShare is the part of the field that counts as its best.
const bestShare = 0.2

// mostTimesDry is the heaviest pack that is looked at, in times the dry mass: the free optimum of a craft without
// electronics is at twice [constant specific energy, power as mass^1.5], constant electronics power moves it up.
const mostTimesDry = 8

// Size finds the pack size at which the build flies longest, free and under the limit, from the packs of a set,
// which is of the build's catalogue.
func (p *Plan) Size(set *PackSet, options SizeOptions) (*Sizing, error) {
	packs := set.All(options.Progress)
	s := &Sizing{Plan: p, Cells: options.Cells, Chemistry: options.Chemistry, LeastPunch: options.LeastPunch, LeftOut: set.LeftOut()}
	if err := s.choose(packs); err != nil {
		return nil, err
	}
	var members []model.FamilyMember
	var kind []*Pack
	var volumes []float64 // kg/m3
	for _, pack := range packs {
		if pack.Cells != s.Cells || pack.Chemistry != s.Chemistry || pack.Basis == BasisLabel || pack.hasRemark(Doubtful) {
			continue
		}
		kind = append(kind, pack)
		mass := p.PackItem(pack.Pack).Each
		s.Heaviest = max(s.Heaviest, mass)
		if s.Lightest == 0 || mass < s.Lightest {
			s.Lightest = mass
		}
		members = append(members, model.FamilyMember{Mass: mass, Energy: testedEnergy(pack), Circuit: p.circuitOf(pack)})
		if b := pack.Size; b != nil {
			volumes = append(volumes, float64(mass)/float64(b.L*b.W*b.H))
		}
	}
	if len(members) < 5 {
		s.Remarks = append(s.Remarks, remark(FewMembers, "", "only %s of %s, %d cells: the family's figures are rough",
			words.Count(len(members), "tested pack", "tested packs"), s.Chemistry, s.Cells))
	}
	if said, low := p.LowLanding(s.Chemistry); low {
		s.Remarks = append(s.Remarks, said)
	}
	s.bound(volumes)
	for _, f := range []struct {
		name  string
		share float64
	}{{"median", 1}, {"best fifth", bestShare}} {
		family, err := model.FitPackFamily(members, f.share)
		if err != nil {
			return nil, err
		}
		sized := SizedFamily{Name: f.name, Members: max(1, int(math.Round(f.share*float64(len(members))))), Family: family}
		s.size(&sized)
		s.Families = append(s.Families, sized)
	}
	s.nearest(kind)
	return s, nil
}

// choose settles cells and chemistry.
func (s *Sizing) choose(packs []*Pack) error {
	p := s.Plan
	if today := p.Pack; today != nil {
		if s.Cells == 0 {
			s.Cells = today.Cells
		}
		if s.Chemistry == "" && s.Cells == today.Cells {
			s.Chemistry = today.Chemistry
		}
	}
	type kind struct {
		cells     int
		chemistry model.Chemistry
	}
	count := map[kind]int{}
	var best kind
	for _, pack := range packs {
		k := kind{pack.Cells, pack.Chemistry}
		if pack.Basis == BasisLabel || pack.hasRemark(Doubtful) || s.Cells != 0 && k.cells != s.Cells || s.Chemistry != "" && k.chemistry != s.Chemistry {
			continue
		}
		f := p.Build.Packs
		if len(f.Cells) > 0 && !slices.Contains(f.Cells, k.cells) && s.Cells == 0 ||
			len(f.Chemistries) > 0 && !slices.Contains(f.Chemistries, k.chemistry) && s.Chemistry == "" {
			continue
		}
		count[k]++
		if n := count[k]; n > count[best] || n == count[best] && (k.cells > best.cells || k.cells == best.cells && k.chemistry < best.chemistry) {
			best = k
		}
	}
	if count[best] == 0 {
		what := "tested pack"
		if s.Cells != 0 {
			what += fmt.Sprintf(" of %d cells", s.Cells)
		}
		if s.Chemistry != "" {
			what += " of chemistry " + string(s.Chemistry)
		}
		return catalog.InputError{File: p.Build.File, Msg: "no " + what + " in the catalogue to learn a size from: give packs with --parts, or ask for other --cells"}
	}
	s.Cells, s.Chemistry = best.cells, best.chemistry
	return nil
}

// testedEnergy is the energy of a pack's own discharge, or of its circuit's under the usual protocol.
func testedEnergy(pack *Pack) model.Energy {
	if t := pack.Tested; t != nil && t.Energy > 0 {
		return t.Energy
	}
	return pack.Circuit.Tests(model.UsualProtocol(pack.Rated, pack.Cells)).Energy
}

// bound finds the heaviest pack that the rules leave, and which of them it is.
func (s *Sizing) bound(densities []float64) {
	p := s.Plan
	s.Most, s.MostBinds = p.Build.Limit.Mass-p.Build.Limit.Spare-p.Dry, BindsLimit
	if !p.Build.Limit.Inclusive {
		s.Most -= model.Gram / 1000 // under the limit, and not at it
	}
	s.Most = s.surely(s.Most)
	if most := p.Build.Packs.MaxMass; most != nil && *most < s.Most {
		s.Most, s.MostBinds = *most, BindsPackMass
	}
	if bay := p.Frame.Bay; bay != nil && len(densities) > 0 {
		slices.Sort(densities)
		density := densities[len(densities)/2]
		if most := model.Mass(density * float64(bay.L*bay.W*bay.H)); most < s.Most {
			s.Most, s.MostBinds = most, BindsBay
		}
	}
}

// surely is the heaviest pack, up to a mass, that keeps the limit as surely as the build asks, known as well as
// a catalogue knows it.
func (s *Sizing) surely(most model.Mass) model.Mass {
	p, limit := s.Plan, s.Plan.Build.Limit
	tooUnsure := func(m model.Mass) bool {
		pack := catalog.Pack{Common: catalog.Common{Mass: m}}
		return limit.TooUnsure(limit.ChanceOver(p.Dry+m, p.SpreadWith(&pack)))
	}
	if most <= 0 || !tooUnsure(most) {
		return most
	}
	low, high := model.Mass(0), most
	for high-low > model.Gram/1e6 {
		if m := (low + high) / 2; tooUnsure(m) {
			high = m
		} else {
			low = m
		}
	}
	return low
}

// at is the build with a pack of a mass.
func (s *Sizing) at(f model.PackFamily, pack model.Mass, dead model.Mass, mission model.Mission) Sized {
	return s.flown(s.Plan.Bare(), f, pack, dead, mission, nil)
}

// flown is at for other inputs of the build without a pack, and with the circuit moved off the family's; nil
// moves nothing.
func (s *Sizing) flown(bare Inputs, f model.PackFamily, pack, dead model.Mass, mission model.Mission, move func(*Inputs)) Sized {
	out := Sized{Pack: pack, Mass: bare.Mass + dead + pack}
	if f.Energy(pack) <= 0 {
		return out
	}
	in := bare.with(f.Circuit(pack), dead+pack)
	if move != nil {
		move(&in)
	}
	a := in.Drive.Answer(in.Circuit, out.Mass, mission)
	out.Time, out.Punch = a.Duration(), a.Punch.Ratio(out.Mass)
	return out
}

// curvePoints is how finely the curve over pack mass is worked out.
const curvePoints = 64

// size fills in the best sizes of a family.
func (s *Sizing) size(f *SizedFamily) {
	p := s.Plan
	mission := p.MissionOn(s.Chemistry)
	f.Curve, f.Limited, f.Binds = nil, nil, ""
	least := f.Family.Bare + (p.Dry-f.Family.Bare)/200
	top := f.Family.Bare + mostTimesDry*p.Dry
	time := func(m model.Mass) Sized { return s.at(f.Family, m, 0, mission) }
	// Even steps of the logarithm: small packs differ more for a gram than large ones.
	for i := range curvePoints {
		share := float64(i) / (curvePoints - 1)
		m := least * model.Mass(math.Pow(float64(top/least), share))
		if point := time(m); point.Time > 0 {
			f.Curve = append(f.Curve, point)
		}
	}
	f.Free = best(least, top, time, func(Sized) bool { return true })
	f.AtBound = f.Free.Pack > 0.98*top
	keeps := func(x Sized) bool { return x.Punch >= s.LeastPunch && x.Time > 0 }
	at := f.Free
	if most := min(s.Most, top); most > least {
		limited := best(least, most, time, keeps)
		if keeps(limited) {
			f.Limited = &limited
			f.Binds = s.binding(f, limited, keeps)
			at = limited
		}
	}
	if f.Limited == nil {
		s.Remarks = append(s.Remarks, remark(NoSize, "", "%s, for the %s of the packs", s.whyNone(), f.Name))
	}
	f.Worth = s.worth(f, at.Pack, mission)
	if len(mission.Phases) > 0 {
		hover := mission
		hover.Phases = nil
		w := s.worth(f, at.Pack, hover)
		f.Hover = &w
	}
}

func (s *Sizing) whyNone() string {
	if s.Most <= 0 {
		return "the build without a pack leaves nothing under the limit"
	}
	if s.LeastPunch > 0 {
		return fmt.Sprintf("no size flies with a punch of %s times the weight", words.Trimmed(s.LeastPunch, 2))
	}
	return "no size flies"
}

// binding names what keeps the best size under the rules from being the free one.
func (s *Sizing) binding(f *SizedFamily, limited Sized, keeps func(Sized) bool) Bind {
	switch {
	case limited.Pack >= s.Most*(1-1e-4):
		return s.MostBinds
	case !keeps(f.Free) && f.Free.Pack <= s.Most:
		return BindsPunch
	case math.Abs(float64(limited.Pack/f.Free.Pack)-1) > 0.01:
		return BindsPunch
	}
	return BindsNothing
}

// best is the size between two masses that flies longest among those that are kept: the best of a grid, then a search
// about it.
func best(least, most model.Mass, at func(model.Mass) Sized, keep func(Sized) bool) Sized {
	const grid = 48
	mass := func(x float64) model.Mass { return least + (most-least)*model.Mass(x) }
	top, where := Sized{}, 0.0
	for i := range grid + 1 {
		x := float64(i) / grid
		if point := at(mass(x)); keep(point) && point.Time > top.Time {
			top, where = point, x
		}
	}
	if top.Time <= 0 {
		return Sized{}
	}
	low, high := max(0, where-1.0/grid), min(1, where+1.0/grid)
	coordinate := func(t float64) float64 { return low + (high-low)/(1+math.Exp(-t)) }
	scale := float64(top.Time)
	problem := optimize.Problem{Func: func(t []float64) float64 {
		if point := at(mass(coordinate(t[0]))); keep(point) {
			return -float64(point.Time) / scale
		}
		return math.Inf(1)
	}}
	start := min(max((where-low)/(high-low), 0.02), 0.98)
	settings := &optimize.Settings{FuncEvaluations: 200, Converger: &optimize.FunctionConverge{Absolute: 1e-12, Iterations: 30}}
	// Where the search ends at its own limit, or not at all, what it has is still compared with the grid's best.
	if r, err := optimize.Minimize(problem, []float64{math.Log(start / (1 - start))}, settings, &optimize.NelderMead{SimplexSize: 0.5}); err == nil {
		if point := at(mass(coordinate(r.X[0]))); keep(point) && point.Time > top.Time {
			top = point
		}
	}
	return top
}

// gramStep is the change of mass that a gram's worth is worked out from.
const gramStep = 0.1 * model.Gram

// gramSteps is how many steps a time is worked out for to either side.
const gramSteps = 2

// perGram is what a gram does to a time that is known in steps of gramStep about a mass: the mean of the two middle
// ones of four slopes. A flight in phases jumps where it just ends before a punch or just after, and one slope with
// it.
func perGram(times [2*gramSteps + 1]float64) float64 {
	var slopes [2 * gramSteps]float64
	for k := range slopes {
		slopes[k] = (times[k+1] - times[k]) / float64(gramStep/model.Gram)
	}
	slices.Sort(slopes[:])
	return (slopes[gramSteps-1] + slopes[gramSteps]) / 2
}

// worth is what a gram is worth at a pack's mass, with its band: each uncertain input is moved by one standard
// deviation either way, as in [Plan.AddBand].
func (s *Sizing) worth(f *SizedFamily, pack model.Mass, mission model.Mission) GramWorth {
	p := s.Plan
	grams := func(bare Inputs, move func(*Inputs)) figures {
		time := func(pack, dead model.Mass) float64 {
			return float64(s.flown(bare, f.Family, pack, dead, mission, move).Time)
		}
		var dead, more [2*gramSteps + 1]float64
		for k := range dead {
			step := model.Mass(k-gramSteps) * gramStep
			dead[k], more[k] = time(pack, step), time(pack+step, 0)
		}
		return figures{perGram(dead), perGram(more), dead[gramSteps]}
	}
	bare := p.Bare()
	base := grams(bare, nil)
	var sum spread
	_, u := p.known(p.Items)
	add := func(up, down Inputs) { sum.add(base, grams(up, nil), grams(down, nil)) }
	add(Uncertain{Input: InputMass, Sigma: float64(u), Move: moveMass}.around(bare))
	for i := range p.moved {
		add(p.moved[i].around(bare))
	}
	of := []Uncertain{
		{Sigma: math.Hypot(f.Family.ScatterQ, unitSigmaQ), Move: moveCapacity},
		{Sigma: math.Hypot(f.Family.ScatterR, unitSigmaR), Move: moveResistance},
	}
	if c := f.Family.Circuit(pack); min(c.StartTemperature(), c.Air) < model.ColdestMeasured {
		of = append(of, Uncertain{Sigma: model.ColdRiseSigma, Move: moveCold(model.ColdestMeasured)})
	}
	for _, own := range of {
		moved := func(by float64) figures { return grams(bare, func(in *Inputs) { own.Move(in, by) }) }
		sum.add(base, moved(own.Sigma), moved(-own.Sigma))
	}
	return GramWorth{
		Dead: model.Time(base[0]), Pack: model.Time(base[1]),
		DeadBand: sum.either(base, 0), PackBand: sum.either(base, 1), TimeBand: sum.interval(base, 2),
	}
}

// nearest lists the tested packs that suit the build, nearest to the best size of the median first.
func (s *Sizing) nearest(kind []*Pack) {
	target := s.Families[0].Free.Pack
	if l := s.Families[0].Limited; l != nil {
		target = l.Pack
	}
	for _, pack := range kind {
		if !s.Plan.asks(pack.ID) {
			continue
		}
		if a := s.Plan.Assess(pack); a.Eligible() && a.PunchRatio() >= s.LeastPunch {
			s.Nearest = append(s.Nearest, a)
		}
	}
	away := func(a Assessment) float64 { return math.Abs(float64(s.Plan.PackItem(a.Pack.Pack).Each - target)) }
	slices.SortStableFunc(s.Nearest, func(a, b Assessment) int {
		switch x, y := away(a), away(b); {
		case x < y:
			return -1
		case x > y:
			return 1
		}
		return 0
	})
	const most = 5
	s.Nearest = s.Nearest[:min(most, len(s.Nearest))]
}
