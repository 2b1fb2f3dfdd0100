package tested_test

import (
	"bytes"
	"cmp"
	"fmt"
	"io/fs"
	"maps"
	"math"
	"math/rand/v2"
	"os"
	"slices"
	"strconv"
	"strings"
	"sync"
	"testing"
	"testing/fstest"

	"allup/catalog"
	"allup/model"
	"allup/model/bench"
	"allup/planner/tested"
)

// What a case of the generator is called wrong at, relative, and what may then go without a word.
const (
	wrongBy       = 0.05
	grosslyWrong  = 0.20
	silentOf      = 10000 // fewer than one silently wrong case in so many
	shortRunCases = 500
	longRunCases  = 20000
)

// benchCase is a pack on the bench with both of its logs, before and after something went wrong with them.
type benchCase struct {
	r         *rand.Rand
	cells     int
	chemistry model.Chemistry
	rated     model.Charge
	circuit   model.Circuit // of the discharge; the burst's differs a little, as from day to day
	later     model.Circuit
	run       bench.Run
	protocol  model.Protocol
	further   model.Voltage // per cell: the tester goes on below the end voltages by this

	discharge, burst []bench.Sample
	header           string
	text             func(string) string // changes the text of the logs; nil: nothing
	untold           bool                // no log tells what is wrong: shown, never over 20 %, and not counted
	said             struct {            // in the bench file
		cells int
		rated model.Charge
	}
}

// uniform draws from low to high.
func uniform(r *rand.Rand, low, high float64) float64 { return low + (high-low)*r.Float64() }

// factor draws a factor that is off 1 by least to most, either way.
func factor(r *rand.Rand, least, most float64) float64 {
	f := 1 + uniform(r, least, most)
	if r.IntN(2) == 0 {
		return 1 / f
	}
	return f
}

// drawPack draws a circuit for a label: a curve that is not quite the built-in one, a capacity and a
// resistance from very good to poor.
func drawPack(r *rand.Rand, chemistry model.Chemistry, cells int, rated model.Charge) model.Circuit {
	usual, err := model.CurveOf(chemistry)
	if err != nil {
		panic(err)
	}
	a, b, c := uniform(r, -0.008, 0.008), uniform(r, -0.008, 0.008), uniform(r, -0.006, 0.006)
	volts := make([]model.Voltage, 21)
	for k := range volts {
		s := float64(k) / 20
		volts[k] = usual.At(s) + model.Voltage(a*math.Sin(3*s)+b*math.Cos(7*s)+c*math.Sin(11*s))*model.Voltage(1-s*s)
		if k > 0 {
			volts[k] = max(volts[k], volts[k-1])
		}
	}
	curve, err := model.EvenCurve(volts)
	if err != nil {
		panic(err)
	}
	q := rated * model.Charge(uniform(r, 0.85, 1.05))
	steady := model.Resistance(uniform(r, 0.008, 0.022) / q.AmpHours() * float64(cells))
	share := model.Resistance(uniform(r, 0.58, 0.72))
	return model.Circuit{
		Cells: cells, Curve: curve, Capacity: q, R0: steady * share, R1: steady * (1 - share),
		Tau: model.Time(uniform(r, 12, 30)), Shift: model.Voltage(uniform(r, -0.006, 0.006)),
	}
}

func newBenchCase(seed uint64) *benchCase {
	r := rand.New(rand.NewPCG(seed, 14))
	c := &benchCase{r: r, cells: []int{4, 4, 4, 4, 1, 2, 3, 6}[r.IntN(8)], chemistry: []model.Chemistry{model.LiPo, model.LiPo, model.LiHV}[r.IntN(3)]}
	c.rated = model.Charge(300+50*r.IntN(12)) * model.MilliAmpH
	c.said.cells, c.said.rated = c.cells, c.rated
	c.circuit = drawPack(r, c.chemistry, c.cells, c.rated)
	c.later = c.circuit
	warm := model.Resistance(1 + 0.015*max(-2, min(2, r.NormFloat64())))
	c.later.R0, c.later.R1 = c.later.R0*warm, c.later.R1*warm
	c.protocol = model.UsualProtocol(c.rated, c.cells)
	c.run = bench.Run{
		Interval: []model.Time{0.05, 0.1, 0.1, 0.1, 0.25, 0.5, 1}[r.IntN(7)], Rest: []model.Time{2, 2, 3, 10}[r.IntN(4)],
		VoltageNoise: model.Voltage(r.Float64() * 0.003 * float64(c.cells)), CurrentNoise: r.Float64() * 0.01, Source: rand.NewPCG(seed, 15),
	}
	if r.IntN(2) == 0 {
		c.further = model.Voltage(uniform(r, 0.02, 0.4))
	}
	c.discharge, c.burst = c.logs(c.circuit, c.later)
	c.header = "time_s,voltage_v,current_a"
	return c
}

