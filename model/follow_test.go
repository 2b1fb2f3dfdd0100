package model_test

import (
	"math"
	"testing"

	"allup/model"
)

// Under a constant current the RC element is R1 I (1 - exp(-t/tau)), so that the voltage has a closed form.
func TestFollowAtConstantCurrent(t *testing.T) {
	c := labelled(t, 4, 0.65)
	c.R0, c.R1, c.Tau, c.Shift = 0.03, 0.02, 15, 0.004
	c.K, c.HeatCapacity = 0, 0
	const i = 6.0
	var trace model.Trace
	for _, at := range []float64{0.5, 1, 7, 30, 31, 120, 300} {
		trace.Points = append(trace.Points, model.TracePoint{Time: model.Time(at), Current: i, Delivered: model.Charge(i * at)})
	}
	for k, v := range c.Follow(trace) {
		p := trace.Points[k]
		s := 1 - float64(p.Delivered/c.Capacity)
		want := 4*(float64(c.Curve.At(s))+0.004) - 0.03*i - 0.02*i*(1-math.Exp(-float64(p.Time)/15))
		near(t, "voltage", v, want, 1e-12)
	}
}

// Following the current of a discharge at constant power gives that discharge's voltages.
func TestFollowIsTheDischarge(t *testing.T) {
	c := labelled(t, 4, 0.65)
	var trace model.Trace
	var volts []model.Voltage
	c.Trace(model.ConstantPower(120), model.Stop{PerCell: 3.1}, func(m model.Moment) {
		trace.Points = append(trace.Points, model.TracePoint{
			Time: m.Time, Voltage: m.Voltage, Current: m.Current, Delivered: model.Charge(1-m.ChargeLeft) * c.Capacity,
		})
		volts = append(volts, m.Voltage)
	})
	for k, v := range c.Follow(trace) {
		if math.Abs(float64(v-volts[k])) > 0.004 {
			t.Errorf("at %.0f s it follows with %.4f V, the discharge has %.4f V", float64(trace.Points[k].Time), float64(v), float64(volts[k]))
		}
	}
}

// labelled is the circuit of a pack by its label, of cells in series and a capacity in Ah.
func labelled(t *testing.T, cells int, ampHours float64) model.Circuit {
	t.Helper()
	curve, err := model.CurveOf(model.LiPo)
	if err != nil {
		t.Fatal(err)
	}
	return model.LabelCircuit(model.NewCircuit(cells, curve, 74*model.Gram), model.Charge(ampHours)*model.AmpHour, model.DefaultSteadyR)
}
