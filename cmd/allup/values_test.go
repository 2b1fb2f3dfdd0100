package main

import (
	"encoding/csv"
	"encoding/json"
	"fmt"
	"math"
	"os"
	"path/filepath"
	"strconv"
	"strings"
	"testing"

	"gonum.org/v1/gonum/floats/scalar"

	"allup/catalog"
	"allup/model"
	"allup/planner"
)

// The tests of values decode what a command says to programs and compare every number in it with what planner or
// catalog gave. Trade units are converted here, from their definitions, and not by the code under test.

func gramsOf(m model.Mass) float64           { return float64(m) * 1000 }
func wattHoursOf(e model.Energy) float64     { return float64(e) / 3600 }
func milliAmpHoursOf(q model.Charge) float64 { return float64(q) / 3.6 }
func milliOhmsOf(r model.Resistance) float64 { return float64(r) * 1000 }
func milliVoltsOf(v model.Voltage) float64   { return float64(v) * 1000 }
func celsiusOf(t model.Temperature) float64  { return float64(t) - 273.15 }
func rpmOf(w model.AngularSpeed) float64     { return float64(w) * 60 / (2 * math.Pi) }
func inchesOf(l model.Length) float64        { return float64(l) / 0.0254 }
func millimetresOf(l model.Length) float64   { return float64(l) * 1000 }
func minutesOf(t model.Time) float64         { return float64(t) / 60 }

// figureOfMerit of a propeller at rest, by its definition: sqrt(2/pi) CT^1.5 / CP.
func figureOfMerit(ct, cp float64) float64 { return math.Sqrt(2/math.Pi) * math.Pow(ct, 1.5) / cp }

// values are numbers and words by where they stand: "ranked[0].band.flight_s[1]".
type values map[string]any

func (v values) put(prefix string, of values) {
	for path, x := range of {
		v[prefix+path] = x
	}
}

// maybe puts a number that may not be known.
func maybe[T ~float64](v values, path string, x *T, scale float64) {
	if x != nil {
		v[path] = float64(*x) * scale
	}
}

// flatten lists numbers, words and truths by where they stand. Nulls are left out.
func flatten(into values, path string, x any) {
	switch x := x.(type) {
	case map[string]any:
		for key, inner := range x {
			if path != "" {
				key = path + "." + key
			}
			flatten(into, key, inner)
		}
	case []any:
		for i, inner := range x {
			flatten(into, fmt.Sprintf("%s[%d]", path, i), inner)
		}
	case nil:
	default:
		into[path] = x
	}
}

// askJSON runs a command and flattens its JSON.
func askJSON(t *testing.T, stdin string, args ...string) values {
	t.Helper()
	said := tell(t, 0, stdin, append(args, "--format", "json")...)
	var whole any
	if err := json.Unmarshal([]byte(said.Out), &whole); err != nil {
		t.Fatalf("%v: %v\n%s", args, err, said.Err)
	}
	got := values{}
	flatten(got, "", whole)
	return got
}

// checkValues compares: every number and truth that is said must be wanted, and all that is wanted must be said, words
// among it. Null is what is neither.
func checkValues(t *testing.T, got, want values, tolerance float64) {
	t.Helper()
	for path, g := range got {
		if _, word := g.(string); !word {
			if _, wanted := want[path]; !wanted {
				t.Errorf("%s is %v, and should be null or not there", path, g)
			}
		}
	}
	for path, w := range want {
		g, said := got[path]
		number, isNumber := w.(float64)
		said64, saysNumber := g.(float64)
		switch {
		case !said:
			t.Errorf("%s is null or not there, want %v", path, w)
		case isNumber && saysNumber:
			if !scalar.EqualWithinAbsOrRel(said64, number, 1e-15, tolerance) {
				t.Errorf("%s is %v, want %v", path, said64, number)
			}
		case fmt.Sprint(g) != fmt.Sprint(w):
			t.Errorf("%s is %v, want %v", path, g, w)
		}
	}
}

const (
	asInJSON = 1e-12 // conversions may differ by roundings
	asInCSV  = 1e-9  // ten digits
)

