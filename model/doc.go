// Package model is the physics of a small multirotor and its pack. It knows no files,
// no catalogue and no printing.
//
// # The way through
//
//  1. [AirDensity] gives the air. A [Propeller] (static table, stated coefficients or geometry), a [Motor] and
//     a [Controller] make a [Rotor]; rotors and gear power make a [Drive], which has no mass; [Drive.Answer]
//     flies a [Mission] with one. [FitThrustTest] finds propeller and motor from a stand's table;
//     [Drive.Calibrate] lets flown hovers correct the whole craft.
//  2. [MassBudget] adds up masses with their uncertainty; a [Limit] compares.
//  3. A pack is a [Circuit]: [Identify] finds it from the [TestedMetrics] of a bench
//     test, [FitLogs] from full logs, [LabelCircuit] guesses it from a label. Package
//     bench makes metrics and a [Trace] of the rows of a bench log.
//  4. [Circuit.Discharge] and [Circuit.BurstTest] run it. [Drive.Fly] hovers a
//     drive on it until a [Landing] rule, [Drive.FlyPhases] flies a cycle of phases, [Drive.PunchOut] gives it
//     full throttle, [Drive.Trace] shows the flight moment by moment.
//
// # Vocabulary
//
// All-up mass is everything that leaves the ground; dry mass is that without the pack.
// Charge left runs from 1, full, to 0. A pack's delivered capacity is what a test
// got out of it, its rated capacity what the label says. C is current over rated
// capacity, 1/h. Duty is the part of the bus voltage that a motor sees; hover throttle
// is the duty in hover. A punch-out is full throttle, held; punch ratio is thrust over
// weight in one. Pack headroom is the power that the pack gives at 3.3 V per cell over
// what full throttle would draw there.
//
// Tested C is the burst current over the rated capacity.
//
// # Units
//
// Exported quantities are named float64 types in SI (see [Mass]). Solvers unpack them
// once and name the symbols of the source that they follow.
package model
