package words_test

import (
	"math"
	"slices"
	"testing"

	"allup/model"
	"allup/model/words"
)

func TestNumbers(t *testing.T) {
	for _, c := range []struct{ got, want string }{
		{words.Fixed(12.345, 1), "12.3"},
		{words.Fixed(-0.04, 1), "0.0"},
		{words.Fixed(math.Copysign(0, -1), 0), "0"},
		{words.Fixed(-0.5, 1), "-0.5"},
		{words.Grown(0.04, 1), "0.04"},
		{words.Grown(-0.0004, 1), "-0.0004"},
		{words.Grown(0.06, 1), "0.1"},
		{words.Grown(0, 1), "0.0"},
		{words.Grown(2e-9, 1), "0.000000002"},
		{words.Grown(1e-14, 1), "0.0"},
		{words.Trimmed(15.200, 3), "15.2"},
		{words.Trimmed(15, 3), "15"},
		{words.Trimmed(100, 0), "100"},
		{words.Trimmed(-0.0001, 3), "0"},
		{words.Signed(1.25, 1), "+1.2"},
		{words.Signed(-1, 0), "-1"},
		{words.Signed(0.01, 1), "0.0"},
		{words.SignedGrown(0.01, 1), "+0.01"},
		{words.SignedGrown(-0.01, 1), "-0.01"},
		{words.Percent(0), "0 %"},
		{words.Percent(0.004), "< 1 %"},
		{words.Percent(0.126), "13 %"},
		{words.Percent(0.996), "> 99 %"},
		{words.Percent(1), "100 %"},
		{words.Count(1, "pack", "packs"), "1 pack"},
		{words.Count(0, "pack", "packs"), "0 packs"},
	} {
		if c.got != c.want {
			t.Errorf("got %q, want %q", c.got, c.want)
		}
	}
}

// TestGrams: a mass that is not nothing never reads as nothing, down to what model compares masses by.
func TestGrams(t *testing.T) {
	for grams, want := range map[float64]string{
		0: "0.0 g", 239.04: "239.0 g", 0.951: "1.0 g", 0.94: "0.94 g", -0.2: "-0.20 g", 0.004: "0.004 g",
		0.0000021: "0.000002 g", 1e-12: "0.0 g", -1e-12: "0.0 g", -12.34: "-12.3 g",
	} {
		if got := words.Grams(model.Mass(grams) * model.Gram); got != want {
			t.Errorf("Grams(%v g) = %q, want %q", grams, got, want)
		}
	}
}

func TestLists(t *testing.T) {
	abc := []string{"a", "b", "c"}
	for _, c := range []struct{ got, want string }{
		{words.List(nil, "or"), ""},
		{words.List(abc[:1], "or"), "a"},
		{words.List(abc[:2], "or"), "a or b"},
		{words.List(abc, "and"), "a, b and c"},
		{words.FirstFew(abc, 3), "a, b, c"},
		{words.FirstFew(abc, 1), "a and 2 more"},
	} {
		if c.got != c.want {
			t.Errorf("got %q, want %q", c.got, c.want)
		}
	}
}

// TestPrintable: what steers is shown as Go writes it in quotes, the rest stays, quotes and backslashes too.
func TestPrintable(t *testing.T) {
	for in, want := range map[string]string{
		"": "", `Grünfink "4" \`: `Grünfink "4" \`, "a\x1b[31mb": `a\x1b[31mb`, "a\u202eb": `a\u202eb`, "x\xffy": `x\xffy`, "a\nb": `a\nb`,
	} {
		if got := words.Printable(in); got != want {
			t.Errorf("Printable(%q) = %s, want %s", in, got, want)
		}
	}
}

func TestClean(t *testing.T) {
	for text, want := range map[string]string{
		"plain, ümläut, 日本": "plain, ümläut, 日本",
		"a\x1b[2Jb":         "a[2Jb",
		"a\u202eb\u200bc":   "abc",
		"a\nb\u2028c":       "abc",
		"a\xffb":            "a\ufffdb",
	} {
		if got := words.Clean(text); got != want {
			t.Errorf("Clean(%q) = %q, want %q", text, got, want)
		}
	}
}

// TestUnbroken: a figure and its unit stay on one line, with what closes behind them; other words part.
func TestUnbroken(t *testing.T) {
	got := words.Unbroken("weighs 239.0 g, 4 mV (7.1 W/g) in  2 ways", "~")
	if want := []string{"weighs", "239.0~g,", "4~mV", "(7.1~W/g)", "in", "2", "ways"}; !slices.Equal(got, want) {
		t.Errorf("%q, want %q", got, want)
	}
}

// TestChance: a chance is never none and never certain.
func TestChance(t *testing.T) {
	for v, want := range map[float64]string{
		0: "under 1 in a million", 1e-7: "under 1 in a million", 0.004: "< 1 %", 0.24: "24 %", 0.996: "> 99 %", 1: "> 99 %",
	} {
		if got := words.Chance(v); got != want {
			t.Errorf("%v is %q, want %q", v, got, want)
		}
	}
}
