package model

import (
	"math"
	"testing"
)

// The slopes that an identification begins with are about those of simulated tests of LiPo packs, usual and poor:
// nearer than by half of the slope, or than a thousandth of the metric.
func TestUsualSlopes(t *testing.T) {
	curve, err := CurveOf(LiPo)
	if err != nil {
		t.Fatal(err)
	}
	for _, perAmpHour := range []Resistance{0.045, 0.060} {
		logs := func(x [3]float64) map[string]float64 {
			c := NewCircuit(4, curve, 72*Gram)
			r := perAmpHour / 0.65 * Resistance(math.Exp(x[1]))
			c.Capacity = 650 * MilliAmpH * Charge(math.Exp(x[0]))
			c.R0, c.R1, c.Tau, c.Shift = r*FastShare, r*(1-FastShare), RCTime, Voltage(x[2])*SigmaShift
			m := c.Tests(UsualProtocol(650*MilliAmpH, 4))
			return map[string]float64{
				"capacity": math.Log(float64(m.Capacity)), "energy": math.Log(float64(m.Energy)), "mid voltage": math.Log(float64(m.MidVoltage)),
				"burst power": math.Log(float64(m.BurstPower)), "burst current": math.Log(float64(m.BurstCurrent)),
			}
		}
		at := logs([3]float64{})
		for j := range 3 {
			x := [3]float64{}
			const h = 1e-4
			x[j] = h
			for metric, moved := range logs(x) {
				usual, ok := usualSlope(metric)
				simulated := (moved - at[metric]) / h
				if off := math.Abs(usual[j] - simulated); !ok || off > max(0.5*math.Abs(simulated), 1e-3) {
					t.Errorf("%v mohm Ah: %s by parameter %d: %.4f is usual, %.4f simulated", 1e3*float64(perAmpHour), metric, j, usual[j], simulated)
				}
			}
		}
	}
	if _, ok := usualSlope("label capacity"); ok {
		t.Error("what no test tells has a slope")
	}
}
