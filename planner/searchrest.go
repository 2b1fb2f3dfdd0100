package planner

import (
	"math"
	"slices"
	"sort"

	"allup/catalog"
	"allup/model"
)

// rest is everything that a motor, a propeller and a pack leave open: the frames that take them, and boards and gear.
type rest struct {
	frames   []int32 // kinds
	envelope envelope
	lightest float64 // kg, of a frame
	light    float64 // kg, of a board with gear
	price    float64 // the least

	sums   []float64 // kg of frame, board and gear, rising; nil where there are too many to list
	counts []int64   // of builds up to each
	total  int64
}

// mostSums is the most masses that a rest keeps a list of.
const mostSums = 20000

// fits is how many builds of a rest keep a mass that is left for them beside everything else.
func (s *space) fits(r *rest, group *cellGroup, base float64) int64 {
	if r.sums != nil {
		n := sort.Search(len(r.sums), func(i int) bool { return base+r.sums[i] > s.most })
		if n == 0 {
			return 0
		}
		return r.counts[n-1]
	}
	var n int64
	for _, b := range group.boards {
		n += s.fitsBoard(r, b, base)
	}
	return n
}

// fitsBoard is fits of one board.
func (s *space) fitsBoard(r *rest, board int, base float64) (n int64) {
	b := &s.boards[board]
	for i := range s.gears {
		g := &s.gears[i]
		with := b.mass + g.mass
		for _, k := range r.frames {
			if f := &s.frames[k]; base+(f.mass+with) <= s.most {
				n += f.count() * b.count() * g.count()
			}
		}
	}
	return n
}

// newRest makes a rest of some frames for the packs of a group.
func (s *space) newRest(frames []int32, group *cellGroup) *rest {
	r := &rest{frames: frames, lightest: math.Inf(1), light: math.Inf(1)}
	if len(frames) == 0 || len(group.boards) == 0 || len(s.gears) == 0 {
		return nil
	}
	var kinds []*frameKind
	frame, board, gear := math.Inf(1), math.Inf(1), math.Inf(1)
	var frameCount, boardCount, gearCount int64
	for _, k := range frames {
		f := &s.frames[k]
		kinds = append(kinds, f)
		r.lightest, frame = min(r.lightest, f.mass), min(frame, f.price)
		frameCount += f.count()
	}
	for i := range s.gears {
		gear = min(gear, s.gears[i].price)
		gearCount += s.gears[i].count()
	}
	for _, b := range group.boards {
		board = min(board, s.boards[b].price)
		boardCount += s.boards[b].count()
		for i := range s.gears {
			r.light = min(r.light, s.boards[b].mass+s.gears[i].mass)
		}
	}
	r.envelope, r.price, r.total = newEnvelope(kinds), frame+board+gear, frameCount*boardCount*gearCount
	if n := len(frames) * len(group.boards) * len(s.gears); n <= mostSums {
		s.list(r, group, n)
	}
	return r
}

// list fills in the masses of a rest.
func (s *space) list(r *rest, group *cellGroup, n int) {
	type sum struct {
		mass  float64
		count int64
	}
	sums := make([]sum, 0, n)
	for _, i := range group.boards {
		b := &s.boards[i]
		for j := range s.gears {
			g := &s.gears[j]
			with := b.mass + g.mass
			for _, k := range r.frames {
				f := &s.frames[k]
				sums = append(sums, sum{f.mass + with, f.count() * b.count() * g.count()})
			}
		}
	}
	slices.SortFunc(sums, func(a, b sum) int {
		switch {
		case a.mass < b.mass:
			return -1
		case a.mass > b.mass:
			return 1
		}
		return 0
	})
	r.sums, r.counts = make([]float64, n), make([]int64, n)
	var count int64
	for i, x := range sums {
		count += x.count
		r.sums[i], r.counts[i] = x.mass, count
	}
}

