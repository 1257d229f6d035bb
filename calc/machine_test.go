package calc_test

import (
	"math"
	"math/rand/v2"
	"slices"

	"rambook/calc"
)

// machine is a press that is simulated in small steps of time, with nothing
// taken from the formulas of the sheets: oil that is pressed together, a motor
// on its torque curve, pump and seals that leak with the viscosity of the
// day, valves as orifices, a beam with its mass, a frame and hoses that give.
// Its numbers are the givens of the starter `press`, in SI units. What the
// instruments would show comes out; the model has to explain it.
//
// What the simulation has and the sheets have not: the mass of the beam, the
// curve of the motor (Kloss: torque = 2 Tk / (s/sk + sk/s) with a breakdown
// torque of 2.5 times the rated one), a test bend whose force rises over the
// first tenth of its stroke, losses at the flow that really passes, the
// current from active and reactive power.
type machine struct {
	given map[string]float64
	text  map[string]string

	bore, annulus, rod                           float64 // m²
	weight                                       float64 // N
	density                                      float64 // kg/m³
	viscosity                                    float64 // m²/s
	pumpLeak, pistonLeak, checkLeak, holdingLeak float64 // m³/s/Pa
	ratedTorque                                  float64 // N·m
}

// step is the step of time of everything that moves, s.
const step = 2e-4

// mineralOils are viscosities at 40 and 100 degC in mm²/s, density at 15 degC
// in kg/m³: those of the sheet oils.
var mineralOils = map[string][3]float64{"HM32": {32, 5.5, 872}, "HM46": {46, 6.9, 877}, "HM68": {68, 8.8, 882}}

// expansion of mineral oil, 1/K.
const expansion = 0.0007

func newMachine(papers *calc.Report) *machine {
	m := &machine{given: map[string]float64{}, text: map[string]string{}}
	for _, j := range papers.Quantities {
		if !j.Quantity.IsFormula() {
			m.given[j.Quantity.Name], m.text[j.Quantity.Name] = j.Unit.ToSI(j.Value), j.Text
		}
	}
	return m
}

// build works out what does not change with time. It comes after the givens
// have been drawn and the fault is in.
func (m *machine) build() *machine {
	g := m.given
	m.bore = g["rams"] * math.Pi / 4 * g["bore"] * g["bore"]
	m.rod = g["rams"] * math.Pi / 4 * g["rod_diameter"] * g["rod_diameter"]
	m.annulus = m.bore - m.rod
	m.weight = g["beam_mass"] * 9.80665
	oil := mineralOils[m.text["oil"]]
	m.density = oil[2] * (1 - expansion*(g["working_temperature"]-g["density_point"]))
	m.viscosity = g["viscosity_ratio"] * walther(g["working_temperature"], oil[0], oil[1]) * 1e-6
	// Laminar gaps let through what the viscosity allows.
	thin := g["certificate_viscosity"] / m.viscosity
	displaced := g["pump_displacement"] * g["test_speed"] // both per radian and radians, m³/s
	m.pumpLeak = (1 - g["pump_efficiency"]) * displaced / g["test_pressure"] * thin
	m.pistonLeak = g["piston_leakage"] / g["test_pressure"] * thin
	m.checkLeak = g["check_leakage"] / g["test_pressure"] * thin
	m.holdingLeak = g["holding_leakage"] / g["test_pressure"] * thin
	m.ratedTorque = g["motor_power"] / (g["synchronous_speed"] * (1 - g["motor_slip"]))
	return m
}

// walther is the viscosity in mm²/s at a temperature in K by ASTM D341:
// log log (ν + 0.7) falls on a straight line over log T.
func walther(kelvin, at40, at100 float64) float64 {
	w := func(nu float64) float64 { return math.Log10(math.Log10(nu + 0.7)) }
	share := (math.Log10(kelvin) - math.Log10(313.15)) / (math.Log10(373.15) - math.Log10(313.15))
	return math.Pow(10, math.Pow(10, w(at40)+share*(w(at100)-w(at40)))) - 0.7
}

