package csvlog

import (
	"bytes"
	"fmt"
	"io"
	"math"
	"slices"
	"strings"

	"allup/model"
	"allup/model/bench"
	"allup/model/words"
)

const (
	bufferSize = 256 << 10 // bytes read at once
	longLine   = 32 << 10  // no row of a log is longer

	// badShare is the share of rows, and badFew the number, beyond which a log with rows left out is refused.
	badShare = 0.05
	badFew   = 3

	lateRows   = 100       // in a row: the time has gone back for good
	aheadRows  = 8         // rows that follow a time which was ahead of them all
	halfDay    = 12 * 3600 // s that a clock falls at midnight
	powerSlack = 0.05      // of the power column over voltage times current
)

// Reader streams the samples of a bench log, in one pass and constant memory:
//
//	for r.Scan() { use(r.Sample()) }
//	err := r.Err()
//
// Samples come in order of time, each time once. Rows that cannot be used are left
// out and counted in [Reader.Findings].
//
// A log is CSV with a header, or without one where [Columns] gives the columns by number. The separator is
// comma, semicolon or tab, whichever the first line has; decimal commas are taken where the separator is
// another, or inside quotes. A byte-order mark, blank lines and lines that begin with # are passed over.
// Columns are found by name and unit, and the current may have either sign.
type Reader struct {
	src  io.Reader
	buf  []byte
	pos  int // of the next line in buf
	fill int
	eof  bool
	line int

	header    header
	separator byte
	comma     bool
	wanted    []quantity // by index of column
	lastIndex int
	first     bool   // the next row is the first
	held      []byte // a first line that turned out to be a row

	pending bench.Sample // the latest time read; what is due stands before it
	same    int          // rows averaged in pending
	have    bool
	passed  int // rows that went by while pending waits
	due     bench.Sample
	given   float64 // time of the last sample handed on
	late    int     // rows in a row that came too late
	days    float64 // s that a clock fell at midnight
	clocked bool    // times are h:mm:ss

	rows                                                              int
	unreadable, reordered, tooLate, jumps, duplicates, midnights, off tally
	err                                                               error
}

type tally struct{ count, line int }

func (t *tally) add(line int) {
	if t.count == 0 {
		t.line = line
	}
	t.count++
}

// NewReader reads the header of a log. Its error is a [bench.LogError] where the
// header is at fault, or the reader's own.
func NewReader(r io.Reader, columns Columns) (*Reader, error) {
	l := &Reader{src: r, buf: make([]byte, bufferSize), first: true, given: math.Inf(-1)}
	text, ok := l.nextLine()
	if l.err != nil {
		return nil, l.err
	}
	if !ok {
		return nil, headerError(0, "the log is empty")
	}
	if err := readable(text, "log"); err != nil {
		return nil, headerError(l.line, "%s", err.Error())
	}
	l.separator = separatorOf(text)
	l.comma = l.separator != ','
	cells := splitRow(text, l.separator)
	if columns.numbered() {
		header, ok, err := bareHeader(cells, columns)
		if err != nil {
			return nil, headerError(l.line, "%s", err.Error())
		}
		if ok {
			l.held, l.first = text, false
			l.use(header)
			return l, nil
		}
	}
	header, err := readHeader(cells, columns)
	if err != nil {
		return nil, headerError(l.line, "%s", err.Error())
	}
	l.use(header)
	return l, nil
}

// use sets the columns.
func (l *Reader) use(h header) {
	l.header = h
	last := 0
	for _, c := range h.columns {
		last = max(last, c.index)
	}
	l.wanted = make([]quantity, last+1)
	for i := range l.wanted {
		l.wanted[i] = quantities
	}
	for q, c := range h.columns {
		if c.index >= 0 {
			l.wanted[c.index] = quantity(q)
		}
	}
	l.lastIndex = last
}

