package catalog

import "allup/model"

// A Source says where a record was read.
type Source struct {
	Layer string // "built-in", "user" or "parts"
	File  string // as given, or the name inside the built-in catalogue
	Line  int    // of the record's table header; 0 where not known
}

// Common is what every record may carry.
type Common struct {
	ID        string
	Name      string
	Mass      model.Mass
	Weighed   bool
	Tolerance *model.Mass // half-width; nil: the default of the mass budget
	Price     *float64
	Currency  string
	URL       string
	Note      string
	Date      string // YYYY-MM-DD
	Source    Source
}

// Frame is an airframe with everything that is screwed to it for good.
type Frame struct {
	Common
	Rotors       int
	MaxProp      model.Length  // greatest propeller diameter; 0 where not stated
	Bay          *Box          // room for the pack
	MotorMount   *model.Length // bolt circle
	ThrustLoss   float64       // fraction of thrust lost to arms, guards, ducts
	ThrustLossOK bool          // whether the record states ThrustLoss
}

// Box is length, width and height.
type Box struct{ L, W, H model.Length }

// CellRange is an inclusive range of cells in series.
type CellRange struct{ Min, Max int }

// Motor is one motor with its wires and screws.
type Motor struct {
	Common
	Kv            model.SpeedConstant
	R             *model.Resistance
	NoLoadCurrent *model.Current
	NoLoadVoltage *model.Voltage
	MaxCurrent    *model.Current
	Cells         *CellRange
	Mount         *model.Length
	Shaft         *model.Length
}

// Prop is one propeller.
type Prop struct {
	Common
	Diameter model.Length
	Pitch    model.Length
	Blades   int
	CT, CP   *float64 // both or neither
	Static   []model.StaticPoint
	Shaft    *model.Length
}

// Board is a flight controller with speed controllers, or the stack of both.
type Board struct {
	Common
	MaxCurrent *model.Current // each output
	Cells      *CellRange
	Efficiency *float64
	Power      model.Power // what the electronics draw
}

// Gear is anything else that has a place in the gear slot.
type Gear struct {
	Common
	Power model.Power
}

// Pack is a battery with its leads and plug.
type Pack struct {
	Common
	Chemistry  model.Chemistry
	Cells      int
	Rated      model.Charge
	Size       *Box
	Plug       string
	MaxCurrent *model.Current // the steady current that its maker states
	LabelC     float64        // the C rating on its label; 0 where the record has none
	Tested     *model.TestedMetrics
	TestDate   string
	TestCycles *int // charge cycles before the test; nil where nobody counted
	TestSource string
	Circuit    *model.Circuit // as fitted to full logs

	// One sigma of the circuit's capacity, of its R0 + R1 and of its charge dependence; 0 where the record has none.
	CircuitSigmaQ model.Charge
	CircuitSigmaR model.Resistance
	CircuitSigmaK float64
}

// ThrustTest is a bench table of one motor with one propeller.
type ThrustTest struct {
	Common // Mass unused
	Motor  string
	Prop   string
	Origin string // the table's own source field
	Air    model.Density
	Rows   []model.ThrustRow
}
