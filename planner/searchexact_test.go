package planner_test

import (
	"cmp"
	"context"
	"fmt"
	"math"
	"math/rand/v2"
	"slices"
	"strings"
	"testing"

	"allup/catalog"
	"allup/model"
	"allup/planner"
)

// smallShop is records and a build over them, few enough to try every combination, with everything that may
// decide: parts that do not go together, identical parts, equal figures, limits of current, thrust losses,
// prices known and unknown, phases, choices of gear.
func smallShop(rng *rand.Rand) (records, build string) {
	var b strings.Builder
	pick := func(of ...string) string { return of[rng.IntN(len(of))] }
	some := func(part float64, text string) string {
		if rng.Float64() < part {
			return text
		}
		return ""
	}
	between := func(low, high float64) float64 { return low + (high-low)*rng.Float64() }
	// Coarse steps make ties.
	coarse := func(low, high float64, steps int) float64 {
		return low + (high-low)*float64(rng.IntN(steps))/float64(steps)
	}
	price := func(low, high float64) string {
		return some(0.8, fmt.Sprintf("price = %.0f\ncurrency = %q\n", between(low, high), pick("EUR", "EUR", "EUR", "USD")))
	}
	letter := map[string]string{"frame": "f", "motor": "m", "prop": "p", "board": "b", "gear": "g", "pack": "k"}
	// One part in three is another one under another name.
	write := func(kind string, n int, one func() string) {
		var texts []string
		for i := range n {
			text := one()
			if i > 0 && rng.IntN(3) == 0 {
				text = texts[rng.IntN(i)]
			}
			texts = append(texts, text)
			fmt.Fprintf(&b, "[%s.%s%d]\n%s", kind, letter[kind], i, text)
		}
	}
	n := func(most int) int { return 1 + rng.IntN(most) }
	write("frame", n(3), func() string {
		return fmt.Sprintf("mass_g = %.1f\nrotors = 4\nmax_prop_in = %s\n", coarse(24, 44, 8), pick("3.5", "3.5", "4", "3")) +
			some(0.7, "mount_mm = "+pick("9", "9", "9", "12")+"\n") + some(0.7, fmt.Sprintf("thrust_loss = %.2f\n", coarse(0, 0.12, 4))) +
			some(0.5, "bay_mm = ["+pick("70, 36, 30", "62, 34, 26")+"]\n") + price(20, 40)
	})
	write("motor", n(3), func() string {
		return fmt.Sprintf("mass_g = %.1f\nkv = %.0f\n", coarse(7, 11, 6), coarse(2200, 4600, 5)) +
			some(0.7, fmt.Sprintf("r_mohm = %.0f\nno_load_a = 0.6\n", between(80, 200))) + some(0.5, fmt.Sprintf("max_current_a = %.0f\n", coarse(8, 24, 5))) +
			some(0.6, "cells = "+pick("[3, 4]", "[3, 4]", "[4, 6]")+"\n") + some(0.6, "mount_mm = "+pick("9", "9", "12")+"\n") + some(0.6, "shaft_mm = "+pick("1.5", "1.5", "2")+"\n") + price(9, 20)
	})
	write("prop", n(3), func() string {
		size := fmt.Sprintf("mass_g = %.1f\ndiameter_in = %s\npitch_in = 2.4\nblades = %s\n", coarse(1, 2, 4), pick("3", "3.5", "3.5", "4"), pick("2", "3"))
		return size + pick("", fmt.Sprintf("ct = %.3f\ncp = %.4f\n", between(0.11, 0.15), between(0.075, 0.09)),
			"static = [{ rpm = 8000, ct = 0.135, cp = 0.079 }, { rpm = 20000, ct = 0.140, cp = 0.078 }]\n") + some(0.6, "shaft_mm = "+pick("1.5", "1.5", "2")+"\n") + price(0.5, 3)
	})
	write("board", n(3), func() string {
		return fmt.Sprintf("mass_g = %.1f\npower_w = %.1f\n", coarse(6, 12, 4), coarse(0.8, 2, 3)) + some(0.6, fmt.Sprintf("efficiency = %.2f\n", coarse(0.92, 0.97, 4))) +
			some(0.6, fmt.Sprintf("max_current_a = %.0f\n", coarse(8, 30, 6))) + some(0.5, "cells = "+pick("[3, 4]", "[2, 3]", "[4, 6]")+"\n") + price(40, 70)
	})
	write("gear", 3, func() string {
		return fmt.Sprintf("mass_g = %.1f\npower_w = %.1f\n", coarse(8, 24, 4), coarse(1, 6, 4)) + price(10, 60)
	})
	write("pack", 2+rng.IntN(7), func() string {
		rated := coarse(350, 850, 6)
		return fmt.Sprintf("chemistry = %q\ncells = %s\nrated_mah = %.0f\nmass_g = %.1f\nplug = %q\n", pick("lipo", "lipo", "lihv", "liion"), pick("3", "4", "4", "4"), rated, 12+rated*between(0.085, 0.1), pick("xt30", "xt30", "xt30", "ph2.0")) +
			some(0.5, "size_mm = ["+pick("65, 33, 25", "68, 35, 29", "60, 30, 20")+"]\n") + some(0.4, fmt.Sprintf("max_current_a = %.0f\n", coarse(3, 40, 5))) + price(9, 25)
	})
	gear := `["g0"]`
	switch rng.IntN(4) {
	case 0:
		gear = `["g0", ["g1", "g2", "g0"]]`
	case 1:
		gear = `[["g0", "g1"], "g2", ["g1", "g2"]]`
	}
	goal := fmt.Sprintf("[goal]\ntime = %s\npunch = %s\nprice = %s\n", pick("1", "2", "3"), pick("0", "1", "2"), pick("0", "0", "1")) + some(0.8, "currency = \""+pick("EUR", "EUR", "USD", "GBP")+"\"\n")
	flight := some(0.7, "land_v_per_cell = "+pick("3.3", "3.5")+"\n") + "reserve = " + pick("0.1", "0.2") + "\n"
	switch rng.IntN(5) {
	case 0:
		flight += "phases = [{ seconds = 20, thrust = 1.25 }, { seconds = 2, full = true }]\n"
	case 1:
		flight += "phases = [{ seconds = 15, thrust = 0.9 }, { seconds = 8, thrust = 1.8 }, { seconds = 3, thrust = 0.3 }]\n"
	case 2: // of less than a second
		flight += "phases = [{ seconds = 2, thrust = 1.3 }, { seconds = 0.9, thrust = 0.2 }]\n"
	}
	slot := func(kind string) string { return fmt.Sprintf("%s = %q\n", kind, "any") }
	build = fmt.Sprintf("name = \"Small\"\nrotors = 4\n[limit]\nmass_g = %s\nspare_g = %s\n%s[slots]\n", pick("220", "250", "250", "300"), pick("0", "0.5"), some(0.2, "sure = 0.95\n")) +
		slot("frame") + slot("motor") + slot("prop") + slot("board") + "gear = " + gear + "\n" +
		fmt.Sprintf("[extra.rest]\nname = \"rest\"\nmass_g = %.1f\n", between(10, 50)) + some(0.3, "[weighed]\nf0 = 30.2\nm0 = { together_g = 37.3, count = 4 }\n") +
		"[air]\naltitude_m = 300\n" + some(0.5, "temperature_c = "+pick("4", "28")+"\n") + some(0.4, "pack_temperature_c = "+pick("8", "33")+"\n") +
		"[flight]\n" + flight + some(0.6, "[packs]\n"+pick("cells = [4]\n", "plug = \"xt30\"\n", "chemistry = \"lipo\"\nmax_mass_g = 80\n")) + goal
	return b.String(), build
}

