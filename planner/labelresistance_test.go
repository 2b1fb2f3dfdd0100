package planner_test

import (
	"fmt"
	"math/rand/v2"
	"slices"
	"strings"
	"testing"

	"allup/catalog"
	"allup/planner"
)

// likeField is a catalogue of packs of many sizes, in part known by their labels only, in part doubtful.
func likeField(rng *rand.Rand, n int) string {
	var b strings.Builder
	for i := range n {
		rated, cells := 200+900*rng.Float64(), 3+rng.IntN(2)
		fmt.Fprintf(&b, "[pack.t%03d]\nchemistry = %q\ncells = %d\nrated_mah = %.1f\nmass_g = %.1f\nplug = \"xt30\"\n",
			i, []string{"lipo", "lihv"}[rng.IntN(2)], cells, rated, rated*0.115)
		switch rng.IntN(3) {
		case 0:
			continue // by its label only
		case 1:
			if rng.IntN(4) == 0 {
				fmt.Fprintf(&b, "[pack.t%03d.tested]\ncapacity_mah = %.0f\nmid_voltage_v = %.1f\nburst_power_w = %.0f\n", i, rated*0.95, 3.3*float64(cells), rated)
				continue
			}
		}
		fmt.Fprintf(&b, "[pack.t%03d.circuit]\ncapacity_mah = %.1f\nr0_mohm = %.1f\nr1_mohm = %.1f\ntau_s = 4\n", i, rated*0.95, 20+40*rng.Float64(), 15+20*rng.Float64())
	}
	return b.String()
}

// TestLabelResistanceIsTheMedian: a pack known by its label has the median steady resistance, for its size, of those
// packs of its chemistry and cells that were tested, are not doubtful, and have between two thirds and 1.5 times its
// capacity; asked for alone, among all, or in any order.
func TestLabelResistanceIsTheMedian(t *testing.T) {
	guessed, none, least := 0, 0, 1000
	for seed := range uint64(20) {
		rng := rand.New(rand.NewPCG(seed, 5))
		cat := parts(t, likeField(rng, 5+rng.IntN(80)))
		all := packSet(t, cat).All(nil)
		alone, shuffled := packSet(t, cat), packSet(t, cat)
		ids := cat.IDs(catalog.KindPack)
		rng.Shuffle(len(ids), func(i, j int) { ids[i], ids[j] = ids[j], ids[i] })
		for _, id := range ids {
			shuffled.Pack(id)
		}
		for _, p := range all {
			if p.Basis != planner.BasisLabel {
				continue
			}
			var like []float64
			for _, q := range all {
				doubtful := slices.ContainsFunc(q.Remarks, func(r planner.Remark) bool { return r.Code == planner.Doubtful })
				if q.Basis != planner.BasisLabel && !doubtful && q.Chemistry == p.Chemistry && q.Cells == p.Cells && q.Rated <= 1.5*p.Rated && 1.5*q.Rated >= p.Rated {
					// The circuits of the records, at 25 C.
					like = append(like, float64(q.Circuit.R0+q.Circuit.R1)/float64(q.Cells)*float64(q.Circuit.Capacity)/3600)
				}
			}
			slices.Sort(like)
			want, says := 0.013, "as there is no tested pack of its chemistry"
			if n := len(like); n > 0 {
				want, says = (like[(n-1)/2]+like[n/2])/2, fmt.Sprintf("the median of %d tested pack", n)
				least = min(least, n)
			} else {
				none++
			}
			guessed++
			for how, q := range map[string]*planner.Pack{"of all": p, "alone": packSet(t, cat).Pack(p.ID), "one by one": alone.Pack(p.ID), "in any order": shuffled.Pack(p.ID)} {
				near(t, p.ID+" "+how, float64(q.Circuit.R0+q.Circuit.R1)/float64(q.Cells)*float64(q.Circuit.Capacity)/3600, want, 1e-12)
				if text := q.Remarks[len(q.Remarks)-1].Text; !strings.Contains(text, says) {
					t.Errorf("%s %s: %q, want %q", p.ID, how, text, says)
				}
			}
		}
	}
	if guessed < 100 || none == 0 || least != 1 {
		t.Errorf("%d packs, %d of no like ones, at the least of %d: too few to say anything", guessed, none, least)
	}
}

// Only packs that are like it are made for one that is known by its label.
func TestLabelResistanceMakesLikePacksOnly(t *testing.T) {
	const n = 300
	cat := parts(t, likeField(rand.New(rand.NewPCG(1, 5)), n))
	set := packSet(t, cat)
	p := set.Pack("t000")
	for i := 0; p.Basis != planner.BasisLabel; i++ {
		p = packSet(t, cat).Pack(fmt.Sprintf("t%03d", i))
	}
	one := testing.AllocsPerRun(3, func() { packSet(t, cat).Pack(p.ID) })
	all := testing.AllocsPerRun(3, func() { packSet(t, cat).All(nil) })
	if one > all/2 {
		t.Errorf("one pack makes %.0f allocations, all of %d %.0f", one, n, all)
	}
}

// BenchmarkLabelResistance prepares 10,000 packs, one in seven by its label, of as many sizes.
func BenchmarkLabelResistance(b *testing.B) {
	rng := rand.New(rand.NewPCG(1, 5))
	var texts []string
	for i := range 10000 {
		text := fmt.Sprintf("[pack.t%05d]\nchemistry = \"lipo\"\ncells = 4\nrated_mah = %.2f\nmass_g = 75\nplug = \"xt30\"\n", i, 400+400*rng.Float64())
		if i%7 != 3 {
			text += fmt.Sprintf("[pack.t%05d.circuit]\ncapacity_mah = 620\nr0_mohm = %.1f\nr1_mohm = 20\ntau_s = 4\n", i, 20+40*rng.Float64())
		}
		texts = append(texts, text)
	}
	cat := parts(b, strings.Join(texts, "\n"))
	b.ReportAllocs()
	for b.Loop() {
		packSet(b, cat).All(nil)
	}
}
