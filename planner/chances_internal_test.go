package planner

import (
	"math"
	"slices"
	"testing"

	"gonum.org/v1/gonum/floats/scalar"

	"allup/catalog"
	"allup/model"
)

// The standard normal distribution function at one, two and three sigma, from a table.
const (
	below1 = 0.8413447460685429
	below2 = 0.9772498680518208
	below3 = 0.9986501019683699
)

// meritOf is a pack of a merit that is e to a power.
func meritOf(power float64, s slopes) Assessment {
	return Assessment{Merit: Merit{Value: math.Exp(power)}, slopes: s}
}

// TestBeats: the chance of being better is that of a normal distribution, of the lead over what the two do not share.
func TestBeats(t *testing.T) {
	shared := func(each ...float64) (s slopes) {
		copy(s.shared[:], each)
		return s
	}
	all := shared(9, 8, 7)
	for _, c := range []struct {
		what     string
		lead     float64
		a, b     slopes
		dry      float64
		want     float64
		backward float64
	}{
		{"own errors", 0.05, slopes{own: 0.0009}, slopes{own: 0.0016}, 0, below1, 1 - below1},
		{"twice that lead", 0.10, slopes{own: 0.0009}, slopes{own: 0.0016}, 0, below2, 1 - below2},
		{"of one alone", 0.09, slopes{own: 0.0009}, slopes{}, 0, below3, 1 - below3},
		{"a shared error moves one more", 0.05, shared(0.08, 0.02), shared(0.05, -0.02), 0, below1, 1 - below1},
		{"in other directions", 0.05, shared(0.02), shared(-0.03), 0, below1, 1 - below1},
		{"the dry mass", 0.05, slopes{mass: -90}, slopes{mass: -40}, 0.001, below1, 1 - below1},
		{"all of it", 0.13, slopes{own: 0.0016, mass: -90}, slopes{own: 0.0009 + 0.0144 - 0.0025, mass: -40}, 0.001, below1, 1 - below1},
		{"as good", 0, slopes{own: 0.01}, slopes{own: 0.01}, 0, 0.5, 0.5},
		{"nothing unsure", 0.001, all, all, 0.01, 1, 0},
		{"nothing unsure, as good", 0, all, all, 0.01, 0.5, 0.5},
		{"nothing known", 0.001, slopes{own: math.Inf(1)}, slopes{}, 0, 1, 0},
		{"no merit after an error", 0.001, slopes{own: math.NaN()}, slopes{}, 0, 1, 0},
	} {
		a, b := meritOf(c.lead, c.a), meritOf(0, c.b)
		if got, back := a.beats(&b, c.dry), b.beats(&a, c.dry); !scalar.EqualWithinAbs(got, c.want, 1e-12) || !scalar.EqualWithinAbs(back, c.backward, 1e-12) {
			t.Errorf("%s: %v and the other way %v, want %v and %v", c.what, got, back, c.want, c.backward)
		}
	}
}

