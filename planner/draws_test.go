package planner_test

import (
	"fmt"
	"math"
	"math/rand/v2"
	"os"
	"path/filepath"
	"runtime"
	"strings"
	"testing"

	"github.com/google/go-cmp/cmp"

	"allup/model"
	"allup/planner"
)

// truth is an aircraft and its packs as they might be: every uncertain input off its estimate by an error of
// the kind that is stated for it, by random numbers and formulas that are not those of the draws.
type truth struct {
	plan   *planner.Plan
	rng    *rand.Rand
	shared planner.Inputs
}

// errorIn is one random error of an input, in the unit of its sigma.
func errorIn(u planner.Uncertain, rng *rand.Rand) float64 {
	uniform := func() float64 { return u.Sigma * math.Sqrt(3) * (2*rng.Float64() - 1) }
	switch u.Input {
	case planner.InputMass, planner.InputNoLoadGrowth:
		return uniform()
	case planner.InputChargeDep, planner.InputNoLoadShare, planner.InputPartDuty:
		return u.Sigma * rng.NormFloat64()
	}
	return math.Exp(u.Sigma*rng.NormFloat64()) - 1
}

func truthOf(p *planner.Plan, rng *rand.Rand) truth {
	t := truth{p, rng, p.Bare()}
	for _, u := range p.Uncertain(nil) {
		u.Move(&t.shared, errorIn(u, rng))
	}
	return t
}

// flown are mass, time, current, punch and merit of a pack as it truly is.
type flown struct{ mass, time, current, punch, merit float64 }

func (t truth) fly(pack *planner.Pack) flown {
	in := t.plan.At(pack, t.shared)
	for _, u := range t.plan.Uncertain(pack) {
		if !u.Shared {
			u.Move(&in, errorIn(u, t.rng))
		}
	}
	a := in.Drive.Answer(in.Circuit, in.Mass, t.plan.MissionOn(pack.Chemistry))
	f := flown{float64(in.Mass), float64(a.Duration()), float64(a.Flight.Current), a.Punch.Ratio(in.Mass), 0}
	if f.time > 0 && f.punch > 0 {
		f.merit = t.plan.Merit(model.Time(f.time), f.punch, pack.Pack).Value
	}
	return f
}

// TestCoverage: of 4,000 truths drawn from the stated uncertainties 88 to 92 % lie inside the 5 to 95 % bands,
// for time, current, punch and mass of several packs, and for what two of them differ by.
func TestCoverage(t *testing.T) {
	for _, name := range []string{"stint", "dunlin"} {
		t.Run(name, func(t *testing.T) {
			t.Parallel()
			p := demoPlan(t, name)
			r := p.Rank(packSet(t, p.Build.Parts), planner.RankOptions{})
			differ := p.Difference(r.Ranked[0].Pack, r.Ranked[3].Pack)
			const trials = 4000
			inside := map[string]int{}
			count := func(what string, band planner.Interval, v float64) {
				if v >= band.Low && v <= band.High {
					inside[what]++
				}
			}
			rng := rand.New(rand.NewPCG(5, 17))
			for range trials {
				truth := truthOf(p, rng)
				var all [10]flown
				for i := range all {
					a := &r.Ranked[i]
					all[i] = truth.fly(a.Pack)
					if i != 0 && i != 3 && i != 9 {
						continue
					}
					count(a.Pack.ID+" mass", a.Band.Mass, all[i].mass)
					count(a.Pack.ID+" time", a.Band.Time, all[i].time)
					count(a.Pack.ID+" current", a.Band.Current, all[i].current)
					count(a.Pack.ID+" punch", a.Band.Punch, all[i].punch)
				}
				count("difference mass", differ.Mass, all[0].mass-all[3].mass)
				count("difference time", differ.Time, all[0].time-all[3].time)
				count("difference current", differ.Current, all[0].current-all[3].current)
				count("difference punch", differ.Punch, all[0].punch-all[3].punch)
			}
			for what, n := range inside {
				share := float64(n) / trials
				t.Logf("%-24s %.1f %%", what, 100*share)
				if share < 0.88 || share > 0.92 {
					t.Errorf("%s: %.1f %% of the truths are inside, want 88 to 92 %%", what, 100*share)
				}
			}
		})
	}
}

