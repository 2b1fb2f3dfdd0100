package planner

import (
	"cmp"
	"context"
	"math"
	"runtime"
	"slices"
	"sync"
	"sync/atomic"

	"allup/model"
)

// hunt is a search under way. It goes in rounds: what a round leaves out rests on what the rounds before it
// found, and on nothing else, so that the answer and all counts are the same on any number of processors.
type hunt struct {
	*bounds
	rests *rests
	pairs []pair

	corners []corner // of pairs with packs, pair after pair; nil where there are too many to keep
	begin   []int    // where each pair's corners begin
	chances []chance // of pairs

	best  list
	front frontier

	tried    int64
	excluded counts
	stopped  bool
	left     float64 // the best raw score that is not ruled out, where stopped
}

// corner is the best time and punch that a pair might reach on a pack; a time of 0 is none at all, and one
// below that a build that is too heavy.
type corner struct{ time, punch float32 }

// mostCorners is how many are kept in memory.
const mostCorners = 32 << 20

// directions are the ways in which builds may be good: from punch alone to time alone.
const directions = 6

// chance is how good the builds of a pair may be: by the goal, and in each direction.
type chance struct {
	raw float64
	in  [directions]float64
}

func newHunt(s *space, top int) *hunt {
	h := &hunt{bounds: newBounds(s), best: list{most: top}, front: frontier{priced: s.priced}, left: math.Inf(1)}
	h.excluded = s.unfit()
	h.pairs, h.rests = s.compatible()
	return h
}

// chunkPacks is how many packs of a pair are looked at in one piece.
const chunkPacks = 256

// chunk is some packs of a pair.
type chunk struct{ pair, from, to int }

// everything searches all pairs, the likeliest first.
func (h *hunt) everything(ctx context.Context, progress Progress) error {
	total := 0
	for i := range h.pairs {
		h.begin = append(h.begin, total)
		total += len(h.groups[h.pairs[i].group].packs)
	}
	if total <= mostCorners {
		h.corners = make([]corner, total)
	}
	h.chances = make([]chance, len(h.pairs))
	var failed error
	var once sync.Once
	each(len(h.pairs), func(i int) {
		if ctx.Err() != nil {
			return
		}
		if err := h.prepare(&h.pairs[i]); err != nil {
			once.Do(func() { failed = err })
			return
		}
		h.chances[i] = h.chanceOf(i)
	}, nil)
	if failed != nil {
		return failed
	}
	if ctx.Err() != nil {
		h.stopped = true
		return nil
	}
	h.rounds(ctx, h.inOrder(), progress)
	return nil
}

// each runs work for 0 to n-1 on all processors, one at a time.
func each(n int, work func(i int), after func()) {
	var next atomic.Int64
	var wg sync.WaitGroup
	for range min(runtime.GOMAXPROCS(0), n) {
		wg.Go(func() {
			for {
				i := int(next.Add(1)) - 1
				if i >= n {
					return
				}
				work(i)
				if after != nil {
					after()
				}
			}
		})
	}
	wg.Wait()
}

// chanceOf works out the corners of a pair.
func (h *hunt) chanceOf(i int) chance {
	c := chance{raw: math.Inf(-1)}
	for k := range c.in {
		c.in[k] = math.Inf(-1)
	}
	p := &h.pairs[i]
	for k, pack := range h.groups[p.group].packs {
		f := h.cornerOf(p, pack)
		if h.corners != nil {
			// A float32 is off by less than this.
			h.corners[h.begin[i]+k] = corner{float32(f.time * (1 + 2e-7)), float32(f.punch * (1 + 2e-7))}
		}
		if f.time <= 0 || f.punch < 1 {
			continue
		}
		c.raw = max(c.raw, h.raw(f))
		t, u := math.Log(f.time), math.Log(f.punch)
		for d := range directions - 1 {
			part := float64(d) / (directions - 2)
			c.in[d] = max(c.in[d], part*t+(1-part)*u)
		}
		if h.priced {
			c.in[directions-1] = max(c.in[directions-1], -math.Log(f.price))
		}
	}
	return c
}

