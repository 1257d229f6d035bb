package calc

import (
	"context"
	"fmt"
	"math"
	"runtime"
	"testing"
	"time"

	"github.com/expr-lang/expr"
	"github.com/expr-lang/expr/vm"

	"rambook/calc/tape"
)

// pressModel is the model of the benchmarks: twelve formulas of a two-ram
// press. The spreads stand on six givens.
const pressModel = `name,entry,unit,spread
bore,170,mm,0.05
rod,150,mm,0.05
rams,2,,
setting,25,MPa,0.5
efficiency,96,%,1
back_pressure,2.6,MPa,0.2
beam_mass,2200,kg,
rated_force,1000,kN,
displacement,18,cm3/rev,
motor_speed,1460,rev/min,
volumetric,94,%,1
stroke,220,mm,
approach_time,3,s,
full_area,=rams*pi/4*bore^2,cm2,
rod_area,=rams*pi/4*rod^2,cm2,
annulus,=full_area - rod_area,cm2,
push,=setting*full_area*efficiency,kN,
force,=push - back_pressure*annulus + beam_mass*g_n,kN,
reserve,=force/rated_force - 1,%,
flow,=displacement*motor_speed*volumetric,L/min,
pressing,=flow/full_area,mm/s,
return_speed,=flow/annulus,mm/s,
cycle,=approach_time + stroke/pressing + stroke/return_speed,s,
power,=setting*flow,kW,
energy,=power*stroke/pressing,kJ,
`

var pressFormulas = []string{"full_area", "rod_area", "annulus", "push", "force", "reserve", "flow",
	"pressing", "return_speed", "cycle", "power", "energy"}

// pressInputs are the givens that vary in the benchmarks, with their ranges in SI units.
var pressInputs = []struct {
	name      string
	low, high float64
}{
	{"bore", 0.16, 0.18}, {"rod", 0.14, 0.15}, {"setting", 20e6, 28e6},
	{"efficiency", 0.9, 0.98}, {"back_pressure", 2e6, 3e6}, {"volumetric", 0.85, 0.97},
}

type pressCase struct{ bore, rod, setting, efficiency, back, volumetric float64 }

// byHand is the same model as a programmer would write it for this one job.
func byHand(c pressCase, out *[12]float64) {
	const rams, mass, rated, stroke, approach = 2, 2200, 1000e3, 0.22, 3
	displacement, speed := 18e-6/(2*math.Pi), 1460*2*math.Pi/60
	full := rams * math.Pi / 4 * c.bore * c.bore
	rod := rams * math.Pi / 4 * c.rod * c.rod
	annulus := full - rod
	push := c.setting * full * c.efficiency
	force := push - c.back*annulus + mass*9.80665
	reserve := force/rated - 1
	flow := displacement * speed * c.volumetric
	pressing := flow / full
	back := flow / annulus
	cycle := approach + stroke/pressing + stroke/back
	power := c.setting * flow
	energy := power * stroke / pressing
	*out = [12]float64{full, rod, annulus, push, force, reserve, flow, pressing, back, cycle, power, energy}
}

func caseNumber(i int) pressCase {
	x := func(k int) float64 {
		in := pressInputs[k]
		return in.low + (in.high-in.low)*float64((i*(2*k+7))%1009)/1008
	}
	return pressCase{x(0), x(1), x(2), x(3), x(4), x(5)}
}

// pressProgram plans the model for a run over the six inputs.
func pressProgram(b testing.TB, spread bool) (*Model, *tape.Program) {
	m := compiled(b, "press.csv", pressModel)
	t := m.tape.Extend()
	var inputs, outputs []tape.Register
	for _, in := range pressInputs {
		inputs = append(inputs, m.Quantity(in.name).value)
	}
	for _, name := range pressFormulas {
		outputs = append(outputs, m.Quantity(name).value)
	}
	if spread {
		s := tape.Differentiate(t, m.seeds(), outputs)
		for _, r := range outputs {
			if u := s.Spread(r); u != tape.None {
				outputs = append(outputs, u)
			}
		}
	}
	return m, tape.NewProgram(t, inputs, outputs, t.Once(nil))
}

// inputCases is the number of different cases that the benchmarks go through
// again and again, so that they time the model and not the memory.
const inputCases = 32 * tape.BlockSize

// fillPress sets the inputs of a block from ready columns.
func fillPress(columns [][]float64) func(*tape.Block) {
	return func(b *tape.Block) {
		for k := range b.In {
			from := b.First % len(columns[k])
			copy(b.In[k], columns[k][from:from+b.N])
		}
	}
}

func pressColumns(n int) [][]float64 {
	columns := make([][]float64, len(pressInputs))
	for k := range columns {
		columns[k] = make([]float64, n)
	}
	for i := range n {
		c := caseNumber(i)
		for k, v := range []float64{c.bore, c.rod, c.setting, c.efficiency, c.back, c.volumetric} {
			columns[k][i] = v
		}
	}
	return columns
}

