package planner_test

import (
	"math"
	"os"
	"path/filepath"
	"testing"

	"allup/planner"
)

// TestSizeAtTheLimit: where the limit binds, the best pack is the heaviest that it leaves, and not a search's last step
// below it.
func TestSizeAtTheLimit(t *testing.T) {
	text, err := os.ReadFile(filepath.Join("..", "testdata", "builds", "stint.toml"))
	if err != nil {
		t.Fatal(err)
	}
	p := plan(t, demo(t), string(text))
	s, err := p.Size(packSet(t, p.Build.Parts), planner.SizeOptions{})
	if err != nil {
		t.Fatal(err)
	}
	most := 250 - 1.0 - 0.001 - p.Dry.Grams() // the limit, what the build keeps back, and not at it
	for i := range s.Families {
		f := &s.Families[i]
		if f.Limited == nil || f.Binds != planner.BindsLimit || math.Abs(f.Limited.Pack.Grams()-most) > 1e-9 {
			t.Errorf("%s: %+v, bound by %s, want a pack of %v g", f.Name, f.Limited, f.Binds, most)
		}
	}
}
