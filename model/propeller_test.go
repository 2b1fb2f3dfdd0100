package model_test

import (
	"math"
	"strings"
	"testing"

	"pgregory.net/rapid"

	"allup/model"
)

// A quadrotor of 20 N and 0.503 m2 at sea level: induced velocity 4.03 m/s, induced power with
// a factor of 1.1 88.6279 W, blade-profile power 79.8563 W, and of the sum the figure of merit 0.4782.
// Source: Zeng, Xu, Zhang, Energy minimization for wireless communication with rotary-wing
// UAV, IEEE Trans. Wireless Comm. 18 (2019) 2329, arXiv 1804.02238, table I.
func TestMomentumTheory(t *testing.T) {
	const thrust, air, area = 20, 1.225, 0.503
	ideal := model.IdealPower(thrust, air, area)
	within(t, "induced velocity", float64(ideal)/thrust, 4.03, 0.005)
	near(t, "induced power", 1.1*ideal, 88.6279, 1e-6)
	// The same rotor in propeller coefficients, at any speed: here 40 rev/s.
	d, n := math.Sqrt(area*4/math.Pi), 40.0
	ct := thrust / (air * n * n * math.Pow(d, 4))
	cp := (88.6279 + 79.8563) / (air * n * n * n * math.Pow(d, 5))
	within(t, "figure of merit", model.FigureOfMerit(ct, cp), 0.4782, 0.00005)
}

// Source: UIUC Propeller Database, Brandt, Deters, Ananda, Dantsker, Selig: APC 4.2x4,
// static run at 9880 rpm; see Deters, Ananda, Selig, AIAA 2014-2151.
func TestMeasuredPropeller(t *testing.T) {
	const ct, cp, speed = 0.129241, 0.106961, 9880 * model.RPM
	p, err := model.NewPropeller(4.2*model.Inch, 4*model.Inch, 2, model.FromStaticTable, []model.StaticPoint{{Speed: speed, CT: ct, CP: cp}})
	if err != nil {
		t.Fatal(err)
	}
	within(t, "figure of merit", model.FigureOfMerit(ct, cp), 0.3466, 0.00005)
	// The coefficient as printed gives 0.55601 N: a unit of the last digit.
	within(t, "thrust", p.Thrust(speed, model.SeaLevelDensity), 0.5561, 0.0001)
	shaft := float64(p.Torque(speed, model.SeaLevelDensity)) * float64(speed)
	within(t, "shaft power", shaft, 8.083, 0.0005)
	// Ideal over shaft power is the figure of merit by its definition.
	within(t, "ideal over shaft power", float64(model.IdealPower(0.5561, model.SeaLevelDensity, p.DiskArea()))/shaft, 0.3466, 0.0001)
}

func TestFigureOfMeritAndPowerCoefficientAreInverse(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		ct := rapid.Float64Range(0.01, 0.4).Draw(t, "ct")
		fm := rapid.Float64Range(0.1, 0.9).Draw(t, "fm")
		near(t, "FM", model.FigureOfMerit(ct, model.PowerCoefficient(ct, fm)), fm, 1e-14)
	})
}

func geometry(t *testing.T, diameter, pitch float64, blades int) (p model.Propeller, ct, cp float64) {
	t.Helper()
	p, err := model.GeometryPropeller(model.Length(diameter)*model.Inch, model.Length(pitch)*model.Inch, blades)
	if err != nil {
		t.Fatalf("GeometryPropeller(%v, %v, %v) failed: %v", diameter, pitch, blades, err)
	}
	ct, cp = p.Coefficients(p.SpeedFor(0.5, model.SeaLevelDensity), model.SeaLevelDensity)
	return p, ct, cp
}

