package model

// Controller is a speed controller. At duty d its bridge puts d times the bus voltage, less what it drops, on the
// motor, and takes from the bus
//
//	P = (motor power + x I (1 - d))/efficiency
//
// with I the motor's current. The second term is lost at part duty alone: in switching, in the ripple of the
// current and in the motor's iron. It was found on measured stands, where the same thrust of the same rotor
// takes 8 to 23 % more power at 11.1 V than at 7.4 V.
//
// Source: fitted to StrawsonDesign/motor_propeller_testing, MIT, 2018, where x is between -0.7 and 6.8 V.
type Controller struct {
	Efficiency float64
	Assumed    bool // the board does not state its efficiency

	// Drop is the fraction of the bus voltage that does not reach the motor at full duty. A bridge that is
	// wholly on passes the motor's current on, so 1 - Efficiency is what it then drops.
	Drop float64

	// PartDutyDrop is x, and PartDutyAssumed whether it stands in for what nobody measured.
	PartDutyDrop    Voltage
	PartDutyAssumed bool

	MaxCurrent Current // each output; 0 where not stated
}

// The efficiency of a controller whose board does not state one, with one standard
// deviation (assumption from memory); that of one that is stated (assumption).
const (
	AssumedControllerEfficiency = 0.95
	ControllerEfficiencySigma   = 0.03
	statedControllerSigma       = 0.01
)

// The loss at part duty where no stand tells it: x, within a factor (assumption; between the measured ones).
const (
	AssumedPartDutyDrop   = Voltage(1.5)
	AssumedPartDutyFactor = 1.8
)

// AssumedController is a controller of which nothing is known.
func AssumedController() Controller {
	return Controller{
		Efficiency: AssumedControllerEfficiency, Assumed: true, Drop: 1 - AssumedControllerEfficiency,
		PartDutyDrop: AssumedPartDutyDrop, PartDutyAssumed: true,
	}
}

// busFor is the least bus voltage that gives the motor a voltage: at full duty.
func (c *Controller) busFor(motor Voltage) Voltage { return motor / Voltage(1-c.Drop) }

// feed fills in what a rotor at work takes from a bus voltage.
func (c *Controller) feed(p RotorPoint, bus Voltage) RotorPoint {
	p.Duty, p.PartDuty = c.partDuty(&p.Motor, bus)
	p.BusPower = (p.Motor.Power + p.PartDuty) / Power(c.Efficiency)
	return p
}

// partDuty is the duty that gives the motor its voltage from a bus voltage, and what is lost at it.
func (c *Controller) partDuty(m *MotorPoint, bus Voltage) (duty float64, lost Power) {
	duty = float64(c.busFor(m.Voltage) / bus)
	return duty, Power(float64(c.PartDutyDrop) * float64(m.Current) * max(0, 1-duty))
}
