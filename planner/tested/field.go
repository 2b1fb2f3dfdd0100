package tested

import (
	"cmp"
	"fmt"
	"math"
	"slices"

	"allup/model"
	"allup/planner"
)

// Measure is one figure of a pack that a field is compared by.
type Measure string

// The measures of a field, in the order of a screen.
const (
	Delivered  Measure = "delivered_over_rated"
	WhPerGram  Measure = "wh_per_g"
	MidPerCell Measure = "mid_v_per_cell"
	TestedC    Measure = "tested_c"
	WPerGram   Measure = "w_per_g"
	R0TimesQ   Measure = "r0_mohm_ah" // R0 of a cell times the capacity: resistance with the size taken out
	PricePerWh Measure = "price_per_wh"
)

// Measures lists every measure.
func Measures() []Measure {
	return []Measure{Delivered, WhPerGram, MidPerCell, TestedC, WPerGram, R0TimesQ, PricePerWh}
}

// LessIsBetter reports whether a small value is the good one.
func (m Measure) LessIsBetter() bool { return m == R0TimesQ || m == PricePerWh }

// Standing is a pack's value of a measure and where that puts it in its group.
type Standing struct {
	Value float64
	Rank  int     // 1 is the best; equal values share the better rank
	Ratio float64 // to the group's median
}

// FieldPack is one tested pack in a field.
type FieldPack struct {
	*planner.Pack
	Standings  map[Measure]Standing // without the measures that are not known
	ByCircuit  bool                 // values are of its circuit under the group's load, not of its own test
	OtherTest  bool                 // its own test was not by the usual protocol
	Noteworthy []planner.Remark
}

// FieldGroup is the packs that are compared with each other.
type FieldGroup struct {
	Cells     int             // 0: any
	Chemistry model.Chemistry // "": any
	Packs     []FieldPack
	Medians   map[Measure]float64
	Currency  string // of the prices; others do not compare

	// ByCircuit means that the packs were tested by different protocols, so that all are
	// compared through their circuits under the usual protocol; Others names the packs whose test was another.
	ByCircuit bool
	Others    []string
}

// Field is the tested packs of a catalogue against each other.
type Field struct {
	Groups   []FieldGroup
	Untested []string // ids of packs with a label only
	LeftOut  planner.LeftOut
	Remarks  []planner.Remark // what stands out, over all groups
}

// FieldOptions say how a field is cut and sorted. The zero value groups by cells and
// chemistry and sorts by power density.
type FieldOptions struct {
	AnyCells, AnyChemistry bool
	Sort                   Measure // "": WPerGram
	Progress               planner.Progress
}

// CompareField compares the tested packs of a set: those with tested metrics or
// with a circuit from logs.
func CompareField(packs *planner.PackSet, options FieldOptions) *Field {
	f := &Field{LeftOut: packs.LeftOut()}
	groups := map[string]*FieldGroup{}
	for _, p := range packs.All(options.Progress) {
		if p.Basis == planner.BasisLabel {
			f.Untested = append(f.Untested, p.ID)
			continue
		}
		g := FieldGroup{Cells: p.Cells, Chemistry: p.Chemistry}
		if options.AnyCells {
			g.Cells = 0
		}
		if options.AnyChemistry {
			g.Chemistry = ""
		}
		key := fmt.Sprintf("%d %s", g.Cells, g.Chemistry)
		if groups[key] == nil {
			groups[key] = &g
		}
		groups[key].Packs = append(groups[key].Packs, FieldPack{Pack: p})
	}
	for _, g := range groups {
		g.compare(cmp.Or(options.Sort, WPerGram))
		f.Groups = append(f.Groups, *g)
	}
	slices.SortFunc(f.Groups, func(a, b FieldGroup) int {
		return cmp.Or(cmp.Compare(b.Cells, a.Cells), cmp.Compare(len(b.Packs), len(a.Packs)), cmp.Compare(a.Chemistry, b.Chemistry))
	})
	for i := range f.Groups {
		f.Remarks = append(f.Remarks, f.Groups[i].remarks()...)
	}
	return f
}

// compare fills the standings of a group and sorts it.
func (g *FieldGroup) compare(by Measure) {
	for i := range g.Packs {
		p := &g.Packs[i]
		if p.OtherTest = !wholeTest(p.Tested) || !usualTest(p.Tested.Protocol, p.Rated, p.Cells); p.OtherTest {
			g.Others = append(g.Others, p.ID)
		}
	}
	g.ByCircuit = len(g.Others) > 0 && !g.sameTests()
	if !g.ByCircuit {
		g.Others = nil
	}
	g.Currency = g.commonCurrency()
	values := map[Measure][]float64{}
	for i := range g.Packs {
		p := &g.Packs[i]
		p.Standings = map[Measure]Standing{}
		for m, v := range p.measure(g) {
			if v > 0 && !math.IsInf(v, 0) {
				p.Standings[m] = Standing{Value: v}
				values[m] = append(values[m], v)
			}
		}
	}
	g.Medians = map[Measure]float64{}
	for m, v := range values {
		slices.Sort(v)
		g.Medians[m] = (v[(len(v)-1)/2] + v[len(v)/2]) / 2
	}
	for i := range g.Packs {
		for m, s := range g.Packs[i].Standings {
			s.Rank, s.Ratio = 1+better(values[m], s.Value, m.LessIsBetter()), s.Value/g.Medians[m]
			g.Packs[i].Standings[m] = s
		}
	}
	slices.SortFunc(g.Packs, func(a, b FieldPack) int {
		x, hasX := a.Standings[by]
		y, hasY := b.Standings[by]
		switch {
		case hasX && hasY:
			return cmp.Or(cmp.Compare(x.Rank, y.Rank), cmp.Compare(a.ID, b.ID))
		case hasX:
			return -1
		case hasY:
			return 1
		}
		return cmp.Compare(a.ID, b.ID)
	})
}