func (c *benchCase) logs(first, second model.Circuit) (discharge, burst []bench.Sample) {
	p := c.protocol
	p.BurstEndPerCell -= c.further
	return c.run.Discharge(first, model.ConstantPower(p.DischargePower), p.DischargeEndPerCell-c.further), c.run.Burst(second, p)
}

// truth are the figures of the simulator, which does not know what a log is.
func (c *benchCase) truth() model.TestedMetrics {
	m, b := c.circuit.Tests(c.protocol), c.later.Tests(c.protocol)
	m.BurstPower, m.BurstCurrent = b.BurstPower, b.BurstCurrent
	return m
}

func (c *benchCase) csv(rows []bench.Sample) []byte {
	var b bytes.Buffer
	fmt.Fprintln(&b, c.header)
	for _, s := range rows {
		fmt.Fprintf(&b, "%.3f,%.3f,%.3f\n", float64(s.Time), float64(s.Voltage), float64(s.Current))
	}
	if c.text != nil {
		return []byte(c.text(b.String()))
	}
	return b.Bytes()
}

func (c *benchCase) reduce(t testing.TB) tested.ReducedPack {
	t.Helper()
	logs := fstest.MapFS{"d.csv": {Data: c.csv(c.discharge)}, "b.csv": {Data: c.csv(c.burst)}}
	file := fmt.Sprintf("date = 2026-05-31\n[protocol]\ndischarge_c = 15\nconditioning_c = 15\nconditioning_s = 48\nramp_c_per_s = 2\n[pack.one]\nchemistry = %q\ncells = %d\nrated_mah = %.0f\nmass_g = %.1f\ndischarge = \"d.csv\"\nburst = \"b.csv\"\n",
		c.chemistry, c.said.cells, c.said.rated.MilliAmpHours(), c.said.rated.MilliAmpHours()*float64(c.said.cells)*0.028)
	b, _, err := catalog.ReadBench("bench.toml", strings.NewReader(file))
	if err != nil {
		t.Fatal(err)
	}
	packs, err := tested.ReduceBench(b, fs.FS(logs), nil, nil)
	if err != nil {
		t.Fatal(err)
	}
	return packs[0]
}

// off is the greatest relative error of a reduction's figures.
func off(got, want model.TestedMetrics) (worst float64, figure string) {
	for _, f := range []struct {
		name      string
		got, want float64
	}{
		{"capacity", float64(got.Capacity), float64(want.Capacity)},
		{"energy", float64(got.Energy), float64(want.Energy)},
		{"mid voltage", float64(got.MidVoltage), float64(want.MidVoltage)},
		{"burst current", float64(got.BurstCurrent), float64(want.BurstCurrent)},
		{"burst power", float64(got.BurstPower), float64(want.BurstPower)},
	} {
		if e := math.Abs(f.got/f.want - 1); e > worst || math.IsNaN(e) {
			worst, figure = e, f.name
		}
	}
	return worst, figure
}

// corruption is one kind of what goes wrong between a bench and its file.
type corruption struct {
	name string
	do   func(c *benchCase)
}

// rows changes one of the two logs or both, each from a row on; where is between 0 and 1 of the test under load.
func (c *benchCase) one(do func(rows []bench.Sample) []bench.Sample) {
	if c.r.IntN(2) == 0 {
		c.discharge = do(c.discharge)
	} else {
		c.burst = do(c.burst)
	}
}

// span is the rows under load.
func span(rows []bench.Sample) (from, to int) {
	from = slices.IndexFunc(rows, func(s bench.Sample) bool { return math.Abs(float64(s.Current)) > 0 })
	to = len(rows)
	for to > from && rows[to-1].Current == 0 {
		to--
	}
	return from, to
}

// part is a random part of the rows under load that has at least a share of them.
func (c *benchCase) part(rows []bench.Sample, least, most float64) (from, to int) {
	a, b := span(rows)
	n := int(uniform(c.r, least, most) * float64(b-a))
	n = max(n, 1)
	from = a + c.r.IntN(max(1, b-a-n))
	return from, min(from+n, b)
}

// midway is a row under load, not near its ends.
func (c *benchCase) midway(rows []bench.Sample) int {
	a, b := span(rows)
	return a + int(uniform(c.r, 0.1, 0.85)*float64(b-a))
}

// stranger is another pack of the same label, further from this one than a pack is from itself: in capacity or
// resistance, and in what its logs show.
func (c *benchCase) stranger() model.Circuit {
	for {
		if o := c.drawOther(); c.apart(o) >= asFromItself {
			return o
		}
	}
}