// cornerOf is the best that builds of a pair on a pack may reach, each figure for itself.
func (h *hunt) cornerOf(p *pair, pack int) figures3 {
	k := &h.packs[pack]
	r := h.rests.table[p.set][k.bays][p.group]
	if r == nil {
		return figures3{}
	}
	base := h.rest + p.mass + k.mass
	if base+(r.lightest+r.light) > h.most {
		return figures3{time: -1}
	}
	mass := r.envelope.at(base + r.light)
	mean, least := h.draw(&p.best, pack, model.Mass(mass), p.fullOf(k.rung))
	return figures3{h.flies(pack, mean, least), p.thrust[k.rung] / float64(model.Mass(mass).Weight()), h.leastPrice(p, pack, r)}
}

// leastPrice is what a build of a pair on a pack costs at the least.
func (h *hunt) leastPrice(p *pair, pack int, r *rest) float64 {
	if !h.priced {
		return 0
	}
	return h.price((p.price + h.packs[pack].price + r.price) * (1 - 1e-12))
}

// inOrder cuts the pairs into chunks, those first that come nearest to being the best in some direction.
func (h *hunt) inOrder() []chunk {
	top := chance{raw: math.Inf(-1)}
	for k := range top.in {
		top.in[k] = math.Inf(-1)
	}
	for _, c := range h.chances {
		top.raw = max(top.raw, c.raw)
		for k := range c.in {
			top.in[k] = max(top.in[k], c.in[k])
		}
	}
	behind := make([]float64, len(h.pairs))
	order := make([]int, len(h.pairs))
	for i, c := range h.chances {
		order[i] = i
		behind[i] = math.Inf(1)
		if !math.IsInf(c.raw, -1) {
			behind[i] = top.raw - c.raw
		}
		for k := range c.in {
			if !math.IsInf(c.in[k], -1) {
				behind[i] = min(behind[i], top.in[k]-c.in[k])
			}
		}
	}
	slices.SortStableFunc(order, func(a, b int) int { return cmp.Compare(behind[a], behind[b]) })
	var out []chunk
	for _, i := range order {
		n := len(h.groups[h.pairs[i].group].packs)
		for from := 0; from < n; from += chunkPacks {
			out = append(out, chunk{i, from, min(from+chunkPacks, n)})
		}
	}
	return out
}

// The first rounds are small, so that those after them have something to measure by.
const (
	firstRound = 4
	mostRound  = 1024
)

// rounds looks at chunks, round after round.
func (h *hunt) rounds(ctx context.Context, chunks []chunk, progress Progress) {
	var ready atomic.Int64
	size := firstRound
	for at := 0; at < len(chunks); {
		round := chunks[at:min(at+size, len(chunks))]
		looks := make([]*look, len(round))
		each(len(round), func(i int) {
			l := newLook(h, round[i])
			l.chunk(ctx)
			looks[i] = l
		}, func() {
			if n := ready.Add(1); progress != nil {
				progress(int(n), len(chunks))
			}
		})
		if slices.ContainsFunc(looks, func(l *look) bool { return l.stopped }) {
			h.stop(chunks, at, looks)
			return
		}
		for _, l := range looks {
			h.collect(l)
		}
		at += len(round)
		size = min(2*size, mostRound)
	}
}

// collect adds what a look found.
func (h *hunt) collect(l *look) {
	for _, x := range l.finds {
		h.front.add(x)
		h.best.add(h.space, x)
	}
	h.tried += l.tried
	for c, n := range l.excluded {
		h.excluded[c] += n
	}
}

// stop ends a search early, with the looks of the round that came to an end, and what may be left.
func (h *hunt) stop(chunks []chunk, at int, looks []*look) {
	h.stopped = true
	h.left = math.Inf(-1)
	for i, c := range chunks[at:] {
		if i < len(looks) && !looks[i].stopped {
			h.collect(looks[i])
			continue
		}
		h.left = max(h.left, h.chances[c.pair].raw)
	}
}

// look is one chunk being looked at.
type look struct {
	*hunt
	at      chunk
	rotors  []model.Rotor // of the pair, by boards; made when first asked for
	made    []bool
	finds   []find
	own     frontier // of this chunk's finds
	ownBest list

	tried    int64
	excluded counts
	stopped  bool

	plan  Plan // of the build that is tried
	c     Candidate
	order []framed
}

func newLook(h *hunt, c chunk) *look {
	l := &look{hunt: h, at: c, excluded: counts{}, own: frontier{priced: h.priced}, ownBest: list{most: h.best.most}}
	p := h.space.plan
	l.plan = Plan{Build: p.Build, Mission: p.Mission, Scale: p.Scale}
	return l
}

