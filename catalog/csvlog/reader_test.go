package csvlog_test

import (
	"bytes"
	"cmp"
	"errors"
	"flag"
	"fmt"
	"io"
	"math"
	"os"
	"slices"
	"strings"
	"testing"
	"testing/iotest"

	gocmp "github.com/google/go-cmp/cmp"

	"allup/catalog/csvlog"
	"allup/model"
	"allup/model/bench"
)

var update = flag.Bool("update", false, "rewrite testdata/broken/logs.golden")

// sameSamples compares samples to a part in 1e12.
func sameSamples() gocmp.Options {
	return gocmp.Options{gocmp.Comparer(within[model.Time]), gocmp.Comparer(within[model.Voltage]), gocmp.Comparer(within[model.Current])}
}

func within[T ~float64](a, b T) bool {
	return math.Abs(float64(a-b)) <= 1e-12*math.Max(math.Abs(float64(a)), math.Abs(float64(b)))
}

func readLog(text string, columns csvlog.Columns) ([]bench.Sample, []bench.LogFinding, error) {
	r, err := csvlog.NewReader(strings.NewReader(text), columns)
	if err != nil {
		return nil, nil, err
	}
	var rows []bench.Sample
	for r.Scan() {
		rows = append(rows, r.Sample())
	}
	return rows, r.Findings(), r.Err()
}

// TestLogForms: one log in every form that a log may have reads as the same samples.
// numbered are columns by number.
func numbered(time, voltage, current int) csvlog.Columns {
	return csvlog.Columns{Time: csvlog.Column{Number: time}, Voltage: csvlog.Column{Number: voltage}, Current: csvlog.Column{Number: current}}
}

// TestLogWithoutHeader: what has no header says what it was taken as, and a column that is not there is refused.
func TestLogWithoutHeader(t *testing.T) {
	rows, findings, err := readLog("0,16.75,0\n1,16,9.625\n", numbered(1, 2, 3))
	if err != nil || len(rows) != 2 || rows[0].Line != 1 || rows[1].Line != 2 {
		t.Errorf("rows %v, error %v", rows, err)
	}
	if len(findings) != 1 || findings[0].Code != bench.LogUnitAssumed {
		t.Errorf("findings %v, want that units were assumed", findings)
	}
	for text, want := range map[string]string{
		"0,16.75\n1,16\n":          "no column 3 for current: the first row has 2",
		"t,u,w\n0,16.75,0\n":       "",
		"\"t\";\"u\"\n0;16.75;0\n": "no column 3 for current: the first row has 2",
	} {
		_, _, err := readLog(text, numbered(1, 2, 3))
		if got := fmt.Sprint(err); err != nil && want == "" || !strings.Contains(got, want) {
			t.Errorf("%q: %v, want %q", text, err, want)
		}
	}
}

