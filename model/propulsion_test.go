package model_test

import (
	"math"
	"testing"

	"allup/model"
)

// A row that is left out of a static table is met by the line between its neighbours: shaft
// power at the row's thrust. The ends are not interpolated, so they are counted apart.
func TestStaticTablePredictsRowsLeftOut(t *testing.T) {
	var inside, ends []float64
	for _, run := range referencePropellers(t) {
		for i, row := range run.points {
			var rest []model.StaticPoint
			rest = append(rest, run.points[:i]...)
			rest = append(rest, run.points[i+1:]...)
			all, without := run.table(t, run.points), run.table(t, rest)
			air := model.SeaLevelDensity
			w := without.SpeedFor(all.Thrust(row.Speed, air), air)
			power := float64(without.Torque(w, air)) * float64(w)
			off := math.Abs(power/(float64(all.Torque(row.Speed, air))*float64(row.Speed)) - 1)
			if i == 0 || i == len(run.points)-1 {
				ends = append(ends, off)
			} else {
				inside = append(inside, off)
			}
		}
	}
	share := func(x []float64, bound float64) float64 {
		n := 0
		for _, v := range x {
			if v <= bound {
				n++
			}
		}
		return float64(n) / float64(len(x))
	}
	t.Logf("%d inner rows: %.1f %% within 5 %%, median %.2f %%; %d end rows: %.1f %% within 5 %%", len(inside),
		100*share(inside, 0.05), 100*percentile(inside, 0.5), len(ends), 100*share(ends, 0.05))
	if s := share(inside, 0.05); s < 0.9 {
		t.Errorf("%.3f of the inner rows are within 5 %%, want 0.9", s)
	}
}

// At equal thrust shaft power goes as one over the figure of merit, so its 5 to 95 % band is
// that of a normal figure of merit, taken here at two speeds of every run: the middle row, and the
// fastest, which is nearer to what small multirotors fly at.
func TestGeometryBandsHoldMeasuredPower(t *testing.T) {
	const z = 1.6449 // 95th percentile of the normal distribution
	runs := referencePropellers(t)
	for _, at := range []string{"middle", "fastest"} {
		held, judged := 0, 0
		for _, run := range runs {
			if run.pitch == 0 {
				continue // one run has no published pitch
			}
			row := run.points[len(run.points)/2]
			if at == "fastest" {
				row = run.points[len(run.points)-1]
			}
			p, err := model.GeometryPropeller(run.diameter, run.pitch, run.blades)
			if err != nil {
				t.Fatal(err)
			}
			air := model.SeaLevelDensity
			measured := run.table(t, run.points)
			power := float64(measured.Torque(row.Speed, air)) * float64(row.Speed)
			w := p.SpeedFor(measured.Thrust(row.Speed, air), air)
			middle := float64(p.Torque(w, air)) * float64(w)
			// What is uncertain of the figure of merit, at the shaft.
			var up, down float64
			r := model.Rotor{Propeller: p, Motor: model.Motor{Kv: 300}, Controller: model.Controller{Efficiency: 1}, Air: air}
			for _, u := range r.Uncertain() {
				if u.Input != model.InputFigureOfMerit && u.Input != model.InputGrowth {
					continue
				}
				for _, by := range []float64{u.Sigma, -u.Sigma} {
					moved := r
					u.Move(&moved, by)
					if off := float64(moved.Propeller.Torque(w, air))*float64(w)/middle - 1; off > 0 {
						up = math.Hypot(up, off)
					} else {
						down = math.Hypot(down, off)
					}
				}
			}
			low, high := middle*(1-z*down), middle*(1+z*up)
			judged++
			if power >= low && power <= high {
				held++
			} else {
				t.Logf("%s, %s row: %.3g W outside %.3g to %.3g W", run.name, at, power, low, high)
			}
		}
		share := float64(held) / float64(judged)
		t.Logf("%s rows: bands hold %d of %d runs, %.1f %%", at, held, judged, 100*share)
		if share < 0.85 || share > 0.97 {
			t.Errorf("%s rows: bands hold %.3f of the runs, want 0.85 to 0.97", at, share)
		}
	}
}

