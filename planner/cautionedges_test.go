package planner_test

import (
	"slices"
	"strings"
	"testing"

	"allup/catalog"
	"allup/model"
	"allup/planner"
)

// TestCautionsAtTheEdge: the example's flight changed to just what passes without a word, and to what does not.
func TestCautionsAtTheEdge(t *testing.T) {
	cat := parts(t, example)
	p := plan(t, cat, exampleBuild)
	flies := p.Assess(packSet(t, cat).Pack("k"))
	amps := func(a float64) *model.Current { c := model.Current(a); return &c }
	states := func(c *planner.Candidate, a float64) {
		record, pack := *c.Pack.Pack, *c.Pack
		record.MaxCurrent = amps(a)
		pack.Pack = &record
		c.Pack = &pack
	}
	limits := func(c *planner.Candidate, board, motor *model.Current) {
		other, b, m := *c.Plan, *c.Plan.Board, *c.Plan.Motor
		b.MaxCurrent, m.MaxCurrent = board, motor
		other.Board, other.Motor = &b, &m
		c.Plan = &other
	}
	punches := func(perCell float64, runs int, full bool) func(*planner.Candidate) {
		return func(c *planner.Candidate) {
			held := model.PhaseUse{Phase: model.Phase{Full: false}, Runs: 1, MinVoltage: 11}
			later := model.PhaseUse{Phase: model.Phase{Full: true}, Runs: 1, MinVoltage: 13}
			c.Cycle = &model.PhaseFlight{Duration: 300, Phases: []model.PhaseUse{held, {Phase: model.Phase{Full: full}, Runs: runs, MinVoltage: model.Voltage(4 * perCell)}, later}}
		}
	}
	for _, c := range []struct {
		what   string
		change func(*planner.Candidate)
		code   planner.Code // "" for nothing
		says   string       // how it begins
	}{
		{"as it is", func(*planner.Candidate) {}, "", ""},
		{"a punch at the stated current", func(c *planner.Candidate) { c.Punch.Current = 50; states(c, 50) }, "", ""},
		{"a punch above it", func(c *planner.Candidate) { c.Punch.Current = 51; states(c, 49.96) }, planner.PunchCurrent, "gives 51 A in a punch-out; it states 50 A as its steady limit"},
		{"a hover above it, which is a reason", func(c *planner.Candidate) { c.Punch.Current = 51; states(c, 1) }, "", ""},
		{"what the board carries", func(c *planner.Candidate) { c.Full.Current = 20; limits(c, amps(20), nil) }, "", ""},
		{"more than it carries", func(c *planner.Candidate) { c.Full.Current = 20.1; limits(c, amps(20), nil) }, planner.BoardCurrent, "carries 20.0 A an output, and full throttle on a full pack would draw 20.1 A"},
		{"what the motor carries", func(c *planner.Candidate) { c.Full.Current = 20; limits(c, nil, amps(20)) }, "", ""},
		{"more than the motor carries", func(c *planner.Candidate) { c.Full.Current = 20.1; limits(c, nil, amps(20)) }, planner.MotorCurrent, "states 20.0 A at the most, and full throttle on a full pack would draw 20.1 A"},
		{"tips", func(c *planner.Candidate) { c.Full.TipMach = 0.7 }, "", ""},
		{"fast tips", func(c *planner.Candidate) { c.Full.TipMach = 0.711 }, planner.TipMach, "turns its tips at Mach 0.71"},
		{"little throttle", func(c *planner.Candidate) { c.Flight.Throttle = 0.15 }, "", ""},
		{"too little throttle", func(c *planner.Candidate) { c.Flight.Throttle = 0.149 }, planner.HoverThrottle, "makes the build hover at 14.9 % throttle: under 15 % it is hard"},
		{"much throttle", func(c *planner.Candidate) { c.Flight.Throttle = 0.6 }, "", ""},
		{"too much throttle", func(c *planner.Candidate) { c.Flight.Throttle = 0.601 }, planner.HoverThrottle, "makes the build hover at 60.1 % throttle: above 60 % little is left"},
		{"warm", func(c *planner.Candidate) { c.Flight.MaxTemperature = model.Celsius(60) }, "", ""},
		{"hot", func(c *planner.Candidate) { c.Flight.MaxTemperature = model.Celsius(60.7) }, planner.HotPack, "warms to 61 C in flight: above 60 C"},
		{"lands low", func(c *planner.Candidate) { c.LandPerCell = 3 }, "", ""},
		{"lands too low", func(c *planner.Candidate) { c.LandPerCell = 2.99 }, planner.LowLanding, "may be flown down to 2.99 V per cell"},
		{"lands by the reserve alone", func(c *planner.Candidate) { c.LandPerCell = 0 }, "", ""},
		{"dips", punches(3, 1, true), "", ""},
		{"dips too far", punches(2.98, 1, true), planner.PunchDip, "falls to 2.98 V per cell in the flight's punches"},
		{"dips to next to nothing", punches(0.9, 1, true), planner.PunchDip, "falls to 0.90 V per cell in the flight's punches"},
		{"never punches", punches(2.98, 0, true), "", ""},
		{"is held there", punches(2.98, 1, false), "", ""},
		{"bound by throttle", func(c *planner.Candidate) { c.Flight.ThrottleBound = true }, planner.ThrottleBound, "has too little voltage for the motors"},
		{"hardly over", func(c *planner.Candidate) { c.OverChance = 0.05 }, "", ""},
		{"maybe over", func(c *planner.Candidate) { c.OverChance = 0.551 }, planner.MaybeOver, "is under the limit on paper, but the masses are not known better than to leave a chance of 55 % of breaking it"},
		{"does not hover at all", func(c *planner.Candidate) {
			punches(2, 1, true)(c)
			c.Flight.Duration, c.Full.Current, c.Full.TipMach, c.Flight.Throttle, c.Flight.MaxTemperature = 0, 99, 0.9, 0.9, model.Celsius(80)
			limits(c, amps(20), amps(20))
		}, "", ""},
	} {
		x := flies.Candidate
		c.change(&x)
		var got []planner.Code
		text := ""
		for _, r := range planner.RulesOf()[1] {
			if r.Breaks(&x) {
				got, text = append(got, r.Code), r.Says(&x)
			}
		}
		if want := []planner.Code{c.code}; c.code == "" && len(got) > 0 || c.code != "" && !slices.Equal(got, want) || !strings.HasPrefix(text, c.says) {
			t.Errorf("%s: %v, %q; want %q, %q", c.what, got, text, c.code, c.says)
		}
	}
}

