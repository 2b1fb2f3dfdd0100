package main

import (
	"errors"
	"io/fs"
	"slices"
	"strings"
	"testing"
	"testing/fstest"

	"github.com/google/go-cmp/cmp"

	"allup/catalog"
	"allup/model"
	"allup/model/bench"
	"allup/planner"
	"allup/planner/tested"
)

// recordsOf is a catalogue of nothing but some records.
func recordsOf(t *testing.T, records string) *catalog.Catalogue {
	t.Helper()
	cat, _, err := catalog.Load(catalog.Layer{Name: "parts", Files: []catalog.File{
		{Name: "parts.toml", FS: fstest.MapFS{"parts.toml": {Data: []byte(records)}}, Path: "parts.toml"},
	}})
	if err != nil {
		t.Fatal(err)
	}
	return cat
}

const (
	testedOne = "\n[pack.one]\nchemistry = \"lipo\"\ncells = 4\nrated_mah = 600\nmass_g = 70\nprice = 20\ncurrency = \"EUR\"\nlabel_c = 120\n" +
		"[pack.one.tested]\ncapacity_mah = 588\nenergy_wh = 8.75\nmid_voltage_v = 14.68\nburst_power_w = 560\ndate = 2026-05-31\ncycles = 3\n"
	testedTwo = "\n[pack.two]\nchemistry = \"lipo\"\ncells = 4\nrated_mah = 600\nmass_g = 70\n" +
		"[pack.two.tested]\ncapacity_mah = 570\nenergy_wh = 8.4\nmid_voltage_v = 14.52\nburst_power_w = 455\n"
	untested = "\n[pack.three]\nchemistry = \"lipo\"\ncells = 4\nrated_mah = 600\nmass_g = 70\n"
)

// How a field is grouped and sorted is one of a few words.
func TestFieldOptions(t *testing.T) {
	for _, c := range []struct {
		by, group                string
		anyCells, anyChemistry   bool
		faultStarts, faultAllows string
	}{
		{"w_per_g", "cells,chemistry", false, false, "", ""},
		{"pack", "cells", false, true, "", ""},
		{"w_per_g", "chemistry", true, false, "", ""},
		{"w_per_g", "none", true, true, "", ""},
		{"grams", "none", false, false, `--sort "grams" is not a column; `, "allowed: pack, "},
		{"w_per_g", "colour", false, false, `--group "colour" is not a grouping; `, "allowed: cells,chemistry; cells; chemistry; none"},
	} {
		o, err := fieldOptions(c.by, c.group)
		if c.faultStarts != "" {
			var usage usageError
			if !errors.As(err, &usage) || !strings.HasPrefix(err.Error(), c.faultStarts+c.faultAllows) {
				t.Errorf("%s by %s: %v", c.group, c.by, err)
			}
			continue
		}
		if err != nil || o.AnyCells != c.anyCells || o.AnyChemistry != c.anyChemistry || string(o.Sort) != c.by {
			t.Errorf("%s by %s: %+v, %v", c.group, c.by, o, err)
		}
	}
}