// TestGroupsByHand: a group ends before the first pack that its own first one beats with 70 %, and where a price no
// longer counts. Each pack errs so that two of them differ by 0.05 (one sigma); 0.5244 sigma are 70 %.
func TestGroupsByHand(t *testing.T) {
	phi := func(z float64) float64 { return math.Erfc(-z/math.Sqrt2) / 2 }
	at := []float64{0, 0.52, 1.04, 1.40, 0, 0.53} // behind the first, in sigmas
	r := &Ranking{Plan: &Plan{Build: &catalog.Build{}}}
	for i, z := range at {
		a := meritOf(-0.05*z, slopes{own: 0.00125})
		a.Merit.Priced = i < 4
		a.Band = &Band{}
		r.Ranked = append(r.Ranked, a)
	}
	r.addChances(true, nil)
	for i, want := range []struct{ next, first float64 }{
		{phi(0.52), 0}, {phi(0.52), phi(0.52)}, {phi(0.36), phi(1.04)}, {0, phi(1.40)}, {phi(0.53), 0}, {0, 0},
	} {
		a := &r.Ranked[i]
		if group := []int{1, 1, 2, 2, 3, 4}[i]; a.Group != group {
			t.Errorf("number %d is of group %d, want %d", i+1, a.Group, group)
		}
		for name, chance := range map[string]struct {
			got  *float64
			want float64
		}{"next": {a.Next, want.next}, "first": {a.First, want.first}} {
			if (chance.got == nil) != (chance.want == 0) || chance.got != nil && !scalar.EqualWithinAbs(*chance.got, chance.want, 1e-12) {
				t.Errorf("number %d, %s: %v, want %v", i+1, name, chance.got, chance.want)
			}
		}
		if a.Best != nil || a.Drawn {
			t.Errorf("number %d is drawn", i+1)
		}
	}
	for i := range r.Ranked { // those that do not compare with the first are not undecided either
		undecided := slices.Contains(r.Undecided(), &r.Ranked[i])
		if undecided != (i < 2) {
			t.Errorf("number %d is undecided: %v", i+1, undecided)
		}
	}
	exactly := ReallyBetter
	r.Ranked[1].First = &exactly
	if n := len(r.Undecided()); n != 1 {
		t.Errorf("%d are undecided where the second is beaten with just 70 %%, want the first alone", n)
	}
	// Without bands nothing is said.
	r.Ranked[0].Band, r.Ranked[0].Group = nil, 0
	r.addChances(true, nil)
	if r.Ranked[0].Group != 0 {
		t.Error("grouped without bands")
	}
	(&Ranking{}).addChances(true, nil)
}

// TestOwnMove: by how much an error moves the logarithm of a merit: a mass along a line, what a circuit has along one
// to either side, and nothing that is not known.
func TestOwnMove(t *testing.T) {
	s := slopes{mass: -4}
	s.circuit[0] = bend{InputCapacity, 0.10, -0.13}
	s.circuit[2] = bend{InputChargeDep, -0.02, 0.01}
	for _, c := range []struct {
		input          Input
		sigmas, result float64
	}{
		{InputMass, 2, -4 * 0.003 * 2},
		{InputMass, -1, 4 * 0.003},
		{InputCapacity, 2, 0.20},
		{InputCapacity, -2, -0.26},
		{InputCapacity, 0, 0},
		{InputChargeDep, 1, -0.02},
		{InputChargeDep, -3, 0.03},
	} {
		if got := s.ownMove(Uncertain{Input: c.input, Sigma: 0.003})(c.sigmas); !scalar.EqualWithinAbs(got, c.result, 1e-15) {
			t.Errorf("%v sigmas of %s move it by %v, want %v", c.sigmas, c.input, got, c.result)
		}
	}
	if got := s.ownMove(Uncertain{Input: InputResistance, Sigma: 0.1})(1); !math.IsNaN(got) {
		t.Errorf("what is not known moves it by %v", got)
	}
}

// TestQuickCheck: the worst end of a first-order band, in widths of the drawn one, of whatever figure and pack.
func TestQuickCheck(t *testing.T) {
	pack := func(id string, drawn bool, quick, band Band) Assessment {
		a := Assessment{Candidate: Candidate{Pack: &Pack{Pack: &catalog.Pack{Common: catalog.Common{ID: id}}}}, Quick: &quick, Band: &band}
		a.Drawn = drawn
		return a
	}
	same := Band{Time: Interval{500, 600}, Current: Interval{3, 4}, Punch: Interval{6, 8}}
	with := func(change func(*Band)) Band {
		b := same
		change(&b)
		return b
	}
	for _, c := range []struct {
		quick  Band
		worst  float64
		figure string
	}{
		{same, 0, ""},
		{with(func(b *Band) { b.Time.Low = 495 }), 0.05, "time"},
		{with(func(b *Band) { b.Time.High = 590 }), 0.1, "time"},
		{with(func(b *Band) { b.Current.High = 4.02 }), 0.02, "current"},
		{with(func(b *Band) { b.Punch.Low, b.Time.Low = 6.5, 490 }), 0.25, "punch"},
		{with(func(b *Band) { b.Punch.High, b.Time.Low = 8.1, 480 }), 0.2, "time"},
	} {
		r := &Ranking{Ranked: []Assessment{pack("a", true, same, same), pack("b", true, c.quick, same), pack("c", false, Band{}, same)}}
		got, ok := r.CompareQuick()
		name := "b"
		if c.figure == "" {
			name = ""
		}
		if !ok || !scalar.EqualWithinAbs(got.Worst, c.worst, 1e-9) || got.Figure != c.figure || got.Pack != name || got.Undrawn != 1 {
			t.Errorf("%+v, want %v off in %q", got, c.worst, c.figure)
		}
	}
	r := &Ranking{Ranked: []Assessment{pack("c", false, Band{}, same), pack("d", false, Band{}, same)}}
	if got, ok := r.CompareQuick(); ok || got.Undrawn != 2 {
		t.Errorf("none drawn: %+v, %v", got, ok)
	}
}

