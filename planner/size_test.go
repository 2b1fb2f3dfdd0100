package planner_test

import (
	"errors"
	"fmt"
	"math"
	"strings"
	"testing"

	"allup/catalog"
	"allup/model"
	"allup/planner"
)

// logged is a pack of one family: its mass, its charge and its resistance go with its rated capacity. size is in mm.
func logged(id, chemistry string, cells int, rated float64, size string) string {
	mass := float64(cells) / 4 * (8 + 0.1*rated)
	text := fmt.Sprintf("[pack.%s]\nchemistry = %q\ncells = %d\nrated_mah = %g\nmass_g = %.3f\nplug = \"xt30\"\n", id, chemistry, cells, rated, mass)
	if size != "" {
		text += "size_mm = " + size + "\n"
	}
	return text + fmt.Sprintf("circuit = { capacity_mah = %g, r0_mohm = %.3f, r1_mohm = %.3f, tau_s = 20 }\n", 0.97*rated, 24000/rated, 12000/rated)
}

// loggedField is packs of one family from 400 mAh on in steps of 100.
func loggedField(chemistry string, cells, n int, size string) string {
	var text strings.Builder
	for i := range n {
		text.WriteString(logged(fmt.Sprintf("%s%d-%d", chemistry, cells, i), chemistry, cells, 400+100*float64(i), size))
	}
	return text.String()
}

// unpacked is the example's parts without its pack, and its build without one.
var (
	unpacked      = strings.Split(example, "[pack.k]")[0]
	unpackedBuild = strings.Replace(exampleBuild, "pack = \"k\"\n", "", 1)
)

func size(t *testing.T, p *planner.Plan, o planner.SizeOptions) *planner.Sizing {
	t.Helper()
	s, err := p.Size(packSet(t, p.Build.Parts), o)
	if err != nil {
		t.Fatal(err)
	}
	return s
}

