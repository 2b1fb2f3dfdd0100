package bench

import (
	"strings"
	"testing"

	"allup/model"
)

// said are findings as "code: text", with "!" before those that are doubts.
func said(list []LogFinding) string {
	var out []string
	for _, f := range list {
		mark := ""
		if f.Doubt {
			mark = "!"
		}
		out = append(out, mark+string(f.Code)+": "+f.Text)
	}
	return strings.Join(out, "; ")
}

// What of a burst is another than the protocol's is said from its bounds on, and doubted where one of the two is wrong.
func TestBurstAgainstProtocol(t *testing.T) {
	rated := 600 * model.MilliAmpH // 9 A for 48 s are a fifth of it
	r := &BurstReducer{pack: TestedPack{Cells: 4, Rated: rated}, protocol: model.Protocol{ConditioningCurrent: 9, ConditioningTime: 48, Ramp: 1.2}}
	kept := BurstReduction{InRamp: true, ConditioningCurrent: 9, ConditioningTime: 48, ConditioningShare: 0.2, Ramp: 1.2, End: LogEnd{Interval: 0.1, Line: 7}}
	for _, c := range []struct {
		name string
		set  func(*BurstReduction)
		want string
	}{
		{"as the protocol has it", func(*BurstReduction) {}, ""},
		{
			"no ramp", func(b *BurstReduction) {
				b.InRamp, b.ConditioningTime, b.ConditioningShare, b.Ramp = false, 30, 0.125, 0
			},
			string(LogNoRamp) + ": the burst end voltage was met after 30 s of conditioning at 9 A: the pack never came to the ramp",
		},
		{"a little more charge", func(b *BurstReduction) { b.ConditioningShare = 0.219 }, ""},
		{"more charge", func(b *BurstReduction) { b.ConditioningShare = 0.221 }, string(LogConditioning) + ": conditioning removed 22.1 % of the rated charge, not the protocol's 20 %"},
		{"less charge", func(b *BurstReduction) { b.ConditioningShare = 0.179 }, string(LogConditioning) + ": conditioning removed 17.9 % of the rated charge, not the protocol's 20 %"},
		{"a little more current", func(b *BurstReduction) { b.ConditioningCurrent = 9.35 }, ""},
		{"more current", func(b *BurstReduction) { b.ConditioningCurrent = 9.37 }, "!" + string(LogOtherLoad) + ": conditioning at 9.37 A, not the protocol's 9 A"},
		{"less current", func(b *BurstReduction) { b.ConditioningCurrent = 8.63 }, "!" + string(LogOtherLoad) + ": conditioning at 8.63 A, not the protocol's 9 A"},
		{"a little later", func(b *BurstReduction) { b.ConditioningTime = 48.99 }, ""},
		{"later", func(b *BurstReduction) { b.ConditioningTime = 49.01 }, "!" + string(LogConditioning) + ": the ramp begins after 49.01 s, not after the protocol's 48 s"},
		{"earlier", func(b *BurstReduction) { b.ConditioningTime = 46.9 }, "!" + string(LogConditioning) + ": the ramp begins after 46.9 s, not after the protocol's 48 s"},
		{"a row later where rows are far apart", func(b *BurstReduction) { b.ConditioningTime, b.End.Interval = 49.9, 2 }, ""},
		{"more than a row later", func(b *BurstReduction) { b.ConditioningTime, b.End.Interval = 50.1, 2 }, "!" + string(LogConditioning) + ": the ramp begins after 50.1 s, not after the protocol's 48 s"},
		{"a little steeper", func(b *BurstReduction) { b.Ramp = 1.27 }, ""},
		{"steeper", func(b *BurstReduction) { b.Ramp = 1.28 }, "!" + string(LogOtherLoad) + ": a ramp of 1.28 A/s, not the protocol's 1.2 A/s"},
		{"less steep", func(b *BurstReduction) { b.Ramp = 1.12 }, "!" + string(LogOtherLoad) + ": a ramp of 1.12 A/s, not the protocol's 1.2 A/s"},
		{"sparse", func(b *BurstReduction) { b.End.CurrentStep, b.End.Interval = 0.031, shortestExtrapolation }, string(LogSparse) + ": 0.05 s between the rows around the end voltage, in which the current changed by 3.1 %"},
		{"nearly sparse", func(b *BurstReduction) { b.End.CurrentStep, b.End.Interval = 0.029, shortestExtrapolation }, ""},
		{"a jump within short rows", func(b *BurstReduction) { b.End.CurrentStep, b.End.Interval = 0.031, 0.99*shortestExtrapolation }, ""},
	} {
		b := kept
		c.set(&b)
		if got := said(r.protocolFindings(b)); got != c.want {
			t.Errorf("%s: said %q, want %q", c.name, got, c.want)
		}
	}
	// A protocol of a ramp alone has neither a level nor a time of conditioning to miss.
	r.protocol.ConditioningCurrent, r.protocol.ConditioningTime = 0, 0
	kept.ConditioningCurrent, kept.ConditioningTime, kept.ConditioningShare = 0, 0, 0
	if got := said(r.protocolFindings(kept)); got != "" {
		t.Errorf("a ramp alone: said %q", got)
	}
}