// askCSV runs a command and gives each row's cells by their column; numbers as such, empty cells left out.
func askCSV(t *testing.T, stdin string, args ...string) []values {
	t.Helper()
	said := tell(t, 0, stdin, append(args, "--format", "csv")...)
	rows, err := csv.NewReader(strings.NewReader(said.Out)).ReadAll()
	if err != nil || len(rows) == 0 {
		t.Fatalf("%v: %v, %d rows\n%s", args, err, len(rows), said.Err)
	}
	var out []values
	for _, row := range rows[1:] {
		cells := values{}
		for i, text := range row {
			key := rows[0][i]
			if _, twice := cells[key]; twice {
				t.Errorf("%v has two columns %q", args, key)
			}
			if v, err := strconv.ParseFloat(text, 64); err == nil {
				cells[key] = v
			} else if text != "" {
				cells[key] = text
			}
		}
		out = append(out, cells)
	}
	return out
}

func checkRows(t *testing.T, got, want []values) {
	t.Helper()
	if len(got) != len(want) {
		t.Fatalf("%d rows, want %d", len(got), len(want))
	}
	for i := range got {
		t.Run(fmt.Sprint("row", i), func(t *testing.T) { checkValues(t, got[i], want[i], asInCSV) })
	}
}

// planOf reads a build as the commands do.
func planOf(t *testing.T, text string) *planner.Plan {
	t.Helper()
	p, err := planner.Resolve(buildOf(t, text))
	if err != nil {
		t.Fatal(err)
	}
	return p
}

func buildOf(t *testing.T, text string) *catalog.Build {
	t.Helper()
	b, _, err := catalog.ReadBuild("standard input", strings.NewReader(text), builtIn(t))
	if err != nil {
		t.Fatal(err)
	}
	return b
}

func builtIn(t *testing.T) *catalog.Catalogue {
	t.Helper()
	cat, _, err := catalog.Load(catalog.Builtin())
	if err != nil {
		t.Fatal(err)
	}
	return cat
}

// builds are those that values are compared on, by name: a hover on a full catalogue, phases on cold packs with
// a thrust test behind them, a build over its limit, one without a pack, one of a motor known by its size alone, and
// those that were flown and weighed.
func builds(t *testing.T) map[string]string {
	t.Helper()
	out := map[string]string{"no pack": "rotors = 4\n[limit]\nmass_g = 250\n[slots]\nframe = \"lark-35\"\nmotor = \"wick-1404-3800\"\nprop = \"fen-35x25-3\"\nboard = \"loam-20\"\ngear = [\"mote-rx\"]\n"}
	for _, name := range []string{"stint", "curlew", "plover"} {
		text, err := os.ReadFile(filepath.Join(repository(t), "testdata", "builds", name+".toml"))
		if err != nil {
			t.Fatal(err)
		}
		out[name] = string(text)
	}
	out["flown"] = out["stint"] + "\n[hover]\nflown = [{ mass_g = 239, current_a = 3.9, voltage_v = 15.2 }]\n"
	out["estimated"] = strings.Replace(out["stint"], "wick-1404-3800", "spindle-1604-2800", 1)
	out["scaled"] = out["stint"] + "\n[scale]\nall_up_g = 241.5\npack = \"sedge-650\"\n"
	return out
}

func packSetOf(t *testing.T, cat *catalog.Catalogue) *planner.PackSet {
	t.Helper()
	packs, err := planner.NewPackSet(cat)
	if err != nil {
		t.Fatal(err)
	}
	return packs
}

func limitValues(l catalog.BuildLimit) values {
	out := values{"mass_g": gramsOf(l.Mass), "spare_g": gramsOf(l.Spare), "inclusive": l.Inclusive}
	if l.Sure > 0 {
		out["sure"] = l.Sure
	}
	return out
}

