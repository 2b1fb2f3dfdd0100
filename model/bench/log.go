package bench

import (
	"cmp"
	"fmt"
	"slices"

	"allup/model"
)

// Sample is one row of a bench log. Current may have either sign.
type Sample struct {
	Time    model.Time
	Voltage model.Voltage
	Current model.Current
	Line    int // of the file, from 1; 0 where there is none
}

// LogCode names what was found in a bench log.
type LogCode string

// What is handled by rule and reported.
const (
	LogUnreadable   LogCode = "unreadable-rows" // not a number, or a row cut short: left out
	LogReordered    LogCode = "rows-reordered"  // neighbours swapped: put in order
	LogLate         LogCode = "late-rows"       // a time that lies before rows already counted: left out
	LogTimeJump     LogCode = "time-jumps"      // a time far ahead of the rows that follow: left out
	LogDuplicate    LogCode = "duplicate-times" // rows of the same time: averaged
	LogMidnight     LogCode = "clock-past-midnight"
	LogUnitAssumed  LogCode = "unit-assumed"       // a header without a unit: s, V, A
	LogCurrentFound LogCode = "current-from-power" // no current column: power over voltage
	LogPowerOff     LogCode = "power-disagrees"    // the power column is not voltage times current
	LogGlitch       LogCode = "glitches"           // rows far from those on either side, which agree: left out
	LogDropout      LogCode = "dropouts"           // no current or no voltage while the pack was under load: bridged
	LogPause        LogCode = "pauses"             // the load was off for a while: counted as no charge
	LogGap          LogCode = "gaps"               // rows missing: bridged by a straight line
	LogStuck        LogCode = "stuck-rows"         // the same figures row after row, then a jump: bridged
	LogDip          LogCode = "early-crossings"    // below the end voltage and back above it: not the end
	LogExtrapolated LogCode = "end-extrapolated"   // the load ended between rows, just above the end voltage
	LogCoarseStart  LogCode = "coarse-start"       // rows too far apart to tell when the load began
	LogNotFull      LogCode = "not-full"           // the voltage at rest is below that of a full pack
	LogNoRest       LogCode = "no-rest-row"        // the log begins under load
	LogNotHeld      LogCode = "load-not-held"      // neither power nor current was constant
	LogOtherLoad    LogCode = "load-differs"       // not what the protocol says
	LogSparse       LogCode = "sparse-at-end"      // few rows where the end voltage is crossed
	LogNoRamp       LogCode = "ended-before-ramp"  // the burst met its end voltage while conditioning
	LogConditioning LogCode = "conditioning-differs"
	LogLoadMissing  LogCode = "load-on-missing" // no rows when the load came on: counted from the last one without load
	LogStep         LogCode = "step"            // voltage or current jump and the other does not follow
	LogClock        LogCode = "clock-stretched" // rows come at another rate, and the voltage goes on by row, not by time
	LogLag          LogCode = "meters-apart"    // voltage and current do not move together when the load comes on
	LogNoisy        LogCode = "noisy"           // readings scatter so much that the end is a guess
	LogOverFull     LogCode = "over-full"       // the voltage at rest is above that of a full pack
	LogFlatRamp     LogCode = "ramp-stops"      // the current stops rising before the burst ends
	LogBentRamp     LogCode = "ramp-bent"       // the whole ramp leads to another current at the end than its last part
	LogTwoPacks     LogCode = "logs-disagree"   // discharge and burst are not of one pack, or of one state
)

// Why a log is refused.
const (
	LogEmpty       LogCode = "too-few-rows"
	LogDisordered  LogCode = "time-runs-back"
	LogNoLoad      LogCode = "no-load"
	LogCharges     LogCode = "charges"
	LogWrongCells  LogCode = "wrong-cells"
	LogStartsEmpty LogCode = "starts-empty"
	LogNoEnd       LogCode = "end-not-reached"
	LogInterrupted LogCode = "interrupted"
	LogMissing     LogCode = "too-much-missing"
	LogSuddenEnd   LogCode = "sudden-end"      // the end voltage is crossed in a jump
	LogNoDischarge LogCode = "not-a-discharge" // named as a discharge: the current rises
	LogNoBurst     LogCode = "not-a-burst"     // named as a burst: no conditioning and no ramp
	LogHeader      LogCode = "header"          // columns, units or the form of the file
)

// LogFinding is something in a log that was handled by rule: how often it came and
// where first.
type LogFinding struct {
	Code  LogCode
	Count int // of rows or of occurrences, as the text says
	Line  int // of the first; 0 where it is of the whole log
	Text  string
	Doubt bool // figures may be wrong by more than 5 %
}

// noted is a finding that leaves the figures as good as they were.
func noted(code LogCode, line int, format string, args ...any) LogFinding {
	return LogFinding{Code: code, Count: 1, Line: line, Text: fmt.Sprintf(format, args...)}
}

// doubted is a finding after which the figures may be wrong.
func doubted(code LogCode, line int, format string, args ...any) LogFinding {
	f := noted(code, line, format, args...)
	f.Doubt = true
	return f
}

// in makes a finding a doubt where it weighs enough.
func (f LogFinding) in(doubt bool) LogFinding {
	f.Doubt = doubt
	return f
}

// LogError is why a log was refused.
type LogError struct {
	Code LogCode
	Line int // 0 where the whole log is meant
	Msg  string
}

func (e *LogError) Error() string {
	if e.Line > 0 {
		return fmt.Sprintf("line %d: %s", e.Line, e.Msg)
	}
	return e.Msg
}

// SortFindings puts findings in the order of their first row, then of their code.
func SortFindings(findings []LogFinding) {
	slices.SortFunc(findings, func(a, b LogFinding) int {
		return cmp.Or(cmp.Compare(a.Line, b.Line), cmp.Compare(a.Code, b.Code))
	})
}

// counter counts one kind of finding.
type counter struct {
	count, line int
	amount      float64 // seconds or coulombs
}

func (c *counter) add(line int, amount float64) {
	if c.count == 0 {
		c.line = line
	}
	c.count++
	c.amount += amount
}
