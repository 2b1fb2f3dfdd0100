package bench_test

import (
	"errors"
	"fmt"
	"math"
	"math/rand/v2"
	"slices"
	"strings"
	"testing"

	"allup/model"
	"allup/model/bench"
)

func reduceDischarge(p benchPack, rows []bench.Sample) (bench.DischargeReduction, error) {
	r := bench.NewDischargeReducer(p.pack, model.UsualProtocol(p.pack.Rated, p.pack.Cells), bench.ReduceSettings{})
	for _, s := range rows {
		r.Add(s)
	}
	return r.Finish()
}

func reduceBurst(p benchPack, rows []bench.Sample) (bench.BurstReduction, error) {
	r := bench.NewBurstReducer(p.pack, model.UsualProtocol(p.pack.Rated, p.pack.Cells))
	for _, s := range rows {
		r.Add(s)
	}
	return r.Finish()
}

// dischargeRows and burstRows are the usual tests of a pack as the bench logs them.
func dischargeRows(p benchPack, run bench.Run) []bench.Sample {
	protocol := model.UsualProtocol(p.pack.Rated, p.pack.Cells)
	return run.Discharge(p.circuit, model.ConstantPower(protocol.DischargePower), protocol.DischargeEndPerCell)
}

func burstRows(p benchPack, run bench.Run) []bench.Sample {
	return run.Burst(p.circuit, model.UsualProtocol(p.pack.Rated, p.pack.Cells))
}

// burstBeyond is the usual burst of a tester that goes on below the end voltage.
func burstBeyond(p benchPack, run bench.Run) []bench.Sample {
	protocol := model.UsualProtocol(p.pack.Rated, p.pack.Cells)
	protocol.BurstEndPerCell -= 0.3
	return run.Burst(p.circuit, protocol)
}

// TestReduceMeetsSimulator compares reductions of generated logs with the simulator,
// which steps in charge, and with the burst test's closed form.
func TestReduceMeetsSimulator(t *testing.T) {
	for _, p := range benchPacks(t) {
		for _, interval := range []model.Time{0.002, 0.1, 1} {
			protocol := model.UsualProtocol(p.pack.Rated, p.pack.Cells)
			d, err := reduceDischarge(p, dischargeRows(p, bench.Run{Interval: interval}))
			if err != nil {
				t.Fatal(err)
			}
			load := model.ConstantPower(protocol.DischargePower)
			want := p.circuit.Discharge(load, model.Stop{PerCell: protocol.DischargeEndPerCell})
			mid := p.circuit.Discharge(load, model.Stop{Reserve: (1 + want.ChargeLeft) / 2}).EndVoltage
			b, err := reduceBurst(p, burstRows(p, bench.Run{Interval: interval}))
			if err != nil {
				t.Fatal(err)
			}
			burst := p.circuit.BurstTest(protocol)
			for _, c := range []struct {
				name           string
				got, want, tol float64
			}{
				{"capacity", float64(d.Capacity), float64(want.Delivered), 5e-4},
				{"energy", float64(d.Energy), float64(want.Energy), 5e-4},
				{"mid voltage", float64(d.MidVoltage), float64(mid), 2e-4},
				{"power", float64(d.Power), float64(protocol.DischargePower), 1e-3},
				{"burst current", float64(b.Current), float64(burst.Current), 2e-3},
				{"burst power", float64(b.Power), float64(burst.Power), 2e-3},
				{"ramp", b.Ramp, protocol.Ramp, 2e-3},
				// 15 C for 48 s is 20 % of the rated capacity: 15 x 48/3600.
				{"conditioning", b.ConditioningShare, 0.20, 2e-3},
				{"conditioning time", float64(b.ConditioningTime), 48, 2e-3},
			} {
				if math.Abs(c.got/c.want-1) > c.tol {
					t.Errorf("%s at %g s: %s = %.6g, want %.6g within %g %%", p.name, float64(interval), c.name, c.got, c.want, 100*c.tol)
				}
			}
			if d.Held != bench.HeldPower || d.HeldWithin > 0.001 || !b.InRamp {
				t.Errorf("%s at %g s: held %s within %g, ramp %v", p.name, float64(interval), d.Held, d.HeldWithin, b.InRamp)
			}
		}
	}
}

