package planner

import (
	"hash/fnv"
	"math"
	"math/bits"
	"slices"

	"allup/model"
)

// How many draws of all uncertain inputs stand behind chances and bands. The points are spread so evenly that these do
// the work of many thousands of random ones. Phases take ten times as long to fly as a hover.
const (
	hoverDraws = 1024
	phaseDraws = 512
)

// DrawCount is how many draws stand behind the plan's chances and bands.
func (p *Plan) DrawCount() int {
	if len(p.Build.Flight.Phases) > 0 {
		return phaseDraws
	}
	return hoverDraws
}

// latticeVector generates a rank-1 lattice of n points, hoverDraws or phaseDraws: the fraction of i z/n in each
// dimension. Found component by component for the least worst-case error in weighted Korobov spaces of
// smoothness 2, weights 0.5 x 0.8^j.
//
// Source: Sloan, Joe, Lattice Methods for Multiple Integration, Oxford 1994, ch. 4; component by component:
// Sloan, Reztsov, Math. Comp. 71 (2002) 263.
func latticeVector(n int) [8]int {
	if n == phaseDraws {
		return [8]int{1, 149, 113, 193, 31, 71, 203, 243}
	}
	return [8]int{1, 275, 167, 403, 317, 495, 481, 175}
}

// stream is what an input takes its random numbers from. It depends on the name alone, so that another pack, or another
// input, never changes them.
type stream uint64

func streamOf(name string) stream {
	h := fnv.New64a()
	h.Write([]byte(name))
	return stream(h.Sum64())
}

// next is a random number.
//
// Source: splitmix64; Steele, Lea, Flood, OOPSLA 2014.
func (s *stream) next() uint64 {
	*s += 0x9e3779b97f4a7c15
	z := uint64(*s)
	z = (z ^ z>>30) * 0xbf58476d1ce4e5b9
	z = (z ^ z>>27) * 0x94d049bb133111eb
	return z ^ z>>31
}

// below is a random number from 0 to n-1.
func (s *stream) below(n int) int {
	high, _ := bits.Mul64(s.next(), uint64(n))
	return int(high)
}

// order is a random order of n draws.
func (s *stream) order(n int) []int {
	out := make([]int, n)
	for i := range out {
		j := s.below(i + 1)
		out[i] = out[j]
		out[j] = i
	}
	return out
}

// points are a figure in each draw.
type points []float64

// latticePoints are a dimension of a lattice of n points, shifted at random by whole steps: which of n equal parts each
// draw is in the middle of. Taken in a random order of its own it is independent of other dimensions.
//
// Source: groups of dimensions, each with a lattice in a random order of its own: Latin supercube sampling; Owen, ACM
// Trans. Modeling Computer Simulation 8 (1998) 71.
func latticePoints(n, dimension int, order []int, s *stream) []int {
	z, shift := latticeVector(n)[dimension], s.below(n)
	out := make([]int, n)
	for i := range out {
		k := i
		if order != nil {
			k = order[i]
		}
		out[i] = (k*z + shift) % n
	}
	return out
}

// rotorDimensions are the kinds of inputs that share one lattice, those that matter most first. What is not
// among them, such as masses, is drawn in parts of equal chance in a random order.
func rotorDimensions() []Input {
	return []Input{
		InputPartDuty, InputFigureOfMerit, InputEfficiency, InputThrust, InputNoLoadShare, InputLoadedSpeed, InputNoLoadGrowth, InputGrowth,
	}
}

// ownDimensions are the kinds of inputs of one pack, which share a lattice in an order of the pack's own.
func ownDimensions() []Input {
	return []Input{InputCapacity, InputResistance, InputMass, InputChargeDep, InputCold}
}

// draws are what packs share, with errors in all of it, once for each draw.
type draws struct {
	each   []Inputs
	normal points // the standard normal quantile of the middle of each part
}

