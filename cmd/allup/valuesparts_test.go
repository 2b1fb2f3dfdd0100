package main

import (
	"fmt"
	"math"
	"strings"
	"testing"

	"gonum.org/v1/gonum/floats/scalar"

	"allup/catalog"
	"allup/model"
	"allup/planner"
)

// facts are the numbers of a record by the keys of its file; of a key that stands several times, rows[0], rows[1].
func facts(t *testing.T, packs *planner.PackSet, cat *catalog.Catalogue, id string) values {
	t.Helper()
	common, kind, ok := cat.Record(id)
	if !ok {
		t.Fatalf("no record %s", id)
	}
	v := values{}
	if kind != catalog.KindThrustTest {
		v["mass_g"] = gramsOf(common.Mass)
	}
	maybe(v, "tolerance_g", common.Tolerance, 1000)
	maybe(v, "price", common.Price, 1)
	switch kind {
	case catalog.KindFrame:
		r := cat.Frames[id]
		v["rotors"] = float64(r.Rotors)
		measuredAs(v, "max_prop_in", inchesOf(r.MaxProp))
		boxValues(v, "bay_mm", r.Bay)
		maybe(v, "mount_mm", r.MotorMount, 1000)
		if r.ThrustLossOK {
			v["thrust_loss"] = r.ThrustLoss
		}
	case catalog.KindMotor:
		r := cat.Motors[id]
		v["kv"] = float64(r.Kv) * 60 / (2 * math.Pi)
		maybe(v, "r_mohm", r.R, 1000)
		maybe(v, "no_load_a", r.NoLoadCurrent, 1)
		maybe(v, "no_load_v", r.NoLoadVoltage, 1)
		maybe(v, "max_current_a", r.MaxCurrent, 1)
		cellValues(v, r.Cells)
		maybe(v, "mount_mm", r.Mount, 1000)
		maybe(v, "shaft_mm", r.Shaft, 1000)
	case catalog.KindProp:
		r := cat.Props[id]
		v["diameter_in"], v["pitch_in"], v["blades"] = inchesOf(r.Diameter), inchesOf(r.Pitch), float64(r.Blades)
		maybe(v, "ct", r.CT, 1)
		maybe(v, "cp", r.CP, 1)
		maybe(v, "shaft_mm", r.Shaft, 1000)
		for i, s := range r.Static {
			v.put(fmt.Sprintf("static[%d].", i), values{"rpm": rpmOf(s.Speed), "ct": s.CT, "cp": s.CP})
		}
	case catalog.KindBoard:
		r := cat.Boards[id]
		maybe(v, "max_current_a", r.MaxCurrent, 1)
		cellValues(v, r.Cells)
		maybe(v, "efficiency", r.Efficiency, 1)
		v["power_w"] = float64(r.Power)
	case catalog.KindGear:
		v["power_w"] = float64(cat.Gear[id].Power)
	case catalog.KindPack:
		packFacts(v, packs, cat, id)
	case catalog.KindThrustTest:
		testFacts(t, v, cat, id)
	}
	return v
}

func boxValues(v values, key string, b *catalog.Box) {
	if b != nil {
		for i, side := range []model.Length{b.L, b.W, b.H} {
			v[fmt.Sprintf("%s[%d]", key, i)] = millimetresOf(side)
		}
	}
}

func cellValues(v values, r *catalog.CellRange) {
	if r != nil {
		v["cells[0]"], v["cells[1]"] = float64(r.Min), float64(r.Max)
	}
}

func packFacts(v values, packs *planner.PackSet, cat *catalog.Catalogue, id string) {
	r := cat.Packs[id]
	v["cells"], v["rated_mah"], v["chemistry"] = float64(r.Cells), milliAmpHoursOf(r.Rated), r.Chemistry
	boxValues(v, "size_mm", r.Size)
	maybe(v, "max_current_a", r.MaxCurrent, 1)
	pack := packs.Pack(id)
	v["basis"] = pack.Basis
	v.put("circuit.", circuitValues(pack.Circuit))
	if pack.Tested != nil {
		v["circuit.test_c_max"] = float64(pack.TestTemperature()) - 273.15
	}
	m := r.Tested
	if m == nil {
		return
	}
	p := m.Protocol
	for key, x := range map[string]float64{
		"capacity_mah": milliAmpHoursOf(m.Capacity), "energy_wh": wattHoursOf(m.Energy), "mid_voltage_v": float64(m.MidVoltage),
		"burst_power_w": float64(m.BurstPower), "burst_current_a": float64(m.BurstCurrent),
		"discharge_power_w": float64(p.DischargePower), "discharge_end_v_per_cell": float64(p.DischargeEndPerCell), "discharge_current_a": float64(p.DischargeCurrent),
		"burst_end_v_per_cell": float64(p.BurstEndPerCell),
	} {
		measuredAs(v, "tested."+key, x)
	}
	v["tested.conditioning.current_a"], v["tested.conditioning.seconds"], v["tested.ramp_a_per_s"] = float64(p.ConditioningCurrent), float64(p.ConditioningTime), p.Ramp
	if m.Ambient > 0 {
		v["tested.ambient_c"] = celsiusOf(m.Ambient)
	}
	burst := float64(m.BurstPower)
	if burst == 0 { // only the current was measured, at the voltage that the test ends on
		burst = float64(m.BurstCurrent) * float64(p.BurstEndPerCell) * float64(r.Cells)
	}
	measuredAs(v, "Wh per g", wattHoursOf(m.Energy)/gramsOf(r.Mass))
	measuredAs(v, "W per g", burst/gramsOf(r.Mass))
	measuredAs(v, "delivered over rated", float64(m.Capacity)/float64(r.Rated))
}

