// Package csvlog reads the CSV files that measuring leaves: the logs of a bench, row by row in one pass and
// constant memory, and the short tables of a thrust stand. It judges the form of a file, not what a test says:
// package bench does that with logs, package catalog with stands.
//
//  1. a header's cells become quantities with their units, or columns are given by name or number (header.go);
//  2. a row becomes numbers, field by field (row.go, number.go);
//  3. rows are put in order of time, each time once; what is left out is counted, and what cannot be a
//     log is refused (reader.go);
//  4. [Open] does that for a file, and takes its hash on the way (file.go);
//  5. [ReadStand] reads a whole stand's table at once (stand.go).
package csvlog