// Source: the same blades in other counts, 5 in, UIUC Propeller Database, AIAA 2014-2151: three against two CT
// x1.30 to 1.38, four against two x1.50 to 1.65; CP x1.30 to 1.41 and x1.60 to 1.78.
func TestGeometryBladeRatios(t *testing.T) {
	coefficients := func(blades int) (ct, cp float64) {
		p, err := model.GeometryPropeller(5*model.Inch, 3.75*model.Inch, blades)
		if err != nil {
			t.Fatal(err)
		}
		return p.Coefficients(p.SpeedFor(0.5, model.SeaLevelDensity), model.SeaLevelDensity)
	}
	ct2, cp2 := coefficients(2)
	for _, c := range []struct {
		blades                       int
		lowCT, highCT, lowCP, highCP float64
	}{{3, 1.30, 1.38, 1.30, 1.41}, {4, 1.50, 1.65, 1.60, 1.78}} {
		ct, cp := coefficients(c.blades)
		if r := ct / ct2; r < c.lowCT || r > c.highCT {
			t.Errorf("%d blades against 2: CT x%.3f, want %.2f to %.2f", c.blades, r, c.lowCT, c.highCT)
		}
		if r := cp / cp2; r < c.lowCP || r > c.highCP {
			t.Errorf("%d blades against 2: CP x%.3f, want %.2f to %.2f", c.blades, r, c.lowCP, c.highCP)
		}
	}
}

// Source: momentum theory; at fixed thrust and coefficients power goes as rho^-1/2. 2000 m needs 10.3 % more than sea
// level and 3000 m 16.1 %.
func TestAirScalesPower(t *testing.T) {
	p, err := model.GeometryPropeller(4*model.Inch, 3*model.Inch, 3)
	if err != nil {
		t.Fatal(err)
	}
	power := func(air model.Density) float64 {
		w := p.SpeedFor(0.6, air)
		return float64(p.Torque(w, air)) * float64(w)
	}
	for _, c := range []struct {
		altitude model.Length
		more     float64
	}{{2000, 0.103}, {3000, 0.161}} {
		air, err := model.StandardAir(c.altitude)
		if err != nil {
			t.Fatal(err)
		}
		ratio := power(air) / power(model.SeaLevelDensity)
		if math.Abs(ratio-1-c.more) > 0.0005 {
			t.Errorf("at %g m power x%.4f, want x%.3f", float64(c.altitude), ratio, 1+c.more)
		}
		if exact := math.Sqrt(float64(model.SeaLevelDensity / air)); math.Abs(ratio/exact-1) > 1e-12 {
			t.Errorf("at %g m power x%.15f, want rho^-1/2 = %.15f", float64(c.altitude), ratio, exact)
		}
	}
}

// Source: Drela, First-Order DC Electric Motor Model, 2007; the example run of an academic propeller code.
func TestPublishedMotorPoints(t *testing.T) {
	m := model.Motor{Kv: 2760 * model.RPMPerVolt, R: 0.31, I0: 0.77}
	w := 14020 * model.RPM
	for _, c := range []struct {
		torque             model.Torque
		amps, volts, share float64
	}{{0.03001, 9.4439, 8.007, 0.5827}, {0.02880, 9.0945, 7.899, 0.5886}} {
		p := m.Drive(c.torque, w)
		efficiency := float64(c.torque) * float64(w) / float64(p.Power)
		// The torque is published to 4 digits, which is 1.7e-4 of it.
		if math.Abs(float64(p.Current)-c.amps) > 2e-3 || math.Abs(float64(p.Voltage)-c.volts) > 1e-3 || math.Abs(efficiency-c.share) > 2e-4 {
			t.Errorf("at %g N m: %.4f A, %.3f V, %.4f, want %.4f A, %.3f V, %.4f", float64(c.torque), p.Current, p.Voltage, efficiency, c.amps, c.volts, c.share)
		}
	}
}
