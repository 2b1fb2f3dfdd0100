package model_test

import (
	"testing"

	"allup/model"
)

func workedMetrics() model.TestedMetrics {
	return model.TestedMetrics{
		Protocol: model.UsualProtocol(650*model.MilliAmpH, 4),
		Capacity: 640 * model.MilliAmpH, Energy: 9.29 * model.WattHour, MidVoltage: 14.6, BurstPower: 560,
	}
}

func BenchmarkIdentify(b *testing.B) {
	curve, m := curveOf(b, model.LiPo), workedMetrics()
	b.ReportAllocs()
	for b.Loop() {
		if _, err := model.Identify(model.NewCircuit(4, curve, 74*model.Gram), m); err != nil {
			b.Fatal(err)
		}
	}
}

func BenchmarkDischarge(b *testing.B) {
	pack := warmCircuit(steadyCircuit(curveOf(b, model.LiPo), 4, 650, 0.009), model.UsualK)
	b.ReportAllocs()
	for b.Loop() {
		pack.Discharge(model.ConstantPower(144.3), model.Stop{PerCell: 3.1})
	}
}

func BenchmarkBurst(b *testing.B) {
	pack := warmCircuit(steadyCircuit(curveOf(b, model.LiPo), 4, 650, 0.009), model.UsualK)
	protocol := model.UsualProtocol(650*model.MilliAmpH, 4)
	b.ReportAllocs()
	for b.Loop() {
		pack.BurstTest(protocol)
	}
}

// BenchmarkPair is one craft on one pack: hover to landing, and a punch fresh and on landing.
func BenchmarkPair(b *testing.B) {
	pack := warmCircuit(steadyCircuit(curveOf(b, model.LiPo), 4, 650, 0.009), model.UsualK)
	craft := model.Drive{
		Rotors: 4, GearPower: 7, ThrustLoss: 0.02,
		Rotor: model.Rotor{
			Propeller: propellerOf(b, 3.5, model.StaticPoint{CT: 0.15, CP: 0.08}),
			Motor:     model.Motor{Kv: 3600 * model.RPMPerVolt, R: 0.12, I0: 0.6}, Controller: model.Controller{Efficiency: 0.95}, Air: 1.2,
		},
	}
	b.ReportAllocs()
	for b.Loop() {
		f := craft.Fly(pack, 0.2384, model.Landing{PerCell: 3.5, Reserve: 0.2})
		craft.PunchOut(pack, 0.8)
		craft.PunchOut(pack, f.ChargeLeft)
	}
}
