package bench

import (
	"math"
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

// pairOf is a discharge and a burst of one cell whose conditioning takes 8 A for 50 s, 200 mV by resistance; the
// discharge's voltage is off by what is given: at rest, and under load by a part of the conditioning's charge.
func pairOf(rest float64, under func(part float64) float64) (*DischargeReduction, *BurstReduction) {
	trace := func(rest float64, under func(part float64) float64) model.Trace {
		t := model.Trace{Rest: model.Voltage(rest)}
		for k := range 101 {
			part := float64(k) / 100
			t.Points = append(t.Points, model.TracePoint{Time: model.Time(50 * part), Delivered: model.Charge(400 * part), Current: 8, Voltage: model.Voltage(4 - 0.1*part + under(part))})
		}
		return t
	}
	d := trace(4.2+rest, under)
	b := trace(4.2, func(float64) float64 { return 0 })
	return &DischargeReduction{Trace: d}, &BurstReduction{Trace: b, ConditioningCurrent: 8, ConditioningTime: 50}
}

// offUntil is off by so much before a part of the charge.
func offUntil(until, by float64) func(part float64) float64 {
	return func(part float64) float64 {
		if part > until {
			return 0
		}
		return by
	}
}

// The voltages of two logs may be apart by so much at the same charge: in all, in the first rows, from the first third
// to the last, in the second from the mean of those, from each log's own rest, and by no more than a share of these
// together. The points lie from 10 to 85 % of the conditioning's charge, at the first of which the load takes 210 mV of
// the higher voltage at rest: 13.7 mV are 6.5 % of it, and 14.6 mV where that is as much higher.
func TestPairLimits(t *testing.T) {
	const mV = 1e-3
	// Thirds' means are at 0.202, 0.475 and 0.748 of the charge.
	const trend = 0.748 - 0.202
	for _, c := range []struct {
		name  string
		rest  float64
		under func(part float64) float64
		doubt bool
	}{
		{"level, within", 14.4 * mV, func(float64) float64 { return 14.4 * mV }, false},
		{"level", 14.9 * mV, func(float64) float64 { return 14.9 * mV }, true},
		{"level, below", -13.9 * mV, func(float64) float64 { return -13.9 * mV }, true},
		{"trend, within", 0, func(p float64) float64 { return 4.9 * mV / trend * (p - 0.475) }, false},
		{"trend", 0, func(p float64) float64 { return 5.1 * mV / trend * (p - 0.475) }, true},
		{"bend, within", 0, func(p float64) float64 { return 2.4 * mV * (1 - (p-0.475)*(p-0.475)/(trend*trend/4)) }, false},
		{"bend", 0, func(p float64) float64 { return -2.8 * mV * (1 - (p-0.475)*(p-0.475)/(trend*trend/4)) }, true},
		{"from rest, within", 18 * mV, func(float64) float64 { return 0 }, false},
		{"from rest", 19.5 * mV, func(float64) float64 { return 0 }, true},
		{"rest, and the level with it", 24 * mV, func(float64) float64 { return 13 * mV }, false},
		{"rest alone", 26 * mV, func(float64) float64 { return 13 * mV }, true},
		// 0.67^2 and 0.8^2 and, from rest, 0.38^2 are 1.24; with 0.78 and 0.46 they are 1.45.
		{"together, within", 0, func(p float64) float64 { return 7.2*mV + 4*mV/trend*(p-0.475) }, false},
		{"together", 0, func(p float64) float64 { return 8.6*mV + 4*mV/trend*(p-0.475) }, true},
		// The first tenth is compared by its mean, of which 8 of 11 points are off here.
		{"start, within", 0, offUntil(0.075, 18.4*mV), false},
		{"start", 0, offUntil(0.075, -19.2*mV), true},
	} {
		d, b := pairOf(c.rest, c.under)
		list, known := ComparePair(1, d, b)
		if !known || (len(list) > 0) != c.doubt {
			t.Errorf("%s: %v, known %v; want a doubt: %v", c.name, said(list), known, c.doubt)
		}
	}
}

// A log without a row at rest is compared under load only; two of them are not compared.
func TestPairWithoutRest(t *testing.T) {
	same := func(float64) float64 { return 0 }
	d, b := pairOf(0.020, same)
	if list, known := ComparePair(1, d, b); !known || len(list) != 1 {
		t.Errorf("20 mV from rest: %v, known %v", said(list), known)
	}
	d.Trace.Rest = 0
	if list, known := ComparePair(1, d, b); !known || len(list) != 0 {
		t.Errorf("no rest in the discharge: %v, known %v", said(list), known)
	}
	b.Trace.Rest = 0
	if _, known := ComparePair(1, d, b); known {
		t.Error("no rest in either, and yet compared")
	}
}

// Noise of the logs widens what may be between thirds, by 4 sigmas of it: 7 mV of trend, where 5 may be, need 4.9 mV.
// The noise here is of one size up and down, of which second differences make 4 sizes and 2.05 sigma a row; the mean
// of 99 rows has 0.206 sizes, and what is between two thirds of them sqrt(6) times as much: 2.4 mV a row are enough.
func TestPairNoise(t *testing.T) {
	const trend = 0.748 - 0.202
	noisy := func(size float64) func(part float64) float64 {
		return func(p float64) float64 {
			sign := 1 - 2*float64(int(math.Round(100*p))%2)
			return 7e-3/trend*(p-0.475) + size*sign
		}
	}
	for _, c := range []struct {
		size  float64
		doubt bool
	}{{0, true}, {0.0022, true}, {0.0027, false}} {
		d, b := pairOf(0, noisy(c.size))
		if list, _ := ComparePair(1, d, b); (len(list) > 0) != c.doubt {
			t.Errorf("7 mV of trend, %g mV of noise: %v; want a doubt: %v", 1e3*c.size, said(list), c.doubt)
		}
	}
	// And for the first tenth by as much of its own mean: sqrt(10) times 4 times 0.206 sizes, 13 mV with 5 mV.
	for _, c := range []struct {
		size  float64
		doubt bool
	}{{0, true}, {0.002, true}, {0.005, false}} {
		d, b := pairOf(0, func(p float64) float64 {
			return offUntil(0.075, 0.022)(p) + c.size*(1-2*float64(int(math.Round(100*p))%2))
		})
		if list, _ := ComparePair(1, d, b); (len(list) > 0) != c.doubt {
			t.Errorf("22 mV in the first rows, %g mV of noise: %v; want a doubt: %v", 1e3*c.size, said(list), c.doubt)
		}
	}
}
