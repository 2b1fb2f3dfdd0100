package catalog

import (
	"errors"
	"fmt"
	"io"
	"maps"
	"slices"
	"strconv"

	"allup/catalog/csvlog"
	"allup/model"
	"allup/model/words"
)

// Bench is a bench file, checked: packs with their logs and the protocol that they
// were tested by.
type Bench struct {
	File     string
	Protocol BenchProtocol
	Packs    []BenchPack // sorted by id
}

// BenchProtocol is a protocol in multiples of the rated capacity (C), as benches state it.
type BenchProtocol struct {
	DischargeC         float64 // power of the discharge, as C at 3.7 V per cell
	DischargeEnd       model.Voltage
	BurstEnd           model.Voltage
	ConditioningC      float64
	ConditioningTime   model.Time
	RampC              float64 // per second
	Stated             StatedTests
	dischargeCurrentC  float64
	dischargeIsCurrent bool
}

// StatedTests says which loads of a protocol the bench file states; the others are the usual ones.
type StatedTests struct{ Any, Discharge, Burst bool }

// For is the protocol for a pack.
func (b BenchProtocol) For(rated model.Charge, cells int) model.Protocol {
	c := model.Current(rated.AmpHours())
	p := model.UsualProtocol(rated, cells)
	p.DischargePower = model.Power(b.DischargeC * float64(c) * 3.7 * float64(cells))
	if b.dischargeIsCurrent {
		p.DischargePower, p.DischargeCurrent = 0, model.Current(b.dischargeCurrentC)*c
	}
	p.DischargeEndPerCell, p.BurstEndPerCell = b.DischargeEnd, b.BurstEnd
	p.ConditioningCurrent, p.ConditioningTime = model.Current(b.ConditioningC)*c, b.ConditioningTime
	p.Ramp = b.RampC * float64(c)
	return p
}

// DischargeCurrentC is the constant current of the discharge in C; ok is false where it
// is a constant power.
func (b BenchProtocol) DischargeCurrentC() (c float64, ok bool) {
	return b.dischargeCurrentC, b.dischargeIsCurrent
}

// BenchPack is a pack on the bench: what its record will say, and its logs.
type BenchPack struct {
	Pack               // Tested and Circuit are not set
	Discharge []string // one log, or several at different loads, of which the one nearest to the protocol gives the metrics; names as in the file
	Burst     string   // "" where there is none
	Columns   csvlog.Columns
	Ambient   model.Temperature // 0: not stated
}

// ReadBench reads a bench file. file is the name that errors carry; logs are looked
// for beside it. Faults of the file come together as [InputErrors]; an error of
// another type is the reader's. Logs are not opened.
func ReadBench(file string, r io.Reader) (*Bench, []Warning, error) {
	data, err := readAll(file, r, maxWhole)
	if _, tooLarge := errors.AsType[InputErrors](err); tooLarge {
		return nil, nil, err
	}
	if err != nil {
		return nil, nil, fmt.Errorf("reading bench file %s: %w", words.Printable(file), err)
	}
	d, root, err := parse(file, data)
	if err != nil {
		return nil, nil, err
	}
	b := &Bench{File: file, Protocol: BenchProtocol{
		DischargeC: 15, DischargeEnd: 3.1, BurstEnd: 3.3, ConditioningC: 15, ConditioningTime: 48, RampC: 2,
	}}
	common := benchDefaults{}
	if t := root.child("protocol"); t != nil {
		b.Protocol.Stated = StatedTests{
			Any: true, Discharge: t.has("discharge_c") || t.has("discharge_current_c"), Burst: t.has("conditioning_c") || t.has("ramp_c_per_s"),
		}
		readBenchProtocol(t, &b.Protocol)
		t.done()
	}
	common.columns = readColumns(root)
	if c, ok := root.number("ambient_c", ambient()); ok {
		common.ambient = model.Celsius(c)
	}
	common.date = root.date("date")
	if packs := root.child("pack"); packs != nil {
		for _, id := range slices.Sorted(maps.Keys(packs.values)) {
			t := packs.child(id)
			if t == nil {
				continue
			}
			if faultOfDots(packs, KindPack, id, t) {
				continue
			}
			if fault, bad := checkID(id); bad {
				packs.fault(id, fault)
			}
			pack := readBenchPack(t, id, file, common)
			t.done()
			if len(d.faults) == 0 { // otherwise the bench is not used
				b.Packs = append(b.Packs, pack)
			}
		}
		packs.done()
	}
	if !root.has("pack") {
		root.lack("pack", "a [pack.ID] table with chemistry, cells, rated_mah, mass_g and the names of its logs, discharge and burst")
	}
	root.done()
	warnings, err := d.result()
	if err != nil {
		return nil, warnings, err
	}
	return b, warnings, nil
}

