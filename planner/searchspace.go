package planner

import (
	"cmp"
	"errors"
	"fmt"
	"math"
	"slices"

	"allup/catalog"
	"allup/model"
)

// SearchSpace is what a search chooses from: the candidates of every slot, each in order of id. Gear has one
// list for each of its places.
type SearchSpace struct {
	Frames []*catalog.Frame
	Motors []*catalog.Motor
	Props  []*catalog.Prop
	Boards []*catalog.Board
	Gear   [][]*catalog.Gear
	Packs  []*Pack
}

// SpaceOf are the candidates that a build lists, and the packs that a ranking of it would choose from.
func SpaceOf(b *catalog.Build, set *PackSet, progress Progress) SearchSpace {
	cat := b.Parts
	var s SearchSpace
	for _, id := range slices.Sorted(slices.Values(b.Slots.Frame)) {
		s.Frames = append(s.Frames, cat.Frames[id])
	}
	for _, id := range slices.Sorted(slices.Values(b.Slots.Motor)) {
		s.Motors = append(s.Motors, cat.Motors[id])
	}
	for _, id := range slices.Sorted(slices.Values(b.Slots.Prop)) {
		s.Props = append(s.Props, cat.Props[id])
	}
	for _, id := range slices.Sorted(slices.Values(b.Slots.Board)) {
		s.Boards = append(s.Boards, cat.Boards[id])
	}
	for place := range b.Slots.Gear {
		var list []*catalog.Gear
		for _, id := range slices.Sorted(slices.Values(b.Slots.GearChoice(place))) {
			list = append(list, cat.Gear[id])
		}
		s.Gear = append(s.Gear, list)
	}
	if asked := b.PacksAsked(); asked != nil {
		slices.Sort(asked)
		s.Packs = set.Some(asked, progress)
	} else {
		s.Packs = set.All(progress)
	}
	return s
}

// The slots of a combination, in the order that decides between builds of equal score.
const (
	slotFrame = iota
	slotMotor
	slotProp
	slotBoard
	slotGear
	slotPack
	slots
)

// combo is a whole build: for every slot the place of its part among the candidates, or of its kind among the kinds.
type combo [slots]int32

func compareCombos(a, b combo) int { return slices.Compare(a[:], b[:]) }

// kind is candidates of one slot between which no figure of a build differs.
type kind struct {
	places []int32 // of the candidates, rising; the first stands for all of them
	mass   float64 // kg, of all pieces
	price  float64 // of all pieces; see space.price
}

func (k kind) count() int64 { return int64(len(k.places)) }

// gearKind is a choice of gear, one for each place.
type gearKind struct {
	kind
	gear     []*catalog.Gear
	addends  []float64 // kg, as a mass budget adds them
	powers   []float64 // W, the same
	power    float64
	property string
}

type frameKind struct {
	kind
	*catalog.Frame
	perLift float64 // 1/(1 - thrust loss)
}

type motorKind struct {
	kind
	*catalog.Motor
}

type propKind struct {
	kind
	*catalog.Prop
}

type boardKind struct {
	kind
	*catalog.Board
}

type packKind struct {
	kind
	*Pack
	circuit model.Circuit // as the build flies it
	landing model.Landing
	group   int // of cells
	bays    int // its place among the sets of frames whose bay holds a pack
	rung    int // of its group's ladder
}

// space is a search made ready: candidates without differences put together, and what they weigh and cost.
type space struct {
	SearchSpace
	base   request
	plan   *Plan // of the first candidates: what the file asks for, its air and its mission
	air    model.Density
	priced bool   // price counts
	common string // currency that prices count in; "" for none

	frames []frameKind
	motors []motorKind
	props  []propKind
	boards []boardKind
	gears  []gearKind
	packs  []packKind
	groups []cellGroup

	prices  slotPrices
	choices [][]*catalog.Gear // every choice of gear, in order of ids
	rest    float64           // kg, of extras and what a scale adds
	most    float64           // kg all-up that may keep limit and spare

	// Parts whose limit of current is broken today as well, and is not held against a change of others.
	bearsBoard *catalog.Board
	bearsMotor *catalog.Motor
}

