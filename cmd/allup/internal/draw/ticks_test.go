package draw

import (
	"math"
	"slices"
	"strconv"
	"testing"
)

// TestRatioTicks: on any axis of ratios ticks rise, lie inside, say what they are, are apart by nearly as much as each
// other, and 1, which everything is compared with, is one of them.
func TestRatioTicks(t *testing.T) {
	seen := map[float64]bool{}
	for from := 0.1; from < 1; from += 0.07 {
		for to := 1.02; to < 6; to *= 1.09 {
			for count := 3; count < 30; count++ {
				list := ratioTicks(from, to, count)
				one := false
				for i, tick := range list {
					seen[tick.Value] = true
					one = one || tick.Value == 1
					if v, err := strconv.ParseFloat(tick.Label, 64); err != nil || v != tick.Value {
						t.Fatalf("%v is called %q", tick.Value, tick.Label)
					}
					if tick.Value < from || tick.Value > to {
						t.Fatalf("%v is not between %v and %v", tick.Value, from, to)
					}
					if i > 0 && !(math.Log(tick.Value/list[i-1].Value) > 0.015) {
						t.Fatalf("%v follows %v", tick.Value, list[i-1].Value)
					}
				}
				if len(list) > count+1 {
					t.Fatalf("%d ticks of %d from %v to %v", len(list), count, from, to)
				}
				if len(list) > 0 && !one {
					t.Fatalf("1 is not among %v", list)
				}
			}
		}
	}
	if len(seen) != 34 {
		t.Errorf("%d different ticks were seen, want 34", len(seen))
	}
	for _, c := range []struct {
		from, to float64
		count    int
		want     []float64
	}{
		{0.55, 2.3, 20, []float64{0.6, 0.7, 0.8, 0.9, 1, 1.1, 1.2, 1.3, 1.4, 1.6, 1.8, 2, 2.2}},
		{0.91, 1.09, 12, []float64{0.92, 0.94, 0.96, 0.98, 1, 1.02, 1.04, 1.06, 1.08}},
		{0.09, 11, 6, []float64{0.1, 0.2, 0.5, 1, 2, 5, 10}},
		// The ends of an axis are on it.
		{0.1, 10, 6, []float64{0.1, 0.2, 0.5, 1, 2, 5, 10}},
		{0.9, 1.1, 10, []float64{0.9, 0.92, 0.94, 0.96, 0.98, 1, 1.02, 1.04, 1.06, 1.08, 1.1}},
		{0.24, 4.1, 7, []float64{0.25, 0.5, 0.75, 1, 1.5, 2, 3, 4}},
		{0.19, 5.1, 11, []float64{0.2, 0.4, 0.6, 0.8, 1, 1.25, 1.5, 2, 2.5, 3, 4, 5}},
		{0.19, 4.1, 19, []float64{0.2, 0.3, 0.4, 0.5, 0.6, 0.7, 0.8, 0.9, 1, 1.1, 1.2, 1.3, 1.4, 1.6, 1.8, 2, 2.2, 2.5, 3, 4}},
	} {
		var got []float64
		for _, tick := range ratioTicks(c.from, c.to, c.count) {
			got = append(got, tick.Value)
		}
		if !slices.Equal(got, c.want) {
			t.Errorf("%v to %v: %v, want %v", c.from, c.to, got, c.want)
		}
	}
}