// benchDefaults is what the top of a bench file says for all packs.
type benchDefaults struct {
	columns csvlog.Columns
	ambient model.Temperature
	date    string
}

func ambient() want { return span(-30, 60, "degrees Celsius") }

func readBenchProtocol(t *table, p *BenchProtocol) {
	override(&p.DischargeC, t, "discharge_c", span(0.01, 200, "C").usually(0.1, 40))
	if override(&p.dischargeCurrentC, t, "discharge_current_c", span(0.01, 200, "C").usually(0.1, 40)) {
		p.dischargeIsCurrent = true
		if t.has("discharge_c") {
			t.fault("discharge_current_c", InputError{Msg: "contradicts discharge_c beside it", Hint: "keep discharge_c for a constant power of that many C at 3.7 V per cell, discharge_current_c for a constant current"})
		}
	}
	override(&p.DischargeEnd, t, "discharge_end_v_per_cell", endVoltage())
	override(&p.BurstEnd, t, "burst_end_v_per_cell", burstVoltage())
	override(&p.ConditioningC, t, "conditioning_c", span(0, 200, "C").from(0.01))
	override(&p.ConditioningTime, t, "conditioning_s", span(0, 3600, "s").from(0.01))
	override(&p.RampC, t, "ramp_c_per_s", span(0.01, 200, "C per second"))
}

func readColumns(t *table) csvlog.Columns {
	var c csvlog.Columns
	columns := t.child("columns")
	if columns == nil {
		return c
	}
	taken := map[int]string{}
	for _, q := range []struct {
		key string
		to  *csvlog.Column
	}{{"time", &c.Time}, {"voltage", &c.Voltage}, {"current", &c.Current}} {
		*q.to = columns.logColumn(q.key)
		n := q.to.Number
		if other, twice := taken[n]; n > 0 && twice {
			columns.fault(q.key, InputError{Value: strconv.Itoa(n), Msg: "is the number of the column of " + other + " already"})
		}
		taken[n] = q.key
	}
	columns.done()
	return c
}

// logColumn reads a column by its heading, a text, or by its number.
func (t *table) logColumn(key string) csvlog.Column {
	switch value := t.values[key].(type) {
	case nil, string:
		return csvlog.Column{Name: t.text(key)}
	case int64, float64:
		return csvlog.Column{Number: t.count(key, span(1, csvlog.MostColumns, ""))}
	default:
		t.lookUp(key)
		t.fault(key, InputError{Value: show(value), Msg: "is not a column", Allowed: "its heading in quotes or its number from 1"})
		return csvlog.Column{}
	}
}

func readBenchPack(t *table, id, file string, common benchDefaults) BenchPack {
	p := BenchPack{Pack: Pack{
		Common:     readCommon(t, KindPack, id),
		Chemistry:  readChemistry(t),
		Cells:      t.count("cells", cellsOf().must()),
		Rated:      scaled(t, "rated_mah", model.MilliAmpH, ratedCharge().must()),
		Size:       readBox(t, "size_mm"),
		Plug:       readPlug(t),
		MaxCurrent: optional(t, "max_current_a", model.Current(1), packCurrent()),
		LabelC:     scaled(t, "label_c", 1.0, labelC()),
		TestCycles: readCycles(t),
	}}
	p.Source = Source{Layer: "bench", File: file}
	p.Discharge = t.texts("discharge")
	p.Burst = t.text("burst")
	if p.Columns = readColumns(t); p.Columns == (csvlog.Columns{}) {
		p.Columns = common.columns
	}
	p.Ambient = common.ambient
	if c, ok := t.number("ambient_c", ambient()); ok {
		p.Ambient = model.Celsius(c)
	}
	if p.Date == "" {
		p.Date = common.date
	}
	checkPackMass(t, &p.Pack)
	if !t.has("discharge") && !t.has("burst") {
		t.fault("", InputError{Msg: "has neither a discharge nor a burst log", Allowed: `discharge = "FILE", burst = "FILE", or both`})
	}
	return p
}