func TestGeometryPropeller(t *testing.T) {
	// By hand: e^-3.171 e^(1.414 x 0.8) = 0.04196 x 3.0997.
	big, ct, cp := geometry(t, 5, 4, 2)
	near(t, "CT of 5x4", ct, 0.13006, 2e-4)
	near(t, "FM of 5x4 at 0.5 N", model.FigureOfMerit(ct, cp), 0.48, 1e-9)
	if big.Known != model.FromGeometry || big.SigmaCT != 0.20 || big.SigmaFM != 0.08 || big.SigmaGrowth != 0.065 {
		t.Errorf("5x4 is known from %q with sigmas %v and %v, want geometry, 0.2, 0.08", big.Known, big.SigmaCT, big.SigmaFM)
	}
	// Steeper pitch adds nothing, a third blade 1.5^0.66 of thrust and 1.5^0.17 of the figure of merit.
	_, steep, _ := geometry(t, 5, 5.3, 2)
	near(t, "CT of 5x5.3", steep, ct, 1e-12)
	_, ct3, cp3 := geometry(t, 5, 4, 3)
	near(t, "CT of three blades", ct3/ct, 1.3068, 1e-4)
	near(t, "FM of three blades", model.FigureOfMerit(ct3, cp3), 0.48*1.0713, 1e-4)
	// Two blades reach 0.66 at 0.5 x (0.66/0.48)^(1/0.118) = 7.431 N: at 0.5 N 0.065 ln 14.86 = 0.1754, with 0.08.
	near(t, "sigma of FM at 0.5 N", big.MeritSigma(0.5), math.Hypot(0.08, 0.1754), 2e-3)
	near(t, "sigma of FM at 20 N", big.MeritSigma(20), 0.08, 0)
	// By thrust at any air: 0.48 x 4^0.118 at 2 N, and 0.66 far above.
	for _, air := range []model.Density{0.9, 1.225} {
		ct, cp = big.Coefficients(big.SpeedFor(2, air), air)
		near(t, "FM at 2 N", model.FigureOfMerit(ct, cp), 0.48*1.17772, 1e-5)
		ct, cp = big.Coefficients(big.SpeedFor(20, air), air)
		near(t, "FM at 20 N", model.FigureOfMerit(ct, cp), 0.66, 1e-12)
	}
}

func TestGeometryPropellerRefuses(t *testing.T) {
	for _, c := range []struct {
		diameter, pitch model.Length
		blades          int
	}{
		{0, 1, 2},
		{-1, 1, 2},
		{model.Length(math.NaN()), 1, 2},
		{0.1, model.Length(math.NaN()), 2},
		{0.1, 0.1, 0},
		{0.1, 0.1, -2},
	} {
		p, err := model.GeometryPropeller(c.diameter, c.pitch, c.blades)
		if err == nil || p.SigmaCT != 0 || p.Diameter != 0 {
			t.Errorf("GeometryPropeller(%v, %v, %v) = %+v, %v; want an error alone", c.diameter, c.pitch, c.blades, p, err)
		}
	}
}

