package draw

import (
	"strings"
	"testing"

	"github.com/google/go-cmp/cmp"
)

// lines of a grid, without blanks at their ends.
func linesOf(g *grid) []string {
	var out []string
	for y := range g.h {
		out = append(out, strings.TrimRight(g.line(y), " "))
	}
	return out
}

// Text may stand where nothing is held, with a blank at either end and inside the grid; where it need not, over no
// curve either.
func TestFreePlaces(t *testing.T) {
	g := newGrid(10, 2)
	g.put(4, 0, "ab")
	g.cells[1][3] = '.'
	g.dots[1][6] = 1
	for _, c := range []struct {
		x, y, length int
		need, want   bool
	}{
		{0, 0, 3, true, true},   // a blank is left before what is held
		{0, 0, 4, true, false},  // none is
		{7, 0, 3, true, true},   // a blank is left behind it
		{6, 0, 3, true, false},  // none is
		{5, 0, 1, true, false},  // over it
		{7, 0, 4, true, false},  // beyond the right edge
		{-1, 0, 3, true, false}, // and the left
		{0, 2, 3, true, false},
		{0, -1, 3, true, false},
		{0, 1, 10, true, true},   // over a curve, where it must
		{0, 1, 3, false, true},   // beside one
		{1, 1, 3, false, false},  // over one of signs
		{4, 1, 2, false, true},   // between two
		{5, 1, 2, false, false},  // over one of dots
		{7, 1, 3, false, true},   // beside one
		{0, 1, 10, false, false}, // over both
	} {
		if got := g.free(c.x, c.y, c.length, c.need); got != c.want {
			t.Errorf("%d at %d, %d, need %v: %v", c.length, c.x, c.y, c.need, got)
		}
	}
}

// A label stands to the right of its place, else to the left, and only one that it must have above or below, or over a
// curve.
func TestLabelsInCharacters(t *testing.T) {
	beside := func(g *grid) {
		g.put(2, 1, "x")
		g.put(8, 1, "x")
	}
	for _, c := range []struct {
		name  string
		held  func(g *grid)
		x, y  int
		least bool
		want  []string // nil where there is no place
	}{
		{"to the right", nil, 2, 1, true, []string{"", "  * name", ""}},
		{"to the left at the right end", nil, 10, 1, true, []string{"", "     name *", ""}},
		{"above, where neither has room", beside, 5, 1, false, []string{"   name", "  x  *  x", ""}},
		{"nowhere, where it may be left out", beside, 5, 1, true, nil},
		{"below, where above is taken", func(g *grid) { beside(g); g.put(0, 0, "xxxxxxxxxxx") }, 5, 1, false, []string{"xxxxxxxxxxx", "  x  *  x", "   name"}},
		{"over a curve, where it must", func(g *grid) {
			for y := range g.h {
				for x := range g.w {
					g.cells[y][x] = '.'
				}
			}
		}, 2, 1, false, []string{"...........", "..*.name...", "..........."}},
		{"not over a curve, where it may be left out", func(g *grid) {
			for y := range g.h {
				for x := range g.w {
					g.cells[y][x] = '.'
				}
			}
		}, 2, 1, true, nil},
		{"left of a curve on the right", func(g *grid) { g.cells[1][9] = '.' }, 6, 1, true, []string{"", " name *  .", ""}},
	} {
		g := newGrid(11, 3)
		if c.held != nil {
			c.held(g)
		}
		g.put(c.x, c.y, "*")
		if got := g.label("name", c.x, c.y, c.least); got != (c.want != nil) {
			t.Errorf("%s: %v", c.name, got)
			continue
		}
		if c.want != nil {
			if diff := cmp.Diff(c.want, linesOf(g)); diff != "" {
				t.Errorf("%s (-want +got):\n%s", c.name, diff)
			}
		}
	}
}

// Rules run across or up with their label beside them, where it has room; one outside is not drawn.
func TestRulesInCharacters(t *testing.T) {
	at := func(v float64) int { return int(v) }
	for _, c := range []struct {
		name string
		r    rule
		want []string
	}{
		{"lying", rule{at: 1, horizontal: true, label: "end"}, []string{"", "-end--------", ""}},
		{"lying, without a label", rule{at: 1, horizontal: true}, []string{"", "------------", ""}},
		{"lying outside", rule{at: 3, horizontal: true, label: "end"}, []string{"", "", ""}},
		{"upright", rule{at: 6, label: "end"}, []string{"  end :", "      :", "      :"}},
		{"upright, at the left", rule{at: 2, label: "end"}, []string{"  : end", "  :", "  :"}},
		{"upright, no room", rule{at: 6, label: "much too long"}, []string{"      :", "      :", "      :"}},
		{"upright, without a label", rule{at: 6}, []string{"      :", "      :", "      :"}},
		{"upright outside", rule{at: 12, label: "end"}, []string{"", "", ""}},
		{"upright at the first", rule{at: 0}, []string{":", ":", ":"}},
	} {
		g := newGrid(12, 3)
		g.rule(c.r, at, at, ascii)
		if diff := cmp.Diff(c.want, linesOf(g)); diff != "" {
			t.Errorf("%s (-want +got):\n%s", c.name, diff)
		}
	}
}

