package main

import (
	"cmp"
	"context"
	"maps"
	"os"
	"path/filepath"
	"regexp"
	"slices"
	"strings"
	"testing"

	"github.com/clipperhouse/displaywidth"

	"allup/catalog"
	"allup/cmd/allup/internal/sheet"
	"allup/model"
	"allup/planner"
	"allup/planner/tested"
)

// everyScreen is a screen of each command, by name, with all columns that there are.
func everyScreen(t *testing.T) map[string]sheet.Screen {
	t.Helper()
	need := func(err error) {
		t.Helper()
		if err != nil {
			t.Fatal(err)
		}
	}
	screens := map[string]sheet.Screen{"limits": limitsScreen()}
	texts := builds(t)
	texts["priced"] = strings.Replace(texts["stint"], "price = 0", "price = 1", 1)
	high := model.Length(2000)
	for name, text := range texts {
		p := planOf(t, text)
		away, err := p.In(planner.Conditions{Altitude: &high})
		need(err)
		packs := packSetOf(t, p.Build.Parts)
		r := away.Rank(packs, planner.RankOptions{Quick: true})
		screens["rank "+name] = rankScreen(r, true)
		screens["rank sheet "+name] = sheet.Screen{Tables: []*sheet.Table{rankSheet(r, true)}}
		w := p.Weigh()
		weigh := weighScreen(w)
		weigh.Tables = append(weigh.Tables, allLimitsTable(&w))
		screens["weigh "+name] = weigh
		s, err := planner.CompareSwap(p.Build, p.Build, packs)
		need(err)
		screens["swap "+name] = swapScreen(s, nil)
		b := p.Build.Open(catalog.KindProp)
		f, err := planner.Search(context.Background(), b, planner.SpaceOf(b, packs, nil), planner.Conditions{}, planner.SearchOptions{Top: 2})
		need(err)
		screens["search "+name] = (&searched{f, planner.SpaceOf(b, packs, nil), b}).screen()
		if p.Pack == nil {
			continue
		}
		sizing, err := p.Size(packs, planner.SizeOptions{})
		need(err)
		screens["size "+name] = sizeScreen(sizing)
		better, err := planner.Suggest(context.Background(), p.Build, packs, planner.Conditions{}, nil)
		need(err)
		screens["suggest "+name] = (&suggested{better, []string{"allup swap"}}).screen()
		screens["why "+name] = whyScreen(p.Why(packs.Pack(p.Pack.ID)))
	}
	cat := builtIn(t)
	screens["field"] = fieldScreen(tested.CompareField(packSetOf(t, cat), tested.FieldOptions{}))
	screens["parts"], _ = partsScreen(cat, "")
	for _, id := range []string{"sedge-650", "wick-reed"} {
		p, err := showPart(cat, id)
		need(err)
		screens["parts "+id] = p.screen()
	}
	screens["records"] = fieldsScreen(catalog.Fields())
	file := filepath.Join(repository(t), "testdata", "bench", "bench.toml")
	in, err := os.Open(file)
	need(err)
	defer in.Close()
	b, _, err := catalog.ReadBench(file, in)
	need(err)
	reduced, err := tested.ReduceBench(b, catalog.BenchFS(file), cat, nil)
	need(err)
	screens["reduce"] = reduceScreen(b, reduced, nil)
	return screens
}

// TestHeadings: the same heading is the same quantity, in the same unit, wherever it stands, and no two columns
// of a table share a name. Keys tell quantities apart, and carry their units.
func TestHeadings(t *testing.T) {
	// What a table is of: its rows have it in common, and the heading says of which kind they are.
	subject := map[string]bool{"pack": true, "id": true, "key": true, "text": true, "field": true, "marks": true, "bar": true}
	// The same quantity, which programs have by two keys: rank's by JSON's.
	same := map[string]string{
		"over_limit_chance_percent": "over_limit_chance", "w_per_g": "power_density_w_per_g", "wh_per_g": "energy_density_wh_per_g", "what": "facts",
	}
	keyOf := map[string]string{}
	for name, s := range everyScreen(t) {
		for _, table := range s.Tables {
			heads, keys := map[string]bool{}, map[string]bool{}
			for _, c := range table.Columns {
				if c.Head != "" && heads[c.Head] || keys[c.Key] {
					t.Errorf("%s: two columns are called %q or have the key %q", name, c.Head, c.Key)
				}
				heads[c.Head], keys[c.Key] = true, true
				if c.Head == "" || c.Head == c.Key || subject[c.Key] {
					continue
				}
				key := cmp.Or(same[c.Key], c.Key)
				if k, known := keyOf[c.Head]; known && k != key {
					t.Errorf("%s: %q is %s here and %s elsewhere", name, c.Head, c.Key, k)
				}
				keyOf[c.Head] = key
			}
		}
	}
	if len(keyOf) < 80 {
		t.Errorf("only %d headings were seen", len(keyOf))
	}
}

