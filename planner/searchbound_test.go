package planner_test

import (
	"math"
	"math/rand/v2"
	"slices"
	"strings"
	"testing"

	"gonum.org/v1/gonum/floats/scalar"

	"allup/model"
	"allup/planner"
)

// TestNothingBeatsItsCorner: no build flies longer, punches harder or costs less than what a search takes for
// possible before it has seen the frame and the board; and that is not far off.
func TestNothingBeatsItsCorner(t *testing.T) {
	var times, punches, cycles []float64
	builds := 0
	for seed := range uint64(120) {
		rng := rand.New(rand.NewPCG(seed, 5))
		records, build := smallShop(rng)
		b := readBuild(t, parts(t, records), build)
		set := packSet(t, b.Parts)
		space := planner.SpaceOf(b, set, nil)
		corner, err := planner.CornerOf(b, space)
		if err != nil {
			t.Fatal(err)
		}
		all, _ := bruteForce(t, b, space, set)
		for _, x := range all {
			ids := strings.Fields(x.ids)
			time, punch, price, ok := corner(ids[1], ids[2], ids[len(ids)-1])
			got := float64(x.a.Duration())
			if !ok || time < got || punch < x.a.PunchRatio() || x.price > 0 && price > x.price {
				t.Errorf("seed %d: %s flies %.2f s, punches %.4f and costs %.2f; the corner is %.2f s, %.4f, %.2f, %v", seed, x.ids, got, x.a.PunchRatio(), x.price, time, punch, price, ok)
			}
			times, punches = append(times, time/got), append(punches, punch/x.a.PunchRatio())
			if len(b.Flight.Phases) > 0 {
				cycles = append(cycles, time/got)
			}
			builds++
		}
	}
	slices.Sort(times)
	slices.Sort(punches)
	slices.Sort(cycles)
	t.Logf("%d builds; corner over build, median and most: time %.3f and %.3f, punch %.3f and %.3f", builds, times[builds/2], times[builds-1], punches[builds/2], punches[builds-1])
	t.Logf("%d with phases: time %.3f and %.3f", len(cycles), cycles[len(cycles)/2], cycles[len(cycles)-1])
	if builds < 2000 || times[builds/2] > 1.2 || punches[builds/2] > 1.2 || len(cycles) < 500 || cycles[len(cycles)/2] > 1.3 {
		t.Error("the corners are no bounds to search by")
	}
}

// TestHeavierIsWorse is what a search builds on: with more mass a build flies shorter, hover or phases, and
// punches less; thrust loss is as much mass; more gear power is no gain.
func TestHeavierIsWorse(t *testing.T) {
	flights, cycles := 0, 0
	for seed := range uint64(60) {
		rng := rand.New(rand.NewPCG(seed, 8))
		records, build := smallShop(rng)
		b := readBuild(t, parts(t, records), build)
		p, err := planner.Resolve(b)
		if err != nil {
			t.Fatal(err)
		}
		for _, pack := range packSet(t, b.Parts).All(nil) {
			mission := p.MissionOn(pack.Chemistry)
			m, _ := p.With(pack.Pack)
			d := p.Drive
			was := d.Answer(pack.Circuit, m, mission)
			if was.Duration() <= 0 {
				continue
			}
			flights++
			if was.Cycle != nil {
				cycles++
			}
			for _, more := range []model.Mass{1e-6, 1e-4, 1e-3, 0.01, 0.1, 0.5} {
				heavy := m * (1 + more)
				is := d.Answer(pack.Circuit, heavy, mission)
				if float64(is.Duration()) > float64(was.Duration())*(1+2e-5) || more > 0.005 && was.Cycle == nil && is.Duration() >= was.Duration() {
					t.Errorf("seed %d, %s: %v s with %.6g times the mass, %v s as it is", seed, pack.ID, is.Duration(), 1+float64(more), was.Duration())
				}
				if is.Punch.Ratio(heavy) >= was.Punch.Ratio(m) {
					t.Errorf("seed %d, %s: a punch of %v with %.6g times the mass, %v as it is", seed, pack.ID, is.Punch.Ratio(heavy), 1+float64(more), was.Punch.Ratio(m))
				}
			}
			// A loss of a tenth of the thrust is a ninth more mass.
			lossy := d
			lossy.ThrustLoss = 1 - (1-d.ThrustLoss)*0.9
			a, c := lossy.Answer(pack.Circuit, m, mission), d.Answer(pack.Circuit, m/0.9, mission)
			if !scalar.EqualWithinRel(float64(a.Duration()), float64(c.Duration()), 1e-6) || !scalar.EqualWithinRel(a.Punch.Ratio(m), c.Punch.Ratio(m/0.9), 1e-9) {
				t.Errorf("seed %d, %s: %v s and %v with a thrust loss, %v s and %v with its mass", seed, pack.ID, a.Duration(), a.Punch.Ratio(m), c.Duration(), c.Punch.Ratio(m/0.9))
			}
			hungry := d
			hungry.GearPower += 0.5
			if h := hungry.Answer(pack.Circuit, m, mission); float64(h.Duration()) > float64(was.Duration())*(1+2e-5) || h.Punch.Thrust > was.Punch.Thrust*(1+1e-9) {
				t.Errorf("seed %d, %s: %v s and %v N with more gear power, %v s and %v N without", seed, pack.ID, h.Duration(), h.Punch.Thrust, was.Duration(), was.Punch.Thrust)
			}
		}
	}
	t.Logf("%d flights, %d of phases", flights, cycles)
	if flights < 100 || cycles < 30 {
		t.Error("too few flights to tell")
	}
}

// TestNoPhaseRunsOn: what is left of a phase beside a knot of the curve may be too short for floats to meet. Once in
// some thousand flights a phase of a second then ran on for minutes.
func TestNoPhaseRunsOn(t *testing.T) {
	p := plan(t, parts(t, example), exampleBuild+"[flight]\nphases = [{ seconds = 2, thrust = 1.3 }, { seconds = 0.9, thrust = 0.2 }, { seconds = 0.3, full = true }]\n")
	pack := packSet(t, p.Build.Parts).Pack("k")
	mission := p.MissionOn(pack.Chemistry)
	m, _ := p.With(pack.Pack)
	before, masses := math.Inf(1), 20000
	if testing.Short() {
		masses = 6000
	}
	for i := range masses {
		a := p.Drive.Answer(pack.Circuit, m*(1+1e-5*model.Mass(i)), mission)
		time := float64(a.Duration())
		if time > before*(1+2e-5) || i > 0 && time < before*(1-1e-3) {
			t.Errorf("%.3f s with %.6f times the mass, %.3f s with some milligrams less", time, 1+1e-5*float64(i), before)
		}
		before = time
		for _, u := range a.Cycle.Phases {
			if runs := float64(u.Runs) * 3.2; math.Abs(runs-time) > 2*3.2 {
				t.Errorf("%d runs of a cycle of 3.2 s in %.2f s", u.Runs, time)
			}
		}
	}
}
