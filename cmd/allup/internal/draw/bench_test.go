package draw_test

import (
	"math"
	"os"
	"path/filepath"
	"regexp"
	"strings"
	"testing"

	"allup/catalog"
	"allup/cmd/allup/internal/draw"
	"allup/planner"
	"allup/planner/tested"
)

// reduced is the demo bench.
func reduced(t *testing.T) []tested.ReducedPack {
	t.Helper()
	name := filepath.Join("..", "..", "..", "..", "testdata", "bench", "bench.toml")
	f, err := os.Open(name)
	if err != nil {
		t.Fatal(err)
	}
	defer f.Close()
	b, _, err := catalog.ReadBench(name, f)
	if err != nil {
		t.Fatal(err)
	}
	packs, err := tested.ReduceBench(b, catalog.BenchFS(name), nil, nil)
	if err != nil {
		t.Fatal(err)
	}
	return packs
}

func field(t *testing.T) *tested.Field {
	t.Helper()
	cat, _, err := catalog.Load(catalog.Builtin())
	if err != nil {
		t.Fatal(err)
	}
	packs, err := planner.NewPackSet(cat)
	if err != nil {
		t.Fatal(err)
	}
	return tested.CompareField(packs, tested.FieldOptions{})
}

// TestBenchDrawings holds that the drawings of the demo bench and field are well drawn.
func TestBenchDrawings(t *testing.T) {
	packs, f := reduced(t), field(t)
	all := []*draw.Drawing{
		draw.Discharges("bench", packs), draw.DischargeShares("bench", packs), draw.Labels("bench", draw.LabelsOfBench(packs)), draw.Labels("field", draw.LabelsOfField(f)),
	}
	for i := range packs {
		all = append(all, draw.Burst(&packs[i]), draw.Fit(&packs[i]))
	}
	for i := range f.Groups {
		all = append(all, draw.Field(&f.Groups[i]))
	}
	drawn := 0
	for _, d := range all {
		if d == nil {
			continue // a refused pack, a group of one
		}
		drawn++
		for _, width := range []float64{343, 760, 960} {
			t.Run(d.Name, func(t *testing.T) { wellDrawn(t, d, width) })
		}
	}
	if drawn < 4+2*6+3 {
		t.Errorf("%d drawings of the bench and the field", drawn)
	}
}

// Each discharge ends at the charge that its pack delivered, read off the axis.
func TestDischargesEndWhereTheyDeliver(t *testing.T) {
	packs := reduced(t)
	s := wellDrawn(t, draw.Discharges("bench", packs), 760)
	x, _ := s.scaleOf(t)
	want := map[string]float64{}
	for _, p := range packs {
		if p.Record != nil {
			want[p.Bench.ID] = p.Metrics.Capacity.MilliAmpHours()
		}
	}
	found := 0
	for _, m := range s.marks {
		if w, ok := want[m.id]; ok && strings.Contains(m.says, "delivers") {
			found++
			if got := x(m.x1); math.Abs(got-w) > 1.5 {
				t.Errorf("%s ends at %.1f mAh, delivered %.1f", m.id, got, w)
			}
		}
	}
	if found != len(want) || found != 6 {
		t.Errorf("%d curves of %d packs", found, len(want))
	}
}

// The burst's end is named with the current and power that the reduction found.
func TestBurstNamesItsEnd(t *testing.T) {
	for _, p := range reduced(t) {
		if p.Bench.ID != "sedge-650" {
			continue
		}
		s := wellDrawn(t, draw.Burst(&p), 760)
		for _, want := range []string{"48 A, 634 W", "burst end 3.30 V"} {
			if !hasText(s, want) {
				t.Errorf("no text %q", want)
			}
		}
		if s.title != "sedge-650 gives 634 W at 3.30 V per cell, 8.5 W/g" {
			t.Errorf("title is %q", s.title)
		}
	}
}

func hasText(s seen, text string) bool {
	for _, b := range s.texts {
		if b.text == text {
			return true
		}
	}
	return false
}

// Every pack of a group stands at its ratio to the median, in the row of its measure.
func TestFieldRatiosAreToScale(t *testing.T) {
	f := field(t)
	var g *tested.FieldGroup
	for i := range f.Groups {
		if g == nil || len(f.Groups[i].Packs) > len(g.Packs) {
			g = &f.Groups[i]
		}
	}
	s := wellDrawn(t, draw.Field(g), 760)
	var at, log []float64 // the axis is one of ratios: straight in their logarithm
	for _, a := range s.texts {
		if regexp.MustCompile(`^\d+(\.\d+)?$`).MatchString(a.text) && a.y0 > s.height-60 {
			at, log = append(at, (a.x0+a.x1)/2), append(log, math.Log(number(t, a.text)))
		}
	}
	n := len(at) - 1
	checked := 0
	says := regexp.MustCompile(`^(\S+): .* W/g, ([\d.]+) times`)
	for _, m := range s.marks {
		part := says.FindStringSubmatch(m.says)
		if part == nil {
			continue
		}
		got := math.Exp(log[0] + (m.x()-at[0])/(at[n]-at[0])*(log[n]-log[0]))
		for _, p := range g.Packs {
			if p.ID == m.id {
				checked++
				if want := p.Standings[tested.WPerGram].Ratio; math.Abs(got/want-1) > 0.005 {
					t.Errorf("%s is drawn at %.3f times the median of W/g, is %.3f", m.id, got, want)
				}
			}
		}
	}
	if checked != len(g.Packs) {
		t.Errorf("%d marks of W/g of %d packs", checked, len(g.Packs))
	}
}

// A swap's drawing says what grew and what fell.
func TestSwapDrawing(t *testing.T) {
	r := ranked(t, "stint")
	before := r.Plan.Build
	var changes []catalog.Change
	for _, text := range []string{"pack=bracken-720", "with=camera:12.5g"} {
		c, err := catalog.ParseChange(text)
		if err != nil {
			t.Fatal(err)
		}
		changes = append(changes, c)
	}
	after, _, err := before.Apply(changes)
	if err != nil {
		t.Fatal(err)
	}
	packs, err := planner.NewPackSet(before.Parts)
	if err != nil {
		t.Fatal(err)
	}
	w, err := planner.CompareSwap(before, after, packs)
	if err != nil {
		t.Fatal(err)
	}
	d := draw.Swap(w)
	for _, width := range []float64{343, 760} {
		s := wellDrawn(t, d, width)
		if !hasText(s, "239.0 to 259.7") || !hasText(s, "all-up g") {
			t.Errorf("no mass before and after in %v", s.texts)
		}
	}
	if !strings.Contains(d.Title, "+20.7 g") || !strings.Contains(d.Title, "OVER 250 g") {
		t.Errorf("title is %q", d.Title)
	}
}
