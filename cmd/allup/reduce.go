package main

import (
	"errors"
	"fmt"
	"io/fs"
	"path/filepath"
	"slices"
	"strings"

	"github.com/spf13/cobra"

	"allup/catalog"
	"allup/cmd/allup/internal/draw"
	"allup/cmd/allup/internal/sheet"
	"allup/model"
	"allup/model/bench"
	"allup/model/words"
	"allup/planner"
	"allup/planner/tested"
)

func newReduce(a *app) *cobra.Command {
	var records, traces string
	var drawings drawingFlags
	cmd := &cobra.Command{
		Use:   "reduce BENCH",
		Short: "Bench logs of packs into tested metrics, circuits and records",
		Long: `reduce reads the logs that a bench file names: a discharge of each pack down to
an end voltage, a burst test, or both. It gives the tested metrics, checks how
the tests were run, and fits a circuit to the logs. Each repair of a log is reported with
its row; a log that is not what the bench file says is refused, and the other packs are
still reduced. Where figures may be wrong by more than a few percent, the
first line and the pack's row say DOUBTFUL and why.

With --records it writes catalogue records that rank and the other commands
read: to one file, or one per pack where the name is a folder or ends in a slash.
It exits with 3 where a pack was refused.

Bench tests burn packs. Stop on temperature (60 C at the surface) and on the
voltage of each cell, not of the pack alone; stay with the test, on ground that
does not burn.`,
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
			packs, err := tested.ReduceBench(b, a.watch(catalog.BenchFS(args[0])), cat, m.tick)
			m.clear()
			if err != nil {
				return err
			}
			// All of it is ready before any of it is written.
			pictures, err := a.draw(drawings, (&benchReport{benchName(args[0]), b, packs}).drawings())
			if err != nil {
				return err
			}
			logs, err := a.traces(traces, packs)
			if err != nil {
				return err
			}
			found, err := a.records(records, packs)
			if err != nil {
				return err
			}
			if err := a.beside(found, pictures, logs); err != nil {
				return err
			}
			written := found.names()
			if err := a.answer(a.pictured(reduceScreen(b, packs, written), func() *draw.Drawing { return draw.Discharges("bench", highAndLow(packs)) }), reduceJSON(packs, written)); err != nil {
				return err
			}
			return refusals(packs)
		},
	}
	cmd.Flags().StringVar(&records, "records", "", "write records to `PATH`: a file, or a folder for one file per pack")
	cmd.Flags().StringVar(&traces, "traces", "", "write the logs as CSV into a `FOLDER`: cleaned, time from load on, with units")
	drawings.register(cmd.Flags())
	return cmd
}

// grownOrNone is a positive figure whose digits grow until it is not nothing; none where it is not known.
func grownOrNone(v float64) sheet.Cell {
	if v <= 0 {
		return sheet.Unknown()
	}
	return sheet.Grown(v, 1)
}

// bench reads a bench file, or standard input for "-".
func (a *app) bench(name string) (*catalog.Bench, error) {
	in, shown, err := a.open("bench", name)
	if err != nil {
		return nil, err
	}
	defer in.Close()
	b, warnings, err := catalog.ReadBench(shown, in)
	if err != nil {
		return nil, err
	}
	a.warn(warnings)
	return b, nil
}

// records are the records of packs that have one, for a file or a folder, where they were asked for.
func (a *app) records(name string, packs []tested.ReducedPack) (artefacts, error) {
	var records []catalog.Record
	for i := range packs {
		if p := &packs[i]; p.Record != nil {
			records = append(records, catalog.Record{ID: p.Bench.ID, Text: catalog.FormatPack(p.Record, p.Comments())})
		}
	}
	if name == "" || len(records) == 0 {
		return artefacts{}, nil
	}
	folder, files := catalog.RecordFiles(name, records)
	if err := a.checkTargets(files); err != nil {
		return artefacts{}, err
	}
	return artefacts{folder, files}, catalog.CheckRecords(files, a.force)
}

// checkTargets refuses, before anything is written, files that cannot take records and the answer.
func (a *app) checkTargets(records []catalog.NewFile) error {
	if a.outFile != "" {
		if err := a.keep("--out", a.outFile); err != nil {
			return err
		}
		// The folder of the records may be that of the answer, and is made with them.
		made := len(records) > 0 && sameTarget(filepath.Dir(records[0].Name), filepath.Dir(a.outFile))
		if err := catalog.CheckWrite(a.outFile, a.force); err != nil && !(made && errors.Is(err, fs.ErrNotExist)) {
			return err
		}
	}
	for _, f := range records {
		if err := a.keep("--records", f.Name); err != nil {
			return err
		}
		if a.outFile != "" && sameTarget(f.Name, a.outFile) {
			return usagef("--out and --records are both %s; give two names", f.Name)
		}
	}
	return nil
}

