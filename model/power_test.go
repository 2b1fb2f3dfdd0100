package model_test

import (
	"math"
	"testing"

	"allup/model"
)

// R0 + R1 together, once the RC element has settled.
func TestPowerAt(t *testing.T) {
	c := model.Circuit{Cells: 4, Curve: straightCurve(t, 4, 4), Capacity: 1, R0: 0.03, R1: 0.02, Tau: 20, Shift: 0.1}
	near(t, "open voltage", c.OpenVoltage(0.3), 16.4, 1e-12)
	near(t, "power at 12.4 V", c.PowerAt(0.3, 12.4), 992, 1e-12) // 12.4 x 4 / 0.05
	if p := c.PowerAt(0.3, 17); p != 0 {
		t.Errorf("power above the voltage at rest = %v, want 0", p)
	}
	c.R0, c.R1 = 0, 0
	if p := float64(c.PowerAt(0.3, 12.4)); !(p > 1e9) || math.IsInf(p, 0) {
		t.Errorf("power without resistance = %v, want a great finite one", p)
	}
	if p := c.PowerAt(0.3, 16.4); p != 0 {
		t.Errorf("power without resistance at the voltage at rest = %v, want 0", p)
	}
}