// Curves are lines of signs, or of the dots of Braille: two across and four down a character, the first at the top
// left.
func TestCurvesInCharacters(t *testing.T) {
	s := scene{x: axis{max: 6}, y: axis{max: 3}}
	g := newGrid(6, 3)
	g.put(5, 1, "x") // which nothing goes over
	g.curve([]xy{{0.5, 2.5}, {2.5, 2.5}, {2.5, 0.5}}, s, 1, ascii)
	g.curve([]xy{{3.5, 1.5}, {5.5, 1.5}}, s, 0, ascii)
	g.curve([]xy{{0.5, 0.5}}, s, 0, ascii) // a point is no line
	if diff := cmp.Diff([]string{"===", "  =..x", "  ="}, linesOf(g)); diff != "" {
		t.Errorf("-want +got:\n%s", diff)
	}
	if got := len(ascii.curves); got != 5 {
		t.Fatalf("%d signs of curves", got)
	}
	g = newGrid(6, 1)
	s.y.max = 1
	g.curve([]xy{{0.5, 0.5}, {5.5, 0.5}}, s, 5, ascii) // the sixth has the first's sign
	if got := g.line(0); got != "......" {
		t.Errorf("%q", got)
	}

	g = newGrid(2, 1)
	s = scene{x: axis{max: 4}, y: axis{max: 4}} // a unit is a dot
	dot := func(x, y float64) string {
		g.dots = [][]uint8{make([]uint8, 2)}
		g.curve([]xy{{x, y}, {x, y}}, s, 0, unicode)
		return g.line(0)
	}
	// The eight dots in the order of their bits: down the left, down the right, then the lowest two.
	for i, at := range [][2]float64{{0.5, 3.5}, {0.5, 2.5}, {0.5, 1.5}, {1.5, 3.5}, {1.5, 2.5}, {1.5, 1.5}, {0.5, 0.5}, {1.5, 0.5}} {
		if got, want := dot(at[0], at[1]), string(rune(0x2800+1<<i))+" "; got != want {
			t.Errorf("the dot at %v is %q, want %q", at, got, want)
		}
		if got, want := dot(at[0]+2, at[1]), " "+string(rune(0x2800+1<<i)); got != want {
			t.Errorf("the dot at %v is %q, want %q", at, got, want)
		}
	}
	if got := dot(4.5, 1) + dot(-0.5, 1) + dot(1, 4.5) + dot(1, -0.5); strings.TrimSpace(got) != "" {
		t.Errorf("outside: %q", got)
	}
}

// A bar is as long as its parts, with what is known of the sum and the limit under it.
func TestBarInCharacters(t *testing.T) {
	bar := massBar{
		parts: []massPart{{to: 40, slot: "frame", grams: "40.0 g"}, {from: 40, to: 60, slot: "motors", grams: "20.0 g"}, {from: 60, to: 62, slot: "rx", grams: "2.0 g"}, {from: 62, to: 92, slot: "pack", grams: "30.0 g", pack: true}},
		total: 92, unsure: 4, limit: 100, kept: 1.5, limitText: "100 g",
	}
	got := bar.text(101, ascii)
	for _, line := range got[2:] {
		if len(line) != 101 || line[100] != '|' {
			t.Errorf("the limit is not at the end of %q", line)
		}
	}
	want := strings.Repeat("=", 40) + strings.Repeat("-", 20) + "==" + strings.Repeat("#", 30) + "        |"
	if got[2] != want {
		t.Errorf("%q, want %q", got[2], want)
	}
	if !strings.Contains(got[3], "all-up 92.0 g, known to +- 4.0 g |-------|") || strings.Index(got[3], "|") != 88 {
		t.Errorf("%q", got[3])
	}
	if !strings.HasSuffix(got[4], "1.5 g kept back, limit 100 g |") {
		t.Errorf("%q", got[4])
	}
	// Names stand over the middle of their parts.
	for text, middle := range map[string]int{"frame": 20, "motors": 50, "pack": 77} {
		at := strings.Index(got[0], text)
		if n := at + 3; at < 0 || n < middle-1 || n > middle+1 {
			t.Errorf("%s stands at %d in %q, want %d", text, at, got[0], middle)
		}
	}
	// The heaviest are named first: a light part that they leave no room has no name.
	if narrow := bar.text(45, ascii)[0]; strings.Contains(narrow, "rx") || !strings.Contains(narrow, "frame") || !strings.Contains(narrow, "pack") {
		t.Errorf("%q", narrow)
	}
	// A build over its limit: what is known of it ends the bar, and the limit stands before.
	bar.limit, bar.kept = 80, 0
	got = bar.text(97, ascii)
	if strings.LastIndex(got[2], "#") != 91 || got[2][80] != '|' || got[4] != strings.Repeat(" ", 68)+"limit 100 g |" {
		t.Errorf("%q\n%q", got[2], got[4])
	}
	if !strings.HasSuffix(got[3], "|-------|") || len(got[3]) != 97 {
		t.Errorf("%q", got[3])
	}
}

