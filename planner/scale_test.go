package planner_test

import (
	"errors"
	"fmt"
	"math"
	"math/rand/v2"
	"slices"
	"strings"
	"testing"

	"github.com/google/go-cmp/cmp"
	"gonum.org/v1/gonum/floats/scalar"

	"allup/catalog"
	"allup/planner"
)

// Standard uncertainties of the example's masses, g: 3 % of a catalogue mass, rectangular (JCGM 100:2008, 4.3.7). The
// list adds up to 164.4 g, with the pack 238.4 g.
var (
	uDry  = 0.03 / math.Sqrt(3) * math.Sqrt(31*31+36.8*36.8+5.6*5.6+9*9+22*22+60*60)
	uPack = 0.03 / math.Sqrt(3) * 74
	uShow = 0.1 / math.Sqrt(3)
)

func disagrees(p *planner.Plan) bool {
	return slices.ContainsFunc(p.Warnings, func(r planner.Remark) bool { return r.Code == planner.ScaleDisagrees })
}

func near(t *testing.T, what string, got, want, within float64) {
	t.Helper()
	if !scalar.EqualWithinAbs(got, want, within) {
		t.Errorf("%s = %v, want %v", what, got, want)
	}
}

// TestScaleAgrees: 237.5 g on the scale. The difference of -0.9 g is the pack's and the other parts', by their
// variances.
func TestScaleAgrees(t *testing.T) {
	p := plan(t, parts(t, example), exampleBuild+"\n[scale]\nall_up_g = 237.5\npack = \"k\"\n")
	w := p.Weigh()
	s2 := uDry*uDry + uPack*uPack + uShow*uShow
	near(t, "sum, g", w.Sum.Grams(), 238.4, 1e-9)
	near(t, "all-up, g", w.Mass.Grams(), 238.4-0.9*(s2-uShow*uShow)/s2, 1e-9)
	near(t, "expanded uncertainty, g", w.Expanded.Grams(), 2*math.Sqrt((s2-uShow*uShow)*uShow*uShow/s2), 1e-9)
	near(t, "dry, g", w.Dry.Grams(), 164.4-0.9*uDry*uDry/s2, 1e-9)
	if disagrees(p) {
		t.Errorf("%v", p.Warnings)
	}
	r, ok := p.Reconcile()
	if !ok || len(r.Absent) > 0 {
		t.Fatalf("Reconcile = %+v, %v", r, ok)
	}
	near(t, "difference, g", r.Difference().Grams(), -0.9, 1e-9)
	near(t, "difference that the list allows, g", r.Allowed().Grams(), 2*math.Sqrt(s2), 1e-9)
	if h := r.Hiding[0]; h.ID != "k" {
		t.Errorf("most of the difference may hide in %s, want the pack", h.ID)
	}
	near(t, "the pack's share", r.Hiding[0].Share, uPack*uPack/(uDry*uDry+uPack*uPack), 1e-9)
	if first := w.WeighFirst(); len(first) > 0 {
		t.Errorf("the build was on the scale, and still its parts are to be weighed: %v", first)
	}
}

// TestScaleBeyondTheList: 245 g where the list explains 238.4 +- 3.8 g. The scale counts; another pack takes
// the place of the one that was on it.
func TestScaleBeyondTheList(t *testing.T) {
	other := "\n[pack.heavy]\nchemistry = \"lipo\"\ncells = 4\nrated_mah = 700\nmass_g = 80\nplug = \"xt30\"\nweighed = true\n"
	p := plan(t, parts(t, example+other), exampleBuild+"\n[scale]\nall_up_g = 245\npack = \"k\"\n")
	if !disagrees(p) {
		t.Errorf("no warning of a difference of 6.6 g: %v", p.Warnings)
	}
	w := p.Weigh()
	near(t, "all-up, g", w.Mass.Grams(), 245, 1e-9)
	near(t, "expanded uncertainty, g", w.Expanded.Grams(), 2*uShow, 1e-6)
	near(t, "dry, g", w.Dry.Grams(), 245-74, 1e-9)
	allUp, u := p.With(p.Build.Parts.Packs["heavy"])
	near(t, "all-up on another pack, g", allUp.Grams(), 245-74+80, 1e-9)
	near(t, "its uncertainty, g", u.Grams(), math.Sqrt(uPack*uPack+2*uShow*uShow), 1e-9)
	if got := p.Dry; math.Abs(float64(got-w.Dry)) > 1e-12 {
		t.Errorf("the plan's dry mass is %v, the weighing's %v", got, w.Dry)
	}
}