// The first lines of a field count its packs and groups, and its notes those that nobody tested.
func TestFieldInWords(t *testing.T) {
	of := func(records string) *tested.Field {
		return tested.CompareField(packSetOf(t, recordsOf(t, records)), tested.FieldOptions{})
	}
	none := []string{`No tested packs in the catalogue: "allup reduce" makes some of bench logs.`}
	if diff := cmp.Diff(none, fieldVerdict(of(untested))); diff != "" {
		t.Error(diff)
	}
	if diff := cmp.Diff([]string{"1 tested pack in 1 group."}, fieldVerdict(of(testedOne))); diff != "" {
		t.Error(diff)
	}
	// 560 W of 70 g are 8.0 W/g, and 315 W are 4.5 W/g; 455 W, which are 6.5 W/g, are no other class.
	far := of(testedOne + strings.Replace(testedTwo, "455", "315", 1) + untested)
	want := []string{"2 tested packs in 1 group.", "4 cells, lipo: one gives 8.0 W/g, two 4.5 W/g: a factor of 1.8 between packs that look alike."}
	if diff := cmp.Diff(want, fieldVerdict(far)); diff != "" {
		t.Error(diff)
	}
	// A sentence begins with a capital, also where the group's name is a chemistry.
	far = tested.CompareField(packSetOf(t, recordsOf(t, testedOne+strings.Replace(testedTwo, "455", "315", 1))), tested.FieldOptions{AnyCells: true})
	if got := fieldVerdict(far)[1]; !strings.HasPrefix(got, "Lipo: one gives ") {
		t.Errorf("%q", got)
	}
	two := of(testedOne + testedTwo + untested)
	if diff := cmp.Diff(want[:1], fieldVerdict(two)); diff != "" {
		t.Error(diff)
	}
	two.Groups = append(two.Groups, of(testedOne).Groups...)
	if got := fieldVerdict(two); got[0] != "3 tested packs in 2 groups." {
		t.Errorf("%q", got)
	}
	for _, c := range []struct{ records, want string }{
		{testedOne, ""},
		{testedOne + untested, "1 pack is not compared, known by a label only: three."},
		{testedOne + untested + strings.ReplaceAll(untested, "three", "four"), "2 packs are not compared, known by a label only: four, three."},
	} {
		notes := fieldScreen(of(c.records)).Notes
		at := slices.IndexFunc(notes, func(n string) bool { return strings.Contains(n, "known by a label only: ") })
		if c.want == "" && at >= 0 || c.want != "" && (at < 0 || notes[at] != c.want) {
			t.Errorf("%q, want %q", notes, c.want)
		}
	}

	// One pack has no medians to be compared with, and without a label's C there is no column of it.
	if got := len(fieldScreen(of(testedOne)).Tables); got != 1 {
		t.Errorf("%d tables of one pack", got)
	}
	tables := fieldScreen(of(testedOne + testedTwo)).Tables
	if len(tables) != 2 {
		t.Fatalf("%d tables of two packs", len(tables))
	}
	if diff := cmp.Diff([]string{"120", "-", "-"}, column(t, tables[0], "label_c")); diff != "" {
		t.Error(diff)
	}
	if diff := cmp.Diff([]string{"8.0  1", "6.5  2", "7.2   "}, column(t, tables[0], "w_per_g")); diff != "" {
		t.Error(diff)
	}
	if diff := cmp.Diff([]string{"1.10", "0.90"}, column(t, tables[1], "w_per_g_ratio")); diff != "" {
		t.Error(diff)
	}
	if diff := cmp.Diff([]string{"", "", ""}, column(t, tables[0], "marks")); diff != "" {
		t.Error(diff)
	}
	for _, table := range fieldScreen(of(testedTwo)).Tables {
		for _, c := range table.Columns {
			if c.Key == "label_c" || strings.HasPrefix(c.Key, string(tested.OfLabelC)) {
				t.Errorf("a column %s without a label's C", c.Key)
			}
		}
	}
	if got := len(fieldSheet(of(testedOne + testedTwo)).Rows); got != 2 {
		t.Errorf("%d rows for programs", got)
	}
	pack := fieldPackJSON(fieldFigures(), &of(testedOne).Groups[0].Packs[0])
	if pack.LabelC == nil || *pack.LabelC != 120 || pack.TestDate == nil || *pack.TestDate != "2026-05-31" || *pack.TestCycles != 3 {
		t.Errorf("%+v", pack)
	}
	if pack := fieldPackJSON(fieldFigures(), &of(testedTwo).Groups[0].Packs[0]); pack.LabelC != nil || pack.TestDate != nil || pack.TestCycles != nil {
		t.Errorf("%+v", pack)
	}
}

