package model_test

import (
	"testing"

	"pgregory.net/rapid"

	"allup/model"
)

func TestAllows(t *testing.T) {
	under := model.Limit{Mass: 250 * model.Gram}
	upTo := model.Limit{Mass: 250 * model.Gram, Inclusive: true}
	pounds := model.Limit{Mass: 0.55 * model.Pound, Inclusive: true}
	for _, c := range []struct {
		limit model.Limit
		grams float64
		want  bool
	}{
		{under, 249.999999, true},
		{under, 250, false},
		{upTo, 250, true},
		{upTo, 250.000001, false},
		{pounds, 249.4758035, true}, // 0.55 lb, exact: yard and pound agreement, 1959
		{pounds, 249.4758036, false},
		{pounds, 249.99, false},
		{under, 249.4758035, true},
	} {
		if got := c.limit.Allows(model.Mass(c.grams) * model.Gram); got != c.want {
			t.Errorf("%+v allows %v g: %v, want %v", c.limit, c.grams, got, c.want)
		}
	}
	// 0.1 + 0.2 is not 0.3 in floats, and the order of parts may not decide: of many parts that
	// add up to 250 g on paper none is under and all are up to.
	rapid.Check(t, func(t *rapid.T) {
		tenths := rapid.SliceOfN(rapid.IntRange(1, 400), 1, 40).Draw(t, "tenths of a gram")
		var sum model.Mass
		left := 2500
		for _, n := range tenths {
			if n > left {
				break
			}
			left -= n
			sum += model.Mass(float64(n)*0.1) * model.Gram
		}
		sum += model.Mass(float64(left)*0.1) * model.Gram
		if under.Allows(sum) || !upTo.Allows(sum) {
			t.Errorf("parts of 250 g (%v) are under it: %v, up to it: %v", sum.Grams(), under.Allows(sum), upTo.Allows(sum))
		}
		if lighter := sum - 1e-6*model.Gram; !under.Allows(lighter) {
			t.Errorf("a microgram less than 250 g is not under it")
		}
	})
}

// Stricter, Allows and the listing agree: a stricter limit allows no mass that the other refuses.
func TestStricter(t *testing.T) {
	draw := func(t *rapid.T, name string) model.Limit {
		return model.Limit{
			Mass:      model.Mass(rapid.SampledFrom([]float64{100, 249.4758035, 250, 250.1}).Draw(t, name)) * model.Gram,
			Inclusive: rapid.Bool().Draw(t, name+" inclusive"),
		}
	}
	rapid.Check(t, func(t *rapid.T) {
		a, b := draw(t, "a"), draw(t, "b")
		m := model.Mass(rapid.SampledFrom([]float64{99, 100, 249.4758035, 249.9, 250, 250.05, 250.1, 251}).Draw(t, "m")) * model.Gram
		if a.Stricter(b) && b.Stricter(a) {
			t.Errorf("%+v and %+v are each stricter than the other", a, b)
		}
		if a.Stricter(b) && a.Allows(m) && !b.Allows(m) {
			t.Errorf("%+v is stricter than %+v and alone allows %v g", a, b, m.Grams())
		}
		if !a.Stricter(b) && !b.Stricter(a) && a.Allows(m) != b.Allows(m) {
			t.Errorf("%+v and %+v are equally strict and differ at %v g", a, b, m.Grams())
		}
	})
}
