package planner

import (
	"errors"
	"sync"

	"allup/catalog"
	"allup/model"
)

// RotorCache keeps the rotors that motors, propellers and boards of one catalogue make, and the fits of its
// thrust tests, so that a pair is worked out once however many builds it is in. It may be used from several
// goroutines.
type RotorCache struct {
	catalogue *catalog.Catalogue

	mu     sync.Mutex
	rotors map[rotorKey]*rotorWork
	tests  map[pairKey][]fittedTest
}

type rotorKey struct {
	motor *catalog.Motor
	prop  *catalog.Prop
	board *catalog.Board
	air   model.Density
	bus   model.Voltage // nominal
	only  model.Knowledge
}

// pairKey is the ids of a motor and a propeller.
type pairKey struct{ motor, prop string }

// fittedTest is a thrust test with its fit, or with why there is none.
type fittedTest struct {
	test *catalog.ThrustTest
	fit  model.ThrustFit
	err  error
	done bool
}

// NewRotorCache is an empty cache for the parts of a catalogue.
func NewRotorCache(cat *catalog.Catalogue) *RotorCache {
	c := &RotorCache{catalogue: cat, rotors: map[rotorKey]*rotorWork{}, tests: map[pairKey][]fittedTest{}}
	for _, id := range cat.IDs(catalog.KindThrustTest) {
		t := cat.ThrustTests[id]
		k := pairKey{t.Motor, t.Prop}
		c.tests[k] = append(c.tests[k], fittedTest{test: t})
	}
	return c
}

// rotor is what the parts make of each other in air of a density, on a nominal bus voltage: a function of these
// and of the catalogue's thrust tests alone. only is the kind of knowledge that counts; the best where it is
// "", or where there is none of that kind.
func (c *RotorCache) rotor(s Selection, air model.Density, bus model.Voltage, only model.Knowledge) *rotorWork {
	key := rotorKey{s.Motor, s.Prop, s.Board, air, bus, only}
	c.mu.Lock()
	defer c.mu.Unlock()
	if w, ok := c.rotors[key]; ok {
		return w
	}
	w := newRotorWork(s, air, bus, c.fits(pairKey{s.Motor.ID, s.Prop.ID}), only)
	if w.err == nil {
		w.moved = movedRotors(&w.rotor)
	}
	c.rotors[key] = w
	return w
}

// once is rotor for one who does not come back for it: it is not kept.
func (c *RotorCache) once(s Selection, air model.Density, bus model.Voltage) *rotorWork {
	c.mu.Lock()
	tests := c.fits(pairKey{s.Motor.ID, s.Prop.ID})
	c.mu.Unlock()
	return newRotorWork(s, air, bus, tests, "")
}

func newRotorWork(s Selection, air model.Density, bus model.Voltage, tests []fittedTest, only model.Knowledge) *rotorWork {
	w := &rotorWork{Motor: s.Motor, Prop: s.Prop, Board: s.Board, only: only}
	w.rotor, w.err = w.propulsion(air, bus, tests)
	return w
}

// fits are the thrust tests of a pair, by id, fitted.
func (c *RotorCache) fits(k pairKey) []fittedTest {
	tests := c.tests[k]
	for i := range tests {
		if t := &tests[i]; !t.done {
			t.fit, t.err = ReadThrustTest(c.catalogue, t.test.ID)
			t.done = true
		}
	}
	return tests
}

// rotorWork is a rotor as it is worked out of its parts.
type rotorWork struct {
	Motor *catalog.Motor
	Prop  *catalog.Prop
	Board *catalog.Board
	only  model.Knowledge

	Propulsion Propulsion
	Warnings   []Remark

	rotor model.Rotor
	moved []movedRotor
	err   error
}

func (p *rotorWork) warn(code Code, subject, format string, args ...any) {
	p.Warnings = append(p.Warnings, remark(code, subject, format, args...))
}

// thrustTest is the kept fit of this motor with this propeller that misses its rows least. The refused
// ones are warned of.
func (p *rotorWork) thrustTest(tests []fittedTest) (*catalog.ThrustTest, *model.ThrustFit) {
	var best *fittedTest
	for i := range tests {
		t := &tests[i]
		if refused, ok := errors.AsType[*model.RefusedError](t.err); ok {
			p.warn(Code(refused.Code), t.test.ID, "is not used: %s", refused.Text)
			continue
		}
		if t.err != nil {
			p.warn(TestUnused, t.test.ID, "is not used: %v", t.err)
			continue
		}
		if best == nil || t.fit.RMS < best.fit.RMS {
			best = t
		}
	}
	if best == nil {
		return nil, nil
	}
	return best.test, &best.fit
}