// A table whose thrust or torque falls anywhere has more than one speed for a thrust or a voltage.
func TestNewPropellerRefuses(t *testing.T) {
	nan, inf := math.NaN(), math.Inf(1)
	row := func(rpm, ct, cp float64) model.StaticPoint {
		return model.StaticPoint{Speed: model.AngularSpeed(rpm) * model.RPM, CT: ct, CP: cp}
	}
	for _, c := range []struct {
		name   string
		points []model.StaticPoint
		want   string
	}{
		{"no rows", nil, "at one speed at least"},
		{"zero ct", []model.StaticPoint{row(1000, 0, 0.1)}, "must be positive"},
		{"negative cp", []model.StaticPoint{row(1000, 0.1, -0.1)}, "must be positive"},
		{"NaN ct", []model.StaticPoint{row(1000, nan, 0.1)}, "must be positive"},
		{"infinite cp", []model.StaticPoint{row(1000, 0.1, inf)}, "must be positive"},
		{"negative speed", []model.StaticPoint{row(-1, 0.1, 0.1)}, "must be zero or more"},
		{"NaN speed", []model.StaticPoint{row(nan, 0.1, 0.1)}, "must be zero or more"},
		{"same speed", []model.StaticPoint{row(1000, 0.1, 0.1), row(1000, 0.1, 0.1)}, "does not rise"},
		{"falling speed", []model.StaticPoint{row(1000, 0.1, 0.1), row(3000, 0.1, 0.1), row(2000, 0.1, 0.1)}, "speed 2000 rpm does not rise above 3000 rpm"},
		{"thrust falls from row to row", []model.StaticPoint{row(1000, 0.1, 0.1), row(2000, 0.024, 0.1)}, "thrust falls between 1000 and 2000 rpm"},
		// T = 1 at the first row and 1.04 at the last, and 1.42 between them.
		{"thrust falls within a row", []model.StaticPoint{row(1000, 0.1, 0.1), row(2000, 0.026, 0.1)}, "thrust falls between 1000 and 2000 rpm"},
		{"torque falls", []model.StaticPoint{row(1000, 0.1, 0.1), row(2000, 0.1, 0.026)}, "torque falls between 1000 and 2000 rpm"},
	} {
		p, err := model.NewPropeller(0.1, 0.1, 2, model.FromStaticTable, c.points)
		if err == nil || !strings.Contains(err.Error(), c.want) {
			t.Errorf("%s: NewPropeller = %+v, %v; want an error with %q", c.name, p, err, c.want)
		}
	}
	// CT falls by 40 %, and yet the thrust rises all the way.
	if _, err := model.NewPropeller(0.1, 0.1, 2, model.FromStaticTable, []model.StaticPoint{row(1000, 0.1, 0.1), row(2000, 0.06, 0.06)}); err != nil {
		t.Errorf("NewPropeller refuses a table whose thrust rises: %v", err)
	}
	if _, err := model.NewPropeller(0, 0.1, 2, model.FromStaticTable, []model.StaticPoint{row(1000, 0.1, 0.1)}); err == nil {
		t.Error("NewPropeller with no diameter has an answer, want an error")
	}
}

// drawTable is a static table whose coefficients drift by up to a tenth from row to row.
func drawTable(t *rapid.T) []model.StaticPoint {
	rows := rapid.IntRange(1, 8).Draw(t, "rows")
	rpm := rapid.Float64Range(500, 5000).Draw(t, "rpm")
	ct := rapid.Float64Range(0.05, 0.25).Draw(t, "ct")
	cp := rapid.Float64Range(0.02, 0.25).Draw(t, "cp")
	var points []model.StaticPoint
	for range rows {
		points = append(points, model.StaticPoint{Speed: model.AngularSpeed(rpm) * model.RPM, CT: ct, CP: cp})
		rpm *= rapid.Float64Range(1.1, 1.6).Draw(t, "step")
		ct *= rapid.Float64Range(0.92, 1.1).Draw(t, "drift of ct")
		cp *= rapid.Float64Range(0.92, 1.1).Draw(t, "drift of cp")
	}
	return points
}

func TestSpeedForInvertsThrustOfTables(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		p := propellerOf(t, rapid.Float64Range(1, 8).Draw(t, "inches"), drawTable(t)...)
		air := model.Density(rapid.Float64Range(0.6, 1.4).Draw(t, "air"))
		w := model.AngularSpeed(rapid.Float64Range(1, 60000).Draw(t, "rpm")) * model.RPM
		// 1e-12 of the thrust is what SpeedFor asks of its root.
		near(t, "speed", p.SpeedFor(p.Thrust(w, air), air), float64(w), 1e-11)
	})
}