// slip is the share of the synchronous speed that a torque costs.
func (m *machine) slip(torque float64) float64 {
	const breakdown = 2.5
	at := m.given["motor_slip"] * (breakdown + math.Sqrt(breakdown*breakdown-1))
	q := torque / (2 * breakdown * m.ratedTorque)
	if q < 1e-9 {
		return 0
	}
	return at * (1 - math.Sqrt(1-4*q*q)) / (2 * q)
}

// torque is what the pump takes at a pressure, N·m: displacement, a drag that
// is always there, and friction that grows with pressure.
func (m *machine) torque(pressure float64) float64 {
	g := m.given
	ideal := g["pump_displacement"] * pressure
	friction := g["pump_displacement"]*g["test_pressure"]*(1/g["mechanical_efficiency"]-1) - g["idle_torque"]
	return ideal + g["idle_torque"] + friction*pressure/g["test_pressure"]
}

// speed is the motor's with the pump at a pressure, rad/s.
func (m *machine) speed(pressure float64) float64 {
	return m.given["synchronous_speed"] * (1 - m.slip(m.torque(pressure)))
}

// pump is what leaves the pump at a pressure, m³/s.
func (m *machine) pump(pressure float64) float64 {
	return m.given["pump_displacement"]*m.speed(pressure) - m.pumpLeak*pressure
}

// line is the loss of a smooth pipe: Hagen and Poiseuille below Re 2300, else
// Haaland's formula.
func (m *machine) line(flow, bore, length float64) float64 {
	v := flow / (math.Pi / 4 * bore * bore)
	re := math.Abs(v) * bore / m.viscosity
	if re < 2300 {
		return 32 * m.density * m.viscosity * length * v / (bore * bore)
	}
	f := math.Pow(-1.8*math.Log10(6.9/re+math.Pow(m.given["roughness"]/bore/3.7, 1.11)), -2)
	return f * length / bore * m.density / 2 * v * math.Abs(v)
}

// orifice is the loss of an opening at a flow.
func (m *machine) orifice(flow, opening float64) float64 {
	v := flow / (m.given["orifice_coefficient"] * opening)
	return m.density / 2 * v * math.Abs(v)
}

// through is the flow that a pressure drives through an opening.
func (m *machine) through(pressure, opening float64) float64 {
	return math.Copysign(m.given["orifice_coefficient"]*opening*math.Sqrt(2*math.Abs(pressure)/m.density), pressure)
}

// returnLine is the pressure before the filter at a flow.
func (m *machine) returnLine(flow float64) float64 {
	g := m.given
	filter := g["filter_loss"] * flow / g["datasheet_flow"] * m.viscosity / g["datasheet_viscosity"]
	return m.line(flow, g["return_bore"], g["return_length"]) + filter
}

// delivery is the flow of the pump against a pressure behind a valve, and the
// pressure at the pump.
func (m *machine) delivery(behind, opening float64) (flow, atPump float64) {
	atPump = behind
	for range 4 {
		flow = m.pump(atPump)
		atPump = behind + m.line(flow, m.given["pressure_bore"], m.given["pressure_length"]) + m.orifice(flow, opening)
	}
	return flow, atPump
}

// approach lets the beam down by gravity and returns the time it takes.
func (m *machine) approach() float64 {
	g := m.given
	idle, _ := m.idle()
	var x, v, t float64
	pressure := 0.0 // rod side
	flow := 0.0
	for x < g["approach_stroke"] {
		suction := m.orifice(v*m.bore, g["prefill_opening"])
		behind := m.returnLine(max(flow, 0) + idle)
		flow = m.through(pressure-behind, g["lowering_opening"])
		volume := m.annulus*(g["stroke"]-x) + 1e-3
		pressure += (m.annulus*v - flow) * g["bulk_modulus"] / volume * step
		rub := (1 - g["ram_efficiency"]) / g["ram_efficiency"] * math.Abs(pressure) * m.annulus
		v += (m.weight - pressure*m.annulus - suction*m.bore - math.Copysign(math.Min(rub, m.weight), v)) /
			g["beam_mass"] * step
		x, t = x+v*step, t+step
	}
	return t
}

