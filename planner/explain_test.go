package planner_test

import (
	"fmt"
	"math"
	"strings"
	"testing"

	"allup/model"
	"allup/planner"
)

// TestMeasurementStays: metrics that no circuit explains stay on the screens and make the circuit; what is
// wrong with them is said, and the band covers it. A pack is never taken by its label because its metrics are
// odd.
func TestMeasurementStays(t *testing.T) {
	sound := packSet(t, parts(t, example)).Pack("k")
	for _, c := range []struct {
		name, from, to string
		says           string
		code           planner.Code
		q, r           float64 // what the sigmas are at least
	}{
		{"energy of another pack", "energy_wh = 9.29", "energy_wh = 6.5", "has a tested energy that its other metrics contradict", planner.Doubtful, 0.3, 0},
		{"burst of a car's", "burst_power_w = 560", "burst_power_w = 9000", "has a tested burst power that its other metrics contradict", planner.Doubtful, 0, 0.5},
		{"half as large a label", "rated_mah = 650", "rated_mah = 400", "has tested metrics of a pack with 16", planner.Doubtful, 0, 0},
		{"mid voltage a little off", "mid_voltage_v = 14.60", "mid_voltage_v = 14.05", "contradict each other", planner.Doubtful, 0, 0.15},
	} {
		t.Run(c.name, func(t *testing.T) {
			bad := strings.Replace(example, c.from, c.to, 1)
			if bad == example {
				t.Fatalf("the example has no %q", c.from)
			}
			cat := parts(t, bad)
			pack := packSet(t, cat).Pack("k")
			t.Log(pack.Remarks)
			if pack.Basis != planner.BasisTested {
				t.Errorf("basis %s, want the tests", pack.Basis)
			}
			if len(pack.Remarks) != 1 || pack.Remarks[0].Code != c.code || !strings.Contains(pack.Remarks[0].Text, c.says) {
				t.Errorf("remarks %v, want one of code %s that says %q", pack.Remarks, c.code, c.says)
			}
			if pack.SigmaQ < max(c.q, sound.SigmaQ-1e-3) || pack.SigmaR < max(c.r, sound.SigmaR-0.01) {
				t.Errorf("sigmas %.3f and %.3f, want %.3f and %.3f at least, and those of sound metrics, %.3f and %.3f", pack.SigmaQ, pack.SigmaR, c.q, c.r, sound.SigmaQ, sound.SigmaR)
			}
			a := plan(t, cat, exampleBuild).Assess(pack)
			if a.PowerDensity == nil || a.EnergyDensity == nil {
				t.Fatal("the measured densities are gone")
			}
			if want := float64(pack.Tested.BurstPower) / float64(pack.Mass); math.Abs(*a.PowerDensity/want-1) > 1e-12 {
				t.Errorf("power density %v, want the measured %v", *a.PowerDensity, want)
			}
			if a.Flight.Duration <= 0 || len(a.Against()) > 0 {
				t.Errorf("it does not fly: %v", a.Against())
			}
		})
	}
}

// TestUnusualIsNamed: metrics of a pack that is not as usual, by simulation, are explained and the explanation
// is named; nobody is told that they contradict each other.
func TestUnusualIsNamed(t *testing.T) {
	curve := func(c model.Chemistry) model.Curve {
		u, err := model.CurveOf(c)
		if err != nil {
			t.Fatal(err)
		}
		return u
	}
	for _, c := range []struct {
		name    string
		circuit model.Circuit
		want    string // "" for nothing said
	}{
		{"as usual", model.Circuit{Curve: curve(model.LiPo), K: model.UsualK}, ""},
		{"another curve", model.Circuit{Curve: curve(model.LiHV), K: model.UsualK, Shift: 0.080}, "open-circuit curve is that of lihv, not of lipo"},
	} {
		t.Run(c.name, func(t *testing.T) {
			truth := c.circuit
			truth.Cells, truth.Capacity, truth.R0, truth.R1, truth.Tau = 4, 640*model.MilliAmpH, 0.030, 0.016, 20
			known := model.NewCircuit(4, truth.Curve, 74*model.Gram)
			truth.HeatCapacity, truth.CoolingTime = known.HeatCapacity, known.CoolingTime
			m := truth.Tests(model.UsualProtocol(650*model.MilliAmpH, 4))
			text := fmt.Sprintf("[pack.odd]\nchemistry = \"lipo\"\ncells = 4\nrated_mah = 650\nmass_g = 74\n[pack.odd.tested]\ncapacity_mah = %.2f\nenergy_wh = %.4f\nmid_voltage_v = %.4f\nburst_power_w = %.2f\n",
				m.Capacity.MilliAmpHours(), m.Energy.WattHours(), float64(m.MidVoltage), float64(m.BurstPower))
			pack := packSet(t, parts(t, text)).Pack("odd")
			t.Log(pack.Remarks)
			if c.want == "" {
				if len(pack.Remarks) > 0 {
					t.Errorf("remarks %v, want none", pack.Remarks)
				}
				return
			}
			if len(pack.Remarks) != 1 || pack.Remarks[0].Code != planner.Unusual || !strings.Contains(pack.Remarks[0].Text, c.want) {
				t.Errorf("remarks %v, want one of code %s that says %q", pack.Remarks, planner.Unusual, c.want)
			}
			if off := math.Abs(float64(pack.Circuit.Capacity/truth.Capacity) - 1); off > 0.01 {
				t.Errorf("capacity %.1f %% off", 100*off)
			}
		})
	}
}