// TestSizeChooses: cells and chemistry are those that are asked for, else those of today's pack, else those that most
// tested packs have among what the build takes; of as many the more cells, and of these the first chemistry by name.
func TestSizeChooses(t *testing.T) {
	const label = "[pack.%s]\nchemistry = %q\ncells = %d\nrated_mah = 600\nmass_g = 66\n"
	three, four, hybrid := loggedField("lipo", 3, 2, ""), loggedField("lipo", 4, 2, ""), loggedField("lihv", 4, 2, "")
	labels, doubts := "", ""
	for i := range 4 {
		labels += fmt.Sprintf(label, fmt.Sprint("label", i), "lihv", 3)
		id := fmt.Sprint("odd", i)
		doubts += logged(id, "lihv", 3, 600+float64(i), "") + fmt.Sprintf("[pack.%s.tested]\ncapacity_mah = 300\nburst_power_w = 5000\n", id)
	}
	with := func(pack string) string { return strings.Replace(exampleBuild, `pack = "k"`, `pack = "`+pack+`"`, 1) }
	for _, c := range []struct {
		what, packs, build string
		options            planner.SizeOptions
		cells              int
		chemistry          model.Chemistry
		fails              string
	}{
		{"most", three + four + logged("more", "lipo", 3, 900, ""), unpackedBuild, planner.SizeOptions{}, 3, model.LiPo, ""},
		{"as many, more cells", three + four, unpackedBuild, planner.SizeOptions{}, 4, model.LiPo, ""},
		{"as many, first by name", hybrid + four, unpackedBuild, planner.SizeOptions{}, 4, model.LiHV, ""},
		{"as many, first by name, in fewer cells", loggedField("lihv", 3, 2, "") + four, unpackedBuild, planner.SizeOptions{}, 4, model.LiPo, ""},
		{"as many, first by name, though it is seen later", four + logged("z0", "lihv", 4, 500, "") + logged("z1", "lihv", 4, 600, ""), unpackedBuild, planner.SizeOptions{}, 4, model.LiHV, ""},
		{"as many, more cells, though others are seen later", four + logged("z0", "lihv", 3, 500, "") + logged("z1", "lihv", 3, 600, ""), unpackedBuild, planner.SizeOptions{}, 4, model.LiPo, ""},
		{"labels do not count", labels + four, unpackedBuild, planner.SizeOptions{}, 4, model.LiPo, ""},
		{"doubts do not count", doubts + four, unpackedBuild, planner.SizeOptions{}, 4, model.LiPo, ""},
		{"today's", three + logged("more", "lipo", 3, 900, "") + hybrid + four, with("lihv4-0"), planner.SizeOptions{}, 4, model.LiHV, ""},
		{"today's, known by its label", four + loggedField("lihv", 4, 3, "") + fmt.Sprintf(label, "label", "lipo", 4), with("label"), planner.SizeOptions{}, 4, model.LiPo, ""},
		{"today's cells, another chemistry", hybrid + four, with("lipo4-0"), planner.SizeOptions{Chemistry: model.LiHV}, 4, model.LiHV, ""},
		{"other cells than today's", three + four + loggedField("lihv", 3, 3, ""), with("lipo4-0"), planner.SizeOptions{Cells: 3}, 3, model.LiHV, ""},
		{"today's cells, asked for", loggedField("lihv", 4, 3, "") + four, with("lipo4-0"), planner.SizeOptions{Cells: 4}, 4, model.LiPo, ""},
		{"a chemistry that is asked for", three + hybrid, unpackedBuild, planner.SizeOptions{Chemistry: model.LiPo}, 3, model.LiPo, ""},
		{"what the build takes", three + logged("more", "lipo", 3, 900, "") + four, unpackedBuild + "[packs]\ncells = [4]\n", planner.SizeOptions{}, 4, model.LiPo, ""},
		{"asked for, though the build does not take it", three + four, unpackedBuild + "[packs]\ncells = [4]\n", planner.SizeOptions{Cells: 3}, 3, model.LiPo, ""},
		{"a chemistry that the build takes", loggedField("lihv", 4, 3, "") + four, unpackedBuild + "[packs]\nchemistry = [\"lipo\"]\n", planner.SizeOptions{}, 4, model.LiPo, ""},
		{"a chemistry asked for, though the build does not take it", hybrid + four, unpackedBuild + "[packs]\nchemistry = [\"lipo\"]\n", planner.SizeOptions{Chemistry: model.LiHV}, 4, model.LiHV, ""},
		{"one is enough", logged("one", "lipo", 4, 600, ""), unpackedBuild, planner.SizeOptions{}, 4, model.LiPo, ""},
		{"none", labels, unpackedBuild, planner.SizeOptions{}, 0, "", "no tested pack in the catalogue"},
		{"none of cells", four, unpackedBuild, planner.SizeOptions{Cells: 1}, 0, "", "no tested pack of 1 cells in the catalogue"},
		{"none of a chemistry", four, unpackedBuild, planner.SizeOptions{Chemistry: model.LiHV}, 0, "", "no tested pack of chemistry lihv in the catalogue"},
	} {
		t.Run(c.what, func(t *testing.T) {
			p := plan(t, parts(t, unpacked, c.packs), c.build)
			s, err := p.Size(packSet(t, p.Build.Parts), c.options)
			if c.fails != "" {
				if fault, ok := errors.AsType[catalog.InputError](err); !ok || !strings.HasPrefix(fault.Msg, c.fails) {
					t.Errorf("%v, want %q", err, c.fails)
				}
				return
			}
			if err != nil {
				t.Fatal(err)
			}
			if s.Cells != c.cells || s.Chemistry != c.chemistry {
				t.Errorf("%d cells of %s, want %d of %s", s.Cells, s.Chemistry, c.cells, c.chemistry)
			}
		})
	}
}

