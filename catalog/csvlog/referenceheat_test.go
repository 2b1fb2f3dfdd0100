package csvlog_test

import (
	"encoding/csv"
	"math"
	"os"
	"path/filepath"
	"strconv"
	"testing"

	"allup/model"
	"allup/model/bench"
)

// TestPouchWarmth: the circuit of the LCO pouch, from its logs, warms itself as the pouch was measured to.
//
// Source: Rieger et al. 2016 and Ai et al. 2020, temperature rises at 0.5, 1 and 2 C. Specific heat and cooling
// time, 250 s in still air, are a lumped fit to them; the weight that goes with these is not published and is
// taken as 36 g. So what is tested is that the heat that the circuit makes grows with the rate as measured.
// What a cell's reaction itself takes or gives of heat is left out; it is most of what is missed at 0.5 C.
func TestPouchWarmth(t *testing.T) {
	var traces []model.Trace
	for _, rate := range []string{"0.5C", "2C"} {
		traces = append(traces, reduceReference(t, "lco-pouch-"+rate+".csv", 2.28, cellEnd, bench.ReduceSettings{}).Trace)
	}
	known := referenceCell(t, 2.28)
	known.HeatCapacity, known.CoolingTime = model.CellHeat*0.036, 250
	fit, err := model.FitLogs(known, traces)
	if err != nil {
		t.Fatal(err)
	}
	measured := pouchRises(t)
	for rate, want := range map[float64]float64{0.5: 1.57, 1: 4.04, 2: 10.41} {
		peak := 0.0
		for _, k := range measured[rate] {
			peak = max(peak, k)
		}
		if math.Abs(peak-want) > 0.11 { // the table has every thirtieth second
			t.Errorf("at %g C the table's peak is %.2f K, want the published %.2f", rate, peak, want)
		}
		c := fit.Circuit
		got := float64(c.Discharge(model.ConstantCurrent(model.Current(rate*2.28)), model.Stop{PerCell: cellEnd}).MaxTemperature - c.StartTemperature())
		t.Logf("at %g C: %.2f K, measured %.2f", rate, got, want)
		if math.Abs(got-want) > max(0.15*want, 0.7) {
			t.Errorf("at %g C the pouch warms by %.2f K, want %.2f within 15 %% or 0.7 K", rate, got, want)
		}
	}
}

// pouchRises are the measured temperature rises by rate.
func pouchRises(t *testing.T) map[float64][]float64 {
	t.Helper()
	f, err := os.Open(filepath.Join(os.Getenv("ALLUP_REFERENCE"), "pouch-temperature.csv"))
	if err != nil {
		t.Skipf("the measured temperatures are not there: %v", err)
	}
	defer f.Close()
	rows, err := csv.NewReader(f).ReadAll()
	if err != nil {
		t.Fatal(err)
	}
	rises := map[float64][]float64{}
	for _, row := range rows[1:] {
		rate, errRate := strconv.ParseFloat(row[0], 64)
		rise, errRise := strconv.ParseFloat(row[2], 64)
		if errRate != nil || errRise != nil {
			t.Fatalf("not numbers: %v", row)
		}
		rises[rate] = append(rises[rate], rise)
	}
	return rises
}
