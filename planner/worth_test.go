package planner_test

import (
	"math"
	"testing"

	"allup/planner"
)

// TestPerGram: a slope is the one between a tenth of a gram less and more; a jump on one side, such as that of a flight
// that just ends before a punch, is no slope.
func TestPerGram(t *testing.T) {
	for _, c := range []struct {
		what           string
		less, at, more float64 // s
		want           float64 // s/g
	}{
		{"even", 1000.13, 1000, 999.87, -1.3},
		{"bent", 1000.14, 1000, 999.88, -1.3},
		{"jump before", 975, 1000, 999.87, -1.3},
		{"jump after", 1000.13, 1000, 1025, -1.3},
		{"about the best", 999.999, 1000, 999.999, 0},
		{"does not fly with more", 1000.13, 1000, 0, -1.3},
		{"steep throughout", 1002, 1000, 998, -20},
	} {
		if got := planner.PerGram(c.less, c.at, c.more); math.Abs(got-c.want) > 1e-9 {
			t.Errorf("%s: %v s/g, want %v", c.what, got, c.want)
		}
	}
}