// reliability counts, in ten bins of the chance that was stated, how often it came true.
type reliability struct {
	stated, true [10]float64
	n            [10]int
}

func (r *reliability) add(stated float64, came bool) {
	b := min(int(10*stated), 9)
	r.n[b]++
	r.stated[b] += stated
	if came {
		r.true[b]++
	}
}

// worst is the largest gap between what was stated and what came true, in bins with enough of both.
func (r *reliability) worst(t *testing.T, what string) (worst float64) {
	t.Helper()
	t.Logf("%s: chance stated, came true, times", what)
	for b := range r.n {
		if r.n[b] < 500 { // fewer are too few to tell 4 points: two standard errors of 500 are 4.5
			continue
		}
		n := float64(r.n[b])
		stated, came := 100*r.stated[b]/n, 100*r.true[b]/n
		t.Logf("  %5.1f %5.1f %6d", stated, came, r.n[b])
		worst = max(worst, math.Abs(stated-came))
	}
	return worst
}

// TestChancesAreCalibrated: what is said to have a chance of 30 % comes true in 30 of 100 truths, for breaking
// the limit, for being the best and for beating the next, over the demo catalogue, others made at random, and
// limits that cut through them.
func TestChancesAreCalibrated(t *testing.T) {
	var over, best, next reliability
	rng := rand.New(rand.NewPCG(8, 3))
	plans := []*planner.Plan{demoPlan(t, "stint"), demoPlan(t, "dunlin")}
	for seed := range uint64(6) {
		plans = append(plans, plan(t, parts(t, append([]string{example}, field(10, seed)...)...), exampleBuild))
	}
	for _, p := range plans {
		r := p.Rank(packSet(t, p.Build.Parts), planner.RankOptions{})
		for range 500 {
			truth := truthOf(p, rng)
			merits := make([]float64, len(r.Ranked))
			winner := 0
			for i := range r.Ranked {
				if merits[i] = truth.fly(r.Ranked[i].Pack).merit; merits[i] > merits[winner] {
					winner = i
				}
			}
			for i := range r.Ranked {
				if c := r.Ranked[i].Best; c != nil {
					best.add(*c, i == winner)
				}
				if c := r.Ranked[i].Next; c != nil {
					next.add(*c, merits[i] > merits[i+1])
				}
			}
		}
	}
	for _, name := range []string{"stint", "dunlin"} { // little of the one was weighed, all of the other but its packs
		p := demoPlan(t, name)
		packs := packSet(t, p.Build.Parts).All(nil)
		for grams := 200.0; grams < 255; grams += 1.3 {
			l := model.Limit{Mass: model.Mass(grams) * model.Gram}
			for range 100 {
				truth := truthOf(p, rng)
				for _, pack := range packs {
					if mass, _ := p.With(pack.Pack); mass > l.Mass-5*model.Gram && mass < l.Mass+5*model.Gram {
						over.add(l.ChanceOver(mass, p.SpreadWith(pack.Pack)), !l.Allows(truth.weigh(pack)))
					}
				}
			}
		}
	}
	for what, r := range map[string]*reliability{"breaking the limit": &over, "being the best": &best, "beating the next": &next} {
		if gap := r.worst(t, what); gap > 4 {
			t.Errorf("%s: the largest gap is %.1f points, want 4 at most", what, gap)
		}
	}
}

// weigh is the true all-up mass on a pack.
func (t truth) weigh(pack *planner.Pack) model.Mass {
	in := t.plan.At(pack, t.shared)
	for _, u := range t.plan.Uncertain(pack) {
		if !u.Shared && u.Input == planner.InputMass {
			u.Move(&in, errorIn(u, t.rng))
		}
	}
	return in.Mass
}