// The title of a group tells its currency and which packs were converted, four of them by name.
func TestGroupTitles(t *testing.T) {
	g := tested.CompareField(packSetOf(t, recordsOf(t, testedTwo)), tested.FieldOptions{}).Groups[0]
	const test = ". Test: 15 C x 3.7 V per cell down to 3.1 V per cell; burst after 48 s at 15 C, 2 C more each second down to 3.3 V per cell"
	for _, c := range []struct {
		currency  string
		converted []string
		want      string
	}{
		{"", nil, "4 cells, lipo: 1 pack" + test},
		{"EUR", nil, "4 cells, lipo: 1 pack, prices in EUR" + test},
		{"", []string{"a"}, "4 cells, lipo: 1 pack" + test + ". Converted to it through their circuits (K): a; the others as measured"},
		{"", []string{"a", "b", "c", "d"}, "4 cells, lipo: 1 pack" + test + ". Converted to it through their circuits (K): a, b, c, d; the others as measured"},
		{"", []string{"a", "b", "c", "d", "e", "f"}, "4 cells, lipo: 1 pack" + test + ". Converted to it through their circuits (K): a, b, c, d, 2 more; the others as measured"},
	} {
		g.Currency, g.Converted = c.currency, c.converted
		if got := groupTitle(&g); got != c.want {
			t.Errorf("%q\nwant %q", got, c.want)
		}
	}
}

// The marks of a pack in a field are those of its circuit, its conversion, a doubt and an invented record.
func TestFieldMarks(t *testing.T) {
	p := tested.CompareField(packSetOf(t, recordsOf(t, testedTwo)), tested.FieldOptions{}).Groups[0].Packs[0]
	if got := fieldMarks(&p); got != "" {
		t.Errorf("%q", got)
	}
	pack, record := *p.Pack, *p.Pack.Pack
	pack.Pack, p.Pack = &record, &pack
	p.ByCircuit = true
	if got := fieldMarks(&p); got != "K" {
		t.Errorf("%q, want K", got)
	}
	pack.Basis, p.Noteworthy, record.Source = planner.BasisLogs, []planner.Remark{{Code: planner.Doubtful}}, builtIn(t).Packs["sedge-650"].Source
	if got := fieldMarks(&p); got != "BKDI" {
		t.Errorf("%q, want BKDI", got)
	}
	p.Noteworthy[0].Code = planner.Unusual
	if got := fieldMarks(&p); got != "BKI" {
		t.Errorf("%q, want BKI", got)
	}
}

// reducedOf is a pack that was reduced, at 40 g and 500 mAh.
func reducedOf(id string, power model.Power, doubts ...planner.Code) tested.ReducedPack {
	p := tested.ReducedPack{Bench: &catalog.BenchPack{}, Record: &catalog.Pack{Common: catalog.Common{ID: id, Mass: 0.04}, Rated: 1800, Cells: 4}}
	p.Bench.ID = id
	p.Metrics.BurstPower = power
	for _, code := range doubts {
		p.Doubts = append(p.Doubts, planner.Remark{Code: code, Subject: "log.csv:7", Text: "is odd"})
	}
	return p
}

// The first lines of a reduction count what was reduced, refused and is in doubt, and say where records went.
func TestReduceVerdicts(t *testing.T) {
	refused := reducedOf("r", 0)
	refused.Record = nil
	for _, c := range []struct {
		name    string
		packs   []tested.ReducedPack
		written []string
		want    []string
	}{
		{"none", nil, nil, []string{"0 of 0 packs reduced."}},
		{"one", []tested.ReducedPack{reducedOf("a", 200)}, nil, []string{"1 of 1 pack reduced."}},
		{"two", []tested.ReducedPack{reducedOf("a", 200), reducedOf("b", 300)}, []string{"out.toml"}, []string{
			"2 of 2 packs reduced.", "Power density from 5.0 W/g (a) to 7.5 W/g (b).", "Records of 2 packs written to out.toml.",
		}},
		{"one refused", []tested.ReducedPack{reducedOf("a", 200), refused}, []string{"out.toml"}, []string{
			"1 of 2 packs reduced; 1 REFUSED: r.", "Records of 1 pack written to out.toml.",
		}},
		{"doubts", []tested.ReducedPack{reducedOf("a", 0, "hot", "hot", "short"), reducedOf("b", 0, "hot"), refused, refused}, []string{"a.toml", "b.toml"}, []string{
			"2 of 4 packs reduced; 2 REFUSED: r, r; 2 DOUBTFUL: a (hot, short), b (hot).", "Records written to a.toml, b.toml.",
		}},
	} {
		t.Run(c.name, func(t *testing.T) {
			if diff := cmp.Diff(c.want, reduceVerdict(c.packs, c.written)); diff != "" {
				t.Error(diff)
			}
		})
	}
}