// TestSizeMembers: a family is made of the tested packs of the kind alone, and its best fifth of one at the least.
func TestSizeMembers(t *testing.T) {
	others := loggedField("lihv", 4, 1, "") + logged("three", "lipo", 3, 2000, "") + logged("odd", "lipo", 4, 3000, "") +
		"[pack.odd.tested]\ncapacity_mah = 300\nburst_power_w = 5000\n[pack.label]\nchemistry = \"lipo\"\ncells = 4\nrated_mah = 200\nmass_g = 20\n"
	for n, best := range map[int]int{1: 1, 2: 1, 4: 1, 5: 1, 7: 1, 8: 2, 13: 3} {
		p := plan(t, parts(t, unpacked, loggedField("lipo", 4, n, ""), others), unpackedBuild)
		s := size(t, p, planner.SizeOptions{Cells: 4, Chemistry: model.LiPo})
		if s.Families[0].Members != n || s.Families[1].Members != best {
			t.Errorf("%d packs: families of %d and %d, want %d and %d", n, s.Families[0].Members, s.Families[1].Members, n, best)
		}
		near(t, "the lightest, g", s.Lightest.Grams(), 48, 1e-9)
		near(t, "the heaviest, g", s.Heaviest.Grams(), 48+10*float64(n-1), 1e-9)
		few := ""
		for _, r := range s.Remarks {
			if r.Code == planner.FewMembers {
				few = r.Text
			}
		}
		if want := fmt.Sprintf("only %d tested packs of lipo, 4 cells:", n); n > 1 && strings.HasPrefix(few, want) != (n < 5) {
			t.Errorf("%d packs: %q is said", n, few)
		}
	}
}

// TestSizeMost: the heaviest pack is what limit and spare leave of 250 g beside 164.4 g, just below a limit that is to
// be kept below; or the build's greatest pack mass; or what the bay holds of packs that are as dense as the middle one.
func TestSizeMost(t *testing.T) {
	dense := func(size ...string) string { // of 68 g each
		text := ""
		for i, s := range size {
			text += logged(fmt.Sprint("d", i), "lipo", 4, 600, s)
		}
		return text
	}
	rule := func(text string) string { return strings.Replace(unpackedBuild, "mass_g = 250", text, 1) }
	const small, middle, large = "[50, 20, 20]", "[60, 25, 20]", "[65, 35, 25]" // 20, 30 and 56.875 ml
	bay := 68 / 30. * 70 * 35 * 30 / 1000
	for _, c := range []struct {
		what, packs, build string
		most               float64
		binds              planner.Bind
	}{
		{"below the limit", dense(""), rule("mass_g = 250"), 85.599, planner.BindsLimit},
		{"at the limit", dense(""), rule("mass_g = 250\ninclusive = true"), 85.6, planner.BindsLimit},
		{"with a spare", dense(""), rule("mass_g = 250\nspare_g = 3"), 82.599, planner.BindsLimit},
		{"the build's greatest", dense(""), rule("mass_g = 250") + "[packs]\nmax_mass_g = 80\n", 80, planner.BindsPackMass},
		{"a greatest beyond the limit", dense(""), rule("mass_g = 250") + "[packs]\nmax_mass_g = 90\n", 85.599, planner.BindsLimit},
		{"the bay", dense(large, middle, small), rule("mass_g = 500"), bay, planner.BindsBay},
		{"the bay, the sizes of some", dense("", small, "", middle, large, "[40, 20, 20]", "[80, 40, 25]"), rule("mass_g = 500"), bay, planner.BindsBay},
		{"the bay, one size", dense("", middle), rule("mass_g = 500"), bay, planner.BindsBay},
		{"a bay beyond the limit", dense(large, middle, small), rule("mass_g = 250"), 85.599, planner.BindsLimit},
		{"a bay beyond the greatest", dense(large, middle, small), rule("mass_g = 500") + "[packs]\nmax_mass_g = 80\n", 80, planner.BindsPackMass},
		{"a bay, no sizes", dense("", ""), rule("mass_g = 500"), 335.599, planner.BindsLimit},
		{"no bay", dense(small), strings.Replace(rule("mass_g = 500"), `frame = "f"`, `frame = "open"`, 1), 335.599, planner.BindsLimit},
	} {
		open := "[frame.open]\nmass_g = 31\nrotors = 4\nthrust_loss = 0.02\n"
		s := size(t, plan(t, parts(t, unpacked, open, c.packs), c.build), planner.SizeOptions{})
		near(t, c.what+": most, g", s.Most.Grams(), c.most, 1e-9)
		if s.MostBinds != c.binds {
			t.Errorf("%s: bound by %s, want %s", c.what, s.MostBinds, c.binds)
		}
	}
}