// scaleValues are a scale's reading beside the sum of the list; what they leave open is twice their
// uncertainties, combined.
func scaleValues(p *planner.Plan) values {
	r, ok := p.Reconcile()
	if !ok {
		return nil
	}
	out := values{
		"shown_g": gramsOf(r.Shown), "half_width_g": gramsOf(r.HalfWidth), "sum_g": gramsOf(r.Sum), "difference_g": gramsOf(r.Shown) - gramsOf(r.Sum),
		"allowed_difference_g": 2 * math.Hypot(gramsOf(r.Uncertainty), gramsOf(r.SumU)), "pack": r.Pack,
	}
	out["agrees"] = math.Abs(gramsOf(r.Shown)-gramsOf(r.Sum)) <= out["allowed_difference_g"].(float64)
	for i, h := range r.Hiding {
		u := float64(h.Uncertainty())
		out.put(fmt.Sprintf("may_hide_in[%d].", i), values{"id": h.ID, "share": u * u / (float64(r.SumU) * float64(r.SumU))})
	}
	return out
}

func propulsionValues(p *planner.Plan) values {
	is := p.Propulsion
	out := values{"power_sigma": p.PowerSigma(), "flown_hovers": 0.0, "source": is.Source, "base": is.Base}
	// A motor is known by its record or by a fit to a thrust test, a controller by its board.
	out["motor_estimated"], out["controller_assumed"] = (p.Motor.R == nil || p.Motor.NoLoadCurrent == nil) && is.Fit == nil, p.Board.Efficiency == nil
	if is.Fit != nil {
		out["fit_rms"] = is.Fit.RMS
	}
	if is.Calibration != nil {
		out["calibration"], out["flown_hovers"] = is.Calibration.Factor, float64(len(is.Calibration.Hovers))
	}
	return out
}

// lossValues are where the power of a hover goes.
func lossValues(losses []model.Loss) values {
	out, whole := values{}, 0.0
	for _, l := range losses {
		whole += float64(l.Power)
	}
	for i, l := range losses {
		out.put(fmt.Sprintf("losses[%d].", i), values{"place": l.Place, "power_w": float64(l.Power), "share": float64(l.Power) / whole})
	}
	return out
}

func circuitValues(c model.Circuit) values {
	return values{
		"capacity_mah": milliAmpHoursOf(c.Capacity), "r0_mohm": milliOhmsOf(c.R0), "r1_mohm": milliOhmsOf(c.R1),
		"tau_s": float64(c.Tau), "shift_mv": milliVoltsOf(c.Shift), "charge_dependence": c.K,
	}
}

func bandValues(b *planner.Band) values {
	if b == nil {
		return nil
	}
	out := values{}
	for key, band := range map[string][2]float64{
		"all_up_g": {b.Mass.Low * 1000, b.Mass.High * 1000}, "flight_s": {b.Time.Low, b.Time.High},
		"hover_current_a": {b.Current.Low, b.Current.High}, "punch_ratio": {b.Punch.Low, b.Punch.High},
	} {
		out[key+"[0]"], out[key+"[1]"] = band[0], band[1]
	}
	return out
}

