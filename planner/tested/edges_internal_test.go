package tested

import (
	"reflect"
	"slices"
	"strings"
	"testing"

	"allup/catalog"
	"allup/model"
	"allup/model/bench"
	"allup/planner"
)

// Two tests are one where each of their loads, ends and ramps differs by less than benches do, and not else.
func TestSameTest(t *testing.T) {
	power := model.Protocol{DischargePower: 50, DischargeEndPerCell: 3.1, ConditioningCurrent: 10, ConditioningTime: 48, Ramp: 2, BurstEndPerCell: 3.3}
	current := power
	current.DischargePower, current.DischargeCurrent = 0, 15
	if !sameTest(power, power) || !sameTest(current, current) || sameTest(power, current) || sameTest(current, power) {
		t.Error("a test is itself, and at constant power it is none at constant current")
	}
	for _, c := range []struct {
		name       string
		of         model.Protocol
		field      func(*model.Protocol) *float64
		near, away float64
	}{
		{"power", power, func(p *model.Protocol) *float64 { return (*float64)(&p.DischargePower) }, 51.4, 51.6},
		{"less power", power, func(p *model.Protocol) *float64 { return (*float64)(&p.DischargePower) }, 48.6, 48.4},
		{"current", current, func(p *model.Protocol) *float64 { return (*float64)(&p.DischargeCurrent) }, 15.4, 15.5},
		{"end", power, func(p *model.Protocol) *float64 { return (*float64)(&p.DischargeEndPerCell) }, 3.119, 3.121},
		{"lower end", power, func(p *model.Protocol) *float64 { return (*float64)(&p.DischargeEndPerCell) }, 3.081, 3.079},
		{"burst end", power, func(p *model.Protocol) *float64 { return (*float64)(&p.BurstEndPerCell) }, 3.319, 3.321},
		{"conditioning", power, func(p *model.Protocol) *float64 { return (*float64)(&p.ConditioningCurrent) }, 10.25, 10.35},
		{"its time", power, func(p *model.Protocol) *float64 { return (*float64)(&p.ConditioningTime) }, 51, 51.1},
		{"ramp", power, func(p *model.Protocol) *float64 { return &p.Ramp }, 2.19, 2.2},
	} {
		for v, want := range map[float64]bool{c.near: true, c.away: false} {
			other := c.of
			*c.field(&other) = v
			if sameTest(c.of, other) != want || sameTest(other, c.of) != want {
				t.Errorf("%s of %v is the same test: %v", c.name, v, !want)
			}
		}
	}
	// Each of two is in its bounds, but what both take of the charge is not.
	other := power
	other.ConditioningCurrent, other.ConditioningTime = 10.29, 50
	if sameTest(power, other) {
		t.Error("conditioning takes 7 % more and is the same")
	}
}

func fieldPack(id string, set func(*FieldPack)) FieldPack {
	p := FieldPack{Pack: &planner.Pack{Pack: &catalog.Pack{Common: catalog.Common{ID: id}, Cells: 4, Rated: 600 * model.MilliAmpH}}, Standings: map[Measure]Standing{}}
	if set != nil {
		set(&p)
	}
	return p
}

func priced(currency string) FieldPack {
	return fieldPack(currency, func(p *FieldPack) { price := 1.0; p.Price, p.Currency = &price, currency })
}

// Of two currencies that as many prices have the first by name is compared, whatever the order.
func TestCommonCurrency(t *testing.T) {
	eur, usd, none := priced("EUR"), priced("USD"), fieldPack("none", nil)
	for _, c := range []struct {
		packs []FieldPack
		want  string
	}{
		{nil, ""},
		{[]FieldPack{none, none}, ""},
		{[]FieldPack{none, usd, none}, "USD"},
		{[]FieldPack{eur, usd}, "EUR"},
		{[]FieldPack{usd, eur}, "EUR"},
		{[]FieldPack{usd, eur, usd}, "USD"},
		{[]FieldPack{eur, usd, usd, eur}, "EUR"},
		{[]FieldPack{usd, usd, eur, eur}, "EUR"},
	} {
		g := FieldGroup{Packs: c.packs}
		if got := g.commonCurrency(); got != c.want {
			t.Errorf("%d prices: %q, want %q", len(c.packs), got, c.want)
		}
	}
}

