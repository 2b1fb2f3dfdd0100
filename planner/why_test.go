package planner_test

import (
	"math"
	"strings"
	"testing"

	"gonum.org/v1/gonum/floats/scalar"

	"allup/model"
	"allup/planner"
)

// told is what a step of a trace says of where its number is from and how well it is known.
type told struct {
	source planner.Source
	from   string  // what it holds
	sigma  float64 // 0 for none that is known
	times  bool
}

// TestWhySources: each number of a trace is from where it is from, and known as well as that is, by hand; masses are
// good to 3 %, rectangular.
func TestWhySources(t *testing.T) {
	_, rows := standRows(t)
	const label = "[pack.l]\nchemistry = \"lipo\"\ncells = 4\nrated_mah = 655\nmass_g = 74.0\n"
	const logs = "[pack.l]\nchemistry = \"lipo\"\ncells = 4\nrated_mah = 650\nmass_g = 74.0\n" +
		"circuit = { capacity_mah = 600, r0_mohm = 40, r1_mohm = 20, tau_s = 20, capacity_sigma_mah = 9, r_sigma_mohm = 3.6, charge_dependence = 0.6, charge_dependence_sigma = 0.07 }\n"
	unknown := strings.NewReplacer("r_mohm = 120\nno_load_a = 0.60\n", "", "ct = 0.150\ncp = 0.080\n", "", "efficiency = 0.95\n", "", "thrust_loss = 0.0196078431372549\n", "").Replace(example)
	table := strings.Replace(example, "ct = 0.150\ncp = 0.080\n", "static = [{ rpm = 8000, ct = 0.150, cp = 0.080 }, { rpm = 30000, ct = 0.152, cp = 0.081 }]\n", 1)
	ofMass := func(grams float64) float64 { return 0.03 * grams / math.Sqrt(3) }
	const measured, stated, catalogue, estimated, assumed = planner.Measured, planner.Stated, planner.Catalogue, planner.Estimated, planner.Assumed
	for _, c := range []struct {
		what, parts, build, pack string
		want                     map[string]told
		lacks                    []string
	}{
		{
			"as it is", example, exampleBuild, "k",
			map[string]told{
				"mass_1_g":    {catalogue, "frame f", ofMass(31), false},
				"mass_2_g":    {catalogue, "motor m, 4 x 9.2 g", ofMass(4 * 9.2), false},
				"mass_6_g":    {stated, "extra payload", ofMass(60), false},
				"mass_7_g":    {catalogue, "pack k", ofMass(74), false},
				"limit_g":     {stated, "[limit]", 0, false},
				"thrust_loss": {catalogue, "frame f", 0, false},
				"ct":          {catalogue, "prop p", 0.03 * 0.150, false},
				"cp":          {catalogue, "prop p, by its figure of merit", 0.04 * 0.080, false},
				"kv_rad_s_v":  {catalogue, "motor m", 0, false}, "winding_ohm": {catalogue, "motor m", 0, false},
				"flown_factor": {assumed, "no flown hover", 0, false},
				"efficiency":   {catalogue, "board b", 0.95 * math.Hypot(0.03, 0.01), false},
				"part_duty_v":  {assumed, "board b", 1.8, true},
				"r1_ohm":       {measured, "pack k, identified from tested metrics", 0, false},
				// The metrics of the example's pack and what they leave are in inputs_test.go.
				"charge_dependence": {assumed, "pack k, identified from tested metrics", 0.4, false},
				"charge_left":       {planner.Simulated, "discharge by hover", 0, false},
			},
			[]string{"scale_g", "cold_rise", "goal_price", "price"},
		},
		{
			"weighed, of a rule", strings.Replace(example, "mass_g = 31.0", "mass_g = 31.0\nweighed = true", 1),
			strings.Replace(exampleBuild, "mass_g = 250", `rule = "eu-a1-built"`, 1) + "[weighed]\npayload = 60\n", "k",
			map[string]told{
				"mass_1_g": {measured, "frame f", uShow, false},
				"mass_6_g": {measured, "extra payload", uShow, false},
				"limit_g":  {planner.Published, "eu-a1-built", 0, false},
			},
			nil,
		},
		{
			"on a scale", example, exampleBuild + "[scale]\nall_up_g = 245\npack = \"k\"\n", "k", map[string]told{
				// Where the scale counts alone the dry mass is known as the pack on it is, and as the scale.
				"scale_g": {measured, "least squares of the scale and mass_1_g + mass_2_g", math.Hypot(uPack, uShow), false},
			}, nil,
		},
		{
			"nothing stated", unknown, exampleBuild, "k", map[string]told{
				"thrust_loss": {assumed, "none is taken off", 0, false},
				"ct":          {estimated, "prop p", -1, false}, "cp": {estimated, "prop p, by its figure of merit", -1, false},
				"kv_rad_s_v": {catalogue, "motor m", -1, false}, "winding_ohm": {estimated, "motor m", 0, false},
				"no_load_a":  {estimated, "motor m", model.EstimatedNoLoadFactor, true},
				"efficiency": {assumed, "board b", -1, false}, "controller_drop": {assumed, "board b", 0, false},
			}, nil,
		},
		{"by a table", table, exampleBuild, "k", map[string]told{"ct": {measured, "prop p", -1, false}, "winding_ohm": {catalogue, "motor m", 0, false}}, nil},
		{
			"on a stand", example + thrustTest(rows), exampleBuild, "k", map[string]told{
				"ct": {measured, "prop p", -1, false}, "winding_ohm": {measured, "motor m", 0, false}, "no_load_a": {measured, "motor m", -1, false},
				"part_duty_v": {measured, "thrust test", -1, false},
			}, nil,
		},
		{
			"flown", example, exampleBuild + "[hover]\nflown = [{ mass_g = 238.4, power_w = 57 }]\n", "k",
			map[string]told{"flown_factor": {measured, "1 flown hover: the rotors draw", 0, false}},
			nil,
		},
		{
			"by label, cold, in phases", example + label,
			strings.Replace(exampleBuild, "temperature_c = 20", "temperature_c = 20\npack_temperature_c = 0", 1) + "[flight]\nphases = [{ seconds = 20, thrust = 1.25 }]\n", "l",
			map[string]told{
				"capacity_ah":       {estimated, "pack l, label, and tested packs of like size and cells", -1, false},
				"r0_ohm":            {estimated, "pack l, label, and tested packs of like size and cells", -1, false},
				"charge_dependence": {assumed, "pack l, label", 0.4, false},
				"cold_rise":         {assumed, "held flat", model.ColdRiseSigma, false},
				"charge_left":       {planner.Simulated, "discharge by the phases", 0, false},
			},
			nil,
		},
		{
			"by logs, of a price", example + strings.Replace(logs, "mass_g = 74.0\n", "mass_g = 74.0\nprice = 20\ncurrency = \"EUR\"\n", 1), exampleBuild + "[goal]\nprice = 1\ncurrency = \"EUR\"\n", "l", map[string]told{
				"capacity_ah":       {measured, "pack l, fit to bench logs", 0.6 * 0.025, false},
				"r0_ohm":            {measured, "pack l, fit to bench logs", -1, false},
				"charge_dependence": {measured, "pack l, fit to bench logs", 0.07, false},
				"goal_price":        {stated, "[goal]", 0, false}, "price": {catalogue, "pack l", 0, false},
			}, nil,
		},
	} {
		t.Run(c.what, func(t *testing.T) {
			p := plan(t, parts(t, c.parts), c.build)
			w := p.Why(packOf(t, p, c.pack))
			steps := map[string]planner.Step{}
			var ofMass, ofTime, ofPunch float64
			for _, s := range w.Steps {
				steps[s.Key] = s
				if !s.Known && (s.Sigma != 0 || s.Times || s.OfMass != 0 || s.OfTime != 0 || s.OfPunch != 0) {
					t.Errorf("%+v is not known, and says how well", s)
				}
				ofMass, ofTime, ofPunch = ofMass+s.OfMass, ofTime+s.OfTime, ofPunch+s.OfPunch
			}
			// The growth of a figure of merit that is known by size is in no number of the trace.
			share := func(of float64) bool { return of >= 0.8 && of <= 1+1e-9 }
			if !share(ofTime) || !share(ofPunch) || c.what != "on a scale" && !scalar.EqualWithinAbs(ofMass, 1, 1e-9) {
				t.Errorf("shares of %v of the variance of mass, %v of time, %v of punch", ofMass, ofTime, ofPunch)
			}
			for key, want := range c.want {
				s, ok := steps[key]
				if !ok || s.Source != want.source || !strings.Contains(s.From, want.from) || strings.HasPrefix(key, "mass_") && s.From != want.from || s.Times != want.times || s.Known != (want.sigma != 0) {
					t.Errorf("%s: %+v, want %+v", key, s, want)
				}
				if want.sigma > 0 && !scalar.EqualWithinRel(s.Sigma, want.sigma, 1e-9) {
					t.Errorf("%s is known to %v, want %v", key, s.Sigma, want.sigma)
				}
				if want.sigma < 0 && !(s.Sigma > 0) {
					t.Errorf("%s is known to %v", key, s.Sigma)
				}
			}
			if s := steps["flown_factor"]; s.Source == assumed && s.Value != 1 || s.Source == measured && s.Value != p.Propulsion.Calibration.Factor {
				t.Errorf("hovers draw %v times the prediction", s.Value)
			}
			for _, key := range c.lacks {
				if s, ok := steps[key]; ok {
					t.Errorf("there is %+v", s)
				}
			}
		})
	}
}

