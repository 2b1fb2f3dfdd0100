package model

import "math"

// Phase is one part of a repeating flight cycle: a multiple of weight held, or full throttle, where pack and rotors
// settle together.
//
// A pilot punches for what it does, so full throttle is an impulse: its seconds are those of the thrust at
// PunchPerCell, and on a pack that gives less it lasts until the same impulse is given. Motor current goes with
// thrust, so a weak pack gives about the same charge for a punch as a strong one, instead of being spared what
// it cannot give.
type Phase struct {
	Duration Time
	Thrust   float64 // times weight; not used where Full
	Full     bool
}

// PhaseFlight is a cycle of phases flown from full charge until landing. All its times are the cycle's: a punch counts
// as long as its phase says, however long the pack takes for it, so that more cycles are always more time.
//
// The landing rule's voltage counts in held phases: a pilot lands when the pack no longer holds
// what the flight needs. Full throttle is a moment's choice, so a dip below that voltage in it
// does not end the flight; FirstDip says when it comes, and [PhaseFlight.Strict] is
// the flight of a pilot, or a controller, that lands on it. In a cycle of full throttle
// alone there is nothing else to judge by, and the dip ends the flight. The reserve ends it in any phase.
//
// FirstMet is when the rule is first met by one who begins with the first phase. It moves by steps: a pack that
// just misses the rule in the hardest phase flies the rest of the cycle for that. Nobody flies a cycle to the
// second, and packs must compare, so Duration is the time over which whole cycles hold, the last counted in
// part: the latest cycle that can begin at all, between two of those flown, and still ends with the rule kept.
// It is smooth in every parameter, and the same where hover is all there is. Where the cycle is long against
// the flight it is flown to the second: up to two cycles Duration is FirstMet, from three on it is the other,
// and it passes from one to the other between.
type PhaseFlight struct {
	Duration   Time
	FirstMet   Time
	Usable     Energy // delivered over Duration
	ChargeLeft float64
	EndedBy    Ending
	EndedIn    int // index of the phase whose voltage ended it; -1 for the reserve
	MeanPower  Power

	EndTemperature Temperature // of the pack, after Duration
	MaxTemperature Temperature // until FirstMet

	// ThrottleBound means that full throttle no longer held a phase's thrust before the
	// landing voltage was met.
	ThrottleBound bool

	// Dipped says whether full throttle pulled the loaded voltage below the landing
	// voltage, and FirstDip when it first did.
	Dipped   bool
	FirstDip Time

	Phases []PhaseUse // in the order of the cycle
}

// PhaseUse is what a phase of the cycle asked of the pack over a flight.
type PhaseUse struct {
	Phase
	Runs       int // begun
	MinVoltage Voltage
	MinAt      Time    // from take-off
	MaxCurrent Current // of the pack

	// FirstRatio and LastRatio are thrust over weight at the beginning of the first run
	// and at the end of the last.
	FirstRatio, LastRatio float64

	// Longest is the longest that a run of full throttle took for its impulse.
	Longest Time
}

// Strict is the duration for one who lands at the first dip below the landing voltage,
// in a punch as well.
func (f PhaseFlight) Strict() Time {
	if f.Dipped {
		return min(f.FirstDip, f.Duration)
	}
	return f.Duration
}

// shortestCycle is the shortest that is flown as it is. A shorter one, far below any pack's RC time, is
// flown as one of this length with the same shares.
const shortestCycle Time = 2

// FlyPhases flies a craft of a mass on a pack through phases, over and over, until landing. Phases
// without duration drop out; a cycle that draws nothing is a hover. Motor and board current limits
// cap full throttle, the pack's voltage does not.
func (d Drive) FlyPhases(pack Circuit, m Mass, rule Landing, phases []Phase) PhaseFlight {
	return d.flyPhases(pack, m, rule, phases, nil)
}

