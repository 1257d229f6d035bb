package calc_test

import (
	"math"
	"slices"
	"strings"

	"rambook/sheets"
	"rambook/units"
)

// The limits of the starters that are numbers: what the makers' data sheets of the
// invented machine say, and what is common practice (each row's note tells which).
// Nothing derives them, so they stand here a second time: whoever changes one
// says so twice. Low, high, unit; - is none.
var numberBounds = map[string]string{
	"press": `
		setting 5 - MPa
		pump_efficiency - 100 %
		least_pump_efficiency - 100 %
		mechanical_efficiency - 100 %
		least_inlet -100 - kPa
		motor_slip 0 6 %
		hottest_oil - 80 degC
		ram_efficiency 88 100 %
		rated_force 0 - kN
		rams 1 -
		feet 1 -
		weakest_rating - 70 MPa
		reserve 2.5 50 %
		relief_override 0 2 MPa
		approach_speed - 100 mm/s
		closing_speed - 10 mm/s
		return_speed - 60 mm/s
		suction_cover 150 - mm
		turnover 3 - min
		viscosity_ratio 0.8 1.2
		oil_index 90 -
		start_viscosity - 800 mm2/s
		working_viscosity 16 60 mm2/s
		hot_viscosity 12 - mm2/s
		filter_loss 0 0.1 MPa
		suction_velocity - 1 m/s
		pressure_velocity - 5 m/s
		return_velocity - 2.5 m/s
		inlet_pressure -15 - kPa
		cold_inlet_pressure -15 - kPa
		pressing_loss - 1.2 MPa
		return_line_pressure - 0.2 MPa
		idle_pressure - 0.7 MPa
		prefill_suction - 0.04 MPa
		highest_return_pressure - 0.25 MPa
		supply_voltage 380 420 V
		motor_load - 100 %
		heat_rest 0 - kJ
		bulk_modulus 900 - MPa
		piston_leakage 0 60 cm3/min
		check_leakage 0 6 cm3/min
		build_up_time - 1000 ms
		leakage_found - 60 cm3/min
		rod_leakage 0 30 cm3/h
		holding_leakage 0 6 cm3/min
		ram_drift - 15 mm
		seal_drip - 15 cm3
		release_time 500 1500 ms
		efficiency_found - 100 %
		job_reserve 5 - %
		ram_reserve 2.5 - %
		v_ratio 6 12
		stop_runs 10 -
		tilt -0.1 0.1 mm/m
		rest -0.05 0.05 mm
		flatness - 0.08 mm
		along_after -0.1 0.1 mm/m
		across_after -0.1 0.1 mm/m
		twist -0.3 0.3 mm
		survey_gap -0.3 0.3 mm
		curtain_resolution - 40 mm
		slowdown_gap 6 - mm
		task_left 0 - h`,
	"pumps": `
		rams 1 -
		pressing_share 0 100 %
		shortest_step 0 - s
		ram_efficiency - 100 %
		motor_slip 0 100 %
		motor_efficiency - 100 %
		motor_idle_loss 0 - %
		drive_efficiency - 100 %
		wrong_points - 0
		volumetric_fall -2 - %`,
	"lesson": `
		annulus 0 - cm2
		pump_efficiency - 100 %`,
}

// equalBounds are limits that are another quantity.
var equalBounds = map[string]string{
	"press": "rod_diameter.high=bore pump_efficiency.low=least_pump_efficiency gross_force.high=frame_rating " +
		"weight_pressure.high=rod_relief force.low=rated_force pressure_for_rated.high=setting " +
		"gauge_pressure.low=pressure_for_rated rod_side_pressure.high=rod_rating case_drain.high=case_drain_limit " +
		"load_stroke.high=pressing_stroke working_force.high=rated_force ram_pressure.high=setting " +
		"return_pressure.high=rod_relief efficiency_found.low=least_pump_efficiency working_stroke.high=stroke " +
		"level_up.low=low_mark level_up.high=full_mark level_down.low=low_mark level_down.high=full_mark " +
		"highest_level.high=full_mark lowest_level.low=low_mark temperature_now.high=hottest_oil " +
		"level_now.low=low_mark level_now.high=full_mark temperature_now.low=start_temperature " +
		"working_temperature.low=start_temperature motor_speed.high=synchronous_speed " +
		"task_done_at.high=hours_run kept_since.high=read_on " +
		"working_temperature.high=hottest_oil holding_power.high=motor_power rms_power.high=motor_power " +
		"motor_current.high=rated_current end_temperature.high=hottest_oil cooler_needed.high=cooler_transfer " +
		"hour_temperature.high=hottest_oil job_force.high=most_force tool_load.high=tool_rating " +
		"guide_moment.high=guide_rating bearing_pressure.high=floor_rating curtain_distance.low=safe_distance " +
		"two_hand_place.low=two_hand_distance keep_until.low=read_on peak_pressure.high=weakest_rating " +
		"recorded_stop.high=stopping_time",
	"pumps": "rod_diameter.high=bore pressure.high=setting cycle_time.high=longest_cycle " +
		"closing_speed.high=fastest_closing return_speed.high=fastest_return peak_power.high=motor_rating " +
		"rms_power.high=motor_rating rms_torque.high=rated_torque heat.high=most_heat",
	"lesson": "rod_diameter.high=bore pressure.high=ram_rating",
}

