package catalog_test

import (
	"os"
	"path/filepath"
	"strings"
	"testing"

	"github.com/google/go-cmp/cmp"

	"allup/catalog"
)

// TestBuildNamesRecords follows a build that names its records: they are found beside it, wherever
// the program runs, and a file that is given twice counts once.
func TestBuildNamesRecords(t *testing.T) {
	dir := t.TempDir()
	write := func(name, text string) string {
		t.Helper()
		full := filepath.Join(dir, name)
		if err := os.MkdirAll(filepath.Dir(full), 0o755); err != nil {
			t.Fatal(err)
		}
		if err := os.WriteFile(full, []byte(text), 0o644); err != nil {
			t.Fatal(err)
		}
		return full
	}
	mine := write("mine.toml", packRecord("mine-500"))
	write("more/gear.toml", gear("rx", "1.4"))
	build := write("build.toml", "parts = [\"mine.toml\", \"more\"]\nrotors = 4\n[limit]\nmass_g = 250\n[slots]\nframe = \"lark-35\"\nmotor = \"wick-1404-3800\"\nprop = \"fen-35x25-3\"\nboard = \"loam-20\"\ngear = [\"rx\"]\npack = \"mine-500\"\n")
	text, err := os.ReadFile(build)
	if err != nil {
		t.Fatal(err)
	}
	f, err := catalog.OpenBuild(build, strings.NewReader(string(text)))
	if err != nil {
		t.Fatal(err)
	}
	var names []string
	for _, l := range f.Layers {
		for _, file := range l.Files {
			rel, err := filepath.Rel(dir, file.Name)
			if err != nil {
				t.Fatal(err)
			}
			names = append(names, filepath.ToSlash(rel))
		}
	}
	if diff := cmp.Diff([]string{"mine.toml", "more/gear.toml"}, names); diff != "" {
		t.Errorf("files (-want +got):\n%s", diff)
	}
	again, err := catalog.PathLayer(mine)
	if err != nil {
		t.Fatal(err)
	}
	layers := append([]catalog.Layer{brokenBase()}, f.Layers...)
	cat, warnings, err := catalog.Load(append(layers, again)...)
	if err != nil || len(warnings) > 0 {
		t.Fatalf("Load = %v, %v", warnings, err)
	}
	b, _, err := f.Read(cat)
	if err != nil {
		t.Fatal(err)
	}
	if diff := cmp.Diff([]string{"mine-500"}, b.Slots.Pack); diff != "" {
		t.Errorf("slots.pack (-want +got):\n%s", diff)
	}
}

// TestReplacedRecord holds that a record of the user's over another of his is said, and one over a demo record is not.
func TestReplacedRecord(t *testing.T) {
	first := memoryLayer("parts", map[string][]byte{"first.toml": []byte(gear("cam", "9.8") + gear("rx", "1.4"))})
	second := memoryLayer("parts", map[string][]byte{"second.toml": []byte("\n" + gear("cam", "10.2"))})
	demo := memoryLayer("built-in", map[string][]byte{"gear.toml": []byte(gear("rx", "1.5"))})
	cat, warnings, err := catalog.Load(demo, first, second)
	if err != nil {
		t.Fatal(err)
	}
	want := []catalog.Warning{{
		Code: "record-replaced", File: "second.toml", Line: 2, Field: "gear.cam",
		Text: "replaces the record of this id in first.toml: the last that is given counts",
	}}
	if diff := cmp.Diff(want, warnings); diff != "" {
		t.Errorf("warnings (-want +got):\n%s", diff)
	}
	if got := cat.Gear["cam"].Mass.Grams(); got < 10.19 || got > 10.21 {
		t.Errorf("cam weighs %v g, want the second file's 10.2", got)
	}
}