// A reduction ends with a failure where a file could not be read, with no where a log was refused, else well.
func TestRefusals(t *testing.T) {
	good, refused, unread := reducedOf("a", 200), reducedOf("b", 0), reducedOf("c", 0)
	refused.Record, unread.Record = nil, nil
	unread.Unread = []error{fs.ErrNotExist, fs.ErrPermission}
	for _, c := range []struct {
		packs []tested.ReducedPack
		want  string
	}{
		{nil, ""},
		{[]tested.ReducedPack{good, good}, ""},
		{[]tested.ReducedPack{good, refused, good}, errNo.Error()},
		{[]tested.ReducedPack{refused, good}, errNo.Error()},
		{[]tested.ReducedPack{refused, unread, good}, fs.ErrNotExist.Error() + "; " + fs.ErrPermission.Error()},
	} {
		got := ""
		if err := refusals(c.packs); err != nil {
			got = err.Error()
		}
		if got != c.want {
			t.Errorf("%q, want %q", got, c.want)
		}
	}
}

// Each pack has a row for programs: reduced, doubtful or refused, and why; metrics stand with the packs that have them.
func TestReduceRows(t *testing.T) {
	refused := reducedOf("r", 0)
	refused.Record, refused.Failed = nil, []planner.Remark{{Subject: "r.csv:3", Text: "stops"}, {Subject: "r.csv", Text: "is short"}}
	doubtful := reducedOf("d", 300, "hot", "hot")
	doubtful.Remarks = []planner.Remark{{Subject: "d.csv:3", Text: "is warm"}, {Text: "rests"}}
	s := reduceScreen(&catalog.Bench{}, []tested.ReducedPack{refused, reducedOf("a", 200), refused, doubtful}, nil)
	for key, want := range map[string][]string{
		"pack":          {"r", "a", "r", "d"},
		"burst_power_w": {"-", "200", "-", "300"},
		"w_per_g":       {"-", "5.00", "-", "7.50"},
		"status":        {"refused", "reduced", "refused", "doubtful"},
		"why":           {"r.csv:3: stops; r.csv: is short", "", "r.csv:3: stops; r.csv: is short", "hot: log.csv:7: is odd; log.csv:7: is odd"},
		"warnings":      {"", "", "", "d.csv:3: is warm; rests"},
	} {
		if diff := cmp.Diff(want, column(t, s.Sheet, key)); diff != "" {
			t.Errorf("%s: %s", key, diff)
		}
	}
	for key, want := range map[string][]string{"pack": {"a", "d"}, "doubtful": {"", "DOUBTFUL: hot"}, "capacity_mah": {"-", "-"}} {
		if diff := cmp.Diff(want, column(t, s.Tables[0], key)); diff != "" {
			t.Errorf("%s: %s", key, diff)
		}
	}
	if diff := cmp.Diff([]string{"r", "r"}, column(t, s.Tables[3], "pack")); diff != "" {
		t.Error(diff)
	}
	// Where nothing was reduced there is no protocol to explain.
	if notes := reduceScreen(&catalog.Bench{}, []tested.ReducedPack{refused}, nil).Notes; len(notes) != 1 || notes[0] != benchCaution {
		t.Errorf("%q", notes)
	}
}