// TestWeighFirstBesideAScale: the dry build was on the scale, so only the pack is left to weigh. What that
// leaves is worked out with scale and list agreeing, or not, as they do now.
func TestWeighFirstBesideAScale(t *testing.T) {
	s2 := uDry*uDry + uShow*uShow
	for shown, uDryLeft := range map[string]float64{"165": uDry * uShow / math.Sqrt(s2), "185": uShow} {
		p := plan(t, parts(t, example), exampleBuild+"\n[scale]\ndry_g = "+shown+"\n")
		w := p.Weigh()
		first := w.WeighFirst()
		if len(first) != 1 || first[0].ID != "k" {
			t.Fatalf("%s g: to weigh first %v, want the pack alone", shown, first)
		}
		before, after := 2*math.Hypot(uPack, uDryLeft), 2*math.Hypot(uShow, uDryLeft)
		near(t, shown+" g shown: left, g", first[0].Left.Grams(), after, 1e-9)
		near(t, shown+" g shown: removed, g", first[0].Removes.Grams(), before-after, 1e-9)
	}
}

// TestScaleFindsWhatWasNotOnIt: the scale shows 22 g too little, which is the gear alone.
func TestScaleFindsWhatWasNotOnIt(t *testing.T) {
	p := plan(t, parts(t, example), exampleBuild+"\n[scale]\nall_up_g = 216.3\npack = \"k\"\n")
	r, _ := p.Reconcile()
	var ids []string
	for _, i := range r.Absent {
		ids = append(ids, i.ID)
	}
	if diff := cmp.Diff([]string{"g"}, ids); diff != "" {
		t.Errorf("not on the scale (-want +got):\n%s", diff)
	}
}

func TestScaleDry(t *testing.T) {
	p := plan(t, parts(t, example), exampleBuild+"\n[scale]\ndry_g = 165\n")
	w := p.Weigh()
	s2 := uDry*uDry + uShow*uShow
	near(t, "dry, g", w.Dry.Grams(), 164.4+0.6*uDry*uDry/s2, 1e-9)
	near(t, "all-up, g", w.Mass.Grams(), w.Dry.Grams()+74, 1e-9)
	near(t, "expanded uncertainty, g", w.Expanded.Grams(), 2*math.Sqrt(uPack*uPack+uDry*uDry*uShow*uShow/s2), 1e-9)
	if first := w.WeighFirst(); len(first) != 1 || first[0].ID != "k" {
		t.Errorf("to weigh first: %v, want the pack alone", first)
	}
}

// TestScaleCannotBe: 23.84 g is a slip of the decimal point.
func TestScaleCannotBe(t *testing.T) {
	b, _, err := catalog.ReadBuild("build.toml", strings.NewReader(exampleBuild+"\n[scale]\nall_up_g = 23.84\npack = \"k\"\n"), parts(t, example))
	if err != nil {
		t.Fatal(err)
	}
	_, err = planner.Resolve(b)
	faults, ok := errors.AsType[catalog.InputErrors](err)
	if !ok || !strings.Contains(faults.Error(), "scale.all_up_g: 23.84 is 0.10 times the 238.4 g that the list adds up to") {
		t.Errorf("Resolve = %v", err)
	}
}