// press moves the beam from the slow-down point to the bottom of a test bend,
// and returns the time, and the speed just before the tool meets the part.
func (m *machine) press() (time, closing float64) {
	g := m.given
	start := g["approach_stroke"]
	gap := g["pressing_stroke"] - g["load_stroke"]
	plateau := g["working_force"] / 0.95 // the first tenth of the stroke rises
	bend := func(depth float64) float64 {
		return plateau * math.Min(1, math.Max(0, depth)/(0.1*g["load_stroke"]))
	}
	rodForce := g["back_pressure"] * m.annulus
	var x, v, stretch float64
	pressure := math.Max(0, rodForce-m.weight) / m.bore
	volume0 := m.bore*start + g["line_volume"]
	met := false
	for x-stretch < g["pressing_stroke"] {
		load := bend(x - stretch - gap)
		stretch = load / g["frame_stiffness"]
		if load > 0 && !met {
			met, closing = true, v
		}
		flow, _ := m.delivery(pressure, g["pressing_opening"])
		flow -= m.pistonLeak * (pressure - g["back_pressure"])
		give := (volume0+m.bore*x)/g["bulk_modulus"] + g["hose_swell"]
		pressure += (flow - m.bore*v) / give * step
		push := pressure*m.bore + m.weight - rodForce - load
		rub := (1 - g["ram_efficiency"]) * pressure * m.bore
		v += (push - math.Copysign(rub, v)) / g["beam_mass"] * step
		v -= v * 10 * step // guides take the swing out
		x, time = x+v*step, time+step
		if time > 60 {
			return math.NaN(), math.NaN() // the pump does not manage it
		}
	}
	return time, closing
}

// goBack lifts the beam to the top and returns the time.
func (m *machine) goBack() float64 {
	g := m.given
	way := g["approach_stroke"] + g["pressing_stroke"]
	var x, v, t float64
	pressure := m.weight / m.annulus
	for x < way {
		flow, _ := m.delivery(pressure, g["pressing_opening"])
		above := m.orifice(v*m.bore, g["prefill_opening"])
		flow -= m.pistonLeak * (pressure - above)
		volume := m.annulus*(g["stroke"]-way+x) + 2e-3*m.annulus/0.01
		pressure += (flow - m.annulus*v) * g["bulk_modulus"] / volume * step
		rub := (1 - g["ram_efficiency"]) * pressure * m.annulus
		v += (pressure*m.annulus - m.weight - above*m.bore - math.Copysign(rub, v)) / g["beam_mass"] * step
		v -= v * 5 * step
		x, t = x+v*step, t+step
		if t > 120 {
			return math.NaN()
		}
	}
	return t
}

// idle is the flow and the pressure at the pump with the motor idling.
func (m *machine) idle() (flow, atPump float64) {
	g := m.given
	for range 6 {
		flow = m.pump(atPump)
		atPump = m.returnLine(flow) + m.line(flow, g["pressure_bore"], g["pressure_length"]) +
			m.orifice(flow, g["idle_opening"])
	}
	return flow, atPump
}

// give is what bore and lines take per pressure with the tools closed: the oil
// by being pressed together, the hoses by swelling, the frame by stretching
// under what the rams push.
func (m *machine) give() float64 {
	g := m.given
	volume := m.bore*(g["approach_stroke"]+g["pressing_stroke"]) + g["line_volume"]
	return volume/g["bulk_modulus"] + g["hose_swell"] + m.bore*m.bore*g["ram_efficiency"]/g["frame_stiffness"]
}