// TestSizeUnderRules: the best size is at what binds it, flies longer than any other of its curve that the rules leave,
// and no longer than the best of all.
func TestSizeUnderRules(t *testing.T) {
	field := loggedField("lipo", 4, 8, "")
	rule := func(text string) string { return strings.Replace(unpackedBuild, "mass_g = 250", text, 1) }
	for _, c := range []struct {
		what, build string
		options     planner.SizeOptions
		binds       planner.Bind
		none        string // why there is no size
	}{
		{"limit", rule("mass_g = 250"), planner.SizeOptions{}, planner.BindsLimit, ""},
		{"greatest", rule("mass_g = 250") + "[packs]\nmax_mass_g = 70\n", planner.SizeOptions{}, planner.BindsPackMass, ""},
		{"nothing", rule("mass_g = 900"), planner.SizeOptions{}, planner.BindsNothing, ""},
		{"punch", rule("mass_g = 900"), planner.SizeOptions{LeastPunch: 7}, planner.BindsPunch, ""},
		{"a punch that all have", rule("mass_g = 900"), planner.SizeOptions{LeastPunch: 1}, planner.BindsNothing, ""},
		{"no punch", rule("mass_g = 900"), planner.SizeOptions{LeastPunch: 60.5}, "", "no size flies with a punch of 60.5 times the weight, for the median of the packs"},
		{"nothing left", rule("mass_g = 160"), planner.SizeOptions{}, "", "the build without a pack leaves nothing under the limit, for the median of the packs"},
		{"too little left", rule("mass_g = 165"), planner.SizeOptions{}, "", "no size flies, for the median of the packs"},
	} {
		t.Run(c.what, func(t *testing.T) {
			s := size(t, plan(t, parts(t, unpacked, field), c.build), c.options)
			f := &s.Families[0]
			if f.AtBound || f.Free.Time <= 0 || f.Hover != nil {
				t.Errorf("free %+v, at the end of what was looked at %v, in hover %v", f.Free, f.AtBound, f.Hover)
			}
			for _, x := range f.Curve {
				if x.Time > f.Free.Time {
					t.Errorf("a pack of %v g flies %v s, the best of all %v s", x.Pack.Grams(), float64(x.Time), float64(f.Free.Time))
				}
			}
			if c.none != "" {
				if f.Limited != nil || f.Binds != "" || len(s.Remarks) == 0 || s.Remarks[0].Code != planner.NoSize || s.Remarks[0].Text != c.none {
					t.Errorf("%+v, said %v, want %q", f.Limited, s.Remarks, c.none)
				}
				return
			}
			if f.Limited == nil || f.Binds != c.binds || len(s.Remarks) > 0 {
				t.Fatalf("%+v bound by %s, said %v, want %s", f.Limited, f.Binds, s.Remarks, c.binds)
			}
			for _, x := range f.Curve {
				if x.Time > f.Limited.Time && x.Pack <= s.Most && x.Punch >= c.options.LeastPunch {
					t.Errorf("a pack of %v g flies %v s, the best under the rules %v s", x.Pack.Grams(), float64(x.Time), float64(f.Limited.Time))
				}
			}
			switch c.binds {
			case planner.BindsLimit, planner.BindsPackMass:
				near(t, "the best pack, g", f.Limited.Pack.Grams(), s.Most.Grams(), 1e-6)
			case planner.BindsPunch:
				near(t, "its punch", f.Limited.Punch, c.options.LeastPunch, 0.02)
			case planner.BindsNothing:
				near(t, "the best pack, g", f.Limited.Pack.Grams(), f.Free.Pack.Grams(), 0.01*f.Free.Pack.Grams())
			}
			near(t, "all-up, g", f.Limited.Mass.Grams(), 164.4+f.Limited.Pack.Grams(), 1e-9)
		})
	}
}

