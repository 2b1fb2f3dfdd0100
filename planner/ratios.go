package planner

import (
	"allup/catalog"
	"allup/model"
)

// Ratios compare a pack's metrics with its label and mass. Zero stands for unknown.
type Ratios struct {
	DeliveredOverRated float64
	WhPerGram          float64
	WPerGram           float64
	TestedC            float64 // burst current over rated capacity, 1/h
}

// RatiosOf are the ratios of tested metrics.
func RatiosOf(p *catalog.Pack, m model.TestedMetrics) Ratios {
	r := Ratios{
		DeliveredOverRated: float64(m.Capacity / p.Rated),
		WhPerGram:          m.Energy.WattHours() / p.Mass.Grams(),
		WPerGram:           float64(burstPower(m, p.Cells)) / p.Mass.Grams(),
		TestedC:            float64(m.BurstCurrent) / p.Rated.AmpHours(),
	}
	if m.BurstCurrent <= 0 && m.BurstPower > 0 && m.Protocol.BurstEndPerCell > 0 {
		r.TestedC = float64(m.BurstPower) / (float64(m.Protocol.BurstEndPerCell) * float64(p.Cells)) / p.Rated.AmpHours()
	}
	return r
}

// burstPower is the power at the end of the burst test: where only the current was measured, that
// current at the voltage that the test ends on. Zero stands for unknown.
func burstPower(m model.TestedMetrics, cells int) model.Power {
	if m.BurstPower > 0 {
		return m.BurstPower
	}
	return model.Power(float64(m.BurstCurrent) * float64(m.Protocol.BurstEndPerCell) * float64(cells))
}
