package planner

import (
	"math"
	"slices"
	"testing"

	"gonum.org/v1/gonum/floats/scalar"

	"allup/catalog"
	"allup/model"
)

// TestWaysLeave: what each measurement leaves of a cause, by what it knows the cause to: a thrust test coefficients to
// 3 % and all that a stand shows, a hover half of its meter's error on either side, a bench what is left from unit to
// unit and of a circuit, a scale 0.1 g.
func TestWaysLeave(t *testing.T) {
	bench := map[Input]float64{InputCapacity: math.Hypot(0.02, 0.025), InputResistance: math.Hypot(0.08, 0.14)}
	hover := model.SigmaFlownHover / 2
	for _, c := range []struct {
		input                      Input
		sigma                      float64
		stand, hover, bench, scale float64 // what the sigma becomes; 0 for as it was, -1 for nothing
	}{
		{InputMass, 0.0008, 0, 0, 0, 0.0001},
		{InputThrust, 0.20, 0.03, 0, 0, 0},
		{InputFigureOfMerit, 0.12, 0.03, hover, 0, 0},
		{InputEfficiency, 0.08, 0, hover, 0, 0},
		{InputGrowth, 0.5, -1, hover, 0, 0},
		{InputLoadedSpeed, 0.4, -1, hover, 0, 0},
		{InputNoLoadShare, 0.3, -1, hover, 0, 0},
		{InputNoLoadGrowth, 0.3, 0, hover, 0, 0},
		{InputPartDuty, 0.5, -1, hover, 0, 0},
		{InputCapacity, 0.3, 0, 0, bench[InputCapacity], 0},
		{InputResistance, 0.4, 0, 0, bench[InputResistance], 0},
		{InputChargeDep, 0.4, 0, 0, 0, 0},
		{InputCold, 1, 0, 0, 0, 0},
	} {
		for name, way := range map[string]struct {
			left    func(*cause) float64
			becomes float64
		}{
			"thrust test": {leftByThrustTest, c.stand}, "hovers": {leftByHovers, c.hover}, "bench": {leftByPackTest, c.bench}, "scale": {leftByScale, c.scale},
		} {
			want := max(0, way.becomes) / c.sigma
			if way.becomes == 0 {
				want = 1
			}
			// On either side, and on both with the less known one.
			for _, sigmas := range [][2]float64{{c.sigma, 0}, {0, c.sigma}, {c.sigma / 2, c.sigma}, {c.sigma, c.sigma}} {
				x := cause{Input: c.input, pushes: [2]push{{sigma: sigmas[0]}, {sigma: sigmas[1]}}}
				if got := way.left(&x); !scalar.EqualWithinAbs(got, want, 1e-12) {
					t.Errorf("%s known to %v: %s leaves %v, want %v", c.input, sigmas, name, got, want)
				}
			}
		}
	}
	// What is known better than that stays as it is.
	for _, known := range []float64{0.03, 0.01} {
		x := cause{Input: InputThrust, pushes: [2]push{{sigma: known}, {sigma: known}}}
		if got := leftByThrustTest(&x); got != 1 {
			t.Errorf("of %v a thrust test leaves %v, want all", known, got)
		}
	}
}

// knownSide is one side of a swap by what is known of it.
func knownSide(prop string, kind model.Knowledge, flown bool, pack string, basis Basis) side {
	p := &Plan{Selection: Selection{
		Motor: &catalog.Motor{Common: catalog.Common{ID: "m"}}, Prop: &catalog.Prop{Common: catalog.Common{ID: prop}},
	}}
	p.Propulsion.Kinds = []model.Knowledge{kind}
	if flown {
		p.Propulsion.Calibration = &model.Calibration{}
	}
	return side{plan: p, pack: &Pack{Pack: &catalog.Pack{Common: catalog.Common{ID: pack}}, Basis: basis}}
}