// TestSizeWorth: what a gram is worth is how the time of the mission changes with it, by two flights a gram apart; in
// hover beside that where the mission is phases. A gram of dead mass costs the more.
func TestSizeWorth(t *testing.T) {
	field := loggedField("lipo", 4, 8, "")
	for _, flight := range []string{"", "[flight]\nphases = [{ seconds = 20, thrust = 1.2 }]\n"} {
		p := plan(t, parts(t, unpacked, field), unpackedBuild+flight)
		s := size(t, p, planner.SizeOptions{})
		f := &s.Families[0]
		mission := p.MissionOn(model.LiPo)
		time := func(m model.Mission, pack, dead model.Mass) float64 {
			in := p.Bare()
			a := in.Drive.Answer(p.At(&planner.Pack{Pack: &catalog.Pack{}, Circuit: f.Family.Circuit(pack)}, in).Circuit, p.Dry+pack+dead, m)
			return float64(a.Duration())
		}
		check := func(what string, m model.Mission, w planner.GramWorth) {
			t.Helper()
			at, half := f.Limited.Pack, model.Gram/2
			near(t, what+": a gram of dead mass, s", float64(w.Dead), time(m, at, half)-time(m, at, -half), 0.02)
			near(t, what+": a gram of pack, s", float64(w.Pack), time(m, at+half, 0)-time(m, at-half, 0), 0.05)
			for name, band := range map[string]struct {
				planner.Interval
				of float64
			}{"dead": {w.DeadBand, float64(w.Dead)}, "pack": {w.PackBand, float64(w.Pack)}, "time": {w.TimeBand, time(m, at, 0)}} {
				if !(band.Low < band.of && band.of < band.High) {
					t.Errorf("%s: a band of %s %v about %v", what, name, band.Interval, band.of)
				}
			}
			if !(w.Dead < 0 && w.Dead < w.Pack) {
				t.Errorf("%s: a gram of dead mass is worth %v s, of pack %v s", what, float64(w.Dead), float64(w.Pack))
			}
		}
		check("mission", mission, f.Worth)
		if (f.Hover != nil) != (flight != "") {
			t.Fatalf("%q: in hover %v", flight, f.Hover)
		}
		if f.Hover != nil {
			mission.Phases = nil
			check("hover", mission, *f.Hover)
		}
	}
}

// TestSizeNearest: tested packs that suit the build, at most five, the nearest to the best size first.
func TestSizeNearest(t *testing.T) {
	field := loggedField("lipo", 4, 12, "") // 48 g to 158 g
	for _, c := range []struct {
		what, build string
		options     planner.SizeOptions
		want        int
	}{
		{"under a limit", unpackedBuild, planner.SizeOptions{}, 4}, // of 48 to 78 g
		{"under none", strings.Replace(unpackedBuild, "mass_g = 250", "mass_g = 900", 1), planner.SizeOptions{}, 5},
		{"of those that are asked for", unpackedBuild + "[packs]\nonly = [\"lipo4-0\", \"lipo4-2\"]\n", planner.SizeOptions{}, 2},
		{"with a punch", unpackedBuild, planner.SizeOptions{LeastPunch: 60}, 0},
	} {
		s := size(t, plan(t, parts(t, unpacked, field), c.build), c.options)
		target := s.Families[0].Free.Pack
		if l := s.Families[0].Limited; l != nil {
			target = l.Pack
		}
		if len(s.Nearest) != c.want {
			t.Errorf("%s: %d packs, want %d", c.what, len(s.Nearest), c.want)
		}
		for i, a := range s.Nearest {
			if !a.Eligible() || i > 0 && math.Abs(float64(a.PackMass-target)) < math.Abs(float64(s.Nearest[i-1].PackMass-target)) {
				t.Errorf("%s: number %d is %s of %v g, the best size %v g", c.what, i+1, a.Pack.ID, a.PackMass.Grams(), target.Grams())
			}
		}
	}
}

// TestSizeCurveBegins: the curve begins with the smallest pack that flies at all, for however short a time: with hardly
// any charge to use it has the same packs as with nearly all. The landing voltage is such that the first one just meets
// it.
func TestSizeCurveBegins(t *testing.T) {
	curve := func(reserve string) []planner.Sized {
		text := loggedField("lipo", 4, 12, "")
		heavy := strings.NewReplacer("mass_g = 60", "mass_g = 200", "mass_g = 250", "mass_g = 500").Replace(exampleBuild)
		s := size(t, plan(t, parts(t, example, text), heavy+"[flight]\nland_v_per_cell = 3.6\nreserve = "+reserve+"\npunch_charge = 1\n"), planner.SizeOptions{})
		return s.Families[0].Curve
	}
	most, least := curve("0.1"), curve("0.9")
	if len(least) != len(most) || least[0].Pack != most[0].Pack || !(least[0].Time > 0) || least[0].Time >= 1 {
		t.Errorf("%d points from %.2f g and %.2f s with little to use, %d from %.2f g with nearly all", len(least), least[0].Pack.Grams(), float64(least[0].Time), len(most), most[0].Pack.Grams())
	}
}