// A value stands out from a quarter off the median on, in groups of three and more; of the ranks that go together one
// may be half a group from the other.
func TestStandsOut(t *testing.T) {
	said := func(size int, set func(*FieldPack)) []string {
		g := FieldGroup{Packs: make([]FieldPack, size)}
		p := fieldPack("x", set)
		var out []string
		for _, r := range p.standsOut(&g) {
			out = append(out, string(r.Code)+": "+r.Text)
		}
		return out
	}
	standing := func(m Measure, s Standing) func(*FieldPack) {
		return func(p *FieldPack) { p.Standings[m] = s }
	}
	ranks := func(volts, watts int) func(*FieldPack) {
		return func(p *FieldPack) {
			p.Standings[MidPerCell], p.Standings[WPerGram] = Standing{Rank: volts, Ratio: 1}, Standing{Rank: watts, Ratio: 1}
		}
	}
	worn := func(cycles int) func(*FieldPack) {
		return func(p *FieldPack) { p.Standings[Delivered], p.TestCycles = Standing{Value: 0.8, Ratio: 1}, &cycles }
	}
	const conflict = "voltage-no-power: is number %s of 6: the two come from one resistance and should go together"
	for _, c := range []struct {
		name string
		size int
		set  func(*FieldPack)
		want string // of the one remark that there is; "" for none
	}{
		{"above", 3, standing(WPerGram, Standing{Ratio: 1.26}), "stands-out: has a power density 26 % above the median of its group"},
		{"below", 3, standing(WhPerGram, Standing{Ratio: 0.74}), "stands-out: has an energy density 26 % below the median of its group"},
		{"a quarter", 3, standing(R0TimesQ, Standing{Ratio: 1.25}), "stands-out: has an R0 for its size 25 % above the median of its group"},
		{"a quarter less", 3, standing(PricePerWh, Standing{Ratio: 0.75}), "stands-out: has a price per Wh 25 % below the median of its group"},
		{"nearly a quarter", 3, standing(WPerGram, Standing{Ratio: 1.249}), ""},
		{"a small group", 2, standing(WPerGram, Standing{Ratio: 1.26}), ""},
		{"C follows from power", 3, standing(TestedC, Standing{Ratio: 2}), ""},
		{"label kept", 1, standing(Delivered, Standing{Value: 0.88, Ratio: 1}), ""},
		{"label not kept", 1, standing(Delivered, Standing{Value: 0.87, Ratio: 1}), "over-labelled: promises more than it delivers: 522 of the 600 mAh on its label, 87 %, "},
		{"worn", 3, worn(30), ""},
		{"hardly worn", 3, worn(29), "over-labelled: promises more than it delivers: 480 of the 600 mAh on its label, 80 %, "},
		{"ranks apart", 6, ranks(1, 5), strings.Replace(conflict, "%s", "1 by mid voltage and number 5 by power density", 1)},
		{"ranks apart the other way", 6, ranks(6, 2), strings.Replace(conflict, "%s", "6 by mid voltage and number 2 by power density", 1)},
		{"half a group", 6, ranks(1, 4), ""},
		{"only a voltage", 6, standing(MidPerCell, Standing{Rank: 6, Ratio: 1}), ""},
		{"only a power", 6, standing(WPerGram, Standing{Rank: 6, Ratio: 1}), ""},
	} {
		got := said(c.size, c.set)
		if c.want == "" && len(got) > 0 || c.want != "" && (len(got) != 1 || !strings.HasPrefix(got[0], c.want)) {
			t.Errorf("%s: said %q, want %q", c.name, got, c.want)
		}
	}
}

