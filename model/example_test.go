package model_test

import (
	"fmt"
	"log"

	"allup/model"
)

// From the figures of a bench test to a circuit.
func ExampleIdentify() {
	curve, err := model.CurveOf(model.LiPo)
	if err != nil {
		log.Fatal(err)
	}
	id, err := model.Identify(model.NewCircuit(4, curve, 74*model.Gram), model.TestedMetrics{
		Protocol:   model.UsualProtocol(650*model.MilliAmpH, 4),
		Capacity:   640 * model.MilliAmpH,
		Energy:     9.29 * model.WattHour,
		MidVoltage: 14.60,
		BurstPower: 560,
	})
	if err != nil {
		log.Fatal(err)
	}
	c := id.Circuit
	fmt.Printf("%.0f mAh, %.0f mOhm\n", c.Capacity.MilliAmpHours(), (c.R0 + c.R1).MilliOhms())
	if worst, doubtful := id.Doubtful(); doubtful {
		fmt.Printf("the %s contradicts the rest\n", worst.Metric)
	}
	// Output:
	// 652 mAh, 67 mOhm
}

// The whole way: air, rotor, craft, pack, flight and punch-out.
func Example() {
	air, err := model.StandardAir(500)
	if err != nil {
		log.Fatal(err)
	}
	propeller, err := model.NewPropeller(3.5*model.Inch, 2.5*model.Inch, 3, model.FromCoefficients, []model.StaticPoint{{CT: 0.15, CP: 0.08}})
	if err != nil {
		log.Fatal(err)
	}
	craft := model.Drive{
		Rotors: 4,
		Rotor: model.Rotor{
			Propeller:  propeller,
			Motor:      model.Motor{Kv: 3600 * model.RPMPerVolt, R: 120 * model.MilliOhm, I0: 0.6},
			Controller: model.Controller{Efficiency: 0.95},
			Air:        air,
		},
		GearPower: 7,
	}
	curve, err := model.CurveOf(model.LiPo)
	if err != nil {
		log.Fatal(err)
	}
	pack := model.LabelCircuit(model.NewCircuit(4, curve, 74*model.Gram), 650*model.MilliAmpH, model.DefaultSteadyR) // nobody tested it
	mass := model.Mass(164+74) * model.Gram                                                                          // all but the pack, and the pack

	limit := model.Limit{Mass: 250 * model.Gram}
	fmt.Printf("%.1f g, under 250 g: %v\n", mass.Grams(), limit.Allows(mass))
	flight := craft.Fly(pack, mass, model.Landing{PerCell: 3.5, Reserve: 0.2})
	fmt.Printf("hover %.1f W for %.1f min, ended by %s\n", float64(flight.Hover.Power), flight.Duration.Minutes(), flight.EndedBy)
	punch := craft.PunchOut(pack, 0.8)
	fmt.Printf("punch %.1f times its weight, limited by %s\n", punch.Ratio(mass), punch.LimitedBy)
	// Output:
	// 238.0 g, under 250 g: true
	// hover 46.2 W for 9.6 min, ended by reserve
	// punch 5.7 times its weight, limited by pack
}
