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
	OfLabelC   Measure = "tested_c_over_label"
	R0TimesQ   Measure = "r0_mohm_ah" // R0 of a cell times the capacity: resistance with the size taken out
	PricePerWh Measure = "price_per_wh"
)

// Measures lists every measure.
func Measures() []Measure {
	return []Measure{Delivered, WhPerGram, MidPerCell, TestedC, OfLabelC, WPerGram, R0TimesQ, PricePerWh}
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
	ByCircuit  bool                 // converted: values are of its circuit in the group's test, for its own was another, or not whole
	Noteworthy []planner.Remark
}

// FieldGroup is the packs that are compared with each other.
type FieldGroup struct {
	Cells     int             // 0: any
	Chemistry model.Chemistry // "": any
	Packs     []FieldPack
	Medians   map[Measure]float64
	Currency  string // of the prices; others do not compare

	// Converted names the packs that were not tested by the protocol that most of the group were, so that their
	// circuits stand in for them; the others keep what was measured.
	Converted []string

	test model.Protocol // of the group, for a pack of 1 Ah and one cell
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
	g.test = g.commonTest()
	for i := range g.Packs {
		p := &g.Packs[i]
		p.ByCircuit = !wholeTest(p.Tested) || !sameTest(perCellAmpHour(p.Tested.Protocol, p.Rated, p.Cells), g.test)
		if p.ByCircuit {
			g.Converted = append(g.Converted, p.ID)
		}
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
	g.sort(by)
}

// sort puts the packs in the order of a measure, those without it last.
func (g *FieldGroup) sort(by Measure) {
	type place struct {
		rank int
		id   string
		from int
	}
	packs := slices.Clone(g.Packs)
	places := make([]place, len(packs))
	for i, p := range packs {
		places[i] = place{math.MaxInt, p.ID, i}
		if s, ok := p.Standings[by]; ok {
			places[i].rank = s.Rank
		}
	}
	slices.SortFunc(places, func(a, b place) int { return cmp.Or(cmp.Compare(a.rank, b.rank), cmp.Compare(a.id, b.id)) })
	for i := range places {
		g.Packs[i] = packs[places[i].from]
	}
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
	if p.ByCircuit {
		m = c.Tests(g.Test(p.Pack))
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
	if p.LabelC > 0 {
		out[OfLabelC] = r.TestedC / p.LabelC
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

// perCellAmpHour is a protocol with the size of the pack taken out: that of a pack of one cell and 1 Ah.
func perCellAmpHour(p model.Protocol, rated model.Charge, cells int) model.Protocol {
	return sized(p, 1/rated.AmpHours(), 1/float64(cells))
}

// sized is a protocol for a pack of so many times the charge and the cells.
func sized(p model.Protocol, charge, cells float64) model.Protocol {
	p.DischargePower *= model.Power(charge * cells)
	p.DischargeCurrent *= model.Current(charge)
	p.ConditioningCurrent *= model.Current(charge)
	p.Ramp *= charge
	return p
}

// Test is the protocol by which the group compares a pack.
func (g *FieldGroup) Test(p *planner.Pack) model.Protocol {
	return sized(g.test, p.Rated.AmpHours(), float64(p.Cells))
}

// sameTest reports whether two protocols without the sizes of their packs are one.
func sameTest(a, b model.Protocol) bool {
	near := func(x, y, tolerance float64) bool {
		return math.Abs(x-y) <= tolerance*math.Max(math.Abs(x), math.Abs(y))
	}
	taken := func(p model.Protocol) float64 { return float64(p.ConditioningCurrent) * float64(p.ConditioningTime) }
	return near(float64(a.DischargePower), float64(b.DischargePower), sameLoad) && near(float64(a.DischargeCurrent), float64(b.DischargeCurrent), sameLoad) &&
		math.Abs(float64(a.DischargeEndPerCell-b.DischargeEndPerCell)) <= sameEnd && math.Abs(float64(a.BurstEndPerCell-b.BurstEndPerCell)) <= sameEnd &&
		near(taken(a), taken(b), 2*sameLoad) && near(float64(a.ConditioningCurrent), float64(b.ConditioningCurrent), sameLoad) && near(a.Ramp, b.Ramp, 3*sameLoad)
}

// commonTest is the protocol that most packs of a group were tested by: the usual one where no other has more.
func (g *FieldGroup) commonTest() model.Protocol {
	tests := []model.Protocol{perCellAmpHour(model.UsualProtocol(model.AmpHour, 1), model.AmpHour, 1)}
	counts := []int{0}
	for i := range g.Packs {
		p := &g.Packs[i]
		if !wholeTest(p.Tested) {
			continue
		}
		test := perCellAmpHour(p.Tested.Protocol, p.Rated, p.Cells)
		n := slices.IndexFunc(tests, func(other model.Protocol) bool { return sameTest(test, other) })
		if n < 0 {
			n = len(tests)
			tests, counts = append(tests, test), append(counts, 0)
		}
		counts[n]++
	}
	most := 0
	for n := range counts {
		if counts[n] > counts[most] {
			most = n
		}
	}
	return tests[most]
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
