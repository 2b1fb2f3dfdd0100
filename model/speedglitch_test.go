package model_test

import (
	"encoding/csv"
	"errors"
	"maps"
	"math"
	"os"
	"path/filepath"
	"slices"
	"testing"

	"allup/model"
)

// One speed that stands apart changes nothing: the fit is that of the same table without this speed.
func TestThrustFitLeavesOutGlitchedSpeed(t *testing.T) {
	r := standRotor(t)
	for _, factor := range []float64{0.01, 0.7, 1.45, 30} {
		rows := standTable(r, 10, true, exact)
		rows[3].Speed *= model.AngularSpeed(factor)
		fit, err := model.FitThrustTest(standTest(r, rows))
		if err != nil {
			t.Fatalf("a speed times %g: %v", factor, err)
		}
		if len(fit.Glitches) != 1 || fit.Glitches[0].Row != 3 || fit.Glitches[0].Speed != rows[3].Speed {
			t.Fatalf("a speed times %g: glitches %+v, want row 3 alone", factor, fit.Glitches)
		}
		if e := float64(fit.Glitches[0].Expected)*factor/float64(rows[3].Speed) - 1; math.Abs(e) > 0.01 {
			t.Errorf("a speed times %g: expected speed is %+.1f %% off", factor, 100*e)
		}
		ct, cp := fit.Propeller.Coefficients(0, 1.2)
		if math.Abs(ct/0.150-1) > 0.01 || math.Abs(cp/0.080-1) > 0.01 {
			t.Errorf("a speed times %g: ct %.4f cp %.4f, want 0.150 and 0.080", factor, ct, cp)
		}
	}
}

// A speed within the ratio is data, not a glitch, and two speeds have no median to stand apart from.
func TestThrustFitKeepsSpeedsNearMedian(t *testing.T) {
	r := standRotor(t)
	rows := standTable(r, 10, true, exact)
	rows[3].Speed *= 1.3
	fit, err := model.FitThrustTest(standTest(r, rows))
	if err == nil && len(fit.Glitches) > 0 {
		t.Errorf("a speed 1.3 times the others was left out: %+v", fit.Glitches)
	}
	rows = standTable(r, 10, false, exact)
	p := r.AtThrust(rows[5].Thrust, 15)
	rows[5].Speed, rows[6].Speed = p.Speed, 10*p.Speed
	fit, err = model.FitThrustTest(standTest(r, rows))
	if err == nil && len(fit.Glitches) > 0 {
		t.Errorf("one of two speeds was left out: %+v", fit.Glitches)
	}
}

// standTests are the tests of thrust-stand.csv by motor, propeller and supply voltage. The no-load
// currents and resistances were not told.
//
// Source: StrawsonDesign/motor_propeller_testing, MIT, 2018.
func standTests(t *testing.T) map[string]model.ThrustTest {
	t.Helper()
	folder := os.Getenv("ALLUP_REFERENCE")
	if folder == "" {
		t.Skip("ALLUP_REFERENCE names no folder with thrust-stand.csv")
	}
	file, err := os.Open(filepath.Join(folder, "thrust-stand.csv"))
	if err != nil {
		t.Fatal(err)
	}
	defer file.Close()
	records, err := csv.NewReader(file).ReadAll()
	if err != nil {
		t.Fatal(err)
	}
	tests := map[string]model.ThrustTest{}
	for _, rec := range records[1:] {
		name := rec[0] + " " + rec[3] + " " + rec[7]
		test, ok := tests[name]
		if !ok {
			test = model.ThrustTest{
				Motor:    model.Motor{Kv: model.SpeedConstant(number(t, rec[1])) * model.RPMPerVolt},
				Diameter: model.Length(number(t, rec[5])) * model.Inch, Pitch: model.Length(number(t, rec[6])) * model.Inch,
				Blades: int(number(t, rec[4])), Air: 1.19,
			}
		}
		test.Rows = append(test.Rows, model.ThrustRow{
			Throttle: (number(t, rec[8]) - 1000) / 1000,
			Thrust:   model.Force(number(t, rec[9]) * 1e-3 * 9.80665),
			Voltage:  model.Voltage(number(t, rec[10])), Current: model.Current(number(t, rec[11])),
			Speed: model.AngularSpeed(number(t, rec[12]) * 2 * math.Pi / 60),
		})
		tests[name] = test
	}
	return tests
}

// Of the measured stands, fewer than a tenth of the tests are refused, and every speed that is left out is
// far too low to be the row's: readings of 1 to 419 rpm, and one of 1433, where 2600 and more are due.
func TestThrustFitOfMeasuredStands(t *testing.T) {
	tests := standTests(t)
	refused := map[model.Refusal]int{}
	var glitches int
	for _, name := range slices.Sorted(maps.Keys(tests)) {
		fit, err := model.FitThrustTest(tests[name])
		var r *model.RefusedError
		if errors.As(err, &r) {
			refused[r.Code]++
			t.Logf("%s: %v", name, err)
			continue
		}
		for _, g := range fit.Glitches {
			glitches++
			if g.Speed > g.Expected*0.6 {
				t.Errorf("%s: row %d, speed %.0f rpm was left out, expected %.0f rpm", name, g.Row+1, g.Speed.RPM(), g.Expected.RPM())
			}
			t.Logf("%s: row %d, speed %.0f rpm, expected %.0f rpm", name, g.Row+1, g.Speed.RPM(), g.Expected.RPM())
		}
	}
	t.Logf("%d tests, refused %v, %d glitches", len(tests), refused, glitches)
	total := 0
	for _, n := range refused {
		total += n
	}
	if 10*total >= len(tests) || glitches == 0 {
		t.Errorf("%d of %d tests refused, want fewer than a tenth; %d glitches, want some", total, len(tests), glitches)
	}
}
