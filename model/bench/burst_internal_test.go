package bench

import (
	"math"
	"testing"
)

// rampOf is a ramp of 1 A/s from 10 A after 40 s until 30 A, four rows a second, that takes 50 mV/A, with a change.
func rampOf(change func(t float64, m *moment)) (h hinge, end moment, blocks []moment) {
	at := func(t float64) moment {
		i := 10 + max(0, t-40)
		return moment{t: t, v: 4 - 0.05*i, i: i}
	}
	for k := range 240 {
		m := at(float64(k) / 4)
		change(m.t, &m)
		blocks = append(blocks, m)
	}
	end = at(59.9)
	return findRamp(append(blocks, end)), end, blocks
}

// stepOf is a current that steps halfway through the ramp.
func stepOf(by float64) func(t float64, m *moment) {
	return func(t float64, m *moment) {
		if t > 50 {
			m.i += by
		}
	}
}

// A ramp is bent where its last third, or the rows around its end, lead to another current than the whole of it, by
// more than 2 % and more than noise makes.
func TestBentRamp(t *testing.T) {
	for _, c := range []struct {
		name   string
		noise  float64
		change func(t float64, m *moment)
		ends   float64 // added to the current that the rows around the end lead to
		where  string
	}{
		{"straight", 0, func(float64, *moment) {}, 0, ""},
		{"the rows around the end, within", 0, func(float64, *moment) {}, 0.55, ""},
		{"the rows around the end", 0, func(float64, *moment) {}, -0.65, "the rows around it"},
		{"the rows around the end, by noise", 0.3, func(float64, *moment) {}, -0.65, ""},
		// A step halfway turns the whole line, so that it ends above its last third by a quarter of the step.
		{"a step, within", 0, stepOf(0.6), 0.6, ""},
		{"a step, noise of 0.1 A a row", 0.1, stepOf(3.5), 3.5, "its last third"},
		{"a step, noise of 0.8 A a row", 0.8, stepOf(3.5), 3.5, ""},
		{"a step", 0, stepOf(3.5), 3.5, "its last third"},
	} {
		h, end, blocks := rampOf(c.change)
		end.i += c.ends
		whole, _, straight := h.currentAt(end, blocks, c.noise)
		if !straight {
			t.Errorf("%s: no line through it", c.name)
		}
		other, where, bent := h.bent(whole, end, blocks, c.noise)
		if bent != (c.where != "") || bent && where != c.where {
			t.Errorf("%s: %v A at the end by %s where the whole leads to %v A, bent %v; want it by %q", c.name, other, where, whole, bent, c.where)
		}
	}
}

// The end of a ramp is known to the noise of one row over what it falls by in a second where rows are
// few, and better where many lie near the end voltage.
func TestEndNoise(t *testing.T) {
	for _, c := range []struct {
		noise float64 // V, up and down in turn, of which second differences make 4 and 2.05 sigma
		want  float64 // s
	}{
		{0, 0},
		{0.001, 0.001 * 2.047 / 0.05}, // 2 rows
		{0.025, 0.025 * 2.047 / 0.05 / math.Sqrt(12*0.025*2.047/0.05/0.25/4)}, // 49 rows
	} {
		sign := 1.0
		h, _, blocks := rampOf(func(_ float64, m *moment) {
			m.v += sign * c.noise
			sign = -sign
		})
		if got := h.endNoise(blocks); math.Abs(got-c.want) > 0.06*c.want+1e-9 {
			t.Errorf("noise of %g V: the end is known to %g s, want %g s", c.noise, got, c.want)
		}
	}
	h, _, blocks := rampOf(func(t float64, m *moment) { m.v = 4 + 0.001*t })
	if got := h.endNoise(blocks); got != 0 {
		t.Errorf("a voltage that rises: the end is known to %g s", got)
	}
}