// nextLine is the next line that is neither blank nor a comment, without its end.
// ok is false at the end of the log and on an error.
func (l *Reader) nextLine() (text []byte, ok bool) {
	if l.held != nil {
		text, l.held = l.held, nil
		return text, true
	}
	for {
		n := bytes.IndexByte(l.buf[l.pos:l.fill], '\n')
		switch {
		case n >= 0:
			text = l.buf[l.pos : l.pos+n]
			l.pos += n + 1
		case l.err != nil || l.eof && l.pos == l.fill:
			return nil, false
		case l.eof:
			text = l.buf[l.pos:l.fill]
			l.pos = l.fill
		default:
			l.refill()
			continue
		}
		l.line++
		if l.line == 1 {
			text = bytes.TrimPrefix(text, []byte("\ufeff"))
		}
		for len(text) > 0 && (text[len(text)-1] == '\r' || text[len(text)-1] == ' ') {
			text = text[:len(text)-1]
		}
		if len(text) > 0 && text[0] != '#' {
			return text, true
		}
	}
}

func (l *Reader) refill() {
	rest := copy(l.buf, l.buf[l.pos:l.fill])
	if rest > longLine {
		l.err = headerError(l.line+1, "the line is longer than %d kB: this is not a log with a row a line", longLine>>10)
		return
	}
	l.pos, l.fill = 0, rest
	for range 100 {
		n, err := l.src.Read(l.buf[l.fill:])
		l.fill += n
		if err == io.EOF {
			l.eof = true
			return
		}
		if err != nil {
			l.err = fmt.Errorf("reading the log: %w", err)
			return
		}
		if n > 0 {
			return
		}
	}
	l.err = io.ErrNoProgress
}

// Scan goes to the next sample. It is false at the end of the log and on an error.
func (l *Reader) Scan() bool {
	for {
		text, more := l.nextLine()
		if !more {
			return l.drain()
		}
		if l.first {
			l.first = false
			if l.firstRow(text) {
				continue
			}
			if l.err != nil {
				return false
			}
		}
		l.rows++
		s, ok := l.parse(text)
		if !ok {
			l.unreadable.add(l.line)
			continue
		}
		// The usual row is later than the one before it, which is handed on.
		if l.have && s.Time > l.pending.Time && l.passed == 0 && l.same == 1 {
			l.due, l.pending = l.pending, s
			l.given = float64(l.due.Time)
			return true
		}
		if l.arrange(s) {
			return true
		}
		if l.err != nil {
			return false
		}
	}
}

// Sample is the sample that Scan came to.
func (l *Reader) Sample() bench.Sample { return l.due }

// Err is what ended the log, nil at its end. It is a [bench.LogError] where the rows
// are at fault.
func (l *Reader) Err() error { return l.err }

// arrange puts a sample in order; it reports whether one is due.
func (l *Reader) arrange(s bench.Sample) bool {
	if !l.have {
		if float64(s.Time) <= l.given {
			// After a time that was ahead and dropped.
			return l.comesLate(s)
		}
		l.have, l.pending, l.same, l.passed = true, s, 1, 0
		return false
	}
	switch {
	case s.Time == l.pending.Time:
		l.duplicates.add(s.Line)
		l.same++
		w := 1 / float64(l.same)
		l.pending.Voltage += (s.Voltage - l.pending.Voltage) * model.Voltage(w)
		l.pending.Current += (s.Current - l.pending.Current) * model.Current(w)
		return false
	case s.Time > l.pending.Time:
		if l.passed > 0 {
			l.reordered.add(l.pending.Line)
		}
		l.due, l.pending, l.same, l.passed = l.pending, s, 1, 0
		l.given, l.late = float64(l.due.Time), 0
		return true
	case float64(s.Time) > l.given:
		// Earlier than the pending one and still in time: it goes first.
		l.passed++
		l.due, l.given, l.late = s, float64(s.Time), 0
		if l.passed >= aheadRows {
			l.jumps.add(l.pending.Line)
			l.have, l.passed = false, 0
		}
		return true
	}
	return l.comesLate(s)
}

