package planner

import (
	"cmp"
	"math"
	"slices"
)

// ReallyBetter is the chance of really beating the next from which on a pack stands in a group of its own (own
// judgement: two in three is a guess, nine in ten is more than most benches can tell).
const ReallyBetter = 0.70

// Chances are how sure a place in a ranking is. Nil is a chance that was not worked out.
type Chances struct {
	Group int // from 1: its first pack does not really beat any other of it

	Best  *float64 // of being the best of the ranking
	Next  *float64 // of really beating the next one
	First *float64 // that the first of the ranking really beats it

	Drawn bool // Next, First and the band are from draws, otherwise first-order; Best is always from draws
}

// Whatever may yet be the best counts for the chance of that, as many as there is time for. Those that may most, and
// the first of the list in any case, are drawn; the others fly only in the draws in which they may be the best.
const (
	mayBeBest     = 0.001 // chance of beating the first, first-order
	leastDrawn    = 32
	mostDrawn     = 64
	mostContended = 4096
)

// slopes are by how much one standard deviation of each uncertain input moves the logarithm of a merit.
type slopes struct {
	shared [12]float64 // of each variant of the plan
	mass   float64     // of one kilogram more
	own    float64     // variance by what is the pack's own

	circuit [ownInputs]bend // by what is uncertain of the pack's circuit
}

// ownMove is by how much so many standard deviations of a pack's own input move the logarithm of its merit; NaN for
// one that is not known.
func (s *slopes) ownMove(u Uncertain) func(sigmas float64) float64 {
	if u.Input == InputMass {
		return func(sigmas float64) float64 { return s.mass * u.Sigma * sigmas }
	}
	for i := range s.circuit {
		if s.circuit[i].input == u.Input {
			return s.circuit[i].of
		}
	}
	return func(float64) float64 { return math.NaN() }
}

// bend is by how much one standard deviation of an input up and down moves the logarithm of a merit.
type bend struct {
	input    Input
	up, down float64
}

// of is by how much an error of so many standard deviations does, on a line to either side.
func (b bend) of(sigmas float64) float64 {
	if sigmas < 0 {
		return -b.down * sigmas
	}
	return b.up * sigmas
}

// addMass moves the pack's own share of an uncertain mass to what is its own.
func (s *slopes) addMass(p *Plan, pack *Pack) {
	u := float64(p.PackItem(pack.Pack).Uncertainty())
	if p.Scale != nil {
		_, own, _ := p.scaled(pack.Pack)
		u = own.Sigma
	}
	s.own += s.mass * s.mass * u * u
}

// beats is the chance, first-order, that a pack is really better than another, given both merits and slopes.
// What they share counts by the difference of what it does to each. dry is the standard uncertainty of what
// flies with any pack.
//
// Source: JCGM 100:2008, 5.1.2, of the difference; the normal distribution function.
func (a *Assessment) beats(b *Assessment, dry float64) float64 {
	variance := a.slopes.own + b.slopes.own
	for i := range a.slopes.shared {
		d := a.slopes.shared[i] - b.slopes.shared[i]
		variance += d * d
	}
	d := (a.slopes.mass - b.slopes.mass) * dry
	variance += d * d
	lead := math.Log(a.Merit.Value / b.Merit.Value)
	if !(variance > 0) || math.IsInf(variance, 1) {
		switch {
		case lead > 0:
			return 1
		case lead < 0:
			return 0
		}
		return 0.5
	}
	return math.Erfc(-lead/math.Sqrt(2*variance)) / 2
}

// addChances says how sure each place is, by draws of the packs that can matter or, where quick, first-order.
func (r *Ranking) addChances(quick bool, progress Progress) {
	if len(r.Ranked) == 0 || r.Ranked[0].Band == nil {
		return
	}
	// What is ranked by price does not compare with what is not.
	compared := len(r.Ranked)
	for i := range r.Ranked {
		if r.Ranked[i].Merit.Priced != r.Ranked[0].Merit.Priced {
			compared = i
			break
		}
	}
	draws := make([]*drawn, len(r.Ranked))
	_, u := r.Plan.known(r.Plan.Items)
	dry := float64(u)
	if !quick {
		r.drawWhatMatters(draws, compared, dry, progress)
	}
	chance := func(i, j int) *float64 {
		if i >= compared != (j >= compared) {
			return nil
		}
		c := r.Ranked[i].beats(&r.Ranked[j], dry)
		if draws[i] != nil && draws[j] != nil {
			c = draws[i].merit.above(draws[j].merit)
		}
		return &c
	}
	group, leader := 1, 0
	for i := range r.Ranked {
		a := &r.Ranked[i]
		if i > 0 {
			a.First = chance(0, i)
		}
		if c := chance(leader, i); c == nil || i > leader && *c >= ReallyBetter {
			group, leader = group+1, i
		}
		a.Group = group
		if i+1 < len(r.Ranked) {
			a.Next = chance(i, i+1)
		}
	}
}