func TestLogForms(t *testing.T) {
	want := []bench.Sample{{Time: 0, Voltage: 16.75, Current: 0}, {Time: 0.5, Voltage: 16.125, Current: 9.5}, {Time: 1, Voltage: 16, Current: 9.625}}
	for _, c := range []struct {
		name, text string
		columns    csvlog.Columns
		sign       model.Current
	}{
		{name: "plain", text: "time_s,voltage_v,current_a\n0,16.75,0\n0.5,16.125,9.5\n1,16.0,9.625\n"},
		{name: "brackets and other columns", text: "Temp (C),Time (s),Capacity (mAh),Voltage[V],Current {A},Note\n25,0,0,16.75,0,\"a, b\"\n25,0.5,1,16.125,9.5,\n25,1,2,16.0,9.625,x\n"},
		{name: "milli everything", text: "t_ms;U/mV;I/mA\n0;16750;0\n500;16125;9500\n1000;16000;9625\n"},
		{name: "decimal comma", text: "Zeit [s];Spannung [V];Strom [A]\n0;16,75;0\n0,5;16,125;9,5\n1;16,0;9,625\n"},
		{name: "decimal comma in quotes", text: "Time (s),Voltage (V),Current (A)\n\"0\",\"16,75\",\"0\"\n\"0,5\",\"16,125\",\"9,5\"\n\"1\",\"16,0\",\"9,625\"\n"},
		{name: "tabs and CRLF and BOM", text: "\ufefftime in s\tvoltage in V\tcurrent in A\r\n0\t16.75\t0\r\n0.5\t16.125\t9.5\r\n1\t16\t9.625\r\n"},
		{name: "comments and blank lines", text: "# bench 3\n\ntime (s), voltage (V), current (A)\n\n0, 16.75, 0\n# load on\n0.5, 16.125, 9.5\n   \n1, 16, 9.625"},
		{name: "clock", text: "Elapsed (h:mm:ss),V,A\n0:00:00,16.75,0\n0:00:00.5,16.125,9.5\n0:00:01,16,9.625\n"},
		{name: "minutes", text: "time_min,voltage_v,current_a\n0,16.75,0\n0.008333333333333333,16.125,9.5\n0.016666666666666666,16,9.625\n"},
		{name: "clock without a unit", text: "Time,U,I\n00:00:00.000,16.75,0\n00:00:00.500,16.125,9.5\n00:00:01.000,16,9.625\n"},
		{name: "row of units", text: "Time,Voltage,Current\nms,mV,mA\n0,16750,0\n500,16125,9500\n1000,16000,9625\n"},
		{name: "units alone", text: "ms;V;A\n0;16.75;0\n500;16.125;9.5\n1000;16;9.625\n"},
		{name: "exponents and signs", text: "t,v,i\n0.0e0,+1.675e1,-0\n5E-1,1.6125e+1,-9.5\n1,16,-9.625e0\n", sign: -1},
		{name: "power for current", text: "Time (s);Voltage (V);Power (W)\n0;16.75;0\n0.5;16.125;153.1875\n1;16;154\n"},
		{name: "power beside current", text: "Time (s);Voltage (V);Current (A);Power (W)\n0;16.75;0;0\n0.5;16.125;9.5;153.19\n1;16;9.625;154\n"},
		{name: "measured beside load", text: "Voltage_measured,Current_measured,Temperature_measured,Current_load,Voltage_load,Time\n16.75,0,24,0,0,0\n16.125,9.5,24,9.5,4.2,0.5\n16,9.625,24,9.5,4.2,1\n"},
		{
			name: "named columns", text: "a,b,c,d\n1,16.75,0,0\n1,16.125,9.5,0.5\n1,16,9.625,1\n",
			columns: csvlog.Columns{Time: csvlog.Column{Name: "d"}, Voltage: csvlog.Column{Name: "B"}, Current: csvlog.Column{Name: "c"}},
		},
		{name: "no header", text: "0,16.75,0\n0.5,16.125,9.5\n1,16.0,9.625\n", columns: numbered(1, 2, 3)},
		{name: "no header, other order, decimal comma", text: "# made on a Sunday\n7;0,0;16,75;x;0:00:00\n8;9,5;16,125;y;0:00:00,5\n9;9,625;16,0;z;0:00:01\n", columns: numbered(5, 3, 2)},
		{name: "numbers and a header", text: "b/mV,t (ms),a\n16750,0,0\n16125,500,9.5\n16000,1000,9.625\n", columns: numbered(2, 1, 3)},
		{name: "a number and names", text: "Current (A),Voltage (V),Time (s),Voltage (V)\n0,1,0,16.75\n9.5,1,0.5,16.125\n9.625,1,1,16\n", columns: csvlog.Columns{Voltage: csvlog.Column{Number: 4}}},
		{name: "trailing separators", text: "time_s;voltage_v;current_a;\n0;16.75;0;\n0.5;16.125;9.5;\n1;16;9.625;\n"},
		{name: "many digits", text: "time_s,voltage_v,current_a\n0.0000000000000000000,16.750000000000000000,0\n0.500000000000000000000,16.1250000000000000,9.50000000000000000\n1,16,9.625\n"},
	} {
		sign := c.sign
		if sign == 0 {
			sign = 1
		}
		for name, text := range map[string]string{c.name: c.text, c.name + ", with more behind it": c.text + behind} {
			rows, _, err := readLog(text, c.columns)
			if err != nil {
				t.Errorf("%s: %v", name, err)
				continue
			}
			for i := range rows {
				rows[i].Line = 0
				rows[i].Current *= sign
			}
			if diff := gocmp.Diff(want, rows, sameSamples()); diff != "" {
				t.Errorf("%s (-want +got):\n%s", name, diff)
			}
		}
	}
}