// cellGroup is the packs of one number of cells.
type cellGroup struct {
	cells  int
	packs  []int // kinds
	boards []int // kinds that take the cells
	ladder ladder
}

// mostCombinations is as many as can be counted.
const mostCombinations = 1 << 62

// mostGear is how many choices of gear a search takes.
const mostGear = 1 << 16

// newSpace makes candidates ready.
func newSpace(r request, from SearchSpace) (*space, error) {
	s := &space{SearchSpace: from, base: r}
	total := 1.0
	for _, n := range []int{len(from.Frames), len(from.Motors), len(from.Props), len(from.Boards), len(from.Packs)} {
		total *= float64(n)
	}
	gear := 1.0
	for _, list := range from.Gear {
		gear *= float64(len(list))
	}
	switch {
	case gear > mostGear:
		return nil, fmt.Errorf("the gear makes %.0f choices, more than the %d that a search takes: list fewer candidates", gear, mostGear)
	case total*gear >= mostCombinations:
		return nil, fmt.Errorf("the candidates make %.2g combinations, more than can be counted: list fewer of them", total*gear)
	}
	if r.selection.Frame == nil {
		return nil, errors.New("a search needs the parts that fly today, or the first candidates")
	}
	if weighed := r.build.Scale; weighed != nil && weighed.Of == nil {
		// What was on the scale are the parts of the file, whatever is chosen.
		build, scale := *r.build, *weighed
		scale.Of, build.Scale = r.build, &scale
		s.base.build = &build
	}
	varies := len(from.Frames) > 1 || len(from.Motors) > 1 || len(from.Props) > 1 || len(from.Boards) > 1
	if varies && s.base.hovers == hoversCount {
		s.base.hovers = hoversLeftOut
	}
	var err error
	if s.plan, err = s.base.plan(); err != nil {
		return nil, err
	}
	if k := s.plan.Propulsion.Calibration; k != nil {
		s.base.hovers, s.base.calibration = hoversElsewhere, k
	}
	if s.air, err = airOf(s.plan.Build.Air); err != nil {
		return nil, err
	}
	limit := s.plan.Build.Limit
	s.most = float64(limit.Mass-limit.Spare) + massSlack
	s.choices = choicesOf(from.Gear)
	s.currency()
	s.settlePrices()
	s.kinds()
	s.group()
	return s, nil
}

// massSlack is by how much a mass that was added up in another order may be off, kg, and far more.
const massSlack = 1e-9

// choicesOf is every choice of one piece from each list, in order of ids.
func choicesOf(lists [][]*catalog.Gear) [][]*catalog.Gear {
	all := [][]*catalog.Gear{nil}
	for _, list := range lists {
		var longer [][]*catalog.Gear
		for _, before := range all {
			for _, g := range list {
				longer = append(longer, append(slices.Clone(before), g))
			}
		}
		all = longer
	}
	return all
}

// currency settles whether price counts: where the goal weighs it in a currency that some candidate has a price in.
func (s *space) currency() {
	if s.common = s.plan.Currency(); s.common == "" {
		return
	}
	see := func(c *catalog.Common) {
		if v, ok := s.stated(c); ok && v > 0 {
			s.priced = true
		}
	}
	for _, r := range s.Frames {
		see(&r.Common)
	}
	for _, r := range s.Motors {
		see(&r.Common)
	}
	for _, r := range s.Props {
		see(&r.Common)
	}
	for _, r := range s.Boards {
		see(&r.Common)
	}
	for _, r := range s.anyGear() {
		see(&r.Common)
	}
	for _, r := range s.Packs {
		see(&r.Common)
	}
}

// boardLimit is the greatest current of a board's output; nil where none counts.
func (s *space) boardLimit(b *catalog.Board) *model.Current {
	if b == s.bearsBoard {
		return nil
	}
	return b.MaxCurrent
}

// motorLimit is the greatest current of a motor; nil where none counts.
func (s *space) motorLimit(m *catalog.Motor) *model.Current {
	if m == s.bearsMotor {
		return nil
	}
	return m.MaxCurrent
}

// stated is a part's price in the common currency.
func (s *space) stated(c *catalog.Common) (price float64, ok bool) {
	if c.Price == nil || c.Currency != s.common {
		return 0, false
	}
	return *c.Price, true
}