// hopeless reports whether nothing with figures as good as these can come on the front or on the list.
func (l *look) hopeless(f figures3) bool {
	if !(f.time > 0) || f.punch < 1 {
		return true
	}
	if !l.front.beaten(f) && !l.own.beaten(f) {
		return false
	}
	return l.raw(f)+rawSlack < max(l.best.worst(), l.ownBest.worst())
}

// rawSlack is more than rounding leaves in a raw score.
const rawSlack = 1e-9

// chunk looks at all packs of a chunk, the likeliest first.
func (l *look) chunk(ctx context.Context) {
	p := &l.pairs[l.at.pair]
	group := &l.groups[p.group]
	type node struct {
		pack int
		raw  float64
	}
	var nodes []node
	for k := l.at.from; k < l.at.to; k++ {
		pack := group.packs[k]
		f := l.corner(p, k)
		if f.time > 0 && f.punch >= 1 && !l.hopeless(f) {
			nodes = append(nodes, node{pack, l.raw(f)})
			continue
		}
		l.exclude(p, pack, BeatenBound)
	}
	slices.SortStableFunc(nodes, func(a, b node) int { return cmp.Compare(b.raw, a.raw) })
	for _, n := range nodes {
		if ctx.Err() != nil {
			l.stopped = true
			return
		}
		l.node(p, n.pack)
	}
}

// corner is that of a pair on the k-th pack of its group.
func (l *look) corner(p *pair, k int) figures3 {
	pack := l.groups[p.group].packs[k]
	if l.corners == nil {
		return l.cornerOf(p, pack)
	}
	c := l.corners[l.begin[l.at.pair]+k]
	f := figures3{time: float64(c.time), punch: float64(c.punch)}
	if l.priced && f.time > 0 {
		f.price = l.leastPrice(p, pack, l.restOf(p, pack))
	}
	return f
}

func (h *hunt) restOf(p *pair, pack int) *rest {
	return h.rests.table[p.set][h.packs[pack].bays][p.group]
}

// exclude counts the builds of a pair on a pack: those over the limit, and the others by a proof.
func (l *look) exclude(p *pair, pack int, proof Code) {
	r := l.restOf(p, pack)
	if r == nil {
		return // counted with what does not go together
	}
	k := &l.packs[pack]
	each := p.count * k.count()
	n := l.fits(r, &l.groups[p.group], l.rest+p.mass+k.mass)
	l.excluded[OverLimit] += (r.total - n) * each
	l.excluded[proof] += n * each
}

// rotor is that of the pair on a board. Its error would have been that of the best board.
func (l *look) rotor(p *pair, board int) model.Rotor {
	if l.made == nil {
		l.rotors, l.made = make([]model.Rotor, len(l.space.boards)), make([]bool, len(l.space.boards))
	}
	if !l.made[board] {
		cells := l.packs[l.groups[p.group].packs[0]].Pack.Pack
		r, err := l.rotorOn(l.motors[p.motor].Motor, l.props[p.prop].Prop, l.space.boards[board].Board, cells)
		if err != nil {
			panic("planner: " + err.Error()) // the pair has been prepared
		}
		l.rotors[board], l.made[board] = r, true
	}
	return l.rotors[board]
}

// node looks at all builds of a pair on a pack.
func (l *look) node(p *pair, pack int) {
	k := &l.packs[pack]
	r := l.restOf(p, pack)
	group := &l.groups[p.group]
	base := l.rest + p.mass + k.mass
	mass := model.Mass(r.envelope.at(base + r.light))
	f := figures3{price: l.leastPrice(p, pack, r)}
	// The corner again, without the table of the pack and with its own punch.
	f.punch = float64(p.best.PunchOut(k.circuit, l.plan.Mission.PunchCharge).Thrust) / float64(mass.Weight()) * (1 + boundSlack)
	f.time = l.time(&p.best, pack, mass, p.fullOf(k.rung), false)
	if l.hopeless(f) {
		l.exclude(p, pack, BeatenBound)
		return
	}
	amps := l.leastAmpsOf(p, k.rung)
	if limit := l.motorLimit(l.motors[p.motor].Motor); limit != nil && amps > float64(*limit) {
		l.exclude(p, pack, TooMuch)
		return
	}
	each := p.count * k.count()
	l.excluded[OverLimit] += (r.total - l.fits(r, group, base)) * each
	for _, b := range group.boards {
		l.board(p, pack, b, amps)
	}
}