// Coefficients go in straight lines through the rows and are flat above; below, the figure of merit falls as
// thrust to the 0.10: at half the lowest speed to 4^-0.10.
func TestCoefficientsOfATable(t *testing.T) {
	p := propellerOf(t, 3,
		model.StaticPoint{Speed: 4000 * model.RPM, CT: 0.10, CP: 0.06},
		model.StaticPoint{Speed: 8000 * model.RPM, CT: 0.12, CP: 0.05},
		model.StaticPoint{Speed: 10000 * model.RPM, CT: 0.13, CP: 0.07})
	for _, c := range []struct{ rpm, ct, cp float64 }{
		{2000, 0.10, 0.06 * math.Pow(4, 0.10)}, {4000, 0.10, 0.06}, {5000, 0.105, 0.0575}, {8000, 0.12, 0.05}, {9500, 0.1275, 0.065}, {10000, 0.13, 0.07}, {50000, 0.13, 0.07},
	} {
		ct, cp := p.Coefficients(model.AngularSpeed(c.rpm)*model.RPM, model.SeaLevelDensity)
		near(t, "CT", ct, c.ct, 1e-12)
		near(t, "CP", cp, c.cp, 1e-12)
	}
	if w := p.SpeedFor(0, 1.2); w != 0 {
		t.Errorf("speed for no thrust = %v, want 0", w)
	}
}

// The caller's rows are the caller's.
func TestNewPropellerCopiesItsRows(t *testing.T) {
	points := []model.StaticPoint{{CT: 0.1, CP: 0.05}}
	p := propellerOf(t, 3, points...)
	points[0].CT = 9
	if ct, _ := p.Coefficients(100, 1.2); ct != 0.1 {
		t.Errorf("CT = %v after the caller changed a row, want 0.1", ct)
	}
}

// The geometry formula against every static run with a known pitch: 30 propellers of 2.5 to
// 5.5 in, each by the mean over the upper half of its speeds.
// Source: UIUC Propeller Database, Brandt, Deters, Ananda, Dantsker, Selig.
func TestGeometryAgainstMeasuredPropellers(t *testing.T) {
	var sum, squares float64
	judged, inBand, inTwo := 0.0, 0, 0
	for _, run := range referencePropellers(t) {
		// Every measured table is one that the program takes.
		if _, err := model.NewPropeller(run.diameter, run.pitch, run.blades, model.FromStaticTable, run.points); err != nil {
			t.Errorf("%s is refused: %v", run.name, err)
		}
		if run.pitch == 0 { // not published
			continue
		}
		p, estimate, _ := geometry(t, run.diameter.Inches(), run.pitch.Inches(), run.blades)
		var ct, cp, n float64
		for _, pt := range run.points {
			if pt.Speed >= run.points[len(run.points)-1].Speed/2 {
				ct, cp, n = ct+pt.CT, cp+pt.CP, n+1
			}
		}
		ct, cp = ct/n, cp/n
		d := math.Log(ct / estimate)
		judged, sum, squares = judged+1, sum+d, squares+d*d
		// Where the propeller lifts what it does at three quarters of its greatest speed.
		w := run.points[len(run.points)-1].Speed * 3 / 4
		measured := run.table(t, run.points)
		thrust := measured.Thrust(w, model.SeaLevelDensity)
		middle := model.FigureOfMerit(p.Coefficients(p.SpeedFor(thrust, model.SeaLevelDensity), model.SeaLevelDensity))
		off := math.Abs(model.FigureOfMerit(ct, cp)/middle - 1)
		sigma := p.MeritSigma(thrust)
		if off <= sigma {
			inBand++
		}
		if off <= 2*sigma {
			inTwo++
		}
	}
	if judged != 30 {
		t.Fatalf("%v propellers, want the 30 that the formula was fitted to", judged)
	}
	mean, scatter := sum/judged, math.Sqrt(squares/judged)
	t.Logf("CT: mean of the logarithm %.3f, scatter %.3f; FM: %d of 30 within one band, %d within two", mean, scatter, inBand, inTwo)
	within(t, "mean error of CT", mean, 0, 0.05)    // a fit has none, over the runs that it weighed
	within(t, "scatter of CT", scatter, 0.20, 0.03) // "one standard deviation 20 %"
	// Of a normal quantity 68 % lie within one standard deviation and 95 % within two.
	if inBand < 18 || inTwo < 25 {
		t.Errorf("FM: %d of 30 within the band and %d within twice the band, want 18 and 25", inBand, inTwo)
	}
}
