// Package catalog reads the files that a pilot writes and hands on checked values:
// the catalogue of parts, the build that is made of them, and bench files with their logs.
//
// A file's way through it:
//
//  1. the TOML parser makes one tree of the text (decode.go);
//  2. a reader walks the tree and asks for each field by name, with the range that
//     it may have (table.go, read.go, readbuild.go); what nobody asked for is an
//     unknown field;
//  3. what contradicts itself is an error; what is only odd is a [Warning] (check.go);
//  4. layers of records lie one over the other in a [Catalogue]; a [Build] points
//     into it by id.
//
// What is measured stands in CSV: package csvlog reads the logs that a bench file names, and the tables of thrust
// stands. [FormatPack] writes a record that reads back to the same numbers.
//
// All faults of a file are found before any is reported: reading returns
// [InputErrors], sorted by line. Errors of another type are failures of the disk,
// not of what the file says. Numbers in files have trade units, named by their key
// (mass_g, rated_mah, r_mohm); values handed on are SI quantities of package model.
package catalog
