package planner

import (
	"math"
	"testing"

	"allup/model"
)

// TestBestSize: the best of a bow is its top, wherever between the masses of a grid it stands; where it is not kept, or
// beyond the ends, it is the nearest that is.
func TestBestSize(t *testing.T) {
	bow := func(top float64) func(model.Mass) Sized {
		return func(m model.Mass) Sized {
			off := float64(m) - top
			return Sized{Pack: m, Time: model.Time(600 - 1e4*off*off)}
		}
	}
	any := func(Sized) bool { return true }
	upTo := func(most model.Mass) func(Sized) bool { return func(s Sized) bool { return s.Pack <= most } }
	for _, c := range []struct {
		what         string
		top          float64
		keep         func(Sized) bool
		want, within float64
	}{
		{"between two of the grid", 0.0337, any, 0.0337, 2e-5},
		{"just above one", 0.0401, any, 0.0401, 2e-5},
		{"the lower end", 0.001, any, 0.01, 0},
		{"the upper end", 0.2, any, 0.058, 0},
		{"at the lower end", 0.01, any, 0.01, 2e-5},
		{"near the upper end", 0.0578, any, 0.0578, 2e-5},
		{"no more than is kept", 0.05, upTo(0.0333), 0.0333, 2e-4},
		{"no less", 0.02, func(s Sized) bool { return s.Pack >= 0.0333 }, 0.0333, 2e-4},
	} {
		if got := best(0.01, 0.058, bow(c.top), c.keep); math.Abs(float64(got.Pack)-c.want) > c.within {
			t.Errorf("%s: a pack of %v kg, want %v", c.what, float64(got.Pack), c.want)
		}
	}
	for what, keep := range map[string]func(Sized) bool{"nothing is kept": func(Sized) bool { return false }, "nothing flies": any} {
		at := bow(0.03)
		if what == "nothing flies" {
			at = func(m model.Mass) Sized { return Sized{Pack: m} }
		}
		if got := best(0.01, 0.058, at, keep); got != (Sized{}) {
			t.Errorf("%s: %+v", what, got)
		}
	}
}

// TestBinding: a size at what the rules leave is bound by them; one that is elsewhere than the best of all is bound by
// what else is asked, which is the punch.
func TestBinding(t *testing.T) {
	const most = 0.060
	for _, c := range []struct {
		what          string
		free, limited model.Mass
		freeKept      bool
		want          Bind
	}{
		{"at what the rules leave", 0.1, most, true, BindsBay},
		{"a search's last step below", 0.1, most * (1 - 0.9e-4), true, BindsBay},
		{"the best of all", 0.05, 0.05, true, BindsNothing},
		{"nearly the best of all", 0.05, 0.0504, true, BindsNothing},
		{"smaller than the best of all", 0.05, 0.045, true, BindsPunch},
		{"larger than the best of all", 0.05, 0.0506, true, BindsPunch},
		{"the best of all punches too little", 0.05, 0.0503, false, BindsPunch},
		{"the best of all is just what the rules leave, and punches too little", most, most * 0.995, false, BindsPunch},
		{"the best of all is heavier, and punches too little", 0.0605, 0.05995, false, BindsNothing},
	} {
		s := &Sizing{Most: most, MostBinds: BindsBay}
		f := &SizedFamily{Free: Sized{Pack: c.free}}
		keeps := func(x Sized) bool { return x.Pack != c.free || c.freeKept }
		if got := s.binding(f, Sized{Pack: c.limited}, keeps); got != c.want {
			t.Errorf("%s: bound by %s, want %s", c.what, got, c.want)
		}
	}
}