func (p *Plan) drawShared() *draws {
	n := p.DrawCount()
	out := &draws{make([]Inputs, n), make(points, n)}
	for i := range n {
		out.each[i] = p.Bare()
		out.normal[i] = math.Sqrt2 * math.Erfinv((2*float64(i)+1)/float64(n)-1)
	}
	for _, u := range p.Uncertain(nil) {
		s := streamOf("shared " + string(u.Input))
		var x []int
		switch d := slices.Index(rotorDimensions(), u.Input); {
		case d >= 0:
			x = latticePoints(n, d, nil, &s)
		default:
			s = streamOf("shared " + string(u.Input) + " of " + u.Subject)
			x = latticePoints(n, 0, s.order(n), &s)
		}
		for i, by := range out.errorsOf(u, x, p.Scale != nil) {
			u.Move(&out.each[i], by)
		}
	}
	return out
}

// errorsOf are the errors of an input in the draws, in the unit of its sigma, x being which part of the chances each is
// in. Masses are rectangular where a list gives them, and normal where a scale has seen the build; what is known
// within a factor is log-normal, so that none of it falls below nothing; the growth of a no-load current lies between
// none and all of it.
//
// Source: JCGM 101:2008, 6.4 (rectangular and normal); log-normal for positive quantities is common practice.
func (d *draws) errorsOf(u Uncertain, x []int, scaled bool) points {
	rectangular, logNormal := false, false
	switch u.Input {
	case InputMass:
		rectangular = !scaled
	case InputNoLoadGrowth:
		rectangular = true
	case InputChargeDep, InputCold, InputNoLoadShare, InputPartDuty: // the last two move by logarithms
	default:
		logNormal = true
	}
	out := make(points, len(x))
	for i, k := range x {
		switch {
		case rectangular:
			out[i] = u.Sigma * math.Sqrt(3) * ((2*float64(k)+1)/float64(len(x)) - 1)
		case logNormal:
			out[i] = math.Exp(u.Sigma*d.normal[k]) - 1
		default:
			out[i] = u.Sigma * d.normal[k]
		}
	}
	return out
}

// drawn are the figures of a build on one pack over all draws.
type drawn struct {
	mass, time, current, punch points
	merit                      points // its logarithm; -Inf where the pack does not fly
}

// draw flies a pack once for each draw of what packs share.
func (p *Plan) draw(pack *Pack, shared *draws) *drawn {
	own, x := p.drawOwn(pack, shared)
	fly := p.drawer(pack, shared, own, x)
	n := len(shared.each)
	all := make(points, 5*n)
	part := func(k int) points { return all[k*n : (k+1)*n : (k+1)*n] }
	out := &drawn{mass: part(0), time: part(1), current: part(2), punch: part(3), merit: part(4)}
	for i := range shared.each {
		mass, f, merit := fly(i)
		out.mass[i], out.time[i], out.current[i], out.punch[i], out.merit[i] = float64(mass), f[0], f[1], f[2], merit
	}
	return out
}

// drawer flies a pack in one draw of what packs share and of what is its own.
func (p *Plan) drawer(pack *Pack, shared *draws, own []Uncertain, x []points) func(draw int) (model.Mass, figures, float64) {
	base := p.At(pack, p.Bare())
	added := base.Mass - p.Dry
	follows := 0.0
	if p.Scale != nil {
		_, _, follows = p.scaled(pack.Pack)
	}
	mission := p.MissionOn(pack.Chemistry)
	price, priced := p.priceOf(pack.Pack)
	return func(i int) (model.Mass, figures, float64) {
		in := shared.each[i].with(base.Circuit, added+model.Mass(follows)*(shared.each[i].Mass-p.Dry))
		for j := range own {
			own[j].Move(&in, x[j][i])
		}
		f := figuresOf(&in, mission)
		return in.Mass, f, p.logMerit(f[0], f[2], price, priced)
	}
}

// sharedMoves is by how much the errors that packs share move the logarithm of a pack's merit in each draw. They move
// that of others by nearly as much.
func (p *Plan) sharedMoves(a *Assessment, shared *draws) points {
	out := make(points, len(shared.each))
	fly := p.drawer(a.Pack, shared, nil, nil)
	base := math.Log(a.Merit.Value)
	inBatches(len(out), 16, nil, func(i int) {
		_, _, merit := fly(i)
		out[i] = merit - base
	})
	return out
}

// contender is a pack's merit in a draw.
type contender struct {
	draw  int
	merit float64
}