// scan is what every user of results does: it looks for numbers that are none.
func scan(b *tape.Block) (bad int) {
	for _, out := range b.Out {
		for _, v := range out {
			if !tape.Usable(v) {
				bad++
			}
		}
	}
	return bad
}

// BenchmarkPress runs the twelve formulas in several ways over the same
// cases and reports ns per case and the ratios to the hand-written loop.
func BenchmarkPress(b *testing.B) {
	const cases = 1_000_000
	columns := pressColumns(inputCases)
	fill := fillPress(columns)
	_, values := pressProgram(b, false)
	_, spreads := pressProgram(b, true)
	engine := func(p *tape.Program, workers int) func() {
		return func() {
			if err := p.Run(context.Background(), cases, workers, fill, func(block *tape.Block) {
				if scan(block) > 0 {
					panic("a case has no result")
				}
			}); err != nil {
				panic(err)
			}
		}
	}
	hand := func() {
		var out [12]float64
		bad := 0
		for i := range cases {
			i %= inputCases
			byHand(pressCase{columns[0][i], columns[1][i], columns[2][i], columns[3][i], columns[4][i], columns[5][i]},
				&out)
			for _, v := range out {
				if !tape.Usable(v) {
					bad++
				}
			}
		}
		if bad > 0 {
			panic("a case has no result")
		}
	}
	ways := []struct {
		name  string
		run   func()
		cases int
	}{
		{"hand", hand, cases},
		{"tape", engine(values, 1), cases},
		{"tape-2-cores", engine(values, 2), cases},
		{"tape-spread", engine(spreads, 1), cases},
		{"block-of-one", blockOfOne(b, columns), inputCases},
		{"expr-vm", exprVM(b, columns), inputCases},
	}
	best := map[string]float64{}
	for b.Loop() {
		for _, w := range ways {
			runtime.GC()
			start := time.Now()
			w.run()
			ns := float64(time.Since(start).Nanoseconds()) / float64(w.cases)
			if old, ok := best[w.name]; !ok || ns < old {
				best[w.name] = ns
			}
		}
	}
	for _, w := range ways {
		b.ReportMetric(best[w.name], w.name+"-ns/case")
	}
	b.ReportMetric(best["tape"]/best["hand"], "tape/hand")
	b.ReportMetric(best["expr-vm"]/best["tape"], "vm/tape")
	b.ReportMetric(best["tape"]/best["tape-2-cores"], "1-core/2-cores")
	b.ReportMetric(best["tape-spread"]/best["tape"], "spread/value")
}

// blockOfOne runs the program with blocks of a single case.
func blockOfOne(b *testing.B, columns [][]float64) func() {
	_, p := pressProgram(b, false)
	w := p.NewWorker(tape.BlockSize)
	return func() {
		for i := range inputCases {
			w.Run(i, 1, func(block *tape.Block) {
				for k := range block.In {
					block.In[k][0] = columns[k][block.First]
				}
			})
		}
	}
}

// exprVM runs the same formulas on the parser's own virtual machine, with a
// map as environment.
func exprVM(b *testing.B, columns [][]float64) func() {
	env := map[string]any{"rams": 2.0, "beam_mass": 2200.0, "rated_force": 1000e3,
		"displacement": 18e-6 / (2 * math.Pi),
		"motor_speed":  1460 * 2 * math.Pi / 60, "stroke": 0.22, "approach_time": 3.0, "pi": math.Pi, "g_n": 9.80665}
	for _, in := range pressInputs {
		env[in.name] = in.low
	}
	m := compiled(b, "press.csv", pressModel)
	programs := make([]*vm.Program, len(pressFormulas))
	for i, name := range pressFormulas {
		env[name] = 1.0
		p, err := expr.Compile(m.Quantity(name).Formula, expr.Env(env))
		if err != nil {
			b.Fatal(err)
		}
		programs[i] = p
	}
	var machine vm.VM
	return func() {
		for i := range inputCases {
			for k, in := range pressInputs {
				env[in.name] = columns[k][i]
			}
			for k, name := range pressFormulas {
				v, err := machine.Run(programs[k], env)
				if err != nil {
					panic(err)
				}
				env[name] = v
			}
		}
	}
}

// TestPressByHand compares the tape with the hand-written loop, so that the
// benchmark compares two ways to the same numbers.
func TestPressByHand(t *testing.T) {
	const cases = inputCases
	_, p := pressProgram(t, false)
	err := p.Run(context.Background(), cases, 0, fillPress(pressColumns(inputCases)), func(b *tape.Block) {
		for i := range b.N {
			var want [12]float64
			byHand(caseNumber(b.First+i), &want)
			for k := range want {
				if got := b.Out[k][i]; math.Abs(got-want[k]) > 1e-12*math.Abs(want[k]) {
					panic(fmt.Sprintf("case %d, %s: got %v, by hand %v", b.First+i, pressFormulas[k], got, want[k]))
				}
			}
		}
	})
	if err != nil {
		t.Fatal(err)
	}
}