// The same of a discharge, at constant power and at constant current.
func TestDischargeAgainstProtocol(t *testing.T) {
	power, current := model.Protocol{DischargePower: 100}, model.Protocol{DischargeCurrent: 8}
	for _, c := range []struct {
		name     string
		protocol model.Protocol
		d        DischargeReduction
		want     string
	}{
		{"as the protocol has it", power, DischargeReduction{Held: HeldPower, Power: 100, Current: 7, HeldWithin: 0.03}, ""},
		{"a little more", power, DischargeReduction{Held: HeldPower, Power: 102.9}, ""},
		{"more", power, DischargeReduction{Held: HeldPower, Power: 103.1}, string(LogOtherLoad) + ": 103.1 W, not the protocol's 100 W"},
		{"less", power, DischargeReduction{Held: HeldPower, Power: 96.9}, string(LogOtherLoad) + ": 96.9 W, not the protocol's 100 W"},
		{"surely more", power, DischargeReduction{Held: HeldPower, Power: 104.1}, "!" + string(LogOtherLoad) + ": 104.1 W, not the protocol's 100 W"},
		{"surely less", power, DischargeReduction{Held: HeldPower, Power: 95.9}, "!" + string(LogOtherLoad) + ": 95.9 W, not the protocol's 100 W"},
		{"a current", power, DischargeReduction{Held: HeldCurrent, Power: 100, Current: 7}, "!" + string(LogOtherLoad) + ": a constant current of 7 A, not the protocol's constant power of 100 W"},
		{"its current", current, DischargeReduction{Held: HeldCurrent, Power: 100, Current: 8.2}, ""},
		{"more current", current, DischargeReduction{Held: HeldCurrent, Current: 8.3}, string(LogOtherLoad) + ": 8.3 A, not the protocol's 8 A"},
		{"surely less current", current, DischargeReduction{Held: HeldCurrent, Current: 7.6}, "!" + string(LogOtherLoad) + ": 7.6 A, not the protocol's 8 A"},
		{"not held", power, DischargeReduction{Held: HeldPower, Power: 100, HeldWithin: 0.031}, string(LogNotHeld) + ": the power was held within 3.1 % only"},
		{"nothing held", power, DischargeReduction{Held: HeldNothing, Power: 100, HeldWithin: 0.2}, string(LogNotHeld) + ": the load was held within 20 % only"},
		{"sparse", power, DischargeReduction{Held: HeldPower, Power: 100, Current: 7, End: LogEnd{Interval: 1.6}, Capacity: 2160}, string(LogSparse) + ": 1.6 s between the rows around the end voltage, 0.52 % of the charge"},
		{"nearly sparse", power, DischargeReduction{Held: HeldPower, Power: 100, Current: 7, End: LogEnd{Interval: 1.5}, Capacity: 2160}, ""},
	} {
		if c.d.Capacity == 0 {
			c.d.Capacity = 2160
		}
		r := &DischargeReducer{protocol: c.protocol}
		if got := said(r.protocolFindings(c.d)); got != c.want {
			t.Errorf("%s: said %q, want %q", c.name, got, c.want)
		}
	}
}