// hold is the pressure in the rams after a while with the pump off.
func (m *machine) hold() float64 {
	g := m.given
	p, give := g["setting"], m.give()
	const dt = 0.01
	for t := 0.0; t < g["decay_time"]; t += dt {
		p -= (m.pistonLeak*(p-g["back_pressure"]) + m.checkLeak*p) / give * dt
	}
	return p
}

// buildUp is the time in which the pressure rises to a share of the setting.
// The relief valve opens over its override.
func (m *machine) buildUp(share float64) float64 {
	g := m.given
	p, t, give := 0.0, 0.0, m.give()
	for p < share*g["setting"] {
		flow, atPump := m.delivery(p, g["pressing_opening"])
		over := math.Max(0, atPump-(g["setting"]-g["relief_override"])) / g["relief_override"] * m.pump(g["setting"])
		p += (flow - over - m.pistonLeak*(p-g["back_pressure"])) / give * step
		t += step
		if t > 60 {
			return math.NaN()
		}
	}
	return t
}

// letGo is the time in which the decompression valve lets the pressure out.
func (m *machine) letGo() float64 {
	g := m.given
	p, t, give := g["setting"], 0.0, m.give()
	for p > 1e-7*g["setting"] {
		p -= m.through(p, g["release_opening"]) / give * step
		t += step
	}
	return t
}

// current is the motor's at the setting, A, from active and reactive power: the
// losses are iron and friction and a part that grows with the square of the
// load, the magnetising power is half of the rated power.
func (m *machine) current() float64 {
	g := m.given
	load := m.torque(g["setting"]) * m.speed(g["setting"]) / g["motor_power"]
	active := load + 0.04 + 0.065*load*load
	reactive := 0.5 + 0.185*load*load
	return math.Hypot(active, reactive) * g["motor_power"] / (math.Sqrt(3) * g["supply_voltage"])
}

// read is what perfect instruments show, in SI units.
func (m *machine) read() map[string]float64 {
	g := m.given
	idleFlow, idlePressure := m.idle()
	pressing, closing := m.press()
	force := g["ram_efficiency"]*g["setting"]*m.bore - g["back_pressure"]*m.annulus + m.weight
	hanging := m.weight / m.annulus
	drift := (m.pistonLeak+m.holdingLeak)*hanging + g["rod_leakage"]
	return map[string]float64{
		"force":                force,
		"frame_stretch":        force / g["frame_stiffness"],
		"gauge_pressure":       g["setting"] + g["gauge_zero"],
		"motor_speed":          m.speed(g["setting"]),
		"case_drain":           m.pumpLeak * g["setting"],
		"closing_speed":        closing,
		"approach_time":        m.approach(),
		"pressing_time":        pressing,
		"return_time":          m.goBack(),
		"return_line_pressure": m.returnLine(idleFlow),
		"idle_pressure":        idlePressure,
		"motor_current":        m.current(),
		"pressure_after":       m.hold() + g["gauge_zero"],
		"build_up_time":        m.buildUp(0.9),
		"release_time":         m.letGo(),
		"ram_drift":            drift * g["drift_time"] / m.annulus,
		"seal_drip":            g["rod_leakage"] * g["drift_time"],
	}
}

// draw makes one machine of many: nothing about it is exactly what the papers
// say, but everything is so within its spread. It still has to be built.
func draw(papers *calc.Report, random *rand.Rand) *machine {
	m := newMachine(papers)
	for _, j := range papers.Quantities {
		if !j.Quantity.IsFormula() && calc.Has(j.Value) && j.Spread > 0 {
			m.given[j.Quantity.Name] = j.Unit.ToSI(j.Value + j.Spread/2*random.NormFloat64())
		}
	}
	return m
}

// judged finds what a report says of a quantity that is known to be there.
func judged(r *calc.Report, name string) *calc.Judged {
	i := slices.IndexFunc(r.Quantities, func(j calc.Judged) bool { return j.Quantity.Name == name })
	return &r.Quantities[i]
}