// rests is every rest that a space has, by the frames that take a motor with a propeller, those whose bay holds
// a pack, and the group of the pack.
type rests struct {
	sets  [][]int32 // of frames, by motor and propeller
	table [][][]*rest
}

// compatible puts together what goes together: pairs of motor and propeller with the frames that take them.
func (s *space) compatible() (pairs []pair, all *rests) {
	all = &rests{}
	type fit struct {
		mount stated[model.Length]
		size  model.Length
	}
	at := map[fit]int{}
	c := Candidate{Plan: &Plan{}}
	framesOf := func(m *catalog.Motor, p *catalog.Prop) int {
		key := fit{state(m.Mount), p.Diameter}
		if n, ok := at[key]; ok {
			return n
		}
		c.Plan.Motor, c.Plan.Prop = m, p
		var set []int32
		for i := range s.frames {
			c.Plan.Frame = s.frames[i].Frame
			if !propTooLarge(&c) && !otherMount(&c) {
				set = append(set, int32(i))
			}
		}
		at[key] = len(all.sets)
		all.sets = append(all.sets, set)
		return at[key]
	}
	for i := range s.motors {
		for j := range s.props {
			m, p := &s.motors[i], &s.props[j]
			if differ(p.Shaft, m.Shaft) {
				continue
			}
			set := framesOf(m.Motor, p.Prop)
			if len(all.sets[set]) == 0 {
				continue
			}
			for g := range s.groups {
				if !outside(m.Cells, s.groups[g].cells) && len(s.groups[g].boards) > 0 {
					pairs = append(pairs, pair{motor: i, prop: j, group: g, set: set, mass: m.mass + p.mass, price: m.price + p.price, count: m.count() * p.count()})
				}
			}
		}
	}
	s.restsOf(all)
	return pairs, all
}

// restsOf fills in the table of rests.
func (s *space) restsOf(all *rests) {
	// Packs whose size the same bays hold are alike here.
	bays := map[string]int{}
	var holding []string
	for i := range s.packs {
		p := &s.packs[i]
		c := Candidate{Plan: &Plan{}, Pack: p.Pack}
		held := make([]byte, len(s.frames))
		for k := range s.frames {
			if c.Plan.Frame = s.frames[k].Frame; !tooBigForBay(&c) {
				held[k] = 1
			}
		}
		n, ok := bays[string(held)]
		if !ok {
			n = len(holding)
			bays[string(held)] = n
			holding = append(holding, string(held))
		}
		p.bays = n
	}
	type key struct {
		frames string
		group  int
	}
	made := map[key]*rest{}
	all.table = make([][][]*rest, len(all.sets))
	for i, set := range all.sets {
		all.table[i] = make([][]*rest, len(holding))
		for j, held := range holding {
			var frames []int32
			name := make([]byte, len(s.frames))
			for _, k := range set {
				if held[k] == 1 {
					frames = append(frames, k)
					name[k] = 1
				}
			}
			for g := range s.groups {
				k := key{string(name), g}
				r, ok := made[k]
				if !ok {
					r = s.newRest(frames, &s.groups[g])
					made[k] = r
				}
				all.table[i][j] = append(all.table[i][j], r)
			}
		}
	}
}

// counts counts combinations by what became of them.
type counts map[Code]int64

// What becomes of combinations beside the codes of rules.
const (
	BeatenBound Code = "bound"     // as good as they can be, others are better
	SameFigures Code = "identical" // of parts between which no figure differs: one was tried for them
	TooMuch     Code = "current"   // full throttle draws more than board or motor carry
)

// ProofsOrder lists what excludes combinations without a trial, in the order in which it is looked at.
func ProofsOrder() []Code {
	return []Code{OverPackMass, WrongCells, WrongChem, WrongPlug, PropTooLarge, MotorMount, PropShaft, MotorCells, BoardCells, TooBigForBay, OverLimit, TooMuch, BeatenBound, SameFigures}
}