// packValues are what JSON says of a build on a pack.
func packValues(a *planner.Assessment) values {
	out := values{
		"all_up_g": gramsOf(a.Mass), "margin_g": gramsOf(a.Margin), "spare_g": gramsOf(a.Spare), "over_limit_chance": a.OverChance,
	}
	if a.Rank > 0 {
		out["rank"], out["front"], out["drawn"] = float64(a.Rank), a.Front, a.Drawn
		if a.Group > 0 { // a search has none
			out["group"] = float64(a.Group)
		}
		maybe(out, "best_chance", a.Best, 1)
		maybe(out, "beats_next_chance", a.Next, 1)
		maybe(out, "first_beats_chance", a.First, 1)
		// Where price counts, what has none in that currency has no score to compare.
		if g := a.Plan.Build.Goal; g.Price == 0 || a.Pack.Price != nil && a.Pack.Currency == "EUR" {
			out["score"] = a.Score
		}
	}
	if a.Pack == nil {
		return out
	}
	out["pack"], out["name"], out["basis"] = a.Pack.ID, a.Pack.Name, a.Pack.Basis
	if a.Pack.Price != nil {
		out["currency"] = a.Pack.Currency
	}
	out["tested"], out["demo"] = a.Pack.Tested != nil, a.Pack.Source.Layer == "built-in"
	out.put("circuit.", circuitValues(a.Circuit))
	maybe(out, "tested_burst_power_w", a.BurstPower, 1)
	maybe(out, "power_density_w_per_g", a.PowerDensity, 1.0/1000)
	maybe(out, "energy_density_wh_per_g", a.EnergyDensity, 1.0/3600/1000)
	maybe(out, "price", a.Pack.Price, 1)
	out.put("band.", bandValues(a.Band))
	out.put("quick_band.", bandValues(a.Quick))
	if !(a.Flight.Duration > 0) || a.Cycle != nil && !(a.Cycle.Duration > 0) {
		return out
	}
	weight := float64(a.Mass) * 9.80665
	out.put("", values{
		"hover_power_w": float64(a.Flight.Hover.Power), "hover_current_a": float64(a.Flight.Current), "hover_current_start_a": float64(a.Flight.StartCurrent),
		"hover_current_landing_a": float64(a.Flight.EndCurrent), "hover_throttle": a.Flight.Throttle, "hover_flight_s": float64(a.Flight.Duration), "land_v_per_cell": float64(a.LandPerCell),
		"hover_g_per_w": float64(a.Mass) * 1000 / float64(a.Flight.Hover.Power), "hover_c": float64(a.Flight.Current) / (float64(a.Pack.Rated) / 3600),
		"punch_ratio": float64(a.Punch.Thrust) / weight, "punch_ratio_landing": float64(a.PunchLanding.Thrust) / weight,
		"punch_current_a": float64(a.Punch.Current), "punch_throttle": a.Punch.Throttle, "burst_power_w": float64(a.Punch.BurstPower), "pack_headroom": a.Punch.Headroom,
		"limited_by": a.Punch.LimitedBy, "limited_by_landing": a.PunchLanding.LimitedBy,
		"full_throttle_motor_a": float64(a.Full.Current), "pitch_speed_m_s": float64(a.Full.PitchSpeed), "tip_mach": a.Full.TipMach,
	})
	c := a.Cycle
	if c == nil {
		out.put("", values{
			"flight_s": float64(a.Flight.Duration), "usable_wh": wattHoursOf(a.Flight.Usable), "charge_left": a.Flight.ChargeLeft, "ended_by": a.Flight.EndedBy,
			"pack_c_max": float64(a.Flight.MaxTemperature) - 273.15, "pack_c_landing": float64(a.Flight.EndTemperature) - 273.15,
		})
		return out
	}
	out.put("", values{
		"flight_s": float64(c.Duration), "usable_wh": wattHoursOf(c.Usable), "charge_left": c.ChargeLeft, "ended_by": c.EndedBy, "first_met_s": float64(c.FirstMet),
		"strict_flight_s": float64(c.Duration), "pack_c_max": float64(c.MaxTemperature) - 273.15, "pack_c_landing": float64(c.EndTemperature) - 273.15,
	})
	if c.Dipped {
		out["first_dip_s"], out["strict_flight_s"] = float64(c.FirstDip), math.Min(float64(c.FirstDip), float64(c.Duration))
	}
	for i, u := range c.Phases {
		phase := values{
			"seconds": float64(u.Duration), "full": u.Full, "ends_flight": i == c.EndedIn,
		}
		if u.Runs > 0 { // nothing is known of one that never began
			phase["min_voltage_v"], phase["min_at_s"], phase["max_current_a"] = float64(u.MinVoltage), float64(u.MinAt), float64(u.MaxCurrent)
			phase["first_ratio"], phase["last_ratio"] = u.FirstRatio, u.LastRatio
		}
		switch {
		case !u.Full:
			phase["thrust"] = u.Thrust
		case u.Runs > 0:
			phase["longest_s"] = float64(u.Longest)
		}
		out.put(fmt.Sprintf("phases[%d].", i), phase)
	}
	return out
}