// time is how long a drive without thrust loss lasts at the most with an effective mass: its flight itself,
// where it flies nothing in which a better drive may draw more, or is the drive itself.
func (l *look) time(d *model.Drive, pack int, mass model.Mass, fullPower float64, itself bool) float64 {
	k := &l.packs[pack]
	if l.period == 0 {
		return float64(d.Fly(k.circuit, mass, k.landing).Duration) * (1 + boundSlack)
	}
	mean, least := l.draw(d, pack, mass, fullPower)
	t := l.flies(pack, mean, least)
	if itself {
		t = min(t, float64(d.FlyPhases(k.circuit, mass, k.landing, l.plan.Mission.Phases).Duration)*(1+boundSlack))
	}
	return t
}

// board looks at all builds of a pair on a pack with a board.
func (l *look) board(p *pair, pack, board int, amps float64) {
	k, b := &l.packs[pack], &l.space.boards[board]
	r := l.restOf(p, pack)
	base := l.rest + p.mass + k.mass
	fitting := l.fitsBoard(r, board, base)
	if fitting == 0 {
		return
	}
	fitting *= p.count * k.count()
	if limit := l.boardLimit(b.Board); limit != nil && amps > float64(*limit) {
		l.excluded[TooMuch] += fitting
		return
	}
	mass := model.Mass(r.envelope.at(base + (b.mass + l.gearMass)))
	d := model.Drive{Rotors: p.best.Rotors, Rotor: p.best.Rotor, GearPower: b.Power + model.Power(l.gearPowerLow)}
	f := figures3{price: 0}
	if l.priced {
		f.price = l.price((p.price + k.price + b.price + l.gearPrice + l.cheapest(r)) * (1 - 1e-12))
	}
	// First with the best rotor, which is at hand.
	f.punch = p.thrust[k.rung] / float64(mass.Weight())
	mean, least := l.draw(&d, pack, mass, p.fullOf(k.rung))
	f.time = l.flies(pack, mean, least)
	if l.hopeless(f) {
		l.excluded[BeatenBound] += fitting
		return
	}
	d.Rotor = l.rotor(p, board)
	thrust := float64(d.PunchOut(k.circuit, l.plan.Mission.PunchCharge).Thrust) * (1 + 1e-9)
	f.punch = thrust / float64(mass.Weight())
	mean, least = l.draw(&d, pack, mass, p.fullOf(k.rung))
	if f.time = l.flies(pack, mean, least); !l.hopeless(f) {
		f.time = l.time(&d, pack, mass, p.fullOf(k.rung), true)
	}
	if l.hopeless(f) {
		l.excluded[BeatenBound] += fitting
		return
	}
	if l.overdrawn(&d, p, b, k) {
		l.excluded[TooMuch] += fitting
		return
	}
	for g := range l.gears {
		l.gear(p, pack, board, g, &d, f.time)
	}
}

// overdrawn reports whether full throttle on a full pack draws more than board or motor carry, whatever the gear.
func (l *look) overdrawn(d *model.Drive, p *pair, b *boardKind, k *packKind) bool {
	limit := math.Inf(1)
	for _, most := range []*model.Current{l.boardLimit(b.Board), l.motorLimit(l.motors[p.motor].Motor)} {
		if most != nil {
			limit = min(limit, float64(*most))
		}
	}
	if math.IsInf(limit, 1) {
		return false
	}
	fresh := k.circuit
	fresh.R1 = 0
	most := *d
	most.GearPower = b.Power + model.Power(l.gearPowerHigh)
	return float64(most.FullThrottle(fresh, 1).Motor.Current)*(1-1e-6) > limit
}

// cheapest is the least price of a frame of a rest.
func (l *look) cheapest(r *rest) float64 {
	price := math.Inf(1)
	for _, k := range r.frames {
		price = min(price, l.frames[k].price)
	}
	return price
}

