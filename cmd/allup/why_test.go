package main

import (
	"encoding/json"
	"math"
	"strings"
	"testing"

	"gonum.org/v1/gonum/floats/scalar"

	"allup/planner"
)

// trace is what --why says in JSON, by the keys of its numbers.
func trace(t *testing.T, stdin string, args ...string) (map[string]float64, jsonWhy) {
	t.Helper()
	said := tell(t, 0, stdin, append(args, "--format", "json")...)
	var why jsonWhy
	if err := json.Unmarshal([]byte(said.Out), &why); err != nil {
		t.Fatalf("%v: %v\n%s", args, err, said.Err)
	}
	values := map[string]float64{}
	for _, s := range why.Steps {
		if _, twice := values[s.Key]; twice {
			t.Errorf("%s is there twice", s.Key)
		}
		values[s.Key] = s.Value
	}
	return values, why
}

// TestWhyByCalculator follows the trace from the build's masses to flight time, punch and merit with the numbers of the
// trace alone, and meets what the ranking says to 1e-6. Nothing is taken from one computed number to the next.
func TestWhyByCalculator(t *testing.T) {
	for name, text := range builds(t) {
		if name == "no pack" {
			continue
		}
		t.Run(name, func(t *testing.T) {
			p := planOf(t, text)
			pack := "sedge-650"
			v, why := trace(t, text, "rank", "-", "--why", pack)
			near := func(what string, got, want float64) {
				t.Helper()
				if !scalar.EqualWithinAbsOrRel(got, want, 1e-12, 1e-6) {
					t.Errorf("%s by the calculator is %.10g, want %.10g", what, got, want)
				}
			}
			mass := 0.0
			for key, g := range v {
				if strings.HasPrefix(key, "mass_") {
					mass += g
				}
			}
			if scale, ok := v["scale_g"]; ok {
				mass = scale
			}
			thrust := mass / 1000 * v["gravity_m_s2"] / ((1 - v["thrust_loss"]) * v["rotors"])
			d4 := math.Pow(v["diameter_m"], 4)
			rev := math.Sqrt(thrust / (v["ct"] * v["air_kg_m3"] * d4))
			torque := v["cp"] * v["air_kg_m3"] * rev * rev * d4 * v["diameter_m"] / (2 * math.Pi)
			raw := v["kv_rad_s_v"]*torque + v["no_load_a"]
			volts := 2*math.Pi*rev/v["kv_rad_s_v"] + raw*v["winding_ohm"]
			amps := raw * v["flown_factor"]
			duty := volts / ((1 - v["controller_drop"]) * v["bus_v"])
			rotor := (volts*amps + v["part_duty_v"]*amps*math.Max(0, 1-duty)) / v["efficiency"]
			hover := v["rotors"]*rotor + v["gear_w"]
			energy := v["capacity_ah"] * (1 - v["charge_left"]) * v["mean_v"]
			seconds := 3600 * energy / (hover * v["mean_over_hover"])
			push := v["rotors"] * (1 - v["thrust_loss"]) * v["punch_ct"] * v["air_kg_m3"] * math.Pow(v["punch_rev_s"], 2) * d4
			punch := push / (mass / 1000 * v["gravity_m_s2"])
			burst := v["floor_v"] * (v["open_v"] - v["floor_v"]) / v["steady_ohm"]

			a := p.Assess(packSetOf(t, p.Build.Parts).Pack(pack))
			near("all-up mass", mass, gramsOf(a.Mass))
			near("margin", v["limit_g"]-mass, gramsOf(a.Margin))
			near("hover power", hover, float64(a.Flight.Hover.Power))
			near("flight time", seconds, float64(a.Duration()))
			near("punch", punch, a.PunchRatio())
			near("headroom", burst/v["demand_w"], a.Punch.Headroom)
			merit := math.Pow(math.Pow(seconds/60, v["goal_time"]+v["goal_price"])*math.Pow(punch, v["goal_punch"])/math.Pow(math.Max(v["price"], 1e-300), v["goal_price"]),
				1/(v["goal_time"]+v["goal_punch"]+v["goal_price"]))
			near("merit", merit, p.Merit(a.Duration(), a.PunchRatio(), a.Pack.Pack).Value)

			var time, push2, ofMass float64
			for _, s := range why.Steps {
				if s.OfTime != nil {
					time, push2, ofMass = time+*s.OfTime, push2+*s.OfPunch, ofMass+*s.OfMass
				}
				if s.Source == "" || s.From == "" && s.Source == "computed" {
					t.Errorf("%s does not say where it is from", s.Key)
				}
			}
			// What a trace does not show of the variance is in numbers that it cannot part: the growth of the
			// figure of merit.
			if time < 0.9 || time > 1+1e-9 || push2 < 0.9 || push2 > 1+1e-9 || math.Abs(ofMass-1) > 1e-9 && name != "scaled" {
				t.Errorf("the shares of time sum to %v, of punch to %v, of mass to %v", time, push2, ofMass)
			}
		})
	}
}

// TestMeasureNext: what is said to shrink a band shrinks it. A pack known by its label is put on a bench, a
// build is weighed and a hover is flown, and the first-order band of time becomes narrower by about what was
// promised.
func TestMeasureNext(t *testing.T) {
	text := builds(t)["stint"]
	width := func(text string) float64 {
		p := planOf(t, text)
		w := p.Why(packSetOf(t, p.Build.Parts).Pack("sedge-650"))
		b := w.Answer.Band.Time
		return (b.High - b.Low) / float64(w.Answer.Duration())
	}
	p := planOf(t, text)
	w := p.Why(packSetOf(t, p.Build.Parts).Pack("sedge-650"))
	found := map[planner.Code]planner.Measure{}
	for _, n := range w.Next {
		if _, ok := found[n.Code]; !ok {
			found[n.Code] = n
		}
	}
	flown := found[planner.FlyHovers]
	after := 1 - width(builds(t)["flown"])/width(text)
	if flown.Time < 0.2 || math.Abs(after-flown.Time) > 0.15 {
		t.Errorf("a flown hover is said to take %.2f off the band of time, and takes %.2f", flown.Time, after)
	}
	if len(w.Next) == 0 || w.Next[0].Code != planner.FlyHovers && w.Next[0].Code != planner.TestRotors {
		t.Errorf("what to measure first is %+v", w.Next)
	}
}
