package planner_test

import (
	"errors"
	"fmt"
	"math"
	"math/rand/v2"
	"os"
	"reflect"
	"regexp"
	"strconv"
	"strings"
	"testing"
	"testing/fstest"

	"allup/catalog"
	"allup/planner"
)

const rangeParts = `[frame.f]
mass_g = 31.5
tolerance_g = 0.5
rotors = 4
max_prop_in = 3.5
bay_mm = [75, 36, 30]
mount_mm = 9
thrust_loss = 0.05
[motor.m]
mass_g = 10.4
kv = 3800
r_mohm = 145
no_load_a = 0.55
no_load_v = 10
max_current_a = 16
cells = [3, 6]
mount_mm = 9
shaft_mm = 1.5
[motor.mlabel]
mass_g = 10.4
kv = 3800
[prop.p]
mass_g = 1.7
diameter_in = 3.5
pitch_in = 2.5
blades = 3
ct = 0.13
cp = 0.065
shaft_mm = 1.5
[prop.s]
mass_g = 1.7
diameter_in = 3.5
pitch_in = 2.5
blades = 3
static = [{ rpm = 9000, ct = 0.12, cp = 0.06 }, { rpm = 18000, ct = 0.13, cp = 0.065 }]
[prop.plabel]
mass_g = 1.7
diameter_in = 3.5
pitch_in = 2.5
blades = 3
[board.b]
mass_g = 8.6
max_current_a = 20
efficiency = 0.94
cells = [2, 6]
power_w = 1.8
[gear.g]
mass_g = 18.5
power_w = 5.5
[pack.tested]
mass_g = 74.2
tolerance_g = 0.5
chemistry = "lipo"
cells = 4
rated_mah = 650
size_mm = [60, 30, 26]
max_current_a = 49
label_c = 75
price = 22
currency = "EUR"
[pack.tested.tested]
discharge_power_w = 144
discharge_end_v_per_cell = 3.1
capacity_mah = 612
energy_wh = 8.95
mid_voltage_v = 14.6
burst_power_w = 520
burst_current_a = 39.4
burst_end_v_per_cell = 3.3
ramp_a_per_s = 1.3
ambient_c = 22
cycles = 12
conditioning = { current_a = 9.75, seconds = 48 }
[pack.circuit]
mass_g = 74.2
chemistry = "lipo"
cells = 4
rated_mah = 650
price = 20
currency = "EUR"
[pack.circuit.circuit]
capacity_mah = 640
r0_mohm = 30
r1_mohm = 16
tau_s = 20
shift_mv = 2
capacity_sigma_mah = 6
r_sigma_mohm = 1
charge_dependence = 0.5
charge_dependence_sigma = 0.1
[pack.current]
mass_g = 72
chemistry = "lipo"
cells = 4
rated_mah = 630
[pack.current.tested]
discharge_current_a = 9.8
discharge_end_v_per_cell = 3.1
capacity_mah = 600
energy_wh = 8.8
mid_voltage_v = 14.6
burst_current_a = 38
burst_end_v_per_cell = 3.3
[pack.label]
mass_g = 70
chemistry = "lihv"
cells = 4
rated_mah = 600
[thrust_test.t]
motor = "m"
prop = "p"
altitude_m = 100
rows = [{ throttle = 0.3, voltage_v = 15.8, current_a = 1.0, thrust_g = 80 }, { throttle = 0.6, voltage_v = 15.4, current_a = 4.1, thrust_g = 220 }, { throttle = 1, voltage_v = 14.9, current_a = 14, thrust_g = 500 }]
[thrust_test.u]
motor = "m"
prop = "s"
air_kg_m3 = 1.2
rows = [{ throttle = 0.3, voltage_v = 15.8, current_a = 1.0, thrust_g = 80, rpm = 8900 }, { throttle = 0.6, voltage_v = 15.4, current_a = 4.1, thrust_g = 220, rpm = 14700 }, { throttle = 1, voltage_v = 14.9, current_a = 14, thrust_g = 500, rpm = 22200 }]
`