func TestRankValues(t *testing.T) {
	for name, text := range builds(t) {
		t.Run(name, func(t *testing.T) {
			cold := model.Celsius(8)
			p, err := planOf(t, text).In(planner.Conditions{Pack: &cold})
			if err != nil {
				t.Fatal(err)
			}
			r := p.Rank(packSetOf(t, p.Build.Parts), planner.RankOptions{})
			args := []string{"rank", "-", "--pack-temperature", "8C"}

			want := values{"build": p.Build.Name, "dry_mass_g": gramsOf(p.Dry)}
			want.put("limit.", limitValues(p.Build.Limit))
			want.put("scale.", scaleValues(p))
			want.put("hover.", propulsionValues(p))
			want.put("hover.", values{
				"gear_power_w": float64(p.Drive.GearPower), "air_kg_m3": float64(p.Drive.Rotor.Air), "thrust_loss": p.Drive.ThrustLoss, "pack_temperature_c": celsiusOf(*p.Build.Air.PackTemperature),
			})
			if of := hoverOf(r); of != nil {
				ct, cp := p.Drive.Rotor.Propeller.Coefficients(of.Flight.Hover.Rotor.Speed, p.Drive.Rotor.Air)
				want.put("hover.", values{
					"pack": of.Pack.ID, "mass_g": gramsOf(of.Mass), "power_w": float64(of.Flight.Hover.Power), "current_a": float64(of.Flight.Current),
					"rpm": rpmOf(of.Flight.Hover.Rotor.Speed), "throttle": of.Flight.Throttle, "figure_of_merit": figureOfMerit(ct, cp),
				})
			}
			home := planOf(t, text) // as its file has it
			for i := range r.Ranked {
				a := &r.Ranked[i]
				was := home.Assess(a.Pack)
				want.put(fmt.Sprintf("ranked[%d].", i), packValues(a))
				want.put(fmt.Sprintf("ranked[%d].change.", i), changeValues(a, &was))
			}
			for i, a := range r.Excluded {
				want.put(fmt.Sprintf("excluded[%d].", i), values{"pack": a.Pack.ID, "demo": true, "all_up_g": gramsOf(a.Mass), "reasons[0].code": a.Against()[0].Code})
			}
			checkValues(t, askJSON(t, text, args...), want, asInJSON)

			var rows []values
			for i := range r.Ranked {
				a := &r.Ranked[i]
				was := home.Assess(a.Pack)
				change := changeValues(a, &was)
				row := rankRow(a)
				row["flight_min_change"] = change["flight_s"].(float64) / 60
				row["hover_current_a_change"], row["punch_ratio_change"] = change["hover_current_a"], change["punch_ratio"]
				rows = append(rows, row)
			}
			for i := range r.Excluded {
				rows = append(rows, rankRow(&r.Excluded[i]))
			}
			checkRows(t, askCSV(t, text, args...), rows)
		})
	}
}

// changeValues are what conditions cost a pack.
func changeValues(is, was *planner.Assessment) values {
	now, before := packValues(is), packValues(was)
	out := values{}
	for _, key := range []string{"flight_s", "hover_power_w", "hover_current_a", "punch_ratio", "punch_ratio_landing"} {
		out[key] = now[key].(float64) - before[key].(float64)
	}
	return out
}

// hoverOf is the pack that hover is told of: the best, or else today's.
func hoverOf(r *planner.Ranking) *planner.Assessment {
	if len(r.Ranked) > 0 {
		return &r.Ranked[0]
	}
	for i := range r.Excluded {
		if r.Plan.Pack != nil && r.Excluded[i].Pack.ID == r.Plan.Pack.ID {
			return &r.Excluded[i]
		}
	}
	return nil
}