// tried is a build of brute force.
type tried struct {
	ids   string
	a     planner.Assessment
	price float64
}

// bruteForce tries every combination through [planner.Plan.Rank]: those that suit. What boards and motors bear
// is not asked of those named.
func bruteForce(t testing.TB, b *catalog.Build, space planner.SearchSpace, set *planner.PackSet, bears ...string) (all []tried, combinations int) {
	t.Helper()
	rotors := planner.NewRotorCache(b.Parts)
	price := pricesOf(b, space)
	cells := map[int]*catalog.Pack{}
	for _, p := range space.Packs {
		cells[p.Cells] = p.Pack
	}
	gears := [][]*catalog.Gear{nil}
	for _, list := range space.Gear {
		var longer [][]*catalog.Gear
		for _, before := range gears {
			for _, g := range list {
				longer = append(longer, append(slices.Clone(before), g))
			}
		}
		gears = longer
	}
	for _, f := range space.Frames {
		for _, m := range space.Motors {
			for _, p := range space.Props {
				for _, board := range space.Boards {
					for _, g := range gears {
						combinations += len(space.Packs)
						for n, pack := range cells {
							s := planner.Selection{Frame: f, Motor: m, Prop: p, Board: board, Gear: g, Pack: pack}
							plan, err := s.Resolve(b, planner.Conditions{}, rotors)
							if err != nil {
								t.Fatal(err)
							}
							if len(plan.Conflicts) > 0 {
								continue
							}
							for _, a := range plan.Rank(set, planner.RankOptions{NoBands: true}).Ranked {
								if a.Pack.Cells != n || a.Warns(planner.BoardCurrent) && !slices.Contains(bears, board.ID) || a.Warns(planner.MotorCurrent) && !slices.Contains(bears, m.ID) {
									continue
								}
								ids := []string{f.ID, m.ID, p.ID, board.ID}
								for _, x := range g {
									ids = append(ids, x.ID)
								}
								x := tried{ids: strings.Join(append(ids, a.Pack.ID), " "), a: a}
								if price != nil {
									x.price = price(f, m, p, board, g, a.Pack.Pack)
								}
								all = append(all, x)
							}
						}
					}
				}
			}
		}
	}
	return all, combinations
}

