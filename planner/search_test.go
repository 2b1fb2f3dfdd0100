package planner_test

import (
	"context"
	"fmt"
	"math"
	"math/rand/v2"
	"regexp"
	"runtime"
	"slices"
	"strings"
	"testing"
	"time"

	"github.com/google/go-cmp/cmp"

	"allup/catalog"
	"allup/model"
	"allup/planner"
)

// billion is 10^9 combinations.
func billion() shopSize { return shopSize{20, 100, 100, 25, 200} }

// find searches all slots of a build.
func find(t testing.TB, b *catalog.Build, opts planner.SearchOptions) *planner.Found {
	t.Helper()
	f, err := planner.Search(context.Background(), b, planner.SpaceOf(b, packSet(t, b.Parts), nil), planner.Conditions{}, opts)
	if err != nil {
		t.Fatal(err)
	}
	return f
}

// searchCase is a size of shop and what is asked of it.
type searchCase struct {
	name string
	size shopSize
	even bool
	goal string
}

// searchCases are five sizes; the largest where no part is beaten in everything by another, and for time alone;
// prices and phases.
func searchCases() []searchCase {
	const priced, phases = "[goal]\nprice = 1\ncurrency = \"EUR\"\n", "[flight]\nphases = [{ seconds = 20, thrust = 1.25 }, { seconds = 2, full = true }]\n"
	hundredth := shopSize{20, 50, 50, 20, 100}
	return []searchCase{
		{"1e5", shopSize{5, 10, 10, 5, 40}, false, ""},
		{"1e6", shopSize{8, 20, 25, 5, 50}, false, ""},
		{"1e7", shopSize{10, 40, 25, 10, 100}, false, ""},
		{"1e8", hundredth, false, ""},
		{"1e9", billion(), false, ""},
		{"1e9-undominated", billion(), true, ""},
		{"1e9-time", billion(), false, "[goal]\ntime = 1\npunch = 0\n"},
		{"1e8-priced", hundredth, false, priced},
		{"1e8-phases", hundredth, false, phases},
	}
}

// BenchmarkSearch is the whole of a search, circuits of the packs included.
func BenchmarkSearch(b *testing.B) {
	for _, c := range searchCases() {
		build := shopOf(b, c.size, 1, c.even, c.goal)
		b.Run(c.name, func(b *testing.B) {
			for b.Loop() {
				f := find(b, build, planner.SearchOptions{})
				b.ReportMetric(float64(f.Tried), "tried")
				b.ReportMetric(float64(len(f.Front)), "front")
			}
		})
	}
}

func summary(f *planner.Found) string {
	if len(f.Best) == 0 {
		return "none"
	}
	x := &f.Best[0]
	return fmt.Sprintf("%s: %.1f g, %.1f min, punch %.1f", idsOf(x), x.Mass.Grams(), x.Duration().Minutes(), x.PunchRatio())
}

// TestSearchIsTheSameOnAnyProcessors: answers and counts do not hang on how many processors work.
func TestSearchIsTheSameOnAnyProcessors(t *testing.T) {
	b := shopOf(t, shopSize{8, 20, 25, 5, 50}, 3, false, "[goal]\nprice = 1\ncurrency = \"EUR\"\n")
	var first string
	for _, n := range []int{1, 2, 5} {
		was := runtime.GOMAXPROCS(n)
		f := find(t, b, planner.SearchOptions{Top: 25})
		runtime.GOMAXPROCS(was)
		text := fmt.Sprint(f.Combinations, f.Tried, f.Excluded)
		for _, list := range [][]planner.FoundBuild{f.Best, f.Front} {
			for i := range list {
				x := &list[i]
				text += fmt.Sprintln(idsOf(x), x.Score, x.Duration(), x.PunchRatio(), *x.Price, x.Alike)
			}
		}
		if first == "" {
			first = text
		}
		if text != first {
			t.Errorf("on %d processors:\n%s\non one:\n%s", n, text, first)
		}
	}
}

// TestSearchStopped: what is stopped in the middle says so, accounts for every combination, and what it says of
// those that are left holds.
func TestSearchStopped(t *testing.T) {
	b := shopOf(t, shopSize{8, 30, 30, 5, 60}, 4, false, "")
	space := planner.SpaceOf(b, packSet(t, b.Parts), nil)
	whole := find(t, b, planner.SearchOptions{})
	best := func(f *planner.Found) float64 {
		x := &f.Best[0]
		return 2*math.Log(float64(x.Duration())) + math.Log(x.PunchRatio())
	}
	partial := 0
	for _, after := range []int{-1, 0, 1, 3, 10, 60, 300} {
		ctx, stop := context.WithCancel(context.Background())
		if after < 0 {
			stop()
		}
		f, err := planner.Search(ctx, b, space, planner.Conditions{}, planner.SearchOptions{Progress: func(done, _ int) {
			if done > after {
				stop()
			}
		}})
		stop()
		if err != nil {
			t.Fatal(err)
		}
		if !f.Partial {
			continue
		}
		partial++
		sum := f.Tried + f.Untried
		for _, n := range f.Excluded {
			sum += n
		}
		if sum != f.Combinations || f.Untried <= 0 {
			t.Errorf("stopped after %d: %d of %d combinations accounted for, %d untried", after, sum, f.Combinations, f.Untried)
		}
		switch {
		case len(f.Best) == 0:
			if f.AtMost != nil {
				t.Errorf("stopped after %d with nothing found, and %v times that to come", after, *f.AtMost)
			}
		case f.AtMost == nil:
			t.Errorf("stopped after %d: nothing is said of what is left", after)
		default:
			// The goal's weights are 2 and 1.
			if better := math.Exp((best(whole) - best(f)) / 3); better > *f.AtMost*(1+1e-9) {
				t.Errorf("stopped after %d: the best of all is %.4f times what was found, said was at most %.4f", after, better, *f.AtMost)
			}
		}
	}
	if partial < 4 {
		t.Errorf("only %d searches were stopped in time", partial)
	}
}