// likeness is a stranger that behaves like this pack as long as the two logs of a pack can be compared: the
// nearest of many.
func (c *benchCase) likeness() model.Circuit {
	nearest := c.drawOther()
	for range 300 {
		if o := c.drawOther(); c.apart(o) < c.apart(nearest) {
			nearest = o
		}
	}
	return nearest
}

func (c *benchCase) drawOther() model.Circuit {
	for {
		o := drawPack(c.r, c.chemistry, c.cells, c.rated)
		q, r := float64(o.Capacity/c.circuit.Capacity), float64((o.R0+o.R1)/(c.circuit.R0+c.circuit.R1))
		if math.Abs(q-1) > 0.08 || math.Abs(r-1) > 0.12 {
			return o
		}
	}
}

// asFromItself is how far a pack may be from itself on another day, of what the load pulls its voltage down by: 7 %
// of its resistance is what 4 or 5 degrees make (from memory).
const asFromItself = 0.07

// apart is the greatest difference between the voltages of this pack and another one, without noise, at rest and at the
// same charge in the conditioning, of what the load takes. That is all that a discharge and a burst have in common. It
// is counted from the day that is nearer to the other pack.
func (c *benchCase) apart(o model.Circuit) float64 {
	return min(c.between(c.circuit, o), c.between(c.later, o))
}

func (c *benchCase) between(one, o model.Circuit) (most float64) {
	i := c.protocol.ConditioningCurrent
	under := func(pack model.Circuit, t model.Time) float64 {
		slow := model.Resistance(1 - math.Exp(-float64(t/pack.Tau)))
		s := 1 - float64(i)*float64(t)/float64(pack.Capacity)
		return float64(c.cells)*float64(pack.Curve.At(s)+pack.Shift) - float64(pack.R0+pack.R1*slow)*float64(i)
	}
	rest := func(pack model.Circuit) float64 { return float64(c.cells) * float64(pack.Curve.At(1)+pack.Shift) }
	most = math.Abs(rest(o) - rest(one))
	for k := range 20 {
		t := c.protocol.ConditioningTime * model.Time(k) / 19
		most = max(most, math.Abs(under(o, t)-under(one, t)))
	}
	return most / (float64(one.R0+one.R1) * float64(i))
}

// swapFor takes one of the two logs from another pack.
func (c *benchCase) swapFor(o model.Circuit) {
	c.untold = c.apart(o) < asFromItself
	d, b := c.logs(o, o)
	if c.r.IntN(2) == 0 {
		c.discharge = d
	} else {
		c.burst = b
	}
}