// TestScaleInDraws draws every uncertain input and looks at the all-up masses: their spread is that which is
// stated, for the pack that was on the scale and for another, whether scale and list agree or not.
func TestScaleInDraws(t *testing.T) {
	other := "\n[pack.heavy]\nchemistry = \"lipo\"\ncells = 4\nrated_mah = 700\nmass_g = 80\nplug = \"xt30\"\n"
	for _, shown := range []string{"237.5", "245"} {
		p := plan(t, parts(t, example+other), exampleBuild+"\n[scale]\nall_up_g = "+shown+"\npack = \"k\"\n")
		random := rand.New(rand.NewPCG(11, 4))
		for _, id := range []string{"k", "heavy"} {
			pack := packOf(t, p, id)
			list := p.Uncertain(pack)
			var sum, square float64
			const draws = 4000
			mean, u := p.With(pack.Pack)
			for range draws {
				in := p.Bare()
				for _, x := range list {
					if x.Shared {
						x.Move(&in, x.Sigma*random.NormFloat64())
					}
				}
				in = p.At(pack, in)
				for _, x := range list {
					if !x.Shared && x.Input == planner.InputMass {
						x.Move(&in, x.Sigma*random.NormFloat64())
					}
				}
				d := (in.Mass - mean).Grams()
				sum, square = sum+d, square+d*d
			}
			got := math.Sqrt(square / draws)
			if math.Abs(sum/draws) > 5*u.Grams()/math.Sqrt(draws) || math.Abs(got/u.Grams()-1) > 0.06 {
				t.Errorf("%s g on the scale, pack %s: draws spread by %.4f g about %+.4f g, stated is %.4f g", shown, id, got, sum/draws, u.Grams())
			}
		}
	}
}

// TestScaleInASwap: what comes off the build takes its own mass off what the scale showed, and the pack on it stays.
func TestScaleInASwap(t *testing.T) {
	b, _, err := catalog.ReadBuild("build.toml", strings.NewReader(exampleBuild+"\n[weighed]\ng = 22\n[scale]\nall_up_g = 245\npack = \"k\"\n"), parts(t, example))
	if err != nil {
		t.Fatal(err)
	}
	after, _, err := b.Apply([]catalog.Change{{Op: catalog.OpRemove, Text: "without=g", ID: "g"}})
	if err != nil {
		t.Fatal(err)
	}
	s, err := planner.CompareSwap(b, after, packSet(t, b.Parts))
	if err != nil {
		t.Fatal(err)
	}
	near(t, "before, g", s.Before.Weighing.Mass.Grams(), 245, 1e-9)
	near(t, "after, g", s.After.Weighing.Mass.Grams(), 245-22, 1e-9)
	near(t, "uncertainty after, g", s.After.Weighing.Expanded.Grams(), 2*math.Sqrt(2)*uShow, 1e-6)
	near(t, "assessed, g", s.After.Flown.Mass.Grams(), 245-22, 1e-9)
}

// TestWeighFirst by hand: the expanded uncertainty of the example is 2 sqrt(sum of squares); weighed, the payload's
// 1.04 g become 0.058 g, the four motors' 0.64 g 0.058 g.
func TestWeighFirst(t *testing.T) {
	p := plan(t, parts(t, example), exampleBuild)
	w := p.Weigh()
	list := w.WeighFirst()
	var ids []string
	for _, i := range list {
		ids = append(ids, i.ID)
	}
	if diff := cmp.Diff([]string{"k", "payload", "m", "f", "g", "b"}, ids); diff != "" {
		t.Fatalf("order (-want +got):\n%s", diff)
	}
	all := uDry*uDry + uPack*uPack
	left := all - uPack*uPack + uShow*uShow
	near(t, "weighing the pack removes, g", list[0].Removes.Grams(), 2*math.Sqrt(all)-2*math.Sqrt(left), 1e-9)
	payload := 0.03 * 60 / math.Sqrt(3)
	left += uShow*uShow - payload*payload
	near(t, "after the payload, too, g", list[1].Left.Grams(), 2*math.Sqrt(left), 1e-9)
	motors := 0.03 * 36.8 / math.Sqrt(3)
	near(t, "weighing the motors removes, g", list[2].Removes.Grams(), 2*math.Sqrt(all)-2*math.Sqrt(all-motors*motors+uShow*uShow), 1e-9)
}

// TestScaleInWords: what a scale shows beside the list, with the list's own doubt, 2 sigma.
func TestScaleInWords(t *testing.T) {
	p := plan(t, parts(t, example), exampleBuild+"\n[scale]\nall_up_g = 245\npack = \"k\"\n")
	const want = "on the scale: 245.0 g, where the list adds up to 238.4 g +- 3.8 g (2 sigma): "
	if !slices.ContainsFunc(p.Warnings, func(r planner.Remark) bool {
		return r.Code == planner.ScaleDisagrees && strings.HasPrefix(r.Text, want)
	}) {
		t.Errorf("%v, want %q", p.Warnings, want)
	}
	// A mass that is known by a scale alone errs as that does, and not as its parts.
	near(t, "95 % of the all-up mass, g", p.SpreadWith(p.Pack).Quantile(0.95).Grams(), 1.6448536269514722*uShow, 1e-6)
}