// TestSearchHostile: nothing fits, everything fits, all parts are the same, one slot is full, one candidate a slot.
func TestSearchHostile(t *testing.T) {
	t.Run("nothing fits", func(t *testing.T) {
		b := shopOf(t, shopSize{3, 5, 5, 3, 10}, 1, false, "")
		b.Limit.Mass = 60 * model.Gram
		f := find(t, b, planner.SearchOptions{})
		if len(f.Best) != 0 || len(f.Front) != 0 || f.Tried != 0 || f.Excluded[planner.OverLimit] != f.Combinations {
			t.Errorf("%d best, %d on the front, %d tried, excluded %v of %d", len(f.Best), len(f.Front), f.Tried, f.Excluded, f.Combinations)
		}
	})
	t.Run("everything fits", func(t *testing.T) {
		records := regexp.MustCompile(`(?m)^(max_current_a|cells = \[|bay_mm|mount_mm|max_prop_in|shaft_mm).*\n`).ReplaceAllString(shop(shopSize{3, 4, 4, 3, 12}, 1, false), "")
		b := readBuild(t, parts(t, shopGear, records), shopBuild(""))
		b.Limit.Mass, b.Packs.Cells = 5, nil
		set := packSet(t, b.Parts)
		space := planner.SpaceOf(b, set, nil)
		f := find(t, b, planner.SearchOptions{Top: 5})
		all, n := bruteForce(t, b, space, set)
		checkFound(t, b, f, all, n, 5)
		if f.Tried+f.Excluded[planner.BeatenBound]+f.Excluded[planner.SameFigures] != f.Combinations {
			t.Errorf("%d of %d tried, excluded %v", f.Tried, f.Combinations, f.Excluded)
		}
	})
	t.Run("all the same", func(t *testing.T) {
		n := billion()
		one := regexp.MustCompile(`(?m)^max_current_a.*\n`).ReplaceAllString(shop(shopSize{1, 1, 1, 1, 1}, 1, false), "")
		var records strings.Builder
		for kind, count := range map[string]int{"frame": n.frames, "motor": n.motors, "prop": n.props, "board": n.boards, "pack": n.packs} {
			text := regexp.MustCompile(`(?ms)^\[` + kind + `\.(\w)000\]\n.*?(\[frame|\[motor|\[prop|\[board|\[pack\.k000\]|\z)`).FindString(one)
			text = text[:len(text)-len(regexp.MustCompile(`(\[frame|\[motor|\[prop|\[board|\[pack\.k000\])?\z`).FindString(text))]
			if kind == "pack" {
				text = one[strings.Index(one, "[pack.k000]"):]
			}
			for i := range count {
				records.WriteString(regexp.MustCompile(`\.(\w)000`).ReplaceAllString(text, fmt.Sprintf(".${1}%03d", i)))
			}
		}
		f := find(t, readBuild(t, parts(t, shopGear, records.String()), shopBuild("")), planner.SearchOptions{Top: 300})
		if f.Combinations != 1e9 || f.Tried != 1 || f.Excluded[planner.SameFigures] != 1e9-1 || len(f.Front) != 1 || f.Front[0].Alike != 1e9-1 {
			t.Fatalf("%d tried of %d, excluded %v, front of %d", f.Tried, f.Combinations, f.Excluded, len(f.Front))
		}
		for i, want := range []string{"f000 m000 p000 b000 cam k000", "f000 m000 p000 b000 cam k001"} {
			if got := idsOf(&f.Best[i]); got != want {
				t.Errorf("number %d is %s, want %s", i+1, got, want)
			}
		}
		if got := idsOf(&f.Best[299]); got != "f000 m000 p000 b001 cam k099" {
			t.Errorf("number 300 is %s, want the 100th pack on the second board", got)
		}
	})
	t.Run("one candidate a slot", func(t *testing.T) {
		b := shopOf(t, shopSize{1, 1, 1, 1, 60}, 2, false, "")
		b.Packs.Cells = []int{4}
		f := find(t, b, planner.SearchOptions{Top: 100})
		// The bands of a search are first-order.
		r := plan(t, b.Parts, strings.Replace(shopBuild(""), "cells = [3, 4]", "cells = [4]", 1)).Rank(packSet(t, b.Parts), planner.RankOptions{Quick: true})
		var want, got []string
		for _, a := range r.Ranked {
			if !a.Warns(planner.BoardCurrent) && !a.Warns(planner.MotorCurrent) {
				want = append(want, fmt.Sprint(a.Pack.ID, a.Duration(), a.PunchRatio(), *a.Band))
			}
		}
		for i := range f.Best {
			got = append(got, fmt.Sprint(f.Best[i].Pack.ID, f.Best[i].Duration(), f.Best[i].PunchRatio(), *f.Best[i].Band))
		}
		if diff := cmp.Diff(want, got); len(want) == 0 || diff != "" {
			t.Errorf("-rank +search:\n%s", diff)
		}
	})
	const many = 100000
	b := shopOf(t, shopSize{2, 1, 1, 2, 2}, 2, false, "")
	for name, fill := range map[string]func(*planner.SearchSpace, *rand.Rand, int){
		"100,000 frames": func(s *planner.SearchSpace, rng *rand.Rand, i int) {
			r := *s.Frames[0]
			r.ID, r.Mass, r.ThrustLoss = fmt.Sprintf("x%06d", i), r.Mass*model.Mass(0.8+0.4*rng.Float64()), 0.1*rng.Float64()
			s.Frames = append(s.Frames, &r)
		},
		"100,000 motors": func(s *planner.SearchSpace, rng *rand.Rand, i int) {
			r := *s.Motors[0]
			r.ID, r.Mass, r.Kv = fmt.Sprintf("x%06d", i), r.Mass*model.Mass(0.8+0.4*rng.Float64()), r.Kv*model.SpeedConstant(0.6+0.8*rng.Float64())
			s.Motors = append(s.Motors, &r)
		},
		"100,000 boards": func(s *planner.SearchSpace, rng *rand.Rand, i int) {
			r := *s.Boards[0]
			efficiency := 0.92 + 0.05*rng.Float64()
			r.ID, r.Mass, r.Efficiency = fmt.Sprintf("x%06d", i), r.Mass*model.Mass(0.8+0.4*rng.Float64()), &efficiency
			s.Boards = append(s.Boards, &r)
		},
		"100,000 packs": func(s *planner.SearchSpace, rng *rand.Rand, i int) {
			record := *s.Packs[0].Pack
			r := *s.Packs[0]
			r.Pack = &record
			record.ID, record.Mass = fmt.Sprintf("x%06d", i), record.Mass*model.Mass(0.8+0.4*rng.Float64())
			r.Circuit.Capacity *= model.Charge(0.8 + 0.4*rng.Float64())
			s.Packs = append(s.Packs, &r)
		},
	} {
		t.Run(name, func(t *testing.T) {
			space := planner.SpaceOf(b, packSet(t, b.Parts), nil)
			space.Packs = slices.Clone(space.Packs)
			rng := rand.New(rand.NewPCG(1, 2))
			before := len(space.Frames) + len(space.Motors) + len(space.Boards) + len(space.Packs)
			for i := range many {
				fill(&space, rng, i)
			}
			if len(space.Frames)+len(space.Motors)+len(space.Boards)+len(space.Packs) != before+many {
				t.Fatal("the slot is not full")
			}
			begun := time.Now()
			f, err := planner.Search(context.Background(), b, space, planner.Conditions{}, planner.SearchOptions{})
			if err != nil {
				t.Fatal(err)
			}
			sum := f.Tried
			for _, n := range f.Excluded {
				sum += n
			}
			if sum != f.Combinations || len(f.Best) != 10 {
				t.Errorf("%d of %d combinations accounted for, %d best", sum, f.Combinations, len(f.Best))
			}
			t.Logf("%d combinations in %v, %d tried, front %d; best %s", f.Combinations, time.Since(begun), f.Tried, len(f.Front), summary(f))
		})
	}
}

// BenchmarkTrial is the inner evaluation of a search: a build flown, hover, punch and full throttle, and every
// rule about it.
func BenchmarkTrial(b *testing.B) {
	build := shopOf(b, shopSize{1, 1, 1, 1, 8}, 1, false, "")
	try, _, err := planner.TrialOf(build, planner.SpaceOf(build, packSet(b, build.Parts), nil))
	if err != nil {
		b.Fatal(err)
	}
	b.ReportAllocs()
	for b.Loop() {
		try()
	}
}

// BenchmarkCorner is what most combinations are left out by: the best that a pair may reach on a pack.
func BenchmarkCorner(b *testing.B) {
	build := shopOf(b, shopSize{20, 1, 1, 25, 8}, 1, false, "")
	_, corner, err := planner.TrialOf(build, planner.SpaceOf(build, packSet(b, build.Parts), nil))
	if err != nil {
		b.Fatal(err)
	}
	b.ReportAllocs()
	for b.Loop() {
		corner()
	}
}