// TestReduceRepairs breaks a log in one way at a time: the rule must name what it did
// and the figures must stay where they were.
func TestReduceRepairs(t *testing.T) {
	p := benchPacks(t)[0]
	rows := func() []bench.Sample {
		return dischargeRows(p, bench.Run{VoltageNoise: 0.005, CurrentNoise: 0.005, Source: rand.NewPCG(4, 4)})
	}
	clean, err := reduceDischarge(p, rows())
	if err != nil {
		t.Fatal(err)
	}
	end := slices.IndexFunc(rows(), func(s bench.Sample) bool { return s.Line == clean.End.Line })
	for _, c := range []struct {
		name string
		code bench.LogCode
		tol  float64
		do   func(s []bench.Sample) []bench.Sample
	}{
		{"one voltage of 3 V", bench.LogGlitch, 1e-3, func(s []bench.Sample) []bench.Sample { s[900].Voltage = 3; return s }},
		{"one current of 300 A", bench.LogGlitch, 1e-3, func(s []bench.Sample) []bench.Sample { s[900].Current = 300; return s }},
		{"one row below the end, early", bench.LogGlitch, 1e-3, func(s []bench.Sample) []bench.Sample { s[1800].Voltage = 12.1; return s }},
		{"one row below the end, eight before it", "", 1e-3, func(s []bench.Sample) []bench.Sample { s[end-8].Voltage = 12.39; return s }},
		{"two rows below the end", bench.LogGlitch, 1e-3, func(s []bench.Sample) []bench.Sample { s[end-60].Voltage, s[end-59].Voltage = 12.2, 12.2; return s }},
		{"two currents, unlike", bench.LogGlitch, 1e-3, func(s []bench.Sample) []bench.Sample { s[900].Current, s[901].Current = 15, 22; return s }},
		{"three rows below the end", bench.LogDip, 1e-3, func(s []bench.Sample) []bench.Sample {
			s[end-60].Voltage, s[end-59].Voltage, s[end-58].Voltage = 12.2, 12.2, 12.2
			return s
		}},
		{"no current for 1 s", bench.LogDropout, 1e-3, func(s []bench.Sample) []bench.Sample {
			for k := range 10 {
				s[1000+k].Current = 0
			}
			return s
		}},
		{"neither for 1 s", bench.LogDropout, 1e-3, func(s []bench.Sample) []bench.Sample {
			for k := range 10 {
				s[1000+k].Current, s[1000+k].Voltage = 0, 0
			}
			return s
		}},
		{"no voltage for 1 s", bench.LogDropout, 1e-3, func(s []bench.Sample) []bench.Sample {
			for k := range 10 {
				s[1000+k].Voltage = 0
			}
			return s
		}},
		{"rows missing for 4 s", bench.LogGap, 1e-3, func(s []bench.Sample) []bench.Sample { return slices.Delete(s, 700, 740) }},
		{"a logger that hangs for 4 s", bench.LogStuck, 1e-3, func(s []bench.Sample) []bench.Sample {
			for k := range 40 {
				s[701+k].Voltage, s[701+k].Current = s[700].Voltage, s[700].Current
			}
			return s
		}},
		{"an offset of 1 % of the current before the load", "", 1e-3, func(s []bench.Sample) []bench.Sample {
			for k := range s {
				if s[k].Current == 0 {
					s[k].Current = 0.1
				}
			}
			return s
		}},
		{"negative current", "", 1e-12, func(s []bench.Sample) []bench.Sample {
			for k := range s {
				s[k].Current = -s[k].Current
			}
			return s
		}},
		{"cut off one row before the end", bench.LogExtrapolated, 1e-3, func(s []bench.Sample) []bench.Sample { return s[:end] }},
		{"no rest", bench.LogNoRest, 1e-3, func(s []bench.Sample) []bench.Sample { return s[21:] }},
	} {
		got, err := reduceDischarge(p, c.do(rows()))
		if err != nil {
			t.Errorf("%s: refused: %v", c.name, err)
			continue
		}
		if c.code != "" && !slices.ContainsFunc(got.Findings, func(f bench.LogFinding) bool { return f.Code == c.code }) {
			t.Errorf("%s: findings %v, want one of %s", c.name, got.Findings, c.code)
		}
		for _, f := range got.Findings {
			if c.code != "" && f.Code == c.code && f.Code != bench.LogNoRest && (f.Line < 2 || f.Count < 1) {
				t.Errorf("%s: %+v has no row or count", c.name, f)
			}
		}
		for _, v := range []struct {
			name      string
			got, want float64
		}{
			{"capacity", float64(got.Capacity), float64(clean.Capacity)},
			{"energy", float64(got.Energy), float64(clean.Energy)},
			{"mid voltage", float64(got.MidVoltage), float64(clean.MidVoltage)},
		} {
			if math.Abs(v.got/v.want-1) > c.tol {
				t.Errorf("%s: %s = %.6g, want %.6g within %g %%", c.name, v.name, v.got, v.want, 100*c.tol)
			}
		}
	}
}