func corruptions() []corruption {
	type samples = []bench.Sample
	return []corruption{
		{"nothing", func(*benchCase) {}},
		{"end cut off", func(c *benchCase) {
			c.one(func(s samples) samples {
				a, b := span(s)
				return s[:a+int(uniform(c.r, 0.2, 1)*float64(b-a))]
			})
		}},
		{"start cut off", func(c *benchCase) {
			c.one(func(s samples) samples {
				a, b := span(s)
				return s[a+int(uniform(c.r, 0, 0.9)*float64(b-a)):]
			})
		}},
		{"start cut off, rest kept", func(c *benchCase) {
			c.one(func(s samples) samples {
				a, b := span(s)
				k := a + int(uniform(c.r, 0.05, 0.9)*float64(b-a))
				by := s[k].Time - s[a].Time
				out := slices.Clone(s[:a])
				for _, x := range s[k:] {
					x.Time -= by
					out = append(out, x)
				}
				return out
			})
		}},
		{"rows missing at load on", func(c *benchCase) {
			c.one(func(s samples) samples {
				a, _ := span(s)
				n := int(uniform(c.r, 1, 40) / float64(c.run.Interval))
				return slices.Delete(s, a, min(a+n, len(s)))
			})
		}},
		{"clock stretched in a part", func(c *benchCase) {
			c.one(func(s samples) samples {
				from, to := c.part(s, 0.1, 0.8)
				f := model.Time(factor(c.r, 0.08, 0.8))
				shift := (s[to-1].Time - s[from].Time) * (f - 1)
				for k := range s {
					switch {
					case k >= to:
						s[k].Time += shift
					case k > from:
						s[k].Time = s[from].Time + (s[k].Time-s[from].Time)*f
					}
				}
				return s
			})
		}},
		{"clock stretched", func(c *benchCase) {
			c.one(func(s samples) samples {
				f := model.Time(factor(c.r, 0.12, 2))
				for k := range s {
					s[k].Time *= f
				}
				return s
			})
		}},
		{"clock jumps", func(c *benchCase) {
			c.one(func(s samples) samples {
				from := c.midway(s)
				by := model.Time(uniform(c.r, 1, 60))
				for k := from; k < len(s); k++ {
					s[k].Time += by
				}
				return s
			})
		}},
		{"current gain", func(c *benchCase) {
			c.one(func(s samples) samples {
				f := model.Current(factor(c.r, 0.05, 1))
				for k := range s {
					s[k].Current *= f
				}
				return s
			})
		}},
		{"current gain of both", func(c *benchCase) {
			f := model.Current(factor(c.r, 0.05, 1))
			for _, s := range []samples{c.discharge, c.burst} {
				for k := range s {
					s[k].Current *= f
				}
			}
		}},
		{"current gain changes", func(c *benchCase) {
			c.one(func(s samples) samples {
				f := model.Current(factor(c.r, 0.04, 0.5))
				for k := c.midway(s); k < len(s); k++ {
					s[k].Current *= f
				}
				return s
			})
		}},
		{"voltage gain", func(c *benchCase) {
			c.one(func(s samples) samples {
				f := model.Voltage(factor(c.r, 0.01, 0.4))
				for k := range s {
					s[k].Voltage *= f
				}
				return s
			})
		}},
		{"voltage gain of both", func(c *benchCase) {
			f := model.Voltage(factor(c.r, 0.04, 0.4))
			for _, s := range []samples{c.discharge, c.burst} {
				for k := range s {
					s[k].Voltage *= f
				}
			}
		}},
		{"voltage gain changes", func(c *benchCase) {
			c.one(func(s samples) samples {
				f := model.Voltage(factor(c.r, 0.005, 0.2))
				for k := c.midway(s); k < len(s); k++ {
					s[k].Voltage *= f
				}
				return s
			})
		}},
		{"current offset", func(c *benchCase) {
			c.one(func(s samples) samples {
				by := model.Current(c.rated.AmpHours() * uniform(c.r, -4, 4))
				for k := range s {
					s[k].Current += by
				}
				return s
			})
		}},
		{"current offset changes", func(c *benchCase) {
			c.one(func(s samples) samples {
				by := model.Current(c.rated.AmpHours() * uniform(c.r, -5, 5))
				for k := c.midway(s); k < len(s); k++ {
					s[k].Current += by
				}
				return s
			})
		}},
		{"voltage offset", func(c *benchCase) {
			c.one(func(s samples) samples {
				by := model.Voltage(float64(c.cells) * (factor(c.r, 0.05, 0.5) - 1))
				for k := range s {
					s[k].Voltage += by
				}
				return s
			})
		}},
		{"voltage offset changes", func(c *benchCase) {
			c.one(func(s samples) samples {
				by := model.Voltage(float64(c.cells) * uniform(c.r, -0.3, 0.3))
				for k := c.midway(s); k < len(s); k++ {
					s[k].Voltage += by
				}
				return s
			})
		}},
		{"columns swapped", func(c *benchCase) {
			c.one(func(s samples) samples {
				for k := range s {
					s[k].Voltage, s[k].Current = model.Voltage(s[k].Current), model.Current(s[k].Voltage)
				}
				return s
			})
		}},
		{"columns swapped midway", func(c *benchCase) {
			c.one(func(s samples) samples {
				for k := c.midway(s); k < len(s); k++ {
					s[k].Voltage, s[k].Current = model.Voltage(s[k].Current), model.Current(s[k].Voltage)
				}
				return s
			})
		}},
		{"two parts swapped", func(c *benchCase) {
			c.one(func(s samples) samples {
				from, to := c.part(s, 0.1, 0.6)
				middle := (from + to) / 2
				n := min(middle-from, to-middle)
				for k := range n {
					x, y := &s[from+k], &s[middle+k]
					x.Voltage, x.Current, y.Voltage, y.Current = y.Voltage, y.Current, x.Voltage, x.Current
				}
				return s
			})
		}},
		{"another pack from midway", func(c *benchCase) {
			second := c.r.IntN(2) == 0
			splice := func(s samples) samples {
				for k := c.midway(s); ; k = c.midway(s) {
					o := c.stranger()
					other, b := c.logs(o, o)
					if second {
						other = b
					}
					if k < len(other) && math.Abs(float64(other[k].Voltage-s[k].Voltage)) > 0.03*float64(c.cells) {
						return append(slices.Clone(s[:k]), other[k:]...)
					}
				}
			}
			if second {
				c.burst = splice(c.burst)
			} else {
				c.discharge = splice(c.discharge)
			}
		}},
		{"the log twice", func(c *benchCase) {
			c.one(func(s samples) samples {
				last := s[len(s)-1].Time + c.run.Interval
				twice := slices.Clone(s)
				for _, x := range s {
					x.Time += last
					twice = append(twice, x)
				}
				return twice
			})
		}},
		{"rows missing", func(c *benchCase) {
			c.one(func(s samples) samples {
				from, to := c.part(s, 0.005, 0.3)
				return slices.Delete(s, from, to)
			})
		}},
		{"rows missing, clock closed up", func(c *benchCase) {
			c.one(func(s samples) samples {
				from, to := c.part(s, 0.02, 0.5)
				by := s[min(to, len(s)-1)].Time - s[from].Time
				for k := to; k < len(s); k++ {
					s[k].Time -= by
				}
				return slices.Delete(s, from, to)
			})
		}},
		{"rows repeated, clock runs on", func(c *benchCase) {
			c.one(func(s samples) samples {
				from, to := c.part(s, 0.02, 0.5)
				by := s[min(to, len(s)-1)].Time - s[from].Time
				out := slices.Clone(s[:to])
				for _, x := range s[from:] {
					x.Time += by
					out = append(out, x)
				}
				return out
			})
		}},
		{"another unit than the header says", func(c *benchCase) {
			c.header = []string{
				"time_ms,voltage_v,current_a", "time_min,voltage_v,current_a", "time_h,voltage_v,current_a",
				"time_s,voltage_mv,current_a", "time_s,voltage_v,current_ma", "time_us,voltage_v,current_a",
			}[c.r.IntN(6)]
		}},
		{"noisy voltage", func(c *benchCase) {
			sigma := float64(c.cells) * uniform(c.r, 0.01, 0.3)
			c.one(func(s samples) samples {
				for k := range s {
					s[k].Voltage += model.Voltage(sigma * c.r.NormFloat64())
				}
				return s
			})
		}},
		{"noisy current", func(c *benchCase) {
			sigma := uniform(c.r, 0.02, 0.5)
			c.one(func(s samples) samples {
				for k := range s {
					s[k].Current *= model.Current(1 + sigma*c.r.NormFloat64())
				}
				return s
			})
		}},
		{"voltage stuck", func(c *benchCase) {
			c.one(func(s samples) samples {
				from, to := c.part(s, 0.01, 0.4)
				for k := from; k < to; k++ {
					s[k].Voltage = s[from].Voltage
				}
				return s
			})
		}},
		{"current stuck", func(c *benchCase) {
			c.one(func(s samples) samples {
				from, to := c.part(s, 0.01, 0.6)
				for k := from; k < to; k++ {
					s[k].Current = s[from].Current
				}
				return s
			})
		}},
		{"logger stuck", func(c *benchCase) {
			c.one(func(s samples) samples {
				from, to := c.part(s, 0.01, 0.4)
				for k := from; k < to; k++ {
					s[k].Current, s[k].Voltage = s[from].Current, s[from].Voltage
				}
				return s
			})
		}},
		{"the other test's log", func(c *benchCase) {
			switch c.r.IntN(3) {
			case 0:
				c.burst = c.discharge
			case 1:
				c.discharge = c.burst
			default:
				c.discharge, c.burst = c.burst, c.discharge
			}
		}},
		{"another pack's log, same label", func(c *benchCase) { c.swapFor(c.stranger()) }},
		{"another pack's log, alike in the conditioning", func(c *benchCase) { c.swapFor(c.likeness()) }},
		{"another pack's log, other label", func(c *benchCase) {
			o := *c
			for o.rated == c.rated {
				o.rated = model.Charge(300+50*c.r.IntN(12)) * model.MilliAmpH
			}
			o.protocol = model.UsualProtocol(o.rated, o.cells)
			pack := drawPack(c.r, c.chemistry, c.cells, o.rated)
			d, b := o.logs(pack, pack)
			if c.r.IntN(2) == 0 {
				c.discharge = d
			} else {
				c.burst = b
			}
		}},
		{"another number of cells", func(c *benchCase) { c.said.cells = 1 + (c.cells+c.r.IntN(5))%6 }},
		{"readings lost", func(c *benchCase) {
			c.one(func(s samples) samples {
				for range 1 + c.r.IntN(20) {
					from, to := c.part(s, 0.001, 0.05)
					what := c.r.IntN(3)
					for k := from; k < to; k++ {
						if what != 1 {
							s[k].Voltage = 0
						}
						if what != 0 {
							s[k].Current = 0
						}
					}
				}
				return s
			})
		}},
		{"many stray rows", func(c *benchCase) {
			c.one(func(s samples) samples {
				share := uniform(c.r, 0.005, 0.2)
				for k := range s {
					if c.r.Float64() < share {
						s[k].Voltage *= model.Voltage(uniform(c.r, 0.3, 1.7))
					}
					if c.r.Float64() < share {
						s[k].Current *= model.Current(uniform(c.r, 0, 3))
					}
				}
				return s
			})
		}},
		{"coarse figures", func(c *benchCase) {
			v, i := uniform(c.r, 0.01, 0.1)*float64(c.cells), uniform(c.r, 0.1, 3)*c.rated.AmpHours()
			c.one(func(s samples) samples {
				for k := range s {
					s[k].Voltage = model.Voltage(math.Round(float64(s[k].Voltage)/v) * v)
					s[k].Current = model.Current(math.Round(float64(s[k].Current)/i) * i)
				}
				return s
			})
		}},
		{"current beyond the meter's range", func(c *benchCase) {
			most := model.Current(c.rated.AmpHours() * uniform(c.r, 10, 60))
			c.one(func(s samples) samples {
				for k := range s {
					s[k].Current = min(s[k].Current, most)
				}
				return s
			})
		}},
		{"voltage beyond the meter's range", func(c *benchCase) {
			most, least := model.Voltage(c.cells)*model.Voltage(uniform(c.r, 3.6, 4.4)), model.Voltage(c.cells)*model.Voltage(uniform(c.r, 2.8, 3.5))
			c.one(func(s samples) samples {
				for k := range s {
					s[k].Voltage = max(least, min(s[k].Voltage, most))
				}
				return s
			})
		}},
		{"slow voltmeter", func(c *benchCase) {
			c.one(func(s samples) samples {
				tau, v := uniform(c.r, 0.5, 15), s[0].Voltage
				for k := range s {
					v += (s[k].Voltage - v) * model.Voltage(1-math.Exp(-float64(c.run.Interval)/tau))
					s[k].Voltage = v
				}
				return s
			})
		}},
		{"slow ammeter", func(c *benchCase) {
			c.one(func(s samples) samples {
				tau, i := uniform(c.r, 0.5, 15), s[0].Current
				for k := range s {
					i += (s[k].Current - i) * model.Current(1-math.Exp(-float64(c.run.Interval)/tau))
					s[k].Current = i
				}
				return s
			})
		}},
		{"current and voltage out of step", func(c *benchCase) {
			c.one(func(s samples) samples {
				n := max(1, int(uniform(c.r, 0.3, 10)/float64(c.run.Interval)))
				early := c.r.IntN(2) == 0
				out := slices.Clone(s)
				for k := range out {
					other := s[min(max(k-n, 0), len(s)-1)]
					if early {
						out[k].Voltage = other.Voltage
					} else {
						out[k].Current = other.Current
					}
				}
				return out
			})
		}},
		{"sign turns", func(c *benchCase) {
			c.one(func(s samples) samples {
				for k := c.midway(s); k < len(s); k++ {
					s[k].Current = -s[k].Current
				}
				return s
			})
		}},
		{"few rows kept", func(c *benchCase) {
			c.one(func(s samples) samples {
				n := max(2, int(uniform(c.r, 1, 30)/float64(c.run.Interval)))
				var out samples
				for k := 0; k < len(s); k += n {
					out = append(out, s[k])
				}
				return out
			})
		}},
		{"random rows lost", func(c *benchCase) {
			c.one(func(s samples) samples {
				share := uniform(c.r, 0.02, 0.9)
				return slices.DeleteFunc(s, func(bench.Sample) bool { return c.r.Float64() < share })
			})
		}},
		{"text damaged", func(c *benchCase) {
			share := uniform(c.r, 1e-4, 0.05)
			c.text = func(s string) string {
				b := []byte(s)
				for k := len(c.header) + 1; k < len(b); k++ {
					if c.r.Float64() < share {
						b[k] = "0123456789.,-;\n x"[c.r.IntN(17)]
					}
				}
				return string(b)
			}
		}},
		{"decimal point lost", func(c *benchCase) {
			share := uniform(c.r, 1e-3, 0.1)
			c.text = func(s string) string {
				b := make([]byte, 0, len(s))
				for k := range len(s) {
					if s[k] != '.' || c.r.Float64() > share {
						b = append(b, s[k])
					}
				}
				return string(b)
			}
		}},
		{"another label", func(c *benchCase) {
			c.said.rated = model.Charge(math.Round(c.rated.MilliAmpHours()*factor(c.r, 0.1, 3))) * model.MilliAmpH
		}},
		{"load let go early and again", func(c *benchCase) {
			c.one(func(s samples) samples {
				k := c.midway(s)
				by := model.Time(uniform(c.r, 2, 120))
				out := slices.Clone(s[:k])
				rise := float64(c.circuit.R0) * float64(s[k].Current)
				for t := model.Time(0); t < by; t += c.run.Interval {
					x := s[k]
					x.Time, x.Current, x.Voltage = s[k].Time+t, 0, x.Voltage+model.Voltage(rise)
					out = append(out, x)
				}
				for _, x := range s[k:] {
					x.Time += by
					out = append(out, x)
				}
				return out
			})
		}},
		{"not full", func(c *benchCase) {
			left := uniform(c.r, 0.5, 0.95)
			cut := func(circuit model.Circuit) model.Circuit {
				volts := make([]model.Voltage, 21)
				for k := range volts {
					volts[k] = circuit.Curve.At(left * float64(k) / 20)
				}
				curve, err := model.EvenCurve(volts)
				if err != nil {
					panic(err)
				}
				circuit.Curve, circuit.Capacity = curve, circuit.Capacity*model.Charge(left)
				return circuit
			}
			d, b := c.logs(cut(c.circuit), cut(c.later))
			switch c.r.IntN(3) {
			case 0:
				c.discharge = d
			case 1:
				c.burst = b
			default:
				c.discharge, c.burst = d, b
			}
		}},
	}
}