// TestQuantile: each of n sorted values is the middle of its own part of the chance, on lines between them (Hazen
// 1914).
func TestQuantile(t *testing.T) {
	x := []float64{1, 2, 4, 8}
	for _, c := range []struct{ p, want float64 }{{0, 1}, {0.1, 1}, {0.125, 1}, {0.25, 1.5}, {0.375, 2}, {0.5, 3}, {0.75, 6}, {0.875, 8}, {0.95, 8}, {1, 8}} {
		if got := quantile(x, c.p); !scalar.EqualWithinAbs(got, c.want, 1e-12) {
			t.Errorf("quantile %v is %v, want %v", c.p, got, c.want)
		}
	}
	var even points
	for i := range 100 { // unsorted
		even = append(even, float64((i*37)%100)+0.5)
	}
	if got := even.interval(); !scalar.EqualWithinAbs(got.Low, 5, 1e-9) || !scalar.EqualWithinAbs(got.High, 95, 1e-9) {
		t.Errorf("5 to 95 %% of 0 to 100 is %v", got)
	}
	var other points
	for i := range even {
		other = append(other, even[i]/2+7)
	}
	if got := even.less(other); !scalar.EqualWithinAbs(got.Low, -4.5, 1e-9) || !scalar.EqualWithinAbs(got.High, 40.5, 1e-9) {
		t.Errorf("half of it less 7 is %v", got)
	}
}

// TestAbove: equal figures count half.
func TestAbove(t *testing.T) {
	for _, c := range []struct {
		x, y points
		want float64
	}{
		{points{1, 2, 3}, points{1, 1, 4}, 0.5},
		{points{2, 2, 3}, points{1, 1, 4}, 2. / 3},
		{points{1, 1}, points{1, 1}, 0.5},
		{points{2}, points{1}, 1},
		{points{0}, points{1}, 0},
	} {
		if got := c.x.above(c.y); !scalar.EqualWithinAbs(got, c.want, 1e-15) {
			t.Errorf("%v above %v: %v, want %v", c.x, c.y, got, c.want)
		}
	}
}

// TestStream: the published first numbers of splitmix64, and of FNV-1a of 64 bits.
func TestStream(t *testing.T) {
	s := stream(1234567)
	for _, want := range []uint64{6457827717110365317, 3203168211198807973, 9817491932198370423, 4593380528125082431, 16408922859458223821} {
		if got := s.next(); got != want {
			t.Errorf("next is %d, want %d", got, want)
		}
	}
	for text, want := range map[string]stream{"": 0xcbf29ce484222325, "a": 0xaf63dc4c8601ec8c, "foobar": 0x85944171f73967e8} {
		if got := streamOf(text); got != want {
			t.Errorf("the stream of %q is %#x, want %#x", text, got, want)
		}
	}
	s = streamOf("order")
	var count [5]int
	for range 5000 {
		count[s.below(5)]++
	}
	for k, n := range count { // 1000 and about 28
		if n < 850 || n > 1150 {
			t.Errorf("%d came %d times of 5000, want about 1000", k, n)
		}
	}
}