// TestReducePause: a load that stops for 2 s gives no charge in that time, and the
// pack recovers: a pause, not a dropout of the logger.
func TestReducePause(t *testing.T) {
	p := benchPacks(t)[0]
	rows := dischargeRows(p, bench.Run{})
	clean, err := reduceDischarge(p, rows)
	if err != nil {
		t.Fatal(err)
	}
	paused := slices.Clone(rows[:1000])
	for k := range 20 {
		s := rows[999]
		s.Time += model.Time(k+1) * 0.1
		s.Voltage += 0.3
		s.Current = 0
		paused = append(paused, s)
	}
	for _, s := range rows[1000:] {
		s.Time += 2
		paused = append(paused, s)
	}
	got, err := reduceDischarge(p, paused)
	if err != nil {
		t.Fatal(err)
	}
	if !slices.ContainsFunc(got.Findings, func(f bench.LogFinding) bool { return f.Code == bench.LogPause }) {
		t.Errorf("findings %v, want a pause", got.Findings)
	}
	if math.Abs(float64(got.Capacity/clean.Capacity)-1) > 5e-4 {
		t.Errorf("capacity %.5g, want %.5g", float64(got.Capacity), float64(clean.Capacity))
	}
}

// TestReduceRefuses: what cannot be a discharge from full to the end is refused, with
// the row where that shows, and in words that name it.
func TestReduceRefuses(t *testing.T) {
	p := benchPacks(t)[0]
	rows := func() []bench.Sample { return dischargeRows(p, bench.Run{Interval: 0.5}) }
	later := func(s []bench.Sample, by model.Time) []bench.Sample {
		for k := range s {
			s[k].Time += by
		}
		return s
	}
	says := map[string]string{
		"nothing":                     "the log has 0 rows that can be used: at least 10 are needed",
		"few rows":                    "line 8: the log has 7 rows that can be used: at least 10 are needed",
		"no load":                     "no current above 0.013 A for 3 rows, 0 A at most: the log has no load in it, or its current is in another unit",
		"never reaches the end":       "line 301: the load ends here at 14.62 V, 3.654 V per cell: the end voltage of 3.1 V per cell is not reached",
		"a charge":                    "line 481: the voltage rises from 12.37 V here to 16.54 V on line 6 while the current flows: this is a charge",
		"three cells said to be four": "line 5: the log begins at rest at 12.61 V, 3.153 V per cell for 4 cells: the pack was not full, or it is another pack; 3 cells would be at 4.204 V each",
		"four cells said to be three": "line 5: the log begins at rest at 16.82 V, 5.605 V per cell for 3 cells: more than a cell can have; 4 cells would be at 4.204 V each",
		"half empty":                  "line 2: the log begins at rest at 15 V, 3.750 V per cell for 4 cells: the pack was not full",
		"stopped for a minute":        "line 202: the load was off for 62 s in all by the time it came back from here (up to 3 s is bridged): what the pack gave before and after is not one test",
		"the pack came off":           "line 302: the voltage jumps from 14.62 V to 9 V here, over the end voltage of 12.4 V: that is no end of a discharge; did the columns change, did the pack come off, or are rows missing?",
		"rows are missing":            "line 332: 38.1 % of the charge lies in gaps between rows, the first here: 10 % is the most",
		"rows are missing where the load came on": "line 186: there are no rows for 90.5 s before this one, in which the load came on: up to 37.1 % of the charge is in them, 10 % is the most",
	}
	for _, c := range []struct {
		name string
		code bench.LogCode
		pack bench.TestedPack
		rows []bench.Sample
	}{
		{"nothing", bench.LogEmpty, p.pack, nil},
		{"few rows", bench.LogEmpty, p.pack, rows()[:7]},
		{"no load", bench.LogNoLoad, p.pack, slices.Repeat(rows()[:1], 50)},
		{"never reaches the end", bench.LogNoEnd, p.pack, rows()[:300]},
		{"a charge", bench.LogCharges, p.pack, func() []bench.Sample {
			s := rows()
			slices.Reverse(s)
			for k := range s {
				s[k].Time = model.Time(k)
			}
			return s
		}()},
		{"three cells said to be four", bench.LogWrongCells, p.pack, func() []bench.Sample {
			s := rows()
			for k := range s {
				s[k].Voltage *= 0.75
			}
			return s
		}()},
		{"four cells said to be three", bench.LogWrongCells, bench.TestedPack{Cells: 3, Chemistry: model.LiPo, Rated: p.pack.Rated}, rows()},
		{"half empty", bench.LogStartsEmpty, p.pack, func() []bench.Sample {
			s := rows()
			rest := s[0]
			rest.Voltage = 15.0
			return append(slices.Repeat([]bench.Sample{rest}, 5), later(s[300:], 1)...)
		}()},
		{"stopped for a minute", bench.LogInterrupted, p.pack, func() []bench.Sample {
			s := rows()
			off := s[200]
			off.Current, off.Voltage = 0, off.Voltage+0.4
			var pause []bench.Sample
			for k := range 120 {
				off.Time += 0.5
				off.Line = 202 + k
				pause = append(pause, off)
			}
			return slices.Concat(s[:200], pause, later(s[201:], 61))
		}()},
		{"the pack came off", bench.LogSuddenEnd, p.pack, func() []bench.Sample {
			s := rows()
			for k := 300; k < len(s); k++ {
				s[k].Voltage = 9
			}
			return s
		}()},
		{"rows are missing", bench.LogMissing, p.pack, slices.Concat(rows()[:150], rows()[330:])},
		{"rows are missing where the load came on", bench.LogMissing, p.pack, func() []bench.Sample {
			s := rows()
			on := slices.IndexFunc(s, func(x bench.Sample) bool { return x.Current > 1 })
			return slices.Concat(s[:on], s[on+180:])
		}()},
	} {
		r := bench.NewDischargeReducer(c.pack, model.UsualProtocol(p.pack.Rated, 4), bench.ReduceSettings{})
		for _, s := range c.rows {
			r.Add(s)
		}
		_, err := r.Finish()
		refusal, ok := errors.AsType[*bench.LogError](err)
		if !ok || refusal.Code != c.code {
			t.Errorf("%s: %v, want %s", c.name, err, c.code)
			continue
		}
		if got := err.Error(); got != says[c.name] {
			t.Errorf("%s: said %q, want %q", c.name, got, says[c.name])
		}
	}
}

