package model_test

import (
	"math"
	"math/rand/v2"
	"testing"

	"pgregory.net/rapid"

	"allup/model"
)

func TestChanceOver(t *testing.T) {
	l := model.Limit{Mass: 250 * model.Gram}
	// The normal tail at 0, 1, 1.96 and -1.6449 standard deviations, from its tables.
	for _, c := range []struct{ z, chance float64 }{{0, 0.5}, {1, 0.158655}, {1.96, 0.0249979}, {-1.644854, 0.95}} {
		within(t, "chance", l.ChanceOver(model.Mass(250-2*c.z)*model.Gram, model.NormalSpread(2*model.Gram)), c.chance, 1e-6)
	}
	if l.ChanceOver(250*model.Gram, model.MassSpread{}) != 1 || l.ChanceOver(249*model.Gram, model.MassSpread{}) != 0 {
		t.Error("without uncertainty the chance is not 0 or 1")
	}
	rapid.Check(t, func(t *rapid.T) {
		m := model.Mass(rapid.Float64Range(200, 300).Draw(t, "g")) * model.Gram
		s := spreadOf(t)
		if more, less := l.ChanceOver(m+model.Gram, s), l.ChanceOver(m, s); more < less-1e-12 {
			t.Errorf("a gram more makes the chance %v less than %v", more, less)
		}
	})
}

func spreadOf(t *rapid.T) (s model.MassSpread) {
	for range rapid.IntRange(1, 6).Draw(t, "parts") {
		s = s.And(model.Mass(math.Pow(10, rapid.Float64Range(-5, 1).Draw(t, "log g"))) * model.Gram)
	}
	return s
}

// By hand: one rectangular part of +- 3 g is above 2 g with a chance of 1/6; two of +- 2 g have a triangular
// sum over +- 4 g, above 3 g with (1/4)^2/2; one of +- 3 g and one of +- 1 g a trapezium, above 3 g with 1
// g^2/2 in 12 g^2.
func TestMassSpreadByHand(t *testing.T) {
	for _, c := range []struct {
		halves       []float64
		above, want  float64
		q, wantAbove float64
	}{
		{[]float64{3}, 2, 1. / 6, 0.95, 2.7},
		{[]float64{2, 2}, 3, 1. / 32, 0.5, 0},
		{[]float64{3, 1}, 3, 1. / 24, 1 - 1./24, 3},
	} {
		var s model.MassSpread
		for _, a := range c.halves {
			s = s.And(model.Mass(a) * model.Gram)
		}
		near(t, "chance", s.Above(model.Mass(c.above)*model.Gram), c.want, 1e-9)
		within(t, "quantile, g", s.Quantile(c.q).Grams(), c.wantAbove, 1e-6)
	}
}

// Ten rectangular parts drawn two million times: the two widest and a normal rest meet the tail within 0.004, and the
// standard uncertainty is that of the budget.
func TestMassSpreadAgainstDraws(t *testing.T) {
	for name, halves := range map[string][]float64{
		"even":      {1, 1, 1, 1, 1, 1, 1, 1, 1, 1},
		"one rules": {2.2, 1.2, 0.9, 0.8, 0.3, 0.2, 0.1, 0.1, 0.1, 0.05},
		"three":     {1, 1, 1},
	} {
		t.Run(name, func(t *testing.T) {
			var s model.MassSpread
			var variance, most float64
			for _, a := range halves {
				s = s.And(model.Mass(a) * model.Gram)
				variance += a * a / 3
				most += a
			}
			near(t, "standard uncertainty, g", s.Uncertainty().Grams(), math.Sqrt(variance), 1e-12)
			rng := rand.New(rand.NewPCG(1, 2))
			const n = 2_000_000
			at := []float64{0.3, 1, 1.645, 2.2, 3}
			above := make([]int, len(at))
			for range n {
				var sum float64
				for _, a := range halves {
					sum += a * (2*rng.Float64() - 1)
				}
				for i, z := range at {
					if sum > z*math.Sqrt(variance) {
						above[i]++
					}
				}
			}
			for i, z := range at {
				within(t, "chance", s.Above(model.Mass(z*math.Sqrt(variance))*model.Gram), float64(above[i])/n, 0.004)
			}
		})
	}
}

// The closed forms hold where one part is thousands of times wider than another, and quantile and chance are each
// other's inverse.
func TestMassSpreadEdges(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		s := spreadOf(t)
		p := rapid.Float64Range(0.01, 0.99).Draw(t, "p")
		if got := 1 - s.Above(s.Quantile(p)); math.Abs(got-p) > 1e-5 {
			t.Errorf("%+v: below its %v quantile is %v", s, p, got)
		}
		if up, down := s.Above(s.Quantile(p)), s.Above(-s.Quantile(p)); math.Abs(up+down-1) > 1e-5 {
			t.Errorf("%+v: %v above and %v below are not mirrored", s, up, down)
		}
	})
}

// One rectangular part and a normal rest as wide as it: the chance is the mean of the normal tail over the part, summed
// here in small steps.
func TestMassSpreadOfOnePartAndTheRest(t *testing.T) {
	s := model.NormalSpread(2 * model.Gram).And(3 * model.Gram)
	for _, x := range []float64{-4, -1, 0, 1, 2.5, 4, 6} {
		const steps = 6000
		want := 0.0
		for k := range steps {
			r := -3 + 6*(float64(k)+0.5)/steps
			want += math.Erfc((x-r)/2/math.Sqrt2) / 2 / steps
		}
		within(t, "chance", s.Above(model.Mass(x)*model.Gram), want, 1e-6)
	}
}