// refusals is how the command ends: a file that could not be read outweighs a refused log.
func refusals(packs []tested.ReducedPack) error {
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

func reduceScreen(b *catalog.Bench, packs []tested.ReducedPack, written []string) sheet.Screen {
	s := sheet.Screen{Verdict: reduceVerdict(packs, written)}
	metrics := &sheet.Table{Columns: []sheet.Column{
		{Head: "pack", Key: "pack", Left: true},
		{Head: "mAh", Key: "capacity_mah"},
		{Head: "% of label", Key: "delivered_over_rated_percent", Keep: 2},
		{Head: "Wh", Key: "energy_wh"},
		{Head: "mid V", Key: "mid_voltage_v"},
		{Head: "burst A", Key: "burst_current_a", Keep: 3},
		{Head: "burst W", Key: "burst_power_w"},
		{Head: "tested C", Key: "tested_c"},
		{Head: "Wh/g", Key: "wh_per_g"},
		{Head: "W/g", Key: "w_per_g"},
		{Head: "", Key: "doubtful", Left: true},
	}}
	circuits := &sheet.Table{Title: "Circuits, with one sigma of the fit", Columns: []sheet.Column{
		{Head: "pack", Key: "pack", Left: true},
		{Head: "Q mAh", Key: "capacity_mah"},
		{Head: "R0 mohm", Key: "r0_mohm"},
		{Head: "R0 +-", Key: "r0_sigma_mohm", Keep: 2},
		{Head: "R1 mohm", Key: "r1_mohm"},
		{Head: "R1 +-", Key: "r1_sigma_mohm", Keep: 2},
		{Head: "tau s", Key: "tau_s"},
		{Head: "shift mV", Key: "shift_mv", Keep: 3},
		{Head: "rise", Key: "charge_dependence"},
		{Head: "rise +-", Key: "charge_dependence_sigma", Keep: 2},
		{Head: "test deg C", Key: "test_c_max", Keep: 4},
		{Head: "fit mV", Key: "fit_rms_mv"},
		{Head: "circuit from", Key: "from", Left: true},
	}}
	tests := &sheet.Table{Title: "How the tests were run", Columns: []sheet.Column{
		{Head: "pack", Key: "pack", Left: true},
		{Head: "discharge", Key: "discharge", Left: true},
		{Head: "held +- %", Key: "held_percent"},
		{Head: "conditioning", Key: "conditioning", Left: true},
		{Head: "taken % of label", Key: "conditioning_percent"},
		{Head: "ramp A/s", Key: "ramp_a_per_s"},
		{Head: "rows apart s", Key: "end_interval_s", Keep: 1},
	}}
	failed := &sheet.Table{Columns: []sheet.Column{
		{Head: "refused", Key: "pack", Left: true},
		{Head: "why", Key: "reasons", Left: true, Wrap: true},
	}}
	for i := range packs {
		p := &packs[i]
		if p.Record == nil {
			failed.Add(sheet.Word(p.Bench.ID), sheet.Word(placedReasons(p.Failed)))
			continue
		}
		m, r := p.Metrics, planner.RatiosOf(p.Record, p.Metrics)
		metrics.Add(sheet.Word(p.Bench.ID), known(m.Capacity.MilliAmpHours(), 0), known(100*r.DeliveredOverRated, 0), known(m.Energy.WattHours(), 2), known(float64(m.MidVoltage), 2),
			known(float64(m.BurstCurrent), 1), known(float64(m.BurstPower), 0), known(r.TestedC, 0), known(r.WhPerGram, 3), known(r.WPerGram, 2), sheet.Word(doubtWords(p)))
		if f := p.Fit; f != nil {
			c := f.Circuit
			from := "logs"
			if f.Fallback != "" {
				from = "metrics"
			}
			circuits.Add(sheet.Word(p.Bench.ID), sheet.Number(c.Capacity.MilliAmpHours(), 0), sheet.Number(c.R0.MilliOhms(), 1), grownOrNone(f.Sigma.R0.MilliOhms()),
				sheet.Number(c.R1.MilliOhms(), 1), grownOrNone(f.Sigma.R1.MilliOhms()), sheet.Number(float64(c.Tau), 0), sheet.Number(c.Shift.MilliVolts(), 0),
				sheet.Number(c.K, 2), known(f.Sigma.K, 2), sheet.Number(p.TestTemperature.Celsius(), 0), known(f.RMS.MilliVolts(), 1), sheet.Word(from))
		}
		tests.Add(testCells(p)...)
	}
	s.Tables = []*sheet.Table{metrics, circuits, tests, failed}
	s.Sheet = reduceSheet(metrics, packs)
	for i := range packs {
		s.Notes = append(s.Notes, remarkNotes(packs[i].Remarks)...)
	}
	if len(metrics.Rows) > 0 {
		s.Notes = append(s.Notes, protocolNote(b),
			"Q is the charge of a full pack, R0 its instant and R1 its slow resistance, tau the time of the slow one, \"shift\" how far its voltage at rest is above the usual curve; \"rows apart\" is the time between the rows around the end voltage; \"fit mV\" is the circuit's distance from the logs, RMS per cell, down to 10 % charge left; \"rise\" is how much resistance rises as the pack empties, \"test deg C\" how warm the tests made it.",
			fmt.Sprintf("+- of R0 and R1 is what the logs of one test leave open of their parts. What a circuit gets wrong of measured cells is more: one sigma of %.0f %% of R0 + R1 and %.1f %% of Q, which the records carry and bands count.",
				100*model.ModelSigmaR, 100*model.ModelSigmaQ))
	}
	s.Notes = append(s.Notes, benchCaution)
	return s
}

// reduceSheet is every pack of a bench in one table: the metrics of those that were reduced, and of all of them whether
// they are sound, doubtful or refused, and why.
func reduceSheet(metrics *sheet.Table, packs []tested.ReducedPack) *sheet.Table {
	t := &sheet.Table{Columns: append(slices.Clone(metrics.Columns[:len(metrics.Columns)-1]), sheet.Column{Key: "status"}, sheet.Column{Key: "why"}, sheet.Column{Key: "warnings"})}
	next := 0
	for i := range packs {
		p := &packs[i]
		row := make([]sheet.Cell, len(t.Columns))
		for n := range row {
			row[n] = sheet.Unknown()
		}
		status, why := "reduced", ""
		if p.Record == nil {
			row[0] = sheet.Word(p.Bench.ID)
			status, why = "refused", placedReasons(p.Failed)
		} else {
			copy(row, metrics.Rows[next][:len(metrics.Columns)-1])
			next++
			if len(p.Doubts) > 0 {
				status, why = "doubtful", strings.Join(doubtCodes(p), ", ")+": "+placedReasons(p.Doubts)
			}
		}
		n := len(row)
		row[n-3], row[n-2], row[n-1] = sheet.Word(status), sheet.Word(why), sheet.Word(strings.Join(remarkNotes(p.Remarks), "; "))
		t.Add(row...)
	}
	return t
}

// testCells is a row of how a pack's tests were run.
func testCells(p *tested.ReducedPack) []sheet.Cell {
	cells := []sheet.Cell{sheet.Word(p.Bench.ID), sheet.Unknown(), sheet.Unknown(), sheet.Unknown(), sheet.Unknown(), sheet.Unknown(), sheet.Unknown()}
	if d := p.Discharge; d != nil {
		load := fmt.Sprintf("%.1f W", float64(d.Power))
		switch d.Held {
		case bench.HeldCurrent:
			load = fmt.Sprintf("%.2f A", float64(d.Current))
		case bench.HeldNothing:
			load = "not constant"
		}
		cells[1], cells[2], cells[6] = sheet.Word(load), sheet.Number(100*d.HeldWithin, 1), sheet.Number(float64(d.End.Interval), 1)
	}
	if b := p.Burst; b != nil {
		cells[3] = sheet.Word("none")
		if b.ConditioningCurrent > 0 {
			cells[3] = sheet.Word(fmt.Sprintf("%.2f A, %.1f s", float64(b.ConditioningCurrent), float64(b.ConditioningTime)))
		}
		cells[4], cells[5] = sheet.Number(100*b.ConditioningShare, 1), sheet.Number(b.Ramp, 2)
		cells[6] = sheet.Number(float64(b.End.Interval), 1)
	}
	return cells
}

// known is a figure where zero means that it was not measured.
func known(v float64, digits int) sheet.Cell {
	if v == 0 {
		return sheet.Unknown()
	}
	return sheet.Number(v, digits)
}

func protocolNote(b *catalog.Bench) string {
	p := b.Protocol
	from := "the usual one"
	if p.Stated.Any {
		from = "from the bench file"
	}
	load := fmt.Sprintf("discharge at %s C x 3.7 V per cell", words.Trimmed(p.DischargeC, 3))
	if c, current := p.DischargeCurrentC(); current {
		load = fmt.Sprintf("discharge at a constant %s C", words.Trimmed(c, 3))
	}
	return fmt.Sprintf("Protocol, %s: %s down to %s V per cell; burst after %s C for %s s, then %s C more each second down to %s V per cell.",
		from, load, words.Trimmed(float64(p.DischargeEnd), 3), words.Trimmed(p.ConditioningC, 3), words.Trimmed(float64(p.ConditioningTime), 3), words.Trimmed(p.RampC, 3), words.Trimmed(float64(p.BurstEnd), 3))
}

// placedReasons are reasons with the place in the log that each is about.
func placedReasons(remarks []planner.Remark) string {
	var texts []string
	for _, r := range remarks {
		texts = append(texts, r.Subject+": "+r.Text)
	}
	return strings.Join(texts, "; ")
}

func reduceVerdict(packs []tested.ReducedPack, written []string) []string {
	var good, bad, doubtful []string
	for i := range packs {
		p := &packs[i]
		if p.Record == nil {
			bad = append(bad, p.Bench.ID)
			continue
		}
		good = append(good, p.Bench.ID)
		if len(p.Doubts) > 0 {
			doubtful = append(doubtful, fmt.Sprintf("%s (%s)", p.Bench.ID, strings.Join(doubtCodes(p), ", ")))
		}
	}
	first := fmt.Sprintf("%d of %s reduced", len(good), words.Count(len(packs), "pack", "packs"))
	if len(bad) > 0 {
		first += fmt.Sprintf("; %d REFUSED: %s", len(bad), strings.Join(bad, ", "))
	}
	if len(doubtful) > 0 {
		first += fmt.Sprintf("; %d DOUBTFUL: %s", len(doubtful), strings.Join(doubtful, ", "))
	}
	lines := []string{first + "."}
	if least, most, ok := tested.PowerSpread(packs); ok {
		lines = append(lines, fmt.Sprintf("Power density from %.1f W/g (%s) to %.1f W/g (%s).", least.WPerGram, least.ID, most.WPerGram, most.ID))
	}
	if len(written) == 1 {
		lines = append(lines, fmt.Sprintf("Records of %s written to %s.", words.Count(len(good), "pack", "packs"), written[0]))
	} else if len(written) > 1 {
		lines = append(lines, "Records written to "+strings.Join(written, ", ")+".")
	}
	return lines
}

// doubtWords are the end of a doubtful pack's row.
func doubtWords(p *tested.ReducedPack) string {
	if len(p.Doubts) == 0 {
		return ""
	}
	return "DOUBTFUL: " + strings.Join(doubtCodes(p), ", ")
}

// doubtCodes are what makes a pack's figures doubtful, each once.
func doubtCodes(p *tested.ReducedPack) []string {
	codes := []string{}
	for _, r := range p.Doubts {
		if !slices.Contains(codes, string(r.Code)) {
			codes = append(codes, string(r.Code))
		}
	}
	return codes
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
	TestMaxC           *float64     `json:"test_c_max"`
	CurveOffMV         *float64     `json:"curve_off_mv"`
	FitRMSMV           *float64     `json:"fit_rms_mv"`
	Fallback           *string      `json:"fallback"`
	Protocol           *jsonTest    `json:"protocol"`
	Refused            []jsonRemark `json:"refused"`
	Doubtful           []string     `json:"doubtful"` // codes of the warnings after which the figures may be wrong
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
	return &jsonCircuit{c.Capacity.MilliAmpHours(), c.R0.MilliOhms(), c.R1.MilliOhms(), float64(c.Tau), c.Shift.MilliVolts(), c.K}
}

func reduceJSON(packs []tested.ReducedPack, written []string) any {
	out := []jsonReduced{}
	for i := range packs {
		p := &packs[i]
		j := jsonReduced{ID: p.Bench.ID, Refused: remarksJSON(p.Failed), Doubtful: doubtCodes(p), Warnings: remarksJSON(p.Remarks)}
		if p.Record != nil {
			m, r := p.Metrics, planner.RatiosOf(p.Record, p.Metrics)
			j.CapacityMAh, j.EnergyWh, j.MidVoltageV = measured(m.Capacity.MilliAmpHours()), measured(m.Energy.WattHours()), measured(float64(m.MidVoltage))
			j.BurstA, j.BurstW, j.TestedC = measured(float64(m.BurstCurrent)), measured(float64(m.BurstPower)), measured(r.TestedC)
			j.WhPerG, j.WPerG, j.DeliveredOverRated = measured(r.WhPerGram), measured(r.WPerGram), measured(r.DeliveredOverRated)
			j.Protocol = testJSON(p)
		}
		if f := p.Fit; f != nil && p.Record != nil {
			j.TestMaxC = present(p.TestTemperature.Celsius())
			j.Circuit, j.FitRMSMV = circuitJSON(f.Circuit), measured(f.RMS.MilliVolts())
			if f.Fallback != "" {
				j.Fallback = &f.Fallback
			} else {
				j.CircuitSigma = &jsonCircuit{f.Sigma.Capacity.MilliAmpHours(), f.Sigma.R0.MilliOhms(), f.Sigma.R1.MilliOhms(), float64(f.Sigma.Tau), f.Sigma.Shift.MilliVolts(), f.Sigma.K}
				j.CurveOffMV = present(f.CurveOff.MilliVolts())
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

func testJSON(p *tested.ReducedPack) *jsonTest {
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
