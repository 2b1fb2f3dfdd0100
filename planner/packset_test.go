package planner_test

import (
	"strings"
	"sync"
	"testing"

	"github.com/google/go-cmp/cmp"

	"allup/catalog"
	"allup/planner"
)

// hybrid is a tested pack of a chemistry that the others do not have, and one of it that is known by its label.
const hybrid = `
[pack.h1]
chemistry = "lihv"
cells = 4
rated_mah = 650
mass_g = 74
[pack.h1.tested]
capacity_mah = 640
mid_voltage_v = 14.9
burst_power_w = 500
[pack.h2]
chemistry = "lihv"
cells = 4
rated_mah = 600
mass_g = 70
`

// TestPackSetMakesWhatItNeeds: one tested pack is made alone, one known by its label with the tested packs of its
// chemistry; asked for again, and all at once, each is the same pack.
func TestPackSetMakesWhatItNeeds(t *testing.T) {
	cat := parts(t, append([]string{example, hybrid}, field(70, 1)...)...)
	tested := 0
	for _, p := range cat.Packs {
		if p.Chemistry == "lipo" && p.Tested != nil {
			tested++
		}
	}
	set := packSet(t, cat)
	for _, c := range []struct {
		id   string
		made int
	}{
		{"k", 1},
		{"h2", 3}, // h1 is the one tested pack of its chemistry
		{"h1", 3},
		{"nobody's", 3},
		{"t00003", 3 + tested}, // known by its label; k was made before
		{"t00010", 4 + tested},
	} {
		p := set.Pack(c.id)
		if _, known := cat.Packs[c.id]; known != (p != nil) || p != nil && (p.ID != c.id || p.Circuit.Capacity <= 0) {
			t.Fatalf("%s is %+v", c.id, p)
		}
		if n := planner.Made(set); n != c.made {
			t.Errorf("for %s %d packs are made, want %d", c.id, n, c.made)
		}
	}
	one := set.Pack("h2")
	all := set.All(nil)
	if len(all) != len(cat.Packs) || planner.Made(set) != len(all) {
		t.Errorf("%d packs of %d, %d made", len(all), len(cat.Packs), planner.Made(set))
	}
	fresh := packSet(t, cat).All(nil)
	for i, p := range all {
		if p.ID == "h2" && p != one {
			t.Error("h2 was made twice")
		}
		if i > 0 && p.ID <= all[i-1].ID {
			t.Errorf("%s stands behind %s", p.ID, all[i-1].ID)
		}
		if diff := cmp.Diff(fresh[i].Remarks, p.Remarks); diff != "" || p.Circuit.R0 != fresh[i].Circuit.R0 || p.SigmaR != fresh[i].SigmaR {
			t.Errorf("%s asked for one by one is not what it is among all: %s", p.ID, diff)
		}
	}
}

// TestPackSetIsShared asks one set from several goroutines.
func TestPackSetIsShared(t *testing.T) {
	cat := parts(t, append([]string{example, hybrid}, field(40, 3)...)...)
	set := packSet(t, cat)
	var wg sync.WaitGroup
	for _, id := range []string{"k", "h2", "t00003", "t00010", "t00003"} {
		wg.Go(func() {
			if set.Pack(id).ID != id {
				t.Errorf("asked for %s", id)
			}
		})
	}
	wg.Go(func() { set.All(nil) })
	wg.Wait()
}

// BenchmarkSwapOf10k changes to a pack of a large catalogue: a tested one needs no other, one known by its label the
// tested packs of its chemistry, whose median it is given.
func BenchmarkSwapOf10k(b *testing.B) {
	cat := parts(b, append([]string{example, hybrid}, strings.Join(field(10000, 1), "\n"))...)
	for _, to := range []string{"t00001", "h2", "t00003"} {
		b.Run(to, func(b *testing.B) {
			before, _, err := catalog.ReadBuild("build.toml", strings.NewReader(exampleBuild), cat)
			if err != nil {
				b.Fatal(err)
			}
			after, _, err := before.Apply([]catalog.Change{{Op: catalog.OpReplace, Slot: catalog.KindPack, ID: to}})
			if err != nil {
				b.Fatal(err)
			}
			b.ReportAllocs()
			for b.Loop() {
				if _, err := planner.CompareSwap(before, after, packSet(b, cat)); err != nil {
					b.Fatal(err)
				}
			}
		})
	}
}