// gear looks at all builds of a pair on a pack with a board and a choice of gear: those of every frame, of
// which none flies longer than lightest.
func (l *look) gear(p *pair, pack, board, gear int, d *model.Drive, lightest float64) {
	k, b, g := &l.packs[pack], &l.space.boards[board], &l.gears[gear]
	base := l.rest + p.mass + k.mass
	with := b.mass + g.mass
	own := *d
	own.GearPower = gearPower(b, g)
	multiple := p.count * k.count() * b.count() * g.count()
	l.order = l.order[:0]
	for _, i := range l.restOf(p, pack).frames {
		frame := &l.frames[i]
		if sum := base + (frame.mass + with); sum <= l.most {
			l.order = append(l.order, framed{i, sum * frame.perLift * (1 - 1e-12)})
		}
	}
	if len(l.order) == 0 {
		return
	}
	// The heavier, the shorter the flight: each bounds those behind it.
	slices.SortStableFunc(l.order, func(a, b framed) int { return cmp.Compare(a.mass, b.mass) })
	thrust := float64(own.PunchOut(k.circuit, l.plan.Mission.PunchCharge).Thrust) * (1 + 1e-9)
	for _, x := range l.order {
		kinds := combo{x.frame, int32(p.motor), int32(p.prop), int32(board), int32(gear), int32(pack)}
		mass := model.Mass(x.mass)
		f := figures3{time: lightest, punch: thrust / float64(mass.Weight()), price: l.priceOfKinds(kinds)}
		n := multiple * l.frames[x.frame].count()
		if !l.hopeless(f) {
			mean, least := l.draw(&own, pack, mass, p.fullOf(k.rung))
			f.time = min(f.time, l.flies(pack, mean, least))
		}
		if l.hopeless(f) {
			l.excluded[BeatenBound] += n
			continue
		}
		l.tried++
		l.excluded[SameFigures] += n - 1
		found, suits := l.try(kinds, own.Rotor)
		if time := float64(l.c.Duration()) * (1 + boundSlack); time > 0 {
			lightest = min(lightest, time)
		}
		if suits {
			l.own.add(found)
			l.ownBest.add(l.space, found)
			l.finds = append(l.finds, found)
		}
	}
}

// framed is a frame with the effective mass of a build on it, kg.
type framed struct {
	frame int32
	mass  float64
}

// try flies a build, as [Plan.Assess] does.
func (l *look) try(kinds combo, rotor model.Rotor) (x find, suits bool) {
	s := l.space
	f, b, g, k := &s.frames[kinds[slotFrame]], &s.boards[kinds[slotBoard]], &s.gears[kinds[slotGear]], &s.packs[kinds[slotPack]]
	m, prop := &s.motors[kinds[slotMotor]], &s.props[kinds[slotProp]]
	p := &l.plan
	p.Selection = Selection{Frame: f.Frame, Motor: m.Motor, Prop: prop.Prop, Board: b.Board, Gear: g.gear, Pack: k.Pack.Pack}
	p.Drive = model.Drive{Rotors: s.plan.Build.Rotors, Rotor: rotor, GearPower: gearPower(b, g), ThrustLoss: f.ThrustLoss}
	p.Dry = s.dry(f, m, prop, b, g)
	c := &l.c
	*c = Candidate{Plan: p, Pack: k.Pack, PackMass: p.PackItem(k.Pack.Pack).Each}
	c.Mass = p.Dry + c.PackMass
	if p.Scale != nil {
		c.Mass = model.Mass(s.rest + m.mass + prop.mass + k.mass + (f.mass + (b.mass + g.mass)))
	}
	if overLimit(c) || underSpare(c) || s.unsure(p, c) {
		return find{}, false
	}
	c.fly()
	if brokenBy(c, packReasons) != 0 || overBoardCurrent(c) && s.boardLimit(b.Board) != nil || overMotorCurrent(c) && s.motorLimit(m.Motor) != nil {
		return find{}, false
	}
	x = find{kinds: kinds, figures3: figures3{float64(c.Duration()), c.PunchRatio(), s.priceOfKinds(kinds)}}
	x.raw = s.raw(x.figures3)
	return x, true
}

// unsure reports whether a build is less sure to keep its limit than is asked.
func (s *space) unsure(p *Plan, c *Candidate) bool {
	if p.Build.Limit.Sure <= 0 {
		return false
	}
	p.Items, p.dryVariance, p.drySpread = p.Items[:0], 0, model.MassSpread{}
	p.addItems()
	c.OverChance = p.Build.Limit.ChanceOver(c.Mass, p.SpreadWith(c.Pack.Pack))
	return tooUnsure(c)
}