// rankRow is a pack's row in the CSV of a ranking: one that does not suit has no flight.
func rankRow(a *planner.Assessment) values {
	j := packValues(a)
	row := values{}
	for _, key := range []string{"rank", "group", "best_chance", "beats_next_chance", "first_beats_chance", "pack", "all_up_g", "margin_g", "over_limit_chance", "power_density_w_per_g", "energy_density_wh_per_g", "price", "score", "basis"} {
		if v, ok := j[key]; ok {
			row[key] = v
		}
	}
	if !a.Eligible() {
		return row
	}
	for _, key := range []string{"usable_wh", "hover_power_w", "hover_current_a", "punch_ratio", "punch_ratio_landing", "pack_headroom", "pack_c_max", "limited_by"} {
		row[key] = j[key]
	}
	row["flight_min"] = minutesOf(a.Duration())
	for key, band := range map[string]planner.Interval{"hover_current_a": a.Band.Current, "punch_ratio": a.Band.Punch} {
		row[key+"_p5"], row[key+"_p95"] = band.Low, band.High
	}
	row["flight_min_p5"], row["flight_min_p95"] = a.Band.Time.Low/60, a.Band.Time.High/60
	return row
}

func TestWeighValues(t *testing.T) {
	for name, text := range builds(t) {
		t.Run(name, func(t *testing.T) {
			p := planOf(t, text)
			w := p.Weigh()
			want := values{
				"build": p.Build.Name, "all_up_g": gramsOf(w.Mass), "dry_mass_g": gramsOf(w.Dry), "margin_g": gramsOf(w.Margin), "spare_g": gramsOf(w.Spare),
				"sum_g": gramsOf(w.Sum), "dry_expanded_uncertainty_g": gramsOf(w.DryExpanded), "expanded_uncertainty_g": gramsOf(w.Expanded), "over_limit_chance": w.OverChance, "verdict": w.Verdict, "carries_pack": name != "no pack", "hover.power_w": float64(p.Drive.Hover(w.Mass, p.Bus).Power), "hover.bus_v": float64(p.Bus),
			}
			want.put("limit.", limitValues(p.Build.Limit))
			want.put("scale.", scaleValues(p))
			want.put("hover.", propulsionValues(p))
			want.put("hover.", lossValues(p.Drive.Losses(p.Drive.Hover(w.Mass, p.Bus))))
			var rows []values
			for n, i := range w.Items {
				half := 0.03 * float64(i.Each) * 1000 // of the catalogue
				if i.Weighed {
					half = 0.1 / math.Max(1, float64(i.Together))
				}
				if i.Tolerance != nil {
					half = gramsOf(*i.Tolerance)
				}
				item := values{
					"slot": i.Slot, "id": i.ID, "count": float64(i.Count), "each_g": gramsOf(i.Each), "total_g": float64(i.Count) * gramsOf(i.Each),
					"half_width_g": float64(i.Count) * half,
				}
				share := float64(i.Count) * float64(i.Each) / float64(w.Mass)
				rows = append(rows, values{"share_percent": 100 * share})
				rows[n].put("", item)
				item["share"], item["weighed"], item["with_pack"] = share, i.Weighed, i.WithPack
				record, _, listed := p.Build.Parts.Record(i.ID)
				item["demo"] = listed && record.Source.Layer == "built-in"
				want.put(fmt.Sprintf("items[%d].", n), item)
			}
			first := w.WeighFirst()
			for n, i := range first {
				want.put(fmt.Sprintf("weigh_first[%d].", n), values{"id": i.ID, "count": float64(i.Count), "removes_g": gramsOf(i.Removes), "left_g": gramsOf(i.Left)})
			}
			checkValues(t, askJSON(t, text, "weigh", "-"), want, asInJSON)
			if p.Scale != nil {
				rows = append(rows, values{"slot": "sum", "total_g": gramsOf(w.Sum), "half_width_g": gramsOf(w.SumExpanded)})
			}
			rows = append(rows, values{"slot": "all-up", "total_g": gramsOf(w.Mass), "half_width_g": gramsOf(w.Expanded), "share_percent": 100.0})
			checkRows(t, askCSV(t, text, "weigh", "-"), rows)
		})
	}
}

