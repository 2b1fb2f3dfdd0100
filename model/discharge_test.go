package model_test

import (
	"fmt"
	"math"
	"testing"

	"allup/model"
)

type slowState struct{ s, v1, energy float64 }

// slowDischarge integrates the circuit's equations in time with classical fourth-order
// Runge-Kutta steps of at most 1/steps of the charge and a tenth of tau. The end is found by
// halving the last step. It shares only the open-circuit curve with the code under test.
func slowDischarge(c model.Circuit, power, current float64, stop model.Stop, steps float64) model.Discharge {
	n, q, r0, r1, tau := float64(c.Cells), float64(c.Capacity), float64(c.R0), float64(c.R1), float64(c.Tau)
	flow := func(x slowState) (i, v float64, ok bool) {
		e := n*float64(c.Curve.At(x.s)+c.Shift) - x.v1
		if power == 0 {
			return current, e - r0*current, true
		}
		d := e*e - 4*r0*power
		if d < 0 || e <= 0 {
			return 0, 0, false
		}
		i = 2 * power / (e + math.Sqrt(d))
		return i, e - r0*i, true
	}
	slope := func(x slowState) (slowState, bool) {
		i, v, ok := flow(x)
		return slowState{-i / q, (r1*i - x.v1) / tau, v * i}, ok
	}
	move := func(x, d slowState, h float64) slowState {
		return slowState{x.s + h*d.s, x.v1 + h*d.v1, x.energy + h*d.energy}
	}
	step := func(x slowState, h float64) (slowState, bool) {
		a, ok1 := slope(x)
		b, ok2 := slope(move(x, a, h/2))
		c, ok3 := slope(move(x, b, h/2))
		d, ok4 := slope(move(x, c, h))
		sum := slowState{a.s + 2*b.s + 2*c.s + d.s, a.v1 + 2*b.v1 + 2*c.v1 + d.v1, a.energy + 2*b.energy + 2*c.energy + d.energy}
		return move(x, sum, h/6), ok1 && ok2 && ok3 && ok4
	}
	status := func(x slowState, ok bool) model.Ending {
		i, v, can := flow(x)
		_ = i
		switch {
		case !ok || !can || v <= n*float64(stop.PerCell) && stop.PerCell > 0:
			return model.EndedByVoltage
		case x.s <= stop.Reserve:
			return model.EndedByReserve
		}
		return ""
	}
	x, t := slowState{s: 1}, 0.0
	var out model.Discharge
	i, v, _ := flow(x)
	out.StartCurrent, out.StartVoltage = model.Current(i), model.Voltage(v)
	for out.EndedBy = status(x, true); out.EndedBy == ""; {
		i, _, _ := flow(x)
		h := q / (steps * i)
		if r1 > 0 {
			h = min(h, tau/10)
		}
		next, ok := step(x, h)
		if out.EndedBy = status(next, ok); out.EndedBy == "" {
			x, t = next, t+h
			continue
		}
		lo, hi := 0.0, h
		for range 60 {
			mid := (lo + hi) / 2
			next, ok := step(x, mid)
			if end := status(next, ok); end == "" {
				lo = mid
			} else {
				hi, out.EndedBy = mid, end
			}
		}
		x, _ = step(x, lo)
		t += lo
	}
	i, v, _ = flow(x)
	out.Duration, out.Energy, out.ChargeLeft = model.Time(t), model.Energy(x.energy), x.s
	out.Delivered = model.Charge((1 - x.s) * q)
	out.EndCurrent, out.EndVoltage = model.Current(i), model.Voltage(v)
	return out
}

func TestX(t *testing.T) {
	for _, chem := range model.Chemistries() {
		curve, _ := model.CurveOf(chem)
		for _, rq := range []float64{0.005, 0.013, 0.03} {
			for _, share := range []float64{0.3, 0.65, 1} {
				for _, tau := range []float64{3, 20, 100} {
					for _, C := range []float64{0.05, 1, 5, 15, 30, 60} {
						for _, stop := range []model.Stop{{PerCell: 3.1}, {PerCell: 3.5}, {Reserve: 0.2}, {}} {
							q := 0.65
							r := rq / q * 4
							c := model.Circuit{Cells: 4, Curve: curve, Capacity: model.Charge(q * 3600), R0: model.Resistance(r * share), R1: model.Resistance(r * (1 - share)), Tau: model.Time(tau)}
							i := C * q
							p := i * 14.8
							for _, pc := range [][2]float64{{p, 0}, {0, i}} {
								load := model.ConstantPower(model.Power(pc[0]))
								if pc[0] == 0 {
									load = model.ConstantCurrent(model.Current(pc[1]))
								}
								got := c.Discharge(load, stop)
								want := slowDischarge(c, pc[0], pc[1], stop, 2000)
								rel := func(a, b float64) float64 { return math.Abs(a-b) / (math.Abs(b) + 1e-300) }
								dt := rel(float64(got.Duration), float64(want.Duration))
								dq := rel(float64(got.Delivered), float64(want.Delivered))
								de := rel(float64(got.Energy), float64(want.Energy))
								dv := rel(float64(got.EndVoltage), float64(want.EndVoltage))
								di := rel(float64(got.EndCurrent), float64(want.EndCurrent))
								flag := ""
								if got.EndedBy != want.EndedBy {
									flag = "ENDED " + string(got.EndedBy) + string(want.EndedBy)
								}
								fmt.Printf("%.2g %s rq %g share %g tau %g C %g stop %v pc %v %v: t %.2g q %.2g e %.2g v %.2g i %.2g dur %.4g coll %v %s\n", max(dt, dq, de), chem, rq, share, tau, C, stop, pc[0] > 0, got.EndedBy, dt, dq, de, dv, di, want.Duration, got.Collapsed, flag)
							}
						}
					}
				}
			}
		}
	}
}