// behind is a long comment, so that the rows before it are not the last of what is read.
var behind = "\n#" + strings.Repeat("-", 1000) + "\n"

// TestLogFindings: what is put right is told with how often and where first.
func TestLogFindings(t *testing.T) {
	for _, c := range []struct {
		name, text string
		want       []bench.LogFinding
	}{
		{"nothing", "time_s,voltage_v,current_a\n1,1,1\n2,1,1\n", nil},
		{"a clock without a unit, past midnight", "Time,Voltage (V),Current (A)\n23:59:59,1,1\n0:00:00,1,1\n0:00:01,1,1\n", []bench.LogFinding{
			{Code: bench.LogMidnight, Count: 1, Line: 3, Text: "1 fall of the clock at midnight: a day added"},
		}},
		{"swapped, doubled and short rows", "time_s,voltage_v,current_a\n1,1,1\n3,1,1\n2,1,1\n3,1,1\n4,1\n5,1,1\n5,3,1\n", []bench.LogFinding{
			{Code: bench.LogReordered, Count: 1, Line: 3, Text: "1 row before its turn: put in order"},
			{Code: bench.LogDuplicate, Count: 2, Line: 5, Text: "2 rows with the time of the row before: averaged with it"},
			{Code: bench.LogUnreadable, Count: 1, Line: 6, Text: "1 row without the numbers it should have: left out"},
		}},
		{"power for current", "t,v,p\n1,2,6\n", []bench.LogFinding{
			{Code: bench.LogCurrentFound, Count: 1, Text: "no column of current: power over voltage"},
			{Code: bench.LogUnitAssumed, Count: 2, Text: "no unit in the header of t, p: taken as s, V, A or W"},
		}},
	} {
		_, got, err := readLog(c.text, csvlog.Columns{})
		if err != nil {
			t.Errorf("%s: %v", c.name, err)
		}
		if diff := gocmp.Diff(c.want, got); diff != "" {
			t.Errorf("%s (-want +got):\n%s", c.name, diff)
		}
	}
}

// TestLogNumbers compares the reader's numbers with the standard library's.
func TestLogNumbers(t *testing.T) {
	for _, text := range []string{"0.1", "3.7014", "16.749999999999996", "1e-7", "123456789012345", "0.000012345678901234567", "4.35e2", "9007199254740993", "00012.50", "1", "12.", ".5", "7654321", "12345678", "123.4567", "1234.5678", "-0.25", "+3.5", "99999999", "0.0000001"} {
		var want float64
		if _, err := fmt.Sscan(text, &want); err != nil {
			t.Fatal(err)
		}
		for _, log := range []string{"t,v,i\n" + text + ",1,1\n", "t,v,i\n1,1," + text, "t,v,i\n" + text + ",1,1\n" + behind} {
			rows, _, err := readLog(log, csvlog.Columns{})
			if err != nil || len(rows) != 1 {
				t.Errorf("%s: %v, %v", text, rows, err)
				continue
			}
			if s := rows[0]; float64(s.Time) != want && float64(s.Current) != want {
				t.Errorf("%s reads as %v, want %v", text, s, want)
			}
		}
	}
}

// TestLogChunks: a log reads the same in whatever pieces it comes.
func TestLogChunks(t *testing.T) {
	text := "time_s,voltage_v,current_a\n0,16.75,0\n0.5,16.125,9.5\n1,16,9.625\n"
	whole, _, err := readLog(text, csvlog.Columns{})
	if err != nil {
		t.Fatal(err)
	}
	for name, r := range map[string]io.Reader{
		"byte by byte": iotest.OneByteReader(strings.NewReader(text)),
		"halves":       iotest.HalfReader(strings.NewReader(text)),
		"data and EOF": iotest.DataErrReader(strings.NewReader(text)),
	} {
		l, err := csvlog.NewReader(r, csvlog.Columns{})
		if err != nil {
			t.Fatal(err)
		}
		var rows []bench.Sample
		for l.Scan() {
			rows = append(rows, l.Sample())
		}
		if diff := gocmp.Diff(whole, rows); diff != "" || l.Err() != nil {
			t.Errorf("%s: %v (-whole +got):\n%s", name, l.Err(), diff)
		}
	}
	broken, err := csvlog.NewReader(io.MultiReader(strings.NewReader(text), iotest.ErrReader(io.ErrClosedPipe)), csvlog.Columns{})
	if err != nil {
		t.Fatal(err)
	}
	for broken.Scan() {
	}
	if !errors.Is(broken.Err(), io.ErrClosedPipe) {
		t.Errorf("error of the reader below = %v, want it handed on", broken.Err())
	}
}