// A label that must stand somewhere finds the one place that is left within three rows of its point.
func TestLabelsFindTheLastPlace(t *testing.T) {
	for _, c := range []struct{ x, y int }{
		{12, 5}, {5, 5}, {8, 4}, {8, 6}, {11, 4}, {11, 6}, {6, 4}, {6, 6}, {11, 3}, {11, 7}, {6, 3}, {6, 7}, {6, 2}, {6, 8},
	} {
		g := newGrid(22, 11)
		for y := range g.h {
			for x := range g.w {
				g.held[y][x] = y != c.y || x < c.x-1 || x > c.x+4
			}
		}
		if !g.label("name", 10, 5, false) || string(g.cells[c.y][c.x:c.x+4]) != "name" {
			t.Errorf("not at %d, %d: %q", c.x, c.y, linesOf(g))
		}
		for y := range g.h {
			for x := range g.w {
				g.held[y][x] = true
			}
		}
		if g.label("name", 10, 5, false) {
			t.Error("a place where there is none")
		}
	}
}

// A scene in characters: each point in its row and column, full, hollow or of the front, the last over the others;
// numbers beside their rows and under their columns.
func TestSceneInCharacters(t *testing.T) {
	s := scene{
		x: axis{label: "time, min", max: 10}, y: axis{label: "punch", max: 3}, frontSays: "the front", fewSays: "a label",
		points: []point{
			{at: xy{5, 1.5}, label: "under", ink: inkQuiet, least: true}, // below the next, and a curve beside it
			{at: xy{2.1, 2.5}, label: "best", bold: true},
			{at: xy{8, 0.5}, label: "hollow", hollow: true, ink: inkOne},
			{at: xy{5, 1.5}, ink: inkOne},
			{at: xy{11, 1}, label: "outside", least: true},
		},
		curves: []curve{{line: []xy{{0, 1.1}, {10, 1.1}}, label: "line"}},
		rules:  []rule{{at: 4, label: "most"}},
	}
	// 40 columns of a quarter of a minute, 15 rows of a fifth: 2.1 min are in the ninth, a punch of 2.5 in the third.
	want := []string{
		"    punch",
		"    |           most :",
		"    |                :",
		"2.5 |        # best  :",
		"    |                :",
		"2.0 |                :",
		"    |                :",
		"    |                :",
		"1.5 |                :   # under",
		"    |                :                   line",
		"1.0 |........................................",
		"    |                :",
		"    |                :",
		"0.5 |                :               o hollow",
		"    |                :",
		"0.0 |                :",
		"    +----------------------------------------",
		"     0                   5",
		"     # the front, o a label         time, min",
	}
	if diff := cmp.Diff(want, s.text(45, ascii)); diff != "" {
		t.Errorf("-want +got:\n%s", diff)
	}
	// Without a hollow point there is nothing to explain; with bands the axes are those of the points alone.
	s.points = []point{{at: xy{2, 1}, label: "a", cross: &[4]float64{0, 9, 0, 3}}, {at: xy{3, 2}, label: "b"}, {at: xy{4, 1.5}}}
	s.curves, s.rules = nil, nil
	got := s.text(45, ascii)
	if last := got[len(got)-1]; strings.Contains(last, "front") || !strings.HasSuffix(last, "time, min") || len(last) != 45 {
		t.Errorf("%q", last)
	}
	// From 1.88 to 4.12 min and from 0.94 to 2.06: 6 % of the width at either end.
	if a, b := strings.Index(got[15], "* a"), strings.Index(got[1], "* b"); a != 5+2 || b != 5+20 {
		t.Errorf("at %d and %d:\n%s", a, b, strings.Join(got, "\n"))
	}
}