// Best and worst of a group are far apart from a factor of one and a half on; packs without a power do not count, and
// of equal ones the first is named.
func TestGroupSpread(t *testing.T) {
	power := func(id string, v float64) FieldPack {
		return fieldPack(id, func(p *FieldPack) { p.Standings[WPerGram] = Standing{Value: v} })
	}
	none := fieldPack("none", nil)
	for _, c := range []struct {
		packs []FieldPack
		want  string
	}{
		{nil, ""},
		{[]FieldPack{none}, ""},
		{[]FieldPack{power("a", 6)}, ""},
		{[]FieldPack{power("a", 6), power("b", 8.9), none}, ""},
		{[]FieldPack{power("a", 6), none, power("b", 9.06), power("c", 7)}, "all packs: b gives 9.1 W/g, a 6.0 W/g: a factor of 1.5 between packs that look alike"},
		{[]FieldPack{power("a", 9), power("b", 9), power("c", 4), power("d", 4)}, "all packs: a gives 9.0 W/g, c 4.0 W/g: a factor of 2.2 between packs that look alike"},
	} {
		g := FieldGroup{Packs: c.packs}
		got, ok := g.spread()
		if ok != (c.want != "") || ok && (got.Text != c.want || got.Code != FarAhead || got.Subject != "") {
			t.Errorf("%d packs: %+v, want %q", len(c.packs), got, c.want)
		}
		if said := g.remarks(); ok && (len(said) == 0 || said[0].Code != FarAhead) {
			t.Errorf("the spread does not stand first: %v", said)
		}
	}
}

// What preparing a pack found is said in one order: a doubt before a low end; nothing else is.
func TestFromPreparing(t *testing.T) {
	p := fieldPack("x", func(p *FieldPack) {
		for _, code := range []planner.Code{planner.HotPack, planner.LowTestEnd, planner.Doubtful, planner.Doubtful} {
			p.Remarks = append(p.Remarks, planner.Remark{Code: code, Text: string(code)})
		}
	})
	want := []planner.Remark{{Code: planner.Doubtful, Text: string(planner.Doubtful)}, {Code: planner.LowTestEnd, Text: string(planner.LowTestEnd)}}
	if got := p.fromPreparing(); !slices.Equal(got, want) {
		t.Errorf("said %v, want %v", got, want)
	}
}

func benchReading() *reading {
	p := &catalog.BenchPack{Pack: catalog.Pack{Common: catalog.Common{ID: "p"}, Cells: 4, Rated: 600 * model.MilliAmpH, Chemistry: model.LiPo}, Burst: "b.csv"}
	return &reading{ReducedPack: &ReducedPack{Bench: p}}
}

func dischargeOf(name string, milliAmpHours float64) discharged {
	return discharged{name, bench.DischargeReduction{Capacity: model.Charge(milliAmpHours) * model.MilliAmpH}}
}

// A capacity from 0.02 to 1.5 times the label, and a burst of up to 300 C, may be; others are refused by name.
func TestRefuseImplausible(t *testing.T) {
	const hint = "; is a unit in the header wrong, ms or mA, or is the log of another pack?"
	refused := func(subject, text string) []planner.Remark {
		return []planner.Remark{{Code: Implausible, Subject: subject, Text: text + hint}}
	}
	for _, c := range []struct {
		mah   []float64
		burst model.Current
		want  []planner.Remark
	}{
		{[]float64{600, 13, 899}, 179, nil},
		{nil, 180, nil},
		{[]float64{600, 11}, 0, refused("b", "the capacity would be 11 mAh, 0.018 times the 600 mAh on the label, where 0.02 to 1.5 times is possible")},
		{[]float64{910}, 0, refused("a", "the capacity would be 910 mAh, 1.5 times the 600 mAh on the label, where 0.02 to 1.5 times is possible")},
		{nil, 181, refused("b.csv", "the burst current would be 181 A, 302 C, where up to 300 C is possible")},
	} {
		r := benchReading()
		for i, mah := range c.mah {
			r.ran = append(r.ran, dischargeOf(string(rune('a'+i)), mah))
		}
		r.Metrics.BurstCurrent = c.burst
		r.refuseImplausible()
		if !slices.Equal(r.Failed, c.want) {
			t.Errorf("%v mAh and %v A: %v, want %v", c.mah, c.burst, r.Failed, c.want)
		}
	}
}

