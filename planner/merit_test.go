package planner_test

import (
	"fmt"
	"math"
	"math/rand/v2"
	"slices"
	"strings"
	"testing"

	"gonum.org/v1/gonum/floats/scalar"

	"allup/catalog"
	"allup/model"
	"allup/planner"
)

// priced is the example build with its pack priced in euros, and a goal that weighs price.
const pricedBuild = exampleBuild + "[goal]\ntime = 2\npunch = 1\nprice = 1\n"

// strangePack is a record with what records often lack left out: a test, a price, its currency's fellows.
func strangePack(id string, rng *rand.Rand) string {
	rated := 350 + 50*float64(rng.IntN(10))
	mass := rated * (0.10 + 0.04*rng.Float64())
	chemistry := []string{"lipo", "lipo", "lihv"}[rng.IntN(3)]
	cells := []int{4, 4, 4, 3}[rng.IntN(4)]
	text := fmt.Sprintf("[pack.%s]\nchemistry = %q\ncells = %d\nrated_mah = %.0f\nmass_g = %.1f\n", id, chemistry, cells, rated, mass*float64(cells)/4)
	if rng.IntN(3) > 0 {
		text += fmt.Sprintf("price = %.2f\ncurrency = %q\n", 5+25*rng.Float64(), []string{"EUR", "EUR", "USD", "CAD"}[rng.IntN(4)])
	}
	if rng.IntN(3) > 0 {
		text += fmt.Sprintf("[pack.%s.tested]\ncapacity_mah = %.0f\nmid_voltage_v = %.2f\nburst_power_w = %.0f\n",
			id, rated*(0.9+0.1*rng.Float64()), (3.55+0.12*rng.Float64())*float64(cells), mass*(4+5*rng.Float64())*float64(cells)/4)
	}
	return text
}

// TestNoThirdPack: a pack that comes or goes swaps no two others, over 1,000 random catalogues with tests,
// prices and currencies missing. There is one thing that a third pack may say of another: the test of a pack of
// its chemistry, cells and like size is evidence about one that is known by its label only, whose place may
// follow it.
func TestNoThirdPack(t *testing.T) {
	rng := rand.New(rand.NewPCG(11, 1))
	pairs, swapped, evident := 0, 0, 0
	trials := 1000
	if testing.Short() {
		trials /= 5
	}
	for trial := range trials {
		texts := make([]string, 6)
		for i := range texts {
			texts[i] = strangePack(fmt.Sprintf("t%d", i), rng)
		}
		today := example
		if rng.IntN(2) == 0 {
			today = strings.Replace(example, "plug = \"xt30\"\n", "plug = \"xt30\"\nprice = 20\ncurrency = \"EUR\"\n", 1)
		}
		goal := fmt.Sprintf("[goal]\ntime = 2\npunch = %d\nprice = %d\n", rng.IntN(3), rng.IntN(3))
		if rng.IntN(3) == 0 {
			goal += "currency = \"USD\"\n"
		}
		gone := rng.IntN(len(texts))
		full := places(t, append([]string{today}, texts...), exampleBuild+goal)
		left := places(t, append([]string{today}, slices.Delete(slices.Clone(texts), gone, gone+1)...), exampleBuild+goal)
		removed := full.pack(t, fmt.Sprintf("t%d", gone))
		for i, a := range left.order {
			for _, b := range left.order[i+1:] {
				pairs++
				if slices.Index(full.order, a) < slices.Index(full.order, b) {
					continue
				}
				if tells(removed, full.pack(t, a)) || tells(removed, full.pack(t, b)) {
					evident++
					continue
				}
				swapped++
				t.Errorf("catalogue %d: without %s %s stands before %s, with it behind", trial, removed.ID, a, b)
			}
		}
	}
	t.Logf("%d pairs, %d swapped, %d of packs known by their labels moved by the test of a like pack", pairs, swapped, evident)
	if pairs < 5*trials || evident == 0 || evident > pairs/100 {
		t.Errorf("%d pairs, %d moved by evidence: the catalogues do not try what they should", pairs, evident)
	}
}

