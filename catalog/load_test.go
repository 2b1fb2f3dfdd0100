package catalog_test

import (
	"bytes"
	"errors"
	"fmt"
	"io/fs"
	"os"
	"path/filepath"
	"strings"
	"testing"
	"testing/fstest"

	"github.com/google/go-cmp/cmp"

	"allup/catalog"
	"allup/model"
)

func gear(id string, grams string) string { return "[gear." + id + "]\nmass_g = " + grams + "\n" }

func TestBuiltin(t *testing.T) {
	c, warnings, err := catalog.Load(catalog.Builtin())
	if err != nil || len(warnings) > 0 {
		t.Fatalf("Load(Builtin) = %v, %v", warnings, err)
	}
	for _, kind := range catalog.Kinds() {
		if len(c.IDs(kind)) == 0 {
			t.Errorf("the built-in catalogue has no %s", kind)
		}
	}
}

func TestLayers(t *testing.T) {
	below := memoryLayer("built-in", map[string][]byte{"a.toml": []byte(gear("cam", "9.8") + gear("rx", "1.4"))})
	above := memoryLayer("user", map[string][]byte{"b.toml": []byte("\n" + gear("cam", "10.2"))})
	c, warnings, err := catalog.Load(below, above)
	if err != nil || len(warnings) > 0 {
		t.Fatalf("Load = %v, %v", warnings, err)
	}
	want := map[string]*catalog.Gear{
		"cam": {Common: catalog.Common{ID: "cam", Name: "cam", Mass: 10.2 * model.Gram, Source: catalog.Source{Layer: "user", File: "b.toml"}}},
		"rx":  {Common: catalog.Common{ID: "rx", Name: "rx", Mass: 1.4 * model.Gram, Source: catalog.Source{Layer: "built-in", File: "a.toml"}}},
	}
	if diff := cmp.Diff(want, c.Gear, sameValues()); diff != "" {
		t.Errorf("gear differs (-want +got):\n%s", diff)
	}
	lines := map[string]int{}
	for _, id := range c.IDs(catalog.KindGear) {
		source := c.Locate(id)[id]
		lines[id] = source.Line
	}
	if diff := cmp.Diff(map[string]int{"cam": 2, "rx": 3}, lines); diff != "" {
		t.Errorf("lines differ (-want +got):\n%s", diff)
	}
	if kind, ok := c.Lookup("cam"); kind != catalog.KindGear || !ok {
		t.Errorf("Lookup(cam) = %v, %v", kind, ok)
	}
	if got := c.Locate("nothing"); len(got) > 0 {
		t.Error("Locate(nothing) found something")
	}
	if got := c.Nearest(catalog.KindGear, "came"); got != "cam" {
		t.Errorf("Nearest(came) = %q, want cam", got)
	}
}

// TestConflicts has ids that are taken, in one layer and across two; the faults of
// all files come together.
func TestConflicts(t *testing.T) {
	below := memoryLayer("user", map[string][]byte{"below.toml": []byte(gear("cam", "9.8"))})
	above := memoryLayer("parts", map[string][]byte{
		"a.toml": []byte("[board.cam]\nmass_g = 5\n"),
		"b.toml": []byte(gear("rx", "1.4")),
		"c.toml": []byte(gear("tx", "-1") + gear("rx", "1.4")),
	})
	_, _, err := catalog.Load(below, above)
	want := `a.toml:1: board.cam: is also the id of a piece of gear in below.toml; an id names one record, whatever its kind: choose another
c.toml:2: gear.tx.mass_g: -1 is out of range; allowed: 0.01 to 5000 g
c.toml:3: gear.rx: is here a second time (first in b.toml); an id is a key, so a second record with the same id beside it is an error: give it another id or remove it`
	if err == nil || err.Error() != want {
		t.Errorf("Load error = %v\nwant %s", err, want)
	}
	if fault, ok := errors.AsType[catalog.InputError](err); !ok || fault.File != "a.toml" || fault.Line != 1 {
		t.Errorf("errors.AsType = %v, %v, want the fault of a.toml", fault, ok)
	}
}

