package planner_test

import (
	"cmp"
	"math"
	"slices"
	"strings"
	"testing"

	"gonum.org/v1/gonum/floats/scalar"

	"allup/model"
	"allup/planner"
)

// moves is what one standard deviation of an input does to mass, time and punch of the example.
type moves struct {
	planner.Uncertain
	each [3]float64
}

func movesOf(p *planner.Plan, pack *planner.Pack) (all []moves) {
	at := func(u planner.Uncertain, by float64) [3]float64 {
		in := p.At(pack, p.Bare())
		u.Move(&in, by)
		a := in.Drive.Answer(in.Circuit, in.Mass, p.MissionOn(pack.Chemistry))
		return [3]float64{float64(in.Mass), float64(a.Duration()), a.Punch.Ratio(in.Mass)}
	}
	for _, u := range p.Uncertain(pack) {
		m := moves{Uncertain: u}
		up, down := at(u, u.Sigma), at(u, -u.Sigma)
		for k := range m.each {
			m.each[k] = (up[k] - down[k]) / 2
		}
		all = append(all, m)
	}
	return all
}

// narrower is by how much the bands of mass, time and punch are narrower where each input is known to what becomes of
// its standard deviation.
func narrower(all []moves, becomes func(moves) float64) (by [3]float64) {
	for k := range by {
		var was, is float64
		for _, m := range all {
			was += m.each[k] * m.each[k]
			is += math.Pow(m.each[k]*min(1, becomes(m)/m.Sigma), 2)
		}
		by[k] = 1 - math.Sqrt(is/was)
	}
	return by
}

// toMeasure is something to measure, as it is told, and what becomes of each standard deviation.
type toMeasure struct {
	code    planner.Code
	text    string
	becomes func(moves) float64
}

