package catalog

import "testing"

// A slip in the embedded file must stop every test, not change an answer.
func TestThresholdFileRefused(t *testing.T) {
	const good = "[[threshold]]\nid = \"a\"\nmass_g = 250\nsource = \"memory\"\n"
	if list, err := parseThresholds([]byte(good)); err != nil || len(list) != 1 {
		t.Fatalf("the good one gives %v, %v", list, err)
	}
	for name, text := range map[string]string{
		"no TOML":        "[[threshold",
		"unknown field":  good + "mass_kg = 1\n",
		"twice":          good + good,
		"two masses":     good + "mass_lb = 0.55\n",
		"negative mass":  "[[threshold]]\nid = \"a\"\nmass_g = -1\nsource = \"memory\"\n",
		"unknown source": "[[threshold]]\nid = \"a\"\nmass_g = 250\nsource = \"hearsay\"\n",
	} {
		if list, err := parseThresholds([]byte(text)); err == nil {
			t.Errorf("%s: read as %+v", name, list)
		}
	}
}
