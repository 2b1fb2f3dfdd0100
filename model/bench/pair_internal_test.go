package bench

import (
	"testing"

	"allup/model"
)

// The voltage of a trace at a charge is of the points near it: a bend far from there does not count.
func TestTraceAtIsLocal(t *testing.T) {
	var trace model.Trace
	volts := func(q float64) float64 { return 16 - 0.002*q - 0.05*max(0, q-130) }
	for k := range 100 {
		q := 4 * float64(k)
		trace.Points = append(trace.Points, model.TracePoint{Time: model.Time(q / 8), Delivered: model.Charge(q), Voltage: model.Voltage(volts(q)), Current: 8})
	}
	for _, q := range []float64{40, 100, 300, 390} {
		v, i, ok := traceAt(trace, q)
		if !ok || v-volts(q) > 1e-9 || volts(q)-v > 1e-9 || i < 8-1e-9 || i > 8+1e-9 {
			t.Errorf("at %v C: %v V, %v A, %v; want %v V, 8 A", q, v, i, ok, volts(q))
		}
	}
	for _, none := range []model.Trace{{}, {Points: trace.Points[:7]}} {
		if _, _, ok := traceAt(none, 10); ok {
			t.Errorf("%d points are enough", len(none.Points))
		}
	}
	if _, _, ok := traceAt(trace, 397); ok {
		t.Error("there is a voltage after the end")
	}
}
