package function

import (
	"fmt"
	"math"

	"rambook/calc/tape"
	"rambook/units"
)

// curveFunctions read between the points of a table.
var curveFunctions = []*Function{
	{Name: "interp", Params: "sheet.x, sheet.y, x, condition", columns: 2, least: 1, most: 1, Picks: true, Curve: true,
		Doc: "straight lines between the points of a curve, of those rows in which a condition holds if one is " +
			"given; outside its range is an error",
		Source: "straight line through two points; its slope is the derivative",
		Rule: func(args []Type) (Type, *Refusal) {
			if args[2] != args[0] {
				return Type{}, &Refusal{2, fmt.Sprintf("needs %v like the curve's x, found %v", args[0], args[2]), ""}
			}
			return args[1], nil
		},
		Eval:   interpolated,
		slopes: interpolatedSlopes,
		pulls:  interpolatedPulls,
		domain: outsideCurve,
		corner: func(x float64, columns []Column) float64 { return corners(columns[0].Values...)(x, nil) }},
	{Name: "interp2", Params: "sheet.x, sheet.y, sheet.z, x, y, condition", columns: 3, least: 2, most: 2, Picks: true,
		Doc: "bilinear between the points of a full grid, of those rows in which a condition holds if one is " +
			"given; outside its range is an error",
		Source: "product of two straight lines, NIST DLMF 3.3(i)",
		Rule: func(args []Type) (Type, *Refusal) {
			for k, axis := range []string{"x", "y"} {
				if args[3+k] != args[k] {
					return Type{}, &Refusal{3 + k,
						fmt.Sprintf("needs %v like the grid's %s, found %v", args[k], axis, args[3+k]), ""}
				}
			}
			return args[2], nil
		},
		Eval:   bilinear,
		slopes: bilinearSlopes,
		pulls:  bilinearPulls,
		domain: outsideGrid,
		corner: func(x float64, columns []Column) float64 { return corners(columns[0].Values...)(x, nil) }},
}

// interpolated gives y at x between the points of a curve.
func interpolated(x []float64, columns []Column) float64 {
	xs, ys := columns[0].Values, columns[1].Values
	i := segment(xs, x[0])
	if i < 0 {
		return tape.Failed
	}
	return ys[i] + (x[0]-xs[i])*(ys[i+1]-ys[i])/(xs[i+1]-xs[i])
}

func interpolatedSlopes(x []float64, _ float64, columns []Column, d []float64) {
	xs, ys := columns[0].Values, columns[1].Values
	d[0] = 0
	if i := segment(xs, x[0]); i >= 0 {
		d[0] = (ys[i+1] - ys[i]) / (xs[i+1] - xs[i])
	}
}

// interpolatedPulls are the derivatives by the points' own x and y.
func interpolatedPulls(x []float64, columns []Column, d [][]float64) {
	xs, ys := columns[0].Values, columns[1].Values
	i := segment(xs, x[0])
	if i < 0 {
		return
	}
	share, slope := (x[0]-xs[i])/(xs[i+1]-xs[i]), (ys[i+1]-ys[i])/(xs[i+1]-xs[i])
	d[1][i], d[1][i+1] = 1-share, share
	d[0][i], d[0][i+1] = -slope*(1-share), -slope*share
}

func outsideCurve(x []float64, columns []Column) string {
	xs := columns[0].Values
	u := columns[0].Unit
	if len(xs) < 2 {
		return "the curve has fewer than two points"
	}
	for i := range xs[1:] {
		if !(xs[i] < xs[i+1]) {
			return columns[0].Name + " does not increase from row to row, and a curve needs it to"
		}
	}
	return fmt.Sprintf("%s lies outside the curve, which runs from %s to %s",
		units.WithUnit(u.FromSI(x[0]), u), units.WithUnit(u.FromSI(xs[0]), u),
		units.WithUnit(u.FromSI(xs[len(xs)-1]), u))
}

// segment finds i with xs[i] ≤ x ≤ xs[i+1], or -1.
func segment(xs []float64, x float64) int {
	n := len(xs)
	if n < 2 || !(x >= xs[0] && x <= xs[n-1]) {
		return -1
	}
	lo, hi := 0, n-1
	for hi-lo > 1 {
		if mid := (lo + hi) / 2; xs[mid] <= x {
			lo = mid
		} else {
			hi = mid
		}
	}
	if !(xs[lo] < xs[hi]) {
		return -1
	}
	return lo
}

// patch is the field of a grid in which a point lies.
type patch struct {
	z    [2][2]int  // rows of the corners: by x, by y
	x, y [2]float64 // its sides
	s, t float64    // how far the point lies from the first side to the second, 0 to 1
}