func TestPathLayers(t *testing.T) {
	dir := t.TempDir()
	write := func(name, text string) string {
		path := filepath.Join(dir, name)
		if err := os.WriteFile(path, []byte(text), 0o644); err != nil {
			t.Fatal(err)
		}
		return path
	}
	file := write("b.toml", gear("cam", "9.8"))
	write("a.toml", gear("rx", "1.4"))
	write("notes.txt", "no records")
	write(".hidden.toml", "no records = ")
	if err := os.Mkdir(filepath.Join(dir, "sub.toml"), 0o755); err != nil {
		t.Fatal(err)
	}

	layer, err := catalog.PathLayer(dir)
	if err != nil {
		t.Fatal(err)
	}
	c, _, err := catalog.Load(layer)
	if err != nil {
		t.Fatal(err)
	}
	if diff := cmp.Diff([]string{"cam", "rx"}, c.IDs(catalog.KindGear)); diff != "" {
		t.Errorf("ids of the folder differ (-want +got):\n%s", diff)
	}
	if source := c.Locate("cam")["cam"]; source != (catalog.Source{Layer: "parts", File: file, Line: 1}) {
		t.Errorf("Locate(cam) = %v, want %s:1", source, file)
	}

	if layer, err = catalog.PathLayer(file); err != nil {
		t.Fatal(err)
	}
	if c, _, err = catalog.Load(layer); err != nil || len(c.Gear) != 1 {
		t.Errorf("Load(file) = %v, %v", c, err)
	}
	if layer, err := catalog.UserLayer(filepath.Join(dir, "none")); err != nil || len(layer.Files) != 0 {
		t.Errorf("UserLayer(none) = %v, %v, want an empty layer", layer, err)
	}
	if layer, err := catalog.UserLayer(dir); err != nil || len(layer.Files) != 2 {
		t.Errorf("UserLayer = %v, %v, want two files", layer, err)
	}

	empty := t.TempDir()
	for _, path := range []string{filepath.Join(dir, "none"), empty, ""} {
		_, err := catalog.PathLayer(path)
		if _, isPath := errors.AsType[*fs.PathError](err); !isPath {
			t.Errorf("PathLayer(%q) error = %v, want a path error", path, err)
		}
	}
	layer, err = catalog.PathLayer(file)
	if err != nil {
		t.Fatal(err)
	}
	os.Remove(file)
	if _, _, err := catalog.Load(layer); !errors.Is(err, fs.ErrNotExist) {
		t.Errorf("Load of a file that has gone = %v, want it not to exist", err)
	}
}

func TestTooLarge(t *testing.T) {
	data := bytes.Repeat([]byte("# comment\n"), 7<<20)
	_, _, err := catalog.Load(memoryLayer("parts", map[string][]byte{"big.toml": data}))
	if want := "big.toml: the file is larger than 64 MB"; err == nil || err.Error() != want {
		t.Errorf("Load error = %v, want %s", err, want)
	}
}

// TestBoundedText: what the parser would take minutes and gigabytes for is refused at once.
func TestBoundedText(t *testing.T) {
	many := func(format string, n int) string {
		var b strings.Builder
		for i := range n {
			fmt.Fprintf(&b, format, i)
		}
		return b.String()
	}
	const tooMany, large = "more than 100000 values or 20000 tables in one piece", "a large file is one of records, each under its own header, [pack.ID]"
	for _, test := range []struct{ name, text, want string }{
		{"keys", many("k%d = 1\n", 100_001), "f.toml:1: " + tooMany + "; allowed: " + large},
		{"keys of one record", many("[gear.g%d]\nmass_g = 1\n", 12_000) + "[gear.x]\n" + many("k%d = 1\n", 100_001), "f.toml:"},
		{"a list", "x = [" + strings.Repeat("1,", 100_001) + "]\n", "f.toml:1: " + tooMany},
		{"lists in a list", "x = [" + strings.Repeat("[]", 100_001) + "]\n", "f.toml:1: " + tooMany},
		{"dotted keys", many("a.a.a.a.a.a.a.a.a.a.k%d = 1\n", 9_200), "f.toml:1: " + tooMany},
		{"deep", "x = " + strings.Repeat("[", 17) + strings.Repeat("]", 17), "f.toml:1: lists and tables are nested more than 16 deep"},
		{"an open quote", "[gear.x]\nmass_g = 1\nnote = '''" + strings.Repeat("[gear.y]\n", 500_000), "f.toml:1: more than 4 MB in one piece; allowed: " + large + "; is a quote not closed?"},
		{"tables", many("[t%d]\n", 20_001), "f.toml:1: " + tooMany},
		{"a long number", "x = " + strings.Repeat("1", 1000) + "\n", "f.toml:1: not valid TOML: " + strings.Repeat("1", 200) + "...;"},
		{"far apart", string(manyPacks(6500)) + "[pack.sedge-00000]\nmass_g = 3\n", "f.toml:182001: pack.sedge-00000: is here a second time, far from the first; in a file this large all that belongs to a record stands in one place"},
	} {
		_, _, err := catalog.Load(memoryLayer("parts", map[string][]byte{"f.toml": []byte(test.text)}))
		if err == nil || !strings.HasPrefix(err.Error(), test.want) || strings.HasSuffix(test.want, ":") && !strings.Contains(err.Error(), tooMany) {
			t.Errorf("%s: Load error = %.300v, want %s", test.name, err, test.want)
		}
	}
	c, _, err := catalog.Load(memoryLayer("parts", map[string][]byte{"f.toml": []byte(many("[gear.g%d]\nmass_g = 1\n", 60_000))}))
	if err != nil || len(c.Gear) != 60_000 {
		t.Errorf("a large file of good records: %v", err)
	}
	for name, read := range map[string]func(string) error{
		"build": func(text string) error { _, err := catalog.OpenBuild("f.toml", strings.NewReader(text)); return err },
		"bench": func(text string) error {
			_, _, err := catalog.ReadBench("f.toml", strings.NewReader(text))
			return err
		},
	} {
		for text, want := range map[string]string{
			strings.Repeat("# \n", 2<<20):                      "f.toml: the file is larger than 4 MB",
			many("[gear.g%d]\nmass_g = 1\n", 60_000):           "f.toml:1: the file has more than 100000 values or 20000 tables, or is larger than 4 MB",
			"parts = [" + strings.Repeat("'a',", 1001) + "]\n": "f.toml:1: parts: ",
		} {
			if err := read(text); err == nil || !strings.Contains(err.Error(), want) {
				t.Errorf("%s: error = %.200v, want %s", name, err, want)
			}
		}
	}
}

