// Package tested answers for packs that were on a bench.
//
//  1. [ReduceBench] takes the logs of a bench to catalogue records, pack by pack: tested metrics by package
//     bench, a circuit by package model, and what is to be said of either (reduce.go).
//  2. [CompareField] sets the tested packs of a catalogue beside each other, in groups, with ranks and ratios
//     (field.go), and says which of them stand out (standout.go).
//
// What a tested pack does on a build is package planner's to say, and so are the circuits that a field compares.
package tested
