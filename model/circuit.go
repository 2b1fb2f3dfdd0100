package model

// Circuit is the first-order Thevenin circuit of a pack of Cells cells in series:
//
//	V = Cells (u(s) + Shift) - v1 - f R0 I,  dv1/dt = (f R1 I - v1)/Tau,  ds/dt = -I/Capacity
//
// with s the charge left, 0 to 1, and u the open-circuit curve of a cell. Resistances are of the whole pack, at
// half charge and Temperature; f is what charge and temperature make of them, see [Circuit.Resistances].
//
// A pack with a HeatCapacity warms itself, as one lump:
//
//	HeatCapacity dT/dt = f R0 I^2 + v1^2/(f R1) - (T - Air) HeatCapacity/CoolingTime
//
// Source: Plett, Battery Management Systems, Volume I, 2015, chapter 2. One temperature for the whole pack:
// assumption, common practice for small packs.
type Circuit struct {
	Cells    int
	Curve    Curve
	Capacity Charge
	R0, R1   Resistance
	Tau      Time
	Shift    Voltage // per cell

	K float64 // how resistance depends on charge: [UsualK] for most packs, 0 for not at all

	HeatCapacity float64     // J/K; 0: no heating
	CoolingTime  Time        // in which a warm pack loses all but 1/e of its warmth to the air; 0: it loses none
	Temperature  Temperature // of the pack at the start, to which R0 and R1 belong; 0: 25 C
	Air          Temperature // that the pack cools to; 0: as the pack is at the start

	Cold Cold // what resistance does below the temperatures that were measured; zero: it stays as it is
}

// What a pack's mass says of its heat.
const (
	// CellHeat is the specific heat of pouch cells, J/(kg K). Source: a lumped fit to the temperatures of a 2.28 Ah
	// LCO pouch cell at 0.5, 1 and 2 C (Rieger et al. 2016, Ai et al. 2020).
	CellHeat = 1080
	// CellShare is the part of a small pack's mass that is cells and warms with them, not leads and plug (assumption).
	CellShare = 0.9
	// UsualCooling is the cooling time of a small pack (assumption: 250 s for the pouch above alone in still
	// air; a strap and a frame around the pack slow it down, the rotors' wind speeds it up).
	UsualCooling Time = 400
	// HeatFactor is one standard deviation of heat capacity and cooling time, each, as a factor (assumption).
	HeatFactor = 1.5
)

// NewCircuit is what is known of a pack before any test: the usual charge dependence, and the heat that
// its mass takes. Capacity and resistances are for Identify, FitLogs or a label to find.
func NewCircuit(cells int, curve Curve, mass Mass) Circuit {
	return Circuit{
		Cells: cells, Curve: curve, K: UsualK,
		HeatCapacity: CellHeat * CellShare * float64(mass), CoolingTime: UsualCooling,
	}
}

// usualTemperature is that of a pack whose temperature nobody wrote down.
func usualTemperature() Temperature { return Celsius(25) }

// StartTemperature is the pack's temperature at the start of a discharge or a flight: 25 C where none is given.
func (c Circuit) StartTemperature() Temperature {
	if c.Temperature > 0 {
		return c.Temperature
	}
	return usualTemperature()
}

// At is the pack at another temperature, in air of a temperature: its resistances go along.
func (c Circuit) At(pack, air Temperature) Circuit {
	f := Resistance(ResistanceAt(pack) / ResistanceAt(c.StartTemperature()))
	c.R0 *= f
	c.R1 *= f
	c.Temperature, c.Air = pack, air
	return c
}

// Resistances are R0 and R1 at a charge left of 0 to 1 and a pack temperature.
//
// Source of the dependence on charge: see [UsualK]; on temperature: see [ResistanceAt].
func (c Circuit) Resistances(charge float64, t Temperature) (r0, r1 Resistance) {
	f := (1 + c.K*riseWithout(1-charge)) / (1 + c.K*riseWithout(0.5)) * ResistanceAt(t) / ResistanceAt(c.StartTemperature())
	if c.Cold.Rise > 0 {
		f *= c.Cold.factor(t)
	}
	return c.R0 * Resistance(f), c.R1 * Resistance(f)
}

