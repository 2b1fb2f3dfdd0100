package model

// ThrustRow is one row of a thrust stand's table of a motor with a propeller.
type ThrustRow struct {
	Throttle float64 // 0 to 1
	Voltage  Voltage // at the controller's input
	Current  Current // into the controller
	Thrust   Force
	Speed    AngularSpeed // 0 where it was not measured
}