// benchLog is a discharge of an invented pack at 1 Hz, as fields of rows, header first.
func benchLog(t *testing.T, burst bool) [][]string {
	t.Helper()
	curve, err := model.CurveOf(model.LiPo)
	if err != nil {
		t.Fatal(err)
	}
	c := model.Circuit{Cells: 4, Curve: curve, Capacity: 640 * model.MilliAmpH, R0: 30 * model.MilliOhm, R1: 16 * model.MilliOhm, Tau: 20}
	p := model.UsualProtocol(650*model.MilliAmpH, 4)
	run := bench.Run{Interval: 1, Rest: 5}
	rows := run.Discharge(c, model.ConstantPower(p.DischargePower), p.DischargeEndPerCell)
	if burst {
		rows = run.Burst(c, p)
	}
	log := [][]string{{"time_s", "voltage_v", "current_a"}}
	for _, s := range rows {
		log = append(log, []string{fmt.Sprintf("%.1f", float64(s.Time)), fmt.Sprintf("%.3f", float64(s.Voltage)), fmt.Sprintf("%.3f", float64(s.Current))})
	}
	return log
}

func joinLog(rows [][]string, separator string) string {
	var b strings.Builder
	for _, r := range rows {
		b.WriteString(strings.Join(r, separator) + "\n")
	}
	return b.String()
}

// brokenLog is a way to break the log of benchLog.
type brokenLog struct {
	name  string
	rows  func(r [][]string) [][]string // nil: as it is
	text  func(s string) string         // nil: as it is
	cells int                           // 0: 4
	burst bool
}

func set(column int, value string, lines ...int) func([][]string) [][]string {
	return func(r [][]string) [][]string {
		for _, l := range lines {
			r[l-1][column] = value
		}
		return r
	}
}

func scaleColumn(column int, f float64) func([][]string) [][]string {
	return func(r [][]string) [][]string {
		for _, row := range r[1:] {
			var v float64
			fmt.Sscan(row[column], &v)
			row[column] = fmt.Sprintf("%.3f", v*f)
		}
		return r
	}
}

func span(from, to int) []int {
	var lines []int
	for l := from; l <= to; l++ {
		lines = append(lines, l)
	}
	return lines
}

func replace(old, with string) func(string) string {
	return func(s string) string { return strings.Replace(s, old, with, 1) }
}

