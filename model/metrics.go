package model

// Protocol is how a pack was tested: a discharge from full to an end voltage, and a
// burst test, which is a conditioning discharge from full followed by a current
// ramp to the burst end voltage.
type Protocol struct {
	DischargePower      Power   // constant power; 0 where the discharge was at constant current
	DischargeCurrent    Current // constant current; 0 where it was at constant power
	DischargeEndPerCell Voltage
	BurstEndPerCell     Voltage
	ConditioningCurrent Current
	ConditioningTime    Time
	Ramp                float64 // A/s
}

// NominalPerCell is the voltage of a cell that powers of tests are stated at, and that a craft is thought for (common
// practice).
const NominalPerCell Voltage = 3.7

// UsualProtocol is the protocol that testers of small packs use (common practice):
// constant power of 15 C at 3.7 V per cell down to 3.1 V per cell; burst after 48 s
// at 15 C, which is 20 % of the rated capacity, then 2 C more each second until
// 3.3 V per cell.
func UsualProtocol(rated Charge, cells int) Protocol {
	c := Current(rated.AmpHours()) // the 1 C current
	return Protocol{
		DischargePower:      Power(15 * float64(c) * float64(NominalPerCell) * float64(cells)),
		DischargeEndPerCell: 3.1,
		BurstEndPerCell:     3.3,
		ConditioningCurrent: 15 * c,
		ConditioningTime:    48,
		Ramp:                2 * float64(c),
	}
}

// Discharged reports whether the figures hold a discharge test.
func (m TestedMetrics) Discharged() bool { return m.Capacity > 0 || m.Energy > 0 }

// Bursted reports whether the figures hold a burst test.
func (m TestedMetrics) Bursted() bool { return m.BurstPower > 0 || m.BurstCurrent > 0 }

// TestedMetrics are the figures that a bench test of a pack yields. A zero means
// that the figure was not measured.
type TestedMetrics struct {
	Protocol     Protocol
	Capacity     Charge  // delivered down to the end voltage
	Energy       Energy  // delivered down to the end voltage
	MidVoltage   Voltage // of the pack, at half the delivered capacity
	BurstPower   Power   // at the burst end voltage
	BurstCurrent Current // at the burst end voltage
	Ambient      Temperature
}
