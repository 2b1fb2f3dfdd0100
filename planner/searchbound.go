package planner

import (
	"cmp"
	"math"
	"slices"
	"sync/atomic"

	"allup/catalog"
	"allup/model"
)

// What a search proves rests on these, which tests try on random parts:
//
//   - A build flies shorter and punches less the heavier it is, and thrust loss counts as mass does: hover is
//     that of the mass over one less the loss.
//   - A better board, which loses less, lets more through and draws less, makes neither worse.
//   - A pack lasts longer the less power it is asked for, and asked for a power that changes it lasts no longer
//     than for its mean.
//   - A pack of less resistance and more voltage gives more thrust.
//
// Every bound has a little to spare, boundSlack, so that no rounding decides what is left out.

// boundSlack is by how much bounds are widened, relative.
const boundSlack = 2e-5

// ladderRungs is how many rungs the packs of one number of cells are put on by their resistance.
const ladderRungs = 12

// ladder has packs of one number of cells, the least resistance first, with a best and a worst of each rung.
type ladder struct{ rungs []rung }

// rung is packs of about one resistance.
type rung struct {
	best  model.Circuit // as good at the punch's charge as the best of them in each of voltage and resistance
	worst model.Circuit // full: as bad as the worst of them, for the least current of full throttle
	empty model.Circuit // on landing: the same
}

// newLadder puts packs on rungs, and notes the rung of each.
func (s *space) newLadder(packs []int) ladder {
	order := slices.Clone(packs)
	charge := s.plan.Mission.PunchCharge
	slices.SortStableFunc(order, func(a, b int) int {
		return cmp.Compare(s.packs[a].circuit.Steady(charge), s.packs[b].circuit.Steady(charge))
	})
	var l ladder
	n := min(ladderRungs, len(order))
	for k := range n {
		members := order[k*len(order)/n : (k+1)*len(order)/n]
		if len(members) == 0 {
			continue
		}
		for _, i := range members {
			s.packs[i].rung = len(l.rungs)
		}
		l.rungs = append(l.rungs, rung{
			best: s.extreme(members, charge, false), worst: s.extreme(members, 1, true), empty: s.extreme(members, s.plan.Mission.Landing.Reserve, true),
		})
	}
	return l
}

// extreme is a circuit that has, at a charge, the best or the worst voltage and resistance of some packs. The
// worst on landing is as cold as the air.
func (s *space) extreme(members []int, charge float64, worst bool) model.Circuit {
	better := func(a, b float64) bool { return (a > b) != worst }
	ready := func(c model.Circuit) model.Circuit {
		switch {
		case worst && charge >= 1:
			c.R1 = 0 // as in Candidate.fly
		case worst:
			c = c.At(min(c.StartTemperature(), cmp.Or(c.Air, c.StartTemperature())), c.Air)
		}
		return c
	}
	first := ready(s.packs[members[0]].circuit)
	volts, ohms := first.OpenVoltage(charge), first.Steady(charge)
	for _, i := range members[1:] {
		c := ready(s.packs[i].circuit)
		if v := c.OpenVoltage(charge); better(float64(v), float64(volts)) {
			volts = v
		}
		if r := c.Steady(charge); better(-float64(r), -float64(ohms)) {
			ohms = r
		}
	}
	if r := first.Steady(charge); r > 0 {
		f := ohms / r
		first.R0 *= f
		first.R1 *= f
	}
	first.Shift += (volts - first.OpenVoltage(charge)) / model.Voltage(first.Cells)
	return first
}

// endurance is the energy that a pack gives until landing at powers a step apart, worked out when it is first
// asked for.
type endurance struct {
	energy []atomic.Uint64 // J, bits of the float; 0 for not worked out yet
}

// stop is where a flight on a pack ends.
func (p *packKind) stop() model.Stop {
	return model.Stop{PerCell: p.landing.PerCell, Reserve: p.landing.Reserve}
}

// The powers of a table go from leastPower in steps.
const (
	leastPower = 0.5  // W
	mostPower  = 8000 // W
)