const rangeBuild = `rotors = 4
[limit]
mass_g = 250
spare_g = 1
sure = 0.9
[slots]
frame = "f"
motor = "MOTOR"
prop = "PROP"
board = "b"
gear = ["g"]
pack = "tested"
[extra.strap]
mass_g = 2.4
tolerance_g = 0.1
[weighed]
f = 31.9
m = 10.2
p = { together_g = 6.8, count = 4 }
SCALE
[air]
altitude_m = 150
temperature_c = 12
pack_temperature_c = 20
[flight]
land_v_per_cell = 3.5
reserve = 0.2
punch_charge = 0.8
phases = [{ seconds = 20, thrust = 1.25 }, { seconds = 2, full = true }]
[hover]
flown = [{ mass_g = 203, current_a = 4.1, voltage_v = 15.2 }, { mass_g = 205, power_w = 62 }]
[packs]
cells = [4]
max_mass_g = 90
[goal]
time = 2
punch = 1
price = 0.5
`

// rangeScales are what a build's scale may have shown, in place of SCALE.
func rangeScales() []string {
	return []string{"", "[scale]\nall_up_g = 231.4\npack = \"tested\"\ntolerance_g = 0.5", "[scale]\ndry_g = 157.2"}
}

// figure is a number of a file behind its key or in a list. Cells and rotors are counts, which few values pass.
var figure = regexp.MustCompile(`[=,] (-?[0-9][-+.e0-9]*)|\[(-?[0-9][-+.e0-9]*)`)

// strayed is a text with some of its numbers replaced.
func strayed(r *rand.Rand, text string, n int) string {
	for range n {
		at := figure.FindAllStringSubmatchIndex(text, -1)
		m := at[r.IntN(len(at))]
		from, to := m[2], m[3]
		if from < 0 {
			from, to = m[4], m[5]
		}
		was, err := strconv.ParseFloat(text[from:to], 64)
		if err != nil {
			panic(err)
		}
		text = text[:from] + strayedNumber(r, was) + text[to:]
	}
	return text
}

func strayedNumber(r *rand.Rand, was float64) string {
	fixed := []string{"0", "1e-9", "5e-324", "1e-300", "1e-3", "1", "60000", "1e9", "1.7e308", "-1", "-0.0", "nan", "inf"}
	switch r.IntN(3) {
	case 0:
		return fixed[r.IntN(len(fixed))]
	case 1: // some powers of ten away
		if math.Abs(was) > 1e300 {
			was = 1
		}
		return fmt.Sprintf("%e", was*math.Pow(10, 8*r.Float64()-4))
	}
	return fmt.Sprintf("%e", min(was, 1e300)*(0.3+1.4*r.Float64()))
}

// Every number of a build and of its records may be anything: the answer is figures within their ranges, or
// errors of which each names the field. ALLUP_LONG=1 runs 100,000 cases.
func TestNoFigureLeavesItsRange(t *testing.T) {
	for i, prop := range []string{"p", "s", "plabel"} {
		if _, err := rankTexts(rangeParts, strings.NewReplacer("MOTOR", "m", "PROP", prop, "SCALE", rangeScales()[i]).Replace(rangeBuild)); err != nil {
			t.Fatalf("the good build is refused: %v", err)
		}
	}
	cases := 2000
	if os.Getenv("ALLUP_LONG") != "" {
		cases = 100_000
	}
	if testing.Short() {
		cases = 300
	}
	r := rand.New(rand.NewPCG(8, 2026))
	answered := 0
	for i := range cases {
		parts, build := rangeParts, rangeBuild
		build = strings.Replace(build, "MOTOR", []string{"m", "mlabel"}[r.IntN(2)], 1)
		build = strings.Replace(build, "PROP", []string{"p", "s", "plabel"}[r.IntN(3)], 1)
		build = strings.Replace(build, "SCALE", rangeScales()[r.IntN(3)], 1)
		if r.IntN(2) == 0 {
			build, _, _ = strings.Cut(build, "phases")
		}
		if r.IntN(2) == 0 {
			parts, _, _ = strings.Cut(parts, "[thrust_test")
		}
		if n := 1 + r.IntN(4); r.IntN(2) == 0 {
			parts = strayed(r, parts, n)
		} else {
			build = strayed(r, build, n)
		}
		ranking, err := rankTexts(parts, build)
		if err != nil {
			var faults catalog.InputErrors
			if !errors.As(err, &faults) {
				t.Errorf("case %d: an error without a field: %v\n%s", i, err, changed(parts+build))
				continue
			}
			for _, f := range faults {
				if f.Field == "" {
					t.Errorf("case %d: an error without a field: %v", i, f)
				}
			}
			continue
		}
		answered++
		if what := outOfRange(ranking); what != "" {
			t.Errorf("case %d: %s\n%s", i, what, changed(parts+build))
		}
	}
	if answered < cases/7 {
		t.Errorf("%d cases have an answer: too few to say anything", answered)
	}
	t.Logf("%d of %d cases have an answer", answered, cases)
}