// How a test was run is told by what was held, and its conditioning where there was one.
func TestHowTestsWereRun(t *testing.T) {
	discharge := func(held bench.HeldLoad) *bench.DischargeReduction {
		return &bench.DischargeReduction{Held: held, Power: 123.44, Current: 8.765, HeldWithin: 0.0123, End: bench.LogEnd{Interval: 0.24}}
	}
	burst := func(current model.Current) *bench.BurstReduction {
		b := &bench.BurstReduction{}
		b.ConditioningCurrent, b.ConditioningTime, b.ConditioningShare, b.Ramp, b.End.Interval = current, 47.96, 0.206, 1.234, 0.16
		return b
	}
	for _, c := range []struct {
		name      string
		discharge *bench.DischargeReduction
		burst     *bench.BurstReduction
		want      []string
	}{
		{"neither", nil, nil, []string{"a", "-", "-", "-", "-", "-", "-"}},
		{"power", discharge(bench.HeldPower), nil, []string{"a", "123.4 W", "1.2", "-", "-", "-", "0.2"}},
		{"current", discharge(bench.HeldCurrent), nil, []string{"a", "8.77 A", "1.2", "-", "-", "-", "0.2"}},
		{"nothing", discharge(bench.HeldNothing), nil, []string{"a", "not constant", "1.2", "-", "-", "-", "0.2"}},
		{"burst", nil, burst(9.75), []string{"a", "-", "-", "9.75 A, 48.0 s", "20.6", "1.23", "0.2"}},
		{"burst from full", nil, burst(0), []string{"a", "-", "-", "none", "20.6", "1.23", "0.2"}},
	} {
		p := reducedOf("a", 0)
		p.Discharge, p.Burst = c.discharge, c.burst
		var got []string
		for _, cell := range testCells(&p) {
			got = append(got, cell.Text)
		}
		if diff := cmp.Diff(c.want, got); diff != "" {
			t.Errorf("%s: %s", c.name, diff)
		}
		j := testJSON(&p)
		if (j.DischargeHeld != nil) != (c.discharge != nil) || (j.ConditioningShare != nil) != (c.burst != nil) {
			t.Errorf("%s: %+v", c.name, j)
		}
	}
}

// A circuit is of the logs, with what they leave open, or of the metrics, with the reason and without that.
func TestCircuitsOfLogsAndMetrics(t *testing.T) {
	p := reducedOf("a", 200)
	p.TestTemperature = 321
	p.Fit = &model.LogFit{RMS: 0.0042, CurveOff: 0.003, Sigma: model.CircuitSigma{R0: 0.0004, R1: 0.00004, K: 0.06}}
	p.Fit.Circuit = model.Circuit{Capacity: 2088, R0: 0.0321, R1: 0.0123, Tau: 21.4, Shift: 0.0061, K: 0.44}
	row := func() []string {
		return rowOf(t, reduceScreen(&catalog.Bench{}, []tested.ReducedPack{p}, nil).Tables[1], "a")
	}
	if diff := cmp.Diff([]string{"a", "580", "32.1", "0.4", "12.3", "0.04", "21", "6", "0.44", "0.06", "48", "4.2", "logs"}, row()); diff != "" {
		t.Error(diff)
	}
	said := func() jsonReduced {
		return reduceJSON([]tested.ReducedPack{p}, nil).(struct {
			Packs   []jsonReduced `json:"packs"`
			Written []string      `json:"written"`
		}).Packs[0]
	}
	if j := said(); j.Fallback != nil || j.CircuitSigma == nil || j.CurveOffMV == nil || *j.CurveOffMV != 3 {
		t.Errorf("%+v", j)
	}
	p.Fit.Fallback, p.Fit.RMS, p.Fit.Sigma = "too short", 0, model.CircuitSigma{}
	if diff := cmp.Diff([]string{"a", "580", "32.1", "-", "12.3", "-", "21", "6", "0.44", "-", "48", "-", "metrics"}, row()); diff != "" {
		t.Error(diff)
	}
	if j := said(); j.Fallback == nil || *j.Fallback != "too short" || j.CircuitSigma != nil || j.CurveOffMV != nil || j.FitRMSMV != nil || j.Circuit == nil {
		t.Errorf("%+v", j)
	}
	p.Record = nil
	if j := said(); j.Circuit != nil || j.TestMaxC != nil || j.Protocol != nil {
		t.Errorf("refused: %+v", j)
	}
}

