package bench

import (
	"fmt"
	"math"

	"allup/model"
	"allup/model/words"
)

// Voltages per cell that tell a full pack from an empty one or from one of other
// cells (common practice).
const (
	highestCell    = 4.45 // no cell of ours is charged above it
	lowestFull     = 4.05 // at rest; below it a test did not begin with a full pack
	usuallyFull    = 4.14 // at rest; 5 % of the charge below a full cell
	surelyFull     = 4.08 // at rest, when guessing at the number of cells
	usuallyFullHV  = 4.28 // at rest, lihv
	lowestLoaded   = 3.3  // in the first row under load, where the log has no row at rest
	leastRows      = 10
	coarseStart    = 0.003 // of the charge, in the interval in which the load began
	chargeRise     = 0.02  // under load from first to last row
	fullCellAtRest = 4.36
	highestFull    = 4.25 // at rest; a full cell is not above it
	highestFullHV  = 4.40 // at rest, lihv
	suddenFall     = 0.15 // V per cell in a row that is no end of a discharge,
	suddenTimes    = 8    // where it is so many times the fall in the rows before
	suddenCharge   = 0.02 // and the row has no more than this share of the rated charge
	unsureCharge   = 0.03 // of the charge that nothing tells of: figures are in doubt
	unsureStray    = 0.1  // of the rows, far from those on either side: what is kept may be as wrong
	unsureGaps     = 0.05 // of the charge in gaps, where a clock that jumped would look the same
)

// check is why the log cannot be a test from full to the end voltage, nil where it is one.
func (l *logScan) check() error {
	switch {
	case l.rows < leastRows:
		return &LogError{LogEmpty, l.final.Line, fmt.Sprintf("the log has %s that can be used: at least %d are needed", words.Count(l.rows, "row", "rows"), leastRows)}
	case l.state == waiting:
		return &LogError{LogNoLoad, 0, fmt.Sprintf(
			"no current above %.3g A for %d rows, %.3g A at most: the log has no load in it, or its current is in another unit", idleCurrent*l.oneC, sustainedRows, l.idleMost)}
	case !l.crossed && l.last.v > float64(l.loadedAt.Voltage)+chargeRise*l.cells:
		return &LogError{LogCharges, l.loadedAt.Line, fmt.Sprintf(
			"the voltage rises from %.4g V here to %.4g V on line %d while the current flows: this is a charge", float64(l.loadedAt.Voltage), l.last.v, l.last.line)}
	}
	if err := l.checkStart(); err != nil {
		return err
	}
	switch {
	case l.refused != nil:
		return l.refused
	case l.sudden.line > 0:
		where := "over"
		if l.sudden.v > l.end {
			where = "close to"
		}
		return &LogError{LogSuddenEnd, l.sudden.line, fmt.Sprintf(
			"the voltage jumps from %.4g V to %.4g V here, %s the end voltage of %.4g V: that is no end of a discharge; did the columns change, did the pack come off, or are rows missing?", l.suddenFrom, l.sudden.v, where, l.end)}
	case !l.crossed:
		msg := fmt.Sprintf("the load ends here at %.4g V, %.3f V per cell: the end voltage of %.4g V per cell is not reached", l.last.v, l.last.v/l.cells, l.end/l.cells)
		if l.same >= stuckRows {
			msg += fmt.Sprintf("; the figures have not changed since line %d", l.sameFrom.line)
		}
		return &LogError{LogNoEnd, l.last.line, msg}
	case l.unlogged*l.usualAtStart() > missingShare*l.crossing.q:
		return &LogError{LogMissing, l.loadedAt.Line, fmt.Sprintf(
			"there are no rows for %.3g s before this one, in which the load came on: up to %.3g %% of the charge is in them, %.3g %% is the most", l.unlogged, 100*l.unlogged*l.usualAtStart()/l.crossing.q, 100*missingShare)}
	case l.gaps.amount > missingShare*l.crossing.q:
		return &LogError{LogMissing, l.gaps.line, fmt.Sprintf(
			"%.3g %% of the charge lies in gaps between rows, the first here: %.3g %% is the most", 100*l.gaps.amount/l.crossing.q, 100*missingShare)}
	}
	return nil
}

func (l *logScan) checkStart() error {
	v, atRest := l.restVoltage()
	line, least, how := l.idle.Line, lowestFull, "at rest"
	if !atRest {
		v, line, how = float64(l.loadedAt.Voltage), l.loadedAt.Line, "under load"
		least = max(lowestLoaded, l.end/l.cells+0.1)
	}
	per := v / l.cells
	other := ""
	for n := 1; n <= 6; n++ {
		if c := v / float64(n); float64(n) != l.cells && c >= surelyFull && c <= fullCellAtRest {
			other = fmt.Sprintf("; %s would be at %.3f V each", words.Count(n, "cell", "cells"), c)
		}
	}
	slip := ""
	switch {
	case per > 2000 && per < 1000*highestCell:
		other = "; is it in mV?"
	case per > 0.002 && per < highestCell/1000:
		slip = ": is it in V, where the header says mV?"
	case v >= surelyFull && v <= fullCellAtRest && l.cells > 1:
		slip = ": is it the voltage of one cell? That of the whole pack is needed"
	}
	start := fmt.Sprintf("the log begins %s at %.4g V, %.3f V per cell for %s", how, v, per, words.Count(int(l.cells), "cell", "cells"))
	switch {
	case per > highestCell:
		return &LogError{LogWrongCells, line, start + ": more than a cell can have" + other}
	case per < least && slip != "":
		return &LogError{LogWrongCells, line, start + slip}
	case per < least && other != "":
		return &LogError{LogWrongCells, line, start + ": the pack was not full, or it is another pack" + other}
	case per < least || l.beganBelow:
		return &LogError{LogStartsEmpty, line, start + ": the pack was not full"}
	}
	return nil
}

