package csvlog_test

import (
	"math"
	"os"
	"path/filepath"
	"testing"

	"allup/catalog/csvlog"
	"allup/model"
	"allup/model/bench"
)

// referenceLog opens a log of the folder that ALLUP_REFERENCE names; the files are
// not the project's to keep.
func referenceLog(t *testing.T, name string) *os.File {
	t.Helper()
	dir := os.Getenv("ALLUP_REFERENCE")
	if dir == "" {
		t.Skip("ALLUP_REFERENCE does not name the folder of measured logs")
	}
	f, err := os.Open(filepath.Join(dir, "logs", name))
	if err != nil {
		t.Skipf("the measured logs are not there: %v", err)
	}
	t.Cleanup(func() { f.Close() })
	return f
}

func reduceReference(t *testing.T, name string, ah float64, end model.Voltage, settings bench.ReduceSettings) bench.DischargeReduction {
	t.Helper()
	r, err := csvlog.NewReader(referenceLog(t, name), csvlog.Columns{})
	if err != nil {
		t.Fatal(err)
	}
	pack := bench.TestedPack{Cells: 1, Chemistry: model.LiPo, Rated: model.Charge(ah) * model.AmpHour}
	reducer := bench.NewDischargeReducer(pack, model.Protocol{DischargeEndPerCell: end}, settings)
	for r.Scan() {
		reducer.Add(r.Sample())
	}
	if err := r.Err(); err != nil {
		t.Fatal(err)
	}
	d, err := reducer.Finish()
	if err != nil {
		t.Fatalf("%s: %v", name, err)
	}
	return d
}

// TestReferenceLogs checks reductions against figures of those who measured.
//
// Sources: NASA Ames PCoE battery data set, Saha and Goebel 2007, B0005 test 1
// (1.8564874208 Ah by the trapezoid to the first sample below 2.7 V); Wiggins, Allu, Wang,
// ORNL, doi 10.5281/zenodo.2580327 (the cycler's counters); LCO pouch cell of Ai et al. 2020
// and Rieger et al. 2016 (energy and mid voltage of the full logs).
func TestReferenceLogs(t *testing.T) {
	whole := reduceReference(t, "18650-2ah-2A.csv", 2, 2.7, bench.ReduceSettings{WholeSamples: true})
	if got := whole.Capacity.AmpHours(); math.Abs(got-1.8564874208) > 1e-9 {
		t.Errorf("B0005 by whole samples: %.10f Ah, want 1.8564874208", got)
	}
	for _, c := range []struct {
		file            string
		rated           float64
		end             model.Voltage
		ah, wh, mid     float64 // 0: not published
		tolAh, tolWh    float64
		tolMidMillivolt float64
	}{
		{"18650-2ah-2A.csv", 2, 2.7, 1.8564874208, 0, 0, 1e-3, 0, 0},
		{"pouch-33ah-1C.csv", 33, 3.0, 30.34, 113.85, 0, 5e-4, 2.5e-3, 0},
		{"pouch-33ah-2C.csv", 33, 3.0, 29.97, 109.77, 0, 5e-4, 2.5e-3, 0},
		{"pouch-33ah-3C.csv", 33, 3.0, 28.72, 102.06, 0, 5e-4, 2.5e-3, 0},
		{"lco-pouch-0.1C.csv", 2.28, 3.0, 0, 8.912, 3.790, 0, 3e-3, 2},
		{"lco-pouch-0.5C.csv", 2.28, 3.0, 0, 8.670, 3.726, 0, 3e-3, 2},
		{"lco-pouch-1C.csv", 2.28, 3.0, 0, 8.406, 3.653, 0, 3e-3, 2},
		{"lco-pouch-2C.csv", 2.28, 3.0, 0, 7.959, 3.527, 0, 3e-3, 2},
	} {
		d := reduceReference(t, c.file, c.rated, c.end, bench.ReduceSettings{})
		if d.Held != bench.HeldCurrent {
			t.Errorf("%s: held %s, want a constant current", c.file, d.Held)
		}
		check := func(what string, got, want, tol float64) {
			if want == 0 {
				return
			}
			t.Logf("%s: %s %.6g, published %.6g: %+.3f %%", c.file, what, got, want, 100*(got/want-1))
			if math.Abs(got/want-1) > tol {
				t.Errorf("%s: %s = %.6g, want %.6g within %g %%", c.file, what, got, want, 100*tol)
			}
		}
		check("Ah", d.Capacity.AmpHours(), c.ah, c.tolAh)
		check("Wh", d.Energy.WattHours(), c.wh, c.tolWh)
		check("mid V", float64(d.MidVoltage), c.mid, c.tolMidMillivolt/1e3/3.7)
	}
}

// TestRatesPredictRate: circuits fitted to one or two rates of the LCO pouch cell
// predict another. Source of the logs: as above. The first case is the one that must hold.
func TestRatesPredictRate(t *testing.T) {
	reduce := func(rate string) bench.DischargeReduction {
		return reduceReference(t, "lco-pouch-"+rate+".csv", 2.28, 3.0, bench.ReduceSettings{})
	}
	for _, c := range []struct {
		from        []string
		to          string
		energy, mid float64 // what must hold; 0: only shown
	}{
		{[]string{"0.5C", "1C"}, "2C", 0.03, 0.040},
		{[]string{"0.1C", "1C"}, "2C", 0, 0},
		{[]string{"1C"}, "2C", 0, 0},
		{[]string{"0.5C", "2C"}, "1C", 0, 0},
	} {
		var traces []model.Trace
		for _, r := range c.from {
			traces = append(traces, reduce(r).Trace)
		}
		fit, err := model.FitLogs(referenceCell(t, 2.28), traces)
		if err != nil {
			if c.energy > 0 {
				t.Errorf("%v: %v", c.from, err)
			}
			t.Logf("%v: %v", c.from, err)
			continue
		}
		d := reduce(c.to)
		load := model.ConstantCurrent(d.Current)
		got := fit.Circuit.Discharge(load, model.Stop{PerCell: 3.0})
		middle := fit.Circuit.Discharge(load, model.Stop{Reserve: (1 + got.ChargeLeft) / 2}).EndVoltage
		energy, mid := float64(got.Energy/d.Energy)-1, float64(middle-d.MidVoltage)
		t.Logf("%v to %s: R0 %.1f, R1 %.1f mohm, tau %.0f s, RMS %.1f mV; energy %+.2f %%, charge %+.2f %%, mid voltage %+.0f mV", c.from, c.to,
			fit.Circuit.R0.MilliOhms(), fit.Circuit.R1.MilliOhms(), float64(fit.Circuit.Tau), 1e3*float64(fit.RMS),
			100*energy, 100*(float64(got.Delivered/d.Capacity)-1), 1e3*mid)
		if c.energy > 0 && (math.Abs(energy) > c.energy || math.Abs(mid) > c.mid) {
			t.Errorf("%v to %s: energy off by %.2f %%, mid voltage by %.0f mV; want %g and %g at most", c.from, c.to, 100*energy, 1e3*mid, 100*c.energy, 1e3*c.mid)
		}
	}
}