// flyPhases is FlyPhases, watched by each from take-off to FirstMet; nil watches nothing.
func (d Drive) flyPhases(pack Circuit, m Mass, rule Landing, phases []Phase, each func(Moment)) PhaseFlight {
	r := phaseRun{each: each, drive: d, pack: &pack, weight: float64(m.Weight()), rule: rule, k: newKernel(pack, Load{}, 0)}
	if !r.prepare(m, phases) {
		r.loads, r.out.Phases = nil, nil
		r.prepare(m, []Phase{{Duration: 3600, Thrust: 1}})
	}
	r.fly()
	return r.out
}

// phaseRun is a cycle being flown.
type phaseRun struct {
	each   func(Moment) // watches; nil for nobody
	drive  Drive
	pack   *Circuit
	weight float64
	rule   Landing
	k      kernel
	loads  []phaseLoad
	out    PhaseFlight

	cycleState
	over bool

	// Probing runs a cycle on past the rule, and finds by how much it is kept.
	probing bool
	margin  float64 // V per cell, or parts of the charge; the least
	nearest int     // the phase of margin, -1 for the reserve
}

// cycleState is where a flight stands between two phases.
type cycleState struct {
	point
	t, energy float64
}

// between is the state at a part of the way from b to c, on the parabola through the three, which
// stand a cycle apart.
func between(a, b, c cycleState, part float64) cycleState {
	at := func(a, b, c float64) float64 { return b + part*(c-b) + part*(part-1)/2*(c-2*b+a) }
	return cycleState{point{at(a.s, b.s, c.s), at(a.v1, b.v1, c.v1), at(a.temp, b.temp, c.temp)}, at(a.t, b.t, c.t), at(a.energy, b.energy, c.energy)}
}

// phaseLoad is a phase made ready: its load, where it ends the flight and, at full throttle,
// where the landing voltage is met.
type phaseLoad struct {
	use      int // index in out.Phases
	duration float64
	load     Load // none at full throttle
	full     *fullThrottle
	limit    bound
	dip      bound
	usual    float64 // N, the thrust at full throttle that its seconds are counted at; 0 where there is none
	was      float64 // N, the thrust at full throttle at the beginning of the step
	needs    float64 // V, the bus voltage that holds the thrust
}

// prepare makes phases ready to fly. It reports whether they draw anything.
func (r *phaseRun) prepare(m Mass, phases []Phase) bool {
	floor := r.k.cells * float64(r.rule.PerCell)
	draws, held := false, false
	var period Time
	for _, p := range phases {
		period += max(p.Duration, 0)
	}
	stretch := max(1, float64(shortestCycle/period))
	for i, p := range phases {
		r.out.Phases = append(r.out.Phases, PhaseUse{Phase: p})
		if !(p.Duration > 0) {
			continue
		}
		l := phaseLoad{use: i, duration: stretch * float64(p.Duration)}
		if p.Full {
			l.full = newFullThrottle(r.drive)
			l.limit = boundAt(0, Load{})
			l.dip = l.limit
			if floor > 0 {
				l.dip = boundAt(floor, ConstantCurrent(Current(l.full.currentAt(floor))))
			}
			l.usual = l.full.thrustAt(r.k.cells * float64(PunchPerCell))
			draws = true
		} else {
			h := r.drive.Lift(m, p.Thrust, r.pack.OpenVoltage(1))
			load := r.drive.load(&h.Rotor)
			l.load = load.near(load.during(r.pack))
			l.needs = float64(r.drive.Rotor.Controller.busFor(h.Rotor.Motor.Voltage))
			l.limit = boundAt(max(floor, l.needs), l.load)
			draws = draws || l.load.power > 0
			held = true
			r.out.Phases[i].FirstRatio, r.out.Phases[i].LastRatio = p.Thrust, p.Thrust
		}
		r.loads = append(r.loads, l)
	}
	if !held {
		for i := range r.loads {
			r.loads[i].limit = r.loads[i].dip
		}
	}
	return draws
}

