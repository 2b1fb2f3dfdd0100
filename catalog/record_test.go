package catalog_test

import (
	"strings"
	"testing"

	"github.com/google/go-cmp/cmp"

	"allup/catalog"
	"allup/model"
)

const everyKind = `
[frame.lark-35]
name = "Lark 3.5"
mass_g = 31.5
weighed = true
tolerance_g = 0.2
price = 24
currency = "EUR"
url = "https://example.org/lark"
note = "arms of 3 mm"
date = 2026-05-01
rotors = 4
max_prop_in = 3.5
bay_mm = [75, 36.5, 30]
mount_mm = 12
thrust_loss = 0

[motor.wick-1404-3800]
mass_g = 10.4
kv = 3800
r_mohm = 145
no_load_a = 0.55
no_load_v = 10
max_current_a = 16
cells = [3, 4]
mount_mm = 12
shaft_mm = 1.5

[prop.fen-35x25-3]
mass_g = 1.7
diameter_in = 3.5
pitch_in = 2.5
blades = 3
static = [{ rpm = 9000, ct = 0.12, cp = 0.06 }, { rpm = 18000, ct = 0.13, cp = 0.065 }]
shaft_mm = 1.5

[prop.fen-30x20-2]
mass_g = 1.1
diameter_in = 3
pitch_in = 2
blades = 2
ct = 0.11
cp = 0.05

[board.loam-20]
mass_g = 8.6
max_current_a = 20
cells = [2, 4]
efficiency = 0.94
power_w = 1.8

[gear.eyrie-tx]
mass_g = 18.5
power_w = 5.5

[pack.sedge-650]
mass_g = 74.2
chemistry = "lipo"
cells = 4
rated_mah = 650
size_mm = [60, 30, 26]
plug = "xt30"
max_current_a = 49

[pack.sedge-650.tested]
discharge_end_v_per_cell = 3.0
capacity_mah = 612
energy_wh = 8.95
mid_voltage_v = 14.72
burst_power_w = 690
burst_current_a = 52.3
conditioning = { current_a = 9, seconds = 50 }
ramp_a_per_s = 1.5
ambient_c = 21
date = "2026-05-01"
source = "my bench"

[pack.sedge-850]
mass_g = 92
chemistry = "lihv"
cells = 4
rated_mah = 850
tested = { discharge_current_a = 12, capacity_mah = 800, burst_current_a = 60, burst_end_v_per_cell = 3.2 }
circuit = { capacity_mah = 820, r0_mohm = 24, r1_mohm = 9, tau_s = 20, capacity_sigma_mah = 25, r_sigma_mohm = 3.5, shift_mv = -12 }

[pack.sedge-1000]
mass_g = 105
chemistry = "liion"
cells = 3
rated_mah = 1000
circuit = { capacity_mah = 980, r0_mohm = 60, r1_mohm = 0, tau_s = 20, curve_v = [3.0, 3.7, 4.2] }

[thrust_test.wick-fen]
motor = "wick-1404-3800"
prop = "fen-35x25-3"
source = "my stand"
air_kg_m3 = 1.19
rows = [
  { throttle = 0.5, voltage_v = 15.4, current_a = 2.9, thrust_g = 128 },
  { throttle = 1, voltage_v = 14.6, current_a = 11.4, thrust_g = 322, rpm = 30000 },
]
`

