package model

import (
	"errors"
	"math"
	"strings"
	"testing"
)

// A fit fixes a circuit up to its bounds: a resistance that is one, near the logs, and known within 30 %.
func TestUnfit(t *testing.T) {
	for _, c := range []struct {
		name   string
		r0, r1 Resistance
		rms    Voltage
		sigma  Resistance
		want   string
	}{
		{"good", 0.02, 0.01, 0.01, 0.001, ""},
		{"all in R0", 0.03, 0, 0.01, 0.001, ""},
		{"at the bounds", 0.02, 0.01, 0.060, 0.3 * (0.02 + 0.01), ""},
		{"no R0", 0, 0.01, 0.01, 0.001, "the best R0 is 0 mohm and R1 10 mohm"},
		{"R1 below nothing", 0.02, -0.001, 0.01, 0.001, "the best R0 is 20 mohm and R1 -1 mohm"},
		{"no number", Resistance(math.NaN()), 0.01, 0.01, 0.001, "the best R0 is NaN mohm and R1 10 mohm"},
		{"rough", 0.02, 0.01, 0.061, 0.001, "the best is 61 mV per cell off (RMS)"},
		{"open", 0.02, 0.01, 0.01, 0.0091, "the resistance is open within 30 %"},
		{"quite open", 0.02, 0.01, 0.01, Resistance(math.Inf(1)), "they leave the resistance quite open"},
		{"not known", 0.02, 0.01, 0.01, Resistance(math.NaN()), "they leave the resistance quite open"},
	} {
		fit := LogFit{RMS: c.rms}
		fit.Circuit.R0, fit.Circuit.R1, fit.Sigma.Steady = c.r0, c.r1, c.sigma
		err := unfit(fit)
		if (err == nil) != (c.want == "") || err != nil && (!errors.Is(err, errUnfit) || !strings.HasSuffix(err.Error(), c.want)) {
			t.Errorf("%s: %v, want %q", c.name, err, c.want)
		}
	}
}

// A curve that traces pull below nothing is none, and the fit says so instead of making it.
func TestSettleRefusesNoCurve(t *testing.T) {
	curve, err := CurveOf(LiPo)
	if err != nil {
		t.Fatal(err)
	}
	if _, err := curve.reshaped(&linearValues{2: -30}); err == nil {
		t.Error("a curve 30 V lower is one")
	}
	if _, err := curve.reshaped(&linearValues{2: math.NaN()}); err == nil {
		t.Error("a curve of no numbers is one")
	}
	lower, err := curve.reshaped(&linearValues{2: -0.1})
	if err != nil || math.Abs(float64(lower.At(0.5)-curve.At(0.5))+0.1) > 1e-3 {
		t.Errorf("0.1 V lower: %v, %v", lower.At(0.5), err)
	}
}
