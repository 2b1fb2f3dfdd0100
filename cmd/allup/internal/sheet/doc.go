// Package sheet lays answers out: a [Screen] is a verdict in words, tables and notes, and becomes text for a
// terminal of any width ([Viewer]), Markdown, or CSV for programs.
//
// What there is to say of a subject is declared once, as a [Figure] or as [Words]: key, heading, unit, digits,
// and how it is read. [Columns] makes tables of them and [Members] JSON, so that no form knows a figure that
// another lacks, and each has its value, its unit and its digits from one line.
//
// Nothing is computed here but widths and
// the scale of a unit. It is the one place that knows the table library.
package sheet