// estimateMargin is how much more than its estimate the logarithm of a merit may be: in fields of 10,000 packs the
// chances were then those of all drawn, and off by 1 % together with 0.02.
const estimateMargin = 0.05

// contend flies a pack in those draws in which its merit may be more than the best so far: by an estimate from moves,
// what the shared errors do to the first, and from the pack's own errors to first order, each side by itself.
// Where there is no estimate it flies.
func (p *Plan) contend(a *Assessment, shared *draws, moves, best points) (found []contender) {
	estimate := slices.Clone(moves)
	base := math.Log(a.Merit.Value)
	own, errors := p.drawOwn(a.Pack, shared)
	for j, u := range own {
		move := a.slopes.ownMove(u)
		for i := range estimate {
			estimate[i] += move(errors[j][i] / u.Sigma)
		}
	}
	var fly func(i int) (model.Mass, figures, float64)
	for i, e := range estimate {
		if known := !math.IsInf(e, 0) && !math.IsNaN(e); known && base+e+estimateMargin <= best[i] {
			continue
		}
		if fly == nil {
			fly = p.drawer(a.Pack, shared, own, errors)
		}
		_, _, merit := fly(i)
		found = append(found, contender{i, merit})
	}
	return found
}

// drawOwn are the uncertain inputs that are a pack's own, each with its error in each draw. They depend on the
// pack's id alone.
func (p *Plan) drawOwn(pack *Pack, shared *draws) (own []Uncertain, errors []points) {
	s := streamOf("pack " + pack.ID)
	n := len(shared.each)
	order := s.order(n)
	uncertain := p.Uncertain(pack)
	for d, input := range ownDimensions() {
		x := latticePoints(n, d, order, &s) // whether it is uncertain or not, so that the others keep theirs
		for _, u := range uncertain {
			if !u.Shared && u.Input == input {
				own, errors = append(own, u), append(errors, shared.errorsOf(u, x, p.Scale != nil))
			}
		}
	}
	return own, errors
}

// band are the 5 to 95 % intervals over the draws, that of the mass as it is known anyway.
func (d *drawn) band(mass Interval) *Band {
	return &Band{Mass: mass, Time: d.time.interval(), Current: d.current.interval(), Punch: d.punch.interval()}
}

// interval runs from the 5th to the 95th percentile.
func (x points) interval() Interval {
	sorted := slices.Clone(x)
	slices.Sort(sorted)
	return Interval{quantile(sorted, 0.05), quantile(sorted, 0.95)}
}

// quantile of sorted values, each the middle of its own part of the chance, on lines between them.
func quantile(sorted []float64, p float64) float64 {
	at := p*float64(len(sorted)) - 0.5
	i := min(max(int(math.Floor(at)), 0), len(sorted)-2)
	part := min(max(at-float64(i), 0), 1)
	return sorted[i] + part*(sorted[i+1]-sorted[i])
}

// above is the chance that one figure is above another in the same draw; equal ones count half.
func (x points) above(y points) float64 {
	n := 0
	for i := range x {
		switch {
		case x[i] > y[i]:
			n += 2
		case x[i] == y[i]:
			n++
		}
	}
	return float64(n) / float64(2*len(x))
}

// DrawBand is [Plan.AddBand] by draws: the band that a ranking shows of the pack.
func (p *Plan) DrawBand(a *Assessment) {
	p.AddBand(a)
	if a.Band != nil {
		a.Quick, a.Band, a.Drawn = a.Band, p.draw(a.Pack, p.drawShared()).band(a.Band.Mass), true
	}
}

// Difference is how far what one pack does more than another may be off, 5 to 95 %: from draws in which the two
// share what the build shares.
func (p *Plan) Difference(a, b *Pack) *Band {
	shared := p.drawShared()
	x, y := p.draw(a, shared), p.draw(b, shared)
	return &Band{Mass: x.mass.less(y.mass), Time: x.time.less(y.time), Current: x.current.less(y.current), Punch: x.punch.less(y.punch)}
}

// less is the interval of one figure less another in the same draw.
func (x points) less(y points) Interval {
	d := make(points, len(x))
	for i := range d {
		d[i] = x[i] - y[i]
	}
	return d.interval()
}