// A capacity of over 1.2 times the label is doubted, and one below 0.45 where the circuit, if there is one, has no
// more.
func TestDoubtShare(t *testing.T) {
	const another = ": is the log of another pack, or a gain or a clock wrong?"
	for _, c := range []struct {
		delivered, circuit float64 // mAh; 0 for none
		want               string
	}{
		{0, 100, ""},
		{719, 0, ""},
		{721, 0, "capacity is 120 % of the label, where 120 % is much" + another},
		{721, 600, "capacity is 120 % of the label, where 120 % is much" + another},
		{600, 721, ""},
		{271, 0, ""},
		{269, 0, "capacity is 45 % of the label, where 45 % is little" + another},
		{200, 271, ""},
		{200, 250, "capacity of the circuit is 42 % of the label, where 45 % is little" + another},
		{300, 269, "capacity of the circuit is 45 % of the label, where 45 % is little" + another},
	} {
		r := benchReading()
		r.Metrics.Capacity = model.Charge(c.delivered) * model.MilliAmpH
		if c.circuit > 0 {
			r.Fit = &model.LogFit{}
			r.Fit.Circuit.Capacity = model.Charge(c.circuit) * model.MilliAmpH
		}
		r.doubtShare()
		var want []planner.Remark
		if c.want != "" {
			want = []planner.Remark{{Code: Implausible, Subject: "p", Text: c.want}}
		}
		if !slices.Equal(r.Doubts, want) || !slices.Equal(r.Remarks, want) {
			t.Errorf("%v mAh, circuit %v: %v and %v, want %v", c.delivered, c.circuit, r.Doubts, r.Remarks, want)
		}
	}
}

// The tested metrics are those of the discharge nearest to the protocol's load as a factor; of two as near the one with
// more capacity, then with more energy.
func TestChooseDischarge(t *testing.T) {
	run := func(name string, watts model.Power, amps model.Current, mah float64, wh model.Energy) discharged {
		d := dischargeOf(name, mah)
		d.Power, d.Current, d.Energy = watts, amps, wh
		return d
	}
	power, current := model.Protocol{DischargePower: 100}, model.Protocol{DischargeCurrent: 8}
	for _, c := range []struct {
		name     string
		protocol model.Protocol
		ran      []discharged
		want     string
	}{
		{"none", power, nil, ""},
		{"one", power, []discharged{run("a", 3, 1, 1, 1)}, "a"},
		{"power", power, []discharged{run("a", 40, 8, 600, 9), run("b", 120, 3, 600, 9)}, "b"},
		{"current", current, []discharged{run("a", 40, 8, 600, 9), run("b", 100, 3, 600, 9)}, "a"},
		{"half is as far as twice", power, []discharged{run("a", 60, 0, 600, 9), run("b", 150, 0, 600, 9)}, "b"},
		{"more capacity", power, []discharged{run("a", 100, 0, 590, 9), run("b", 100, 0, 600, 8)}, "b"},
		{"more energy", power, []discharged{run("a", 100, 0, 600, 8), run("b", 100, 0, 600, 9)}, "b"},
		{"equal", power, []discharged{run("a", 100, 0, 600, 9), run("b", 100, 0, 600, 9)}, "a"},
	} {
		r := benchReading()
		r.protocol, r.ran = c.protocol, slices.Clone(c.ran)
		r.chooseDischarge()
		if c.want == "" {
			if r.Discharge != nil {
				t.Errorf("%s: %+v is chosen", c.name, r.Discharge)
			}
			continue
		}
		if r.ran[0].name != c.want || r.Discharge != &r.ran[0].DischargeReduction {
			t.Errorf("%s: %s is chosen, want %s", c.name, r.ran[0].name, c.want)
		}
		var want []planner.Remark
		if len(c.ran) > 1 {
			want = []planner.Remark{{Code: RateMetrics, Subject: "p", Text: "has several discharges: the tested metrics are those of " + c.want + ", nearest to the protocol's load, the circuit is that of all"}}
		}
		if !slices.Equal(r.Remarks, want) || len(r.Doubts) > 0 {
			t.Errorf("%s: %v and doubts %v, want %v", c.name, r.Remarks, r.Doubts, want)
		}
	}
}

