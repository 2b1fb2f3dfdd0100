// Package sheet lays answers out: a [Screen] is a verdict in words, tables and notes, and becomes text for a
// terminal of any width ([Viewer]), Markdown, or CSV for programs.
//
// Nothing is computed here but widths. It is the one place that knows the table library.
package sheet