// TestWaysToKnow: a thrust test of what is known by its size, else a hover where not both sides were flown; a bench
// test of what is known by its label; a scale in any case.
func TestWaysToKnow(t *testing.T) {
	const table, size = model.FromStaticTable, model.FromGeometry
	const hover, scale = "a hover flown and measured on both sides", "weighing what differs"
	for _, c := range []struct {
		what  string
		sides [2]side
		want  []string
	}{
		{"known", [2]side{knownSide("p", table, false, "k", BasisTested), knownSide("q", table, false, "l", BasisLogs)}, []string{hover, scale}},
		{"one flown", [2]side{knownSide("p", table, true, "k", BasisTested), knownSide("q", table, false, "k", BasisTested)}, []string{hover, scale}},
		{"the other flown", [2]side{knownSide("p", table, false, "k", BasisTested), knownSide("q", table, true, "k", BasisTested)}, []string{hover, scale}},
		{"both flown", [2]side{knownSide("p", size, true, "k", BasisTested), knownSide("p", size, true, "l", BasisTested)}, []string{scale}},
		{"one by size", [2]side{knownSide("p", table, false, "k", BasisTested), knownSide("q", size, false, "k", BasisTested)}, []string{"a thrust test of m with q", scale}},
		{"both by size", [2]side{knownSide("p", size, false, "k", BasisTested), knownSide("q", size, false, "k", BasisTested)}, []string{"a thrust test of m with p and of m with q", scale}},
		{"one pair by size", [2]side{knownSide("p", size, false, "k", BasisTested), knownSide("p", size, false, "l", BasisTested)}, []string{"a thrust test of m with p", scale}},
		{"one by label", [2]side{knownSide("p", table, true, "k", BasisTested), knownSide("p", table, true, "l", BasisLabel)}, []string{"a bench test of l", scale}},
		{"both by label", [2]side{knownSide("p", table, true, "k", BasisLabel), knownSide("p", table, true, "l", BasisLabel)}, []string{"a bench test of k and l", scale}},
		{"one pack by label", [2]side{knownSide("p", table, true, "k", BasisLabel), knownSide("p", table, true, "k", BasisLabel)}, []string{"a bench test of k", scale}},
	} {
		var got []string
		for _, w := range waysToKnow(c.sides) {
			got = append(got, w.text)
		}
		if !slices.Equal(got, c.want) {
			t.Errorf("%s: %q, want %q", c.what, got, c.want)
		}
	}
}

// TestFindRemedies: the one measurement that narrows most, all together where it is not enough and they are, and none
// where nothing is to be settled or nothing would help. Straight effects add up as squares.
func TestFindRemedies(t *testing.T) {
	sides := [2]side{knownSide("p", model.FromStaticTable, false, "k", BasisTested), knownSide("q", model.FromGeometry, false, "l", BasisLabel)}
	of := func(input Input, sigma, time, punch float64) effect {
		return effect{cause: cause{Input: input, pushes: [2]push{{}, {sigma: sigma}}}, slope: figures{time, 0, punch}}
	}
	merit, resistance, motor := of(InputFigureOfMerit, 0.12, 20, 0), of(InputResistance, 2*math.Hypot(0.08, 0.14), 10, 0.2), of(InputEfficiency, 0.03, 20, 0)
	half := func(parts ...float64) float64 { // of a band
		sum := 0.0
		for _, p := range parts {
			sum += p * p
		}
		return 1.6448536269514722 * math.Sqrt(sum)
	}
	for _, c := range []struct {
		what        string
		base        figures
		all         []effect
		time, punch []Code
		leaves      float64 // half of the band of time that is left
	}{
		{"one is enough", figures{10, 0, 1}, []effect{merit}, []Code{TestRotors}, nil, half(20 * 0.03 / 0.12)},
		{"one is best and not enough", figures{-5, 0, 1}, []effect{merit, resistance}, []Code{TestRotors}, nil, half(5, 10)},
		{"together they are", figures{15, 0, 1}, []effect{merit, resistance}, []Code{TestRotors, TestPacks, WeighBoth}, nil, half(5, 5)},
		{"of punch", figures{90, 0, -0.3}, []effect{resistance}, nil, []Code{TestPacks}, 0},
		{"told already", figures{90, 0, 1}, []effect{merit, resistance}, nil, nil, 0},
		{"nothing helps", figures{10, 0, 1}, []effect{motor}, nil, nil, 0},
		{"nothing is unsure", figures{}, nil, nil, nil, 0},
	} {
		s := Swap{Difference: bandOf(c.base, c.all, nil)}
		s.findRemedies(sides, c.base, c.all)
		got := map[SwapFigure]Remedy{}
		for _, r := range s.Remedies {
			got[r.Figure] = r
		}
		if !slices.Equal(got[SwapTime].Codes, c.time) || !slices.Equal(got[SwapPunch].Codes, c.punch) || len(got) != len(s.Remedies) {
			t.Errorf("%s: %+v, want %v for time and %v for punch", c.what, s.Remedies, c.time, c.punch)
		}
		for figure, base := range map[SwapFigure]float64{SwapTime: c.base[0], SwapPunch: c.base[2]} {
			r, told := got[figure]
			want := c.leaves
			if figure == SwapPunch {
				want = half(0.1)
			}
			if told && (!scalar.EqualWithinAbs(r.Leaves.Low, base-want, 1e-9) || !scalar.EqualWithinAbs(r.Leaves.High, base+want, 1e-9)) {
				t.Errorf("%s: of %s %v is left, want %v +- %v", c.what, figure, r.Leaves, base, want)
			}
		}
	}
}