// TestMeasureNext works out what each measurement leaves of each input, and so of the bands, and holds it against what
// is advised: each that narrows a band by a hundredth, the one first that narrows time and punch most.
func TestMeasureNext(t *testing.T) {
	_, rows := standRows(t)
	const label = "[pack.l]\nchemistry = \"lipo\"\ncells = 4\nrated_mah = 655\nmass_g = 74.0\n"
	const logs = "[pack.k]\nchemistry = \"lipo\"\ncells = 4\nrated_mah = 650\nmass_g = 74.0\n" +
		"circuit = {capacity_mah = 640, r0_mohm = 39, r1_mohm = 21, tau_s = 20, charge_dependence = 0.5, charge_dependence_sigma = 0.05}\n"
	bySize := strings.Replace(example, "ct = 0.150\ncp = 0.080\n", "", 1)
	for _, c := range []struct {
		what, parts, build, pack string
		scale, flown, stand      bool
		logs                     bool
	}{
		{"by coefficients", example, exampleBuild, "k", false, false, false, false},
		{"by size", bySize, exampleBuild, "k", false, false, false, false},
		{"a light gear, which hardly counts", strings.Replace(example, "mass_g = 22.0", "mass_g = 17.0", 1), exampleBuild, "k", false, false, false, false},
		{"a lighter one, which does not", strings.Replace(example, "mass_g = 22.0", "mass_g = 14.0", 1), exampleBuild, "k", false, false, false, false},
		{"weighed", strings.Replace(example, "mass_g = 74.0", "mass_g = 74.0\nweighed = true", 1), exampleBuild, "k", false, false, false, false},
		{"by label", example + label, exampleBuild, "l", false, false, false, false},
		{"by logs", strings.Split(example, "[pack.k]")[0] + logs, exampleBuild, "k", false, false, false, true},
		{"on a scale", example, exampleBuild + "[scale]\nall_up_g = 238\npack = \"k\"\n", "k", true, false, false, false},
		{"on a stand", example + thrustTest(rows), exampleBuild, "k", false, false, true, false},
		{"flown", example, exampleBuild + "[hover]\nflown = [{ mass_g = 238.4, power_w = 57 }]\n", "k", false, true, false, false},
		{"in phases", example, exampleBuild + "[flight]\nphases = [{ seconds = 20, thrust = 1.25 }, { seconds = 2, full = true }]\n", "k", false, false, false, false},
	} {
		t.Run(c.what, func(t *testing.T) {
			p := plan(t, parts(t, c.parts), c.build)
			pack := packOf(t, p, c.pack)
			all := movesOf(p, pack)
			const shows = 0.0001 // kg, a scale's half-width
			var ways []toMeasure
			if !c.scale {
				items := 0
				for _, m := range all {
					if m.Input != planner.InputMass {
						continue
					}
					items++
					ways = append(ways, toMeasure{planner.WeighBoth, "weigh " + m.Subject, func(o moves) float64 {
						if o.Input == planner.InputMass && o.Subject == m.Subject {
							return shows / math.Sqrt(3)
						}
						return o.Sigma
					}})
				}
				ways = append(ways, toMeasure{planner.WeighBoth, "put the whole build on the scale", func(o moves) float64 {
					if o.Input == planner.InputMass { // together what a scale leaves
						return shows / math.Sqrt(3*float64(items))
					}
					return o.Sigma
				}})
			}
			// A rotor's errors together move time as the figure of merit does; a hover does not tell its thrust.
			var hovers, rotor, perMerit float64
			for _, m := range all {
				if m.Shared && m.Input != planner.InputMass {
					rotor += m.each[1] * m.each[1]
					if m.Input != planner.InputThrust {
						hovers += m.each[1] * m.each[1]
					}
				}
				if m.Input == planner.InputFigureOfMerit {
					perMerit = math.Abs(m.each[1]) / m.Sigma
				}
			}
			share := func(sigma, of float64) float64 { return perMerit * sigma / math.Sqrt(of) }
			if !c.flown {
				ways = append(ways, toMeasure{planner.FlyHovers, "fly a hover, and write its mass, current and voltage as flown under [hover]", func(o moves) float64 {
					if o.Shared && o.Input != planner.InputMass && o.Input != planner.InputThrust {
						return o.Sigma * share(model.SigmaFlownHover, hovers)
					}
					return o.Sigma
				}})
				if !c.stand {
					ways = append(ways, toMeasure{planner.TestRotors, "put m with p on a stand", func(o moves) float64 {
						if o.Shared && o.Input != planner.InputMass {
							return o.Sigma * share(0.035, rotor)
						}
						return o.Sigma
					}})
				}
			}
			switch {
			case c.pack == "l":
				ways = append(ways, toMeasure{planner.TestPacks, "put l on a bench", func(o moves) float64 {
					switch o.Input { // from unit to unit, and what a circuit gets wrong
					case planner.InputCapacity:
						return math.Hypot(0.02, 0.025)
					case planner.InputResistance:
						return math.Hypot(0.08, 0.14)
					}
					return o.Sigma
				}})
			case !c.logs:
				ways = append(ways, toMeasure{planner.TestPacks, "keep the full logs of k's bench test, and reduce them", func(o moves) float64 {
					if o.Input == planner.InputChargeDep {
						return model.ModelSigmaK
					}
					return o.Sigma
				}})
			}
			var want []planner.Measure
			for _, w := range ways {
				by := narrower(all, w.becomes)
				if slices.Max(by[:]) >= 0.01 {
					want = append(want, planner.Measure{Code: w.code, Text: w.text, Mass: by[0], Time: by[1], Punch: by[2]})
				}
			}
			slices.SortStableFunc(want, func(a, b planner.Measure) int { return cmp.Compare(b.Time+b.Punch, a.Time+a.Punch) })
			got := p.Why(pack).Next
			same := slices.EqualFunc(got, want, func(a, b planner.Measure) bool {
				return a.Code == b.Code && a.Text == b.Text && scalar.EqualWithinAbs(a.Mass, b.Mass, 1e-9) &&
					scalar.EqualWithinAbs(a.Time, b.Time, 1e-6) && scalar.EqualWithinAbs(a.Punch, b.Punch, 1e-6)
			})
			if !same {
				t.Errorf("to measure next:\n%+v, want\n%+v", got, want)
			}
		})
	}
}

// TestWholeBuildOnTheScale: on the scale the whole build is known to 0.1 g, rectangular, whatever its parts were known
// to.
func TestWholeBuildOnTheScale(t *testing.T) {
	p := plan(t, parts(t, example), exampleBuild)
	for _, m := range p.Why(packOf(t, p, "k")).Next {
		if m.Text == "put the whole build on the scale" {
			near(t, "narrower", m.Mass, 1-uShow/math.Hypot(uDry, uPack), 1e-9)
			return
		}
	}
	t.Error("it is not advised")
}