// better counts the values of a sorted list that are better than v; equal ones are not.
func better(sorted []float64, v float64, lessIsBetter bool) int {
	less, _ := slices.BinarySearch(sorted, v)
	if lessIsBetter {
		return less
	}
	notMore, _ := slices.BinarySearchFunc(sorted, v, func(x, v float64) int {
		if x > v {
			return 1
		}
		return -1
	})
	return len(sorted) - notMore
}

// measure is every figure of a pack; 0 is unknown.
func (p *FieldPack) measure(g *FieldGroup) map[Measure]float64 {
	c := p.Circuit
	m := model.TestedMetrics{}
	if p.ByCircuit = g.ByCircuit || !wholeTest(p.Tested); p.ByCircuit {
		m = c.Tests(model.UsualProtocol(p.Rated, p.Cells))
	} else {
		m = *p.Tested
	}
	r := planner.RatiosOf(p.Pack.Pack, m)
	out := map[Measure]float64{
		Delivered: r.DeliveredOverRated, WhPerGram: r.WhPerGram, WPerGram: r.WPerGram, TestedC: r.TestedC,
		MidPerCell: float64(m.MidVoltage) / float64(p.Cells),
		R0TimesQ:   c.R0.MilliOhms() / float64(c.Cells) * c.Capacity.AmpHours(),
	}
	if m.Capacity <= 0 && m.Energy <= 0 {
		delete(out, MidPerCell) // it cannot hold the load at all
	}
	if p.Price != nil && p.Currency == g.Currency && m.Energy > 0 {
		out[PricePerWh] = *p.Price / m.Energy.WattHours()
	}
	return out
}

// Two tests are by one protocol when their loads differ by less than benches do.
const (
	sameLoad = 0.03 // relative
	sameEnd  = 0.02 // V per cell
)

func usualTest(p model.Protocol, rated model.Charge, cells int) bool {
	return sameTest(relative(p, rated, cells), relative(model.UsualProtocol(rated, cells), rated, cells))
}

// relativeTest is a protocol with the size of the pack taken out.
type relativeTest struct{ power, current, end, burstEnd, share, conditioning, ramp float64 }

func relative(p model.Protocol, rated model.Charge, cells int) relativeTest {
	c := rated.AmpHours()
	return relativeTest{
		power: float64(p.DischargePower) / (c * float64(cells)), current: float64(p.DischargeCurrent) / c,
		end: float64(p.DischargeEndPerCell), burstEnd: float64(p.BurstEndPerCell),
		share:        float64(p.ConditioningCurrent) * float64(p.ConditioningTime) / float64(rated),
		conditioning: float64(p.ConditioningCurrent) / c, ramp: p.Ramp / c,
	}
}

func sameTest(a, b relativeTest) bool {
	near := func(x, y, tolerance float64) bool {
		return math.Abs(x-y) <= tolerance*math.Max(math.Abs(x), math.Abs(y))
	}
	return near(a.power, b.power, sameLoad) && near(a.current, b.current, sameLoad) && math.Abs(a.end-b.end) <= sameEnd &&
		math.Abs(a.burstEnd-b.burstEnd) <= sameEnd && near(a.share, b.share, 2*sameLoad) && near(a.conditioning, b.conditioning, sameLoad) && near(a.ramp, b.ramp, 3*sameLoad)
}

// sameTests reports whether all packs of a group were tested by one protocol, usual or not.
func (g *FieldGroup) sameTests() bool {
	var first relativeTest
	for i, p := range g.Packs {
		if p.Tested == nil {
			return false
		}
		r := relative(p.Tested.Protocol, p.Rated, p.Cells)
		if i == 0 {
			first = r
		} else if !sameTest(first, r) {
			return false
		}
	}
	return true
}

// commonCurrency is the one that most prices have.
func (g *FieldGroup) commonCurrency() string {
	counts := map[string]int{}
	best := ""
	for _, p := range g.Packs {
		if p.Price == nil {
			continue
		}
		counts[p.Currency]++
		if n := counts[p.Currency]; n > counts[best] || n == counts[best] && p.Currency < best {
			best = p.Currency
		}
	}
	return best
}

// wholeTest reports whether a pack has figures of both tests.
func wholeTest(m *model.TestedMetrics) bool { return m != nil && m.Discharged() && m.Bursted() }

// Packs is the number of packs that a field compares.
func (f *Field) Packs() (n int) {
	for _, g := range f.Groups {
		n += len(g.Packs)
	}
	return n
}