// outcome is what came of a case.
type outcome struct {
	kind                     string
	seed                     uint64
	refused, doubtful, noted bool
	untold                   bool
	error                    float64
	figure                   string
	codes                    []string
}

func (o outcome) wrong() bool { return !o.refused && !(o.error <= wrongBy) }

// silent is a wrong figure that the verdict line says nothing of.
func (o outcome) silent() bool { return o.wrong() && !o.doubtful }

func runCase(t testing.TB, kind corruption, seed uint64) outcome {
	defer func() {
		if p := recover(); p != nil {
			t.Errorf("seed %d, %s: panic: %v", seed, kind.name, p)
		}
	}()
	c := newBenchCase(seed)
	truth := c.truth()
	kind.do(c)
	p := c.reduce(t)
	o := outcome{kind: kind.name, seed: seed, refused: p.Record == nil, untold: c.untold}
	for _, r := range append(slices.Clone(p.Failed), p.Remarks...) {
		o.codes = append(o.codes, string(r.Code))
	}
	if o.refused {
		return o
	}
	o.doubtful = len(p.Doubts) > 0
	o.noted = len(p.Remarks) > 0
	o.error, o.figure = off(p.Metrics, truth)
	return o
}

// TestCorruptLogs damages the logs of a bench in many ways. A figure that is wrong by more than 5 % is
// refused or doubted in the verdict, but for fewer than one case in 10,000; one that is wrong by
// more than 20 % always. What was not damaged is neither. ALLUP_LONG=1 runs 20,000 cases, ALLUP_SEED is the first seed
// instead of 0.
//
// What nobody can tell from a log alone is not among the kinds: both meters of a bench wrong by less than their
// usual accuracy from the first row to the last (current 5 %, voltage 4 %; of one log alone 1 %), a clock that is
// wrong by less than 12 % throughout, another pack of the same label that is within 8 % of capacity and
// 12 % of resistance, or takes over in the middle of a log within 30 mV per cell. Another pack that
// behaves like this one where its two logs can be compared, to 7 % of what the load takes from rest to the end of the
// conditioning, is a kind of its own, which is shown and not counted.
func TestCorruptLogs(t *testing.T) {
	kinds := corruptions()
	if len(kinds) < 26 {
		t.Fatalf("%d kinds, want 25 at least besides the undamaged", len(kinds))
	}
	cases := shortRunCases
	if testing.Short() {
		cases /= 5
	}
	if os.Getenv("ALLUP_LONG") != "" {
		cases = longRunCases
	}
	first := uint64(0)
	if s := os.Getenv("ALLUP_SEED"); s != "" {
		var err error
		if first, err = strconv.ParseUint(s, 10, 63); err != nil {
			t.Fatalf("ALLUP_SEED: %v", err)
		}
	}
	outcomes := make([]outcome, cases)
	var wait sync.WaitGroup
	const workers = 4
	for w := range workers {
		wait.Go(func() {
			for k := w; k < cases; k += workers {
				outcomes[k] = runCase(t, kinds[k%len(kinds)], first+uint64(k))
			}
		})
	}
	wait.Wait()
	showOutcomes(t, outcomes)
	silent, unseen := 0, 0
	for _, o := range outcomes {
		switch {
		case o.kind == "nothing" && (o.refused || o.wrong() || o.doubtful):
			t.Errorf("seed %d: undamaged logs: refused %v, doubtful %v, %s off by %.1f %%: %v", o.seed, o.refused, o.doubtful, o.figure, 100*o.error, o.codes)
		case o.silent() && !(o.error <= grosslyWrong):
			t.Errorf("seed %d, %s: %s is off by %.1f %% and the verdict says nothing: %v", o.seed, o.kind, o.figure, 100*o.error, o.codes)
		case o.silent() && o.untold:
			unseen++
		case o.silent():
			silent++
			t.Logf("seed %d, %s: %s is off by %.1f %% and the verdict says nothing: %v", o.seed, o.kind, o.figure, 100*o.error, o.codes)
		}
	}
	t.Logf("%d of %d are of another pack that nobody can tell", unseen, cases)
	if silent > 0 && silent*silentOf >= cases {
		t.Errorf("%d of %d cases are silently wrong by more than %g %%, want fewer than 1 in %d", silent, cases, 100*wrongBy, silentOf)
	}
}