func (r *phaseRun) fly() {
	r.point = r.k.full()
	r.out.MaxTemperature = Temperature(r.temp)
	var starts [3]cycleState // of the latest cycles
	cycles := 0
	for !r.over && (cycles == 0 || r.s < starts[2].s) {
		starts = [3]cycleState{starts[1], starts[2], r.cycleState}
		r.cycle()
		cycles++
	}
	r.out.FirstMet = Time(r.t)
	met := r.cycleState
	ended := r.out
	// From two cycles to three the answer passes from the first to the second.
	share := math.Min(r.t/r.period()-leastCycles, 1)
	if cycles > 1 && r.over && share > 0 {
		if cycles == 2 {
			// Two states make a line: the third is put on it.
			a, b := starts[1], starts[2]
			starts[0] = cycleState{point{2*a.s - b.s, 2*a.v1 - b.v1, 2*a.temp - b.temp}, 2*a.t - b.t, 2*a.energy - b.energy}
		}
		r.lastCycle(starts)
		mix := func(first, second float64) float64 { return first + share*(second-first) }
		if share < 1 {
			r.t, r.energy, r.s = mix(met.t, r.t), mix(met.energy, r.energy), mix(met.s, r.s)
			if share < 0.5 {
				r.out.EndedBy, r.out.EndedIn, r.out.ThrottleBound = ended.EndedBy, ended.EndedIn, ended.ThrottleBound
			}
		}
	}
	r.out.Duration, r.out.Usable, r.out.ChargeLeft = Time(r.t), Energy(r.energy), r.s
	r.out.EndTemperature = Temperature(r.temp)
	if r.t > 0 {
		r.out.MeanPower = Power(r.energy / r.t)
	}
}

// leastCycles is how many cycles a flight must have for its last to be counted in part.
const leastCycles = 2

// period of the cycle.
func (r *phaseRun) period() (t float64) {
	for i := range r.loads {
		t += r.loads[i].duration
	}
	return t
}

// cycle flies every phase once, or until the flight is over.
func (r *phaseRun) cycle() {
	for i := range r.loads {
		if r.run(&r.loads[i]); r.over {
			return
		}
	}
}

// lastCycle finds the latest cycle that holds, between one that did and the next, which did
// not, from where these two and the one before began.
func (r *phaseRun) lastCycle(starts [3]cycleState) {
	r.probing = true
	last := math.NaN()
	probe := func(part float64) float64 {
		last = part
		r.cycleState, r.over = between(starts[0], starts[1], starts[2], part), false
		r.margin, r.nearest = math.Inf(1), -1
		r.cycle()
		if left := r.s - r.rule.Reserve; left < r.margin {
			r.margin, r.nearest = left, -1
		}
		return r.margin
	}
	first, second := probe(0), probe(1)
	if at := bracketRoot(0, first, 1, second, 1e-8, probe); at != last {
		probe(at)
	}
	r.s = max(r.s, r.rule.Reserve) // the root is good to its tolerance only
	r.out.EndedIn, r.out.EndedBy = r.nearest, EndedByVoltage
	if r.nearest < 0 {
		r.out.EndedBy = EndedByReserve
	}
	r.out.ThrottleBound = false
	for _, l := range r.loads {
		if l.use == r.nearest {
			r.out.ThrottleBound = l.needs > r.k.cells*float64(r.rule.PerCell)
		}
	}
}

// phaseStep is the longest step after a change of load, as a part of the RC time; it
// grows with the time since.
const phaseStep = 1.0