// drawWhatMatters draws those packs of the first compared ones that can be the best, and says how likely that is.
func (r *Ranking) drawWhatMatters(draws []*drawn, compared int, dry float64, progress Progress) {
	var matter []int
	chances := make([]float64, len(r.Ranked))
	for i := range r.Ranked {
		if i < compared {
			chances[i] = r.Ranked[i].beats(&r.Ranked[0], dry)
		}
		if i < leastDrawn || chances[i] >= mayBeBest {
			matter = append(matter, i)
		}
	}
	if len(matter) > leastDrawn {
		slices.SortStableFunc(matter[leastDrawn:], func(i, j int) int { return cmp.Compare(chances[j], chances[i]) })
	}
	matter = matter[:min(len(matter), mostDrawn+mostContended)]
	flown := min(len(matter), mostDrawn)
	p := r.Plan
	shared := p.drawShared()
	inBatches(flown, 2, progress, func(k int) {
		a := &r.Ranked[matter[k]]
		d := p.draw(a.Pack, shared)
		draws[matter[k]] = d
		a.Quick, a.Band, a.Drawn = a.Band, d.band(a.Band.Mass), true
	})
	wins := newContest(len(shared.each))
	for k, i := range matter[:flown] {
		if i < compared {
			for n, merit := range draws[i].merit {
				wins.enter(n, merit, k)
			}
		}
	}
	if flown < len(matter) {
		r.flyContenders(wins, matter, flown, compared, shared)
	}
	best := make([]int, len(matter)) // draws that each wins
	for _, k := range wins.winner {
		if k >= 0 {
			best[k]++
		}
	}
	for k, i := range matter {
		if i < compared {
			c := float64(best[k]) / float64(len(shared.each))
			r.Ranked[i].Best = &c
		}
	}
}

// contest is the best merit so far in each draw, and whose it is; -1 for nobody's, where none flies: chances of
// being the best then sum to less than one.
type contest struct {
	merit  points
	winner []int
}

func newContest(n int) *contest {
	c := &contest{make(points, n), make([]int, n)}
	for i := range n {
		c.merit[i], c.winner[i] = math.Inf(-1), -1
	}
	return c
}

// enter lets a merit beat the best of a draw; equal ones are the earlier's.
func (c *contest) enter(draw int, merit float64, of int) {
	if merit > c.merit[draw] {
		c.merit[draw], c.winner[draw] = merit, of
	}
}

// contenders is how many packs are flown against the same best ones so far.
const contenders = 64

// flyContenders flies those after the first flown that matter in the draws in which they may beat the best so far, by
// estimates.
func (r *Ranking) flyContenders(wins *contest, matter []int, flown, compared int, shared *draws) {
	moves := r.Plan.sharedMoves(&r.Ranked[0], shared)
	for from := flown; from < len(matter); from += contenders {
		chunk := matter[from:min(from+contenders, len(matter))]
		found := make([][]contender, len(chunk))
		inBatches(len(chunk), 2, nil, func(k int) {
			if chunk[k] < compared {
				found[k] = r.Plan.contend(&r.Ranked[chunk[k]], shared, moves, wins.merit)
			}
		})
		for k := range found {
			for _, f := range found[k] {
				wins.enter(f.draw, f.merit, from+k)
			}
		}
	}
}

// Undecided are the first of the ranking and those that it does not surely beat: what the data cannot tell from
// the best.
func (r *Ranking) Undecided() []*Assessment {
	var out []*Assessment
	for i := range r.Ranked {
		a := &r.Ranked[i]
		if i == 0 || a.First != nil && *a.First < ReallyBetter {
			out = append(out, a)
		}
	}
	return out
}

// QuickAgrees is how far first-order bands may be off those drawn, in the width of the band, and still agree.
const QuickAgrees = 0.03

// QuickCheck compares first-order bands with those drawn.
type QuickCheck struct {
	Worst   float64 // greatest difference of an end of a band, in widths of the band
	Figure  string  // "time", "current" or "punch"
	Pack    string
	Undrawn int // packs that have first-order bands only
}

// CompareQuick is how first-order bands compare with those drawn; ok is false where none were drawn.
func (r *Ranking) CompareQuick() (c QuickCheck, ok bool) {
	for i := range r.Ranked {
		a := &r.Ranked[i]
		if !a.Drawn {
			c.Undrawn++
			continue
		}
		ok = true
		for _, f := range []struct {
			name         string
			quick, drawn Interval
		}{{"time", a.Quick.Time, a.Band.Time}, {"current", a.Quick.Current, a.Band.Current}, {"punch", a.Quick.Punch, a.Band.Punch}} {
			if off := f.drawn.off(f.quick); off > c.Worst {
				c.Worst, c.Figure, c.Pack = off, f.name, a.Pack.ID
			}
		}
	}
	return c, ok
}

// off is how far another interval's ends are from those of one, in its width.
func (i Interval) off(other Interval) float64 {
	return max(math.Abs(other.Low-i.Low), math.Abs(other.High-i.High)) / (i.High - i.Low)
}