// TestCorruptLogsThatFell are cases of the long run that fell once.
func TestCorruptLogsThatFell(t *testing.T) {
	kinds := corruptions()
	for _, c := range []struct {
		kind string
		seed uint64
	}{
		{"decimal point lost", 14816}, // a fitted curve with -29 V
		{"clock jumps", 10719},        // by 5.4 % of the charge
		// Beside the beginning of the ramp, where current and voltage bend:
		{"voltage offset changes", 1941},
		{"current offset changes", 6307},
		{"current gain changes", 12594},
		{"current and voltage out of step", 10339},
		{"current and voltage out of step", 17879},
		{"rows missing, clock closed up", 18276},  // beside the knee of the curve
		{"logger stuck", 4006},                    // over the end of the ramp
		{"voltage stuck", 3014515},                // until the last row, which is below the end voltage
		{"noisy current", 11476},                  // by 6 %, a row a second
		{"another pack's log, same label", 15893}, // within a few millivolts under load, not from rest
		{"another pack's log, same label", 60294}, // in the first rows only
		{"another pack's log, same label", 77890},
		{"another pack's log, alike in the conditioning", 16517},
		{"another pack's log, alike in the conditioning", 9006378},
		{"another pack's log, alike in the conditioning", 9009982},
		{"another pack's log, alike in the conditioning", 20011334},
		{"another pack from midway", 8395},          // by 32 mV per cell where the knee begins, a row a second
		{"many stray rows", 9002619},                // some of which make an end
		{"rows missing, clock closed up", 20006554}, // up to a row before the end of the discharge
		{"rows missing, clock closed up", 9003877},  // the end of the burst is among them
		{"coarse figures", 9009722},                 // a voltage in steps of 83 mV per cell
	} {
		kind := kinds[slices.IndexFunc(kinds, func(k corruption) bool { return k.name == c.kind })]
		if o := runCase(t, kind, c.seed); o.silent() {
			t.Errorf("seed %d, %s: %s is off by %.1f %% and the verdict says nothing: %v", o.seed, o.kind, o.figure, 100*o.error, o.codes)
		}
	}
}

