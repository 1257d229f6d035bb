package calc

import (
	"fmt"
	"math"
	"slices"
	"testing"

	"pgregory.net/rapid"

	"rambook/calc/function"
	"rambook/calc/tape"
	"rambook/sheets"
)

// The starter `press` has to keep the books of any press, not only of its own.
// These properties run it over random sizes and add up what goes in and what
// comes out: energy, oil, forces. A formula with a wrong sign, a forgotten
// loss or an area of the wrong side cannot pass.

// pressSizes draws the givens of a press that can work: it lifts its beam,
// its rods are thinner than its bores, its motor and cooler suit its pump.
func pressSizes(t *rapid.T) []string {
	var sets []string
	set := func(name string, value float64, unit string) {
		sets = append(sets, fmt.Sprintf("%s = %.17g %s", name, value, unit))
	}
	draw := func(name string, low, high float64, unit string) float64 {
		value := rapid.Float64Range(low, high).Draw(t, name)
		set(name, value, unit)
		return value
	}
	bore := draw("bore", 60, 400, "mm")
	set("rod_diameter", bore*rapid.Float64Range(0.4, 0.95).Draw(t, "rod / bore"), "mm")
	rams := float64(rapid.IntRange(1, 4).Draw(t, "rams"))
	set("rams", rams, "")
	area := rams * math.Pi / 4 * bore * bore // mm²
	setting := draw("setting", 8, 28, "MPa")
	set("working_force", area*setting*1e-3*rapid.Float64Range(0.2, 0.8).Draw(t, "share of the force"), "kN")
	set("beam_mass", area*rapid.Float64Range(0.005, 0.05).Draw(t, "mass / area"), "kg")
	draw("back_pressure", 0.5, 4, "MPa")
	draw("ram_efficiency", 85, 99, "%")
	mechanical := draw("mechanical_efficiency", 80, 97, "%") / 100
	draw("pump_efficiency", 85, 99, "%")
	displacement := draw("pump_displacement", 5, 200, "cm3/rev")
	friction := 25 * displacement / (2 * math.Pi) * (1/mechanical - 1) // N·m, at the test pressure
	set("idle_torque", friction*rapid.Float64Range(0.1, 0.9).Draw(t, "drag / friction"), "N*m")
	set("pressing_opening", displacement*rapid.Float64Range(0.8, 3).Draw(t, "opening / displacement"), "mm2")
	set("idle_opening", displacement*3, "mm2")
	set("pressure_bore", 3.8*math.Sqrt(displacement), "mm")
	set("return_bore", 5.2*math.Sqrt(displacement), "mm")
	set("suction_bore", 9.4*math.Sqrt(displacement), "mm")
	power := setting * displacement * 1500 / 60 / 0.8 // W
	set("motor_power", power, "W")
	set("cooler_transfer", power/5, "W/K")
	draw("approach_stroke", 20, 800, "mm")
	draw("pressing_stroke", 5, 200, "mm")
	draw("stroke", 50, 1000, "mm")
	draw("hold_time", 0, 10, "s")
	draw("rest_time", 0, 60, "s")
	draw("prefill_pressure", 0.005, 0.1, "MPa")
	draw("piston_leakage", 1, 200, "cm3/min")
	draw("working_temperature", 30, 60, "degC")
	draw("fill_level", 200, 500, "mm")
	draw("tank_length", 500, 3000, "mm")
	draw("tank_width", 520, 1500, "mm")
	sets = append(sets, "approach_mode = "+rapid.SampledFrom([]string{"gravity", "pump", "regenerative"}).Draw(t, "approach_mode"))
	return sets
}

// recalculate runs a notebook with some givens replaced, and finds its values
// by name, in SI units, and those of its oil as `oils.expansion`.
func recalculate(t *rapid.T, book *sheets.Notebook, sets []string) func(name string) float64 {
	m, problems := Compile(book, Options{Sets: sets})
	var r *Report
	if m != nil {
		r, problems = m.Check(CheckOptions{})
	}
	if r == nil {
		t.Fatal(told(problems))
	}
	values := make(map[string]float64, len(r.Quantities))
	oil := ""
	for i := range r.Quantities {
		j := &r.Quantities[i]
		values[j.Quantity.Name] = j.Unit.ToSI(j.Value)
		if j.Quantity.Name == "oil" {
			oil = j.Text
		}
	}
	oils := m.tables["oils"]
	for i := range oils.sheet.Cases {
		if oils.sheet.Cases[i].Name.Text != oil {
			continue
		}
		for _, col := range oils.columns {
			if col.loaded {
				values["oils."+col.name] = col.values[i]
			}
		}
	}
	return func(name string) float64 {
		v, ok := values[name]
		if !ok || !tape.Usable(v) {
			t.Fatalf("the starter press has no value of %s", name)
		}
		return v
	}
}

