package tested_test

import (
	"fmt"
	"io/fs"
	"strings"
	"testing"
	"testing/fstest"

	"allup/catalog"
	"allup/planner/tested"
)

// TestSameLog: a log that stands with two tests puts both in doubt, under whatever name, and also where the other pack
// is refused; a log of its own does not.
func TestSameLog(t *testing.T) {
	one, two := newBenchCase(0), newBenchCase(0)
	two.discharge, two.burst = two.logs(two.circuit, two.circuit) // the same pack with other noise
	logs := fstest.MapFS{
		"d1.csv": {Data: one.csv(one.discharge)}, "b1.csv": {Data: one.csv(one.burst)},
		"d2.csv": {Data: two.csv(two.discharge)}, "b2.csv": {Data: two.csv(two.burst)},
		"b1-copy.csv": {Data: one.csv(one.burst)}, "d2-copy.csv": {Data: two.csv(two.discharge)},
		"broken.csv": {Data: one.csv(one.discharge[:40])},
	}
	pack := func(id, discharge, burst string) string {
		return fmt.Sprintf("[pack.%s]\nchemistry = %q\ncells = %d\nrated_mah = %.0f\nmass_g = 80\ndischarge = %s\nburst = %q\n",
			id, one.chemistry, one.cells, one.rated.MilliAmpHours(), discharge, burst)
	}
	const end = ": one of them is the log of another test or pack"
	for _, c := range []struct {
		name  string
		packs string
		want  []string // of each pack, "; " between them
	}{
		{"each its own", pack("finch", `"d1.csv"`, "b1.csv") + pack("robin", `"d2.csv"`, "b2.csv"), []string{"", ""}},
		{"one name", pack("finch", `"d1.csv"`, "b1.csv") + pack("robin", `"d2.csv"`, "b1.csv"), []string{"b1.csv: stands with robin, too" + end, "b1.csv: stands with finch, too" + end}},
		{
			"a copy", pack("finch", `"d1.csv"`, "b1.csv") + pack("robin", `"d2.csv"`, "b1-copy.csv"),
			[]string{"b1.csv: has the same rows as b1-copy.csv of robin" + end, "b1-copy.csv: has the same rows as b1.csv of finch" + end},
		},
		{
			"both logs", pack("finch", `"d1.csv"`, "b1.csv") + pack("robin", `"d1.csv"`, "b1.csv"),
			[]string{"d1.csv: stands with robin, too" + end + "; b1.csv: stands with robin, too" + end, "d1.csv: stands with finch, too" + end + "; b1.csv: stands with finch, too" + end},
		},
		{"three", pack("finch", `"d1.csv"`, "b1.csv") + pack("robin", `"d2.csv"`, "b1.csv") + pack("tern", `"d2-copy.csv"`, "b1.csv"), []string{
			"b1.csv: stands with robin, too, and in 1 more place" + end,
			"d2.csv: has the same rows as d2-copy.csv of tern" + end + "; b1.csv: stands with finch, too, and in 1 more place" + end,
			"d2-copy.csv: has the same rows as d2.csv of robin" + end + "; b1.csv: stands with finch, too, and in 1 more place" + end,
		}},
		{"within a pack", pack("finch", `["d2.csv", "d2-copy.csv"]`, "b2.csv"), []string{
			"d2.csv: has the same rows as d2-copy.csv of this pack" + end + "; d2-copy.csv: has the same rows as d2.csv of this pack" + end,
		}},
		{"twice with one pack", pack("finch", `["d2.csv", "d2.csv"]`, "b2.csv"), []string{
			"d2.csv: stands twice with this pack" + end + "; d2.csv: stands twice with this pack" + end,
		}},
		{"with a refused pack", pack("finch", `"d1.csv"`, "b1.csv") + pack("robin", `"broken.csv"`, "b1.csv"), []string{"b1.csv: stands with robin, too" + end, ""}},
	} {
		b, _, err := catalog.ReadBench("bench.toml", strings.NewReader("date = 2026-05-31\n"+c.packs))
		if err != nil {
			t.Fatalf("%s: %v", c.name, err)
		}
		packs, err := tested.ReduceBench(b, fs.FS(logs), nil, nil)
		if err != nil {
			t.Fatal(err)
		}
		for i, p := range packs {
			var got []string
			for _, r := range p.Doubts {
				if r.Code == tested.SameLog {
					got = append(got, r.Subject+": "+r.Text)
				}
			}
			if said := strings.Join(got, "; "); said != c.want[i] {
				t.Errorf("%s, %s:\n%s\nwant\n%s", c.name, p.Bench.ID, said, c.want[i])
			}
		}
	}
}
