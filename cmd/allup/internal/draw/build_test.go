package draw_test

import (
	"bytes"
	"fmt"
	"image"
	"image/png"
	"math"
	"os"
	"path/filepath"
	"regexp"
	"strings"
	"testing"

	"allup/catalog"
	"allup/cmd/allup/internal/draw"
	"allup/model"
	"allup/planner"
)

// ranked is a build of the demo, ranked.
func ranked(t *testing.T, name string) *planner.Ranking {
	t.Helper()
	cat, _, err := catalog.Load(catalog.Builtin())
	if err != nil {
		t.Fatal(err)
	}
	f, err := os.Open(filepath.Join("..", "..", "..", "..", "testdata", "builds", name+".toml"))
	if err != nil {
		t.Fatal(err)
	}
	defer f.Close()
	b, _, err := catalog.ReadBuild(name, f, cat)
	if err != nil {
		t.Fatal(err)
	}
	p, err := planner.Resolve(b)
	if err != nil {
		t.Fatal(err)
	}
	packs, err := planner.NewPackSet(cat)
	if err != nil {
		t.Fatal(err)
	}
	return p.Rank(packs, planner.RankOptions{})
}

// sized is the sizing of a ranked build.
func sized(t *testing.T, r *planner.Ranking) *planner.Sizing {
	t.Helper()
	packs, err := planner.NewPackSet(r.Plan.Build.Parts)
	if err != nil {
		t.Fatal(err)
	}
	z, err := r.Plan.Size(packs, planner.SizeOptions{})
	if err != nil {
		t.Fatal(err)
	}
	return z
}

// TestBuildDrawings holds that the drawings of the demo builds are well drawn on a page and on a phone: in particular
// that no text covers another, measured.
func TestBuildDrawings(t *testing.T) {
	for _, name := range []string{"stint", "curlew", "dunlin", "plover"} {
		r := ranked(t, name)
		for _, d := range []*draw.Drawing{draw.Mass(r.Plan.Weigh()), draw.Packs(r), draw.Flight(r.Plan, r.Ranked[:min(4, len(r.Ranked))]), draw.PackSize(sized(t, r), r)} {
			for _, width := range []float64{343, 760, 960} {
				t.Run(d.Name, func(t *testing.T) { wellDrawn(t, d, width) })
			}
		}
	}
}

// Every pack that suits is a mark where its flight time and punch are, read off the axes' own numbers.
func TestPacksAreWhereTheirFiguresAre(t *testing.T) {
	r := ranked(t, "stint")
	s := wellDrawn(t, draw.Packs(r), 760)
	x, y := s.scaleOf(t)
	tied := 0
	for i := range r.Ranked {
		if r.Ranked[i].Group == 1 {
			tied++
		}
	}
	if discs := strings.Count(draw.Packs(r).SVG(draw.Packs(r).At(760), "x"), `<path class="f group"`); tied < 2 || discs != tied {
		t.Errorf("%d pale discs, %d packs are in the first group", discs, tied)
	}
	byID := map[string]markBox{}
	for _, m := range s.marks {
		byID[m.id] = m
	}
	if len(byID) != len(r.Ranked) {
		t.Errorf("%d marks of %d packs", len(byID), len(r.Ranked))
	}
	for _, a := range r.Ranked {
		m, ok := byID[a.Pack.ID]
		if !ok {
			t.Errorf("%s has no mark", a.Pack.ID)
			continue
		}
		if got, want := x(m.x()), a.Duration().Minutes(); math.Abs(got-want) > 0.02 {
			t.Errorf("%s is drawn at %.3f min, want %.3f", a.Pack.ID, got, want)
		}
		if got, want := y(m.y()), a.PunchRatio(); math.Abs(got-want) > 0.05 {
			t.Errorf("%s is drawn at a punch of %.3f, want %.3f", a.Pack.ID, got, want)
		}
		if want := a.Pack.Basis == planner.BasisLabel; m.hollow != want {
			t.Errorf("%s is hollow: %v, by its label only: %v", a.Pack.ID, m.hollow, want)
		}
		if want := fmt.Sprintf(", group %d", a.Group); !strings.Contains(m.says, want) {
			t.Errorf("%s says %q, not its group %d", a.Pack.ID, m.says, a.Group)
		}
		if want := a.Front; strings.Contains(m.class, "one") != want {
			t.Errorf("%s is marked as front: %v, is on it: %v", a.Pack.ID, !want, want)
		}
	}
}

// The bar's parts are as long as they weigh, in their order, and end at the all-up mass.
func TestMassBarIsToScale(t *testing.T) {
	p := ranked(t, "stint").Plan
	w := p.Weigh()
	s := wellDrawn(t, draw.Mass(w), 760)
	var at []float64
	for _, a := range s.texts {
		if a.text == "0" || a.text == "200" {
			at = append(at, (a.x0+a.x1)/2)
		}
	}
	if len(at) != 2 {
		t.Fatalf("found %d of the axis' numbers 0 and 200", len(at))
	}
	perGram := (at[1] - at[0]) / 200
	if len(s.marks) != len(w.Items) {
		t.Fatalf("%d parts drawn of %d", len(s.marks), len(w.Items))
	}
	sum := 0.0
	for i, item := range w.Items {
		m := s.marks[i]
		from, to := (m.x0-at[0])/perGram, (m.x1-at[0])/perGram
		if math.Abs(from-sum) > 0.3 || math.Abs(to-from-item.Total().Grams()) > 0.3 {
			t.Errorf("%s is drawn from %.1f to %.1f g, weighs %.1f g from %.1f", item.ID, from, to, item.Total().Grams(), sum)
		}
		sum += item.Total().Grams()
	}
	if math.Abs(sum-239.0) > 0.05 { // as the README's weighing says
		t.Errorf("the bar is %.2f g long", sum)
	}
}

