package draw_test

import (
	"math"
	"regexp"
	"strconv"
	"strings"
	"testing"

	"allup/cmd/allup/internal/draw"
)

// A drawing in characters keeps to its width, to ASCII where it must, and names the packs that it must name.
func TestTextKeepsToItsTerminal(t *testing.T) {
	bench := reduced(t)
	for _, name := range []string{"stint", "curlew", "dunlin", "plover"} {
		r := ranked(t, name)
		best := r.Ranked[0].Pack.ID
		for _, tt := range []struct {
			d     *draw.Drawing
			words []string
		}{
			{draw.Mass(r.Plan.Weigh()), []string{"pack", "all-up", "limit"}},
			{draw.Packs(r), []string{best, "punch, times weight", " time, min"}},
			{draw.PackSize(sized(t, r), nil), []string{"median of the packs", "best fifth of the packs", "pack mass, g"}},
			{draw.Flight(r.Plan, r.Ranked[:2]), []string{best + ":", "landing voltage"}},
			{draw.Discharges("bench", bench[:2]), []string{"fescue-560 545 mAh", "bracken-600 569 mAh"}},
		} {
			for _, columns := range []int{80, 100, 120} {
				for _, utf8 := range []bool{false, true} {
					lines := tt.d.Text(columns, utf8)
					text := strings.Join(lines, "\n")
					for _, want := range tt.words {
						if !strings.Contains(text, want) {
							t.Errorf("%s at %d columns does not say %q:\n%s", tt.d.Name, columns, want, text)
						}
					}
					more := false
					for _, line := range lines {
						if n := len([]rune(line)); n > columns {
							t.Errorf("%s has a line of %d characters in %d columns", tt.d.Name, n, columns)
						}
						if line != strings.TrimRight(line, " ") {
							t.Errorf("%s has a line that ends in blanks", tt.d.Name)
						}
						more = more || strings.ContainsFunc(line, func(r rune) bool { return r > '~' })
					}
					if more != utf8 {
						t.Errorf("%s has more than ASCII: %v, may have: %v", tt.d.Name, more, utf8)
					}
				}
			}
		}
	}
	if got := draw.Field(&field(t).Groups[0]).Text(100, true); got != nil {
		t.Errorf("a drawing with names on its axis gives %q", got)
	}
}

// The best pack stands at its time and punch, read off the numbers of the axes to within a character.
func TestTextIsToScale(t *testing.T) {
	r := ranked(t, "stint")
	lines := draw.Packs(r).Text(110, false)
	var at [2]int
	rows := map[int]float64{}
	for y, line := range lines {
		const label = "sedge-650 (today's)"
		if x := strings.Index(line, "# "+label); x >= 0 {
			at = [2]int{x, y}
		}
		if x := strings.Index(line, label+" #"); x >= 0 {
			at = [2]int{x + len(label) + 1, y}
		}
		if m := regexp.MustCompile(`^ *(\d+) \|`).FindStringSubmatch(line); m != nil {
			rows[y] = number(t, m[1])
		}
	}
	foot := lines[len(lines)-2]
	var columns, times []float64
	for _, m := range regexp.MustCompile(`\S+`).FindAllStringIndex(foot, -1) {
		v, err := strconv.ParseFloat(foot[m[0]:m[1]], 64)
		if err != nil {
			t.Fatal(err)
		}
		columns, times = append(columns, float64(m[0]+(m[1]-m[0])/2)), append(times, v)
	}
	n := len(times) - 1
	if n < 3 || len(rows) < 2 || at == [2]int{} {
		t.Fatalf("axes have %d and %d numbers, the best is at %v", n+1, len(rows), at)
	}
	perColumn := (times[n] - times[0]) / (columns[n] - columns[0])
	if got, want := times[0]+(float64(at[0])-columns[0])*perColumn, r.Ranked[0].Duration().Minutes(); math.Abs(got-want) > 1.2*perColumn {
		t.Errorf("the best stands at %.2f min, flies %.2f", got, want)
	}
	top, bottom := len(lines), 0
	for y := range rows {
		top, bottom = min(top, y), max(bottom, y)
	}
	perRow := (rows[top] - rows[bottom]) / float64(bottom-top)
	if got, want := rows[bottom]+float64(bottom-at[1])*perRow, r.Ranked[0].PunchRatio(); math.Abs(got-want) > 1.2*perRow {
		t.Errorf("the best stands at a punch of %.2f, has %.2f", got, want)
	}
}

// The bar's parts are as long as they weigh, to within a character.
func TestTextBarIsToScale(t *testing.T) {
	w := ranked(t, "stint").Plan.Weigh()
	lines := draw.Mass(w).Text(101, false)
	bar := lines[2]
	perGram := 100 / w.Plan.Build.Limit.Mass.Grams()
	if got, want := float64(strings.Count(bar, "#")), 74.2*perGram; math.Abs(got-want) > 1 { // the pack, as the README's weighing says
		t.Errorf("the pack is %v characters long, want %.1f:\n%s", got, want, bar)
	}
	if got, want := float64(strings.LastIndex(bar, "#")+1), 239.0*perGram; math.Abs(got-want) > 1 {
		t.Errorf("the bar is %v characters long, want %.1f", got, want)
	}
	if strings.LastIndex(bar, "|") != 100 {
		t.Errorf("the limit is not at the end of %q", bar)
	}
}
