package catalog_test

import (
	"math"
	"strings"
	"testing"

	"allup/catalog"
	"allup/model"
)

func TestThresholdsAsPublished(t *testing.T) {
	seen := map[string]bool{}
	for _, x := range catalog.Thresholds() {
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
		if g := threshold(t, id).Limit.Mass.Grams(); math.Abs(g-limit) > 1e-12*limit {
			t.Errorf("%s: %.10f g, want %.10f", id, g, limit)
		}
	}
	if x := threshold(t, "nz"); x.Limit != nil {
		t.Errorf("nz has the limit %+v, want none", x.Limit)
	}
}

func threshold(t *testing.T, id string) catalog.Threshold {
	t.Helper()
	for _, x := range catalog.Thresholds() {
		if x.ID == id {
			return x
		}
	}
	t.Fatalf("no threshold %q", id)
	return catalog.Threshold{}
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
		var list []catalog.Threshold
		for _, id := range c.ids {
			list = append(list, threshold(t, id))
		}
		got, ok := catalog.StrictestOf(list)
		if ok != (c.want != "") || got.ID != c.want {
			t.Errorf("StrictestOf(%v) = %q, %v; want %q", c.ids, got.ID, ok, c.want)
		}
	}
}

// The list is the caller's: changing it does not change the next one.
func TestThresholdsAreFresh(t *testing.T) {
	list := catalog.Thresholds()
	list[0].Limit.Mass = 1
	if m := catalog.Thresholds()[0].Limit.Mass; m != 250*model.Gram {
		t.Errorf("%s is %v g after a caller changed his copy", list[0].ID, m.Grams())
	}
}

// 0.55 lb inclusive is not 250 g exclusive. A mass of 249.4758 g passes every 250 g class;
// only the 100 g ones are stricter. Source: the thresholds as published.
func TestThresholdsAreToldApart(t *testing.T) {
	seen := map[string]bool{}
	for _, r := range catalog.Thresholds() {
		if seen[r.ID] || r.ID == "" || r.Where == "" || r.Instrument == "" || r.Published == "" || r.Relieves == "" || r.Source == "" {
			t.Errorf("threshold %q is not whole, or there twice", r.ID)
		}
		seen[r.ID] = true
		if r.Limit == nil {
			continue
		}
		if got, want := r.Limit.Allows(249.4758*model.Gram), r.Limit.Mass > 100*model.Gram; got != want {
			t.Errorf("%s allows 249.4758 g: %v, want %v", r.ID, got, want)
		}
	}
	limit := func(id string) model.Limit {
		for _, r := range catalog.Thresholds() {
			if r.ID == id {
				return *r.Limit
			}
		}
		t.Fatalf("no threshold %s", id)
		return model.Limit{}
	}
	us, eu, au := limit("us-recreational"), limit("eu-a1-built"), limit("au-micro")
	if us.Allows(249.6*model.Gram) || !eu.Allows(249.6*model.Gram) || eu.Allows(250*model.Gram) || !au.Allows(250*model.Gram) || !us.Allows(0.55*model.Pound) {
		t.Error("0.55 lb, below 250 g and up to 250 g are not told apart")
	}
}

func TestStrictestOf(t *testing.T) {
	all := catalog.Thresholds()
	s, ok := catalog.StrictestOf(all)
	if !ok || s.Limit.Mass != 100*model.Gram || s.Limit.Inclusive {
		t.Errorf("the strictest of all is %+v", s)
	}
	for _, r := range all {
		if r.Limit != nil && r.Limit.Stricter(*s.Limit) {
			t.Errorf("%s is stricter", r.ID)
		}
	}
	if _, ok := catalog.StrictestOf(nil); ok {
		t.Error("there is a strictest of none")
	}
}

// The clauses beside the mass and the kind of each source, as the texts were read in 2026.
func TestClausesOfThresholds(t *testing.T) {
	kinds := map[string]catalog.SourceKind{
		"eu-c0": catalog.SecondarySource, "jp-100": catalog.SecondarySource, "in-nano": catalog.SecondarySource, "br-250": catalog.FromMemory,
	}
	cameras := map[string]bool{"eu-a1-built": true, "uk-a1": true, "uk-100": true, "ch-a1": true}
	for _, x := range catalog.Thresholds() {
		want, other := kinds[x.ID]
		if !other {
			want = catalog.OfficialText
		}
		if x.Source != want || x.Read != 2026 {
			t.Errorf("%s is known by %q, read in %d; want %q in 2026", x.ID, x.Source, x.Read, want)
		}
		if (x.Camera != "") != cameras[x.ID] {
			t.Errorf("%s says of a camera %q", x.ID, x.Camera)
		}
		if (x.Speed != nil) != (x.ID == "eu-a1-built") {
			t.Errorf("%s has the speed clause %+v", x.ID, x.Speed)
		}
	}
	// Impl. Reg. (EU) 2019/947, Annex, UAS.OPEN.020(5)(a), and Art. 14(5).
	if x := threshold(t, "eu-a1-built"); x.Speed == nil || x.Speed.Below != 19 || x.Speed.Transfer != 80 {
		t.Errorf("eu-a1-built has the speed clause %+v, want below 19 m/s and 80 J", x.Speed)
	}
	if x, ok := catalog.LookupThreshold("eu-a2"); ok {
		t.Errorf("there is a threshold eu-a2: %+v", x)
	}
}