// tells reports whether one pack's test is evidence about another that is known by its label only.
func tells(tested, label *planner.Pack) bool {
	ratio := float64(tested.Rated / label.Rated)
	return label.Basis == planner.BasisLabel && tested.Basis != planner.BasisLabel && tested.Chemistry == label.Chemistry && tested.Cells == label.Cells &&
		ratio <= 1.5 && ratio >= 1/1.5
}

type placed struct {
	order []string
	packs []planner.Assessment
}

func (p placed) pack(t *testing.T, id string) *planner.Pack {
	t.Helper()
	for i := range p.packs {
		if p.packs[i].Pack.ID == id {
			return p.packs[i].Pack
		}
	}
	t.Fatalf("no pack %s", id)
	return nil
}

func places(t *testing.T, records []string, build string) placed {
	t.Helper()
	cat := parts(t, strings.Join(records, "\n"))
	p := plan(t, cat, build)
	r := p.Rank(packSet(t, cat), planner.RankOptions{NoBands: true})
	out := placed{packs: slices.Concat(r.Ranked, r.Excluded)}
	for _, a := range r.Ranked {
		out.order = append(out.order, a.Pack.ID)
	}
	return out
}

// TestMeritByHand: minutes squared times punch, cubic root; with a price, minutes per euro, too.
func TestMeritByHand(t *testing.T) {
	p := plan(t, parts(t, example), exampleBuild)
	price := 20.0
	pack := &catalog.Pack{Common: catalog.Common{Price: &price, Currency: "EUR"}}
	if got, want := p.Merit(9*model.Minute, 8, pack).Value, math.Cbrt(9*9*8); !scalar.EqualWithinRel(got, want, 1e-12) {
		t.Errorf("9 min and a punch of 8 have a merit of %v, want %v", got, want)
	}
	p = plan(t, parts(t, example), pricedBuild+"currency = \"EUR\"\n")
	if got, want := p.Merit(9*model.Minute, 8, pack), math.Pow(9*9*8*9/20., 1./4); !got.Priced || !scalar.EqualWithinRel(got.Value, want, 1e-12) {
		t.Errorf("at 20 EUR they have %+v, want %v", got, want)
	}
	pack.Currency = "USD"
	if got := p.Merit(9*model.Minute, 8, pack); got.Priced {
		t.Errorf("a price in dollars counts in euros: %+v", got)
	}
}

// TestPriceCounts: in the currency of the goal or of today's pack, and in none where nobody says which. What
// has no price stands behind what has one, and says so.
func TestPriceCounts(t *testing.T) {
	dear := "[pack.dear]\nchemistry = \"lipo\"\ncells = 4\nrated_mah = 650\nmass_g = 74\nplug = \"xt30\"\nprice = 90\ncurrency = \"EUR\"\n"
	free := strings.NewReplacer("pack.dear", "pack.unpriced", "price = 90\ncurrency = \"EUR\"\n", "").Replace(dear)
	cheap := strings.NewReplacer("pack.dear", "pack.cheap", "= 90", "= 9").Replace(dear)
	today := strings.Replace(example, "plug = \"xt30\"\n", "plug = \"xt30\"\nprice = 20\ncurrency = \"EUR\"\n", 1)
	for _, c := range []struct {
		name, build, today, want string
		told                     bool // that the currency is not known
	}{
		{"of the goal", pricedBuild + "currency = \"EUR\"\n", example, "cheap dear k unpriced", false},
		{"of today's pack", pricedBuild, today, "cheap k dear unpriced", false},
		{"of nobody", pricedBuild, example, "k cheap dear unpriced", true},
		{"another", pricedBuild + "currency = \"USD\"\n", today, "k cheap dear unpriced", false},
	} {
		t.Run(c.name, func(t *testing.T) {
			p := plan(t, parts(t, c.today, dear, free, cheap), c.build)
			r := rank(t, p)
			var order []string
			for _, a := range r.Ranked {
				order = append(order, a.Pack.ID)
				lacks := p.Currency() != "" && (a.Pack.Price == nil || a.Pack.Currency != p.Currency())
				if a.Warns(planner.NoPrice) != lacks {
					t.Errorf("%s: no-price is %v", a.Pack.ID, !lacks)
				}
			}
			if got := strings.Join(order, " "); got != c.want {
				t.Errorf("the order is %s, want %s", got, c.want)
			}
			told := slices.ContainsFunc(p.Warnings, func(r planner.Remark) bool { return r.Code == planner.NoCurrency })
			if told != c.told {
				t.Errorf("told that the currency is not known: %v", told)
			}
		})
	}
}