// account is what goes in and what comes out; the two are equal.
type account struct {
	name    string
	in, out float64
}

func TestPressBalances(t *testing.T) {
	book, problems := sheets.Starter("press")
	if len(problems) > 0 {
		t.Fatal(told(problems))
	}
	rapid.Check(t, func(t *rapid.T) {
		sizes := pressSizes(t)
		v := recalculate(t, book, sizes)
		if v("pressing_speed") <= 0 || v("return_speed") <= 0 {
			t.Skip("the pump leaks more than it delivers")
		}
		accounts := slices.Concat(energyAccounts(v), volumeAccounts(v), forceAccounts(v))

		// The same press set to the pressure for its rated force, with readings
		// typed in that agree with it, and with a lying tank about half full.
		setting := v("pressure_for_rated")
		if setting < 1e6 || setting > 60e6 {
			setting = v("setting")
		}
		share := rapid.Float64Range(0.4, 0.6).Draw(t, "level / diameter")
		again := recalculate(t, book, append(sizes,
			fmt.Sprintf("setting = %.17g Pa", setting), "motor_power = 100 MW",
			fmt.Sprintf("timed_pressing = %.17g s", v("pressing_time")),
			fmt.Sprintf("pressure_found = %.17g Pa", v("pressure_after")*setting/v("setting")),
			"tank_shape = lying", fmt.Sprintf("tank_width = %.17g m", v("fill_level")/share),
		))
		accounts = append(accounts,
			account{"efficiency of the pump from the timed stroke", 1 - v("pump_leak_rate")*v("pressing_pressure")/v("full_flow"), again("efficiency_found")},
			account{"leakage of the pistons from the falling gauge", v("piston_leakage") * v("leak_factor"), again("leakage_found")},
		)
		if setting == v("pressure_for_rated") {
			accounts = append(accounts, account{"force at the pressure for the rated force", v("rated_force"), again("force")})
		}
		for _, a := range accounts {
			if !near(a.out, a.in, 1e-9) {
				t.Errorf("%s: %.12g goes in, %.12g comes out", a.name, a.in, a.out)
			}
		}
		for _, heat := range []string{"heat_pump", "heat_lines", "heat_rams", "heat_valves"} {
			if v(heat) < 0 {
				t.Errorf("%s is %v J: a loss cannot cool the oil", heat, v(heat))
			}
		}

		lying := function.Named("lying_tank_volume").Bind(nil)
		volume := func(level float64) float64 {
			return lying.Eval([]float64{level, again("tank_width"), again("tank_length")})
		}
		// The notebook takes the surface of a lying tank at the fill level, so
		// there the books close only as nearly as the surface keeps its size.
		up, down := volume(again("level_up")), volume(again("level_down"))
		if moved := again("ram_oil_down") - again("ram_oil_up"); moved < 0.1*up && !near(up-down, moved, 0.1) {
			t.Errorf("lying tank: the rams take %v m³, the tank gives %v", moved, up-down)
		}
	})
}

