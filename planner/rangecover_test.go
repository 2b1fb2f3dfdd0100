package planner_test

import (
	"fmt"
	"math/rand/v2"
	"os"
	"path/filepath"
	"reflect"
	"regexp"
	"strings"
	"testing"
	"testing/fstest"
	"time"

	"allup/catalog"
	"allup/planner/tested"
)

// sections are the lines of TOML text by their table, without its id: "pack.tested" for [pack.x.tested].
func sections(text string) map[string]string {
	found := map[string]string{}
	at := ""
	for line := range strings.Lines(text) {
		if head, ok := strings.CutPrefix(line, "["); ok && !strings.Contains(line, "=") {
			names := strings.Split(strings.TrimRight(head, "]\n"), ".")
			if at = names[0]; len(names) > 2 {
				at += "." + names[2]
			}
			continue
		}
		found[at] += line
	}
	return found
}

// rangeSection is where the texts of these tests have the fields of a table of the documentation.
func rangeSection(head string) string {
	switch head {
	case "a build", "a bench":
		return ""
	case "columns":
		return "pack" // columns = { ... } of a bench's pack
	}
	names := strings.Split(strings.NewReplacer("[", "", "] ", ".", "]", "", ".ID", "").Replace(strings.TrimSuffix(head, " of a bench")), ".")
	if len(names) > 1 && names[1] == "tested" || len(names) > 1 && names[1] == "circuit" {
		return names[0] + "." + strings.Fields(names[1])[0]
	}
	return strings.Fields(names[0])[0]
}

// TestRangeTextsHaveEveryNumber holds that these tests change every number that the readers know:
// catalog's list of fields, which its own tests hold against the readers, has none that the texts
// do not have.
func TestRangeTextsHaveEveryNumber(t *testing.T) {
	texts := map[string]map[string]string{"records": sections(rangeParts), "build": sections(strings.Replace(rangeBuild, "SCALE", strings.Join(rangeScales(), "\n"), 1)), "bench": sections(rangeBench)}
	texts["bench"]["protocol"] += "discharge_current_c = 15\n" // which the test puts in the place of discharge_c
	numbers := 0
	for _, table := range catalog.Fields() {
		for _, f := range table.Fields {
			if !strings.ContainsAny(f.Holds, "0123456789") && f.Holds != "number" {
				continue
			}
			numbers++
			text := texts[table.Of][rangeSection(table.Head)]
			if table.Head == "every record" {
				text = rangeParts
			}
			if !regexp.MustCompile(`(^|[^a-z_])` + f.Name + ` = [-0-9\[]`).MatchString(text) {
				t.Errorf("%s %s (%s) is in no text of %q: %q", table.Head, f.Name, f.Holds, table.Of, rangeSection(table.Head))
			}
		}
	}
	if numbers < 90 {
		t.Errorf("%d numbers", numbers)
	}
}

const rangeBench = `ambient_c = 21
[protocol]
discharge_c = 15
discharge_end_v_per_cell = 3.1
conditioning_c = 15
conditioning_s = 48
ramp_c_per_s = 2
burst_end_v_per_cell = 3.3
[pack.one]
chemistry = "lipo"
cells = 4
rated_mah = 650
mass_g = 74.2
tolerance_g = 0.5
price = 20
currency = "EUR"
size_mm = [60, 30, 26]
max_current_a = 49
label_c = 75
cycles = 12
ambient_c = 22
columns = { time = 1, voltage = 2, current = 3 }
discharge = "d.csv"
burst = "b.csv"
`

// Every number of a bench file may be anything: its packs have figures, or a refusal in words, or
// the file has errors that each name a field. ALLUP_LONG=1 runs fifty times as many cases.
func TestNoBenchFigureIsNone(t *testing.T) {
	logs := fstest.MapFS{}
	for short, name := range map[string]string{"d.csv": "sedge-650-discharge.csv", "b.csv": "sedge-650-burst.csv"} {
		data, err := os.ReadFile(filepath.Join("..", "testdata", "bench", "logs", name))
		if err != nil {
			t.Fatal(err)
		}
		var thin strings.Builder
		row := 0
		for line := range strings.Lines(string(data)) {
			if strings.HasPrefix(line, "#") {
				continue
			}
			if row%10 == 0 {
				thin.WriteString(line)
			}
			row++
		}
		logs[short] = &fstest.MapFile{Data: []byte(thin.String())}
	}
	cases := 200
	if os.Getenv("ALLUP_LONG") != "" {
		cases = 10_000
	}
	if testing.Short() {
		cases = 40
	}
	r := rand.New(rand.NewPCG(9, 2026))
	known, _, err := catalog.Load(catalog.Builtin())
	if err != nil {
		t.Fatal(err)
	}
	reduced, refused := 0, 0
	var slowest slowestCase
	for i := range cases {
		text := rangeBench
		if r.IntN(3) == 0 {
			text = strings.Replace(text, "discharge_c =", "discharge_current_c =", 1)
		}
		if i > 0 {
			text = strayed(r, text, 1+r.IntN(3))
		}
		b, _, err := catalog.ReadBench("bench.toml", strings.NewReader(text))
		if err != nil {
			for line := range strings.Lines(err.Error()) {
				if !strings.HasPrefix(line, "bench.toml:") {
					t.Errorf("case %d: %s", i, line)
				}
			}
			continue
		}
		begun := time.Now()
		packs, err := tested.ReduceBench(b, logs, known, nil)
		slowest.note(t, i, time.Since(begun), text)
		if err != nil {
			t.Errorf("case %d: %v\n%s", i, err, text)
			continue
		}
		for _, p := range packs {
			if p.Record == nil {
				refused++
			} else {
				reduced++
			}
			if path := notFinite(reflect.ValueOf(p), "", 0); path != "" {
				t.Errorf("case %d: %s\n%s", i, path, text)
			}
		}
		if i == 0 && (len(packs) != 1 || packs[0].Record == nil) {
			t.Fatalf("the good bench is refused: %v", fmt.Sprint(packs[0].Failed))
		}
	}
	if reduced < cases/20 {
		t.Errorf("%d of %d cases are reduced: too few to say anything", reduced, cases)
	}
	t.Logf("%d of %d cases reduced, %d refused; %s", reduced, cases, refused, slowest)
}
