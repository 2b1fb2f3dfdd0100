package model_test

import (
	"math"
	"testing"

	"pgregory.net/rapid"

	"allup/model"
)

// What the curve says of other masses and rotors is what flights say: within 2 % of what the move changes and 2e-3 of
// the whole.
func TestEnduranceIsFlown(t *testing.T) {
	var held, asked, worst float64
	rapid.Check(t, func(t *rapid.T) {
		pack := drawCircuit(t)
		craft := drawCraft(t, pack.Cells)
		m := drawDry(t) + model.Mass(rapid.Float64Range(20, 120).Draw(t, "pack g"))*model.Gram
		flight := craft.Fly(pack, m, usualLanding())
		curve, ok := craft.Endurance(pack, m, usualLanding(), &flight, 0.1)
		if !ok {
			return
		}
		other, mass := craft, m*model.Mass(rapid.Float64Range(0.85, 1.15).Draw(t, "part of the mass"))
		for _, u := range craft.Rotor.Uncertain() {
			u.Move(&other.Rotor, u.Sigma*rapid.Float64Range(-0.5, 0.5).Draw(t, string(u.Input)))
		}
		asked++
		got, amps, ok := curve.Of(other, mass)
		if !ok {
			return
		}
		held++
		want := other.Fly(pack, mass, usualLanding())
		for _, c := range []struct {
			name               string
			got, want, unmoved float64
		}{
			{"time, s", float64(got), float64(want.Duration), float64(flight.Duration)},
			{"current, A", float64(amps), float64(want.Current), float64(flight.Current)},
		} {
			off := math.Abs(c.got - c.want)
			worst = max(worst, off/c.want)
			if off > 0.02*math.Abs(c.want-c.unmoved)+2e-3*c.want {
				t.Errorf("%s: %v by the curve, %v flown, %v before the move", c.name, c.got, c.want, c.unmoved)
			}
		}
	})
	if held < 0.3*asked || asked == 0 {
		t.Errorf("the curve answers %v of %v", held, asked)
	}
	t.Logf("%v of %v, worst %.2g", held, asked, worst)
}

// A curve says that it does not hold where a load is beyond its reach, or where nothing flies.
func TestEnduranceHasAReach(t *testing.T) {
	pack := steadyCircuit(curveOf(t, model.LiPo), 4, 650, 0.012)
	craft, m := workedCraft(t), 200*model.Gram
	flight := craft.Fly(pack, m, usualLanding())
	curve, ok := craft.Endurance(pack, m, usualLanding(), &flight, 0.1)
	if !ok {
		t.Fatal("no curve about a usual hover")
	}
	if got, _, ok := curve.Of(craft, m); !ok || math.Abs(float64(got/flight.Duration)-1) > 1e-9 {
		t.Errorf("unmoved it says %v s, flown %v s", got, flight.Duration)
	}
	if _, _, ok := curve.Of(craft, 1.2*m); ok {
		t.Error("a hover with 30 % more power is within a reach of 10 %")
	}
	if _, ok := craft.Endurance(pack, m, usualLanding(), &model.Flight{}, 0.1); ok {
		t.Error("a curve about a flight of no time")
	}
}