func TestEveryKind(t *testing.T) {
	c, warnings := load(t, everyKind)
	if len(warnings) > 0 {
		t.Errorf("warnings = %v, want none", warnings)
	}
	common := func(id string, grams float64) catalog.Common {
		return catalog.Common{
			ID: id, Name: id, Mass: model.Mass(grams) * model.Gram,
			Source: catalog.Source{Layer: "parts", File: "parts.toml"},
		}
	}
	lark := common("lark-35", 31.5)
	lark.Name, lark.Weighed, lark.Tolerance = "Lark 3.5", true, ptr(0.2*model.Gram)
	lark.Price, lark.Currency = ptr(24.0), "EUR"
	lark.URL, lark.Note, lark.Date = "https://example.org/lark", "arms of 3 mm", "2026-05-01"

	tested650 := model.UsualProtocol(650*model.MilliAmpH, 4)
	tested650.DischargeEndPerCell = 3.0
	tested650.ConditioningCurrent, tested650.ConditioningTime, tested650.Ramp = 9, 50, 1.5
	tested850 := model.UsualProtocol(850*model.MilliAmpH, 4)
	tested850.DischargePower, tested850.DischargeCurrent, tested850.BurstEndPerCell = 0, 12, 3.2
	lihv, err := model.CurveOf(model.LiHV)
	if err != nil {
		t.Fatal(err)
	}
	own, err := model.EvenCurve([]model.Voltage{3.0, 3.7, 4.2})
	if err != nil {
		t.Fatal(err)
	}

	want := map[catalog.Kind]any{
		catalog.KindFrame: map[string]*catalog.Frame{"lark-35": {
			Common: lark, Rotors: 4, MaxProp: 3.5 * model.Inch,
			Bay: &catalog.Box{L: 0.075, W: 0.0365, H: 0.030}, MotorMount: ptr(12 * model.Millimetre), ThrustLossOK: true,
		}},
		catalog.KindMotor: map[string]*catalog.Motor{"wick-1404-3800": {
			Common: common("wick-1404-3800", 10.4), Kv: 3800 * model.RPMPerVolt, R: ptr(145 * model.MilliOhm),
			NoLoadCurrent: ptr(model.Current(0.55)), NoLoadVoltage: ptr(model.Voltage(10)), MaxCurrent: ptr(model.Current(16)),
			Cells: &catalog.CellRange{Min: 3, Max: 4}, Mount: ptr(12 * model.Millimetre), Shaft: ptr(1.5 * model.Millimetre),
		}},
		catalog.KindProp: map[string]*catalog.Prop{
			"fen-35x25-3": {
				Common: common("fen-35x25-3", 1.7), Diameter: 3.5 * model.Inch, Pitch: 2.5 * model.Inch, Blades: 3,
				Static: []model.StaticPoint{
					{Speed: 9000 * model.RPM, CT: 0.12, CP: 0.06}, {Speed: 18000 * model.RPM, CT: 0.13, CP: 0.065},
				},
				Shaft: ptr(1.5 * model.Millimetre),
			},
			"fen-30x20-2": {
				Common: common("fen-30x20-2", 1.1), Diameter: 3 * model.Inch, Pitch: 2 * model.Inch, Blades: 2,
				CT: ptr(0.11), CP: ptr(0.05),
			},
		},
		catalog.KindBoard: map[string]*catalog.Board{"loam-20": {
			Common: common("loam-20", 8.6), MaxCurrent: ptr(model.Current(20)), Cells: &catalog.CellRange{Min: 2, Max: 4},
			Efficiency: ptr(0.94), Power: 1.8,
		}},
		catalog.KindGear: map[string]*catalog.Gear{"eyrie-tx": {Common: common("eyrie-tx", 18.5), Power: 5.5}},
		catalog.KindPack: map[string]*catalog.Pack{
			"sedge-650": {
				Common: common("sedge-650", 74.2), Chemistry: model.LiPo, Cells: 4, Rated: 650 * model.MilliAmpH,
				Size: &catalog.Box{L: 0.060, W: 0.030, H: 0.026}, Plug: "xt30", MaxCurrent: ptr(model.Current(49)),
				Tested: &model.TestedMetrics{
					Protocol: tested650, Capacity: 612 * model.MilliAmpH, Energy: 8.95 * model.WattHour,
					MidVoltage: 14.72, BurstPower: 690, BurstCurrent: 52.3, Ambient: model.Celsius(21),
				},
				TestDate: "2026-05-01", TestSource: "my bench",
			},
			"sedge-850": {
				Common: common("sedge-850", 92), Chemistry: model.LiHV, Cells: 4, Rated: 850 * model.MilliAmpH,
				Tested: &model.TestedMetrics{Protocol: tested850, Capacity: 800 * model.MilliAmpH, BurstCurrent: 60},
				Circuit: &model.Circuit{
					Cells: 4, Curve: lihv, Capacity: 820 * model.MilliAmpH, R0: 0.024, R1: 0.009, Tau: 20, Shift: -0.012, K: 0.5, HeatCapacity: 1080 * 0.9 * 0.092, CoolingTime: 400,
				},
				CircuitSigmaQ: 25 * model.MilliAmpH, CircuitSigmaR: 0.0035,
			},
			"sedge-1000": {
				Common: common("sedge-1000", 105), Chemistry: model.LiIon, Cells: 3, Rated: 1000 * model.MilliAmpH,
				Circuit: &model.Circuit{Cells: 3, Curve: own, Capacity: 980 * model.MilliAmpH, R0: 0.060, Tau: 20, K: 0.5, HeatCapacity: 1080 * 0.9 * 0.105, CoolingTime: 400},
			},
		},
		catalog.KindThrustTest: map[string]*catalog.ThrustTest{"wick-fen": {
			Common: common("wick-fen", 0), Motor: "wick-1404-3800", Prop: "fen-35x25-3", Origin: "my stand", Air: 1.19,
			Rows: []model.ThrustRow{
				{Throttle: 0.5, Voltage: 15.4, Current: 2.9, Thrust: 0.128 * model.StandardGravity},
				{Throttle: 1, Voltage: 14.6, Current: 11.4, Thrust: 0.322 * model.StandardGravity, Speed: 30000 * model.RPM},
			},
		}},
	}
	got := map[catalog.Kind]any{
		catalog.KindFrame: c.Frames, catalog.KindMotor: c.Motors, catalog.KindProp: c.Props, catalog.KindBoard: c.Boards,
		catalog.KindGear: c.Gear, catalog.KindPack: c.Packs, catalog.KindThrustTest: c.ThrustTests,
	}
	if diff := cmp.Diff(want, got, sameValues()); diff != "" {
		t.Errorf("catalogue differs (-want +got):\n%s", diff)
	}
	line := 1 + strings.Count(everyKind[:strings.Index(everyKind, "[pack.sedge-850]")], "\n")
	if source, ok := c.Locate("sedge-850")["sedge-850"]; !ok || source != (catalog.Source{Layer: "parts", File: "parts.toml", Line: line}) {
		t.Errorf("Locate(sedge-850) = %v, %v, want line %d", source, ok, line)
	}
}