// The flights end where their times say, and the one that lands on its reserve says so.
func TestFlightEnds(t *testing.T) {
	r := ranked(t, "stint")
	s := wellDrawn(t, draw.Flight(r.Plan, r.Ranked[:3]), 760)
	x, _ := s.scaleOf(t)
	for _, m := range s.marks {
		if !strings.Contains(m.says, "lands") {
			continue
		}
		want := 0.0
		for _, a := range r.Ranked {
			if a.Pack.ID == m.id {
				want = a.Duration().Minutes()
			}
		}
		if got := x(m.x1); math.Abs(got-want) > 0.03 {
			t.Errorf("%s ends at %.2f min, want %.2f", m.id, got, want)
		}
	}
	if s.title != "sedge-650 lands after 8.0 min on its reserve of 20 %" {
		t.Errorf("title is %q", s.title)
	}
}

// Names from files are data in a drawing and in its file name.
func TestNamesAreData(t *testing.T) {
	r := ranked(t, "stint")
	r.Plan.Build.Name = "../../<script>alert(1)</script>\x00\u202e & \"x\"/.."
	r.Ranked[0].Pack.Pack = clone(r.Ranked[0].Pack.Pack)
	r.Ranked[0].Pack.ID = "a\"><img src=x>"
	allowed := regexp.MustCompile(`^[a-z0-9][a-z0-9._-]*$`)
	for _, d := range []*draw.Drawing{draw.Mass(r.Plan.Weigh()), draw.Packs(r), draw.Flight(r.Plan, r.Ranked[:2])} {
		if !allowed.MatchString(d.Name) || strings.Contains(d.Name, "..") || filepath.Base(d.Name) != d.Name {
			t.Errorf("file name %q can leave the folder", d.Name)
		}
		svg := d.File(d.At(760))
		if strings.Contains(svg, "<script") || strings.Contains(svg, "<img") || strings.ContainsRune(svg, 0) {
			t.Errorf("%s lets a name steer: %s", d.Name, svg)
		}
		look(t, svg)
	}
}

func clone[T any](p *T) *T { v := *p; return &v }

// A drawing as a picture has the size asked for, the theme's ground, and something on it.
func TestPNG(t *testing.T) {
	r := ranked(t, "stint")
	d := draw.Packs(r)
	for theme, ground := range map[draw.Theme]uint32{draw.Light: 0xfcfcfa, draw.Dark: 0x14181d} {
		var b bytes.Buffer
		if err := d.PNG(&b, draw.Size{Width: 960, Height: 540}, 2, theme); err != nil {
			t.Fatal(err)
		}
		img, err := png.Decode(&b)
		if err != nil {
			t.Fatal(err)
		}
		if img.Bounds() != image.Rect(0, 0, 1920, 1080) {
			t.Errorf("picture is %v", img.Bounds())
		}
		at := func(x, y int) uint32 {
			r, g, b, _ := img.At(x, y).RGBA()
			return r>>8<<16 | g>>8<<8 | b>>8
		}
		if at(1, 1) != ground {
			t.Errorf("ground is %06x, want %06x", at(1, 1), ground)
		}
		other := 0
		for x := range 1920 {
			for y := range 1080 {
				if at(x, y) != ground {
					other++
				}
			}
		}
		if other < 20000 || other > 400000 {
			t.Errorf("%d pixels are drawn on", other)
		}
	}
}

// A curve is thinned, and no point of it moved by more than half a pixel.
func TestThinnedCurveKeepsItsPlace(t *testing.T) {
	r := ranked(t, "curlew")
	best := r.Ranked[0]
	var all []model.Moment
	r.Plan.Drive.Trace(best.Circuit, best.Mass, r.Plan.MissionOn(best.Pack.Chemistry), func(m model.Moment) { all = append(all, m) })
	d := draw.Flight(r.Plan, r.Ranked[:1])
	svg := d.SVG(d.At(760), "x")
	s := look(t, svg)
	x, y := s.scaleOf(t)
	_, after, ok := strings.Cut(svg, `data-id="`+best.Pack.ID+`"`)
	if !ok {
		t.Fatal("no curve")
	}
	path := regexp.MustCompile(` d="([^"]*)"`).FindStringSubmatch(after)[1]
	line := places(t, path)
	if len(line) >= len(all) {
		t.Errorf("%d points drawn of %d", len(line), len(all))
	}
	// Back from values to places by the axes' own numbers.
	px := func(v float64) float64 { return (v - x(0)) / (x(1) - x(0)) }
	py := func(v float64) float64 { return (v - y(0)) / (y(1) - y(0)) }
	worst := 0.0
	for _, m := range all {
		p := [2]float64{px(m.Time.Minutes()), py(float64(m.Voltage) / float64(best.Pack.Cells))}
		near := math.Inf(1)
		for i := range line[1:] {
			near = min(near, toStretch(p, line[i], line[i+1]))
		}
		worst = max(worst, near)
	}
	if worst > 1 {
		t.Errorf("a point is %.2f px from the curve", worst)
	}
	t.Logf("%d of %d points drawn, none moved by more than %.2f px", len(line), len(all), worst)
}

func toStretch(p, a, b [2]float64) float64 {
	dx, dy := b[0]-a[0], b[1]-a[1]
	u := 0.0
	if l := dx*dx + dy*dy; l > 0 {
		u = min(max(((p[0]-a[0])*dx+(p[1]-a[1])*dy)/l, 0), 1)
	}
	return math.Hypot(p[0]-a[0]-u*dx, p[1]-a[1]-u*dy)
}