// Only of a load that the bench file states it is a doubt that the log has another.
func TestAsStated(t *testing.T) {
	findings := func(load, conditioning bool) []bench.LogFinding {
		return []bench.LogFinding{{Code: bench.LogOtherLoad, Doubt: load}, {Code: bench.LogConditioning, Doubt: conditioning}, {Code: bench.LogTwoPacks, Doubt: true}, {Code: bench.LogNoEnd}}
	}
	if got := asStated(findings(true, true), true); !slices.Equal(got, findings(true, true)) {
		t.Errorf("stated: %v", got)
	}
	if got := asStated(findings(true, true), false); !slices.Equal(got, findings(false, false)) {
		t.Errorf("not stated: %v", got)
	}
	if got := asStated(findings(false, false), true); !slices.Equal(got, findings(false, false)) {
		t.Errorf("stated, and as stated: %v", got)
	}
}

// Where no pair of logs tells that a pack was full, each log that begins under load is doubted.
func TestBeginsUnderLoad(t *testing.T) {
	at := func(rest model.Voltage) model.Trace { return model.Trace{Rest: rest} }
	for _, c := range []struct {
		name             string
		discharge, burst model.Voltage // at rest; below 0 for no log
		want             []string
	}{
		{"neither log", -1, -1, nil},
		{"at rest", 16.8, -1, nil},
		{"burst at rest", -1, 16.8, nil},
		{"under load", 0, -1, []string{"discharge begins under load, and no other log tells whether the pack was full"}},
		{"burst under load", -1, 0, []string{"burst begins under load, and no other log tells whether the pack was full"}},
		{"both", 0, 0, []string{"discharge begins under load, and no other log tells whether the pack was full", "burst begins under load, and no other log tells whether the pack was full"}},
		{"only the burst at rest", 0, 16.8, []string{"discharge begins under load, and no other log tells whether the pack was full"}},
	} {
		r := benchReading()
		if c.discharge >= 0 {
			r.Discharge = &bench.DischargeReduction{Trace: at(c.discharge)}
		}
		if c.burst >= 0 {
			r.Burst = &bench.BurstReduction{Trace: at(c.burst)} // without conditioning: nothing to compare
		}
		r.compareLogs()
		var got []string
		for _, d := range r.Doubts {
			if d.Code != planner.Code(bench.LogNoRest) || d.Subject != "p" {
				t.Errorf("%s: %+v", c.name, d)
			}
			got = append(got, d.Text)
		}
		if !slices.Equal(got, c.want) || !slices.Equal(r.Remarks, r.Doubts) {
			t.Errorf("%s: %q, want %q", c.name, got, c.want)
		}
	}
}