// slotPrices are what candidates cost, one piece, by their ids.
type slotPrices struct{ frames, motors, props, boards, gear, packs map[string]float64 }

// settlePrices works out what candidates cost.
func (s *space) settlePrices() {
	s.prices = slotPrices{
		frames: prices(s, s.Frames, func(r *catalog.Frame) *catalog.Common { return &r.Common }),
		motors: prices(s, s.Motors, func(r *catalog.Motor) *catalog.Common { return &r.Common }),
		props:  prices(s, s.Props, func(r *catalog.Prop) *catalog.Common { return &r.Common }),
		boards: prices(s, s.Boards, func(r *catalog.Board) *catalog.Common { return &r.Common }),
		packs:  prices(s, s.Packs, func(r *Pack) *catalog.Common { return &r.Common }),
	}
	s.prices.gear = prices(s, s.anyGear(), func(r *catalog.Gear) *catalog.Common { return &r.Common })
}

// anyGear is the candidates of all places of gear, each once.
func (s *space) anyGear() (gear []*catalog.Gear) {
	for _, list := range s.Gear {
		for _, g := range list {
			if !slices.Contains(gear, g) {
				gear = append(gear, g)
			}
		}
	}
	return gear
}

// prices are what a slot's candidates cost, one piece. One whose price is not known counts as the median of
// those that are, which is fixed before the search begins: the score of a build must not hang on what else
// there is.
func prices[T any](s *space, records []T, common func(T) *catalog.Common) map[string]float64 {
	out := make(map[string]float64, len(records))
	if !s.priced {
		return out
	}
	var known []float64
	for _, r := range records {
		if v, ok := s.stated(common(r)); ok {
			known = append(known, v)
		}
	}
	middle := 0.0
	if len(known) > 0 {
		slices.Sort(known)
		middle = (known[(len(known)-1)/2] + known[len(known)/2]) / 2
	}
	for _, r := range records {
		c := common(r)
		out[c.ID] = middle
		if v, ok := s.stated(c); ok {
			out[c.ID] = v
		}
	}
	return out
}

// massOf is what parts add to the all-up mass: by the list or, where the build was on a scale, as that has it. With
// nothing on a scale, it is what a mass budget adds.
func (s *space) massOf(slot string, c *catalog.Common, count int) float64 {
	return s.itemMass(s.plan.item(slot, c, count))
}

func (s *space) itemMass(i Item) float64 {
	if s.plan.Scale == nil {
		return float64(i.Total())
	}
	m, _ := s.plan.Scale.Correct(s.plan.Scale.sum([]Item{i}, false))
	return float64(m)
}

// doubt is how far parts may be off, where the build asks to be sure of its limit: no two that differ in it are
// the same then.
func (s *space) doubt(slot string, c *catalog.Common, count int) float64 {
	if s.plan.Build.Limit.Sure <= 0 {
		return 0
	}
	return float64(s.plan.item(slot, c, count).TotalHalfWidth())
}

// dry is everything but the pack, added up as [Plan] does.
func (s *space) dry(f *frameKind, m *motorKind, p *propKind, b *boardKind, g *gearKind) model.Mass {
	sum := f.mass
	sum += m.mass
	sum += p.mass
	sum += b.mass
	for _, x := range g.addends {
		sum += x
	}
	for i := range s.plan.Items {
		if item := &s.plan.Items[i]; item.Slot == "extra" {
			sum += s.itemMass(*item)
		}
	}
	return model.Mass(sum)
}

// gearPower is what board and gear draw, added up as [Plan] does.
func gearPower(b *boardKind, g *gearKind) model.Power {
	sum := b.Power
	for _, w := range g.powers {
		sum += model.Power(w)
	}
	return sum
}

// put puts records together between which no figure differs, by a key, in order of the first of each.
func put[T any](records []T, key func(int, T) any) (first []int, places [][]int32) {
	at := map[any]int{}
	for i, r := range records {
		k := key(i, r)
		n, ok := at[k]
		if !ok {
			n = len(places)
			at[k] = n
			first = append(first, i)
			places = append(places, nil)
		}
		places[n] = append(places[n], int32(i))
	}
	return first, places
}