// currencyOf is the currency that a build's goal weighs prices in; "" where it does not.
func currencyOf(b *catalog.Build) string {
	switch today := b.Slots.Pack; {
	case b.Goal.Price == 0:
		return ""
	case b.Goal.Currency == "" && len(today) > 0 && b.Parts.Packs[today[0]].Price != nil:
		return b.Parts.Packs[today[0]].Currency
	}
	return b.Goal.Currency
}

// pricesOf is what a build costs: a part without a price in the currency that counts is taken for the median of
// its slot. Nil where price does not count.
func pricesOf(b *catalog.Build, space planner.SearchSpace) func(*catalog.Frame, *catalog.Motor, *catalog.Prop, *catalog.Board, []*catalog.Gear, *catalog.Pack) float64 {
	if currencyOf(b) == "" {
		return nil
	}
	var lists [][]*catalog.Common
	var frames, motors, props, boards, packs []*catalog.Common
	for _, r := range space.Frames {
		frames = append(frames, &r.Common)
	}
	for _, r := range space.Motors {
		motors = append(motors, &r.Common)
	}
	for _, r := range space.Props {
		props = append(props, &r.Common)
	}
	for _, r := range space.Boards {
		boards = append(boards, &r.Common)
	}
	for _, r := range space.Packs {
		packs = append(packs, &r.Common)
	}
	lists = [][]*catalog.Common{frames, motors, props, boards, packs}
	var gear []*catalog.Common
	for _, list := range space.Gear {
		for _, r := range list {
			if !slices.Contains(gear, &r.Common) {
				gear = append(gear, &r.Common)
			}
		}
	}
	lists = append(lists, gear)
	common := currencyOf(b)
	if !slices.ContainsFunc(slices.Concat(lists...), func(c *catalog.Common) bool { return c.Price != nil && c.Currency == common }) {
		return nil
	}
	of := map[string]float64{}
	for _, list := range lists {
		var known []float64
		for _, c := range list {
			if c.Price != nil && c.Currency == common {
				known = append(known, *c.Price)
			}
		}
		slices.Sort(known)
		for _, c := range list {
			switch n := len(known); {
			case c.Price != nil && c.Currency == common:
				of[c.ID] = *c.Price
			case n == 0:
				of[c.ID] = 0
			case n%2 == 1:
				of[c.ID] = known[n/2]
			default:
				of[c.ID] = (known[n/2-1] + known[n/2]) / 2
			}
		}
	}
	return func(f *catalog.Frame, m *catalog.Motor, p *catalog.Prop, b *catalog.Board, g []*catalog.Gear, k *catalog.Pack) float64 {
		gear := 0.0
		for _, x := range g {
			gear += of[x.ID]
		}
		// To the millionth: sums of the same prices in another order are equal.
		return math.Round((of[f.ID]+4*of[m.ID]+4*of[p.ID]+of[b.ID]+gear+of[k.ID])*1e6) / 1e6
	}
}

