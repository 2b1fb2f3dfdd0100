package catalog

import (
	"errors"
	"fmt"
	"strings"
	"testing"
	"testing/fstest"
)

// TestKeepDropsNothing: faults wait for the end, any other error ends a load.
func TestKeepDropsNothing(t *testing.T) {
	l := loader{}
	if err := l.keep(nil); err != nil || len(l.faults) != 0 {
		t.Errorf("keep(nil) = %v with faults %v", err, l.faults)
	}
	if err := l.keep(InputErrors{{Msg: "is wrong"}}); err != nil || len(l.faults) != 1 {
		t.Errorf("faults give %v and %v", err, l.faults)
	}
	odd := errors.New("something else")
	if err := l.keep(odd); !errors.Is(err, odd) || len(l.faults) != 1 {
		t.Errorf("another error gives %v and %v", err, l.faults)
	}
}

// TestFaultyPacksAreLight: of packs by the ten thousand that are all wrong little but the ids is kept, and none twice.
func TestFaultyPacksAreLight(t *testing.T) {
	const packs = 20_000
	var text strings.Builder
	for i := range packs {
		fmt.Fprintf(&text, "[pack.p%05d]\nx = 1\n", i)
	}
	data := []byte(text.String())
	cuts := outline(data).cuts
	if len(cuts) != packs/chunkTables-1 {
		t.Fatalf("%d tables in %d bytes are cut at %v", packs, len(data), cuts)
	}
	for i, piece := range pieces(data, cuts) {
		if n := strings.Count(string(piece), "[pack."); n > chunkTables {
			t.Errorf("piece %d has %d tables", i, n)
		}
	}
	l := loader{cat: New(), owner: map[string]int{}, order: map[string]int{}}
	file := File{Name: "f.toml", Path: "f.toml", FS: fstest.MapFS{"f.toml": {Data: data}}}
	if err := l.load("parts", file); err != nil || l.faults.Count() < packs {
		t.Fatalf("%d faults, %v", l.faults.Count(), err)
	}
	distinct := map[*Pack]bool{}
	for _, p := range l.cat.Packs {
		if p.Source.File != "f.toml" {
			t.Fatalf("a pack is from %+v", p.Source)
		}
		distinct[p] = true
	}
	if len(l.cat.Packs) != packs || len(distinct) > len(cuts)*maxKept {
		t.Errorf("%d ids of %d have %d packs", len(l.cat.Packs), packs, len(distinct))
	}
}