// TestScaleBelieved: from 0.6 to 1.6 times the list a scale is believed, and what is beyond is told by its field. The
// list adds up to 164.4 g without the pack.
func TestScaleBelieved(t *testing.T) {
	for _, c := range []struct {
		scale, want string
	}{
		{"dry_g = 98.7", ""},
		{"dry_g = 98.612", "scale.dry_g: 98.612 is 0.60 times the 164.4 g that the list adds up to; allowed: 0.6 to 1.6 times"},
		{"dry_g = 263", ""},
		{"dry_g = 263.1", "scale.dry_g: 263.1 is 1.60 times the 164.4 g that the list adds up to"},
		{"all_up_g = 381.41\npack = \"k\"", ""},
		{"all_up_g = 23.8412\npack = \"k\"", "scale.all_up_g: 23.841 is 0.10 times the 238.4 g"},
	} {
		b, _, err := catalog.ReadBuild("build.toml", strings.NewReader(exampleBuild+"\n[scale]\n"+c.scale+"\n"), parts(t, example))
		if err != nil {
			t.Fatal(err)
		}
		_, err = planner.Resolve(b)
		if (err == nil) != (c.want == "") || err != nil && !strings.Contains(err.Error(), c.want) {
			t.Errorf("%s: %v, want %q", c.scale, err, c.want)
		}
	}
	if r, ok := plan(t, parts(t, example), exampleBuild).Reconcile(); ok || r.Scale != nil {
		t.Errorf("without a scale there is %v to reconcile", r)
	}
}

// TestAbsentAtTheEdge: everything is weighed, and the scale shows too little. What may not have been on it weighs that
// within 2 sigma of both and what the scale shows, 2 x 0.1 g x sqrt(2/3) + 0.1 g = 0.263 g, and more than five times
// 0.1 g.
func TestAbsentAtTheEdge(t *testing.T) {
	const weighed = "[weighed]\nf = 31\nm = 9.2\np = 1.4\nb = 9\ng = 22\nk = 74\npayload = 60\nclip = %s\n[extra.clip]\nmass_g = 1\n[scale]\nall_up_g = %s\npack = \"k\"\n"
	for _, c := range []struct {
		clip, shown string // the list is 238.4 g and the clip
		absent      bool
	}{
		{"0.5", "238.15", false}, // 0.75 g missing
		{"0.55", "238.2", true},
		{"1.0", "237.3", false}, // 2.1 g missing
		{"1.0", "238.14", true},
		{"1.0", "238.12", false},
		{"1.0", "238.66", true}, // 0.74 g missing, which is more than the list explains
		{"2.0", "237.9", false}, // 2.5 g missing
	} {
		p := plan(t, parts(t, example), exampleBuild+fmt.Sprintf(weighed, c.clip, c.shown))
		r, ok := p.Reconcile()
		absent := slices.ContainsFunc(r.Absent, func(i planner.Item) bool { return i.ID == "clip" })
		if !ok || !disagrees(p) || absent != c.absent {
			t.Errorf("a clip of %s g, %s g on the scale: disagrees %v, the clip may be absent %v, want %v", c.clip, c.shown, disagrees(p), absent, c.absent)
		}
	}
}

// TestWeighFirstLeavesOut: what removes less than a hundredth of a gram is not worth a scale. Weighing a board of b g
// removes about ((0.03 b)^2 - 0.1^2) / 3 over half of the expanded uncertainty, 1.9 g: 0.0110 g at 9 g, 0.0096 g at 8.5
// g.
func TestWeighFirstLeavesOut(t *testing.T) {
	for board, told := range map[string]bool{"9.0": true, "8.5": false} {
		w := plan(t, parts(t, strings.Replace(example, "[board.b]\nmass_g = 9.0", "[board.b]\nmass_g = "+board, 1)), exampleBuild).Weigh()
		if got := slices.ContainsFunc(w.WeighFirst(), func(i planner.ToWeigh) bool { return i.ID == "b" }); got != told {
			t.Errorf("a board of %s g is to be weighed: %v", board, got)
		}
	}
}