// A protocol is the usual one or the file's, of constant power or current.
func TestProtocolNote(t *testing.T) {
	const pack = "[pack.a]\nchemistry = \"lipo\"\ncells = 4\nrated_mah = 650\nmass_g = 74\ndischarge = \"a.csv\"\n"
	const burst = " burst after 15 C for 48 s, then 2 C more each second down to 3.3 V per cell."
	for file, want := range map[string]string{
		pack: "Protocol, the usual one: discharge at 15 C x 3.7 V per cell down to 3.1 V per cell;" + burst,
		"[protocol]\ndischarge_c = 12.5\ndischarge_end_v_per_cell = 3.25\n" + pack:                                  "Protocol, from the bench file: discharge at 12.5 C x 3.7 V per cell down to 3.25 V per cell;" + burst,
		"[protocol]\ndischarge_current_c = 10\nconditioning_s = 30\n" + pack:                                        "Protocol, from the bench file: discharge at a constant 10 C down to 3.1 V per cell;" + strings.Replace(burst, "48 s", "30 s", 1),
		"[protocol]\nramp_c_per_s = 0.5\nconditioning_c = 7.5\nburst_end_v_per_cell = 3.2\ndischarge_c=15\n" + pack: "Protocol, from the bench file: discharge at 15 C x 3.7 V per cell down to 3.1 V per cell; burst after 7.5 C for 48 s, then 0.5 C more each second down to 3.2 V per cell.",
	} {
		b, _, err := catalog.ReadBench("bench.toml", strings.NewReader(file))
		if err != nil {
			t.Fatalf("%s: %v", file, err)
		}
		if got := protocolNote(b); got != want {
			t.Errorf("%s: %q, want %q", file, got, want)
		}
	}
}

