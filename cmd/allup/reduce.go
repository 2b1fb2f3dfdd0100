package main

import (
	"errors"
	"fmt"
	"io"
	"io/fs"
	"os"
	"path/filepath"
	"strings"

	"github.com/spf13/cobra"

	"allup/catalog"
	"allup/model"
	"allup/model/bench"
	"allup/planner"
)

func newReduce(a *app) *cobra.Command {
	var records string
	cmd := &cobra.Command{
		Use:   "reduce BENCH",
		Short: "Bench logs of packs into tested metrics, circuits and catalogue records",
		Long: `reduce reads the logs that a bench file names: a discharge of each pack down to an end
voltage, a burst test, or both. It gives the tested metrics, checks how the tests were run,
and fits a circuit to the logs. What it repairs in a log it says, with the row; a log that is
not what it should be is refused, and the other packs go on.

With --records it writes catalogue records that rank and the other commands read: to one
file, or one a pack where the name is a folder or ends in a slash. It exits with 3 where a
pack was refused.

Bench tests burn packs. Stop on temperature (60 C at the surface) and on the voltage of each
cell, not of the pack alone; stay with the test, on ground that does not burn.`,
		Args:              arguments(1, 1, "one bench file"),
		ValidArgsFunction: completeBuild,
		RunE: func(_ *cobra.Command, args []string) error {
			b, err := a.bench(args[0])
			if err != nil {
				return err
			}
			cat, err := a.catalogue()
			if err != nil {
				return err
			}
			m := a.meter("logs", a.quiet)
			packs, err := planner.ReduceBench(b, watchedFS{catalog.BenchFS(args[0]), filepath.Dir(args[0]), a}, cat, m.tick)
			m.clear()
			if err != nil {
				return err
			}
			var written []string
			if records != "" {
				if a.outFile != "" { // before anything is written
					if err := a.keepInputs("--out", a.outFile); err != nil {
						return err
					}
				}
				if written, err = a.writeRecords(records, packs); err != nil {
					return err
				}
			}
			if err := a.answer(reduceScreen(b, packs, written), reduceJSON(packs, written)); err != nil {
				return err
			}
			return refusals(packs)
		},
	}
	cmd.Flags().StringVar(&records, "records", "", "write catalogue records to `PATH`: a file, or a folder with one file a pack")
	return cmd
}

// bench reads a bench file, or standard input for "-".
func (a *app) bench(name string) (*catalog.Bench, error) {
	in, shown := a.in, "standard input"
	if name != "-" {
		f, err := os.Open(name)
		if err != nil {
			return nil, err
		}
		defer f.Close()
		in, shown = io.Reader(f), name
		a.inputs = append(a.inputs, name)
	}
	b, warnings, err := catalog.ReadBench(shown, in)
	if err != nil {
		return nil, err
	}
	a.warn(warnings)
	return b, nil
}

func (a *app) writeRecords(name string, packs []planner.ReducedPack) ([]string, error) {
	var records []catalog.Record
	for i := range packs {
		if p := &packs[i]; p.Record != nil {
			records = append(records, catalog.Record{ID: p.Bench.ID, Text: catalog.FormatPack(p.Record, p.Comments())})
		}
	}
	if len(records) == 0 {
		return nil, nil
	}
	files := []string{name}
	for _, r := range records {
		files = append(files, filepath.Join(name, r.ID+".toml")) // where the name is a folder
	}
	for _, f := range files {
		if err := a.keepInputs("--records", f); err != nil {
			return nil, err
		}
	}
	return catalog.WriteRecords(name, records, a.force)
}

// watchedFS is a bench's folder that notes each log that is opened as an input.
type watchedFS struct {
	fs.FS
	dir string
	app *app
}

func (w watchedFS) Open(name string) (fs.File, error) {
	w.app.inputs = append(w.app.inputs, filepath.Join(w.dir, filepath.FromSlash(name)))
	return w.FS.Open(name)
}

// refusals is how the command ends: a file that could not be read outweighs a refused log.
func refusals(packs []planner.ReducedPack) error {
	var unread []string
	refused := false
	for _, p := range packs {
		refused = refused || p.Record == nil
		for _, err := range p.Unread {
			unread = append(unread, err.Error())
		}
	}
	if len(unread) > 0 {
		return errors.New(strings.Join(unread, "; "))
	}
	if refused {
		return errNo
	}
	return nil
}