// enduranceStep is how far the powers of a table are apart, relative: less where there are few packs to keep tables of.
func enduranceStep(packs int) float64 {
	if packs <= 5000 {
		return 0.015
	}
	return 0.08
}

func newEndurance(step float64) *endurance {
	return &endurance{make([]atomic.Uint64, int(math.Log(mostPower/leastPower)/step)+2)}
}

// at is the energy at a step's power.
func (e *endurance) at(i int, step float64, p *packKind) float64 {
	if bits := e.energy[i].Load(); bits != 0 {
		return math.Float64frombits(bits)
	}
	v := float64(p.circuit.Discharge(model.ConstantPower(model.Power(leastPower*math.Exp(step*float64(i)))), p.stop()).Energy)
	if v == 0 {
		v = math.SmallestNonzeroFloat64
	}
	e.energy[i].Store(math.Float64bits(v))
	return v
}

// bounds works out how good builds may be at the most. It is shared by all workers.
type bounds struct {
	*space
	step   float64
	tables []atomic.Pointer[endurance] // by packs

	period        float64 // s, of the mission's phases; 0 for a hover
	full          float64 // s of it at full throttle
	best, worst   catalog.Board
	boardPower    float64 // W, the least of a board with a choice of gear
	mostPower     float64 // W, the most of the same
	leastAmps     float64 // the least limit of a board's output; 0 where none states one
	gearMass      float64 // kg, the least
	gearPowerLow  float64
	gearPowerHigh float64
	gearPrice     float64
}

func newBounds(s *space) *bounds {
	b := &bounds{space: s, step: enduranceStep(len(s.packs)), tables: make([]atomic.Pointer[endurance], len(s.packs))}
	for _, p := range s.plan.Mission.Phases {
		if p.Duration > 0 {
			b.period += float64(p.Duration)
			if p.Full {
				b.full += float64(p.Duration)
			}
		}
	}
	b.gearMass, b.gearPowerLow, b.gearPrice = math.Inf(1), math.Inf(1), math.Inf(1)
	for i := range s.gears {
		g := &s.gears[i]
		b.gearMass, b.gearPowerLow, b.gearPowerHigh = min(b.gearMass, g.mass), min(b.gearPowerLow, g.power), max(b.gearPowerHigh, g.power)
		b.gearPrice = min(b.gearPrice, g.price)
	}
	b.boards()
	return b
}

// boards makes a board as good as the best in everything, and one as bad as the worst.
func (b *bounds) boards() {
	low, high := math.Inf(1), 0.0
	var best, worst *float64
	limited := true
	var most model.Current
	b.boardPower = math.Inf(1)
	for i := range b.space.boards {
		r := b.space.boards[i].Board
		e := model.AssumedControllerEfficiency // of one that states none
		if r.Efficiency != nil {
			e = *r.Efficiency
		}
		if e > high {
			high, best = e, r.Efficiency
		}
		if e < low {
			low, worst = e, r.Efficiency
		}
		if r.MaxCurrent == nil {
			limited = false
		} else {
			most = max(most, *r.MaxCurrent)
			if a := float64(*r.MaxCurrent); b.leastAmps == 0 || a < b.leastAmps {
				b.leastAmps = a
			}
		}
		b.boardPower, b.mostPower = min(b.boardPower, float64(r.Power)), max(b.mostPower, float64(r.Power))
	}
	b.best = catalog.Board{Common: catalog.Common{ID: "best"}, Efficiency: best}
	b.worst = catalog.Board{Common: catalog.Common{ID: "worst"}, Efficiency: worst}
	if limited {
		b.best.MaxCurrent = &most
	}
}

// rotorOn is what a motor and a propeller make of each other on a board, thought for packs of some cells.
func (s *space) rotorOn(m *catalog.Motor, p *catalog.Prop, board *catalog.Board, cells *catalog.Pack) (model.Rotor, error) {
	of := Plan{Build: s.plan.Build, Selection: Selection{Frame: s.plan.Frame, Motor: m, Prop: p, Board: board, Pack: cells}}
	w := s.base.rotors.once(of.Selection, s.air, of.nominalBus())
	if w.err != nil {
		return model.Rotor{}, w.err
	}
	d := model.Drive{Rotors: s.plan.Build.Rotors, Rotor: w.rotor}
	if k := s.base.calibration; k != nil && s.base.hovers == hoversElsewhere {
		d = k.Apply(d)
	}
	return d.Rotor, nil
}