// run flies one phase once, to its end or the flight's.
func (r *phaseRun) run(l *phaseLoad) {
	if l.load.power <= 0 && l.full == nil {
		r.rest(l)
		return
	}
	k, use := &r.k, &r.out.Phases[l.use]
	k.setLoad(l.load, l.full, l.limit)
	st := k.at(r.point)
	if !r.probing {
		use.Runs++
	}
	r.observe(l, st)
	if r.collapsed(l) {
		return
	}
	if l.full != nil && !r.probing {
		if use.Runs == 1 {
			use.FirstRatio = l.full.thrust() / r.weight
			use.LastRatio = use.FirstRatio
		}
		if k.above(&st, &l.dip) <= 0 {
			r.dip(0)
		}
	}
	if k.spare(&st) <= 0 && !r.probing {
		r.end(l, EndedByVoltage)
		return
	}
	floor := r.rule.Reserve
	if r.probing {
		floor = math.Inf(-1)
	}
	var took float64
	for done := 0.0; done < l.duration && !r.over; {
		if st.s <= floor {
			r.end(l, EndedByReserve)
			break
		}
		length := l.duration - done
		steps := math.Ceil(length / max(phaseStep*k.tau, done/2))
		last := steps <= 1
		moved, passed := k.lasting(&st, length/max(steps, 1), floor, last, l)
		if r.collapsed(l) {
			return
		}
		if !(moved.s < st.s) {
			break // what is left of the phase is too short for floats
		}
		switch {
		case r.probing:
		case k.spare(&moved.state) <= 0:
			moved = k.locate(&st, moved)
			passed = k.passes(l, &st, moved)
			r.end(l, EndedByVoltage)
			if l.full != nil {
				r.dip(passed)
			}
		case l.full != nil && !r.out.Dipped && k.above(&st, &l.dip) > 0 && k.above(&moved.state, &l.dip) <= 0:
			k.end = l.dip
			r.dip(k.passes(l, &st, k.locate(&st, moved)))
			k.end = l.limit
			k.perAmpere(moved.emf, k.r0*moved.factor) // the rotors at the step's end again
		}
		st = moved.state
		r.point = st.point
		r.t += passed
		r.energy += moved.energy
		done += passed
		took += moved.dt
		if last && passed >= length*(1-1e-9) {
			done = l.duration
		}
		if st.s <= floor && !r.over {
			r.end(l, EndedByReserve)
		}
		r.observe(l, st)
	}
	if l.full != nil && !r.probing {
		k.perAmpere(st.emf, k.r0*st.factor) // leaves the rotors at the phase's end
		use.LastRatio = l.full.thrust() / r.weight
		use.Longest = max(use.Longest, Time(took))
	}
}

// passes is how much of its phase a step flies. At full throttle thrust over current hardly changes, so the
// impulse is taken over the charge, with the mean of that at the step's two ends.
func (k *kernel) passes(l *phaseLoad, from *state, to stepped) float64 {
	if l.usual <= 0 {
		return to.dt
	}
	return k.capacity * (from.s - to.s) * (l.was*from.perAmpere + l.full.thrust()*to.perAmpere) / (2 * l.usual)
}

// lasting is the step that flies a length of the phase, in seconds, or the step to the next knot of the curve,
// the floor or the longest step, whichever is the shortest; and what it flies. Where the length need not be
// exact it may be some percent off.
func (k *kernel) lasting(from *state, length, floor float64, exact bool, l *phaseLoad) (st stepped, passed float64) {
	room := from.s - k.next(from.s, floor)
	usual := length / (k.capacity * from.perAmpere)
	if l.usual > 0 {
		l.was = l.full.thrust() // at the step's beginning, where the rotors were left
		usual *= l.usual / max(l.was, 1e-3*l.usual)
	}
	ds := min(room, usual)
	step := func() {
		if ds == room {
			st = k.step(from, k.next(from.s, floor)) // to the knot itself, which from.s - ds may miss by a rounding
		} else {
			st = k.step(from, from.s-ds)
		}
		passed = k.passes(l, from, st)
	}
	step()
	// The time is all but proportional to the charge: secants, from nothing in no time, meet it in two or three steps.
	// What is left of a phase beside a knot may be too short for floats to meet it: then a secant through two like
	// points leads anywhere, and the nearest step counts.
	var ds0, passed0 float64
	best, least := ds, math.Abs(length-passed)
	for range 8 {
		off := length - passed
		if !exact || (ds == room && off >= 0) || math.Abs(off) <= 1e-10*length {
			break
		}
		next := min(room, ds+off*(ds-ds0)/(passed-passed0))
		if !(next > 0) {
			break
		}
		ds0, passed0, ds = ds, passed, next
		step()
		if off := math.Abs(length - passed); off < least {
			best, least = ds, off
		}
	}
	if exact && ds != best {
		ds = best
		step()
	}
	return st, passed
}

