package csvlog

import (
	"bytes"
	"encoding/csv"
	"errors"
	"fmt"
	"io"
	"slices"
	"strings"

	"allup/model"
)

// maxStandRows is what a stand's table may have; more is a log, in which throttle and thrust
// are seldom those of one moment.
const maxStandRows = 1000

// standQuantity is what a column of a stand's table may hold.
type standQuantity struct {
	name  string
	words []string           // one of them is in the heading
	units map[string]float64 // in lower case; what one is in the unit of a [StandRow]
}

// standQuantities are the columns in the order that this file uses. The last may be missing.
func standQuantities() []standQuantity {
	gramsPerNewton := 1 / float64(model.Gram.Weight())
	grams := func(m model.Mass) float64 { return m.Grams() }
	return []standQuantity{
		{"throttle", []string{"throttle", "duty", "gas"}, map[string]float64{"": 1, "%": 0.01, "percent": 0.01}},
		{"voltage", []string{"voltage", "volt", "volts", "v", "u", "spannung"}, map[string]float64{"": 1, "v": 1, "mv": 1e-3}},
		{"current", []string{"current", "amps", "a", "i", "strom"}, map[string]float64{"": 1, "a": 1, "ma": 1e-3}},
		{"thrust", []string{"thrust", "force", "schub"}, map[string]float64{
			"g": 1, "gf": 1, "kg": 1000, "kgf": 1000, "n": gramsPerNewton,
			"oz": grams(model.Ounce), "ozf": grams(model.Ounce), "lb": grams(model.Pound), "lbf": grams(model.Pound),
		}},
		{"rpm", []string{"rpm", "drehzahl"}, map[string]float64{"": 1, "rpm": 1, "1/min": 1}},
	}
}

// StandRow is one row of a stand's table, in the units that its fields are named by.
type StandRow struct {
	Line     int     // of the file, from 1
	Throttle float64 // a fraction
	VoltageV float64
	CurrentA float64
	ThrustG  float64
	RPM      float64 // 0 where the table has no speeds
}

// standTable is a stand's table being read: values of each quantity, in the units of a [StandRow].
type standTable struct {
	quantities []standQuantity
	column     []int // of each quantity; -1 for none
	scale      []float64
	bare       []bool // the heading has no unit
	values     [][]float64
	lines      []int
}

// ReadStand reads a stand's table: CSV with a header, separator comma, semicolon or
// tab, decimal point or comma, byte-order mark, blank lines and # comments allowed. Throttle is a
// fraction, or percent where it says so or goes beyond 1.5. Thrust must say its unit. Current and thrust may
// have either sign. Whether a figure can be is for the caller to say.
func ReadStand(data []byte) ([]StandRow, error) {
	data = bytes.TrimPrefix(data, []byte("\ufeff"))
	first, _, _ := bytes.Cut(data, []byte("\n"))
	if err := readable(first, "table"); err != nil {
		return nil, err
	}
	r := csv.NewReader(bytes.NewReader(data))
	r.Comment, r.TrimLeadingSpace, r.LazyQuotes, r.FieldsPerRecord = '#', true, true, -1
	r.Comma = standSeparator(data)
	header, err := r.Read()
	if errors.Is(err, io.EOF) {
		return nil, errors.New("it is empty")
	}
	if err != nil {
		return nil, err
	}
	t := standTable{quantities: standQuantities()}
	if err := t.findColumns(header); err != nil {
		return nil, err
	}
	for {
		record, err := r.Read()
		if errors.Is(err, io.EOF) {
			break
		}
		if err != nil {
			return nil, err
		}
		line, _ := r.FieldPos(0)
		if err := t.addRow(record, line, r.Comma != ','); err != nil {
			return nil, fmt.Errorf("line %d: %w", line, err)
		}
		if len(t.lines) > maxStandRows {
			return nil, fmt.Errorf("it has more than %d rows: that is a log and no table; average it over steps of throttle", maxStandRows)
		}
	}
	if len(t.lines) == 0 {
		return nil, errors.New("it has no rows below its header")
	}
	t.normalise()
	return t.rows(), nil
}