// leastVolts is a voltage per cell that no flight goes below, whatever its landing rule.
const leastVolts = 1

// lowest is the least bus voltage of a flight on a pack: there, with the least lost at part duty, a thrust
// takes the least power.
func (b *bounds) lowest(pack int) model.Voltage {
	return model.Voltage(b.packs[pack].Cells) * max(b.packs[pack].landing.PerCell, leastVolts)
}

// draw is the least power that a drive without thrust loss draws in the mission with an effective mass on a
// pack, and what it draws in the phase that asks for the least. fullPower is the least of full throttle.
func (b *bounds) draw(d *model.Drive, pack int, mass model.Mass, fullPower float64) (mean, least float64) {
	bus := b.lowest(pack)
	if b.period == 0 {
		mean = float64(d.Hover(mass, bus).Power)
		return mean, mean
	}
	sum := b.full * fullPower
	least = math.Inf(1)
	if b.full > 0 {
		least = fullPower
	}
	for _, p := range b.plan.Mission.Phases {
		if p.Duration > 0 && !p.Full {
			w := float64(d.Lift(mass, p.Thrust, bus).Power)
			sum += float64(p.Duration) * w
			least = min(least, w)
		}
	}
	return sum / b.period, least
}

// lasts is how long a pack lasts at the most at a constant power.
func (b *bounds) lasts(pack int, power float64) float64 {
	p := &b.packs[pack]
	if !(power > leastPower) || !(power < mostPower/(1+2*b.step)) {
		if !(power > 0) {
			return math.Inf(1)
		}
		return float64(p.circuit.Discharge(model.ConstantPower(model.Power(power)), p.stop()).Duration) * (1 + boundSlack)
	}
	table := b.tables[pack].Load()
	if table == nil {
		b.tables[pack].CompareAndSwap(nil, newEndurance(b.step))
		table = b.tables[pack].Load()
	}
	i := int(math.Log(power/leastPower) / b.step)
	return max(table.at(i, b.step, p), table.at(i+1, b.step, p)) / power * (1 + boundSlack)
}

// flies is how long a mission lasts at the most, given the least mean power and the least of any phase. A
// mission that ends in its first cycle never met its mean.
func (b *bounds) flies(pack int, mean, least float64) float64 {
	t := b.lasts(pack, mean)
	if b.period > 0 && t < b.period*(1+1e-3) {
		t = max(t, min(b.period*(1+1e-3), b.lasts(pack, least)))
	}
	return t
}

// pair is a motor with a propeller, thought for packs of some cells.
type pair struct {
	motor, prop, group int
	set                int // of frames that take both
	mass, price        float64
	count              int64
	*propelled         // nil until it is prepared: there may be millions of pairs
}

// propelled is what a pair does with the boards and the gear of a search.
type propelled struct {
	best      model.Drive // with a board as good as the best, and the least gear
	worst     model.Rotor // with one as bad as the worst
	thrust    []float64   // N at the most, of all rotors, by the rungs of its group
	amps      []float64   // A of a motor at full throttle at the least, by rungs; 0 for not worked out
	fullPower []float64   // W of full throttle at the least, by rungs, where the mission has some
}

// prepare works out what a pair can do with the best board.
func (b *bounds) prepare(p *pair) error {
	m, prop := b.motors[p.motor].Motor, b.props[p.prop].Prop
	group := &b.groups[p.group]
	cells := b.packs[group.packs[0]].Pack.Pack
	r, err := b.rotorOn(m, prop, &b.best, cells)
	if err != nil {
		return err
	}
	p.propelled = &propelled{}
	if p.worst, err = b.rotorOn(m, prop, &b.worst, cells); err != nil {
		return err
	}
	p.best = model.Drive{Rotors: b.plan.Build.Rotors, Rotor: r, GearPower: model.Power(b.boardPower + b.gearPowerLow)}
	for i := range group.ladder.rungs {
		rung := &group.ladder.rungs[i]
		p.thrust = append(p.thrust, float64(p.best.PunchOut(rung.best, b.plan.Mission.PunchCharge).Thrust)*(1+boundSlack))
		if b.full > 0 {
			p.fullPower = append(p.fullPower, b.leastFull(p, &rung.empty))
		}
	}
	p.amps = make([]float64, len(group.ladder.rungs))
	return nil
}