// shortestExtrapolation is the time in seconds from which an end behind the last row is worth a word: less than a row.
const shortestExtrapolation = 0.05

// findings lists what the scan handled by rule.
func (l *logScan) findings(chemistry model.Chemistry) []LogFinding {
	var list []LogFinding
	note := func(code LogCode, c counter, format string, args ...any) {
		if c.count > 0 {
			list = append(list, LogFinding{Code: code, Count: c.count, Line: c.line, Text: fmt.Sprintf(format, args...)})
		}
	}
	if n := l.glitches.count; n > 0 {
		list = append(list, LogFinding{Code: LogGlitch, Count: n, Line: l.glitches.line, Text: words.Count(n, "outlier row", "outlier rows") + " dropped"})
		if share := float64(n) / float64(l.rows); share > unsureStray {
			list[0].Doubt, list[0].Text = true, fmt.Sprintf("%s, %.2g %% of all", list[0].Text, 100*share)
		}
	}
	note(LogDropout, l.dropouts, "%s of current or voltage, %.3g s in all, with the voltage as under load: bridged by a straight line",
		words.Count(l.dropouts.count, "dropout", "dropouts"), l.dropouts.amount)
	note(LogPause, l.pauses, "%s of the load, %.3g s in all, in which the voltage recovered: counted as no charge",
		words.Count(l.pauses.count, "pause", "pauses"), l.pauses.amount)
	if l.gaps.count > 0 {
		share := l.gaps.amount / max(l.crossing.q, math.SmallestNonzeroFloat64)
		note(LogGap, l.gaps, "%s between rows, %.3g %% of the charge: bridged by a straight line", words.Count(l.gaps.count, "gap", "gaps"), 100*share)
		if share > unsureGaps {
			gaps := &list[len(list)-1]
			gaps.Doubt, gaps.Text = true, gaps.Text+"; or the clock jumped there, and capacity and energy are too high by as much"
		}
	}
	note(LogStuck, l.stuck, "%s of equal figures and then a jump, %.0f rows: bridged by a straight line",
		words.Count(l.stuck.count, "run", "runs"), l.stuck.amount)
	note(LogDip, l.dips, "%s below the end voltage and back above it: not taken for the end", words.Count(l.dips.count, "dip", "dips"))
	if l.extrapolate && l.straddle >= shortestExtrapolation {
		list = append(list, noted(LogExtrapolated, l.last.line,
			"the load ended at %.3f V per cell, before a row at the end voltage: extrapolated by %.3g s", l.last.v/l.cells, l.straddle))
	}
	if l.unlogged > 0 {
		share := l.unlogged * l.usualAtStart() / max(l.crossing.q, math.SmallestNonzeroFloat64)
		list = append(list, noted(LogLoadMissing, l.loadedAt.Line,
			"no rows for %.3g s in which the load came on: counted from the last row without load, at the load of the first row with it, %.2g %% of the charge",
			l.unlogged, 100*share).in(share > unsureCharge))
	}
	v, atRest := l.restVoltage()
	full, highest := usuallyFull, highestFull
	if chemistry == model.LiHV {
		full, highest = usuallyFullHV, highestFullHV
	}
	switch per := v / l.cells; {
	case !atRest:
		list = append(list, noted(LogNoRest, l.loadedAt.Line, "the log begins under load: the voltage at rest is not known"))
	case per < full:
		list = append(list, doubted(LogNotFull, l.idle.Line, "%.3f V per cell at rest: a full pack has %.2f V or more", per, full))
	case per > highest:
		list = append(list, doubted(LogOverFull, l.idle.Line, "%.3f V per cell at rest: a full pack has %.2f V or less", per, highest))
	}
	return list
}

// coarseStartOf tells where rows are too far apart to say when the load began.
func (l *logScan) coarseStartOf() []LogFinding {
	if l.unlogged > 0 {
		return nil
	}
	before := float64(l.loadedAt.Time) - l.begin
	share := func(s float64) float64 { return l.usualCurrent() * s / max(l.crossing.q, math.SmallestNonzeroFloat64) }
	if missing := l.idleGap - before; share(missing) > coarseStart {
		return []LogFinding{noted(LogCoarseStart, l.loadedAt.Line,
			"the last row without load is %.3g s before this one, and the load is counted from %.3g s before: up to %.1f %% of the charge may be missing", l.idleGap, before, 100*share(missing)).in(share(missing) > unsureCharge)}
	}
	if share(before) <= coarseStart {
		return nil
	}
	return []LogFinding{noted(LogCoarseStart, l.loadedAt.Line,
		"the load began in the %.3g s before this row and is counted from the row before: up to %.1f %% of the charge may be too much", before, 100*share(before)).in(share(before) > unsureCharge)}
}

// usualAtStart is the current of the first rows under load, whatever one of them says.
func (l *logScan) usualAtStart() float64 {
	return math.Abs(median3(float64(l.early[0].Current), float64(l.early[1].Current), float64(l.early[2].Current)))
}