func testFacts(t *testing.T, v values, cat *catalog.Catalogue, id string) {
	t.Helper()
	r := cat.ThrustTests[id]
	v["air_kg_m3"], v["motor"], v["prop"] = float64(r.Air), r.Motor, r.Prop
	for i, row := range r.Rows {
		at := fmt.Sprintf("rows[%d].", i)
		v.put(at, values{
			"throttle": row.Throttle, "voltage_v": float64(row.Voltage), "current_a": float64(row.Current), "thrust_g": float64(row.Thrust) / 9.80665 * 1000,
		})
		measuredAs(v, at+"rpm", rpmOf(row.Speed))
	}
	fit, err := planner.ReadThrustTest(cat, id)
	if err != nil {
		return
	}
	ct, cp := fit.Propeller.Coefficients(0, model.SeaLevelDensity)
	v.put("fit.", values{"ct": ct, "cp": cp, "r_mohm": milliOhmsOf(fit.Motor.R), "part_duty_v": float64(fit.PartDuty), "rms_percent": 100 * fit.RMS})
	for i, row := range fit.Rows {
		at := fmt.Sprintf("fit.rows[%d].", i)
		v[at+"throttle"], v[at+"power_error"] = row.Row.Throttle, row.PowerError
		if row.Row.Speed > 0 {
			v[at+"speed_error"] = row.SpeedError
		}
		if row.Row.Throttle >= 1 {
			v[at+"thrust_error"], v[at+"current_error"] = row.ThrustError, row.CurrentError
		}
	}
}

// TestPartValues compares every record of the demo catalogue, of every kind, with what parts says of it.
func TestPartValues(t *testing.T) {
	cat := builtIn(t)
	packs := packSetOf(t, cat)
	for _, kind := range catalog.Kinds() {
		if len(cat.IDs(kind)) == 0 {
			t.Errorf("no %s to compare", kind)
		}
		for _, id := range cat.IDs(kind) {
			t.Run(string(kind)+"/"+id, func(t *testing.T) {
				want := facts(t, packs, cat, id)
				got := values{}
				all := askJSON(t, "", "parts", id)
				if all["id"] != id || all["kind"] != string(kind) {
					t.Errorf("it is %v %v", all["kind"], all["id"])
				}
				seen := map[string]int{}
				var names []string // of the fields in their order, as CSV has them
				for i := 0; ; i++ {
					field, ok := all[fmt.Sprintf("fields[%d].field", i)].(string)
					if !ok {
						break
					}
					names = append(names, field)
					name := field
					if field == "static" || strings.HasSuffix(field, "rows") {
						name = fmt.Sprintf("%s[%d]", field, seen[field])
						seen[field]++
					}
					at := fmt.Sprintf("fields[%d].value", i)
					for path, v := range all {
						if rest, is := strings.CutPrefix(path, at); is && (rest == "" || rest[0] == '.' || rest[0] == '[') {
							got[name+rest] = v
						}
					}
				}
				checkValues(t, got, want, asInJSON)

				// CSV has the same fields: single numbers unrounded, lists and rows as people read them.
				rows := askCSV(t, "", "parts", id)
				if len(rows) != len(names) {
					t.Fatalf("%d rows of CSV, want %d", len(rows), len(names))
				}
				for i, row := range rows {
					if row["field"] != names[i] {
						t.Errorf("row %d is of %v, want %s", i, row["field"], names[i])
					}
					w, isNumber := want[names[i]].(float64)
					if v, ok := row["value"].(float64); isNumber && (!ok || !scalar.EqualWithinAbsOrRel(v, w, 1e-15, asInCSV)) {
						t.Errorf("%s is %v in CSV, want %v", names[i], row["value"], w)
					}
				}
			})
		}
	}
}

func TestPartsValues(t *testing.T) {
	cat := builtIn(t)
	want := values{}
	var rows []values
	for _, kind := range catalog.Kinds() {
		for _, id := range cat.IDs(kind) {
			common, _, _ := cat.Record(id)
			v := values{"id": id, "kind": kind, "name": common.Name}
			if kind != catalog.KindThrustTest {
				v["mass_g"] = gramsOf(common.Mass)
			}
			want.put(fmt.Sprintf("parts[%d].", len(rows)), v)
			want[fmt.Sprintf("parts[%d].demo", len(rows))] = true
			rows = append(rows, v)
		}
	}
	checkValues(t, askJSON(t, "", "parts"), want, asInJSON)
	checkRows(t, askCSV(t, "", "parts"), rows)
}
