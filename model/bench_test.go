package model_test

import (
	"testing"

	"allup/model"
)

func BenchmarkIdentify(b *testing.B) {
	curve, _ := model.CurveOf(model.LiPo)
	metrics := workedMetrics()
	b.ReportAllocs()
	for b.Loop() {
		model.Identify(4, curve, metrics)
	}
}
func workedMetrics() model.TestedMetrics {
	return model.TestedMetrics{
		Protocol: model.UsualProtocol(650*model.MilliAmpH, 4),
		Capacity: 640 * model.MilliAmpH, Energy: 9.29 * model.WattHour, MidVoltage: 14.6, BurstPower: 560,
	}
}
func BenchmarkDischarge(b *testing.B) {
	curve, _ := model.CurveOf(model.LiPo)
	id, _ := model.Identify(4, curve, workedMetrics())
	b.ReportAllocs()
	for b.Loop() {
		id.Circuit.Discharge(model.ConstantPower(144), model.Stop{PerCell: 3.1})
	}
}
func BenchmarkBurst(b *testing.B) {
	curve, _ := model.CurveOf(model.LiPo)
	id, _ := model.Identify(4, curve, workedMetrics())
	p := model.UsualProtocol(650*model.MilliAmpH, 4)
	b.ReportAllocs()
	for b.Loop() {
		id.Circuit.BurstTest(p)
	}
}