// TestBurstEndsBeforeRamp: a pack too poor for its conditioning never comes to the ramp.
func TestBurstEndsBeforeRamp(t *testing.T) {
	p := benchPacks(t)[1]
	p.circuit.R0 *= 3.5
	b, err := reduceBurst(p, burstRows(p, bench.Run{}))
	if err != nil {
		t.Fatal(err)
	}
	want := p.circuit.BurstTest(model.UsualProtocol(p.pack.Rated, p.pack.Cells))
	if b.InRamp || want.InRamp || math.Abs(float64(b.Current/want.Current)-1) > 1e-3 {
		t.Errorf("current %.4g A in ramp %v, want %.4g A before it", float64(b.Current), b.InRamp, float64(want.Current))
	}
	if !slices.ContainsFunc(b.Findings, func(f bench.LogFinding) bool { return f.Code == bench.LogNoRamp }) {
		t.Errorf("findings %v say nothing of it", b.Findings)
	}
}

// TestLongGapsAreDoubted: where over 5 % of the charge lies in gaps the figures are in doubt, for a clock that jumped
// looks the same.
func TestLongGapsAreDoubted(t *testing.T) {
	p := benchPacks(t)[0]
	for share, doubt := range map[float64]bool{0.045: false, 0.055: true} {
		rows := dischargeRows(p, bench.Run{})
		from := len(rows) / 3
		r := bench.NewDischargeReducer(p.pack, model.UsualProtocol(p.pack.Rated, 4), bench.ReduceSettings{})
		for _, s := range slices.Delete(rows, from, from+int(share*float64(len(rows)))) {
			r.Add(s)
		}
		d, err := r.Finish()
		if err != nil {
			t.Fatal(err)
		}
		k := slices.IndexFunc(d.Findings, func(f bench.LogFinding) bool { return f.Code == bench.LogGap })
		if k < 0 || d.Findings[k].Doubt != doubt || strings.Contains(d.Findings[k].Text, "clock jumped") != doubt {
			t.Errorf("%.1f %% in a gap: %+v", 100*share, d.Findings)
		}
	}
}