// TestWhyOfTwoPieces: two of a kind are one mass, of so many pieces.
func TestWhyOfTwoPieces(t *testing.T) {
	p := plan(t, parts(t, example), strings.Replace(exampleBuild, `gear = ["g"]`, `gear = ["g", "g"]`, 1))
	for _, s := range p.Why(packOf(t, p, "k")).Steps {
		if s.Key == "mass_5_g" && (s.From != "gear g, 2 x 22 g" || !scalar.EqualWithinRel(s.Value, 44, 1e-12)) {
			t.Errorf("two pieces of gear are %+v", s)
		}
	}
}

// TestWhyWithoutFlight: of a pack that does not hold the hover the masses are traced, and nothing is to be measured.
func TestWhyWithoutFlight(t *testing.T) {
	p := plan(t, parts(t, example, hostile), exampleBuild)
	w := p.Why(packOf(t, p, "weak"))
	if last := w.Steps[len(w.Steps)-1].Key; last != "over_limit_chance" || len(w.Next) != 0 || w.Answer.Flies() {
		t.Errorf("the last step is %s, to measure next %v", last, w.Next)
	}
}

// TestWhyNoLoad: the no-load current of a motor grows from a fixed part; what is not known of the growth does nothing
// at the speed at which the current was stated, and the more the further from it. Stated 0.6 A at 10 V, 36000 rpm: at
// half of that speed one standard deviation, 0.3, moves it by 0.3 x 0.6 A x (1 - 1/2).
func TestWhyNoLoad(t *testing.T) {
	for _, volts := range []string{"no_load_v = 10", ""} {
		p := plan(t, parts(t, strings.Replace(example, "no_load_a = 0.60", "no_load_a = 0.60\n"+volts, 1)), exampleBuild)
		w := p.Why(packOf(t, p, "k"))
		stated := 3600 * 3.7 * 4 / 60 * 2 * math.Pi // by a pack's nominal voltage where none is stated
		if volts != "" {
			stated = 3600 * 10 / 60 * 2 * math.Pi
		}
		want := 0.3 * 0.6 * math.Abs(1-float64(w.Answer.Flight.Hover.Rotor.Speed)/stated)
		for _, s := range w.Steps {
			if s.Key == "no_load_a" && !scalar.EqualWithinRel(s.Sigma, want, 1e-9) {
				t.Errorf("%q: known to %v A, want %v", volts, s.Sigma, want)
			}
		}
	}
}