// stated is a value that a record may leave out.
type stated[T comparable] struct {
	value T
	is    bool
}

func state[T comparable](p *T) stated[T] {
	if p == nil {
		return stated[T]{}
	}
	return stated[T]{*p, true}
}

// kinds puts the candidates of every slot together.
func (s *space) kinds() {
	rotors := s.plan.Build.Rotors
	n := float64(rotors)
	// What a thrust test is of is no other's equal.
	tested := map[string]bool{}
	for _, t := range s.plan.Build.Parts.ThrustTests {
		tested[t.Motor], tested[t.Prop] = true, true
	}
	own := func(id string) string {
		if tested[id] {
			return id
		}
		return ""
	}

	first, places := put(s.Frames, func(i int, r *catalog.Frame) any {
		return [...]any{s.massOf("frame", &r.Common, 1), s.doubt("frame", &r.Common, 1), s.prices.frames[r.ID], r.MaxProp, state(r.Bay), state(r.MotorMount), r.ThrustLoss}
	})
	for k, i := range first {
		r := s.Frames[i]
		s.frames = append(s.frames, frameKind{kind{places[k], s.massOf("frame", &r.Common, 1), s.prices.frames[r.ID]}, r, 1 / (1 - r.ThrustLoss)})
	}

	first, places = put(s.Motors, func(i int, r *catalog.Motor) any {
		return [...]any{
			s.massOf("motor", &r.Common, rotors), s.doubt("motor", &r.Common, rotors), s.prices.motors[r.ID], own(r.ID), r.Kv, state(r.R), state(r.NoLoadCurrent), state(r.NoLoadVoltage),
			state(r.MaxCurrent), state(r.Cells), state(r.Mount), state(r.Shaft),
		}
	})
	for k, i := range first {
		r := s.Motors[i]
		s.motors = append(s.motors, motorKind{kind{places[k], s.massOf("motor", &r.Common, rotors), n * s.prices.motors[r.ID]}, r})
	}

	first, places = put(s.Props, func(i int, r *catalog.Prop) any {
		return [...]any{
			s.massOf("prop", &r.Common, rotors), s.doubt("prop", &r.Common, rotors), s.prices.props[r.ID], own(r.ID), r.Diameter, r.Pitch, r.Blades, state(r.CT), state(r.CP),
			fmt.Sprint(r.Static), state(r.Shaft),
		}
	})
	for k, i := range first {
		r := s.Props[i]
		s.props = append(s.props, propKind{kind{places[k], s.massOf("prop", &r.Common, rotors), n * s.prices.props[r.ID]}, r})
	}

	first, places = put(s.Boards, func(i int, r *catalog.Board) any {
		return [...]any{s.massOf("board", &r.Common, 1), s.doubt("board", &r.Common, 1), s.prices.boards[r.ID], state(r.MaxCurrent), state(r.Cells), state(r.Efficiency), r.Power}
	})
	for k, i := range first {
		r := s.Boards[i]
		s.boards = append(s.boards, boardKind{kind{places[k], s.massOf("board", &r.Common, 1), s.prices.boards[r.ID]}, r})
	}
	s.gearKinds()
	s.packKinds()
	for _, i := range s.plan.Items {
		if i.Slot == "extra" {
			s.rest += s.itemMass(i)
		}
	}
	if scale := s.plan.Scale; scale != nil {
		m, _ := scale.Correct(scale.sum(nil, true))
		s.rest += float64(m)
	}
}

func (s *space) gearKinds() {
	all := make([]gearKind, len(s.choices))
	for i, gear := range s.choices {
		k := &all[i]
		k.gear = gear
		at := map[string]int{}
		var items []Item
		for _, g := range gear {
			k.powers = append(k.powers, float64(g.Power))
			k.power += float64(g.Power)
			k.price += s.prices.gear[g.ID]
			if n, again := at[g.ID]; again {
				items[n].Count++
				continue
			}
			at[g.ID] = len(items)
			items = append(items, s.plan.item("gear", &g.Common, 1))
		}
		var doubts []float64
		for _, item := range items {
			m := s.itemMass(item)
			if s.plan.Build.Limit.Sure > 0 {
				doubts = append(doubts, float64(item.TotalHalfWidth()))
			}
			k.addends = append(k.addends, m)
			k.mass += m
		}
		k.property = fmt.Sprint(k.addends, k.powers, k.price, doubts)
	}
	first, places := put(all, func(_ int, k gearKind) any { return k.property })
	for k, i := range first {
		all[i].places = places[k]
		s.gears = append(s.gears, all[i])
	}
}