// TestNoiseIsTold: readings that scatter by much put the figures in doubt, by as much as they scatter.
func TestNoiseIsTold(t *testing.T) {
	p := benchPacks(t)[0]
	const milliVolts, percent = 40.0, 9.0 // per cell; of the current
	r := bench.NewDischargeReducer(p.pack, model.UsualProtocol(p.pack.Rated, 4), bench.ReduceSettings{})
	for _, s := range dischargeRows(p, bench.Run{VoltageNoise: 4e-3 * milliVolts, CurrentNoise: percent / 100, Source: rand.NewPCG(3, 9)}) {
		r.Add(s)
	}
	d, err := r.Finish()
	if err != nil {
		t.Fatal(err)
	}
	k := slices.IndexFunc(d.Findings, func(f bench.LogFinding) bool { return f.Code == bench.LogNoisy })
	if k < 0 || !d.Findings[k].Doubt {
		t.Fatalf("findings %+v", d.Findings)
	}
	var volts, amps float64
	if _, err := fmt.Sscanf(d.Findings[k].Text, "from row to row the voltage scatters by %f mV per cell and the current by %f %%", &volts, &amps); err != nil {
		t.Fatalf("%q: %v", d.Findings[k].Text, err)
	}
	if math.Abs(volts/milliVolts-1) > 0.15 || math.Abs(amps/percent-1) > 0.15 {
		t.Errorf("%q; the voltage scatters by %v mV, the current by %v %%", d.Findings[k].Text, milliVolts, percent)
	}
}

// TestReduceConstantMemory: rows do not allocate, however many they are.
func TestReduceConstantMemory(t *testing.T) {
	p := benchPacks(t)[0]
	r := bench.NewDischargeReducer(p.pack, model.UsualProtocol(p.pack.Rated, 4), bench.ReduceSettings{})
	rows := dischargeRows(p, bench.Run{Interval: 0.01})
	for _, s := range rows[:5000] {
		r.Add(s)
	}
	k := 5000
	if n := testing.AllocsPerRun(10000, func() { r.Add(rows[k]); k++ }); n != 0 {
		t.Errorf("a row allocates %g times", n)
	}
}