func brokenLogs() []brokenLog {
	return []brokenLog{
		{name: "as it should be"},
		{name: "empty file", text: func(string) string { return "" }},
		{name: "comments only", text: func(string) string { return "# nothing\n\n# here\n" }},
		{name: "header only", text: func(s string) string { return s[:strings.IndexByte(s, '\n')+1] }},
		{name: "no header", text: func(s string) string { return s[strings.IndexByte(s, '\n')+1:] }},
		{name: "no time column", text: replace("time_s", "row")},
		{name: "no voltage column", text: replace("voltage_v", "temp_c")},
		{name: "no current column", text: replace("current_a", "capacity_mah")},
		{name: "unknown unit of time", text: replace("time_s", "time (fortnights)")},
		{name: "voltage in amperes", text: replace("voltage_v", "Voltage (A)")},
		{name: "two voltages", rows: func(r [][]string) [][]string {
			for k := range r {
				r[k] = append(r[k], r[k][1])
			}
			r[0][3] = "voltage_v"
			return r
		}},
		{name: "no units", text: replace("time_s,voltage_v,current_a", "time,voltage,current")},
		{name: "UTF-16", text: func(s string) string { return "\xff\xfe" + s }},
		{name: "compressed", text: func(s string) string { return "\x1f\x8b\x08" + s }},
		{name: "binary", text: func(s string) string { return "\x00\x01\x02" + s }},
		{name: "one endless line", text: func(s string) string { return s + strings.Repeat("1", 400<<10) }},
		{name: "decimal commas and commas", text: func(s string) string { return strings.ReplaceAll(s, ".", ",") }},
		{name: "more fields than the header", text: func(s string) string {
			return strings.ReplaceAll(strings.ReplaceAll(s, ",", ";"), "\n0.0;", "\n0.0;7;")
		}},
		{name: "three rows", text: func(s string) string { return strings.Join(strings.SplitAfter(s, "\n")[:4], "") }},
		{name: "one NaN", rows: set(1, "NaN", 80)},
		{name: "empty fields", rows: set(2, "", 80, 81, 82)},
		{name: "infinite", rows: set(1, "inf", 80)},
		{name: "overflow", rows: set(1, "1e999", 80)},
		{name: "words in rows", rows: set(2, "OVERRANGE", 40, 90)},
		{name: "every tenth row unreadable", rows: func(r [][]string) [][]string {
			for k := 10; k < len(r); k += 10 {
				r[k][1] = "?"
			}
			return r
		}},
		{name: "last row cut short", text: func(s string) string { return s[:len(s)-12] }},
		{name: "two rows swapped", rows: func(r [][]string) [][]string { r[60], r[61] = r[61], r[60]; return r }},
		{name: "one row far too late", rows: func(r [][]string) [][]string { r[60], r[90] = r[90], r[60]; return r }},
		{name: "a time from the future", rows: set(0, "99999", 70)},
		{name: "time restarts", rows: func(r [][]string) [][]string { return append(r, benchRest(r)...) }},
		{name: "time runs backwards", rows: func(r [][]string) [][]string { slices.Reverse(r[1:]); return r }},
		{name: "every time twice", rows: func(r [][]string) [][]string {
			for k := 2; k < len(r); k += 2 {
				r[k][0] = r[k-1][0]
			}
			return r
		}},
		{name: "one time throughout", rows: func(r [][]string) [][]string { return set(0, "7.0", span(2, len(r))...)(r) }},
		{name: "no load", rows: func(r [][]string) [][]string { return set(2, "0", span(2, len(r))...)(r) }},
		{name: "current in the wrong unit", rows: scaleColumn(2, 0.001)},
		{name: "a charge", rows: func(r [][]string) [][]string {
			body := r[6 : len(r)-5]
			for i, j := 0, len(body)-1; i < j; i, j = i+1, j-1 {
				body[i][1], body[j][1] = body[j][1], body[i][1]
			}
			return r
		}},
		{name: "three cells, not four", rows: scaleColumn(1, 0.75)},
		{name: "four cells, not six", cells: 6},
		{name: "four cells, not two", cells: 2},
		{name: "voltage in mV without saying so", rows: scaleColumn(1, 1000)},
		{name: "voltage of one cell", rows: scaleColumn(1, 0.25)},
		{name: "starts half empty", rows: func(r [][]string) [][]string {
			for _, row := range r[1:7] {
				row[1] = "15.1"
			}
			return slices.Delete(r, 7, 140)
		}},
		{name: "starts below the end", rows: func(r [][]string) [][]string {
			return slices.Delete(scaleColumn(1, 0.7)(r), 1, 6)
		}},
		{name: "not quite full", rows: scaleColumn(1, 0.97)},
		{name: "stops early", rows: func(r [][]string) [][]string { return r[:180] }},
		{name: "stops early, then rest", rows: func(r [][]string) [][]string {
			r = r[:180]
			for k := range 20 {
				r = append(r, []string{fmt.Sprintf("%d.0", 178+k), "15.000", "0.000"})
			}
			return r
		}},
		{name: "stops just before the end", rows: func(r [][]string) [][]string { return r[:len(r)-6] }},
		{name: "dropout of current", rows: set(2, "0", 100, 101, 102)},
		{name: "two rows without a current", rows: set(2, "0", 100, 101)},
		{name: "dropout of everything", rows: func(r [][]string) [][]string {
			return set(1, "0", 100, 101, 102, 103)(set(2, "0", 100, 101, 102, 103)(r))
		}},
		{name: "long dropout", rows: func(r [][]string) [][]string { return set(2, "0", span(100, 115)...)(r) }},
		{name: "interrupted for a minute", rows: func(r [][]string) [][]string {
			var out [][]string
			out = append(out, r[:120]...)
			for k := range 60 {
				out = append(out, []string{fmt.Sprintf("%d.5", 118+k), "15.300", "0.000"})
			}
			for _, row := range r[120:] {
				var s float64
				fmt.Sscan(row[0], &s)
				out = append(out, []string{fmt.Sprintf("%.1f", s+61), row[1], row[2]})
			}
			return out
		}},
		{name: "gap of ten rows", rows: func(r [][]string) [][]string { return slices.Delete(r, 100, 110) }},
		{name: "gap of a quarter", rows: func(r [][]string) [][]string { return slices.Delete(r, 100, 160) }},
		{name: "stuck logger", rows: func(r [][]string) [][]string {
			for k := 100; k < 125; k++ {
				r[k][1], r[k][2] = r[99][1], r[99][2]
			}
			return r
		}},
		{name: "stuck to the end", rows: func(r [][]string) [][]string {
			for k := 150; k < len(r); k++ {
				r[k][1], r[k][2] = r[149][1], r[149][2]
			}
			return r
		}},
		{name: "glitch below the end", rows: set(1, "3.2", 150)},
		{name: "glitch of current", rows: set(2, "327.67", 150)},
		{name: "power that disagrees", rows: func(r [][]string) [][]string {
			for k := range r {
				r[k] = append(r[k], "100")
			}
			r[0][3] = "power_w"
			return r
		}},
		{name: "burst as it should be", burst: true},
		{name: "burst without a ramp", burst: true, rows: func(r [][]string) [][]string { return r[:50] }},
		{name: "burst of a pack with fewer cells", burst: true, cells: 5},
		{name: "burst with a glitch", burst: true, rows: set(1, "9.9", 65)},
		{name: "burst without its end", burst: true, rows: func(r [][]string) [][]string { return r[:len(r)-12] }},
	}
}