// unfit counts the combinations of parts that do not go together, each by the first rule that it breaks.
func (s *space) unfit() counts {
	out := counts{}
	nBoards, nGear := countAll(s.boards), countAll(s.gears)
	carried := countAll(s.frames) * countAll(s.motors) * countAll(s.props) * nBoards * nGear
	c := Candidate{Plan: s.plan}
	var taken int64 // packs
	for i := range s.packs {
		p := &s.packs[i]
		c.Pack, c.PackMass = p.Pack, s.plan.PackItem(p.Pack.Pack).Each
		switch {
		case overPackMass(&c):
			out[OverPackMass] += p.count() * carried
		case wrongCells(&c):
			out[WrongCells] += p.count() * carried
		case wrongChemistry(&c):
			out[WrongChem] += p.count() * carried
		case wrongPlug(&c):
			out[WrongPlug] += p.count() * carried
		default:
			taken += p.count()
		}
	}
	s.unfitParts(out, taken, nBoards, nGear)
	return out
}

// unfitParts counts those of packs that the build takes.
func (s *space) unfitParts(out counts, taken, nBoards, nGear int64) {
	type motorFit struct {
		mount, shaft stated[model.Length]
		cells        stated[catalog.CellRange]
	}
	type propFit struct {
		size  model.Length
		shaft stated[model.Length]
	}
	var motors []*catalog.Motor
	motorCount := map[motorFit]int64{}
	for i := range s.motors {
		m := &s.motors[i]
		k := motorFit{state(m.Mount), state(m.Shaft), state(m.Motor.Cells)}
		if motorCount[k] == 0 {
			motors = append(motors, m.Motor)
		}
		motorCount[k] += m.count()
	}
	var props []*catalog.Prop
	propCount := map[propFit]int64{}
	for i := range s.props {
		p := &s.props[i]
		k := propFit{p.Diameter, state(p.Shaft)}
		if propCount[k] == 0 {
			props = append(props, p.Prop)
		}
		propCount[k] += p.count()
	}
	boards := make([]int64, len(s.groups)) // that take a group's cells
	packs := make([]int64, len(s.groups))
	for g := range s.groups {
		for _, i := range s.groups[g].boards {
			boards[g] += s.boards[i].count()
		}
		for _, i := range s.groups[g].packs {
			packs[g] += s.packs[i].count()
		}
	}
	// Packs of each group that a frame's bay holds.
	held := make([][]int64, len(s.frames))
	c := Candidate{Plan: &Plan{}}
	for i := range s.frames {
		held[i] = make([]int64, len(s.groups))
		c.Plan.Frame = s.frames[i].Frame
		for g := range s.groups {
			for _, k := range s.groups[g].packs {
				if c.Pack = s.packs[k].Pack; !tooBigForBay(&c) {
					held[i][g] += s.packs[k].count()
				}
			}
		}
	}
	for i := range s.frames {
		c.Plan.Frame = s.frames[i].Frame
		for _, m := range motors {
			c.Plan.Motor = m
			for _, p := range props {
				c.Plan.Prop = p
				n := s.frames[i].count() * motorCount[motorFit{state(m.Mount), state(m.Shaft), state(m.Cells)}] * propCount[propFit{p.Diameter, state(p.Shaft)}] * nGear
				switch {
				case propTooLarge(&c):
					out[PropTooLarge] += n * nBoards * taken
					continue
				case otherMount(&c):
					out[MotorMount] += n * nBoards * taken
					continue
				case otherShaft(&c):
					out[PropShaft] += n * nBoards * taken
					continue
				}
				for g := range s.groups {
					if outside(m.Cells, s.groups[g].cells) {
						out[MotorCells] += n * nBoards * packs[g]
						continue
					}
					out[BoardCells] += n * (nBoards - boards[g]) * packs[g]
					out[TooBigForBay] += n * boards[g] * (packs[g] - held[i][g])
				}
			}
		}
	}
}
