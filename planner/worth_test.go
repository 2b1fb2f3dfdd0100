package planner_test

import (
	"math"
	"testing"

	"allup/planner"
)

// TestPerGram: a slope is that over four tenths of a gram; a jump in one of them, such as that of a flight that just
// ends before a punch, with the slope or against it, is no slope.
func TestPerGram(t *testing.T) {
	for _, c := range []struct {
		what  string
		times [5]float64 // s
		want  float64    // s/g
	}{
		{"even", [5]float64{1000.26, 1000.13, 1000, 999.87, 999.74}, -1.3},
		{"bent", [5]float64{1000.29, 1000.14, 1000, 999.88, 999.77}, -1.3},
		{"jump before", [5]float64{975.13, 975, 1000, 999.87, 999.74}, -1.3},
		{"jump after", [5]float64{1000.26, 1000.13, 1000, 1025, 1024.87}, -1.3},
		{"small jump against the slope", [5]float64{1001, 1000.5, 1000, 1000, 999.5}, -5},
		{"jump further off", [5]float64{975, 1000.13, 1000, 999.87, 999.74}, -1.3},
		{"about the best", [5]float64{999.996, 999.999, 1000, 999.999, 999.996}, 0},
		{"does not fly with more", [5]float64{1000.26, 1000.13, 1000, 0, 0}, -1.3},
		{"steep throughout", [5]float64{1004, 1002, 1000, 998, 996}, -20},
	} {
		if got := planner.PerGram(c.times); math.Abs(got-c.want) > 1e-9 {
			t.Errorf("%s: %v s/g, want %v", c.what, got, c.want)
		}
	}
}