// TestReduceAnyBench is a property: whatever the rate, the noise, the resolution and a few
// stray readings or dropouts, figures stay near those of the simulator or the log is refused; nothing
// goes wrong silently.
func TestReduceAnyBench(t *testing.T) {
	packs := benchPacks(t)
	const seeds = 150
	refused := 0
	for seed := range uint64(seeds) {
		r := rand.New(rand.NewPCG(seed, 9))
		p := packs[r.IntN(len(packs))]
		run := bench.Run{
			Interval: []model.Time{0.05, 0.1, 0.1, 0.25, 0.5, 1}[r.IntN(6)], Rest: []model.Time{-1, 1, 2, 10}[r.IntN(4)],
			VoltageNoise: model.Voltage(r.Float64() * 0.015), CurrentNoise: r.Float64() * 0.02, Source: rand.NewPCG(seed, 11),
		}
		volts, amps := []float64{0, 0.001, 0.01, 0.02}[r.IntN(4)], []float64{0, 0.01, 0.05, 0.1}[r.IntN(4)]
		logs := [][]bench.Sample{dischargeRows(p, run), burstRows(p, run)}
		for _, rows := range logs {
			for k := range rows {
				if volts > 0 {
					rows[k].Voltage = model.Voltage(math.Round(float64(rows[k].Voltage)/volts) * volts)
				}
				if amps > 0 {
					rows[k].Current = model.Current(math.Round(float64(rows[k].Current)/amps) * amps)
				}
			}
			for range r.IntN(5) {
				k := r.IntN(len(rows))
				switch r.IntN(4) {
				case 0:
					rows[k].Voltage *= model.Voltage(0.2 + 1.5*r.Float64())
				case 1:
					rows[k].Current *= model.Current(3 * r.Float64())
				case 2:
					rows[k].Voltage, rows[k].Current = 0, 0
				default: // up to two seconds without a voltage, and with a current here and there
					for range r.IntN(int(2/run.Interval) + 1) {
						rows[k].Voltage *= 0
						rows[k].Current *= model.Current(r.IntN(2))
						k = min(k+1, len(rows)-1)
					}
				}
			}
		}
		d, err := reduceDischarge(p, logs[0])
		b, err2 := reduceBurst(p, logs[1])
		if err != nil || err2 != nil {
			refused++
			t.Logf("seed %d, %s: %v, %v", seed, p.name, err, err2)
			continue
		}
		want := p.circuit.Tests(model.UsualProtocol(p.pack.Rated, p.pack.Cells))
		for _, c := range []struct {
			name           string
			got, want, tol float64
		}{
			{"capacity", float64(d.Capacity), float64(want.Capacity), 0.01},
			{"energy", float64(d.Energy), float64(want.Energy), 0.01},
			{"mid voltage", float64(d.MidVoltage), float64(want.MidVoltage), 0.004},
			{"burst power", float64(b.Power), float64(want.BurstPower), 0.04},
		} {
			if math.Abs(c.got/c.want-1) > c.tol {
				t.Errorf("seed %d, %s at %g s: %s %+.2f %%; %v %v", seed, p.name, float64(run.Interval), c.name, 100*(c.got/c.want-1), d.Findings, b.Findings)
			}
		}
	}
	if refused > seeds/20 {
		t.Errorf("%d of %d refused", refused, seeds)
	}
}

// A voltage that falls some rows before the current comes is out of step with it, and the burst is as much too low; in
// one row, or for less than 0.4 s, it is only read a little later.
func TestVoltageFallsFirst(t *testing.T) {
	p := benchPacks(t)[0]
	for _, c := range []struct {
		interval model.Time
		rows     int
		doubt    string
	}{
		{0.25, 0, ""},
		{0.25, 1, ""},
		{0.25, 2, "the voltage falls 0.5 s before the current comes"},
		{0.1, 3, ""},
		{0.1, 5, "the voltage falls 0.5 s before the current comes"},
		{1, 1, ""},
		{1, 2, "the voltage falls 2 s before the current comes"},
	} {
		rows := burstBeyond(p, bench.Run{Interval: c.interval, Rest: 4})
		late := slices.Clone(rows)
		first := slices.IndexFunc(rows, func(s bench.Sample) bool { return s.Current > 0 })
		for k := range late {
			late[k].Current = rows[max(0, k-c.rows)].Current
		}
		b, err := reduceBurst(p, late)
		if err != nil {
			t.Fatal(err)
		}
		said := ""
		for _, f := range b.Findings {
			if f.Code == bench.LogLag && f.Doubt {
				said += f.Text
				if want := rows[first+c.rows].Line; f.Line != want {
					t.Errorf("%d rows of %v s: line %d, want %d", c.rows, c.interval, f.Line, want)
				}
			}
		}
		if (said != "") != (c.doubt != "") || !strings.HasPrefix(said, c.doubt) {
			t.Errorf("%d rows of %v s: %q, want %q", c.rows, c.interval, said, c.doubt)
		}
	}
}