// benchRest is the first part of a log again.
func benchRest(r [][]string) [][]string {
	var again [][]string
	for _, row := range r[1:] {
		again = append(again, slices.Clone(row))
	}
	return again
}

// TestBrokenLogs is a golden test: what the reader and the reduction say of each
// broken log was read by people, and must not change unseen.
func TestBrokenLogs(t *testing.T) {
	var got strings.Builder
	for _, c := range brokenLogs() {
		rows := benchLog(t, c.burst)
		if c.rows != nil {
			rows = c.rows(rows)
		}
		text := joinLog(rows, ",")
		if c.text != nil {
			text = c.text(text)
		}
		fmt.Fprintf(&got, "%s\n%s\n", c.name, indentLines(judgeLog(text, cmp.Or(c.cells, 4), c.burst)))
	}
	const golden = "../../testdata/broken/logs.golden"
	if *update {
		if err := os.WriteFile(golden, []byte(got.String()), 0o644); err != nil {
			t.Fatal(err)
		}
	}
	want, err := os.ReadFile(golden)
	if err != nil {
		t.Fatal(err)
	}
	if diff := gocmp.Diff(string(want), got.String()); diff != "" {
		t.Errorf("what is said of broken logs differs (-want +got):\n%s", diff)
	}
	if n := len(brokenLogs()); n < 40 {
		t.Errorf("%d broken logs, want 40 at least", n)
	}
}

func indentLines(s string) string {
	return "  " + strings.ReplaceAll(strings.TrimRight(s, "\n"), "\n", "\n  ") + "\n"
}

