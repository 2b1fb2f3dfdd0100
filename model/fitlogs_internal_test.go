package model

import (
	"errors"
	"math"
	"slices"
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

// A curve that traces pull below nothing is none; one that is only lower is as much lower.
func TestReshapedCurve(t *testing.T) {
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

// Loads are as far apart as their currents, whether a test holds its power or its current.
func TestRatesOfOneLoad(t *testing.T) {
	curve, err := CurveOf(LiPo)
	if err != nil {
		t.Fatal(err)
	}
	known := Circuit{Cells: 4, Curve: curve}
	at := func(p Protocol) TestedMetrics {
		p.DischargeEndPerCell = 3.1
		return TestedMetrics{Protocol: p, Capacity: 600 * MilliAmpH, Energy: 8.8 * WattHour, MidVoltage: 14.6}
	}
	if _, err := IdentifyRates(known, []TestedMetrics{at(Protocol{DischargeCurrent: 8}), at(Protocol{DischargePower: 8.5 * 14.6})}); !errors.Is(err, ErrTooFewRates) {
		t.Errorf("8 A and the power of 8.5 A are two loads: %v", err)
	}
	if _, err := IdentifyRates(known, []TestedMetrics{at(Protocol{DischargeCurrent: 4}), at(Protocol{DischargePower: 8.5 * 14.6})}); err != nil {
		t.Errorf("4 A and the power of 8.5 A are one load: %v", err)
	}
}

// A row that is far off while both its neighbours are not loses its weight, at the ends of a trace as well; rows that
// are off together keep theirs.
func TestStrayRowsAreLeftOut(t *testing.T) {
	curve, err := CurveOf(LiPo)
	if err != nil {
		t.Fatal(err)
	}
	c := Circuit{Cells: 4, Curve: curve, Capacity: 650 * MilliAmpH, R0: 0.03, R1: 0.016, Tau: 20}
	for _, at := range []struct {
		name  string
		stray []int // rows
		out   []int // those that are left out
	}{
		{"none", nil, nil},
		{"one", []int{20}, []int{20}},
		{"the first", []int{0}, []int{0}},
		{"two apart", []int{20, 30}, []int{20, 30}},
		{"two together", []int{20, 21}, nil},
	} {
		var trace Trace
		f := newFollower(c)
		const amps = 8.0
		for k := range 150 {
			now := 1.7 * float64(k)
			q := amps * now
			f.to(now, amps, q/float64(c.Capacity))
			v := 4*float64(curve.At(1-q/float64(c.Capacity))) - f.v1 - float64(c.R0)*amps + 0.012*math.Sin(12.9898*float64(k))
			trace.Points = append(trace.Points, TracePoint{Time: Time(now), Delivered: Charge(q), Voltage: Voltage(v), Current: amps})
		}
		for _, k := range at.stray {
			trace.Points[k].Voltage -= 0.4
		}
		fit := newTraceFit(c, []Trace{trace})
		if len(fit.rows) != 150 {
			t.Fatalf("%d rows", len(fit.rows))
		}
		if err := fit.solve(); err != nil {
			t.Fatal(err)
		}
		var out []int
		for k, row := range fit.rows {
			if row.weight == 0 {
				out = append(out, k)
			}
		}
		if !slices.Equal(out, at.out) {
			t.Errorf("%s: rows %v are left out, want %v", at.name, out, at.out)
		}
	}
}

// Traces of nothing and of one point fix no circuit, which is said.
func TestFitLogsOfHardlyAnything(t *testing.T) {
	curve, err := CurveOf(LiPo)
	if err != nil {
		t.Fatal(err)
	}
	one := Trace{Points: []TracePoint{{Time: 1, Delivered: 8, Voltage: 16, Current: 8}}}
	for _, traces := range [][]Trace{nil, {{}}, {one}, {one, {}}, {one, one}} {
		if _, err := FitLogs(Circuit{Cells: 4, Curve: curve, K: UsualK}, traces); !errors.Is(err, errUnfit) {
			t.Errorf("%d traces: %v", len(traces), err)
		}
	}
}