// A step of a meter is seen beside the beginning of the ramp, too, where current and voltage bend; what is no step is
// not.
func TestStepBesideTheRamp(t *testing.T) {
	p := benchPacks(t)[0]
	protocol := model.UsualProtocol(p.pack.Rated, p.pack.Cells)
	amps := float64(protocol.ConditioningCurrent)
	for _, c := range []struct {
		name        string
		after       model.Time // the ramp's beginning
		volts, gain float64    // per cell; what is added, and of the current
		doubt       bool
	}{
		{"nothing", 0, 0, 0, false},
		{"voltage at the ramp", 0, 0.02, 0, true},
		{"voltage in the ramp", 2, 0.02, 0, true},
		{"voltage before the ramp", -2, -0.02, 0, true},
		{"current at the ramp", 0, 0, 0.1, true},
		{"current in the ramp", 1, 0, 0.1, true},
		{"current before the ramp", -1, 0, -0.1, true},
	} {
		rows := burstBeyond(p, bench.Run{Interval: 0.25})
		on := rows[slices.IndexFunc(rows, func(s bench.Sample) bool { return s.Current > 0 })].Time
		for k := range rows {
			if s := &rows[k]; s.Current > 0 && s.Time >= on+protocol.ConditioningTime+c.after {
				s.Voltage += model.Voltage(c.volts * float64(p.pack.Cells))
				s.Current += model.Current(c.gain * amps)
			}
		}
		b, err := reduceBurst(p, rows)
		if err != nil {
			t.Fatal(err)
		}
		if got := slices.ContainsFunc(b.Findings, func(f bench.LogFinding) bool { return f.Code == bench.LogStep && f.Doubt }); got != c.doubt {
			t.Errorf("%s: a doubt %v, want %v: %v", c.name, got, c.doubt, b.Findings)
		}
	}
}

// The current at the end of a burst is doubted where the rows do not tell it: far apart, or too noisy for their number.
func TestBurstEndUnsure(t *testing.T) {
	p := benchPacks(t)[0]
	for _, c := range []struct {
		name  string
		run   bench.Run
		every int // of the rows is kept
		doubt bench.LogCode
	}{
		{"usual", bench.Run{}, 1, ""},
		{"a row a second", bench.Run{Interval: 1}, 1, ""},
		{"a row in 4 s", bench.Run{}, 40, ""},
		{"a row in 8 s", bench.Run{}, 80, bench.LogSparse},
		{"5.5 % of noise, many rows", bench.Run{CurrentNoise: 0.055, Source: rand.NewPCG(3, 1)}, 1, ""},
		{"5.5 % of noise, a row a second", bench.Run{Interval: 1, CurrentNoise: 0.055, Source: rand.NewPCG(3, 1)}, 1, bench.LogNoisy},
		{"2 % of noise, a row a second", bench.Run{Interval: 1, CurrentNoise: 0.02, Source: rand.NewPCG(3, 1)}, 1, ""},
	} {
		var rows []bench.Sample
		for k, s := range burstBeyond(p, c.run) {
			if k%c.every == 0 {
				rows = append(rows, s)
			}
		}
		b, err := reduceBurst(p, rows)
		if err != nil {
			t.Fatal(err)
		}
		var doubts []bench.LogCode
		for _, f := range b.Findings {
			if f.Doubt && (f.Code == bench.LogSparse || f.Code == bench.LogNoisy) {
				doubts = append(doubts, f.Code)
			}
		}
		want := []bench.LogCode{c.doubt}
		if c.doubt == "" {
			want = nil
		}
		if !slices.Equal(doubts, want) {
			t.Errorf("%s: doubts %v, want %v: %v", c.name, doubts, want, b.Findings)
		}
	}
}

// Two logs of one pack are of one pack also where their loads are a fifth apart, and its state is as another day's: 2 %
// of its resistance and 1 % of its charge. A pair of which one log is missing is not compared.
func TestPairOfOnePack(t *testing.T) {
	for _, p := range benchPacks(t) {
		protocol := model.UsualProtocol(p.pack.Rated, p.pack.Cells)
		other := p
		other.circuit.R0 *= 1.02
		other.circuit.R1 *= 1.02
		other.circuit.Capacity *= 0.99
		b, err := reduceBurst(other, burstRows(other, bench.Run{}))
		if err != nil {
			t.Fatal(err)
		}
		for _, c := range []float64{12.5, 15, 18.5} {
			load := model.ConstantPower(model.Power(c / 15 * float64(protocol.DischargePower)))
			d, err := reduceDischarge(p, bench.Run{}.Discharge(p.circuit, load, protocol.DischargeEndPerCell))
			if err != nil {
				t.Fatal(err)
			}
			if list, known := bench.ComparePair(p.pack.Cells, &d, &b); !known || len(list) > 0 {
				t.Errorf("%s at %v C: %v, known %v", p.name, c, list, known)
			}
			if _, known := bench.ComparePair(p.pack.Cells, &d, nil); known {
				t.Error("a discharge alone was compared")
			}
		}
		if _, known := bench.ComparePair(p.pack.Cells, nil, &b); known {
			t.Error("a burst alone was compared")
		}
	}
}