// judgeLog reads and reduces a log and says in lines what came of it.
func judgeLog(text string, cells int, burst bool) string {
	var b strings.Builder
	r, err := csvlog.NewReader(strings.NewReader(text), csvlog.Columns{})
	if err != nil {
		return "refused: " + err.Error()
	}
	pack := bench.TestedPack{Cells: cells, Chemistry: model.LiPo, Rated: 650 * model.MilliAmpH}
	protocol := model.UsualProtocol(pack.Rated, cells)
	d, u := bench.NewDischargeReducer(pack, protocol, bench.ReduceSettings{}), bench.NewBurstReducer(pack, protocol)
	for r.Scan() {
		if burst {
			u.Add(r.Sample())
		} else {
			d.Add(r.Sample())
		}
	}
	if err := r.Err(); err != nil {
		return "refused: " + err.Error()
	}
	findings := r.Findings()
	if burst {
		var red bench.BurstReduction
		if red, err = u.Finish(); err == nil {
			fmt.Fprintf(&b, "%.1f A, %.0f W\n", float64(red.Current), float64(red.Power))
			findings = append(findings, red.Findings...)
		}
	} else {
		var red bench.DischargeReduction
		if red, err = d.Finish(); err == nil {
			fmt.Fprintf(&b, "%.0f mAh, %.2f Wh, %.2f V\n", red.Capacity.MilliAmpHours(), red.Energy.WattHours(), float64(red.MidVoltage))
			findings = append(findings, red.Findings...)
		}
	}
	if err != nil {
		fmt.Fprintf(&b, "refused: %v\n", err)
	}
	for _, f := range findings {
		fmt.Fprintf(&b, "%s, line %d: %s\n", f.Code, f.Line, f.Text)
	}
	return b.String()
}

// sameBehind reads a log again with more behind it.
func sameBehind(t *testing.T, data []byte, want []bench.Sample, wantErr error) {
	t.Helper()
	r, err := csvlog.NewReader(io.MultiReader(bytes.NewReader(data), strings.NewReader(behind)), csvlog.Columns{})
	if err != nil {
		t.Fatal(err)
	}
	var got []bench.Sample
	for r.Scan() {
		got = append(got, r.Sample())
	}
	if !slices.Equal(got, want) || fmt.Sprint(r.Err()) != fmt.Sprint(wantErr) {
		t.Errorf("%d samples, error %v with more behind; %d samples, error %v without", len(got), r.Err(), len(want), wantErr)
	}
}

// FuzzReader: whatever bytes come, the reader ends, samples are finite and in order
// of time, and the reductions do not panic.
func FuzzReader(f *testing.F) {
	f.Add([]byte("time_s,voltage_v,current_a\n0,16.75,0\n0.5,16.125,9.5\n1,16,9.625\n"))
	f.Add([]byte("\ufeffZeit;U/mV;I/mA\r\n# c\r\n0:00:01;16750,5;-0\r\n\"0:00:02\";\"1,5\";7\n"))
	f.Add([]byte("Time,Voltage,Current,P\nms,mV,mA,W\n3,1e3,2,0\n2,1,2,4\n2,1,2,4\n9e99,1,2,4\n1,1,1,1\n"))
	f.Add([]byte("t\tv\ti\n23:59:59\t1\t1\n0:00:01\t1\t1\n"))
	f.Fuzz(func(t *testing.T, data []byte) {
		r, err := csvlog.NewReader(bytes.NewReader(data), csvlog.Columns{})
		if err != nil {
			return
		}
		pack := bench.TestedPack{Cells: 1 + len(data)%6, Chemistry: model.LiPo, Rated: 650 * model.MilliAmpH}
		p := model.UsualProtocol(pack.Rated, pack.Cells)
		d, b := bench.NewDischargeReducer(pack, p, bench.ReduceSettings{WholeSamples: true}), bench.NewBurstReducer(pack, p)
		last := model.Time(math.Inf(-1))
		var samples []bench.Sample
		for r.Scan() {
			s := r.Sample()
			if !(s.Time > last) || math.IsInf(float64(s.Time), 0) || math.IsNaN(float64(s.Voltage)) || math.IsNaN(float64(s.Current)) {
				t.Fatalf("sample %+v after time %v", s, last)
			}
			last = s.Time
			samples = append(samples, s)
			d.Add(s)
			b.Add(s)
		}
		sameBehind(t, data, samples, r.Err())
		r.Findings()
		if red, err := d.Finish(); err == nil && (math.IsNaN(float64(red.Capacity)) || math.IsNaN(float64(red.MidVoltage))) {
			t.Errorf("reduction %+v is not a number", red)
		}
		if red, err := b.Finish(); err == nil && math.IsNaN(float64(red.Power)) {
			t.Errorf("reduction %+v is not a number", red)
		}
	})
}