// TestLabelResistance: a pack known by its label learns from tested packs of its chemistry, cells and like size
// alone. Two heavy strong packs do not lift it.
func TestLabelResistance(t *testing.T) {
	label := "[pack.label]\nchemistry = \"lipo\"\ncells = 4\nrated_mah = 550\nmass_g = 66\nplug = \"xt30\"\n"
	like := "[pack.like]\nchemistry = \"lipo\"\ncells = 4\nrated_mah = 500\nmass_g = 62\nplug = \"xt30\"\n[pack.like.tested]\ncapacity_mah = 470\nmid_voltage_v = 14.3\nburst_power_w = 300\n"
	heavy := ""
	for i := range 2 {
		heavy += fmt.Sprintf("[pack.heavy%d]\nchemistry = \"lipo\"\ncells = 4\nrated_mah = 1300\nmass_g = 155\nplug = \"xt60\"\n[pack.heavy%d.tested]\ncapacity_mah = 1290\nmid_voltage_v = 14.9\nburst_power_w = 2400\n", i, i)
	}
	other := "[pack.three]\nchemistry = \"lipo\"\ncells = 3\nrated_mah = 550\nmass_g = 50\nplug = \"xt30\"\n[pack.three.tested]\ncapacity_mah = 545\nmid_voltage_v = 11.2\nburst_power_w = 450\n"
	build := strings.Replace(exampleBuild, "pack = \"k\"\n", "", 1)
	without := strings.Split(example, "[pack.k]")[0]
	resistance := func(records ...string) float64 {
		cat := parts(t, append([]string{without, label}, records...)...)
		return packSet(t, cat).Pack("label").Circuit.SteadyRTimesCapacity()
	}
	if got := resistance(); !scalar.EqualWithinRel(got, model.DefaultSteadyR, 1e-12) {
		t.Errorf("without a test it has %v Ohm Ah, want common practice, %v", got, model.DefaultSteadyR)
	}
	if got := resistance(heavy, other); !scalar.EqualWithinRel(got, model.DefaultSteadyR, 1e-12) {
		t.Errorf("heavy packs and packs of three cells give it %v Ohm Ah, want common practice", got)
	}
	if got := resistance(like); got < model.DefaultSteadyR*1.05 {
		t.Errorf("a weak pack of its size gives it %v Ohm Ah, no more than common practice", got)
	}
	first := func(records ...string) string {
		return places(t, append([]string{without, label, like}, records...), build).order[0]
	}
	if a, b := first(), first(heavy); a != b {
		t.Errorf("two heavy strong packs put %s first, where %s was", b, a)
	}
}

// TestBestOfThePriced: where price counts one of those that have one is the best in every draw; what has none is not
// among them, however well it flies.
func TestBestOfThePriced(t *testing.T) {
	with := func(id, price string) string {
		return "[pack." + id + "]\nchemistry = \"lipo\"\ncells = 4\nrated_mah = 650\nmass_g = 74\nplug = \"xt30\"\n" + price
	}
	const euros = "\ncurrency = \"EUR\"\n"
	cat := parts(t, unpacked, with("cheap", "price = 19"+euros), with("dear", "price = 20"+euros), with("free", ""), with("other", ""))
	r := rank(t, plan(t, cat, unpackedBuild+"[goal]\nprice = 1\ncurrency = \"EUR\"\n"))
	sum := 0.0
	for i, a := range r.Ranked {
		if (a.Best != nil) != a.Merit.Priced || a.Merit.Priced != (i < 2) || !a.Drawn {
			t.Errorf("number %d, %s: the best with %v, by price %v, drawn %v", i+1, a.Pack.ID, a.Best, a.Merit.Priced, a.Drawn)
		}
		if a.Best != nil {
			sum += *a.Best
		}
	}
	if len(r.Ranked) != 4 || !scalar.EqualWithinAbs(sum, 1, 1e-12) {
		t.Errorf("of %d packs the chances of being the best sum to %v", len(r.Ranked), sum)
	}
}
