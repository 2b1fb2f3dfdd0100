package planner

import (
	"math"
	"slices"
	"testing"

	"allup/catalog"
	"allup/model"
)

func box(l, w, h float64) catalog.Box {
	return catalog.Box{L: model.Length(l) * model.Millimetre, W: model.Length(w) * model.Millimetre, H: model.Length(h) * model.Millimetre}
}

// TestFits: a box fits in another turned as it may be, and by no side too long.
func TestFits(t *testing.T) {
	bay := box(62, 32, 22)
	for _, c := range []struct {
		pack catalog.Box
		want bool
	}{
		{box(62, 32, 22), true},
		{box(22, 62, 32), true},
		{box(10, 10, 10), true},
		{box(62.01, 32, 22), false},
		{box(62, 32.01, 22), false},
		{box(62, 32, 22.01), false},
		{box(40, 40, 10), false},
		{box(62, 25, 25), false},
		{box(70, 5, 5), false},
		{box(62.0005, 32, 22), true}, // a thousandth of a millimetre is a rounding
	} {
		if got := fits(bay, c.pack); got != c.want {
			t.Errorf("fits(%s, %s) = %v", boxText(bay), boxText(c.pack), got)
		}
	}
}

func TestBoxText(t *testing.T) {
	if got := boxText(box(62.26, 32.04, 21.96)); got != "62.3 x 32 x 22 mm" {
		t.Errorf("boxText = %q", got)
	}
}

func TestCellsText(t *testing.T) {
	for want, r := range map[string]catalog.CellRange{"4": {Min: 4, Max: 4}, "3 to 4": {Min: 3, Max: 4}} {
		if got := cellsText(r); got != want {
			t.Errorf("%d to %d cells are %q, want %q", r.Min, r.Max, got, want)
		}
	}
}

// TestTestedC: by the current that was measured, or else by power at the voltage that the test ends on, or unknown.
func TestTestedC(t *testing.T) {
	pack := &catalog.Pack{Common: catalog.Common{Mass: 70 * model.Gram}, Cells: 4, Rated: model.AmpHour / 2}
	for _, c := range []struct {
		m    model.TestedMetrics
		want float64
	}{
		{model.TestedMetrics{BurstCurrent: 40, BurstPower: 1000, Protocol: model.Protocol{BurstEndPerCell: 3.3}}, 80},
		{model.TestedMetrics{BurstPower: 528, Protocol: model.Protocol{BurstEndPerCell: 3.3}}, 80}, // 40 A at 13.2 V
		{model.TestedMetrics{BurstPower: 528}, 0},
		{model.TestedMetrics{Protocol: model.Protocol{BurstEndPerCell: 3.3}}, 0},
	} {
		if got := RatiosOf(pack, c.m).TestedC; got < c.want-1e-9 || got > c.want+1e-9 {
			t.Errorf("TestedC of %v W, %v A = %v, want %v", c.m.BurstPower, c.m.BurstCurrent, got, c.want)
		}
	}
}

// TestContest: the best of a draw is the greatest merit, and of equal ones the earlier's; what does not fly wins
// nothing.
func TestContest(t *testing.T) {
	c := newContest(3)
	for k, merits := range [][]float64{{1, math.Inf(-1), 2}, {1, math.Inf(-1), 3}, {0.5, math.Inf(-1), 2.5}} {
		for draw, merit := range merits {
			c.enter(draw, merit, k)
		}
	}
	if want := []int{0, -1, 1}; !slices.Equal(c.winner, want) {
		t.Errorf("winners %v, want %v", c.winner, want)
	}
}
