package planner_test

import (
	"fmt"
	"math"
	"math/rand/v2"
	"strings"
	"testing"

	"allup/catalog"
	"allup/model"
)

// shopSize is how many parts of each kind a shop has.
type shopSize struct{ frames, motors, props, boards, packs int }

// shop is records of a shop for 3 to 4 inch builds, with the spreads of real ones. What is good in one thing is
// paid for in another, as makers and physics have it: light frames lose more thrust, small motors have more
// resistance, efficient boards are heavy, packs with much energy have much resistance. What is left of scatter
// is a few percent, so that few parts are beaten in everything. With even set, there is no scatter at all, and
// no part is beaten by another.
func shop(n shopSize, seed uint64, even bool) string {
	rng := rand.New(rand.NewPCG(seed, 77))
	var b strings.Builder
	curve, err := model.CurveOf(model.LiPo)
	if err != nil {
		panic(err) // there is one
	}
	scatter := func(sigma float64) float64 {
		if even {
			return 1
		}
		return math.Exp(sigma * rng.NormFloat64())
	}
	// Where a part stands between one end of the line of its kind and the other.
	stand := func(i, n int) float64 {
		if even {
			return float64(i) / math.Max(1, float64(n-1))
		}
		return rng.Float64()
	}
	for i := range n.frames {
		x := stand(i, n.frames)
		fmt.Fprintf(&b, "[frame.f%03d]\nmass_g = %.2f\nrotors = 4\nthrust_loss = %.4f\nmax_prop_in = %.1f\nbay_mm = [%.0f, %.0f, %.0f]\nmount_mm = 9\nprice = %.2f\ncurrency = \"EUR\"\n",
			i, (24+14*x)*scatter(0.04), (0.07-0.06*x)*scatter(0.1), 3.5+0.5*float64(rng.IntN(2)), 78+8*rng.Float64(), 38+4*rng.Float64(), 34+4*rng.Float64(), (25+25*x)*scatter(0.2))
	}
	for i := range n.motors {
		x := stand(i, n.motors)
		mass := (7 + 6*x) * scatter(0.02)
		kv := 2200 * math.Pow(2.1, stand((i*37)%n.motors, n.motors))
		kt := 60 / (2 * math.Pi * kv)
		km2 := 5.9e-5 * math.Pow(mass/9.2, 1.6) * scatter(0.05) // of copper and magnets: Kt^2/R
		fmt.Fprintf(&b, "[motor.m%03d]\nmass_g = %.2f\nkv = %.0f\nr_mohm = %.1f\nno_load_a = %.3f\nmax_current_a = %.1f\ncells = [3, 4]\nmount_mm = 9\nshaft_mm = 1.5\nprice = %.2f\ncurrency = \"EUR\"\n",
			i, mass, kv, 1000*kt*kt/km2, 0.6*kv/3600*math.Sqrt(mass/9.2)*scatter(0.1), (9+14*x)*scatter(0.1), (11+8*x)*scatter(0.15))
	}
	for i := range n.props {
		x := stand(i, n.props)
		d := 3.0 + 0.5*stand((i*61)%n.props, n.props)
		ct := 0.10 + 0.07*x
		merit := (0.62 - 0.05*x) * scatter(0.025) // more blades and pitch: more thrust, less merit
		cp := math.Sqrt(2/math.Pi) * math.Pow(ct, 1.5) / merit
		fmt.Fprintf(&b, "[prop.p%03d]\nmass_g = %.2f\ndiameter_in = %.2f\npitch_in = %.2f\nblades = 3\nshaft_mm = 1.5\nprice = %.2f\ncurrency = \"EUR\"\n",
			i, (0.9+1.0*x)*math.Pow(d/3.25, 2)*scatter(0.05), d, 1.6+1.2*x, 0.5+0.4*rng.Float64())
		if i%3 == 0 {
			fmt.Fprintf(&b, "static = [{ rpm = 8000, ct = %.4f, cp = %.5f }, { rpm = 16000, ct = %.4f, cp = %.5f }, { rpm = 30000, ct = %.4f, cp = %.5f }]\n",
				0.985*ct, 1.03*cp, ct, cp, 1.02*ct, 0.99*cp)
		} else {
			fmt.Fprintf(&b, "ct = %.4f\ncp = %.5f\n", ct, cp)
		}
	}
	for i := range n.boards {
		x := stand(i, n.boards)
		fmt.Fprintf(&b, "[board.b%03d]\nmass_g = %.2f\nmax_current_a = %.1f\ncells = [%d, 4]\nefficiency = %.4f\npower_w = %.2f\nprice = %.2f\ncurrency = \"EUR\"\n",
			i, (6.5+7*x)*scatter(0.04), (12+16*x)*scatter(0.1), 2+rng.IntN(2), min(0.98, (0.935+0.03*x)*scatter(0.004)), 1.2+1.0*rng.Float64(), (40+30*x)*scatter(0.15))
	}
	for i := range n.packs {
		cells := 4
		if i%8 == 7 {
			cells = 3
		}
		x := stand(i, n.packs) // from power to energy
		rated := 350 * math.Pow(2.4, stand((i*113)%n.packs, n.packs))
		density := (0.138 + 0.022*x) * scatter(0.02) // Wh/g beyond leads
		wh := rated / 1000 * 0.97 * 3.68 * float64(cells)
		mass := 11 + wh/density
		ohmAh := 1e-3 * (4.6 + 4.0*x) * scatter(0.06) // of a cell, steady
		// Its test is that of such a circuit.
		c := model.LabelCircuit(model.NewCircuit(cells, curve, model.Mass(mass)*model.Gram), model.Charge(rated)*model.MilliAmpH, ohmAh)
		tests := c.Tests(model.UsualProtocol(model.Charge(rated)*model.MilliAmpH, cells))
		fmt.Fprintf(&b, "[pack.k%03d]\nchemistry = \"lipo\"\ncells = %d\nrated_mah = %.0f\nmass_g = %.2f\nsize_mm = [%.0f, %.0f, %.0f]\nplug = \"xt30\"\nprice = %.2f\ncurrency = \"EUR\"\n",
			i, cells, rated, mass, 52+24*rng.Float64(), 30+6*rng.Float64(), 22+10*rng.Float64(), (9+0.014*rated)*scatter(0.15))
		fmt.Fprintf(&b, "[pack.k%03d.tested]\ncapacity_mah = %.1f\nenergy_wh = %.3f\nburst_power_w = %.1f\n", i, tests.Capacity.MilliAmpHours(), tests.Energy.WattHours(), float64(tests.BurstPower))
	}
	return b.String()
}