// TestMarks: a mark means one thing on every screen, each screen that has marks explains all of them, and marks that no
// row has are none of a screen's without a table that could have them.
func TestMarks(t *testing.T) {
	legend := regexp.MustCompile(`(?:^Marks?: ?|^Mark |; )([A-Z]):? ([^;]*)`)
	means := map[string]string{}
	marked := 0
	for name, s := range everyScreen(t) {
		explained := map[string]bool{}
		for _, n := range s.Notes {
			if !strings.HasPrefix(n, "Mark") {
				continue
			}
			for _, m := range legend.FindAllStringSubmatch(n, -1) {
				words, _, _ := strings.Cut(strings.TrimSuffix(m[2], "."), ". ")
				if known, ok := means[m[1]]; ok && known != words {
					t.Errorf("%s: %s is %q here and %q elsewhere", name, m[1], words, known)
				}
				means[m[1]], explained[m[1]] = words, true
			}
			if !slices.ContainsFunc(s.Tables, func(t *sheet.Table) bool {
				return slices.ContainsFunc(t.Columns, func(c sheet.Column) bool { return c.Key == "marks" })
			}) {
				t.Errorf("%s explains marks and has none", name)
			}
		}
		if strings.HasPrefix(name, "rank sheet") {
			continue // CSV has no notes; README has its marks
		}
		for _, table := range s.Tables {
			at := slices.IndexFunc(table.Columns, func(c sheet.Column) bool { return c.Key == "marks" })
			if at < 0 || strings.HasPrefix(table.Title, "Phases on") { // whose words explain themselves
				continue
			}
			for _, row := range table.Rows {
				for _, m := range row[at].Text {
					marked++
					if !explained[string(m)] {
						t.Errorf("%s has a mark %c in %q and does not explain it", name, m, table.Title)
					}
				}
			}
		}
	}
	letters := map[string]string{}
	for letter, words := range means {
		if other, ok := letters[words]; ok {
			t.Errorf("%s and %s both mean %q", letter, other, words)
		}
		letters[words] = letter
	}
	if marked < 100 || len(means) != 8 {
		t.Errorf("%d marks seen, of the meanings %v", marked, means)
	}
}

// TestNoLineIsWider: on a terminal of any usual width no line goes on beyond it, no figure of a table that is
// shown there is lost, and what is not shown is named.
func TestNoLineIsWider(t *testing.T) {
	cells := regexp.MustCompile(`\S+`)
	for name, s := range everyScreen(t) {
		for _, width := range []int{50, 60, 72, 80, 100, 120, 160, 200} {
			text, err := sheet.Viewer{Width: width}.Text(s)
			if err != nil {
				t.Fatal(err)
			}
			for line := range strings.Lines(string(text)) {
				line = strings.TrimRight(line, "\n")
				if n := displaywidth.String(line); n > width && !strings.HasPrefix(name, "rank sheet") { // which is CSV's
					t.Errorf("%s: a line of %d on a terminal of %d:\n%s", name, n, width, line)
				}
				if strings.TrimRight(line, " ") != line {
					t.Errorf("%s: blanks at the end of %q", name, line)
				}
			}
			shown := map[string]bool{}
			for _, c := range cells.FindAllString(string(text), -1) {
				shown[strings.Trim(c, "(),:;.")] = true
			}
			for _, table := range s.Tables {
				if len(table.Rows) == 0 || strings.HasPrefix(name, "rank sheet") {
					continue
				}
				for _, c := range table.Columns {
					for _, word := range strings.Fields(c.Head) {
						if !shown[strings.Trim(word, "(),:;.")] {
							t.Errorf("%s at %d: the heading %q is neither shown nor named", name, width, c.Head)
						}
					}
				}
			}
		}
	}
}

// The columns of every table that leave a narrow terminal, in their order: those leave first that are missed least.
func TestColumnsLeaveInOrder(t *testing.T) {
	leaving := regexp.MustCompile(`(?s)\(([^()]*): on a wider screen\)`)
	tables := map[string]bool{}
	for name, s := range everyScreen(t) {
		name, _, _ := strings.Cut(strings.Replace(name, "rank sheet", "rank-sheet", 1), " ")
		for _, table := range s.Tables {
			if len(table.Rows) == 0 || name == "rank-sheet" {
				continue
			}
			var order []string
			for width := 400; width >= 20; width-- {
				text, err := sheet.Viewer{Width: width}.Text(sheet.Screen{Tables: []*sheet.Table{{Columns: table.Columns, Rows: table.Rows[:1]}}})
				if err != nil {
					t.Fatal(err)
				}
				left := leaving.FindStringSubmatch(string(text))
				if left == nil {
					continue
				}
				for head := range strings.SplitSeq(strings.Join(strings.Fields(left[1]), " "), ", ") {
					if !slices.Contains(order, head) {
						order = append(order, head)
					}
				}
			}
			if len(order) > 0 {
				tables[name+" ("+table.Columns[0].Head+"): "+strings.Join(order, ", ")] = true
			}
		}
	}
	golden(t, filepath.Join(repository(t), "testdata", "screens", "columns.txt"), strings.Join(slices.Sorted(maps.Keys(tables)), "\n")+"\n")
}