func (s *space) packKinds() {
	mass := func(r *Pack) float64 {
		if s.plan.Scale == nil {
			return float64(s.plan.PackItem(r.Pack).Each)
		}
		return s.massOf("pack", &r.Common, 1)
	}
	first, places := put(s.Packs, func(i int, r *Pack) any {
		own := ""
		if r.Basis == BasisLogs {
			own = r.ID
		}
		c := &r.Circuit
		return [...]any{
			mass(r), s.doubt("pack", &r.Common, 1), s.prices.packs[r.ID], own, r.Chemistry, r.Cells, state(r.Size), r.Plug, state(r.MaxCurrent),
			c.Capacity, c.R0, c.R1, c.Tau, c.Shift, c.K, c.HeatCapacity, c.CoolingTime, c.Temperature, c.Air,
		}
	})
	for k, i := range first {
		r := s.Packs[i]
		s.packs = append(s.packs, packKind{kind: kind{places[k], mass(r), s.prices.packs[r.ID]}, Pack: r, circuit: s.plan.circuitOf(r), landing: s.plan.MissionOn(r.Chemistry).Landing})
	}
}

// group sorts packs that the build takes by their cells.
func (s *space) group() {
	at := map[int]int{}
	for i := range s.packs {
		p := &s.packs[i]
		p.group = -1
		if s.refuses(p) {
			continue
		}
		g, ok := at[p.Cells]
		if !ok {
			g = len(s.groups)
			at[p.Cells] = g
			s.groups = append(s.groups, cellGroup{cells: p.Cells})
		}
		p.group = g
		s.groups[g].packs = append(s.groups[g].packs, i)
	}
	slices.SortFunc(s.groups, func(a, b cellGroup) int { return cmp.Compare(a.cells, b.cells) })
	for g := range s.groups {
		group := &s.groups[g]
		for _, i := range group.packs {
			s.packs[i].group = g
		}
		for b := range s.boards {
			if !outside(s.boards[b].Cells, group.cells) {
				group.boards = append(group.boards, b)
			}
		}
		group.ladder = s.newLadder(group.packs)
	}
}

// refuses reports whether the build itself does not take a pack, whatever its parts.
func (s *space) refuses(p *packKind) bool {
	c := Candidate{Plan: s.plan, Pack: p.Pack, PackMass: s.plan.PackItem(p.Pack.Pack).Each}
	return overPackMass(&c) || wrongCells(&c) || wrongChemistry(&c) || wrongPlug(&c)
}

// price of a whole build counts from the least that anyone pays, for a logarithm is taken of it, and without
// what adding up leaves behind.
func (s *space) price(sum float64) float64 { return max(math.Round(sum*1e6)/1e6, 0.01) }

// raw is the logarithm of a build's merit, [Plan.Merit], with the price of the whole build where price counts.
// It is rounded so that builds that differ by the order in which their masses were added up are equal, and in
// order of their ids.
func (s *space) raw(f figures3) float64 {
	return math.Round(s.plan.logMerit(f.time, f.punch, f.price, s.priced)*rawGrain) / rawGrain
}

// rawGrain is how many steps of a raw score there are to 1.
const rawGrain = 1e11

// figures3 are what builds are compared by: time in s, punch in times the weight, and price; 0 where that does
// not count.
type figures3 struct{ time, punch, price float64 }

// size is how many builds the kinds of a space make.
func (s *space) size() int64 {
	n := int64(1)
	for _, count := range []int64{countAll(s.frames), countAll(s.motors), countAll(s.props), countAll(s.boards), countAll(s.gears), countAll(s.packs)} {
		n *= count
	}
	return n
}

// countAll is how many candidates some kinds stand for.
func countAll[K interface{ count() int64 }](kinds []K) (n int64) {
	for _, k := range kinds {
		n += k.count()
	}
	return n
}