func TestSwapValues(t *testing.T) {
	for name, changes := range map[string][]string{
		"stint": {"pack=bracken-720", "with=camera:12.5g"}, "curlew": {"pack=sedge-550"}, "plover": {"prop=reed-40x25-2"},
		"no pack": {"without=mote-rx"}, "flown": {"pack=teasel-680"}, "scaled": {"pack=bracken-650"},
	} {
		t.Run(name, func(t *testing.T) {
			text := builds(t)[name]
			before := buildOf(t, text)
			var list []catalog.Change
			for _, c := range changes {
				change, err := catalog.ParseChange(c)
				if err != nil {
					t.Fatal(err)
				}
				list = append(list, change)
			}
			after, _, err := before.Apply(list)
			if err != nil {
				t.Fatal(err)
			}
			s, err := planner.CompareSwap(before, after, packSetOf(t, before.Parts))
			if err != nil {
				t.Fatal(err)
			}
			args := append([]string{"swap", "-"}, changes...)
			sides := [2]values{sideValues(&s.Before), sideValues(&s.After)}
			want := values{"under_limit": s.After.Weighing.Verdict == planner.Under}
			want.put("limit.", limitValues(s.After.Plan.Build.Limit))
			want.put("scale.", scaleValues(s.After.Plan))
			want.put("before.", sides[0])
			want.put("delta_band.", bandValues(s.Difference))
			for i, r := range s.Remedies {
				want.put(fmt.Sprintf("would_settle[%d].", i), values{"figure": r.Figure, "leaves[0]": r.Leaves.Low, "leaves[1]": r.Leaves.High, "enough": r.Leaves.Low > 0 || r.Leaves.High < 0})
			}
			want.put("after.", sides[1])
			for _, key := range []string{"all_up_g", "flight_s", "hover_current_a", "punch_ratio"} {
				was, is := sides[0][key], sides[1][key]
				if was != nil && is != nil {
					want["delta."+key] = is.(float64) - was.(float64)
				}
			}
			checkValues(t, askJSON(t, text, args...), want, 1e-9) // a difference of two like figures has fewer digits
			checkRows(t, askCSV(t, text, args...), swapRows(s, sides))
		})
	}
}

func sideValues(o *planner.Outcome) values {
	w := o.Weighing
	out := values{"all_up_g": gramsOf(w.Mass), "margin_g": gramsOf(w.Margin), "spare_g": gramsOf(w.Spare), "over_limit_chance": w.OverChance}
	if o.Flown != nil {
		out = packValues(o.Flown)
	}
	out["dry_mass_g"], out["verdict"] = gramsOf(w.Dry), w.Verdict
	if o.Flown != nil {
		out.put("hover.", propulsionValues(o.Plan))
		out.put("best.", propulsionValues(o.Best))
	}
	return out
}

// swapRows are the lines of a swap's table.
func swapRows(s *planner.Swap, sides [2]values) []values {
	time := "hover min"
	if s.After.Flown != nil && s.After.Flown.Cycle != nil {
		time = "flight min"
	}
	var rows []values
	for _, r := range []struct {
		name, key string
		scale     float64
	}{
		{"all-up g", "all_up_g", 1},
		{"under limit g", "margin_g", 1},
		{time, "flight_s", 1.0 / 60},
		{"hover W", "hover_power_w", 1},
		{"hover A", "hover_current_a", 1},
		{"hover throttle %", "hover_throttle", 100},
		{"punch, times weight", "punch_ratio", 1},
		{"punch on landing", "punch_ratio_landing", 1},
		{"pack headroom", "pack_headroom", 1},
		{"pack deg C at most", "pack_c_max", 1},
	} {
		row := values{"figure": r.name}
		was, is := sides[0][r.key], sides[1][r.key]
		if was != nil {
			row["before"] = was.(float64) * r.scale
		}
		if is != nil {
			row["after"] = is.(float64) * r.scale
		}
		if was != nil && is != nil {
			row["difference"] = (is.(float64) - was.(float64)) * r.scale
		}
		for column, band := range map[string]values{"after": bandValues(s.After.Assessed().Band), "difference": bandValues(s.Difference)} {
			for i, end := range []string{"_p5", "_p95"} {
				if v, ok := band[fmt.Sprintf("%s[%d]", r.key, i)]; ok {
					row[column+end] = v.(float64) * r.scale
				}
			}
		}
		rows = append(rows, row)
	}
	return rows
}
