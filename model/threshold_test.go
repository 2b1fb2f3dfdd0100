package model_test

import (
	"strings"
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

func TestThresholdsAsPublished(t *testing.T) {
	seen := map[string]bool{}
	for _, x := range model.Thresholds() {
		if x.ID == "" || seen[x.ID] || x.ID != strings.ToLower(x.ID) || strings.ContainsAny(x.ID, " _") {
			t.Errorf("id %q is empty, used twice or not in lower case with hyphens", x.ID)
		}
		seen[x.ID] = true
		if x.Where == "" || x.Instrument == "" || x.Published == "" || x.Relieves == "" || x.Source == "" {
			t.Errorf("%s says too little: %+v", x.ID, x)
		}
		if x.Limit == nil {
			continue
		}
		if x.Counts == "" {
			t.Errorf("%s does not say which mass counts", x.ID)
		}
		if x.Limit.Inclusive != strings.HasPrefix(x.Published, "<=") {
			t.Errorf("%s: published as %q, inclusive %v", x.ID, x.Published, x.Limit.Inclusive)
		}
		// A mass at or below 249.4758 g passes every 250 g class, and the 100 g ones are stricter.
		if class250 := x.Limit.Mass > 200*model.Gram; x.Limit.Allows(249.4758*model.Gram) != class250 {
			t.Errorf("%s: 249.4758 g passes %v, want %v", x.ID, !class250, class250)
		}
		if !x.Limit.Allows(99.9*model.Gram) || x.Limit.Allows(250.1*model.Gram) {
			t.Errorf("%s: %+v does not lie between 100 and 250 g", x.ID, x.Limit)
		}
	}
	// The published comparisons at exactly 250 g differ between countries.
	// Sources: the instruments that the list names.
	for id, at250 := range map[string]bool{
		"eu-a1-built": false, "eu-c0": false, "us-recreational": false, "us-over-people-1": false, "uk-a1": false,
		"ca-micro": false, "ch-a1": false, "au-micro": true, "in-nano": true, "hk-a1": true, "sg-250": true, "br-250": true,
	} {
		x := threshold(t, id)
		if x.Limit.Allows(250*model.Gram) != at250 {
			t.Errorf("%s: 250 g passes %v, want %v", id, !at250, at250)
		}
	}
	for id, limit := range map[string]float64{"uk-100": 100, "jp-100": 100, "us-recreational": 249.4758035, "us-over-people-1": 249.4758035} {
		near(t, id+", g", threshold(t, id).Limit.Mass.Grams(), limit, 1e-12)
	}
	if x := threshold(t, "nz"); x.Limit != nil {
		t.Errorf("nz has the limit %+v, want none", x.Limit)
	}
}

func threshold(t *testing.T, id string) model.Threshold {
	t.Helper()
	for _, x := range model.Thresholds() {
		if x.ID == id {
			return x
		}
	}
	t.Fatalf("no threshold %q", id)
	return model.Threshold{}
}

func TestStrictestOfSome(t *testing.T) {
	for _, c := range []struct {
		ids  []string
		want string // "" for none
	}{
		{nil, ""},
		{[]string{"nz"}, ""},
		{[]string{"nz", "au-micro"}, "au-micro"},
		{[]string{"au-micro", "eu-a1-built"}, "eu-a1-built"},            // below 250 g against up to it
		{[]string{"eu-a1-built", "us-recreational"}, "us-recreational"}, // 249.4758 g
		{[]string{"us-recreational", "jp-100", "ca-micro"}, "jp-100"},
		{[]string{"eu-c0", "eu-a1-built"}, "eu-c0"}, // equally strict: the first
	} {
		var list []model.Threshold
		for _, id := range c.ids {
			list = append(list, threshold(t, id))
		}
		got, ok := model.StrictestOf(list)
		if ok != (c.want != "") || got.ID != c.want {
			t.Errorf("StrictestOf(%v) = %q, %v; want %q", c.ids, got.ID, ok, c.want)
		}
	}
}

// The list is the caller's: changing it does not change the next one.
func TestThresholdsAreFresh(t *testing.T) {
	list := model.Thresholds()
	list[0].Limit.Mass = 1
	if m := model.Thresholds()[0].Limit.Mass; m != 250*model.Gram {
		t.Errorf("%s is %v g after a caller changed his copy", list[0].ID, m.Grams())
	}
}