// TestLargeFiles: a file that is parsed in pieces has the faults of one that is not.
func TestLargeFiles(t *testing.T) {
	data := string(manyPacks(3000))
	lines := strings.Count(data, "\n")
	for _, test := range []struct{ name, text, want string }{
		{"value", data + "[gear.x]\nmass_g = -1\n", "big.toml:84002: gear.x.mass_g: -1 is out of range; allowed: 0.01 to 5000 g"},
		{"syntax", data + "[gear.x\n", "big.toml:84001: not valid TOML: expected '.' or ']' to end table name, but got '\\n' instead; a table name stands in brackets: [gear.buzzer]"},
		{"duplicate", data + "[pack.sedge-00000]\nmass_g = 3\n", "big.toml:84001: pack.sedge-00000: is here a second time (first in line 1); an id is a key, so a second record with the same id in one file is an error: give it another id or remove it"},
		{"late table", strings.Replace(data, "[pack.sedge-00000.tested]", "[pack.later.tested]", 1) + "[pack.sedge-00000.tested]\ncapacity_mah = 400\nburst_power_w = 690\n[pack.later]\nchemistry = \"lipo\"\ncells = 4\nrated_mah = 450\nmass_g = 45\n", ""},
		{"long string", data + "[gear.x]\nmass_g = 1\nnote = '''" + data + "'''\n", "note: "},
	} {
		t.Run(test.name, func(t *testing.T) {
			_, _, err := catalog.Load(memoryLayer("parts", map[string][]byte{"big.toml": []byte(test.text)}))
			switch {
			case test.want == "" && err != nil:
				t.Errorf("Load error = %v, want none", err)
			case test.want != "" && (err == nil || !strings.Contains(err.Error(), test.want)):
				t.Errorf("Load error = %v (of %d lines), want %s", err, lines, test.want)
			}
		})
	}
}

// TestManyUnknown: of very many unknown fields in one table a few are named, with a guess at each, and the rest are
// counted; other faults of the file stay in sight, and what is kept of very many faults is bounded.
func TestManyUnknown(t *testing.T) {
	var keys strings.Builder
	for i := range 30_000 {
		fmt.Fprintf(&keys, "unheard%05d = 1\n", i)
	}
	const pack = "mass_g = 45\nchemistry = \"lipo\"\ncells = 4\nrated_mah = 450\n"
	readers := map[string]func(text string) error{
		"records": func(text string) error {
			_, _, err := catalog.Load(memoryLayer("parts", map[string][]byte{"f.toml": []byte("[pack.p]\n" + pack + text + "[gear.q]\nmass_g = -1\n")}))
			return err
		},
		"bench": func(text string) error {
			_, _, err := catalog.ReadBench("f.toml", strings.NewReader("[pack.p]\n"+pack+text+"[pack.q]\nmass_g = -1\n"))
			return err
		},
		"build": func(text string) error {
			_, _, err := catalog.ReadBuild("f.toml", strings.NewReader(text+craft+"[extra.q]\nmass_g = -1\n"), base(t))
			return err
		},
	}
	for name, read := range readers {
		err := read(keys.String())
		faults, ok := errors.AsType[catalog.InputErrors](err)
		if !ok || faults.Count() < 30_000 || faults.Count() > 30_010 || len(faults) > 30 {
			t.Errorf("%s: %d faults are kept of %d", name, len(faults), faults.Count())
			continue
		}
		for _, want := range []string{": 29980 more unknown fields\n", "unheard00019: unknown field; allowed: ", "q.mass_g: -1 is out of range"} {
			if !strings.Contains(err.Error(), want) {
				t.Errorf("%s: %q is not in\n%.3000s", name, want, err)
			}
		}
		for _, f := range faults {
			if f.Line == 0 {
				t.Errorf("%s: %v has no line", name, f)
			}
		}
	}
	// Faults that are not of unknown fields.
	err := readers["bench"]("discharge = [" + strings.Repeat("1,", 50_000) + "]\n")
	faults, ok := errors.AsType[catalog.InputErrors](err)
	if !ok || len(faults) > 1100 || faults.Count() < 50_000 {
		t.Errorf("%d faults are kept of %d", len(faults), faults.Count())
	}
	if text := err.Error(); strings.Count(text, "\n") != 50 || !strings.HasSuffix(text, fmt.Sprintf("and %d more", faults.Count()-50)) {
		t.Errorf("error text has %d lines and ends %q", strings.Count(text, "\n")+1, text[len(text)-40:])
	}
}