// Steady is R0 + R1 at a charge left and the pack's temperature at the start: what a load
// feels that is held.
func (c Circuit) Steady(charge float64) Resistance {
	r0, r1 := c.Resistances(charge, c.StartTemperature())
	return r0 + r1
}

// Warmed is the temperature of a pack after a time in which it turns a constant power into heat.
func (c Circuit) Warmed(t Temperature, heat Power, dt Time) Temperature {
	b := newBody(c)
	return Temperature(b.warm(float64(t), float64(heat), float64(dt)))
}

// tested is the circuit at the temperature of a test, which is 25 C where nobody wrote it down; what resistances
// it has stay, being those of the test.
func (c Circuit) tested(ambient Temperature) Circuit {
	if !(ambient > 0) {
		ambient = usualTemperature()
	}
	c.Temperature, c.Air = ambient, ambient
	return c
}

// body is what of a circuit does not depend on its load, in SI numbers: resistances that follow
// charge and temperature, and the temperature itself.
type body struct {
	r0, r1, tau float64 // at half charge and the temperature at the start
	perR1       float64 // 0 without R1
	varies      bool    // there is a charge dependence, heat or cold; without, every factor is 1

	k, perHalf     float64 // charge dependence, and over what it makes of half charge
	perStart       float64 // over what the temperature at the start makes of them
	start, air     float64 // K
	perCapacity    float64 // K/J; 0 where nothing warms
	kelvin, perTau float64 // K that a watt warms in the end, 1/s; 0 where nothing cools
	cold           Cold
}

func newBody(c Circuit) body {
	b := body{r0: float64(c.R0), r1: float64(c.R1), tau: float64(c.Tau)}
	if !(c.Tau > 0) {
		// An RC element that settles at once is a part of R0.
		b.r0, b.r1, b.tau = float64(c.R0+c.R1), 0, 1
	}
	if b.r1 > 0 {
		b.perR1 = 1 / b.r1
	}
	b.k, b.perHalf = c.K, 1/(1+c.K*riseWithout(0.5))
	b.start = float64(c.StartTemperature())
	b.air, b.perStart = b.start, 1/ResistanceAt(c.StartTemperature())
	if c.Air > 0 {
		b.air = float64(c.Air)
	}
	if c.HeatCapacity > 0 {
		b.perCapacity = 1 / c.HeatCapacity
		if c.CoolingTime > 0 {
			b.perTau = 1 / float64(c.CoolingTime)
			b.kelvin = float64(c.CoolingTime) / c.HeatCapacity
		}
	}
	b.cold = c.Cold
	b.varies = c.K != 0 || c.HeatCapacity > 0 || b.cold.Rise > 0
	return b
}

// factor is what a charge left and a temperature make of R0 and R1.
func (b *body) factor(s, temperature float64) float64 {
	if !b.varies {
		return 1
	}
	f := (1 + b.k*riseWithout(1-s)) * b.perHalf
	if b.perCapacity > 0 {
		f *= ResistanceAt(Temperature(temperature)) * b.perStart
	}
	if b.cold.Rise > 0 {
		f *= b.cold.factor(Temperature(temperature))
	}
	return f
}

// heat is what a current and a voltage of the RC element turn into heat, W.
func (b *body) heat(i, v1, factor float64) float64 {
	return i*i*b.r0*factor + v1*v1*b.perR1/factor
}

// warm is a temperature after a time with a constant heat: exact but for the exponential, whose reciprocal
// is a series to the third order. That is good to 1e-5 for steps of a tenth of the cooling time, and settles as it
// should in long ones.
func (b *body) warm(t, heat, dt float64) float64 {
	if b.perTau == 0 {
		return t + heat*b.perCapacity*dt
	}
	x := dt * b.perTau
	left := 1 / (1 + x*(1+x*(1./2+x*(1./6))))
	settled := b.air + heat*b.kelvin
	return settled + (t-settled)*left
}