// Stray rows are left out; where more than a tenth of the rows are stray, what is kept is doubted.
func TestShareOfStrayRows(t *testing.T) {
	p := benchPacks(t)[0]
	for _, c := range []struct {
		every int
		doubt bool
	}{{12, false}, {8, true}} {
		rows := dischargeRows(p, bench.Run{Rest: 2})
		first := slices.IndexFunc(rows, func(s bench.Sample) bool { return s.Current > 0 })
		for k := range rows {
			if k > first+5 && k%c.every == 0 && k < len(rows)-60 || k < first && k%c.every == 3 {
				rows[k].Voltage *= 1.3
			}
		}
		d, err := reduceDischarge(p, rows)
		if err != nil {
			t.Fatal(err)
		}
		at := slices.IndexFunc(d.Findings, func(f bench.LogFinding) bool { return f.Code == bench.LogGlitch })
		if at < 0 || d.Findings[at].Doubt != c.doubt || strings.Contains(d.Findings[at].Text, "%") != c.doubt {
			t.Errorf("one row in %d stray: %v, want a doubt: %v", c.every, d.Findings, c.doubt)
		}
	}
}

// Rows that are missing right before the end, with the clock closed up, are told however few rows lie between the jump
// and the end voltage.
func TestHoleBeforeTheEnd(t *testing.T) {
	p := benchPacks(t)[0]
	end := model.Voltage(p.pack.Cells) * model.UsualProtocol(p.pack.Rated, p.pack.Cells).DischargeEndPerCell
	for left := range 9 {
		rows := dischargeRows(p, bench.Run{Interval: 0.25})
		first := slices.IndexFunc(rows, func(s bench.Sample) bool { return s.Current > 0 })
		below := slices.IndexFunc(rows, func(s bench.Sample) bool { return s.Voltage <= end })
		to := below - left
		from := first + (to-first)/2
		by := rows[to].Time - rows[from].Time
		for k := to; k < len(rows); k++ {
			rows[k].Time -= by
		}
		hole := rows[to].Line
		d, err := reduceDischarge(p, slices.Delete(rows, from, to))
		refusal, _ := errors.AsType[*bench.LogError](err)
		doubted := slices.ContainsFunc(d.Findings, func(f bench.LogFinding) bool { return f.Doubt && f.Code == bench.LogStep })
		if !doubted && (refusal == nil || refusal.Code != bench.LogSuddenEnd || refusal.Line != hole) {
			t.Errorf("%d rows before the end: %v and %v, want a step or a sudden end in line %d", left, err, d.Findings, hole)
		}
	}
}

// A log whose last row alone is below the end voltage, out of the blue, has no end: the voltmeter hung before, or hangs
// there. Rows so far apart that a pack may fall as much from one to the next are another case.
func TestStrayLastRow(t *testing.T) {
	p := benchPacks(t)[0]
	for _, c := range []struct {
		interval model.Time
		code     bench.LogCode
	}{{0.1, bench.LogSuddenEnd}, {0.5, bench.LogSuddenEnd}, {20, ""}} {
		rows := dischargeRows(p, bench.Run{Interval: c.interval})
		first := slices.IndexFunc(rows, func(s bench.Sample) bool { return s.Current > 0 })
		cut := first + int(70/c.interval)
		rows = rows[:cut+1]
		rows[cut].Voltage *= 0.6
		_, err := reduceDischarge(p, rows)
		refusal, _ := errors.AsType[*bench.LogError](err)
		switch {
		case c.code == "" && refusal != nil && refusal.Code == bench.LogSuddenEnd:
			t.Errorf("a row in %v s: %v", c.interval, err)
		case c.code != "" && (refusal == nil || refusal.Code != c.code || refusal.Line != rows[cut].Line):
			t.Errorf("a row in %v s: %v, want %s in line %d", c.interval, err, c.code, rows[cut].Line)
		}
	}
}