// TestUndamagedThatFell are undamaged logs that were doubted once, and two that nearly were.
func TestUndamagedThatFell(t *testing.T) {
	nothing := corruptions()[0]
	// Noise of voltage and current together in the ramp, but for the last two.
	for _, seed := range []uint64{29256, 30846, 34609, 35457, 56339, 62646, 118614, 145856, 91160, 96619} {
		if o := runCase(t, nothing, seed); o.refused || o.doubtful || o.wrong() {
			t.Errorf("seed %d: refused %v, doubtful %v, %s off by %.1f %%: %v", seed, o.refused, o.doubtful, o.figure, 100*o.error, o.codes)
		}
	}
}

// showOutcomes prints the table by kind.
func showOutcomes(t *testing.T, outcomes []outcome) {
	t.Helper()
	type tally struct{ cases, refused, doubtful, right, silent, gross int }
	table := map[string]*tally{}
	for _, o := range outcomes {
		k := table[o.kind]
		if k == nil {
			k = &tally{}
			table[o.kind] = k
		}
		k.cases++
		switch {
		case o.refused:
			k.refused++
		case o.doubtful:
			k.doubtful++
		case !o.wrong():
			k.right++
		case o.error <= grosslyWrong:
			k.silent++
		default:
			k.gross++
		}
	}
	var sum tally
	var b strings.Builder
	fmt.Fprintf(&b, "%-36s %6s %8s %9s %6s %7s %7s\n", "kind", "cases", "refused", "doubtful", "right", "> 5 %", "> 20 %")
	names := slices.SortedFunc(maps.Keys(table), func(x, y string) int {
		return cmp.Or(cmp.Compare(table[y].silent+table[y].gross, table[x].silent+table[x].gross), cmp.Compare(x, y))
	})
	for _, name := range names {
		k := table[name]
		fmt.Fprintf(&b, "%-36s %6d %8d %9d %6d %7d %7d\n", name, k.cases, k.refused, k.doubtful, k.right, k.silent, k.gross)
		sum.cases, sum.refused, sum.doubtful = sum.cases+k.cases, sum.refused+k.refused, sum.doubtful+k.doubtful
		sum.right, sum.silent, sum.gross = sum.right+k.right, sum.silent+k.silent, sum.gross+k.gross
	}
	fmt.Fprintf(&b, "%-36s %6d %8d %9d %6d %7d %7d\n", "all", sum.cases, sum.refused, sum.doubtful, sum.right, sum.silent, sum.gross)
	t.Logf("neither refused nor doubted in the verdict, and wrong by more than\n%s", b.String())
}
