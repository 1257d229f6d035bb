package function

import (
	"slices"

	"rambook/calc/tape"
)

// Points is how the arguments of a call on the tape are those of a function
// of whole columns: first the single values, then the cells of each column,
// row by row, then, if it is Filtered, one truth value a row.
type Points struct {
	Singles  int
	Columns  []Column    // their names and units
	Typed    [][]float64 // the cells of each column as they stand in the sheet, SI
	Filtered bool
}

// scratch is the memory of one evaluation. It is kept for the next one, as
// evaluations may not allocate.
type scratch struct {
	columns []Column
	kept    []int // rows that the condition picks
	d       []float64
	cells   [][]float64
}

// BindPoints makes a function of whole columns ready for the tape where its
// cells are inputs of their own, or a condition picks rows.
func (f *Function) BindPoints(p Points) *tape.Callee {
	count := len(p.Columns)
	pool := tape.Spare[*scratch]{New: func() *scratch {
		s := &scratch{columns: slices.Clone(p.Columns), d: make([]float64, p.Singles), cells: make([][]float64, count)}
		return s
	}}
	// take puts the picked cells into columns.
	take := func(x []float64) *scratch {
		s := pool.Get()
		parts := count
		if p.Filtered {
			parts++
		}
		rows := (len(x) - p.Singles) / parts
		s.kept = s.kept[:0]
		for j := range s.columns {
			s.columns[j].Values = s.columns[j].Values[:0]
		}
		for i := range rows {
			if p.Filtered && x[p.Singles+count*rows+i] != 1 {
				continue
			}
			s.kept = append(s.kept, i)
			for j := range s.columns {
				s.columns[j].Values = append(s.columns[j].Values, x[p.Singles+j*rows+i])
			}
		}
		return s
	}
	c := &tape.Callee{Name: f.Name,
		Eval: func(x []float64) float64 {
			s := take(x)
			defer pool.Put(s)
			if p.Filtered && f.Curve && !rising(s.columns[0].Values) {
				return tape.Failed
			}
			return f.Eval(x[:p.Singles], s.columns)
		},
		Slopes: func(x []float64, y float64, d []float64) {
			s := take(x)
			defer pool.Put(s)
			for i := range d {
				d[i] = 0
			}
			f.slopes(x[:p.Singles], y, s.columns, d[:p.Singles])
			for j := range s.cells {
				s.cells[j] = append(s.cells[j][:0], make([]float64, len(s.kept))...)
			}
			f.pulls(x[:p.Singles], s.columns, s.cells)
			rows := (len(x) - p.Singles) / count
			if p.Filtered {
				rows = (len(x) - p.Singles) / (count + 1)
			}
			for k, i := range s.kept {
				for j := range s.cells {
					d[p.Singles+j*rows+i] = s.cells[j][k]
				}
			}
		},
		Complaint: func(x []float64) string {
			s := take(x)
			defer pool.Put(s)
			if p.Filtered && len(s.kept) == 0 {
				return "no row keeps to the condition"
			}
			return f.Complaint(x[:p.Singles], s.columns)
		}}
	if f.corner != nil {
		all := slices.Clone(p.Columns)
		for j := range all {
			all[j].Values = p.Typed[j]
		}
		c.Corner = func(x float64) float64 { return f.corner(x, all) }
	}
	return c
}

// rising reports whether the x of a curve increase.
func rising(xs []float64) bool {
	for i := 1; i < len(xs); i++ {
		if !(xs[i-1] < xs[i]) {
			return false
		}
	}
	return true
}
