package model_test

import (
	"math"
	"testing"

	"pgregory.net/rapid"

	"allup/model"
)

// Whatever the craft, its losses add up to its hover power, and none but the flown hovers' is below zero.
func TestLossesAddUp(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		craft := drawCraft(t, 4)
		craft.Rotor.Controller.PartDutyDrop = model.Voltage(rapid.Float64Range(0, 4).Draw(t, "x"))
		craft.Rotor.Calibration = rapid.SampledFrom([]float64{0, 0.9, 1.2}).Draw(t, "flown")
		h := craft.Hover(drawDry(t)+70*model.Gram, 15)
		var sum model.Power
		for _, l := range craft.Losses(h) {
			sum += l.Power
			if float64(l.Power) < -1e-9*float64(h.Power) && l.Place != model.PlaceFlown {
				t.Errorf("%s takes %v W of %v W", l.Place, float64(l.Power), float64(h.Power))
			}
		}
		near(t, "sum", sum, float64(h.Power), 1e-12)
	})
}

// By hand, from the worked example's figures: 0.596166 N a rotor on 3.5 in at 1.134419 kg/m3, figure of merit
// 0.5794, 6.69446 W at the shaft, 2.29597 A through 0.120 ohm, 0.60 A at a back-EMF of 4.22278 - 0.27552 V,
// 10.20568 W from the bus.
func TestLossesByHand(t *testing.T) {
	craft := workedCraft(t)
	craft.Rotor.Controller.PartDutyDrop = 2
	h := craft.Hover(0.2384, 15)
	area := math.Pi / 4 * math.Pow(3.5*0.0254, 2)
	ideal := 4 * math.Pow(0.596166, 1.5) / math.Sqrt(2*1.134419*area)
	want := map[model.Place]float64{
		model.PlaceLift: ideal / math.Pow(1.02, 1.5), model.PlaceFrame: ideal * (1 - math.Pow(1.02, -1.5)), model.PlaceInduced: 0.15 * ideal,
		model.PlaceProfile: 4*6.69446 - 1.15*ideal, model.PlaceCopper: 4 * 2.29597 * 2.29597 * 0.120, model.PlaceNoLoad: 4 * 0.60 * (4.22278 - 2.29597*0.120),
		model.PlacePartDuty: 4 * 2 * 2.29597 * (1 - 4.22278/15), model.PlaceController: 4 * (9.69539 + 2*2.29597*(1-4.22278/15)) * (1/0.95 - 1),
		model.PlaceFlown: 0, model.PlaceGear: 7,
	}
	for _, l := range craft.Losses(h) {
		within(t, string(l.Place), l.Power, want[l.Place], 2e-4*float64(h.Power))
	}
}