func TestTestAir(t *testing.T) {
	at1500, err := model.StandardAir(1500)
	if err != nil {
		t.Fatal(err)
	}
	for _, test := range []struct {
		air  string
		want model.Density
	}{
		{"", 1.225},
		{"altitude_m = 1500", at1500},
		{"air_kg_m3 = 1.1", 1.1},
	} {
		text := strings.Replace(everyKind, "air_kg_m3 = 1.19", test.air, 1)
		c, _ := load(t, text)
		if got := c.ThrustTests["wick-fen"].Air; !within(got, test.want) {
			t.Errorf("air of a test with %q = %v, want %v", test.air, got, test.want)
		}
	}
}

// TestWarnings has slips that are possible, only odd.
func TestWarnings(t *testing.T) {
	pack := func(fields string) string {
		return "[pack.mine]\nchemistry = \"lipo\"\ncells = 4\n" + fields
	}
	for _, test := range []struct{ name, text, want string }{
		{
			"decimal point of a pack", pack("rated_mah = 650\nmass_g = 650"),
			"parts.toml:5: pack.mine.mass_g: 650 g for 650 mAh and 4 cells is 0.0148 Wh/g (0.05 to 0.3 is usual): did you mean 65.0 g?",
		},
		{
			"light for one cell", "[pack.mine]\nchemistry = \"lipo\"\ncells = 1\nrated_mah = 650\nmass_g = 6",
			"parts.toml:5: pack.mine.mass_g: 6 g for 650 mAh and 1 cell is 0.401 Wh/g (0.05 to 0.3 is usual)",
		},
		{
			"ohm for milliohm", "[motor.mine]\nmass_g = 10\nkv = 3800\nr_mohm = 0.12",
			"parts.toml:4: motor.mine.r_mohm: 0.12 mohm is unusual (5 to 3000 is usual): did you mean 120 mohm?",
		},
		{
			"kv without its last digit", "[motor.mine]\nmass_g = 10\nkv = 380",
			"parts.toml:3: motor.mine.kv: 380 rpm/V is unusual (700 to 40000 is usual): did you mean 3800 rpm/V?",
		},
		{
			"heavy motor", "[motor.mine]\nmass_g = 104\nkv = 3800",
			"parts.toml:2: motor.mine.mass_g: 104 g is unusual (0.8 to 80 is usual): did you mean 10.4 g?",
		},
		{
			"heavy prop", "[prop.mine]\nmass_g = 170\ndiameter_in = 3.5\npitch_in = 2.5\nblades = 3",
			"parts.toml:2: prop.mine.mass_g: 170 g is unusual (0.1 to 20 is usual): did you mean 17 g?",
		},
		{
			"heavy frame", "[frame.mine]\nmass_g = 501\nrotors = 4",
			"parts.toml:2: frame.mine.mass_g: 501 g is unusual (2 to 500 is usual): did you mean 50.1 g?",
		},
		{
			"pitch and diameter swapped", "[prop.mine]\nmass_g = 1.7\ndiameter_in = 2\npitch_in = 5\nblades = 3",
			"parts.toml:4: prop.mine.pitch_in: pitch over diameter is 2.5 (0.2 to 1.6 is usual): are the two swapped?",
		},
		{
			"burst figures disagree", pack("rated_mah = 650\nmass_g = 74\n[pack.mine.tested]\ncapacity_mah = 612\nburst_power_w = 900\nburst_current_a = 52"),
			"parts.toml:8: pack.mine.tested.burst_power_w: 900 W is not burst_current_a 52 A at 13.2 V, which is 686 W",
		},
		{
			"delivers more than rated", pack("rated_mah = 650\nmass_g = 74\n[pack.mine.tested]\ncapacity_mah = 912\nburst_power_w = 690"),
			"parts.toml:7: pack.mine.tested.capacity_mah: 912 mAh is 140 % of the rated 650 mAh (40 to 130 % is usual)",
		},
		{
			"voltage alone", "[motor.mine]\nmass_g = 10\nkv = 3800\nno_load_v = 10",
			"parts.toml:4: motor.mine.no_load_v: a no-load voltage says nothing without no_load_a",
		},
		{"empty file", "# nothing yet", "parts.toml:1: the file has no records"},
	} {
		t.Run(test.name, func(t *testing.T) {
			_, warnings := load(t, test.text)
			var got []string
			for _, w := range warnings {
				got = append(got, w.String())
			}
			if diff := cmp.Diff([]string{test.want}, got); diff != "" {
				t.Errorf("warnings differ (-want +got):\n%s", diff)
			}
		})
	}
}