// TestEvenDraws: in each dimension every part of the chances is drawn once, in steps that are those of the lattice or
// in an order of their own.
func TestEvenDraws(t *testing.T) {
	every := func(x []int) bool {
		sorted := slices.Clone(x)
		slices.Sort(sorted)
		for i, k := range sorted {
			if i != k {
				return false
			}
		}
		return true
	}
	for _, n := range []int{hoverDraws, phaseDraws} {
		s := streamOf("even")
		order := s.order(n)
		if !every(order) || order[0] == 0 && order[1] == 1 && order[2] == 2 {
			t.Errorf("an order of %d is %v", n, order)
		}
		for d, z := range latticeVector(n) {
			x := latticePoints(n, d, nil, &s)
			if !every(x) || (x[1]-x[0]+n)%n != z {
				t.Errorf("dimension %d of %d draws is %v", d, n, x[:8])
			}
			if !every(latticePoints(n, d, order, &s)) {
				t.Errorf("dimension %d of %d draws is not even in another order", d, n)
			}
		}
	}
	p := &Plan{Build: &catalog.Build{}}
	if n := p.DrawCount(); n != 1024 {
		t.Errorf("%d draws of a hover", n)
	}
	p.Build.Flight.Phases = make([]catalog.Phase, 1)
	if n := p.DrawCount(); n != 512 {
		t.Errorf("%d draws of phases", n)
	}
}

// TestErrorsOf: masses of a list and the growth of a no-load current are rectangular, what moves by logarithms or may
// be nothing is normal, factors are log-normal: mean and spread of all draws, and their ends.
func TestErrorsOf(t *testing.T) {
	const n = 1024
	d := &draws{normal: make(points, n)}
	x := make([]int, n)
	for i := range n {
		x[i] = i
		d.normal[i] = math.Sqrt2 * math.Erfinv((2*float64(i)+1)/n-1)
	}
	const normal, rectangular, logNormal = 3.297, math.Sqrt2 * 1.22474487139, 0 // the last of 1024 parts, in sigmas
	for _, c := range []struct {
		input  Input
		scaled bool
		last   float64
	}{
		{InputMass, false, rectangular},
		{InputMass, true, normal},
		{InputNoLoadGrowth, false, rectangular},
		{InputNoLoadGrowth, true, rectangular},
		{InputChargeDep, false, normal},
		{InputCold, false, normal},
		{InputNoLoadShare, false, normal},
		{InputPartDuty, false, normal},
		{InputThrust, false, logNormal},
		{InputFigureOfMerit, false, logNormal},
		{InputEfficiency, true, logNormal},
		{InputCapacity, false, logNormal},
		{InputResistance, false, logNormal},
	} {
		const sigma = 0.2
		out := d.errorsOf(Uncertain{Input: c.input, Sigma: sigma}, x, c.scaled)
		var sum, square float64
		for _, e := range out {
			if c.last == logNormal {
				e = math.Log(1 + e)
			}
			sum, square = sum+e, square+e*e
		}
		if math.Abs(sum/n) > 1e-9 || math.Abs(math.Sqrt(square/n)/sigma-1) > 0.003 {
			t.Errorf("%s: a mean of %v and a spread of %v, want 0 and %v", c.input, sum/n, math.Sqrt(square/n), sigma)
		}
		want := sigma * c.last
		if c.last == logNormal {
			want = math.Exp(sigma*normal) - 1
		}
		if got := out[n-1]; math.Abs(got/want-1) > 0.002 {
			t.Errorf("%s: the last error is %v, want %v", c.input, got, want)
		}
	}
}

// TestFrontOfEquals: equal figures beat nobody; a pack that another beats in one figure alone stays.
func TestFrontOfEquals(t *testing.T) {
	of := func(time, punch float64) Assessment {
		var a Assessment
		a.Mass = 1
		a.Flight.Duration = model.Time(time)
		a.Punch.Thrust = model.Force(punch * model.StandardGravity)
		return a
	}
	field := []Assessment{of(300, 5), of(300, 6), of(400, 5), of(200, 6), of(200, 5.9), of(100, 7), of(399, 5), of(400, 4.9), of(99, 6.9), of(250, 6.1)}
	markFront(field)
	for i, want := range []bool{true, true, true, false, false, true, true, true, false, true} {
		if field[i].Front != want {
			t.Errorf("%v s with %v: in front %v", float64(field[i].Duration()), field[i].PunchRatio(), !want)
		}
	}
}