// TestWhyValues: what a trace says of pack, discharge and punch goes together by a calculator, and is the answer's.
func TestWhyValues(t *testing.T) {
	for _, flight := range []string{"", "[flight]\nphases = [{ seconds = 20, thrust = 1.25 }]\n"} {
		p := plan(t, parts(t, example), exampleBuild+flight+"[goal]\ntime = 1\npunch = 1\n")
		pack := packOf(t, p, "k")
		w := p.Why(pack)
		a := w.Answer
		v := map[string]float64{}
		for _, s := range w.Steps {
			v[s.Key] = s.Value
			if s.Key == "r0_ohm" && !scalar.EqualWithinRel(s.Sigma, pack.SigmaR*float64(pack.Circuit.R0), 1e-9) {
				t.Errorf("%q: the resistance is known to %v Ohm", flight, s.Sigma)
			}
		}
		energy := v["capacity_ah"] * (1 - v["charge_left"]) * v["mean_v"]
		for what, c := range map[string][2]float64{
			"instant resistance": {v["r0_ohm"], float64(a.Circuit.R0)}, "slow resistance": {v["r1_ohm"], float64(a.Circuit.R1)},
			"capacity":     {v["capacity_ah"], a.Circuit.Capacity.AmpHours()},
			"lowest volts": {v["floor_v"], 4 * 3.3},
			"burst":        {v["burst_w"], v["floor_v"] * (v["open_v"] - v["floor_v"]) / v["steady_ohm"]},
			"headroom":     {v["burst_w"] / v["demand_w"], a.Punch.Headroom},
			"energy":       {energy, v["usable_wh"]}, "usable energy": {energy, a.Usable().WattHours()},
			"time":  {3600 * energy / (v["hover_w"] * v["mean_over_hover"]), float64(a.Duration())},
			"punch": {v["punch_ratio"], a.PunchRatio()},
			"lift":  {v["punch_thrust_n"] / (0.2384 * 9.80665), a.PunchRatio()},
			"merit": {v["merit"], math.Sqrt(float64(a.Duration()) / 60 * a.PunchRatio())},
		} {
			if !scalar.EqualWithinRel(c[0], c[1], 1e-6) {
				t.Errorf("%q: %s is %v, want %v", flight, what, c[0], c[1])
			}
		}
	}
}
