package catalog_test

import (
	"strings"
	"testing"

	"allup/catalog"
)

// A figure below what any part has is an error that names its field: the answers made of it would leave their range.
func TestLeastFigures(t *testing.T) {
	const motor = "[motor.m]\nmass_g = 10\nkv = 3800\n"
	const pack = "[pack.p]\nmass_g = 74\nchemistry = \"lipo\"\ncells = 4\nrated_mah = 650\n"
	for field, text := range map[string]string{
		"gear.g.mass_g":                "[gear.g]\nmass_g = 1e-9\n",
		"gear.g.power_w":               "[gear.g]\nmass_g = 1\npower_w = 5e-324\n",
		"gear.g.tolerance_g":           "[gear.g]\nmass_g = 1\ntolerance_g = 1\n",
		"gear.g.price":                 "[gear.g]\nmass_g = 1\nprice = 5e-324\ncurrency = \"EUR\"\n",
		"motor.m.r_mohm":               motor + "r_mohm = 1e-9\n",
		"motor.m.no_load_a":            motor + "no_load_a = 1e-300\n",
		"prop.q.ct":                    "[prop.q]\nmass_g = 1\ndiameter_in = 3\npitch_in = 2\nblades = 2\nct = 1e-300\ncp = 0.05\n",
		"pack.p.max_current_a":         pack + "max_current_a = 1e-9\n",
		"pack.p.circuit.tau_s":         pack + "[pack.p.circuit]\ncapacity_mah = 640\nr0_mohm = 30\nr1_mohm = 16\ntau_s = 1e-9\n",
		"pack.p.circuit.r0_mohm":       pack + "[pack.p.circuit]\ncapacity_mah = 640\nr0_mohm = 1e-9\nr1_mohm = 16\ntau_s = 20\n",
		"flight.phases[1].seconds":     "phases = [{ seconds = 1e-9, thrust = 1 }]",
		"flight.reserve":               "reserve = 5e-324",
		"flight.punch_charge":          "reserve = 0\npunch_charge = 1e-9",
		"flight.phases[2].seconds":     "phases = [{ seconds = 9, thrust = 1 }, { seconds = 0, full = true }]",
		"flight.reserve ":              "reserve = -0.02",
		"prop.q.ct ":                   "[prop.q]\nmass_g = 1\ndiameter_in = 3\npitch_in = 2\nblades = 2\nct = 0.006\ncp = 0.06\n",
		"pack.p.tested.ramp_a_per_s":   pack + "[pack.p.tested]\ncapacity_mah = 612\nburst_power_w = 520\nramp_a_per_s = 1e-9\n",
		"pack.p.tested.conditioning.s": pack + "[pack.p.tested]\ncapacity_mah = 612\nburst_power_w = 520\nconditioning = { current_a = 9, seconds = 1e-9 }\n",
	} {
		var err error
		if strings.HasPrefix(field, "flight") {
			_, _, err = catalog.ReadBuild("b.toml", strings.NewReader("[flight]\n"+text+"\n"), catalog.New())
		} else {
			_, _, err = catalog.Load(memoryLayer("parts", map[string][]byte{"parts.toml": []byte(text)}))
		}
		if err == nil || !strings.Contains(err.Error(), ": "+strings.TrimSpace(field)) {
			t.Errorf("%s: %v, want an error of that field", field, err)
		}
	}
}