func rankTexts(parts, build string) (*planner.Ranking, error) {
	file := catalog.File{Name: "parts.toml", Path: "parts.toml", FS: fstest.MapFS{"parts.toml": {Data: []byte(parts)}}}
	cat, _, err := catalog.Load(catalog.Layer{Name: "parts", Files: []catalog.File{file}})
	if err != nil {
		return nil, err
	}
	b, _, err := catalog.ReadBuild("build.toml", strings.NewReader(build), cat)
	if err != nil {
		return nil, err
	}
	p, err := planner.Resolve(b)
	if err != nil {
		return nil, err
	}
	packs, err := planner.NewPackSet(cat)
	if err != nil {
		return nil, err
	}
	return p.Rank(packs, planner.RankOptions{}), nil
}

// changed are the lines of a text that are not those of the good one.
func changed(text string) string {
	var lines []string
	for line := range strings.Lines(text) {
		if !strings.Contains(rangeParts+rangeBuild, line) {
			lines = append(lines, "\t"+line)
		}
	}
	return strings.Join(lines, "")
}

// outOfRange names the first figure of a ranking that is none, or that nothing can have.
func outOfRange(r *planner.Ranking) string {
	w := r.Plan.Weigh()
	if w.OverChance < 0 || w.OverChance > 1 || !(w.Mass > 0) || w.Expanded > w.Mass {
		return fmt.Sprintf("weighed as %v g +- %v g, chance %v", w.Mass.Grams(), w.Expanded.Grams(), w.OverChance)
	}
	for _, list := range [][]planner.Assessment{r.Ranked, r.Excluded} {
		for i := range list {
			a := &list[i]
			if path := notFinite(reflect.ValueOf(*a), "", 0); path != "" {
				return fmt.Sprintf("%s: %s", a.Pack.ID, path)
			}
			if c := a.ChargeLeft(); c < 0 || c > 1 {
				return fmt.Sprintf("%s: charge left %v", a.Pack.ID, c)
			}
			if a.Duration() < 0 || a.Duration() > 24*3600 {
				return fmt.Sprintf("%s: flies %v s", a.Pack.ID, float64(a.Duration()))
			}
			if b := a.Band; b != nil {
				for name, x := range map[string]planner.Interval{"mass": b.Mass, "time": b.Time, "current": b.Current, "punch": b.Punch} {
					if x.Low < 0 || x.Low > x.High {
						return fmt.Sprintf("%s: band of %s %v", a.Pack.ID, name, x)
					}
				}
			}
		}
	}
	return ""
}

// notFinite is the path to the first number that JSON cannot write, and what it is.
func notFinite(v reflect.Value, path string, depth int) string {
	if depth > 12 {
		return ""
	}
	switch v.Kind() {
	case reflect.Float64:
		if f := v.Float(); math.IsNaN(f) || math.IsInf(f, 0) {
			return fmt.Sprintf("%s is %v", path, f)
		}
	case reflect.Pointer, reflect.Interface:
		if !v.IsNil() {
			return notFinite(v.Elem(), path, depth+1)
		}
	case reflect.Struct:
		for i := range v.NumField() {
			if f := v.Type().Field(i); f.IsExported() {
				if p := notFinite(v.Field(i), path+"."+f.Name, depth+1); p != "" {
					return p
				}
			}
		}
	case reflect.Slice, reflect.Array:
		for i := range v.Len() {
			if p := notFinite(v.Index(i), fmt.Sprintf("%s[%d]", path, i), depth+1); p != "" {
				return p
			}
		}
	}
	return ""
}