// standSeparator is the separator of a table's first line that is no comment.
func standSeparator(data []byte) rune {
	for line := range bytes.Lines(data) {
		if line = bytes.TrimSpace(line); len(line) > 0 && line[0] != '#' {
			return rune(separatorOf(line))
		}
	}
	return ','
}

// findColumns finds every quantity's column by its heading.
func (t *standTable) findColumns(header []string) error {
	n := len(t.quantities)
	t.column, t.scale, t.bare, t.values = make([]int, n), make([]float64, n), make([]bool, n), make([][]float64, n)
	for q, quantity := range t.quantities {
		t.column[q] = -1
		for i, text := range header {
			words, unit := standHeading(text)
			if !slices.ContainsFunc(words, func(w string) bool { return slices.Contains(quantity.words, w) }) {
				continue
			}
			if t.column[q] >= 0 {
				return fmt.Errorf("two columns may be the %s: %.60q and %.60q", quantity.name, header[t.column[q]], text)
			}
			scale, known := quantity.units[unit]
			switch {
			case !known && unit == "":
				return fmt.Errorf("column %.60q does not say its unit: write it as %s_g or %s_n", text, quantity.name, quantity.name)
			case !known:
				return fmt.Errorf("column %.60q: %.60q is no unit of %s that is known", text, unit, quantity.name)
			}
			t.column[q], t.scale[q], t.bare[q] = i, scale, unit == ""
		}
		if t.column[q] < 0 && q < n-1 {
			return fmt.Errorf("no column of %s among %s", quantity.name, quoted(header))
		}
	}
	return nil
}

// standHeading takes a heading apart as one of a log, and "thrust_g" or "Throttle %" besides.
func standHeading(text string) (words []string, unit string) {
	h := splitHeading(text)
	if h.unit != "" {
		return h.words, h.unit
	}
	if strings.HasSuffix(strings.TrimSpace(text), "%") {
		return h.words, "%"
	}
	if n := len(h.words); n > 1 {
		for _, q := range standQuantities() {
			if _, is := q.units[h.words[n-1]]; is {
				return h.words[:n-1], h.words[n-1]
			}
		}
	}
	return h.words, ""
}

func (t *standTable) addRow(record []string, line int, comma bool) error {
	for q, i := range t.column {
		if i < 0 {
			continue
		}
		if i >= len(record) {
			return fmt.Errorf("the row has no %s", t.quantities[q].name)
		}
		text := []byte(strings.TrimSpace(record[i]))
		v, length := number(text, comma)
		if length == 0 || length != len(text) {
			return fmt.Errorf("%s %.60q is not a number", t.quantities[q].name, record[i])
		}
		t.values[q] = append(t.values[q], v*t.scale[q])
	}
	t.lines = append(t.lines, line)
	return nil
}

// normalise makes a throttle without a unit a fraction, and current and thrust positive.
func (t *standTable) normalise() {
	if throttle := t.values[0]; t.bare[0] && slices.Max(throttle) > 1.5 {
		for i := range throttle {
			throttle[i] /= 100
		}
	}
	for _, q := range []int{2, 3} {
		values := t.values[q]
		flip := -slices.Min(values) > slices.Max(values)
		for i, v := range values {
			if flip {
				v = -v
			}
			// What is left below nothing is the offset of a stand at rest.
			values[i] = max(v, 0)
		}
	}
}

// rows are the table's rows.
func (t *standTable) rows() []StandRow {
	rows := make([]StandRow, len(t.lines))
	for n, line := range t.lines {
		rows[n] = StandRow{Line: line, Throttle: t.values[0][n], VoltageV: t.values[1][n], CurrentA: t.values[2][n], ThrustG: t.values[3][n]}
		if t.column[4] >= 0 {
			rows[n].RPM = t.values[4][n]
		}
	}
	return rows
}