// patchAt finds the field of a grid that holds (x, y). The rows come in any
// order; all four corners must be there. ok is false outside and where a corner
// is missing.
func patchAt(columns []Column, x, y float64) (p patch, ok bool) {
	xs, ys := columns[0].Values, columns[1].Values
	var okX, okY bool
	p.x, okX = sides(xs, x)
	p.y, okY = sides(ys, y)
	if !okX || !okY {
		return p, false
	}
	for a := range 2 {
		for b := range 2 {
			p.z[a][b] = -1
			for i := range xs {
				if xs[i] == p.x[a] && ys[i] == p.y[b] {
					if p.z[a][b] >= 0 {
						return p, false // two rows claim one corner
					}
					p.z[a][b] = i
				}
			}
			if p.z[a][b] < 0 {
				return p, false
			}
		}
	}
	p.s, p.t = (x-p.x[0])/(p.x[1]-p.x[0]), (y-p.y[0])/(p.y[1]-p.y[0])
	return p, true
}

// sides finds the nearest values to both sides of x. At the last one the field
// before it counts.
func sides(values []float64, x float64) (found [2]float64, ok bool) {
	below, above := math.Inf(-1), math.Inf(1)
	last := math.Inf(-1)
	for _, v := range values {
		if v <= x {
			below = math.Max(below, v)
		}
		if v > x {
			above = math.Min(above, v)
		}
		if v < x {
			last = math.Max(last, v)
		}
	}
	if math.IsInf(above, 0) && below == x {
		below, above = last, x
	}
	return [2]float64{below, above}, !math.IsInf(below, 0) && !math.IsInf(above, 0)
}

// weight is what the corner (a, b) of a field counts at its point.
func (p *patch) weight(a, b int) float64 {
	along := [2][2]float64{{1 - p.s, p.s}, {1 - p.t, p.t}}
	return along[0][a] * along[1][b]
}

func bilinear(x []float64, columns []Column) float64 {
	p, ok := patchAt(columns, x[0], x[1])
	if !ok {
		return tape.Failed
	}
	z := 0.0
	for a := range 2 {
		for b := range 2 {
			z += p.weight(a, b) * columns[2].Values[p.z[a][b]]
		}
	}
	return z
}

func bilinearSlopes(x []float64, _ float64, columns []Column, d []float64) {
	d[0], d[1] = 0, 0
	p, ok := patchAt(columns, x[0], x[1])
	if !ok {
		return
	}
	z := func(a, b int) float64 { return columns[2].Values[p.z[a][b]] }
	d[0] = ((1-p.t)*(z(1, 0)-z(0, 0)) + p.t*(z(1, 1)-z(0, 1))) / (p.x[1] - p.x[0])
	d[1] = ((1-p.s)*(z(0, 1)-z(0, 0)) + p.s*(z(1, 1)-z(1, 0))) / (p.y[1] - p.y[0])
}

// bilinearPulls are the derivatives by the corners' own x, y and z. A corner
// that stands elsewhere than its grid line is taken for one that has the value
// of that place.
func bilinearPulls(x []float64, columns []Column, d [][]float64) {
	p, ok := patchAt(columns, x[0], x[1])
	if !ok {
		return
	}
	var along [2]float64
	bilinearSlopes(x, 0, columns, along[:])
	for a := range 2 {
		for b := range 2 {
			i, w := p.z[a][b], p.weight(a, b)
			d[2][i], d[0][i], d[1][i] = w, -along[0]*w, -along[1]*w
		}
	}
}

func outsideGrid(x []float64, columns []Column) string {
	for k := range 2 {
		values, u := columns[k].Values, columns[k].Unit
		if len(values) == 0 {
			return "the grid has no points"
		}
		least, greatest := values[0], values[0]
		for _, v := range values {
			least, greatest = math.Min(least, v), math.Max(greatest, v)
		}
		if least == greatest {
			return fmt.Sprintf("the grid has only one value of %s", columns[k].Name)
		}
		if !(x[k] >= least && x[k] <= greatest) {
			return fmt.Sprintf("%s lies outside the grid, whose %s runs from %s to %s",
				units.WithUnit(u.FromSI(x[k]), u),
				columns[k].Name, units.WithUnit(u.FromSI(least), u), units.WithUnit(u.FromSI(greatest), u))
		}
	}
	shown := func(k int) string { return units.WithUnit(columns[k].Unit.FromSI(x[k]), columns[k].Unit) }
	return fmt.Sprintf("the grid has a hole or two rows for one point around %s %s and %s %s; "+
		"each %s needs a row for each %s",
		columns[0].Name, shown(0), columns[1].Name, shown(1), columns[0].Name, columns[1].Name)
}