// fullSlack is what the least power of full throttle has to spare: boards that lose more draw more for a
// thrust, and sag more.
const fullSlack = 0.95

// leastFull is the least power of full throttle on a pack about to land, whatever the board.
func (b *bounds) leastFull(p *pair, c *model.Circuit) float64 {
	reserve := b.plan.Mission.Landing.Reserve
	draws := func(r model.Rotor, gear float64, limit model.Current) float64 {
		d := model.Drive{Rotors: b.plan.Build.Rotors, Rotor: r, GearPower: model.Power(gear)}
		at := d.FullThrottle(*c, reserve)
		if limit > 0 && at.Motor.Current > limit {
			at = r.AtFull(r.SpeedAtCurrent(limit))
		}
		return float64(d.Rotors)*float64(at.BusPower) + b.boardPower + b.gearPowerLow
	}
	limit := model.Current(b.leastAmps)
	if own := p.worst.Motor.MaxCurrent; own > 0 && (limit == 0 || own < limit) {
		limit = own
	}
	return fullSlack * min(draws(p.best.Rotor, b.mostPower+b.gearPowerHigh, limit), draws(p.worst, b.mostPower+b.gearPowerHigh, limit))
}

// fullOf is the least power of full throttle of a pair on a pack; 0 where the mission has none.
func (p *pair) fullOf(rung int) float64 {
	if p.fullPower == nil {
		return 0
	}
	return p.fullPower[rung]
}

// leastAmpsOf is what a motor of a pair draws at full throttle on a full pack at the least, whatever the board.
func (b *bounds) leastAmpsOf(p *pair, rung int) float64 {
	d := model.Drive{Rotors: b.plan.Build.Rotors, Rotor: p.worst, GearPower: model.Power(b.mostPower + b.gearPowerHigh)}
	return float64(d.FullThrottle(b.groups[p.group].ladder.rungs[rung].worst, 1).Motor.Current) * (1 - boundSlack)
}

// envelope is the least of lines (x + mass) perLift over frames, for any x: what mass and thrust loss of the
// best frame make of everything else.
type envelope struct {
	from        []float64 // where a line begins to be the least, rising
	mass, slope []float64
}

func newEnvelope(frames []*frameKind) envelope {
	type line struct{ mass, slope float64 }
	var lines []line
	for _, f := range frames {
		lines = append(lines, line{f.mass, f.perLift})
	}
	// For large x the least slope counts: the steepest comes first.
	slices.SortFunc(lines, func(a, b line) int { return cmp.Or(cmp.Compare(b.slope, a.slope), cmp.Compare(a.mass, b.mass)) })
	var e envelope
	for _, l := range lines {
		if n := len(e.slope); n > 0 && e.slope[n-1] == l.slope {
			continue // as steep, and heavier
		}
		x := math.Inf(-1)
		for n := len(e.slope); n > 0; n = len(e.slope) {
			m, s := e.mass[n-1], e.slope[n-1]
			x = (l.mass*l.slope - m*s) / (s - l.slope)
			if x > e.from[n-1] {
				break
			}
			e.from, e.mass, e.slope = e.from[:n-1], e.mass[:n-1], e.slope[:n-1]
			x = math.Inf(-1)
		}
		e.from, e.mass, e.slope = append(e.from, x), append(e.mass, l.mass), append(e.slope, l.slope)
	}
	return e
}

// at is the least effective mass of everything else with a frame.
func (e *envelope) at(x float64) float64 {
	i := len(e.from) - 1
	for i > 0 && e.from[i] > x {
		i--
	}
	return (x + e.mass[i]) * e.slope[i] * (1 - 1e-12)
}