const benchCaution = "Bench tests burn packs: stop on temperature (60 C at the surface) and on each cell's voltage, not on the pack's alone; stay with the test."

func reduceScreen(b *catalog.Bench, packs []planner.ReducedPack, written []string) screen {
	s := screen{verdict: reduceVerdict(packs, written)}
	metrics := &table{columns: []column{
		{head: "pack", key: "pack", left: true},
		{head: "mAh", key: "capacity_mah"},
		{head: "of label %", key: "delivered_over_rated_percent", keep: 2},
		{head: "Wh", key: "energy_wh"},
		{head: "mid V", key: "mid_voltage_v"},
		{head: "burst A", key: "burst_current_a", keep: 3},
		{head: "W", key: "burst_power_w"},
		{head: "C", key: "tested_c"},
		{head: "Wh/g", key: "wh_per_g"},
		{head: "W/g", key: "w_per_g"},
	}}
	circuits := &table{title: "Circuits, with one sigma of the fit", columns: []column{
		{head: "pack", key: "pack", left: true},
		{head: "Q mAh", key: "capacity_mah"},
		{head: "R0 mohm", key: "r0_mohm"},
		{head: "+-", key: "r0_sigma_mohm", keep: 2},
		{head: "R1 mohm", key: "r1_mohm"},
		{head: "+-", key: "r1_sigma_mohm", keep: 2},
		{head: "tau s", key: "tau_s"},
		{head: "shift mV", key: "shift_mv"},
		{head: "fit mV", key: "fit_rms_mv"},
		{head: "from", key: "from", left: true},
	}}
	tests := &table{title: "How the tests were run", columns: []column{
		{head: "pack", key: "pack", left: true},
		{head: "discharge", key: "discharge", left: true},
		{head: "held +- %", key: "held_percent"},
		{head: "conditioning", key: "conditioning", left: true},
		{head: "of label %", key: "conditioning_percent"},
		{head: "ramp A/s", key: "ramp_a_per_s"},
		{head: "row s", key: "end_interval_s", keep: 1},
	}}
	failed := &table{columns: []column{
		{head: "refused", key: "pack", left: true},
		{head: "why", key: "reasons", left: true, wrap: true},
	}}
	for i := range packs {
		p := &packs[i]
		if p.Record == nil {
			failed.add(word(p.Bench.ID), word(placedReasons(p.Failed)))
			continue
		}
		m, r := p.Metrics, planner.RatiosOf(p.Record, p.Metrics)
		metrics.add(word(p.Bench.ID), known(m.Capacity.MilliAmpHours(), 0), known(100*r.DeliveredOverRated, 0), known(m.Energy.WattHours(), 2), known(float64(m.MidVoltage), 2),
			known(float64(m.BurstCurrent), 1), known(float64(m.BurstPower), 0), known(r.TestedC, 0), known(r.WhPerGram, 3), known(r.WPerGram, 2))
		if f := p.Fit; f != nil {
			c := f.Circuit
			from := "logs"
			if f.Fallback != "" {
				from = "metrics"
			}
			circuits.add(word(p.Bench.ID), number(c.Capacity.MilliAmpHours(), 0), number(c.R0.MilliOhms(), 1), known(f.Sigma.R0.MilliOhms(), 1),
				number(c.R1.MilliOhms(), 1), known(f.Sigma.R1.MilliOhms(), 1), number(float64(c.Tau), 0), number(1e3*float64(c.Shift), 0), known(1e3*float64(f.RMS), 1), word(from))
		}
		tests.add(testCells(p)...)
	}
	s.tables = []*table{metrics, circuits, tests, failed}
	for i := range packs {
		s.notes = append(s.notes, remarkNotes(packs[i].Remarks)...)
	}
	if len(metrics.rows) > 0 {
		s.notes = append(s.notes, protocolNote(b),
			"\"row s\" is the time between the rows around the end voltage; \"fit mV\" is the circuit's distance from the logs, RMS per cell, down to 10 % charge left.")
	}
	s.notes = append(s.notes, benchCaution)
	return s
}

