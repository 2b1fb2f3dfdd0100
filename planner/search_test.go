package planner_test

import (
	"context"
	"fmt"
	"os"
	"runtime"
	"testing"
	"time"

	"allup/catalog"
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

// BenchmarkSearch is the whole of a search, circuits of the packs included: over five sizes, with prices, with phases, and where no part is
// beaten in everything by another.
func BenchmarkSearch(b *testing.B) {
	const phases = "[flight]\nphases = [{ seconds = 20, thrust = 1.25 }, { seconds = 2, full = true }]\n"
	for _, c := range []struct {
		name string
		size shopSize
		even bool
		goal string
	}{
		{"1e5", shopSize{5, 10, 10, 5, 40}, false, ""},
		{"1e6", shopSize{8, 20, 25, 5, 50}, false, ""},
		{"1e7", shopSize{10, 40, 25, 10, 100}, false, ""},
		{"1e8", shopSize{20, 50, 50, 20, 100}, false, ""},
		{"1e9", billion(), false, ""},
		{"1e9-undominated", billion(), true, ""},
		{"1e9-time", billion(), false, "[goal]\ntime = 1\npunch = 0\n"},
		{"1e8-priced", shopSize{20, 50, 50, 20, 100}, false, "[goal]\nprice = 1\n"},
		{"1e8-phases", shopSize{20, 50, 50, 20, 100}, false, phases},
	} {
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

// TestSearchOfABillion tells how a search of 10^9 combinations went: ALLUP_LONG=1 go test ./planner -run OfABillion -v.
func TestSearchOfABillion(t *testing.T) {
	if os.Getenv("ALLUP_LONG") == "" {
		t.Skip("ALLUP_LONG is not set")
	}
	for _, even := range []bool{false, true} {
		for seed := range uint64(3) {
			b := shopOf(t, billion(), seed, even, "")
			begun := time.Now()
			f := find(t, b, planner.SearchOptions{})
			took := time.Since(begun)
			var m runtime.MemStats
			runtime.ReadMemStats(&m)
			t.Logf("seed %d, even %v: %d combinations in %v, %d MB from the system, tried %d, front %d, excluded %v; best %s", seed, even, f.Combinations, took.Round(time.Millisecond), m.Sys>>20, f.Tried, len(f.Front), f.Excluded, summary(f))
		}
	}
}

func summary(f *planner.Found) string {
	if len(f.Best) == 0 {
		return "none"
	}
	x := &f.Best[0]
	return fmt.Sprintf("%s: %.1f g, %.1f min, punch %.1f", idsOf(x), x.Mass.Grams(), x.Duration().Minutes(), x.PunchRatio())
}