func demoText(t *testing.T, name string) string {
	t.Helper()
	text, err := os.ReadFile(filepath.Join("..", "testdata", "builds", name+".toml"))
	if err != nil {
		t.Fatal(err)
	}
	return string(text)
}

func demoPlan(t *testing.T, name string) *planner.Plan {
	t.Helper()
	return plan(t, demo(t), demoText(t, name))
}

// TestSameOnAnyCores: one core and two give the same bands and chances, to the last bit, twice.
func TestSameOnAnyCores(t *testing.T) {
	ranked := func(cores int) []string {
		defer runtime.GOMAXPROCS(runtime.GOMAXPROCS(cores))
		p := demoPlan(t, "stint")
		return chances(p.Rank(packSet(t, p.Build.Parts), planner.RankOptions{}))
	}
	want := ranked(1)
	for _, cores := range []int{2, 1, 2} {
		if diff := cmp.Diff(want, ranked(cores)); diff != "" {
			t.Errorf("%d cores (-want +got):\n%s", cores, diff)
		}
	}
}

func chances(r *planner.Ranking) []string {
	var out []string
	show := func(c *float64) any {
		if c == nil {
			return nil
		}
		return *c
	}
	for _, a := range r.Ranked {
		out = append(out, fmt.Sprint(a.Pack.ID, a.Group, *a.Band, show(a.Best), show(a.Next), show(a.First)))
	}
	return out
}

// TestDrawsOfOthers: a third pack changes neither the band of a pack nor the chance that it beats another.
func TestDrawsOfOthers(t *testing.T) {
	all := append([]string{example}, field(12, 4)...)
	whole := parts(t, all...)
	p := plan(t, whole, exampleBuild)
	r := p.Rank(packSet(t, whole), planner.RankOptions{})
	few := parts(t, all[0], all[1], all[3])
	q := plan(t, few, exampleBuild)
	s := q.Rank(packSet(t, few), planner.RankOptions{})
	for _, a := range s.Ranked {
		for _, b := range r.Ranked {
			if a.Pack.ID == b.Pack.ID && *a.Band != *b.Band {
				t.Errorf("%s: %v among three, %v among %d", a.Pack.ID, *a.Band, *b.Band, len(r.Ranked))
			}
		}
	}
	if a, b := p.Difference(packOf(t, p, "k"), packOf(t, p, "t00000")), q.Difference(packOf(t, q, "k"), packOf(t, q, "t00000")); *a != *b {
		t.Errorf("the difference of two packs is %v, and %v where there are fewer", *a, *b)
	}
}

// TestQuick: without draws there are bands and the chance of beating the next, first-order, within 6 points of
// those drawn where nothing bends; and no chance of being the best.
func TestQuick(t *testing.T) {
	p := demoPlan(t, "dunlin")
	set := packSet(t, p.Build.Parts)
	drawn, quick := p.Rank(set, planner.RankOptions{}), p.Rank(set, planner.RankOptions{Quick: true})
	if _, ok := quick.CompareQuick(); ok {
		t.Error("a quick ranking was drawn")
	}
	for i := range quick.Ranked {
		a, b := &quick.Ranked[i], &drawn.Ranked[i]
		if a.Drawn || a.Best != nil || a.Band == nil || !b.Drawn || b.Best == nil || *b.Quick != *a.Band {
			t.Errorf("%s: quick %+v, drawn %+v", a.Pack.ID, a.Chances, b.Chances)
		}
		if a.Next != nil && math.Abs(*a.Next-*b.Next) > 0.06 {
			t.Errorf("%s beats the next with %v, quick %v", a.Pack.ID, *b.Next, *a.Next)
		}
	}
}