// testCells is a row of how a pack's tests were run.
func testCells(p *planner.ReducedPack) []cell {
	cells := []cell{word(p.Bench.ID), word("-"), word("-"), word("-"), word("-"), word("-"), word("-")}
	if d := p.Discharge; d != nil {
		load := fmt.Sprintf("%.1f W", float64(d.Power))
		switch d.Held {
		case bench.HeldCurrent:
			load = fmt.Sprintf("%.2f A", float64(d.Current))
		case bench.HeldNothing:
			load = "not constant"
		}
		cells[1], cells[2], cells[6] = word(load), number(100*d.HeldWithin, 1), number(float64(d.End.Interval), 1)
	}
	if b := p.Burst; b != nil {
		cells[3] = word("none")
		if b.ConditioningCurrent > 0 {
			cells[3] = word(fmt.Sprintf("%.2f A, %.1f s", float64(b.ConditioningCurrent), float64(b.ConditioningTime)))
		}
		cells[4], cells[5] = number(100*b.ConditioningShare, 1), number(b.Ramp, 2)
		cells[6] = number(float64(b.End.Interval), 1)
	}
	return cells
}

// known is a figure where zero means that it was not measured.
func known(v float64, digits int) cell {
	if v == 0 {
		return cell{text: "-"}
	}
	return number(v, digits)
}

func protocolNote(b *catalog.Bench) string {
	p := b.Protocol
	from := "the usual one"
	if p.Stated {
		from = "from the bench file"
	}
	load := fmt.Sprintf("discharge at %s C x 3.7 V per cell", short(p.DischargeC))
	if c, current := p.DischargeCurrentC(); current {
		load = fmt.Sprintf("discharge at a constant %s C", short(c))
	}
	return fmt.Sprintf("Protocol, %s: %s down to %s V per cell; burst after %s C for %s s, then %s C more each second down to %s V per cell.",
		from, load, short(float64(p.DischargeEnd)), short(p.ConditioningC), short(float64(p.ConditioningTime)), short(p.RampC), short(float64(p.BurstEnd)))
}

// placedReasons are reasons with the place in the log that each is about.
func placedReasons(remarks []planner.Remark) string {
	var texts []string
	for _, r := range remarks {
		texts = append(texts, r.Subject+": "+r.Text)
	}
	return strings.Join(texts, "; ")
}

func reduceVerdict(packs []planner.ReducedPack, written []string) []string {
	var good, bad, doubtful []string
	var best, worst *planner.ReducedPack
	power := func(p *planner.ReducedPack) float64 { return planner.RatiosOf(p.Record, p.Metrics).WPerGram }
	for i := range packs {
		p := &packs[i]
		if p.Record == nil {
			bad = append(bad, p.Bench.ID)
			continue
		}
		good = append(good, p.Bench.ID)
		if hasCode(p.Remarks, planner.Doubtful) || hasCode(p.Remarks, planner.NoCircuit) {
			doubtful = append(doubtful, p.Bench.ID)
		}
		if power(p) > 0 && (best == nil || power(p) > power(best)) {
			best = p
		}
		if power(p) > 0 && (worst == nil || power(p) < power(worst)) {
			worst = p
		}
	}
	first := fmt.Sprintf("%d of %s reduced", len(good), count(len(packs), "pack", "packs"))
	if len(bad) > 0 {
		first += fmt.Sprintf("; %d REFUSED: %s", len(bad), strings.Join(bad, ", "))
	}
	if len(doubtful) > 0 {
		first += fmt.Sprintf("; %d DOUBTFUL: %s", len(doubtful), strings.Join(doubtful, ", "))
	}
	lines := []string{first + "."}
	if best != nil && best != worst {
		lines = append(lines, fmt.Sprintf("Power density from %.1f W/g (%s) to %.1f W/g (%s).", power(worst), worst.Bench.ID, power(best), best.Bench.ID))
	}
	if len(written) == 1 {
		lines = append(lines, fmt.Sprintf("Records of %s written to %s.", count(len(good), "pack", "packs"), written[0]))
	} else if len(written) > 1 {
		lines = append(lines, "Records written to "+strings.Join(written, ", ")+".")
	}
	return lines
}