// TestMaybeOverIsForWhatSuits: a pack that something speaks against is not said to be over the limit perhaps.
func TestMaybeOverIsForWhatSuits(t *testing.T) {
	cat := parts(t, example)
	build := strings.Replace(exampleBuild, "mass_g = 250", "mass_g = 239", 1)
	for filter, want := range map[string]bool{"": true, "[packs]\nplug = \"xt60\"\n": false} {
		a := plan(t, cat, build+filter).Assess(packSet(t, cat).Pack("k"))
		if a.Warns(planner.MaybeOver) != want {
			t.Errorf("with %q it is maybe over: %v", filter, !want)
		}
	}
}

// TestTestedLow: a discharge or a burst that ends below 3 V per cell harms cells; the lower of the two is told.
func TestTestedLow(t *testing.T) {
	for _, c := range []struct {
		discharge, burst model.Voltage
		want             string
	}{
		{0, 0, ""},
		{3, 3, ""},
		{3.3, 0, ""},
		{2.99, 3.3, "was tested down to 2.99 V per cell"},
		{2.99, 0, "was tested down to 2.99 V per cell"},
		{3.3, 2.8, "was tested down to 2.80 V per cell"},
		{0, 2.8, "was tested down to 2.80 V per cell"},
		{2.9, 2.8, "was tested down to 2.80 V per cell"},
		{2.8, 2.9, "was tested down to 2.80 V per cell"},
		{0.9, 0, "was tested down to 0.90 V per cell"},
	} {
		said, ok := planner.TestedLow("k", model.Protocol{DischargeEndPerCell: c.discharge, BurstEndPerCell: c.burst})
		if ok != (c.want != "") || !strings.HasPrefix(said.Text, c.want) || ok && (said.Code != planner.LowTestEnd || said.Subject != "k") {
			t.Errorf("to %v V and %v V: %v, %+v; want %q", float64(c.discharge), float64(c.burst), ok, said, c.want)
		}
	}
}

// TestLowLanding: the landing voltage of a chemistry is cautioned about below 3 V per cell, and is the build's own
// where it has one.
func TestLowLanding(t *testing.T) {
	for volts, want := range map[string]string{"": "", "land_v_per_cell = 3": "", "land_v_per_cell = 2.9": "The pack may be flown down to 2.90 V per cell: cells are harmed below 3.0 V."} {
		p := plan(t, parts(t, example), exampleBuild+"[flight]\n"+volts+"\n")
		if said, ok := p.LowLanding(model.LiPo); ok != (want != "") || said.Text != want || ok && said.Code != planner.LowLanding {
			t.Errorf("%q: %v, %+v", volts, ok, said)
		}
	}
}

