// Package bench turns the rows of a bench log into the tested metrics of a pack and into
// traces that a circuit is fitted to. It knows no files and no printing.
//
// # The way through
//
// A [DischargeReducer] or a [BurstReducer] takes the rows of one log, in order of time and in
// constant memory. Inside, one scan does the work for both:
//
//  1. a row far from those on either side, which agree, is left out (stray.go);
//  2. load on, gaps, pauses, hung loggers, charge and energy (scan.go);
//  3. the moment at which the end voltage was crossed for good (end.go);
//  4. the whole test as at most a thousand blocks (blocks.go);
//  5. what the log cannot be is a [LogError], what was handled by rule a [LogFinding] (check.go).
//
// [Metrics] joins the reductions of a pack's two logs. A [Run] makes the rows that a bench would
// log of a circuit, for tests and demos.
//
// # Vocabulary
//
// A bench log is a test as it was written down, row by row; a reduction is what it says of the
// pack; a finding is a fault in it that was handled by rule.
package bench