// answerOf is a build of an answer in one line.
func answerOf(ids string, time model.Time, punch float64) string {
	return fmt.Sprintf("%s %v %v", ids, float64(time), punch)
}

// idsOf are the ids of a found build.
func idsOf(f *planner.FoundBuild) string {
	ids := []string{f.Parts.Frame.ID, f.Parts.Motor.ID, f.Parts.Prop.ID, f.Parts.Board.ID}
	for _, g := range f.Parts.Gear {
		ids = append(ids, g.ID)
	}
	return strings.Join(append(ids, f.Pack.ID), " ")
}

// wantOf is what brute force makes of the builds that suit: the best, and the front with the first of each set
// of figures and how many there are.
func wantOf(b *catalog.Build, all []tried, top int, priced bool) (best, front []string) {
	goal := b.Goal
	if !priced {
		goal.Price = 0
	}
	field := make([]planner.Assessment, len(all))
	for i := range all {
		field[i] = all[i].a
		if priced {
			// A ranking looks at the price of the pack; here it is that of the build.
			record := *field[i].Pack.Pack
			record.Price, record.Currency = &all[i].price, "EUR"
			pack := *field[i].Pack
			pack.Pack = &record
			field[i].Pack = &pack
		}
	}
	planner.ScoreField(field, goal)
	order := make([]int, len(all))
	for i := range order {
		order[i] = i
		all[i].a.Score, all[i].a.Front = field[i].Score, field[i].Front
	}
	// Builds of the same masses in another order differ in the last bits: they are equal.
	score := func(i int) float64 { return math.Round(math.Log(all[i].a.Score) * 1e11) }
	slices.SortFunc(order, func(i, j int) int {
		return cmp.Or(cmp.Compare(score(j), score(i)), cmp.Compare(all[i].ids, all[j].ids))
	})
	for _, i := range order[:min(top, len(order))] {
		best = append(best, answerOf(all[i].ids, all[i].a.Duration(), all[i].a.PunchRatio()))
	}
	onFront := func(x *tried) bool {
		if !priced {
			return x.a.Front
		}
		for i := range all {
			if y := &all[i]; y.a.Duration() > x.a.Duration() && y.a.PunchRatio() > x.a.PunchRatio() && y.price < x.price {
				return false
			}
		}
		return true
	}
	type point struct{ time, punch, price float64 }
	ids := map[point][]string{}
	for i := range all {
		if x := &all[i]; onFront(x) {
			p := point{float64(x.a.Duration()), x.a.PunchRatio(), x.price}
			ids[p] = append(ids[p], x.ids)
		}
	}
	var points []point
	for p := range ids {
		points = append(points, p)
	}
	slices.SortFunc(points, func(a, b point) int {
		return cmp.Or(cmp.Compare(b.time, a.time), cmp.Compare(b.punch, a.punch), cmp.Compare(a.price, b.price))
	})
	for _, p := range points {
		slices.Sort(ids[p])
		front = append(front, answerOf(fmt.Sprint(ids[p][0], " x", len(ids[p])), model.Time(p.time), p.punch))
	}
	return best, front
}