// shopBuild opens every slot of a build of 250 g over a shop's parts.
func shopBuild(goal string) string {
	return `
name = "Shop"
rotors = 4
[limit]
mass_g = 250
spare_g = 0.5
[slots]
frame = "any"
motor = "any"
prop = "any"
board = "any"
gear = ["cam"]
[extra.rest]
name = "leads, straps, receiver, mounts"
mass_g = 30
[air]
altitude_m = 150
temperature_c = 15
[packs]
cells = [3, 4]
` + goal
}

const shopGear = "[gear.cam]\nmass_g = 24\npower_w = 4.5\nprice = 60\ncurrency = \"EUR\"\n[gear.lite]\nmass_g = 9\npower_w = 3.1\nprice = 75\ncurrency = \"EUR\"\n"

// shopOf is the build over a shop's parts.
func shopOf(t testing.TB, n shopSize, seed uint64, even bool, goal string) *catalog.Build {
	t.Helper()
	return readBuild(t, parts(t, shopGear, shop(n, seed, even)), shopBuild(goal))
}

// TestShopIsNotKind: no more of a shop's parts are beaten in everything that counts by another one than of the
// demo catalogue's, where makers' lines were invented to differ; a search gets no help from a list of rubbish.
func TestShopIsNotKind(t *testing.T) {
	beaten := func(cat *catalog.Catalogue) map[string]float64 {
		lists := map[string][][]float64{} // the less, the better
		price := func(c *catalog.Common) float64 {
			if c.Price == nil {
				return math.Inf(1)
			}
			return *c.Price
		}
		for _, f := range cat.Frames {
			lists["frame"] = append(lists["frame"], []float64{float64(f.Mass), f.ThrustLoss, -float64(f.MaxProp), price(&f.Common)})
		}
		for _, m := range cat.Motors {
			if m.R != nil && m.NoLoadCurrent != nil && m.MaxCurrent != nil {
				// What copper and magnets are worth at any speed constant: R Kv^2, and the no-load torque.
				kv := float64(m.Kv)
				lists["motor"] = append(lists["motor"], []float64{float64(m.Mass), float64(*m.R) * kv * kv, float64(*m.NoLoadCurrent) / kv, -float64(*m.MaxCurrent) / kv, price(&m.Common)})
			}
		}
		for _, b := range cat.Boards {
			if b.MaxCurrent != nil {
				e := model.AssumedControllerEfficiency
				if b.Efficiency != nil {
					e = *b.Efficiency
				}
				lists["board"] = append(lists["board"], []float64{float64(b.Mass), -float64(*b.MaxCurrent), -e, float64(b.Power), price(&b.Common)})
			}
		}
		for _, p := range cat.Packs {
			if p.Tested != nil && p.Cells == 4 {
				lists["pack"] = append(lists["pack"], []float64{float64(p.Mass), -float64(p.Tested.Energy), -float64(p.Tested.BurstPower), price(&p.Common)})
			}
		}
		out := map[string]float64{}
		for kind, list := range lists {
			for i, a := range list {
				for j, b := range list {
					worse := i != j
					for n := range a {
						worse = worse && b[n] < a[n]
					}
					if worse {
						out[kind] += 1 / float64(len(list))
						break
					}
				}
			}
		}
		return out
	}
	demo, _, err := catalog.Load(catalog.Builtin())
	if err != nil {
		t.Fatal(err)
	}
	was, made, even := beaten(demo), beaten(parts(t, shop(billion(), 1, false))), beaten(parts(t, shop(billion(), 1, true)))
	t.Logf("beaten in everything: demo catalogue %v, shop %v, shop without scatter %v", was, made, even)
	for kind, share := range made {
		if share > 0.5 {
			t.Errorf("%.0f %% of %ss are beaten in everything by another", 100*share, kind)
		}
	}
}