// Each field that a bench file leaves out is borrowed from a record of the same label, and none that it states.
func TestBorrow(t *testing.T) {
	price, other, amps, otherAmps := 12.0, 15.0, model.Current(40), model.Current(50)
	old := catalog.Pack{
		Common: catalog.Common{ID: "p", Name: "Old", Price: &price, Currency: "EUR", URL: "u", Note: "n"},
		Cells:  4, Rated: 600 * model.MilliAmpH, Chemistry: model.LiPo, Size: &catalog.Box{L: 1, W: 2, H: 3}, Plug: "xt30", MaxCurrent: &amps,
	}
	own := catalog.Pack{
		Common: catalog.Common{ID: "p", Name: "Own", Price: &other, Currency: "USD", URL: "v"},
		Cells:  4, Rated: 600 * model.MilliAmpH, Chemistry: model.LiPo, Size: &catalog.Box{L: 4, W: 5, H: 6}, Plug: "xt60", MaxCurrent: &otherAmps,
	}
	bare := catalog.Pack{Common: catalog.Common{ID: "p", Name: "p"}, Cells: 4, Rated: 600 * model.MilliAmpH, Chemistry: model.LiPo}
	all := bare
	all.Name, all.Price, all.Currency, all.URL, all.Size, all.Plug, all.MaxCurrent = old.Name, old.Price, old.Currency, old.URL, old.Size, old.Plug, old.MaxCurrent
	changed := func(p catalog.Pack, set func(*catalog.Pack)) catalog.Pack { set(&p); return p }
	for _, c := range []struct {
		name     string
		pack, of catalog.Pack
		want     catalog.Pack
		said     string
	}{
		{"all", bare, old, all, "takes name, size_mm, plug, max_current_a, price and url from the catalogue's record of that id"},
		{"none", own, old, own, ""},
		{"nothing to take", bare, bare, bare, ""},
		{"plug", changed(own, func(p *catalog.Pack) { p.Plug = "" }), old, changed(own, func(p *catalog.Pack) { p.Plug = "xt30" }), "takes plug from the catalogue's record of that id"},
		{"nearly its label", bare, changed(old, func(p *catalog.Pack) { p.Rated *= 1.0009 }), all, "takes name, size_mm, plug, max_current_a, price and url from the catalogue's record of that id"},
		{"another label", bare, changed(old, func(p *catalog.Pack) { p.Rated *= 1.0011 }), bare, ""},
		{"a smaller label", bare, changed(old, func(p *catalog.Pack) { p.Rated *= 0.9989 }), bare, ""},
		{"other cells", bare, changed(old, func(p *catalog.Pack) { p.Cells = 3 }), bare, ""},
		{"other chemistry", bare, changed(old, func(p *catalog.Pack) { p.Chemistry = model.LiHV }), bare, ""},
	} {
		r := benchReading()
		known := catalog.New()
		known.Packs["p"] = &c.of
		got := c.pack
		r.borrow(&got, known)
		said := ""
		for _, remark := range r.Remarks {
			said += remark.Text
		}
		if !reflect.DeepEqual(got, c.want) || said != c.said {
			t.Errorf("%s: %+v, %q; want %+v, %q", c.name, got, said, c.want, c.said)
		}
	}
}

// Every figure that a record writes is rounded to the digits of a record, in the unit of its field.
func TestRoundedForRecord(t *testing.T) {
	const odd = 1.23456789123
	m := model.TestedMetrics{
		Protocol: model.Protocol{DischargePower: odd, DischargeCurrent: odd, ConditioningCurrent: odd, ConditioningTime: odd, Ramp: odd},
		Capacity: odd * model.MilliAmpH, Energy: odd * model.WattHour, MidVoltage: odd, BurstPower: odd, BurstCurrent: odd,
	}
	c := model.Circuit{Capacity: odd * model.MilliAmpH, R0: odd * model.MilliOhm, R1: odd * model.MilliOhm, Tau: odd, Shift: odd * 1e-3, K: odd}
	roundMetrics(&m)
	roundCircuit(&c)
	want := catalog.RoundForRecord(odd)
	for name, v := range map[string]float64{
		"power": float64(m.Protocol.DischargePower), "current": float64(m.Protocol.DischargeCurrent), "conditioning": float64(m.Protocol.ConditioningCurrent),
		"its time": float64(m.Protocol.ConditioningTime), "ramp": m.Protocol.Ramp, "capacity": m.Capacity.MilliAmpHours(), "energy": m.Energy.WattHours(),
		"mid voltage": float64(m.MidVoltage), "burst power": float64(m.BurstPower), "burst current": float64(m.BurstCurrent),
		"circuit's capacity": c.Capacity.MilliAmpHours(), "R0": c.R0.MilliOhms(), "R1": c.R1.MilliOhms(), "tau": float64(c.Tau), "shift": 1e3 * float64(c.Shift), "K": c.K,
	} {
		if d := v - want; d > 1e-12 || d < -1e-12 {
			t.Errorf("%s is %.12g, want %.12g", name, v, want)
		}
	}
}