// energyAccounts says that power in is work and heat, phase by phase and over
// the cycle, and that at the end temperature the heat leaves as it comes.
func energyAccounts(v func(string) float64) []account {
	// friction is the torque that the pump turns into heat: on a straight line
	// from the drag at no pressure to what the certificate says.
	friction := func(pressure float64) float64 {
		certified := v("test_pressure") * v("pump_displacement") * (1/v("mechanical_efficiency") - 1)
		return v("idle_torque") + (certified-v("idle_torque"))*pressure/v("test_pressure")
	}
	// pump is what the pump itself turns into heat, delivered what leaves it.
	pump := func(pressure string) float64 {
		p := v(pressure)
		return friction(p)*v("motor_speed") + p*p*v("pump_leak_rate")
	}
	delivered := func(pressure string) float64 { return v("full_flow") - v("pump_leak_rate")*v(pressure) }
	// rams is friction and piston leakage at a speed, and what pushes the oil
	// on the other side out.
	rams := func(speed, pressure, area, otherPressure, otherArea string) float64 {
		return (1-v("ram_efficiency"))*v(pressure)*v(area)*v(speed) +
			v(pressure)*v("ram_leak_rate")*(v(pressure)-v(otherPressure)) +
			v(otherPressure)*v(otherArea)*v(speed)
	}
	heat := v("heat_pump") + v("heat_lines") + v("heat_rams") + v("heat_valves")
	return []account{
		{"pressing, the weight helping", v("pressing_power") + v("beam_weight")*v("pressing_speed"),
			v("working_force")*v("pressing_speed") + pump("pressing_pressure") + v("pressing_loss")*delivered("pressing_pressure") +
				rams("pressing_speed", "ram_pressure", "bore_area", "back_pressure", "annulus_area")},
		{"return, the weight lifted", v("return_power"),
			v("beam_weight")*v("return_speed") + pump("return_pressure") + v("pressing_loss")*delivered("return_pressure") +
				rams("return_speed", "annulus_pressure", "annulus_area", "prefill_pressure", "bore_area")},
		{"holding, all of it heat", v("holding_power"), pump("setting") + v("setting")*v("pump_flow")},
		{"idling, all of it heat", v("idle_power"), pump("idle_pressure") + v("idle_pressure")*v("idle_flow")},
		{"the cycle", v("shaft_energy"), v("tool_work") + heat},
		{"the share of the cycle that the notebook finds again", 1, v("energy_balance")},
		{"heat into the oil over the cycle", heat, v("oil_heat") * v("cycle_time")},
		{"heat out of the oil at the end temperature", v("oil_heat"),
			(v("end_temperature") - v("hall_temperature")) * (v("wall_transfer")*v("wall_area") + v("cooler_transfer"))},
		{"pressing the oil together to the setting", v("setting") * v("release_volume") / 2, v("stored_energy")},
	}
}

// volumeAccounts says that no oil is lost between tank, rams and leakages.
func volumeAccounts(v func(string) float64) []account {
	tank := func(level string) float64 { return v("tank_surface") * v(level) }
	return []account{
		{"oil in tank and rams, beam up and beam down", tank("level_up") + v("ram_oil_up"), tank("level_down") + v("ram_oil_down")},
		{"the rods leave the oil", v("rod_area") * v("stroke"), v("ram_oil_down") - v("ram_oil_up")},
		{"cold oil with its growth, and warm oil",
			v("oil_charge") * (1 + v("oils.expansion")*(v("working_temperature")-v("fill_temperature"))),
			tank("level_up") + v("ram_oil_up") + v("pipe_volume")},
		{"pump at the setting", v("full_flow"), v("pump_flow") + v("case_drain")},
		{"pump while pressing", v("full_flow"), v("bore_area")*v("pressing_speed") +
			v("pump_leak_rate")*v("pressing_pressure") + v("ram_leak_rate")*(v("ram_pressure")-v("back_pressure"))},
		{"pump on the way up", v("full_flow"), v("annulus_area")*v("return_speed") +
			v("pump_leak_rate")*v("return_pressure") + v("ram_leak_rate")*(v("annulus_pressure")-v("prefill_pressure"))},
		{"the way down and the way up", v("approach_stroke") + v("pressing_stroke"), v("return_speed") * v("return_time")},
		{"oil pumped in to reach the setting", v("release_volume"),
			v("build_up_time") * (v("full_flow") - (v("pump_leak_rate")+v("ram_leak_rate"))*v("setting")/2)},
	}
}

// forceAccounts says that what pushes the beam is what holds it.
func forceAccounts(v func(string) float64) []account {
	return []account{
		{"forces on the beam while pressing", v("ram_efficiency")*v("ram_pressure")*v("bore_area") + v("beam_weight"), v("working_force") + v("back_force")},
		{"forces on the beam on the way up", v("ram_efficiency") * v("annulus_pressure") * v("annulus_area"), v("beam_weight") + v("prefill_pressure")*v("bore_area")},
		{"forces on the beam at the setting", v("ram_efficiency")*v("gross_force") + v("beam_weight"), v("force") + v("back_force")},
	}
}