// checkFound compares an answer with brute force, and its counts with each other.
func checkFound(t *testing.T, b *catalog.Build, f *planner.Found, all []tried, combinations, top int) {
	t.Helper()
	best, front := wantOf(b, all, top, f.Priced)
	var gotBest, gotFront []string
	for i := range f.Best {
		x := &f.Best[i]
		gotBest = append(gotBest, answerOf(idsOf(x), x.Duration(), x.PunchRatio()))
		if x.Rank != i+1 || !x.Eligible() {
			t.Errorf("rank %d, eligible %v; want rank %d of what suits", x.Rank, x.Eligible(), i+1)
		}
	}
	for i := range f.Front {
		x := &f.Front[i]
		gotFront = append(gotFront, answerOf(fmt.Sprint(idsOf(x), " x", x.Alike+1), x.Duration(), x.PunchRatio()))
	}
	if got := pricesOf(b, planner.SpaceOf(b, packSet(t, b.Parts), nil)) != nil; got != f.Priced {
		t.Errorf("price counts %v, want %v", f.Priced, got)
	}
	if !slices.Equal(best, gotBest) {
		t.Errorf("best:\n%s\nwant:\n%s", strings.Join(gotBest, "\n"), strings.Join(best, "\n"))
	}
	if !slices.Equal(front, gotFront) {
		t.Errorf("front:\n%s\nwant:\n%s", strings.Join(gotFront, "\n"), strings.Join(front, "\n"))
	}
	sum := f.Tried
	for _, n := range f.Excluded {
		sum += n
	}
	if f.Combinations != int64(combinations) || sum != f.Combinations || f.Untried != 0 || f.Partial || f.AtMost != nil {
		t.Errorf("%d combinations of %d, %d accounted for, %d untried, partial %v", f.Combinations, combinations, sum, f.Untried, f.Partial)
	}
	if f.Tried < int64(min(1, len(all))) {
		t.Errorf("%d suit, and %d were tried", len(all), f.Tried)
	}
}

// TestSearchIsBruteForce: on catalogues small enough to try everything, a search finds what trying every
// combination through a ranking finds: the best, the front, in the same order, to the last bit.
func TestSearchIsBruteForce(t *testing.T) {
	var suiting, barren, total, priced, cycles int
	excluded := map[planner.Code]int64{}
	var one int64
	for seed := range uint64(300) {
		rng := rand.New(rand.NewPCG(seed, 12))
		records, build := smallShop(rng)
		b := readBuild(t, parts(t, records), build)
		set := packSet(t, b.Parts)
		space := planner.SpaceOf(b, set, nil)
		top := []int{1, 3, 10, 40}[rng.IntN(4)]
		f, err := planner.Search(context.Background(), b, space, planner.Conditions{}, planner.SearchOptions{Top: top})
		if err != nil {
			t.Fatalf("seed %d: %v", seed, err)
		}
		all, combinations := bruteForce(t, b, space, set)
		checkFound(t, b, f, all, combinations, top)
		if t.Failed() {
			t.Fatalf("seed %d of\n%s\n%s", seed, records, build)
		}
		suiting += len(all)
		total += combinations
		one += f.Tried
		if len(all) == 0 {
			barren++
		}
		if f.Priced {
			priced++
		}
		if len(b.Flight.Phases) > 0 {
			cycles++
		}
		for c, n := range f.Excluded {
			excluded[c] += n
		}
	}
	t.Logf("%d combinations, %d suit, %d tried; %d catalogues without one that suits, %d with prices, %d with phases; excluded %v", total, suiting, one, barren, priced, cycles, excluded)
	if barren > 150 || priced < 50 || cycles < 50 || suiting < total/50 {
		t.Error("the catalogues are not worth the test")
	}
	for _, c := range planner.ProofsOrder() {
		if c != planner.WrongCells && excluded[c] == 0 {
			t.Errorf("nothing was excluded by %s", c)
		}
	}
}