// comesLate leaves out a sample whose time lies before one that was handed on.
func (l *Reader) comesLate(s bench.Sample) bool {
	l.tooLate.add(s.Line)
	if l.late++; l.late >= lateRows {
		l.err = &bench.LogError{Code: bench.LogDisordered, Line: s.Line - lateRows + 1, Msg: fmt.Sprintf(
			"the time goes back to %.6g s from %.6g s and stays behind: are there two tests in the file?", float64(s.Time), l.given)}
	}
	return false
}

// drain hands on what is left at the end of the log and then judges the rows.
func (l *Reader) drain() bool {
	if l.err != nil {
		return false
	}
	if l.have {
		l.have = false
		if l.passed > 1 {
			l.jumps.add(l.pending.Line)
		} else {
			if l.passed == 1 {
				l.reordered.add(l.pending.Line)
			}
			l.due, l.given = l.pending, float64(l.pending.Time)
			return true
		}
	}
	if bad := l.unreadable.count + l.tooLate.count + l.jumps.count; bad > badFew && float64(bad) > badShare*float64(l.rows) {
		first := min(firstLine(l.unreadable), firstLine(l.tooLate), firstLine(l.jumps))
		l.err = &bench.LogError{Code: bench.LogMissing, Line: first, Msg: fmt.Sprintf(
			"%d of %d rows cannot be used, the first here: %d unreadable, %d out of time (up to %g %% are left out)",
			bad, l.rows, l.unreadable.count, l.tooLate.count+l.jumps.count, 100*badShare)}
	}
	return false
}

func firstLine(t tally) int {
	if t.count == 0 {
		return math.MaxInt
	}
	return t.line
}

// Findings lists what was left out or put right. It is complete after the last Scan.
func (l *Reader) Findings() []bench.LogFinding {
	var list []bench.LogFinding
	note := func(code bench.LogCode, t tally, one, many string) {
		if t.count > 0 {
			list = append(list, bench.LogFinding{Code: code, Count: t.count, Line: t.line, Text: words.Count(t.count, one, many)})
		}
	}
	note(bench.LogUnreadable, l.unreadable, "row without the numbers it should have: left out", "rows without the numbers they should have: left out")
	note(bench.LogReordered, l.reordered, "row before its turn: put in order", "rows before their turn: put in order")
	note(bench.LogLate, l.tooLate, "row with a time that was past already: left out", "rows with a time that was past already: left out")
	note(bench.LogTimeJump, l.jumps, "row with a time far ahead of those that follow: left out", "rows with a time far ahead of those that follow: left out")
	note(bench.LogDuplicate, l.duplicates, "row with the time of the row before: averaged with it", "rows with the time of the row before: averaged with it")
	note(bench.LogMidnight, l.midnights, "fall of the clock at midnight: a day added", "falls of the clock at midnight: a day added each")
	note(bench.LogPowerOff, l.off, "row whose power is not its voltage times its current: the current counts", "rows whose power is not their voltage times their current: the current counts")
	assumed := slices.DeleteFunc(slices.Clone(l.header.assumed), func(column string) bool {
		return l.clocked && column == l.header.columns[timeColumn].text // h:mm:ss says itself what it is
	})
	if l.header.bare {
		list = append(list, bench.LogFinding{Code: bench.LogUnitAssumed, Count: 1, Text: "no header: columns by number, taken as s, V and A"})
	}
	if len(assumed) > 0 {
		list = append(list, bench.LogFinding{Code: bench.LogUnitAssumed, Count: len(assumed), Text: "no unit in the header of " +
			strings.Join(assumed, ", ") + ": taken as s, V, A or W"})
	}
	if l.header.columns[currentColumn].index < 0 {
		list = append(list, bench.LogFinding{Code: bench.LogCurrentFound, Count: 1, Text: "no column of current: power over voltage"})
	}
	bench.SortFindings(list)
	return list
}