// TestBestTestedIsSound: what rests on a label or on doubtful tests is passed over.
func TestBestTestedIsSound(t *testing.T) {
	pack := func(basis Basis, codes ...Code) Assessment {
		p := &Pack{Pack: &catalog.Pack{}, Basis: basis}
		for _, c := range codes {
			p.Remarks = append(p.Remarks, Remark{Code: c})
		}
		return Assessment{Candidate: Candidate{Pack: p}}
	}
	label, doubt, odd, logs := pack(BasisLabel), pack(BasisTested, Doubtful), pack(BasisTested, Unusual), pack(BasisLogs)
	for _, c := range []struct {
		ranked []Assessment
		want   int // -1 for none
	}{{[]Assessment{label, doubt, logs, odd}, 2}, {[]Assessment{label, odd, logs}, 1}, {[]Assessment{logs}, 0}, {[]Assessment{label, doubt}, -1}, {nil, -1}} {
		r := &Ranking{Ranked: c.ranked}
		best, ok := r.BestTested()
		if ok != (c.want >= 0) || ok && best != &r.Ranked[c.want] {
			t.Errorf("of %d the best tested is %v, want number %d", len(c.ranked), best, c.want+1)
		}
	}
}

// TestLatticeVector: each component of a generating vector has the least worst-case error behind those before it, in a
// Korobov space of smoothness 2 with weights of 0.5 x 0.8^j, of all odd ones (or n less it, which is the same).
//
// Source: Sloan, Reztsov, Math. Comp. 71 (2002) 263, with the kernel 1 + gamma 2 pi^2 B2(x).
func TestLatticeVector(t *testing.T) {
	for _, n := range []int{hoverDraws, phaseDraws} {
		product := make([]float64, n)
		for k := range product {
			product[k] = 1
		}
		gamma := 0.5
		kernel := func(k, z int) float64 {
			x := float64(k*z%n) / float64(n)
			return 1 + gamma*2*math.Pi*math.Pi*(x*x-x+1./6)
		}
		for d, chosen := range latticeVector(n) {
			errorOf := func(z int) (sum float64) {
				for k := range n {
					sum += product[k] * kernel(k, z)
				}
				return sum/float64(n) - 1
			}
			least, at := math.Inf(1), 0
			for z := 1; z < n; z += 2 {
				if e := errorOf(z); e < least*(1-1e-9) {
					least, at = e, z
				}
			}
			if e := errorOf(chosen); e > least*(1+1e-9) {
				t.Errorf("of %d points component %d is %d, of an error of %v; %d has %v", n, d, chosen, e, at, least)
			}
			for k := range product {
				product[k] *= kernel(k, chosen)
			}
			gamma *= 0.8
		}
	}
}

// TestSharedDraws: the normal quantiles are those of the middles of equal parts, and a mass of the list stays within
// its half-width, 3 %, in all draws.
func TestSharedDraws(t *testing.T) {
	p := &Plan{
		Build: &catalog.Build{}, Selection: Selection{Motor: &catalog.Motor{}, Prop: &catalog.Prop{}, Board: &catalog.Board{}},
		Items: []Item{{ID: "brick", MassItem: model.MassItem{Each: 0.1, Count: 1}}}, Dry: 0.1,
	}
	shared := p.drawShared()
	for i, z := range shared.normal {
		if got, want := math.Erfc(-z/math.Sqrt2)/2, (float64(i)+0.5)/1024; !scalar.EqualWithinAbs(got, want, 1e-9) {
			t.Fatalf("below the quantile of part %d lies %v, want %v", i, got, want)
		}
	}
	least, most := 1.0, 0.0
	for i := range shared.each {
		least, most = min(least, float64(shared.each[i].Mass)), max(most, float64(shared.each[i].Mass))
	}
	if half := 0.003 * (1 - 1./1024); !scalar.EqualWithinAbs(least, 0.1-half, 1e-9) || !scalar.EqualWithinAbs(most, 0.1+half, 1e-9) {
		t.Errorf("a brick of 100 +- 3 g weighs %v to %v kg", least, most)
	}
}

// TestAddMass: the mass of the pack errs for itself, 3 % of it, rectangular.
func TestAddMass(t *testing.T) {
	s := slopes{mass: -4, own: 0.01}
	s.addMass(&Plan{Build: &catalog.Build{}}, &Pack{Pack: &catalog.Pack{Common: catalog.Common{Mass: 0.074}}})
	if want := 0.01 + 4*4*0.03*0.03*0.074*0.074/3; !scalar.EqualWithinRel(s.own, want, 1e-12) {
		t.Errorf("its own variance is %v, want %v", s.own, want)
	}
}