// TestSuggestIsBruteForce: the best single change of every slot and the best pair are those that trying every
// combination finds.
func TestSuggestIsBruteForce(t *testing.T) {
	singles, pairs, over, bearing := 0, 0, 0, 0
	for seed := range uint64(150) {
		rng := rand.New(rand.NewPCG(seed, 31))
		records, build := smallShop(rng)
		for kind, letter := range map[string]string{"frame": "f", "motor": "m", "prop": "p", "board": "b"} {
			build = strings.Replace(build, kind+` = "any"`, fmt.Sprintf("%s = %q", kind, letter+"0"), 1)
		}
		build = strings.Replace(build, "[slots]\n", "[slots]\npack = \"k1\"\n", 1)
		b := readBuild(t, parts(t, records), build)
		set := packSet(t, b.Parts)
		got, err := planner.Suggest(context.Background(), b, set, planner.Conditions{}, nil)
		if err != nil {
			t.Fatalf("seed %d: %v", seed, err)
		}
		if !got.Suits {
			over++
		}
		var bears []string
		if got.Today.Warns(planner.BoardCurrent) {
			bears = append(bears, "b0")
		}
		if got.Today.Warns(planner.MotorCurrent) {
			bears = append(bears, "m0")
		}
		bearing += len(bears)
		open := b.Open(catalog.KindFrame, catalog.KindMotor, catalog.KindProp, catalog.KindBoard)
		all, _ := bruteForce(t, b, planner.SpaceOf(open, set, nil), set, bears...)
		today := []string{"f0", "m0", "p0", "b0"}
		today = append(today, b.Slots.Gear...)
		today = append(today, "k1")
		want := map[int]string{} // by slot; the pair at -1
		scores := map[int]float64{}
		wantOf(b, all, len(all), got.Priced) // fills in scores
		for _, x := range all {
			var changed []int
			for i, id := range strings.Fields(x.ids) {
				if id != today[i] {
					changed = append(changed, min(i, 4)) // gear is one slot
					if i == len(today)-1 {
						changed[len(changed)-1] = 5
					}
				}
			}
			slot := -1
			switch {
			case len(changed) == 1:
				slot = changed[0]
			case len(changed) != 2 || changed[0] == changed[1]:
				continue
			}
			// The first in order of score and ids.
			s := math.Round(math.Log(x.a.Score) * 1e11)
			if old, ok := want[slot]; !ok || s > scores[slot] || s == scores[slot] && slot >= 0 && x.ids < old {
				want[slot], scores[slot] = x.ids, s
			}
		}
		slotOf := map[catalog.Kind]int{catalog.KindFrame: 0, catalog.KindMotor: 1, catalog.KindProp: 2, catalog.KindBoard: 3, catalog.KindGear: 4, catalog.KindPack: 5}
		found := map[int]string{}
		for i := range got.Singles {
			g := &got.Singles[i]
			found[slotOf[g.Changes[0].Slot]] = idsOf(&g.Build)
			if len(g.Changes) != 1 {
				t.Errorf("seed %d: a single change changes %v", seed, g.Changes)
			}
			if i > 0 && g.Build.Score > got.Singles[i-1].Build.Score*(1+1e-9) {
				t.Errorf("seed %d: change %d is better than the one before", seed, i)
			}
		}
		singles += len(found)
		for slot := range 6 {
			if found[slot] != want[slot] {
				t.Errorf("seed %d: in slot %d it is %q, want %q", seed, slot, found[slot], want[slot])
			}
		}
		switch pair, ok := want[-1]; {
		case ok != (got.Pair != nil):
			t.Errorf("seed %d: a pair %v, want %v", seed, got.Pair != nil, ok)
		case ok:
			pairs++
			// Pairs of equal score may be of other slots.
			for _, x := range all {
				if x.ids == idsOf(&got.Pair.Build) && math.Round(math.Log(x.a.Score)*1e11) != scores[-1] {
					t.Errorf("seed %d: the pair is %s, want %s", seed, x.ids, pair)
				}
			}
			if len(got.Pair.Changes) != 2 {
				t.Errorf("seed %d: a pair changes %v", seed, got.Pair.Changes)
			}
		}
	}
	t.Logf("%d single changes, %d pairs; %d builds that do not suit, %d that bear too much", singles, pairs, over, bearing)
	if singles < 100 || pairs < 30 || over < 20 || bearing < 3 {
		t.Error("the catalogues are not worth the test")
	}
}
