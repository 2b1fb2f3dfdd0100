package model_test

import (
	"testing"

	"allup/model"
)

// Whatever the order of moves, the same rotor comes out; and a flown hover stays where it was measured, but for
// its own error.
func TestMovesFollowEachOtherInAnyOrder(t *testing.T) {
	geometry, err := model.GeometryPropeller(3.5*model.Inch, 2.5*model.Inch, 3)
	if err != nil {
		t.Fatal(err)
	}
	stand := standRotor(t)
	fit, err := model.FitThrustTest(standTest(stand, standTable(stand, 12, true, exact)))
	if err != nil {
		t.Fatal(err)
	}
	estimated := model.Rotor{Propeller: geometry, Motor: model.Motor{Kv: 380, EstimatedR: true, EstimatedI0: true, Estimate: model.UsualMotor(14.8)}, Controller: model.AssumedController(), Air: 1.2}
	estimated.EstimateMotor()
	stated := stand
	stated.Motor.NoLoadSpeed, stated.Motor.NoLoadFixed, stated.Controller = 3770, 0.5, model.AssumedController()
	for name, c := range map[string]struct {
		rotor  model.Rotor
		inputs int
	}{
		"estimated": {estimated, 7}, "stated": {stated, 5}, "fitted": {fit.Apply(model.Rotor{Controller: model.AssumedController(), Air: 1.2}), 4},
	} {
		for _, flown := range []bool{false, true} {
			craft := model.Drive{Rotors: 4, Rotor: c.rotor, GearPower: 7}
			if flown {
				k, err := craft.Calibrate([]model.FlownHover{{Mass: 0.24, Bus: 15, Power: 1.1*(craft.Hover(0.24, 15).Power-7) + 7}})
				if err != nil {
					t.Fatal(err)
				}
				craft = k.Apply(craft)
			}
			list := craft.Rotor.Uncertain()
			want := c.inputs
			if flown {
				want--
				if name == "estimated" {
					want--
				}
			}
			if len(list) != want {
				t.Errorf("%s, flown %v: %d uncertain inputs, want %d", name, flown, len(list), want)
			}
			there, back := craft, craft
			for i := range list {
				list[i].Move(&there.Rotor, 0.4*list[i].Sigma)
				u := list[len(list)-1-i]
				u.Move(&back.Rotor, 0.4*u.Sigma)
			}
			near(t, name+": hover after all moves", there.Hover(0.2, 14).Power, float64(back.Hover(0.2, 14).Power), 1e-9)
			near(t, name+": full throttle after all moves", there.Rotor.AtFull(there.Rotor.FullSpeed(14)).Thrust, float64(back.Rotor.AtFull(back.Rotor.FullSpeed(14)).Thrust), 1e-9)
			for _, u := range list {
				moved := craft
				u.Move(&moved.Rotor, u.Sigma)
				if flown && u.Input != model.InputFigureOfMerit {
					near(t, name+": flown hover after a move of "+string(u.Input), moved.Hover(0.24, 15).Power, float64(craft.Hover(0.24, 15).Power), 1e-9)
				} else if moved.Hover(0.2, 14).Power == craft.Hover(0.2, 14).Power {
					t.Errorf("%s: a move of %s moves nothing", name, u.Input)
				}
			}
		}
	}
}