// rest passes a phase that draws nothing.
func (r *phaseRun) rest(l *phaseLoad) {
	use := &r.out.Phases[l.use]
	if !r.probing {
		use.Runs++
		r.k.enter(r.k.curve.segment(r.s))
		if e := r.k.emf(r.s, r.v1); use.Runs == 1 || e < float64(use.MinVoltage) {
			use.MinVoltage, use.MinAt = Voltage(e), Time(r.t)
		}
	}
	r.watchRest()
	if left := math.Exp(-l.duration / r.k.tau); r.k.varies {
		// What the RC element holds turns into heat.
		heat := r.k.heat(0, r.v1, r.k.factor(r.s, r.temp)) * (1 - left*left) * r.k.tau / (2 * l.duration)
		r.temp = r.k.warm(r.temp, heat, l.duration)
		r.v1 *= left
	} else {
		r.v1 *= left
	}
	r.t += l.duration
	r.watchRest()
}

// watchRest shows the pack at rest to the observer.
func (r *phaseRun) watchRest() {
	if r.each != nil && !r.probing {
		r.k.enter(r.k.curve.segment(r.s))
		r.watch(r.s, Voltage(r.k.emf(r.s, r.v1)), 0)
	}
}

// watch shows a moment to the observer.
func (r *phaseRun) watch(s float64, v Voltage, i Current) {
	if r.each != nil {
		r.each(Moment{Time: Time(r.t), ChargeLeft: s, Voltage: v, Current: i, Temperature: Temperature(r.temp)})
	}
}

// collapsed ends a flight whose pack no longer feeds gear and rotors at full throttle.
func (r *phaseRun) collapsed(l *phaseLoad) bool {
	if l.full == nil || !l.full.collapsed {
		return false
	}
	if r.probing {
		r.over, r.margin, r.nearest = true, deadMargin, l.use
	} else {
		r.end(l, EndedByVoltage)
	}
	return true
}

func (r *phaseRun) end(l *phaseLoad, by Ending) {
	r.over = true
	r.out.EndedBy, r.out.EndedIn = by, l.use
	if by == EndedByReserve {
		r.out.EndedIn = -1
	}
	r.out.ThrottleBound = by == EndedByVoltage && l.needs > r.k.cells*float64(r.rule.PerCell)
}

// dip notes that the landing voltage is met in full throttle, after a time.
func (r *phaseRun) dip(after float64) {
	if !r.out.Dipped {
		r.out.Dipped, r.out.FirstDip = true, Time(r.t+after)
	}
}

// deadMargin is a margin that no cycle is run beyond: the pack is long dead.
const deadMargin = -0.5

// observe keeps a phase's extremes or, probing, the least margin.
func (r *phaseRun) observe(l *phaseLoad, st state) {
	if r.probing {
		if m := r.k.spare(&st) / r.k.cells; m < r.margin {
			r.margin, r.nearest = m, l.use
		}
		r.over = r.margin < deadMargin || st.s < r.rule.Reserve+deadMargin
		return
	}
	use := &r.out.Phases[l.use]
	v, i := r.k.loaded(st)
	if use.MinVoltage == 0 || v < use.MinVoltage {
		use.MinVoltage, use.MinAt = v, Time(r.t)
	}
	use.MaxCurrent = max(use.MaxCurrent, i)
	r.out.MaxTemperature = max(r.out.MaxTemperature, Temperature(st.temp))
	r.watch(st.s, v, i)
}