// TestManyOddities: of very many odd values a thousand are kept, and the rest counted.
func TestManyOddities(t *testing.T) {
	var data strings.Builder
	for i := range 5000 {
		fmt.Fprintf(&data, "[gear.g%04d]\nmass_g = 0.015\n", i)
	}
	_, warnings, err := catalog.Load(memoryLayer("parts", map[string][]byte{"f.toml": []byte(data.String())}))
	if err != nil || len(warnings) != 1001 || catalog.CountWarnings(warnings) != 5000 {
		t.Fatalf("%d warnings are kept of %d, %v", len(warnings), catalog.CountWarnings(warnings), err)
	}
	if first, last := warnings[0].String(), warnings[1000].String(); !strings.HasPrefix(first, "f.toml:2: gear.g0000.mass_g: 0.015 g is unusual") || last != "f.toml: 4000 more odd values" {
		t.Errorf("from %q to %q", first, last)
	}
}

// TestManyFaults: a large file with a fault in every record is still reported soon.
func TestManyFaults(t *testing.T) {
	data := bytes.ReplaceAll(manyPacks(10000), []byte("cells = 4"), []byte("cels = 40"))
	_, _, err := catalog.Load(memoryLayer("parts", map[string][]byte{"big.toml": data}))
	faults, ok := errors.AsType[catalog.InputErrors](err)
	if !ok || faults.Count() != 10000 {
		t.Fatalf("Load error has %d faults, want 10000", faults.Count())
	}
	if text := err.Error(); strings.Count(text, "\n") != 50 || !strings.HasSuffix(text, "and 9950 more") {
		t.Errorf("error text has %d lines and ends %q", strings.Count(text, "\n")+1, text[len(text)-40:])
	}
	if faults[0].Line == 0 {
		t.Error("the first fault has no line")
	}
}

// countedFS counts how often a file is opened.
type countedFS struct {
	fs.FS
	opened map[string]int
}

func (c countedFS) Open(name string) (fs.File, error) {
	c.opened[name]++
	return c.FS.Open(name)
}

// Many records are looked up in one reading of their file, to the lines on which their headers stand: also where the
// file is read in pieces, and where a key in one of them is written with an escape.
func TestLocateReadsAFileOnce(t *testing.T) {
	var text strings.Builder
	ids, want := []string{"nothing"}, map[string]int{}
	for i := range 5000 {
		id := fmt.Sprintf("c%04d", i)
		ids = append(ids, id)
		want[id] = 2*i + 1
		fmt.Fprintf(&text, "[gear.%s]\nmass_g = 1\n", id)
	}
	text.WriteString("[gear.odd]\n\"mass\\u005fg\" = 2\n[gear.after]\nmass_g = 3\n")
	ids = append(ids, "odd", "after")
	want["odd"], want["after"] = 10001, 10003
	counted := countedFS{fstest.MapFS{"many.toml": {Data: []byte(text.String())}}, map[string]int{}}
	c, _, err := catalog.Load(catalog.Layer{Name: "parts", Files: []catalog.File{{Name: "many.toml", FS: counted, Path: "many.toml"}}})
	if err != nil {
		t.Fatal(err)
	}
	before := counted.opened["many.toml"]
	got := map[string]int{}
	for id, source := range c.Locate(ids...) {
		got[id] = source.Line
	}
	if diff := cmp.Diff(want, got); diff != "" {
		t.Errorf("lines differ (-want +got):\n%s", diff)
	}
	// It is looked at, whether it is an ordinary file, and read.
	if n := counted.opened["many.toml"] - before; n > 3 {
		t.Errorf("the file is opened %d times for %d records", n, len(ids))
	}
}