// TestAssessIsOfItsFlight: margins, the load on the pack and what was tested of it, by hand: the example weighs 238.4 g
// with a pack of 74 g, 650 mAh, 560 W and 9.29 Wh.
func TestAssessIsOfItsFlight(t *testing.T) {
	build := strings.Replace(exampleBuild, "mass_g = 250", "mass_g = 250\nspare_g = 3", 1)
	for _, c := range []struct {
		change, to    string
		watts, energy float64 // 0 for none
	}{
		{"", "", 560, 9.29},
		{"energy_wh = 9.29\n", "", 560, 0},
		{"[pack.k.tested]\ncapacity_mah = 640\nenergy_wh = 9.29\nmid_voltage_v = 14.60\nburst_power_w = 560\n", "", 0, 0},
	} {
		p := plan(t, parts(t, strings.Replace(example, c.change, c.to, 1)), build)
		a := p.Assess(packOf(t, p, "k"))
		near(t, "margin, g", a.Margin.Grams(), 11.6, 1e-9)
		near(t, "spare, g", a.Spare.Grams(), 8.6, 1e-9)
		near(t, "hover current over capacity, 1/h", a.HoverC, float64(a.Flight.Current)/0.65, 1e-9)
		if (a.BurstPower != nil) != (c.watts > 0) || (a.PowerDensity != nil) != (c.watts > 0) || (a.EnergyDensity != nil) != (c.energy > 0) {
			t.Fatalf("without %q: burst power %v, densities %v and %v", c.change, a.BurstPower, a.PowerDensity, a.EnergyDensity)
		}
		if c.watts > 0 {
			near(t, "burst power, W", float64(*a.BurstPower), c.watts, 1e-9)
			near(t, "power density, W/g", *a.PowerDensity/1000, c.watts/74, 1e-9)
		}
		if c.energy > 0 {
			near(t, "energy density, Wh/g", *a.EnergyDensity/3600/1000, c.energy/74, 1e-9)
		}
	}
}

// TestConflictsAtTheEdge: a propeller may be a tenth of a millimetre larger than the frame takes, and a stated circle
// or shaft a tenth off the other.
func TestConflictsAtTheEdge(t *testing.T) {
	mm := func(l float64) *model.Length { x := model.Length(l) * model.Millimetre; return &x }
	for _, c := range []struct {
		what         string
		prop, most   float64
		motor, frame *model.Length
		bore, shaft  *model.Length
		want         []planner.Code
		says         string
	}{
		{"the same", 90, 90, mm(9), mm(9), mm(1.5), mm(1.5), nil, ""},
		{"nearly the same", 90.095, 90, mm(9.095), mm(9), mm(1.405), mm(1.5), nil, ""},
		{"no limit", 200, 0, nil, mm(9), mm(1.5), nil, nil, ""},
		{"nothing stated", 80, 90, nil, nil, nil, nil, nil, ""},
		{"too large", 90.11, 90, mm(9), mm(9), nil, mm(1.5), []planner.Code{planner.PropTooLarge}, "is 3.55 in across; frame f takes at most 3.54 in"},
		{"another circle", 80, 90, mm(9.114), mm(9.004), nil, nil, []planner.Code{planner.MotorMount}, "has a 9.11 mm bolt circle; frame f has 9 mm"},
		{"a smaller circle", 80, 90, mm(8.89), mm(9), nil, nil, []planner.Code{planner.MotorMount}, "has a 8.89 mm bolt circle; frame f has 9 mm"},
		{"another shaft", 80, 90, nil, nil, mm(1.386), mm(1.504), []planner.Code{planner.PropShaft}, "is bored for a 1.39 mm shaft; motor m has 1.5 mm"},
	} {
		p := &planner.Plan{Selection: planner.Selection{
			Frame: &catalog.Frame{Common: catalog.Common{ID: "f"}, MaxProp: model.Length(c.most) * model.Millimetre, MotorMount: c.frame},
			Motor: &catalog.Motor{Common: catalog.Common{ID: "m"}, Mount: c.motor, Shaft: c.shaft},
			Prop:  &catalog.Prop{Common: catalog.Common{ID: "p"}, Diameter: model.Length(c.prop) * model.Millimetre, Shaft: c.bore},
		}}
		var got []planner.Code
		text := ""
		for _, r := range planner.RulesOf()[2] {
			x := planner.Candidate{Plan: p}
			if r.Breaks(&x) {
				got, text = append(got, r.Code), r.Says(&x)
			}
		}
		if !slices.Equal(got, c.want) || text != c.says {
			t.Errorf("%s: %v, %q; want %v, %q", c.what, got, text, c.want, c.says)
		}
	}
}