type jsonReduced struct {
	ID                 string       `json:"id"`
	CapacityMAh        *float64     `json:"capacity_mah"`
	EnergyWh           *float64     `json:"energy_wh"`
	MidVoltageV        *float64     `json:"mid_voltage_v"`
	BurstA             *float64     `json:"burst_current_a"`
	BurstW             *float64     `json:"burst_power_w"`
	TestedC            *float64     `json:"tested_c"`
	WhPerG             *float64     `json:"wh_per_g"`
	WPerG              *float64     `json:"w_per_g"`
	DeliveredOverRated *float64     `json:"delivered_over_rated"`
	Circuit            *jsonCircuit `json:"circuit"`
	CircuitSigma       *jsonCircuit `json:"circuit_sigma"`
	CurveStretch       *float64     `json:"curve_stretch"`
	FitRMSMV           *float64     `json:"fit_rms_mv"`
	Fallback           *string      `json:"fallback"`
	Protocol           *jsonTest    `json:"protocol"`
	Refused            []jsonRemark `json:"refused"`
	Warnings           []jsonRemark `json:"warnings"`
}

// jsonTest is how the tests were run, as the logs have it.
type jsonTest struct {
	DischargeHeld     *string  `json:"discharge_held"`
	DischargeW        *float64 `json:"discharge_power_w"`
	DischargeA        *float64 `json:"discharge_current_a"`
	HeldWithin        *float64 `json:"held_within"`
	ConditioningA     *float64 `json:"conditioning_current_a"`
	ConditioningS     *float64 `json:"conditioning_s"`
	ConditioningShare *float64 `json:"conditioning_share"`
	RampAPerS         *float64 `json:"ramp_a_per_s"`
}

// measured is a figure where zero means that it was not measured.
func measured(v float64) *float64 {
	if v == 0 {
		return nil
	}
	return &v
}

func circuitJSON(c model.Circuit) *jsonCircuit {
	return &jsonCircuit{c.Capacity.MilliAmpHours(), c.R0.MilliOhms(), c.R1.MilliOhms(), float64(c.Tau), 1e3 * float64(c.Shift)}
}

func reduceJSON(packs []planner.ReducedPack, written []string) any {
	out := []jsonReduced{}
	for i := range packs {
		p := &packs[i]
		j := jsonReduced{ID: p.Bench.ID, Refused: remarksJSON(p.Failed), Warnings: remarksJSON(p.Remarks)}
		if p.Record != nil {
			m, r := p.Metrics, planner.RatiosOf(p.Record, p.Metrics)
			j.CapacityMAh, j.EnergyWh, j.MidVoltageV = measured(m.Capacity.MilliAmpHours()), measured(m.Energy.WattHours()), measured(float64(m.MidVoltage))
			j.BurstA, j.BurstW, j.TestedC = measured(float64(m.BurstCurrent)), measured(float64(m.BurstPower)), measured(r.TestedC)
			j.WhPerG, j.WPerG, j.DeliveredOverRated = measured(r.WhPerGram), measured(r.WPerGram), measured(r.DeliveredOverRated)
			j.Protocol = testJSON(p)
		}
		if f := p.Fit; f != nil && p.Record != nil {
			j.Circuit, j.FitRMSMV = circuitJSON(f.Circuit), measured(1e3*float64(f.RMS))
			if f.Fallback != "" {
				j.Fallback = &f.Fallback
			} else {
				j.CircuitSigma = &jsonCircuit{f.Sigma.Capacity.MilliAmpHours(), f.Sigma.R0.MilliOhms(), f.Sigma.R1.MilliOhms(), float64(f.Sigma.Tau), 1e3 * float64(f.Sigma.Shift)}
				j.CurveStretch = &f.Stretch
			}
		}
		out = append(out, j)
	}
	if written == nil {
		written = []string{}
	}
	return struct {
		Packs   []jsonReduced `json:"packs"`
		Written []string      `json:"written"`
	}{out, written}
}

func testJSON(p *planner.ReducedPack) *jsonTest {
	t := &jsonTest{}
	if d := p.Discharge; d != nil {
		held := string(d.Held)
		t.DischargeHeld, t.HeldWithin = &held, &d.HeldWithin
		t.DischargeW, t.DischargeA = measured(float64(d.Power)), measured(float64(d.Current))
	}
	if b := p.Burst; b != nil {
		t.ConditioningA, t.ConditioningS = measured(float64(b.ConditioningCurrent)), measured(float64(b.ConditioningTime))
		t.ConditioningShare, t.RampAPerS = &b.ConditioningShare, measured(b.Ramp)
	}
	return t
}