// A record is summed up by what most decides about it.
func TestSummaries(t *testing.T) {
	cat := recordsOf(t, testedOne+untested+`
[frame.plain]
mass_g = 30
rotors = 4
[frame.sized]
mass_g = 30
rotors = 6
max_prop_in = 3.55
[motor.bare]
mass_g = 9
kv = 3800
[motor.half]
mass_g = 9
kv = 3800
r_mohm = 150
[motor.whole]
mass_g = 9
kv = 3800
r_mohm = 150
no_load_a = 0.6
[prop.size]
mass_g = 1.5
diameter_in = 3.5
pitch_in = 2.55
blades = 3
[prop.known]
mass_g = 1.5
diameter_in = 3.5
pitch_in = 2.5
blades = 2
ct = 0.12
cp = 0.07
[board.open]
mass_g = 9
[board.rated]
mass_g = 9
max_current_a = 20
[gear.nothing]
mass_g = 2
[gear.lamp]
mass_g = 2
power_w = 1.25
`)
	for _, c := range []struct {
		kind     catalog.Kind
		id, want string
	}{
		{catalog.KindFrame, "plain", "4 rotors"},
		{catalog.KindFrame, "sized", "6 rotors, propellers up to 3.55 in"},
		{catalog.KindMotor, "bare", "3800 rpm/V, no constants"},
		{catalog.KindMotor, "half", "3800 rpm/V, no constants"},
		{catalog.KindMotor, "whole", "3800 rpm/V"},
		{catalog.KindProp, "size", "3.5 x 2.55 in, 3 blades, size only"},
		{catalog.KindProp, "known", "3.5 x 2.5 in, 2 blades, coefficients"},
		{catalog.KindBoard, "open", "no current stated"},
		{catalog.KindBoard, "rated", "20 A an output"},
		{catalog.KindGear, "nothing", "0 W"},
		{catalog.KindGear, "lamp", "1.25 W"},
		{catalog.KindPack, "one", "4 cells, lipo, 600 mAh, tested"},
		{catalog.KindPack, "three", "4 cells, lipo, 600 mAh, label only"},
	} {
		if got := summary(cat, c.kind, c.id); got != c.want {
			t.Errorf("%s: %q, want %q", c.id, got, c.want)
		}
	}

	// A list counts what it has of each kind, and of one kind alone where that is asked for.
	for only, want := range map[catalog.Kind]string{
		"":                     "The catalogue reads without a fault; listed: 13 records (2 frame, 3 motor, 2 prop, 2 board, 2 gear, 2 pack).",
		catalog.KindProp:       "The catalogue reads without a fault; listed: 2 records (2 prop).",
		catalog.KindThrustTest: "No records.",
	} {
		s, _ := partsScreen(cat, only)
		if s.Verdict[0] != want || len(s.Notes) != 0 {
			t.Errorf("%q: %q, %q", only, s.Verdict, s.Notes)
		}
	}
	if s, _ := partsScreen(builtIn(t), catalog.KindPack); len(s.Notes) != 1 || s.Notes[0] != demoMarkNote {
		t.Errorf("%q", s.Notes)
	}

	// One record: where it stands, and what its fields leave open.
	p, err := showPart(cat, "one")
	if err != nil {
		t.Fatal(err)
	}
	table := p.screen().Tables[0]
	for field, want := range map[string]string{
		"label_c": "120", "tested.cycles": "3", "tested.date": "2026-05-31", "Wh per g": "0.125", "W per g": "8", "delivered over rated": "0.98", "basis": "tested",
	} {
		if got := rowOf(t, table, field); got[1] != want {
			t.Errorf("%s is %q, want %q", field, got[1], want)
		}
	}
	if got, want := p.screen().Verdict[0], "pack one: one (parts, from parts.toml, line 2)."; got != want {
		t.Errorf("%q, want %q", got, want)
	}
	if !slices.Contains(p.notes, "The test states no ambient_c: it is taken as 25 C.") {
		t.Errorf("%q", p.notes)
	}
	for id, want := range map[string]string{"half": "What of r_mohm and no_load_a is not stated", "bare": "What of r_mohm and no_load_a is not stated", "whole": "", "known": "Figure of merit 0.474.", "size": "No measured coefficients. From its size: ct "} {
		p, err := showPart(cat, id)
		if err != nil {
			t.Fatal(err)
		}
		if want == "" && len(p.notes) > 0 || want != "" && (len(p.notes) != 1 || !strings.HasPrefix(p.notes[0], want)) {
			t.Errorf("%s: %q, want %q", id, p.notes, want)
		}
	}
}

// A kind and an id that are not there are told with those that are.
func TestUnknownParts(t *testing.T) {
	if err := knownKind(""); err != nil {
		t.Error(err)
	}
	for _, kind := range kindNames() {
		if err := knownKind(kind); err != nil {
			t.Error(err)
		}
	}
	if err := knownKind("wing"); err == nil || !strings.HasPrefix(err.Error(), `--kind "wing" is not a kind; allowed: frame, motor, `) {
		t.Errorf("%v", err)
	}
	cat := builtIn(t)
	if err := unknownPart(cat, "sedge-660"); err.Error() != `no part "sedge-660" in the catalogue; did you mean sedge-650 (pack)?` {
		t.Errorf("%v", err)
	}
	if err := unknownPart(cat, "nothing like any of them"); err.Error() != `no part "nothing like any of them" in the catalogue; "allup parts" lists them` {
		t.Errorf("%v", err)
	}
}
