package csvlog_test

import (
	"math"
	"testing"

	"allup/model"
	"allup/model/bench"
)

// TestMetricsOfMeasuredCells reduces discharges of a measured cell to what a tester publishes, one rate's
// charge, energy and mid voltage and a burst's current, identifies as any tested pack is, and predicts the
// cell's other discharges, and its power at 80, 50 and 30 % charge, from the voltage of the highest rate there.
// The burst is read off the highest rate: what a slow ramp would have ended with at a charge.
//
// The NMC pouch stands beside it, ungated: its curve is 40 mV off the chemistry's (90 at half charge), and its
// resistance grows with the current.
//
// Sources of the logs: as TestReferenceLogs.
func TestMetricsOfMeasuredCells(t *testing.T) {
	for _, cell := range []struct {
		prefix        string
		rated         float64
		rates         []string
		energy, power float64 // what must hold; 0: only shown
	}{
		{"lco-pouch-", 2.28, []string{"0.1C", "0.5C", "1C", "2C"}, 0.015, 0.06},
		{"pouch-33ah-", 33, []string{"1C", "2C", "3C"}, 0, 0},
	} {
		var logs []ratedLog
		for _, rate := range cell.rates {
			reduce := func(end model.Voltage) bench.DischargeReduction {
				return reduceReference(t, cell.prefix+rate+".csv", cell.rated, end, bench.ReduceSettings{})
			}
			logs = append(logs, ratedLog{rate, reduce(cellEnd), reduce(landing)})
		}
		q, _ := measuredCell(logs)
		high := logs[len(logs)-1].whole
		for k, from := range logs[:len(logs)-1] {
			for _, burstLeft := range []float64{0.35, 0.5, 0.65} {
				const ramp = 100 // s
				out := q * (1 - burstLeft)
				held := 0.95 * float64(high.Current)
				id, err := model.Identify(referenceCell(t, cell.rated), model.TestedMetrics{
					Protocol: model.Protocol{
						DischargeCurrent: from.whole.Current, DischargeEndPerCell: cellEnd, BurstEndPerCell: model.Voltage(voltsAt(high, out)),
						ConditioningCurrent: model.Current(held), ConditioningTime: model.Time(out/held - ramp), Ramp: 0.05 * float64(high.Current) / ramp,
					},
					Capacity: from.whole.Capacity, Energy: from.whole.Energy, MidVoltage: from.whole.MidVoltage, BurstCurrent: high.Current,
				})
				if err != nil {
					t.Fatal(err)
				}
				c := id.Circuit
				worstEnergy, worstPower, worstLanding := 0.0, 0.0, 0.0
				for j, other := range logs {
					if j != k {
						e := predict(c, other)
						worstEnergy = max(worstEnergy, math.Abs(e.energy))
						worstLanding = max(worstLanding, math.Abs(e.toLanding))
					}
				}
				for _, left := range []float64{0.8, 0.5, 0.3} {
					out := q * (1 - left)
					left = 1 - out/float64(c.Capacity)
					warm := c.Discharge(model.ConstantCurrent(high.Current), model.Stop{Reserve: left}).EndTemperature
					volts := voltsAt(high, out)
					power := float64(c.At(warm, warm).PowerAt(left, model.Voltage(volts)))
					worstPower = max(worstPower, math.Abs(power/(volts*float64(high.Current))-1))
				}
				t.Logf("%s%s, burst to %.0f %%: capacity %+.1f %%, %.1f mohm +- %.0f %%, shift %+.0f mV; worst energy %.1f %%, to landing %.1f %%, power %.1f %%", cell.prefix, from.name, 100*burstLeft,
					100*(float64(c.Capacity)/q-1), (c.R0 + c.R1).MilliOhms(), 100*id.SigmaR, 1e3*float64(c.Shift), 100*worstEnergy, 100*worstLanding, 100*worstPower)
				if cell.energy > 0 && (worstEnergy > cell.energy || worstPower > cell.power) {
					t.Errorf("%s%s, burst to %g: an energy %.1f %% off and a power %.1f %%; want %g and %g at most", cell.prefix, from.name, burstLeft, 100*worstEnergy, 100*worstPower, 100*cell.energy, 100*cell.power)
				}
			}
		}
	}
}