// boundsOf is what the limits of a starter are, and the spreads that are formulas.
func boundsOf(starter string, v func(string) float64) []account {
	var list []account
	for line := range strings.SplitSeq(strings.TrimSpace(numberBounds[starter]), "\n") {
		words := strings.Fields(line)
		u, err := units.Parse(strings.Join(words[3:], ""))
		if err != nil {
			panic(err)
		}
		for i, side := range []string{".low", ".high"} {
			if words[1+i] != "-" {
				list = append(list, is(v, words[0]+side, u.ToSI(figureIn(words[1+i]))))
			}
		}
	}
	for pair := range strings.FieldsSeq(equalBounds[starter]) {
		bound, of, _ := strings.Cut(pair, "=")
		list = append(list, is(v, bound, v(of)))
	}
	// The gauge of the press is of class 1.6 of 40 MPa, and in steps of 0.5 MPa: both rectangular, k = 2.
	gauge := func(name string) account {
		return is(v, name+".spread", 2*math.Hypot(0.016*40e6, 0.5e6/2)/math.Sqrt(3))
	}
	switch starter {
	case "press":
		opens := v("setting") - v("relief_override")
		list = append(list,
			is(v, "setting.high", slices.Min([]float64{v("pump_rating"), v("ram_rating"), v("valve_rating"),
				v("hose_rating")})),
			is(v, "gauge_pressure.high", v("setting.high")),
			is(v, "rams.high", math.Floor(v("rams"))), is(v, "feet.high", math.Floor(v("feet"))),
			is(v, "synchronous_speed.high", 1.001*fieldSpeed(v("synchronous_speed"))),
			// Where no flow is left at the setting: V n = fall p.
			is(v, "flow_fall.high", v("pump_displacement")*v("no_load_speed")/v("setting")),
			is(v, "back_pressure.low", v("beam_mass")*g/(v("bore_area")-v("rod_area"))),
			is(v, "pressing_pressure.high", opens), is(v, "job_pressure.high", opens-v("pressing_loss")),
			is(v, "pressure_after.low", 0.64*v("setting")), is(v, "ram_load.high", v("rated_force")/v("rams")),
			// A bend that rises over the first tenth of its stroke ends 5 % above its mean force, which costs
			// 0.4 % of the time: TestModelFollowsSimulation. Of the pump it is one point.
			is(v, "pressing_time.doubt", 0.005), is(v, "efficiency_found.doubt", 0.01),
			gauge("gauge_pressure"), gauge("pressure_after"), gauge("pressure_found"))
		// A gauge is allowed its class of its span; its scale is read to half a division.
		for _, name := range strings.Fields("zero_error up_error down_error mean_error") {
			list = append(list, is(v, name+".low", -0.016*40e6), is(v, name+".high", 0.016*40e6))
		}
		list = append(list, is(v, "hysteresis.high", 0.016*40e6))
		for _, name := range strings.Fields("gauge_zero shown_up shown_down") {
			list = append(list, is(v, name+".spread", 0.25e6/math.Sqrt(3)))
		}
	case "pumps":
		list = append(list, is(v, "rams.high", math.Floor(v("rams"))))
		fastest := v("full_speed")
		if v("slip") > 0 { // a motor on the mains
			fastest = 1.001 * fieldSpeed(v("full_speed"))
		}
		list = append(list, is(v, "full_speed.high", fastest))
		// A motor at full load loses no less than when it idles.
		list = append(list, is(v, "motor_idle_loss.high", 1/v("motor_efficiency")-1))
	case "lesson":
		// Class 1.6 of 40 MPa is ± 0.64 MPa, rectangular, k = 2.
		list = append(list, is(v, "pressure.spread", 2*0.64e6/math.Sqrt(3)))
	}
	return list
}

// fieldSpeed, rad/s, is the fastest that the field of a motor on a mains of 50 or 60 Hz turns and
// that is, to 0.1 %, no faster than a number: f/p with p pairs of poles (closed form).
func fieldSpeed(n float64) float64 {
	fastest := 0.0
	for _, hertz := range []float64{50, 60} {
		for p := 1.0; p < 1000; p++ {
			if turns := hertz / p; turns*2*math.Pi <= n*1.001 {
				fastest = max(fastest, turns*2*math.Pi)
				break
			}
		}
	}
	return fastest
}

// caseBounds are the rows :spread, :low and :high of the case sheets.
var caseBounds = map[string]string{
	"pumps": "duty.:spread.load=3 % duty.:spread.pause=0.1 maps.:spread.eta_v=1 maps.:spread.eta_m=1.5 " +
		"speed_maps.:spread.eta_v=1 speed_maps.:spread.eta_m=1.5",
	"lesson": "class.:low.bore=70 class.:low.rod_diameter=30 class.:low.pressure=5 class.:high.bore=160 " +
		"class.:high.rod_diameter=60 class.:high.pressure=25",
}

// strayCaseBounds names a row of a case sheet that is not as stated.
func strayCaseBounds(starter string, book *sheets.Notebook) string {
	for _, s := range book.Sheets {
		for _, head := range s.Columns {
			for row, cell := range map[string]string{":spread": head.Spread.Text, ":low": head.Low.Text,
				":high": head.High.Text} {
				stated := " " + s.Name + "." + row + "." + head.Name.Text + "=" + cell + " "
				if cell != "" && !strings.Contains(" "+caseBounds[starter]+" ", stated) {
					return stated
				}
			}
		}
	}
	return ""
}