// TestGroups: the first of a group does not really beat any other of it, and really beats the first of the
// next; chances of being the best sum to one.
func TestGroups(t *testing.T) {
	for _, name := range []string{"stint", "dunlin", "curlew"} {
		p := demoPlan(t, name)
		r := p.Rank(packSet(t, p.Build.Parts), planner.RankOptions{})
		sum := 0.0
		for i, a := range r.Ranked {
			if a.Best != nil {
				sum += *a.Best
			}
			if i == 0 {
				continue
			}
			if a.Group == 1 != (*a.First < planner.ReallyBetter) && (a.Group == 1 || r.Ranked[i-1].Group == 1) {
				t.Errorf("%s: %s is in group %d, the first beats it with %v", name, a.Pack.ID, a.Group, *a.First)
			}
			if step := a.Group - r.Ranked[i-1].Group; step < 0 || step > 1 {
				t.Errorf("%s: group %d follows %d", name, a.Group, r.Ranked[i-1].Group)
			}
		}
		if math.Abs(sum-1) > 1e-9 {
			t.Errorf("%s: the chances of being the best sum to %v", name, sum)
		}
		if len(r.Undecided()) < 1 || r.Undecided()[0].Rank != 1 {
			t.Errorf("%s: undecided are %d", name, len(r.Undecided()))
		}
	}
}

// TestUndecided: two packs of one make cannot be told apart, and are best in every second truth; one of half
// the charge can.
func TestUndecided(t *testing.T) {
	twin := strings.Replace("[pack.k]"+strings.Split(example, "[pack.k]")[1], "pack.k", "pack.twin", 2)
	small := strings.NewReplacer("pack.k", "pack.small", "rated_mah = 650", "rated_mah = 325", "= 640", "= 320", "= 9.29", "= 4.64", "= 560", "= 280", "= 74.0", "= 40").
		Replace("[pack.k]" + strings.Split(example, "[pack.k]")[1])
	cat := parts(t, example, twin, small)
	r := plan(t, cat, exampleBuild).Rank(packSet(t, cat), planner.RankOptions{})
	if u := r.Undecided(); len(u) != 2 || r.Ranked[0].Group != r.Ranked[1].Group || r.Ranked[2].Group == r.Ranked[1].Group {
		t.Fatalf("undecided are %d; groups %d, %d, %d", len(u), r.Ranked[0].Group, r.Ranked[1].Group, r.Ranked[2].Group)
	}
	for _, c := range []float64{*r.Ranked[0].Next, *r.Ranked[0].Best, *r.Ranked[1].Best} {
		if math.Abs(c-0.5) > 0.03 {
			t.Errorf("a twin's chance is %v, want about 0.5", c)
		}
	}
}

// TestContenders: of a large field a pack that is not drawn has the chance of being the best that it would have if all
// were drawn, tested ones, contradictory ones and those known by their label.
func TestContenders(t *testing.T) {
	cat := parts(t, append([]string{example}, strings.Join(field(500, 3), "\n"))...)
	r := plan(t, cat, exampleBuild).Rank(packSet(t, cat), planner.RankOptions{})
	all := planner.BestDrawn(r)
	contended, wins := 0, 0.0
	for i, a := range r.Ranked {
		if a.Best == nil {
			continue
		}
		if !a.Drawn && *a.Best > 0 {
			contended++
			wins += *a.Best
		}
		if math.Abs(*a.Best-all[i]) > 1e-9 {
			t.Errorf("%s, rank %d, is the best with %.4f, and %.4f of all draws", a.Pack.ID, a.Rank, *a.Best, all[i])
		}
	}
	if contended < 10 || wins < 0.01 {
		t.Errorf("%d packs that were not drawn win %.3f of the draws: too few to tell", contended, wins)
	}
}

// BenchmarkRankDraws ranks with draws: the demo catalogue, and 1,000 and 10,000 packs.
func BenchmarkRankDraws(b *testing.B) {
	for _, n := range []int{1000, 10000} {
		b.Run(fmt.Sprint(n), func(b *testing.B) {
			cat := parts(b, append([]string{example}, strings.Join(field(n, 1), "\n"))...)
			p := plan(b, cat, exampleBuild)
			b.ReportAllocs()
			for b.Loop() {
				p.Rank(packSet(b, cat), planner.RankOptions{})
			}
		})
	}
}
